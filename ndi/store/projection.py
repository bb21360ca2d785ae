"""From an entry to the read tables: one function per kind that has a table of its own.

Everything here follows from the journal alone, never from the clock, and gives
the same rows whether entries come one by one or are read again from the start.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from sqlalchemy import Delete, Insert, Select, Table, Update, bindparam, delete, insert, select, update

from ndi.domain import facts as f
from ndi.domain.codec import utc_text
from ndi.domain.entry import Recorded
from ndi.domain.vocabulary import Disposition
from ndi.store.object_uses import USE_PROJECTIONS, withdrawn
from ndi.store.transaction import Tx

SPLIT = "SPLIT"

_DECIDING: tuple[type[f.Fact], ...] = (
    f.DecisionSigned,
    f.ProvisionalCleared,
    f.AcceptanceSuspended,
    f.AcceptanceRestored,
    f.DecisionUndone,
    f.VerificationSigned,
)
_UNDECIDED: dict[str, Any] = {
    "disposition": str(Disposition.NO_DECISION),
    "provisional": False,
    "suspended": False,
    "decision": None,
    "decided_at": None,
    "verified": False,
}


@cache
def insert_into(table: Table) -> Insert:
    return insert(table)


@cache
def _mark_superseded(fact: Table) -> Update:
    return update(fact).where(fact.c.position == bindparam("corrected")).values(superseded=True)


@cache
def _touch(inspection: Table) -> Update:
    return (
        update(inspection).where(inspection.c.inspection == bindparam("of_key")).values(version=bindparam("to_version"))
    )


@cache
def _update_by(table: Table, key: str, columns: tuple[str, ...]) -> Update:
    return (
        update(table)
        .where(table.c[key] == bindparam("of_key"))
        .values({name: bindparam(f"to_{name}") for name in columns})
    )


@cache
def _delete_part(part: Table) -> Delete:
    return delete(part).where(part.c.part == bindparam("of_key"))


@cache
def _exists(table: Table, key: str) -> Select[Any]:
    return select(table.c[key]).where(table.c[key] == bindparam("of_key"))


@cache
def _all_of(table: Table) -> Delete:
    return delete(table)


def _set(tx: Tx, table: Table, key: str, of_key: str, values: dict[str, Any]) -> None:
    params = {f"to_{name}": value for name, value in values.items()}
    tx.run(_update_by(table, key, tuple(values)), {"of_key": of_key, **params})


def row_exists(tx: Tx, table: Table, key: str, of_key: str) -> bool:
    """Whether a read table has a row of this key."""
    return bool(tx.rows(_exists(table, key), {"of_key": of_key}))


def apply(tx: Tx, recorded: Recorded[Any]) -> None:
    """Write what follows from ``recorded``; entries must come in the order of their positions."""
    kind = type(recorded.fact).__name__
    subjects = recorded.fact.subjects()
    at = utc_text(recorded.at)
    tx.quickly(
        insert_into(tx.tables.fact),
        [
            {"position": recorded.position, "nth": nth, "subject": subject, "kind": kind, "at": at, "superseded": False}
            for nth, subject in enumerate(subjects or ("",))  # a fact about nothing in particular is still of its kind
        ],
    )
    if recorded.supersedes is not None:
        tx.run(_mark_superseded(tx.tables.fact), {"corrected": tx.position_of(recorded.supersedes)})
    project = PROJECTIONS.get(type(recorded.fact))
    if project is not None:
        project(tx, recorded)
    if subjects:
        tx.quickly(_touch(tx.tables.inspection), [{"of_key": key, "to_version": recorded.position} for key in subjects])


def empty(tx: Tx) -> None:
    """Take every row out of the read tables."""
    for table in tx.tables.all:
        tx.run(_all_of(table))


def _part_listed(tx: Tx, recorded: Recorded[Any]) -> None:
    fact: f.PartListed = recorded.fact
    values = {
        "work_order": fact.work_order,
        "part_no": fact.part_no,
        "serial": fact.serial,
        "lot": fact.lot,
        "quantity": fact.quantity,
        "reason_code": fact.reason_code,
        "description": fact.description,
    }
    part = tx.tables.part
    old = tx.corrected_by(recorded)
    if old is not None and old.fact.part != fact.part:
        tx.run(_delete_part(part), {"of_key": old.fact.part})
    if row_exists(tx, part, "part", fact.part):
        _set(tx, part, "part", fact.part, values)
        return
    tx.run(insert_into(part), {"part": fact.part, "listed": recorded.position, "place": None, **values})
    _place(tx, fact.part)


def _place(tx: Tx, part: str) -> None:
    """The place of the latest scan by event time (scans may be entered late)."""
    # a single piece that went elsewhere does not take its lot along
    moves = [move for move in tx.facts(part, (f.PartMoved,)) if move.fact.piece is None]
    _set(tx, tx.tables.part, "part", part, {"place": moves[-1].fact.place if moves else None})


def _part_moved(tx: Tx, recorded: Recorded[Any]) -> None:
    _place(tx, recorded.fact.part)


def _inspection_opened(tx: Tx, recorded: Recorded[Any]) -> None:
    fact: f.InspectionOpened = recorded.fact
    values = {
        "part": fact.part,
        "work_order": fact.work_order,
        "quantity": fact.quantity,
        "method": fact.method,
        "technique": fact.technique,
        "procedure": fact.procedure,
        "procedure_revision": fact.procedure_revision,
        "inspector": fact.inspector,
        "reason": fact.reason,
        "previous": fact.previous,
        "opened_at": utc_text(recorded.at),
    }
    inspection = tx.tables.inspection
    if row_exists(tx, inspection, "inspection", fact.inspection):
        _set(tx, inspection, "inspection", fact.inspection, values)
        return
    first = {"inspection": fact.inspection, "opened": recorded.position, "version": recorded.position}
    tx.run(insert_into(inspection), {**first, **values, **_UNDECIDED})


def _disposition(fact: f.DecisionSigned) -> str:
    return SPLIT if len({child.disposition for child in fact.children}) > 1 else fact.disposition


def _decide(tx: Tx, inspection: str) -> None:
    """Fold what was decided about an inspection, in the order of the book."""
    state = dict(_UNDECIDED)
    for each in sorted(tx.facts(inspection, _DECIDING), key=lambda entry: entry.position):
        match each.fact:
            case f.DecisionSigned():
                state = {
                    "disposition": _disposition(each.fact),
                    "provisional": each.fact.provisional,
                    "suspended": False,
                    "decision": each.position,
                    "decided_at": utc_text(each.at),
                    "verified": False,
                }
            case f.ProvisionalCleared():
                state["provisional"] = False
            case f.AcceptanceSuspended():
                state["suspended"] = True
            case f.AcceptanceRestored():
                state["suspended"] = False
            case f.DecisionUndone():
                state = dict(_UNDECIDED)
            case f.VerificationSigned():
                state["verified"] = True
    _set(tx, tx.tables.inspection, "inspection", inspection, state)


def _decided(tx: Tx, recorded: Recorded[Any]) -> None:
    _decide(tx, recorded.fact.inspection)


def _verified(tx: Tx, recorded: Recorded[Any]) -> None:
    old = tx.corrected_by(recorded)
    before: tuple[str, ...] = old.fact.inspections if old else ()
    for inspection in dict.fromkeys(before + recorded.fact.inspections):
        _decide(tx, inspection)


def _withdrawn(tx: Tx, recorded: Recorded[Any]) -> None:
    old = tx.corrected_by(recorded)
    if old is None:
        return
    if isinstance(old.fact, f.PartMoved):
        _place(tx, old.fact.part)
    withdrawn(tx, recorded, old)


PROJECTIONS: dict[type[f.Fact], Callable[[Tx, Recorded[Any]], None]] = {
    f.PartListed: _part_listed,
    f.PartMoved: _part_moved,
    f.InspectionOpened: _inspection_opened,
    f.DecisionSigned: _decided,
    f.ProvisionalCleared: _decided,
    f.AcceptanceSuspended: _decided,
    f.AcceptanceRestored: _decided,
    f.DecisionUndone: _decided,
    f.VerificationSigned: _verified,
    f.EntryWithdrawn: _withdrawn,
    **USE_PROJECTIONS,
}
