"""One database transaction as the rest of the store sees it: statements, and facts by subject.

Used by sessions, projections and rebuilding alike; the set of read tables is a parameter.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import cache, lru_cache
from typing import Any, cast

from sqlalchemy import Connection, CursorResult, Executable, Row, Select, Table, bindparam, select
from sqlalchemy import Dialect as SqlDialect

from ndi.domain.codec import utc_text
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.facts import Fact
from ndi.services.ports import Head
from ndi.store.canonical import GENESIS
from ndi.store.dialect import begin_on
from ndi.store.errors import DATABASE_ERRORS, store_error
from ndi.store.journal import Place, Remembered, recorded_from_row
from ndi.store.schema import TEXT, ReadTables, entry

_CHUNK = 500  # positions asked for at once

_HEAD = select(entry.c.position, entry.c.hash).order_by(entry.c.position.desc()).limit(1)
_own = entry.alias()
_HEAD_AND_SEQ = _HEAD.add_columns(
    select(_own.c.station_seq)
    .where(_own.c.station == bindparam("station"))
    .order_by(_own.c.station_seq.desc())
    .limit(1)
    .scalar_subquery()
    .label("station_seq")
)
_ENTRIES = select(entry).where(entry.c.position.in_(bindparam("positions", expanding=True)))
_POSITION_OF_UID = select(entry.c.position).where(entry.c.uid == bindparam("uid"))


@cache
def _positions_by_subject(fact: Table, kinds: int | None, since: bool, until: bool, superseded: bool) -> Select[Any]:
    query = select(fact.c.position).where(fact.c.subject == bindparam("subject"))
    if kinds is not None:
        query = query.where(fact.c.kind.in_([bindparam(f"kind_{nth}", type_=TEXT) for nth in range(kinds)]))
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


@lru_cache(maxsize=256)
def _made(statement: Executable, dialect: SqlDialect) -> tuple[str, tuple[str, ...] | None, dict[str, Any]]:
    """The text of a statement for an engine, the names of its values where the engine wants them in order, fixed values."""
    made = statement.compile(dialect=dialect)  # type: ignore[attr-defined]
    fixed = {name: value for name, value in made.params.items() if value is not None}
    return str(made), tuple(made.positiontup) if made.positional else None, fixed


def _all_of(result: CursorResult[Any]) -> Sequence[tuple[Any, ...]]:
    """The rows as the driver gives them."""
    if not result.returns_rows:
        return ()
    rows: Sequence[tuple[Any, ...]] = result.cursor.fetchall()
    result.close()
    return rows


class Tx:
    """A transaction on one set of read tables; errors of the database come out as StoreError."""

    def __init__(
        self, connection: Connection, tables: ReadTables, remembered: Remembered, *, reading: bool = False
    ) -> None:
        self._connection = connection
        self._reading, self._begun = reading, True
        self.tables = tables
        self.pending: dict[int, Recorded[Fact]] = {}  # appended here, not yet committed
        self.remembered = remembered

    @property
    def connection(self) -> Connection:
        """In a transaction: after a commit the next one begins at the next use."""
        if not self._begun:
            begin_on(self._connection, self._reading)
            self._begun = True
        return self._connection

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

    def quickly(self, statement: Executable, params: Sequence[Mapping[str, Any]]) -> Sequence[tuple[Any, ...]]:
        """The same for a statement whose text never changes and whose values are texts and whole numbers: it is
        made once for each engine and then goes straight to the driver.  All rows, where it finds any.
        """
        text, names, fixed = _made(statement, self._connection.dialect)
        given: list[Any] = [{**fixed, **each} for each in params] if fixed else list(params)
        if names is not None:
            given = [tuple([each[name] for name in names]) for each in given]
        try:
            result = self.connection.exec_driver_sql(text, given if len(given) > 1 else given[0])
            return _all_of(result)
        except DATABASE_ERRORS as error:
            raise store_error(error) from error

    def commit(self) -> None:
        """Durable when it returns; then what was pending is remembered."""
        try:
            self._connection.commit()
        except DATABASE_ERRORS as error:
            # a failed commit may leave the transaction open, and with it the writers' lock: give the connection up
            self._connection.invalidate()
            raise store_error(error, committing=True) from error
        self._begun = False
        self.remembered.put(self.pending.values())
        self.pending.clear()

    def head(self) -> Head:
        """The end of the chain; position 0 for a book that holds nothing yet."""
        rows = self.rows(_HEAD)
        return Head(rows[0].position, rows[0].hash) if rows else Head(0, GENESIS)

    def next_place(self, station: str) -> Place:
        """The next free place in the chain for a station."""
        rows = self.quickly(_HEAD_AND_SEQ, [{"station": station}])
        if not rows:
            return Place(1, 1, GENESIS)
        position, last_hash, station_seq = rows[0]
        return Place(position + 1, (station_seq or 0) + 1, last_hash)

    def recorded(self, positions: Sequence[int]) -> list[Recorded[Fact]]:
        """The entries at these positions, in this order; NotFound if one is missing."""
        pending, remembered = self.pending.get, self.remembered.get
        known = [pending(position) or remembered(position) for position in positions]
        missing = [position for position, each in zip(positions, known, strict=True) if each is None]
        if not missing:
            return cast("list[Recorded[Fact]]", known)
        found: dict[int, Recorded[Fact]] = {each.position: each for each in known if each is not None}
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
        chosen = None if kinds is None else tuple(kinds)
        if chosen == ():
            return []
        if chosen is not None:
            params.update((f"kind_{nth}", kind.__name__) for nth, kind in enumerate(chosen))
        if since is not None:
            params["since"] = utc_text(since)
        if until is not None:
            params["until"] = utc_text(until)
        query = _positions_by_subject(
            self.tables.fact,
            None if chosen is None else len(chosen),
            *(since is not None, until is not None, include_superseded),
        )
        return self.recorded([position for (position,) in self.quickly(query, [params])])

    def of_kind(self, kind: type[Fact]) -> list[Recorded[Fact]]:
        """Every fact of one kind that is not superseded, by event time, then position."""
        rows = self.quickly(_positions_by_kind(self.tables.fact), [{"kind": kind.__name__}])
        return self.recorded([position for (position,) in rows])
