"""`ashbook serve`, forked from a process that has imported the program: a start takes a tenth of the time.

python -m tests.fire.serving reads one JSON line a start, {"words": the command's words, "schema": the newest version of
the declaration that this server knows, "log": file}, and answers with the process's number. In the fork the command's
own main runs under waitress until it is killed by that number. So a phone can also be older or newer than its server.
"""

import json
import os
import signal
import sys
import tempfile

from webform import __main__ as ashbook
from webform import create_app
from webform.checklist import check, declaration


def main():
    """Starts a server for each line, until there are no more."""
    import psycopg  # noqa: F401
    import waitress  # noqa: F401

    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the killed are not waited for here
    with tempfile.TemporaryDirectory() as folder:  # what the first app imports, all forks have
        create_app(folder).extensions["shop"].store.close()
    for line in sys.stdin:
        given = json.loads(line)
        number = os.fork()
        if not number:
            serve(given)
        print(number, flush=True)


def serve(given):
    """Never returns: this process is a server from here on."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    log = os.open(given["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for here, there in ((nothing, 0), (log, 1), (log, 2)):
        os.dup2(here, there)
    declaration.SCHEMA = check.SCHEMA = given["schema"]
    try:
        os._exit(ashbook.main(given["words"]))
    finally:
        os._exit(1)


if __name__ == "__main__":
    main()
