"""Fill the read tables again from the journal, beside those in use, and compare the two."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Protocol

from sqlalchemy import Select, Table, bindparam, delete, insert, inspect, select, update

from ndi.store.journal import recorded_from_row
from ndi.store.projection import apply, empty
from ndi.store.schema import PROJECTION_VERSION, SHADOW, ReadTables, entry, read_tables, rebuild_progress
from ndi.store.transaction import Tx

_NEXT = select(entry).where(entry.c.position > bindparam("after")).order_by(entry.c.position).limit(bindparam("most"))
_PROGRESS = select(rebuild_progress.c.version, rebuild_progress.c.position)


class HasTransactions(Protocol):
    """The part of a book that is needed here."""

    def transaction(self, *, reading: bool, tables: ReadTables | None = None) -> AbstractContextManager[Tx]: ...


@dataclass(frozen=True, order=True)
class Difference:
    """A row of a read table that does not follow from the journal, or is missing; its key as text."""

    table: str
    key: str

    def __str__(self) -> str:
        return f"{self.table} {self.key}"


def rebuild(book: HasTransactions, *, compare_only: bool = False, batch: int = 1000) -> list[Difference]:
    """The differences found between the read tables and the journal.

    With ``compare_only`` nothing in the file is changed and nobody has to wait.
    Otherwise shadow tables are filled in batches (others may append in between;
    an interrupted rebuild goes on where it was), compared, and their content
    takes the place of the read tables' in one transaction.
    """
    if compare_only:
        return _compare_beside(book, batch)
    shadow = read_tables(SHADOW)
    _prepare(book, shadow)
    while True:
        with book.transaction(reading=False, tables=shadow) as tx:
            position = tx.rows(_PROGRESS)[0].position
            reached = _fill(tx, position, batch)
            if reached > position:
                tx.run(update(rebuild_progress).values(position=reached))
                tx.commit()
                continue
            differences = _compare(tx, read_tables(), shadow)
            _take_over(tx, read_tables(), shadow)
            tx.commit()
            return differences


def _compare_beside(book: HasTransactions, batch: int) -> list[Difference]:
    beside = read_tables("_check", temporary=True)
    with book.transaction(reading=True, tables=beside) as tx:
        # temporary tables: gone when the transaction is taken back
        beside.metadata.create_all(tx.connection, checkfirst=False)
        reached, before = _fill(tx, 0, batch), -1
        while reached > before:
            before, reached = reached, _fill(tx, reached, batch)
        return _compare(tx, read_tables(), beside)


def _prepare(book: HasTransactions, shadow: ReadTables) -> None:
    with book.transaction(reading=False, tables=shadow) as tx:
        progress = tx.rows(_PROGRESS)
        exists = all(inspect(tx.connection).has_table(table.name) for table in shadow.all)
        if exists and progress and progress[0].version == PROJECTION_VERSION:
            return
        shadow.metadata.drop_all(tx.connection)
        shadow.metadata.create_all(tx.connection)
        tx.run(delete(rebuild_progress))
        tx.run(insert(rebuild_progress), {"suffix": SHADOW, "version": PROJECTION_VERSION, "position": 0})
        tx.commit()


def _fill(tx: Tx, after: int, batch: int) -> int:
    """Apply the next entries; the position reached."""
    for row in tx.rows(_NEXT, {"after": after, "most": batch}):
        apply(tx, recorded_from_row(row._mapping))
        after = row.position
    return after


def _key_names(table: Table) -> list[str]:
    return [column.name for column in table.primary_key.columns]


def _only_in(one: Table, other: Table) -> Select[tuple[object, ...]]:
    """Keys of the rows of ``one`` that ``other`` does not have just so."""
    rest = select(*one.columns).except_(select(*other.columns)).subquery()
    return select(*(rest.c[name] for name in _key_names(one)))


def _compare(tx: Tx, live: ReadTables, other: ReadTables) -> list[Difference]:
    found: set[Difference] = set()
    for mine, theirs in zip(live.all, other.all, strict=True):
        for query in (_only_in(mine, theirs), _only_in(theirs, mine)):
            found.update(Difference(mine.name, " ".join(str(part) for part in row)) for row in tx.rows(query))
    return sorted(found)


def _take_over(tx: Tx, live: ReadTables, shadow: ReadTables) -> None:
    """The content of the shadow tables replaces that of the live ones; their definitions stay as they are."""
    empty(Tx(tx.connection, live, tx.remembered))
    for mine, theirs in zip(live.all, shadow.all, strict=True):
        names = [column.name for column in mine.columns]
        tx.run(insert(mine).from_select(names, select(*theirs.columns)))
    shadow.metadata.drop_all(tx.connection)
    tx.run(delete(rebuild_progress))
