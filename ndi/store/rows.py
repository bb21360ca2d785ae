"""Rows of the read tables as the services know them, straight from the driver's tuples; several by name at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields
from datetime import datetime
from functools import cache
from typing import Any, TypeVar

from sqlalchemy import Select, bindparam, case, func, select

from ndi.domain.codec import utc_text
from ndi.domain.facts import DecisionSigned
from ndi.services.ports import Brief, InspectionRow, PartRow, UseRow, UseTime, UseTotal
from ndi.store.object_uses import SHOTS
from ndi.store.schema import TEXT, WHOLE, ReadTables, entry
from ndi.store.transaction import Tx

N = TypeVar("N", str, int)
R = TypeVar("R", InspectionRow, PartRow, UseRow)

_INSPECTION = tuple(each.name for each in fields(InspectionRow))
_PART = tuple(each.name for each in fields(PartRow))
_USE = tuple(each.name for each in fields(UseRow))
_AT_ONCE = 100  # names in one statement; a shorter rest is filled up, so that the statement is made once
_time = datetime.fromisoformat  # the book writes UTC with a Z, which is read as aware


def _made(kind: type[R], values: dict[str, Any]) -> R:
    """A frozen row filled in one step: lists of thousands of rows are made of them, and field by field takes five times as long."""
    row = object.__new__(kind)
    object.__setattr__(row, "__dict__", values)
    return row


def inspection_columns(tables: ReadTables) -> list[Any]:
    """The columns of an inspection in the order of its row."""
    table = tables.inspection
    part_no = func.coalesce(tables.part.c.part_no, "").label("part_no")
    return [part_no if name == "part_no" else table.c[name] for name in _INSPECTION]


def part_columns(tables: ReadTables) -> list[Any]:
    return [tables.part.c[name] for name in _PART]


def use_columns(table: Any) -> list[Any]:
    return [table.c[name] for name in _USE]


def inspection_row(row: Sequence[Any]) -> InspectionRow:
    """A row of :func:`inspection_columns`; an engine without truth values gives 0 and 1."""
    made = dict(zip(_INSPECTION, row, strict=True))
    made["opened_at"] = _time(made["opened_at"])
    decided_at = made["decided_at"]
    if decided_at is not None:
        made["decided_at"] = _time(decided_at)
    made["provisional"] = bool(made["provisional"])
    made["suspended"] = bool(made["suspended"])
    made["verified"] = bool(made["verified"])
    return _made(InspectionRow, made)


def part_row(row: Sequence[Any]) -> PartRow:
    return _made(PartRow, dict(zip(_PART, row, strict=True)))


def use_row(row: Sequence[Any]) -> UseRow:
    made = dict(zip(_USE, row, strict=True))
    made["started"] = _time(made["started"])
    ended = made["ended"]
    made["ended"] = None if ended is None else _time(ended)
    return _made(UseRow, made)


# --- several by name -------------------------------------------------------------------------------


def _names() -> list[Any]:
    return [bindparam(f"name_{nth}", type_=TEXT) for nth in range(_AT_ONCE)]


@cache
def _inspections_in(tables: ReadTables) -> Select[Any]:
    table, part = tables.inspection, tables.part
    joined = table.outerjoin(part, part.c.part == table.c.part)
    return select(*inspection_columns(tables)).select_from(joined).where(table.c.inspection.in_(_names()))


@cache
def _parts_in(tables: ReadTables) -> Select[Any]:
    return select(*part_columns(tables)).where(tables.part.c.part.in_(_names()))


@cache
def _briefs(tables: ReadTables, some: bool) -> Select[Any]:
    table, part = tables.inspection, tables.part
    part_no = func.coalesce(part.c.part_no, "").label("part_no")
    of_part = {"part_no": part_no, "serial": part.c.serial, "lot": part.c.lot}
    columns = [of_part[name] if name in of_part else table.c[name] for name in Brief._fields]
    query = select(*columns).select_from(table.outerjoin(part, part.c.part == table.c.part))
    return query.where(table.c.inspection.in_(_names())) if some else query


@cache
def _pieces_inspected(tables: ReadTables) -> Any:
    table, part = tables.inspection, tables.part
    most = func.max(table.c.quantity).label("pieces")
    each = select(table.c.part, table.c.work_order, most).group_by(table.c.part, table.c.work_order).subquery()
    part_no = func.coalesce(part.c.part_no, "")
    joined = each.outerjoin(part, part.c.part == each.c.part)
    return (
        select(part_no, each.c.work_order, func.sum(each.c.pieces))
        .select_from(joined)
        .group_by(part_no, each.c.work_order)
    )


@cache
def _use_total(tables: ReadTables) -> Any:
    use, table = tables.object_use, tables.inspection
    within = (
        use.c.object == bindparam("object_"),
        use.c.started >= bindparam("since"),
        use.c.started < bindparam("until"),
    )
    shots = func.sum(case((use.c.kind == SHOTS, 1), else_=0)).label("shots")
    each = select(use.c.inspection, shots).where(*within).group_by(use.c.inspection).subquery()
    joined = each.outerjoin(table, table.c.inspection == each.c.inspection)
    return select(func.count(), func.sum(table.c.quantity), func.sum(each.c.shots)).select_from(joined)


@cache
def _decided(tables: ReadTables) -> Select[Any]:
    table = tables.inspection
    return select(table.c.inspection).where(table.c.decision.is_not(None)).order_by(table.c.opened)


@cache
def _use_times(tables: ReadTables) -> Select[Any]:
    use = tables.object_use
    return select(*(use.c[name] for name in UseTime._fields)).where(
        use.c.object == bindparam("object_"), use.c.started >= bindparam("since"), use.c.started < bindparam("until")
    )


@cache
def _orders(tables: ReadTables) -> Select[Any]:
    order = tables.inspection.c.work_order
    return select(order, func.count()).group_by(order)


def _chunks(names: Iterable[N]) -> Iterator[dict[str, N]]:
    every = list(dict.fromkeys(names))
    for start in range(0, len(every), _AT_ONCE):
        some = every[start : start + _AT_ONCE]
        some += some[-1:] * (_AT_ONCE - len(some))
        yield {f"name_{nth}": name for nth, name in enumerate(some)}


def inspections_in(tx: Tx, names: Iterable[str]) -> dict[str, InspectionRow]:
    """Those of some records that the book holds, by number."""
    found = (row for some in _chunks(names) for row in tx.quickly(_inspections_in(tx.tables), [some]))
    return {row[0]: inspection_row(row) for row in found}


def parts_in(tx: Tx, names: Iterable[str]) -> dict[str, PartRow]:
    """Those of some parts that the book holds, by key."""
    found = (row for some in _chunks(names) for row in tx.quickly(_parts_in(tx.tables), [some]))
    return {row[0]: part_row(row) for row in found}


def briefs(tx: Tx, names: Iterable[str] | None) -> dict[str, Brief]:
    """Some records or all by number, with what counts need of them; ``suspended`` as the engine writes truth."""
    asked: Iterable[dict[str, str]] = [{}] if names is None else _chunks(names)
    query = _briefs(tx.tables, names is not None)
    return {row[0]: Brief._make(row) for some in asked for row in tx.quickly(query, [some])}


def pieces_inspected(tx: Tx) -> list[tuple[str, str, int]]:
    """Part number, work order, pieces inspected: each part once, however many records it has."""
    return [(part_no, order, int(pieces)) for part_no, order, pieces in tx.quickly(_pieces_inspected(tx.tables), [{}])]


def decided(tx: Tx) -> list[str]:
    """The numbers of all records with a decision in force, as they were opened."""
    return [row[0] for row in tx.quickly(_decided(tx.tables), [{}])]


def use_total(tx: Tx, object_: str, since: datetime, until: datetime) -> UseTotal:
    """How much an object was used by what began in ``[since, until)``; each record once."""
    params = {"object_": object_, "since": utc_text(since), "until": utc_text(until)}
    ((records, pieces, shots),) = tx.quickly(_use_total(tx.tables), [params])
    return UseTotal(int(records), int(pieces or 0), int(shots or 0))


def use_times(tx: Tx, object_: str, since: datetime, until: datetime) -> list[UseTime]:
    """Uses of an object that began in ``[since, until)``."""
    params = {"object_": object_, "since": utc_text(since), "until": utc_text(until)}
    return [UseTime(*row) for row in tx.quickly(_use_times(tx.tables), [params])]


def records_of_orders(tx: Tx) -> dict[str, int]:
    """How many records each work order has."""
    return {row[0]: row[1] for row in tx.quickly(_orders(tx.tables), [{}])}


@cache
def _offsets() -> Select[Any]:
    places = [bindparam(f"name_{nth}", type_=WHOLE) for nth in range(_AT_ONCE)]
    return select(entry.c.position, entry.c.offset_min).where(entry.c.position.in_(places))


def offsets(tx: Tx, positions: Iterable[int]) -> dict[int, int]:
    """The local offset in minutes at which each of some entries was made."""
    return {row[0]: row[1] for some in _chunks(positions) for row in tx.quickly(_offsets(), [some])}


# --- signatures ------------------------------------------------------------------------------------


@cache
def _signatures(tables: ReadTables) -> Select[Any]:
    """Who signed the decision in force of each of some records."""
    table = tables.inspection
    joined = table.join(entry, entry.c.position == table.c.decision)
    return (
        select(table.c.inspection, entry.c.by, entry.c.body)
        .select_from(joined)
        .where(table.c.inspection.in_(_names()), entry.c.kind == DecisionSigned.__name__)
    )


def signatures(tx: Tx, names: Iterable[str]) -> Iterator[tuple[str, str, str]]:
    """Record, signer and body of the decision in force of each of some records."""
    for some in _chunks(names):
        yield from tx.quickly(_signatures(tx.tables), [some])
