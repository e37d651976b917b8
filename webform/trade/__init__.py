"""The calculation: readings in, verdict out. Pure portable Python; codes and values come out, never sentences.

The same files run on the server (CPython) and on the phone (MicroPython), so they keep to the style that
webform/phone/portable.py checks. Start reading at judge.py.
"""
