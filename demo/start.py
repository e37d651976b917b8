"""Builds the phone app, writes the invented shop once, prints the addresses, serves."""

import argparse
import os
import shutil
import sys
from pathlib import Path

from webform.__main__ import main as ashbook
from webform.__main__ import port_problem
from webform.access import Doors
from webform.phone.build import build

from .shop import PEOPLE, PIN, seed
from .week import play

HERE = Path(__file__).parent
PASSWORD = "harbour-lane"
MARK = "INVENTED.txt"
DONE = "This shop is invented: people, trucks, owners, models and readings.\n"


def main() -> int:
    """The exit code."""
    parser = argparse.ArgumentParser(prog="demo/start", description="Serves an invented shop to try Ashbook with.")
    parser.add_argument("--fresh", action="store_true", help="begin anew")
    parser.add_argument("--port", type=int, default=8440)
    parser.add_argument("--data", type=Path, default=HERE / "data")
    given = parser.parse_args()
    given.data = Path(os.environ.get("ASHBOOK_CALLED_FROM", "."), given.data)
    try:
        problem = port_problem(given.port) or folder_problem(given.data)
        if problem:
            print(problem, file=sys.stderr)
            return 1
        if build():
            return 1
        code = prepare(given.data, given.fresh)
    except OSError as trouble:
        print(f"{trouble.filename or given.data} cannot be written ({trouble.strerror}). Give a folder of your own with "
              "--data.", file=sys.stderr)
        return 1
    grouped = "-".join((code[:4], code[4:8], code[8:12], code[12:]))
    people = ", ".join(name for name, _may in PEOPLE)
    print(f"""
  Office  http://127.0.0.1:{given.port}/office/   name office, password {PASSWORD}
  Phone   http://127.0.0.1:{given.port}/phone/    enrolment code {grouped} (once, ten minutes)
  People  {people}; PIN of each {PIN}; Alex may not sign off
  All of this shop is invented. Stop with Ctrl-C.
""", flush=True)
    return ashbook(["serve", "--data", str(given.data), "--port", str(given.port)])


def folder_problem(data: Path) -> str | None:
    """A sentence when this folder holds something else than a demo shop, which is never touched."""
    if data.exists() and not data.is_dir():
        return f"{data} is a file. Give a folder with --data."
    if data.is_dir() and any(data.iterdir()) and not (data / MARK).exists():
        return f"{data} holds something that is not a demo shop. Give an empty or a new folder with --data."
    return None


def prepare(data: Path, is_fresh: bool) -> str:
    """An enrolment code of the demo shop, which is written first where it is not there, half there, or not wanted."""
    from webform.shop import Shop
    mark = data / MARK
    is_whole = mark.exists() and mark.read_text(encoding="utf-8") == DONE
    if data.exists() and (is_fresh or not is_whole):
        shutil.rmtree(data)
    if not data.exists():
        print("Writing the invented shop ...", flush=True)
        data.mkdir(parents=True)
        mark.write_text("An invented shop, not yet written to its end.\n", encoding="utf-8")
        shop, doors = Shop(data), Doors(data)
        doors.ensure_office(PASSWORD)
        seed(shop)
        play(shop, doors)
        shop.store.close()
        mark.write_text(DONE, encoding="utf-8")
    return Doors(data).new_code()


if __name__ == "__main__":
    sys.exit(main())
