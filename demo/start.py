"""Builds the phone app, seeds the invented shop once, prints the addresses, serves."""

import argparse
import shutil
import sys
from pathlib import Path

from webform.__main__ import main as ashbook
from webform.access import Doors
from webform.phone.build import build

from .shop import PEOPLE, PIN, seed

HERE = Path(__file__).parent
PASSWORD = "harbour-lane"


def main() -> int:
    """The exit code."""
    parser = argparse.ArgumentParser(prog="demo/start")
    parser.add_argument("--fresh", action="store_true", help="begin anew")
    parser.add_argument("--port", type=int, default=8440)
    parser.add_argument("--data", type=Path, default=HERE / "data")
    given = parser.parse_args()
    if build():
        return 1
    from webform.shop import Shop
    try:
        if given.fresh:
            shutil.rmtree(given.data, ignore_errors=True)
        shop = Shop(given.data)
        if shop.store.counter()["position"] == 0:
            print("Writing the invented shop ...", flush=True)
            seed(shop)
        shop.store.close()
        doors = Doors(given.data)
        doors.ensure_office(PASSWORD)
        code = doors.new_code()
    except OSError as trouble:
        print(f"No permission to write {given.data} ({trouble.strerror}). Choose a folder with --data.", file=sys.stderr)
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


if __name__ == "__main__":
    sys.exit(main())
