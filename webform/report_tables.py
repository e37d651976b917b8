"""The tables of issued reports, owners' links and erasures: facts, in every backup, beside the log and of no version of it.

Whoever opens a shop makes those that are missing; a backup or a database of a time before one of them simply has none of it.
"""

from collections.abc import Iterator
from typing import Any

from sync.log import Store

# table: its columns, as a backup in lines holds them; the first one sorts it
COLUMNS: dict[str, tuple[str, ...]] = {
    "issued_report": ("number", "year", "count", "job", "verdict", "issued_at", "issued_by", "answers", "calculation",
                      "rules", "content", "replaced_by"),
    "report_link": ("digest", "number", "made_at", "withdrawn_at"),
    # seal: over what the report says; opening: what proves it (sealing.py); chain: over number and seal of all so far; epoch,
    # place, place_chain: where the log stood when it was issued
    "report_seal": ("serial", "number", "seal", "chain", "opening", "owner", "epoch", "place", "place_chain"),
    "report_series": ("serial", "mark", "begun_at"),
    # texts: how many are gone, -1 - that while it is not finished; held: JSON list of the held changes that were emptied
    "erasure": ("record", "erased_at", "erased_by", "reason", "texts", "held"),
}
TABLES = tuple(COLUMNS)

_MADE = (
    "CREATE TABLE IF NOT EXISTS issued_report (number TEXT PRIMARY KEY, year INTEGER NOT NULL, "
    "count INTEGER NOT NULL, job TEXT NOT NULL, verdict TEXT NOT NULL, issued_at TEXT NOT NULL, "
    "issued_by TEXT NOT NULL, answers TEXT NOT NULL, calculation TEXT NOT NULL, rules TEXT NOT NULL, "
    "content TEXT NOT NULL, replaced_by TEXT NOT NULL, is_recalled INTEGER NOT NULL DEFAULT 0, "
    "judged BIGINT NOT NULL DEFAULT 0, UNIQUE (year, count))",
    "CREATE INDEX IF NOT EXISTS issued_report_job ON issued_report (job)",
    "CREATE INDEX IF NOT EXISTS issued_report_recalled ON issued_report (number) WHERE is_recalled = 1",
    "CREATE INDEX IF NOT EXISTS issued_report_standing ON issued_report (is_recalled, replaced_by, year, count)",
    "CREATE TABLE IF NOT EXISTS report_link (digest TEXT PRIMARY KEY, number TEXT NOT NULL, made_at TEXT NOT NULL, "
    "withdrawn_at TEXT NOT NULL)",
    "CREATE INDEX IF NOT EXISTS report_link_number ON report_link (number)",
    "CREATE TABLE IF NOT EXISTS report_seal (serial BIGINT PRIMARY KEY, number TEXT NOT NULL UNIQUE, seal TEXT NOT NULL, "
    "chain TEXT NOT NULL, opening TEXT NOT NULL, owner TEXT NOT NULL, epoch TEXT NOT NULL, place BIGINT NOT NULL, "
    "place_chain TEXT NOT NULL)",
    "CREATE TABLE IF NOT EXISTS report_series (serial BIGINT PRIMARY KEY, mark TEXT NOT NULL UNIQUE, begun_at TEXT NOT NULL)",
    "CREATE TABLE IF NOT EXISTS erasure (record TEXT PRIMARY KEY, erased_at TEXT NOT NULL, erased_by TEXT NOT NULL, "
    "reason TEXT NOT NULL, texts INTEGER NOT NULL, held TEXT NOT NULL)",
)


def make(store: Store) -> None:
    """Makes the tables that are missing; within the caller's transaction."""
    store.make(_MADE)


def lock(store: Store) -> None:
    """Whoever gives a number or makes the tables is the only one until the transaction ends (SQLite's is that already)."""
    if store.is_postgresql:
        store.rows("SELECT pg_advisory_xact_lock(7224004)")


def insert(store: Store, table: str, rows: list[Any]) -> None:
    """Puts rows in; what is there already stays as it is."""
    columns = COLUMNS[table]
    store.write_many(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))}) "
                     "ON CONFLICT DO NOTHING", rows)


def entries(store: Store) -> Iterator[list[Any]]:
    """All rows of a store's tables as JSON values, [table, ...]; of a table that it has not, none."""
    for table, columns in COLUMNS.items():
        if store.has_table(table):
            for row in store.rows(f"SELECT {', '.join(columns)} FROM {table} ORDER BY {columns[0]}"):
                yield [table, *row]
