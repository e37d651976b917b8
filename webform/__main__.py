"""The `ashbook` command: serve, build, code, password, backup, restore, verify, judge, calc, version."""

import argparse
import sys
from pathlib import Path


def main(words: list[str] | None = None) -> int:
    """The exit code of one command."""
    parser = argparse.ArgumentParser(prog="ashbook", description="The job book of a filter technician.")
    commands = parser.add_subparsers(dest="command", required=True)
    serve = commands.add_parser("serve", help="serve one shop on this machine")
    serve.add_argument("--data", required=True, help="the shop's folder")
    serve.add_argument("--database", help="postgresql://... ; SQLite in the shop's folder unless named")
    serve.add_argument("--port", type=int, default=8440)
    serve.add_argument("--behind-proxy", action="store_true", help="a TLS proxy on this machine stands in front")
    commands.add_parser("build", help="build the phone app")
    code = commands.add_parser("code", help="print a one-time code that enrols a phone")
    code.add_argument("--data", required=True)
    password = commands.add_parser("password", help="make and print a new password of the office account")
    password.add_argument("--data", required=True)
    backup = commands.add_parser("backup", help="make a backup, also while phones push")
    backup.add_argument("--to", type=Path, help="a folder, or the name of a new file; DATA/backups unless named")
    restore = commands.add_parser("restore", help="restore a backup; the shop must not be served meanwhile")
    restore.add_argument("--from", dest="source", type=Path, required=True, help="the backup")
    restore.add_argument("--keep-links", action="store_true",
                         help="owners' links stay open, where this backup is a move and nothing was withdrawn since")
    restore.add_argument("--replace", action="store_true", help="move aside the books that are there")
    verify = commands.add_parser("verify", help="prove the books, the history and the photos")
    verify.add_argument("--against", type=Path, help="a backup that the books must go on from")
    verify.add_argument("--paper", action="append", default=[], metavar="NUMBER/POSITION:CHAIN",
                        help="the proof at the foot of a printed report, which the books must fit; may be given again")
    for keeping in (backup, restore, verify):
        keeping.add_argument("--data", required=True, help="the shop's folder")
        keeping.add_argument("--database", help="postgresql://... ; SQLite in the shop's folder unless named")
    judge = commands.add_parser("judge", help="judge a JSON job and print the verdict with its sentences")
    judge.add_argument("file", nargs="?", help="the job; - or nothing reads standard input")
    judge.add_argument("--example", action="store_true", help="print a complete job that can be judged")
    judge.add_argument("--explain", action="store_true", help="print the arithmetic line by line")
    judge.add_argument("--json", action="store_true", help="print JSON instead of sentences")
    calc = commands.add_parser("calc", help="list every single quantity, or compute one", epilog="ashbook calc air-density "
                               '--pressure "1013.25 mbar" --temperature "20 °C"; ashbook calc NAME --help tells its inputs')
    calc.add_argument("name", nargs="?", help="one of the names that ashbook calc lists; its inputs follow as options")
    calc.add_argument("--json", help="the inputs as a JSON object; - reads standard input")
    calc.add_argument("--out", help="text or json")
    commands.add_parser("version", help="print the version")
    words = sys.argv[1:] if words is None else words
    if words[:1] == ["calc"] and words[1:] not in (["--help"], ["-h"]):
        from .commands import calc as calculation
        return calculation.run(words[1:])  # every quantity has options of its own
    given = parser.parse_args(words)
    if given.command == "serve":
        return _serve(given)
    if given.command == "restore":
        return _keep(given)
    if "data" in given and not Path(given.data).is_dir():
        print(f"There is no folder {given.data}. Give the folder that the shop is served from.", file=sys.stderr)
        return 1
    if given.command in ("backup", "verify"):
        return _keep(given)
    if given.command == "judge":
        from .commands import judge as judging
        return judging.run(given.file, given.json, given.explain, given.example)
    if given.command == "build":
        from .phone.build import build
        return build()
    if given.command == "code":
        from .access import Doors
        print(Doors(Path(given.data)).new_code())
        return 0
    if given.command == "password":
        from .access import Doors
        print(Doors(Path(given.data)).new_password())
        return 0
    from .office.pages import VERSION
    print(VERSION)
    return 0


def port_problem(port: int) -> str | None:
    """A sentence when this port of the loopback interface cannot be served on, else None."""
    import socket
    if not 0 < port < 65536:
        return f"Port {port} does not exist. Choose one from 1024 to 65535 with --port."
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except PermissionError:
            return f"Port {port} is reserved for the system. Choose one from 1024 to 65535 with --port."
        except OSError:
            return f"Port {port} is taken by another program. Stop it, or choose another with --port."
    return None


def _keep(given: argparse.Namespace) -> int:
    from sync.log import NewerDatabase, OlderDatabase, Unavailable

    from . import keeping
    from .archive import Broken
    from .report_check import UnreadablePaper
    from .restoring import restore
    data = Path(given.data)
    try:
        if given.command == "verify":
            return _verify(given)
        if given.command == "restore":
            for line in restore(data, given.source, given.database, given.replace, given.keep_links):
                print(line)
        else:
            path, manifest = keeping.backup(data, given.database, given.to)
            print(f"{path}: {manifest['position']} changes, {len(manifest['files'])} files. Keep a copy on another machine.")
        return 0
    except UnreadablePaper as line:
        print(f"{str(line)!r} is not the proof of a report. Type it as it is printed at the foot of the paper: "
              "2026-0007/4711:3fa9-21bc-77d0, with or without what follows.", file=sys.stderr)
    except (keeping.Trouble, Broken, NewerDatabase, OlderDatabase) as trouble:
        print(trouble, file=sys.stderr)
    except OSError as trouble:
        print(f"{trouble.filename or given.data} cannot be read or written ({trouble.strerror}).", file=sys.stderr)
    except (ValueError, Unavailable) as trouble:
        print(f"The database cannot be used: {str(trouble).splitlines()[0]}. Check --data and --database.", file=sys.stderr)
    return 1


def _verify(given: argparse.Namespace) -> int:
    from . import keeping
    counts, problems = keeping.verify(Path(given.data), given.database, given.against, given.paper)
    print("Checked: " + ", ".join(f"{count} {what}" for what, count in counts.items()) + ".")
    for where, sentence in problems:
        print(f"{where}: {sentence}", file=sys.stderr)
    if problems:
        print(f"{len(problems)} problems were found.", file=sys.stderr)
        return 1
    print("Nothing is wrong.")
    return 0


def _serve(given: argparse.Namespace) -> int:
    from sync.log import NewerDatabase, Unavailable

    from . import keeping
    problem = port_problem(given.port)
    if problem:
        print(problem, file=sys.stderr)
        return 1
    try:
        for line in keeping.make_ready(Path(given.data), given.database):
            print(line, flush=True)
        with keeping.using(Path(given.data)):
            return _serve_shop(given)
    except (keeping.Trouble, NewerDatabase) as trouble:
        print(trouble, file=sys.stderr)
    except OSError as trouble:
        print(f"{trouble.filename or given.data} cannot be written ({trouble.strerror}). Choose a folder of your own with "
              "--data.", file=sys.stderr)
    except (ValueError, Unavailable) as trouble:
        print(f"The database cannot be opened: {str(trouble).splitlines()[0]}. Check --database.", file=sys.stderr)
    return 1


def _serve_shop(given: argparse.Namespace) -> int:
    import gc
    import signal

    import waitress

    from sync.tidying import Tidying

    from . import create_app
    app = create_app(given.data, given.database, given.behind_proxy)
    password = app.extensions["doors"].ensure_office()
    if password:
        print(f"Office account made: name office, password {password} (shown this once)", flush=True)
    shop = app.extensions["shop"]
    shop.retry_held()  # what an older program held for want of knowing it
    background = (shop.pushing, shop.judging, Tidying(shop.store))
    for work in background:
        work.start()
    gc.freeze()  # what is here now stays; and a push of thousands of readings makes no cycles to be looked for on the way
    gc.set_threshold(200_000, 20, 20)
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # a service manager's stop ends it as Ctrl-C does
    print(f"Serving on http://127.0.0.1:{given.port}", flush=True)
    try:
        # waitress drops what a proxy says of scheme and host unless told that there is one
        waitress.serve(app, listen=f"127.0.0.1:{given.port}", threads=8, channel_timeout=60, ident="ashbook",
                       clear_untrusted_proxy_headers=not given.behind_proxy)
    except KeyboardInterrupt:
        print("Stopped.")
    finally:
        for work in background:
            work.stop()
    return 0


if __name__ == "__main__":
    sys.exit(main())
