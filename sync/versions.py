"""The way from an older database to this program's version: all steps and the new version in one transaction, or nothing.

Whoever calls `upgrade` has made a backup first. A step is never altered once a program with it was given away; its
tables are those of its time, so it names them in SQL and never asks the models of today.
"""

from collections.abc import Callable

from .log import FIRST_CHAIN, VERSION, Store, next_held_chain


def upgrade(store: Store) -> tuple[int, int]:
    """(version before, version after) of a store that was opened as found; every change and every answer stays."""
    with store.working(), store.alone():
        before = int(store.rows("SELECT value FROM about WHERE name = 'version'")[0][0])
        for number in range(before + 1, VERSION + 1):
            STEPS[number](store)
        store.rows("UPDATE about SET value = ? WHERE name = 'version'", (str(VERSION),))
    store.version = VERSION
    return before, VERSION


def count_the_held(store: Store) -> None:
    """2: held changes are numbered from 1 without gaps and chained, so that one that is missing or altered shows."""
    number = "BIGINT" if store.is_postgresql else "INTEGER"
    store.rows(f"ALTER TABLE counter ADD COLUMN held {number} NOT NULL DEFAULT 0")
    store.rows(f"ALTER TABLE counter ADD COLUMN held_chain TEXT NOT NULL DEFAULT '{FIRST_CHAIN}'")
    if store.is_postgresql:
        store.rows("ALTER TABLE held ALTER COLUMN number DROP DEFAULT, ALTER COLUMN number TYPE BIGINT")
        store.rows("DROP SEQUENCE IF EXISTS held_number_seq")
    chain = FIRST_CHAIN
    numbers: list[tuple[int, int]] = []
    for old, *covered in store.rows("SELECT number, id, stated_hash, raw_hash, device, received_at FROM held "
                                    "ORDER BY number"):
        numbers.append((len(numbers) + 1, old))  # never above the old one, so in this order no two ever meet
        chain = next_held_chain(chain, *covered)
    store.write_many("UPDATE held SET number = ? WHERE number = ?", numbers)
    store.rows("UPDATE counter SET held = ?, held_chain = ? WHERE number = 1", (len(numbers), chain))


def leave_single_changes(store: Store) -> None:
    """3: the snapshot of a record with a single change may be '' (log.STANDING); those that are written stay as they are."""


def keep_references_once(store: Store) -> None:
    """4: references are kept in one order, by their target; what a record names stands in its snapshot."""
    if store.is_postgresql:
        store.rows("DROP INDEX ref_target_field_record")
        store.rows("ALTER TABLE ref DROP CONSTRAINT ref_pkey, ADD PRIMARY KEY (target, field, record)")
        return
    store.rows('CREATE TABLE "ref_by_target" ("record" TEXT NOT NULL, "field" TEXT NOT NULL, "target" TEXT NOT NULL, '
               'PRIMARY KEY ("target", "field", "record")) WITHOUT ROWID')
    store.rows("INSERT INTO ref_by_target SELECT record, field, target FROM ref ORDER BY target, field, record")
    store.rows("DROP TABLE ref")
    store.rows("ALTER TABLE ref_by_target RENAME TO ref")


STEPS: dict[int, Callable[[Store], None]] = {2: count_the_held, 3: leave_single_changes, 4: keep_references_once}
