"""One database transaction as the rest of the store sees it: statements, and facts by subject.

Used by sessions, projections and rebuilding alike; the set of read tables is a parameter.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Connection, Executable, Row, Select, Table, bindparam, select

from ndi.domain.codec import utc_text
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.facts import Fact
from ndi.services.ports import Head
from ndi.store.canonical import GENESIS
from ndi.store.errors import DATABASE_ERRORS, store_error
from ndi.store.journal import Place, Remembered, recorded_from_row
from ndi.store.schema import ReadTables, entry

_CHUNK = 500  # positions asked for at once

_HEAD = select(entry.c.position, entry.c.hash).order_by(entry.c.position.desc()).limit(1)
_STATION_SEQ = (
    select(entry.c.station_seq)
    .where(entry.c.station == bindparam("station"))
    .order_by(entry.c.station_seq.desc())
    .limit(1)
)
_ENTRIES = select(entry).where(entry.c.position.in_(bindparam("positions", expanding=True)))
_POSITION_OF_UID = select(entry.c.position).where(entry.c.uid == bindparam("uid"))


@cache
def _positions_by_subject(fact: Table, kinds: bool, since: bool, until: bool, superseded: bool) -> Select[Any]:
    query = select(fact.c.position).where(fact.c.subject == bindparam("subject"))
    if kinds:
        query = query.where(fact.c.kind.in_(bindparam("kinds", expanding=True)))
    if since:
        query = query.where(fact.c.at >= bindparam("since"))
    if until:
        query = query.where(fact.c.at <= bindparam("until"))
    if not superseded:
        query = query.where(fact.c.superseded.is_(False))
    return query.order_by(fact.c.at, fact.c.position)


@cache
def _positions_by_kind(fact: Table) -> Select[Any]:
    return (
        select(fact.c.position)
        .where(fact.c.kind == bindparam("kind"), fact.c.nth == 0, fact.c.superseded.is_(False))
        .order_by(fact.c.at, fact.c.position)
    )


@cache
def _is_superseded(fact: Table) -> Select[Any]:
    return select(fact.c.superseded).where(fact.c.position == bindparam("position"), fact.c.nth == 0)


class Tx:
    """A transaction on one set of read tables; errors of the database come out as StoreError."""

    def __init__(self, connection: Connection, tables: ReadTables, remembered: Remembered) -> None:
        self.connection = connection
        self.tables = tables
        self.pending: dict[int, Recorded[Fact]] = {}  # appended here, not yet committed
        self.remembered = remembered

    def rows(self, statement: Executable, params: Mapping[str, Any] | None = None) -> Sequence[Row[Any]]:
        """All rows of a query."""
        try:
            return self.connection.execute(statement, params).all()
        except DATABASE_ERRORS as error:
            raise store_error(error) from error

    def run(self, statement: Executable, params: Mapping[str, Any] | Sequence[Mapping[str, Any]] | None = None) -> None:
        """A statement that changes something; a list of parameters is done row by row."""
        try:
            self.connection.execute(statement, params)
        except DATABASE_ERRORS as error:
            raise store_error(error) from error

    def commit(self) -> None:
        """Durable when it returns; then what was pending is remembered."""
        try:
            self.connection.commit()
        except DATABASE_ERRORS as error:
            # a failed commit may leave the transaction open, and with it the writers' lock: give the connection up
            self.connection.invalidate()
            raise store_error(error, committing=True) from error
        self.remembered.put(self.pending.values())
        self.pending.clear()

    def head(self) -> Head:
        """The end of the chain; position 0 for a book that holds nothing yet."""
        rows = self.rows(_HEAD)
        return Head(rows[0].position, rows[0].hash) if rows else Head(0, GENESIS)

    def next_place(self, station: str) -> Place:
        """The next free place in the chain for a station."""
        head = self.head()
        rows = self.rows(_STATION_SEQ, {"station": station})
        return Place(head.position + 1, rows[0].station_seq + 1 if rows else 1, head.hash)

    def recorded(self, positions: Sequence[int]) -> list[Recorded[Fact]]:
        """The entries at these positions, in this order; NotFound if one is missing."""
        found: dict[int, Recorded[Fact]] = {}
        missing = []
        for position in positions:
            known = self.pending.get(position) or self.remembered.get(position)
            if known is None:
                missing.append(position)
            else:
                found[position] = known
        for start in range(0, len(missing), _CHUNK):
            rows = self.rows(_ENTRIES, {"positions": missing[start : start + _CHUNK]})
            loaded = [recorded_from_row(row._mapping) for row in rows]
            self.remembered.put(loaded)  # what is not pending was committed before this transaction began
            found.update((each.position, each) for each in loaded)
        try:
            return [found[position] for position in positions]
        except KeyError as error:
            raise NotFound(f"the book holds no entry {error.args[0]}; its end is {self.head()}") from None

    def position_of(self, uid: str) -> int | None:
        """The position of the entry with this uid."""
        rows = self.rows(_POSITION_OF_UID, {"uid": uid})
        return rows[0].position if rows else None

    def is_superseded(self, position: int) -> bool:
        """Whether a later entry corrects the one at ``position``."""
        rows = self.rows(_is_superseded(self.tables.fact), {"position": position})
        return bool(rows and rows[0].superseded)

    def corrected_by(self, recorded: Recorded[Any]) -> Recorded[Any] | None:
        """The entry that ``recorded`` supersedes."""
        if recorded.supersedes is None:
            return None
        position = self.position_of(recorded.supersedes)
        return None if position is None else self.recorded([position])[0]

    def facts(
        self,
        subject: str,
        kinds: Iterable[type[Fact]] | None = None,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        include_superseded: bool = False,
    ) -> list[Recorded[Any]]:
        """Facts about ``subject`` by event time, then position."""
        params: dict[str, Any] = {"subject": subject}
        if kinds is not None:
            params["kinds"] = [kind.__name__ for kind in kinds]
        if since is not None:
            params["since"] = utc_text(since)
        if until is not None:
            params["until"] = utc_text(until)
        query = _positions_by_subject(
            self.tables.fact, kinds is not None, since is not None, until is not None, include_superseded
        )
        return self.recorded([row.position for row in self.rows(query, params)])

    def of_kind(self, kind: type[Fact]) -> list[Recorded[Fact]]:
        """Every fact of one kind that is not superseded, by event time, then position."""
        rows = self.rows(_positions_by_kind(self.tables.fact), {"kind": kind.__name__})
        return self.recorded([row.position for row in rows])
