"""A database of version 1 as that program wrote it: the tables and rows below version_1/ were taken from it, not made up."""

import re
from pathlib import Path

from sync.log import database

HERE = Path(__file__).parent / "version_1"


def make_version_1(url):
    """Writes tables and rows of version 1 into an empty database: 66 changes, 5 held, one of these stored meanwhile."""
    db = database(url)
    is_sqlite = url.startswith("sqlite")
    rows = (HERE / "rows.sql").read_text(encoding="utf-8")
    if not is_sqlite:
        rows = re.sub(r"X'([0-9a-f]+)'", r"'\\x\1'", rows)
    with db.atomic():
        for line in ((HERE / ("sqlite.sql" if is_sqlite else "postgresql.sql")).read_text() + rows).split(";\n"):
            if line.strip():
                db.execute_sql(line.replace("%", "%%") if not is_sqlite else line)
    db.close()


def everything(store):
    """What must outlive an upgrade: every row of every table, without what version 2 counts anew."""
    return {table: store.rows(f"SELECT {columns} FROM {table} ORDER BY 1, 2, 3") for table, columns in {
        "counter": "position, chain, epoch, lamport", "change_log": "*", "snapshot": "*", "ref": "*",
        "held": "id, stated_hash, raw_hash, body, device, reason, received_at, resolved_at"}.items()}


def layout(store):
    """Column name, type and whether it may be empty, of every table, and the names of the indexes."""
    if store.is_postgresql:
        return (sorted(store.rows("SELECT table_name, column_name, data_type, is_nullable, column_default "
                                  "FROM information_schema.columns WHERE table_schema = 'public'")),
                sorted(store.rows("SELECT indexname FROM pg_indexes WHERE schemaname = 'public'")),
                store.rows("SELECT sequencename FROM pg_sequences"))
    return ({name: store.rows(f"PRAGMA table_info({name})") for (name,) in store.rows(
                "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")},
            store.rows("SELECT name, sql FROM sqlite_master WHERE type = 'index' ORDER BY name"))
