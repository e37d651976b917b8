"""The form declared once, and what follows from it. Portable Python: the phone runs it too.

Reads: declaration.py is the list of fields; lookup.py finds things in it; check.py says what is wrong with an answer;
show.py writes an answer for people; case.py turns answers into the calculation's case and judges the job; calls.py
is the phone's door to all of it.
"""
