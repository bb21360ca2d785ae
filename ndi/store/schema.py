"""Tables: the journal (never changed), the read tables (follow from it), and bookkeeping.

The read tables exist once under their names and can be made again under a
suffix, so that they can be rebuilt beside the ones in use.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from sqlalchemy import BigInteger, Boolean, Column, Index, Integer, MetaData, Table, Text, UniqueConstraint

SCHEMA_VERSION = 1  # of the tables; kept in the file
PROJECTION_VERSION = 1  # of the code that fills the read tables; a rebuild half done by another one starts anew
SHADOW = "_shadow"  # suffix of read tables that are being rebuilt

journal_metadata = MetaData()


# text is compared by code point on every engine; a boot clock in ms needs more than 32 bits
TEXT = Text().with_variant(Text(collation="C"), "postgresql")
WHOLE = Integer().with_variant(BigInteger(), "postgresql")


def _text(name: str, *, null: bool = False) -> Column[str]:
    return Column(name, TEXT, nullable=null)


def _integer(name: str, *, null: bool = False) -> Column[int]:
    return Column(name, WHOLE, nullable=null)


entry = Table(
    "entry",
    journal_metadata,
    Column("position", WHOLE, primary_key=True, autoincrement=False),
    _text("uid"),
    _text("station"),
    _integer("station_seq"),
    _text("kind"),
    _integer("kind_version"),
    _text("event_time"),
    _integer("offset_min"),
    _text("precision"),
    _text("how"),
    _text("recorded_time"),
    _integer("boot_ms"),
    _text("boot_id"),
    _text("by"),
    _text("on_behalf_of", null=True),
    _text("supersedes", null=True),
    _text("why", null=True),
    _text("body"),
    _text("prev_hash"),
    _text("hash"),
    _text("signature"),
    UniqueConstraint("uid", name="uq_entry_uid"),
    UniqueConstraint("station", "station_seq", name="uq_entry_station_seq"),
    sqlite_strict=True,
)
Index("ix_entry_kind", entry.c.kind)
# few entries are corrections or typed late: small indexes that find just those (a book begun before them is read through)
_CORRECTS, _LATE = entry.c.supersedes.is_not(None), entry.c.how == "typed-late"
Index("ix_entry_supersedes", entry.c.position, sqlite_where=_CORRECTS, postgresql_where=_CORRECTS)
Index("ix_entry_late", entry.c.how, entry.c.position, sqlite_where=_LATE, postgresql_where=_LATE)
Index("ix_entry_by", entry.c.by, entry.c.event_time)  # what one person did in a time

client_key = Table(
    "client_key",
    journal_metadata,
    Column("key", TEXT, primary_key=True),
    _text("positions"),  # "12 13 14"
)

rebuild_progress = Table(
    "rebuild_progress",
    journal_metadata,
    Column("suffix", TEXT, primary_key=True),
    _integer("version"),
    _integer("position"),
)


@dataclass(frozen=True, eq=False)
class ReadTables:
    """One set of read tables; ``keys`` names a row of each in a comparison."""

    metadata: MetaData
    fact: Table
    inspection: Table
    part: Table
    object_use: Table

    @property
    def all(self) -> tuple[Table, ...]:
        return (self.fact, self.inspection, self.part, self.object_use)


@cache
def read_tables(suffix: str = "", *, temporary: bool = False) -> ReadTables:
    """The read tables under their names plus ``suffix``; ``temporary`` ones vanish with their connection."""
    metadata = MetaData()
    prefixes = ["TEMPORARY"] if temporary else []

    def table(name: str, *columns: Column[str] | Column[int] | Column[bool]) -> Table:
        return Table(name + suffix, metadata, *columns, prefixes=prefixes)

    fact = table(
        "fact",
        Column("position", WHOLE, primary_key=True, autoincrement=False),
        Column("nth", WHOLE, primary_key=True, autoincrement=False),  # 0 is the first subject
        _text("subject"),
        _text("kind"),
        _text("at"),
        Column("superseded", Boolean, nullable=False),
    )
    Index(f"ix_fact_subject{suffix}", fact.c.subject, fact.c.kind, fact.c.at)
    Index(f"ix_fact_kind{suffix}", fact.c.kind, fact.c.at)
    inspection = table(
        "inspection",
        Column("inspection", TEXT, primary_key=True),
        _integer("opened"),  # position of the entry that opened it
        _text("part"),
        _text("work_order"),
        _integer("quantity"),
        _text("method"),
        _text("technique"),
        _text("procedure"),
        _text("procedure_revision"),
        _text("inspector"),
        _text("reason"),
        _text("previous", null=True),
        _text("opened_at"),
        _text("disposition"),
        Column("provisional", Boolean, nullable=False),
        Column("suspended", Boolean, nullable=False),
        _integer("decision", null=True),
        _text("decided_at", null=True),
        Column("verified", Boolean, nullable=False),
        _integer("version"),
    )
    Index(f"ix_inspection_work_order{suffix}", inspection.c.work_order, inspection.c.opened)
    Index(f"ix_inspection_part{suffix}", inspection.c.part, inspection.c.opened)
    Index(f"ix_inspection_disposition{suffix}", inspection.c.disposition, inspection.c.opened)
    Index(f"ix_inspection_suspended{suffix}", inspection.c.suspended, inspection.c.opened)
    part = table(
        "part",
        Column("part", TEXT, primary_key=True),
        _integer("listed"),  # position of the entry that listed it
        _text("work_order"),
        _text("part_no"),
        _text("serial", null=True),
        _text("lot", null=True),
        _integer("quantity"),
        _text("reason_code", null=True),
        _text("description", null=True),
        _text("place", null=True),
    )
    Index(f"ix_part_work_order{suffix}", part.c.work_order, part.c.listed)
    Index(f"ix_part_serial{suffix}", part.c.serial)
    object_use = table(
        "object_use",
        Column("source", WHOLE, primary_key=True, autoincrement=False),  # position of the entry that it follows from
        Column("object", TEXT, primary_key=True),
        Column("inspection", TEXT, primary_key=True),
        _text("started"),
        _text("ended", null=True),
        _text("what"),
        _text("kind"),
        _integer("attempt"),
    )
    Index(f"ix_object_use_object{suffix}", object_use.c.object, object_use.c.started)
    Index(f"ix_object_use_ended{suffix}", object_use.c.object, object_use.c.ended, object_use.c.started)
    Index(f"ix_object_use_inspection{suffix}", object_use.c.inspection)
    return ReadTables(metadata, fact, inspection, part, object_use)
