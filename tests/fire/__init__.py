"""The fault harness: a real server, several phones, a seeded schedule of faults, and what must hold after it.

faults    the names of all faults, and how often each took place
schedule  a seed's steps
proxy     the bad link between phones and server;  process  the server process, its disk and its database
inside    the same link and server without a socket, for the planted bugs
phones    one phone with its tabs;  people  what persons write, and what they saw;  desk  the office over HTTP
world     plays the steps;  checks  what must hold afterwards;  planted  bugs that the checks must find
Replay of one seed: python -m tests.fire --seed 123 --store sqlite
"""
