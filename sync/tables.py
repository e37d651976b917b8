"""The tables of a store, as they are made new; versions.py brings older ones to this.

counter: one row, how far the log has come. change_log: every accepted change, its text verbatim. snapshot: what each record
says. ref: who names whom. held: what could not be accepted, raw. about: the version.
"""

import peewee
from playhouse.apsw_ext import APSWDatabase

FIRST_CHAIN = "0" * 32  # what the chain of hashes begins with


def tables(db: peewee.Database) -> dict[str, type[peewee.Model]]:
    """The tables of a store as peewee models on this database."""
    numbers = peewee.IntegerField if isinstance(db, APSWDatabase) else peewee.BigIntegerField

    class Base(peewee.Model):
        class Meta:
            database = db

    class About(Base):
        name = peewee.TextField(primary_key=True)
        value = peewee.TextField()

    class Counter(Base):
        number = peewee.IntegerField(primary_key=True)
        position = peewee.BigIntegerField()
        chain = peewee.TextField()
        epoch = peewee.TextField()
        lamport = peewee.BigIntegerField()
        held = peewee.BigIntegerField(constraints=[peewee.SQL("DEFAULT 0")])
        held_chain = peewee.TextField(constraints=[peewee.SQL(f"DEFAULT '{FIRST_CHAIN}'")])

    class ChangeLog(Base):
        position = numbers(primary_key=True)
        id = peewee.TextField(unique=True)
        hash = peewee.TextField()
        chain = peewee.TextField()
        record = peewee.TextField()
        kind = peewee.TextField()
        device = peewee.TextField()
        received_at = peewee.TextField()
        body = peewee.TextField(null=True)  # the text as the device sent it; NULL once erased

        class Meta:
            table_name = "change_log"
            indexes = ((("record", "position"), False),)

    class Snapshot(Base):
        record = peewee.TextField(primary_key=True)
        kind = peewee.TextField()
        position = peewee.BigIntegerField(unique=True)
        json = peewee.TextField()  # '': see STANDING

        class Meta:
            indexes = ((("kind", "position"), False),)

    class Ref(Base):
        record = peewee.TextField()
        field = peewee.TextField()
        target = peewee.TextField()

        class Meta:
            primary_key = peewee.CompositeKey("target", "field", "record")  # the one question is: who names this target
            without_rowid = isinstance(db, APSWDatabase)

    class Held(Base):
        number = numbers(primary_key=True)  # from 1 without gaps, as counter.held counts them
        id = peewee.TextField(index=True)  # as claimed; empty where none could be read
        stated_hash = peewee.TextField()
        raw_hash = peewee.TextField()
        body = peewee.BlobField()
        device = peewee.TextField()
        reason = peewee.TextField()
        received_at = peewee.TextField()
        resolved_at = peewee.TextField(index=True)  # empty while it is held

        class Meta:
            indexes = ((("raw_hash", "stated_hash"), True),)

    return {"about": About, "counter": Counter, "change_log": ChangeLog, "snapshot": Snapshot, "ref": Ref, "held": Held}
