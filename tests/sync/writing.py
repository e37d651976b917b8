"""A process that pushes: python -m tests.sync.writing URL DEVICE PUSHES. Used by the test of many writers."""

import sys

from .making import made, open_store, pushed


def main(url: str, device: str, pushes: int) -> None:
    """Pushes one to three changes at a time, to a record that all writers share and to records of its own."""
    store = open_store(url)
    print("ready", flush=True)
    sys.stdin.readline()  # all start together
    number = 0
    for turn in range(pushes):
        changes = []
        for _ in range(turn % 3 + 1):
            number += 1
            record = "job:shared" if number % 2 else f"job:{device}{number}"
            changes.append(made(f"{device}.{number}", record, {f"f{device}{number % 5}": str(number)}))
        receipts = pushed(store, *changes, device=device)
        assert all(receipt["status"] == "stored" for receipt in receipts), receipts
    store.close()
    print(number, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
