"""The bare limit: one POST, parsed, one SQLite transaction with synchronous=FULL. python -m tests.bench.bare FOLDER

What cannot be done without: take the bytes, unpack them, read the JSON and the JSON of each document in it, one row
each in one transaction, answer. It checks nothing, merges nothing and has no index. POST /outer leaves the documents
unread. Behind the same web server as Ashbook.
"""

import gzip
import json
import sys

import apsw
from waitress.server import create_server


def app_of(folder):
    """The WSGI app with its database in this folder."""
    connection = apsw.Connection(f"{folder}/bare.db")
    connection.pragma("journal_mode", "wal")
    connection.pragma("synchronous", 2)
    connection.execute("CREATE TABLE IF NOT EXISTS row (number INTEGER PRIMARY KEY, text TEXT)")

    def app(environ, start_response):
        body = environ["wsgi.input"].read()
        request = json.loads(gzip.decompress(body))
        if environ["PATH_INFO"] != "/outer":
            assert all(isinstance(json.loads(text), dict) for text in request["changes"])
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany("INSERT INTO row (text) VALUES (?)", [(text,) for text in request["changes"]])
        connection.execute("COMMIT")
        answer = json.dumps({"stored": len(request["changes"])}).encode()
        start_response("200 OK", [("Content-Type", "application/json"), ("Content-Length", str(len(answer)))])
        return [answer]

    return app


def main():
    """Serves on a free port, which it prints."""
    server = create_server(app_of(sys.argv[1]), host="127.0.0.1", port=0, threads=1, max_request_body_size=2**30)
    print(server.effective_port, flush=True)
    server.run()


if __name__ == "__main__":
    main()
