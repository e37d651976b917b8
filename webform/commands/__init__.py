"""The calculation at the keyboard: `ashbook judge` and `ashbook calc`.

Everything that comes in is read against a shape that is declared as data (case.py, quantities/), with every problem at
once; what is computed is computed by webform/trade and nowhere here.
"""
