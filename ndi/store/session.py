"""The session of the services on a database: one transaction, appended facts and the read tables' answers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import CompoundSelect, Select, Table, bindparam, exists, insert, select, union_all

from ndi.domain.codec import utc_text
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError, NotFound, ReadOnly, StoreError
from ndi.domain.facts import AttemptVoided, EntryWithdrawn, Fact, InspectionOpened, PartListed, StationKeyEntered
from ndi.services.ports import (
    Clock,
    Head,
    InspectionRow,
    PartRow,
    Reliance,
    Seal,
    UseRow,
)
from ndi.store import seals
from ndi.store.journal import Place, Stamp, body_text, entry_row, known_fact, recorded_from_row
from ndi.store.keys import StationKey
from ndi.store.lists import ListReader
from ndi.store.projection import apply, row_exists
from ndi.store.rows import inspection_columns, inspection_row, part_columns, part_row, use_columns, use_row
from ndi.store.schema import ReadTables, client_key, entry
from ndi.store.transaction import Tx

_LAST_CHARACTER = "\U0010ffff"  # no text goes on behind it: a range up to it is everything that begins alike
SHORTEST_REASON = 10  # characters of a reason for a correction

_INSERT_ENTRY = insert(entry)
_INSERT_KEY = insert(client_key)
_SEEN_KEY = select(client_key.c.positions).where(client_key.c.key == bindparam("of_key"))


@cache
def _inspections(tables: ReadTables, filters: tuple[str, ...]) -> Select[Any]:
    table, part = tables.inspection, tables.part
    query = select(*inspection_columns(tables)).select_from(table.outerjoin(part, part.c.part == table.c.part))
    for name in filters:
        if name == "follows_another":  # true or false, as the value says
            query = query.where(table.c.previous.is_not(None) == bindparam("of_follows_another"))
        else:
            query = query.where(table.c[name] == bindparam(f"of_{name}"))
    return query.order_by(table.c.opened)


@cache
def _inspections_named(tables: ReadTables) -> Select[Any]:
    table = tables.inspection
    in_range = table.c.inspection >= bindparam("start"), table.c.inspection < bindparam("stop")
    query = _inspections(tables, ()).where(*in_range).order_by(None).order_by(table.c.inspection)
    return query.limit(bindparam("most"))


@cache
def _parts(tables: ReadTables, filters: tuple[str, ...]) -> Select[Any]:
    part = tables.part
    query = select(*part_columns(tables))
    for name in filters:
        query = query.where(part.c[name] == bindparam(f"of_{name}"))
    return query.order_by(part.c.listed)


@cache
def _parts_by_serial(tables: ReadTables) -> Select[Any]:
    part = tables.part
    in_range = part.c.serial >= bindparam("start"), part.c.serial < bindparam("stop")
    found = select(*part_columns(tables)).where(*in_range)
    return found.order_by(part.c.serial, part.c.listed).limit(bindparam("most"))


def _overlapping(use: Table, after: bool, until: bool) -> Select[Any] | CompoundSelect[Any]:
    """Uses of an object in an interval; what ended since its beginning is found by the end, so old uses are never read."""
    query = select(use).where(use.c.object == bindparam("of_object"))
    # an expression, so that no engine goes through all uses since the book began by their starts instead
    started = use.c.started.concat("") if after else use.c.started
    if until:
        query = query.where(started <= bindparam("until"))
    if not after:
        return query
    return union_all(query.where(use.c.ended.is_(None)), query.where(use.c.ended > bindparam("after")))


@cache
def _uses(use: Table, after: bool, until: bool) -> Select[Any]:
    found = _overlapping(use, after, until).subquery()
    return select(*use_columns(found)).order_by(found.c.started, found.c.source, found.c.inspection)


@cache
def _reliances(tables: ReadTables, after: bool, until: bool) -> Select[Any]:
    found, inspection, fact = _overlapping(tables.object_use, after, until).subquery(), tables.inspection, tables.fact
    voided = fact.c.subject == found.c.inspection, fact.c.kind == AttemptVoided.__name__
    return (
        select(
            *(found.c[name] for name in ("inspection", "what", "kind", "attempt")),
            inspection.c.part,
            inspection.c.quantity,
            exists().where(*voided),
        )
        .select_from(found.outerjoin(inspection, inspection.c.inspection == found.c.inspection))
        .order_by(found.c.started, found.c.source, found.c.inspection)
    )


def _interval(object_: str, after: datetime | None, until: datetime | None) -> dict[str, str]:
    ends = {"after": after, "until": until}
    return {"of_object": object_, **{name: utc_text(at) for name, at in ends.items() if at is not None}}


class SqlSession(ListReader):
    """One transaction on the book.  Leaving the block without ``commit`` changes nothing."""

    def __init__(self, tx: Tx, key: StationKey, clock: Clock, *, readonly: bool = False) -> None:
        self._tx, self._key, self._clock, self._readonly = tx, key, clock, readonly
        self._place: Place | None = None  # known once something was appended in this transaction
        self._failed = False
        self._read: dict[
            tuple[Any, ...], list[Any]
        ] = {}  # what was asked since the last own entry: one transaction, one answer

    # --- writing ---

    def append(self, drafts: Sequence[Draft]) -> tuple[Recorded[Fact], ...]:
        """Put facts at the end of the chain, in order, and write the read tables.

        InputError if one of them cannot be kept; then none of them is.
        """
        self._may_write()
        bodies = [body_text(draft) for draft in drafts]
        self._check_corrections(drafts)
        self._check_new_keys(drafts)
        if not drafts:
            return ()
        self._failed = True  # until all of it is in
        recorded = self._write(drafts, bodies)
        self._failed = False
        return recorded

    def _write(self, drafts: Sequence[Draft], bodies: Sequence[str]) -> tuple[Recorded[Fact], ...]:
        self._read.clear()
        place = self._place or self._tx.next_place(self._key.station)
        stamp = Stamp.of(self._clock)
        rows = []
        for draft, body in zip(drafts, bodies, strict=True):
            rows.append(entry_row(draft, body, place, stamp, self._key))
            place = place.after(rows[-1])
        self._tx.quickly(_INSERT_ENTRY, rows)
        recorded = tuple(recorded_from_row(row) for row in rows)
        self._tx.pending.update((each.position, each) for each in recorded)
        for each in recorded:
            apply(self._tx, each)
        self._place = place
        return recorded

    def _may_write(self) -> None:
        if self._readonly:
            raise ReadOnly("this session only reads; open one that may write")
        if self._failed:
            raise StoreError(
                "an earlier step of this transaction failed: leave it and do the whole again; nothing was saved"
            )

    def _check_corrections(self, drafts: Sequence[Draft]) -> None:
        corrected: set[str] = set()
        for draft in drafts:
            if draft.supersedes is None:
                continue
            self._check_correction(draft, draft.supersedes, again=draft.supersedes in corrected)
            corrected.add(draft.supersedes)

    def _check_correction(self, draft: Draft, uid: str, *, again: bool) -> None:
        fact = known_fact(draft)
        kind = type(fact).__name__
        position = self._tx.position_of(uid)
        if position is None:
            raise InputError(f"the {kind} entry to be corrected ({uid}) is not in this book: look it up again")
        old = self._tx.recorded([position])[0]
        if isinstance(fact, EntryWithdrawn):
            if (fact.kind, fact.position, fact.about) != (type(old.fact).__name__, position, old.fact.subjects()):
                raise InputError(f"entry {position} is not the {fact.kind} to be taken away: look it up again")
        elif type(old.fact) is not type(fact):
            raise InputError(f"entry {position} is {type(old.fact).__name__}; it cannot be corrected by {kind}")
        if old.fact.subjects()[:1] != fact.subjects()[:1]:
            raise InputError(
                f"entry {position} is about {', '.join(old.fact.subjects()[:1])}, the correction about "
                f"{', '.join(fact.subjects()[:1])}: correct an entry of the same thing"
            )
        if again or self._tx.is_superseded(position):
            raise InputError(f"entry {position} was corrected already: look again and correct the latest one")
        if len((draft.why or "").strip()) < SHORTEST_REASON:
            raise InputError(
                f"a correction needs a reason of at least {SHORTEST_REASON} characters: say what was wrong"
            )

    def _check_new_keys(self, drafts: Sequence[Draft]) -> None:
        """Nothing that is in the book under a name is overwritten by a second entry of that name."""
        new: set[tuple[str, str]] = set()
        for draft in drafts:
            fact = draft.fact
            match fact:
                case InspectionOpened():
                    table, column, key = self._tx.tables.inspection, "inspection", fact.inspection
                case PartListed():
                    table, column, key = self._tx.tables.part, "part", fact.part
                case StationKeyEntered():
                    self._check_new_station(fact, draft)
                    continue
                case _:
                    continue
            if (column, key) in new or (self._is_new_key(draft, key) and row_exists(self._tx, table, column, key)):
                raise InputError(
                    f"{column} {key} is in the book already: choose another name, or correct the entry that is there"
                )
            new.add((column, key))

    def _is_new_key(self, draft: Draft, key: str) -> bool:
        """Whether the draft brings a key in, rather than correcting the entry of that same key."""
        position = None if draft.supersedes is None else self._tx.position_of(draft.supersedes)
        return position is None or key not in self._tx.recorded([position])[0].fact.subjects()

    def _check_new_station(self, fact: StationKeyEntered, draft: Draft) -> None:
        if draft.supersedes is not None or self._tx.facts(fact.station, (StationKeyEntered,)):
            raise InputError(
                f"station {fact.station} has a key in this book; keys are not changed: enter a new station code"
            )

    def commit(self) -> None:
        """Make it durable; returns only after it is on disk."""
        if self._failed:
            self._may_write()
        self._tx.commit()
        self._place = None  # others may append before the next use
        self._read.clear()

    def seen_client_key(self, key: str) -> tuple[int, ...] | None:
        """Positions that an earlier call with this key wrote, or None."""
        rows = self._tx.rows(_SEEN_KEY, {"of_key": key})
        return tuple(int(each) for each in rows[0].positions.split()) if rows else None

    def keep_client_key(self, key: str, positions: Sequence[int]) -> None:
        """Remember that the call with this key has been done."""
        self._may_write()
        if self.seen_client_key(key) is not None:
            raise InputError(f"the call {key} has been done already: look at what it wrote")
        self._tx.run(_INSERT_KEY, {"key": key, "positions": " ".join(str(each) for each in positions)})

    # --- reading ---

    def _once(self, ask: Callable[[], Sequence[Any]], *key: Any) -> list[Any]:
        """The answer to a question, asked of the database once until something is appended."""
        found = self._read.get(key)
        if found is None:
            found = self._read[key] = list(ask())
        return found.copy()

    def facts(
        self,
        subject: str,
        kinds: Iterable[type[Fact]] | None = None,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        include_superseded: bool = False,
    ) -> list[Recorded[Fact]]:
        """Facts about ``subject`` by event time, then position; ``since``/``until`` inclusive."""
        chosen = None if kinds is None else tuple(kinds)
        return self._once(
            lambda: self._tx.facts(subject, chosen, since=since, until=until, include_superseded=include_superseded),
            *("facts", subject, chosen, since, until, include_superseded),
        )

    def of_kind(self, kind: type[Fact]) -> list[Recorded[Fact]]:
        """Every fact of one kind that is not superseded, by event time, then position."""
        return self._once(lambda: self._tx.of_kind(kind), "kind", kind)

    def is_superseded(self, position: int) -> bool:
        """Whether a later entry corrects or withdraws the one at ``position``."""
        return self._tx.is_superseded(position)

    def entry(self, position: int) -> Recorded[Fact]:
        """The entry at a position; NotFound."""
        return self._tx.recorded([position])[0]

    def seals(self, positions: Iterable[int]) -> list[Seal]:
        """Entries in the form that their hashes are taken over, by position; NotFound."""
        return seals.seals(self._tx, positions)

    def inspection(self, inspection: str) -> InspectionRow:
        """NotFound if the book holds no such inspection."""
        rows = self._inspections(inspection=inspection)
        if not rows:
            raise NotFound(f"inspection {inspection} is not in this book: scan or type its number again")
        return rows[0]

    def inspections(
        self,
        *,
        work_order: str | None = None,
        part: str | None = None,
        disposition: str | None = None,
        suspended: bool | None = None,
        provisional: bool | None = None,
        verified: bool | None = None,
        procedure: str | None = None,
        procedure_revision: str | None = None,
        follows_another: bool | None = None,
    ) -> list[InspectionRow]:
        """In the order they were opened."""
        asked = {
            "work_order": work_order,
            "part": part,
            "disposition": disposition,
            "suspended": suspended,
            "provisional": provisional,
            "verified": verified,
            "procedure": procedure,
            "procedure_revision": procedure_revision,
            "follows_another": follows_another,
        }
        given = {name: value for name, value in asked.items() if value is not None}
        return self._inspections(**given)

    def _inspections(self, **given: str | bool) -> list[InspectionRow]:
        query = _inspections(self._tx.tables, tuple(given))
        params = {f"of_{name}": value for name, value in given.items()}
        return self._once(
            lambda: [inspection_row(row) for row in self._tx.quickly(query, [params])], "inspections", *given.items()
        )

    def inspections_named(self, start: str, most: int = 50) -> list[InspectionRow]:
        """Records whose number begins with ``start``, by number, at most ``most``."""
        params = {"start": start, "stop": start + _LAST_CHARACTER, "most": most}
        query = _inspections_named(self._tx.tables)
        return self._once(
            lambda: [inspection_row(row) for row in self._tx.quickly(query, [params])], "records named", start, most
        )

    def part(self, part: str) -> PartRow:
        """NotFound if the book holds no such part."""
        rows = self._parts(part=part)
        if not rows:
            raise NotFound(f"part {part} is not in this book: scan or type its number again")
        return rows[0]

    def parts(self, work_order: str | None = None) -> list[PartRow]:
        """In the order they were listed."""
        return self._parts() if work_order is None else self._parts(work_order=work_order)

    def parts_by_serial(self, start: str, most: int = 50) -> list[PartRow]:
        """Pieces whose serial number begins with ``start``, by serial number, at most ``most``."""
        params = {"start": start, "stop": start + _LAST_CHARACTER, "most": most}
        return self._once(
            lambda: [part_row(row) for row in self._tx.quickly(_parts_by_serial(self._tx.tables), [params])],
            "serials",
            start,
            most,
        )

    def _parts(self, **given: str) -> list[PartRow]:
        query = _parts(self._tx.tables, tuple(given))
        params = {f"of_{name}": value for name, value in given.items()}
        return self._once(lambda: [part_row(row) for row in self._tx.quickly(query, [params])], "parts", *given.items())

    def uses(self, object_: str, after: datetime | None, until: datetime | None) -> list[UseRow]:
        """Uses of an object that overlap ``(after, until]``: ended later than ``after``
        (or not ended), started not later than ``until``; by start."""
        query = _uses(self._tx.tables.object_use, after is not None, until is not None)
        params = _interval(object_, after, until)
        return self._once(
            lambda: [use_row(row) for row in self._tx.quickly(query, [params])], "uses", object_, after, until
        )

    def reliances(self, object_: str, after: datetime | None, until: datetime | None) -> list[Reliance]:
        """The same uses with their records, as a recall needs them; by start."""
        query = _reliances(self._tx.tables, after is not None, until is not None)
        params = _interval(object_, after, until)

        def ask() -> list[Reliance]:
            rows = self._tx.quickly(query, [params])
            return [Reliance(row[0], row[1], row[2], row[3], row[4], row[5], bool(row[6])) for row in rows]

        return self._once(ask, "reliances", object_, after, until)

    def head(self) -> Head:
        """The end of the chain as this transaction sees it."""
        return self._tx.head()
