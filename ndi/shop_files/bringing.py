"""Brings a shop's tables into a book: read and checked whole first, then entered in one transaction.

In a book that is not for practice there are three ways in, each signed: persons
(an administrator), qualifications (entered by one, confirmed by another), and
everything else.  Tables of one call go one way, so that they are in all or none.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from enum import Enum
from pathlib import Path
from typing import cast

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.moment import Moment
from ndi.services import people
from ndi.services.importing import bring_in
from ndi.services.ports import Session
from ndi.services.proof import Proof
from ndi.services.workplace import Workplace
from ndi.shop_files.known import Known, known_in
from ndi.shop_files.reading import Table, read_tables, tables_of


class WayIn(Enum):
    """Which use case takes the tables; the value says so to a person."""

    PERSONS = "persons"
    QUALIFICATIONS = "certificates, vision records and authorisations"
    FACTS = "tables of equipment, materials and work orders"


def read(work: Workplace, paths: Sequence[Path], named: str | None = None) -> list[Table]:
    """The tables as they would be brought in; TableErrors names file, line and column of all that is wrong."""
    files = tables_of(paths, named)
    with work.book.session(readonly=True) as session:
        known = _known(work, session)
    return read_tables(files, known, work.now())


def way_in(work: Workplace, tables: Sequence[Table]) -> WayIn:
    """Which way the tables go; InputError when they would go several."""
    if work.practice:
        return WayIn.FACTS
    ways = {table.path.name: _way_of(table) for table in tables}
    if len(set(ways.values())) > 1:
        listed = "; ".join(f"{name}: {way.value}" for name, way in ways.items())
        raise InputError(f"these tables are signed by different persons, bring them one after another ({listed})")
    return next(iter(ways.values()))


def _way_of(table: Table) -> WayIn:
    if table.kind.name == "people":
        return WayIn.PERSONS
    return WayIn.QUALIFICATIONS if table.kind.confirmed else WayIn.FACTS


def covers(work: Workplace, tables: Sequence[Table], by: str) -> tuple[str, ...]:
    """What whoever brings the tables in signs."""
    match way_in(work, tables):
        case WayIn.PERSONS:
            return people.entry_covers(_persons(tables))
        case WayIn.QUALIFICATIONS:
            return people.proposal_covers(_qualifications(tables), by)
        case WayIn.FACTS:
            return tuple(f"{table.path.name}, {len(table.facts)} entries, sha256 {_hash(table)}" for table in tables)


def bring(
    work: Workplace, tables: Sequence[Table], *, by: str, why: str | None = None, proof: Proof | None = None
) -> tuple[str, ...]:
    """Enter everything in tables that were read; the names of proposals that wait for a second person."""
    match way_in(work, tables):
        case WayIn.PERSONS:
            people.enter(work, _persons(tables), by, proof=proof)
        case WayIn.QUALIFICATIONS:
            return people.propose(work, _qualifications(tables), by, proof=proof)
        case WayIn.FACTS:
            names = ", ".join(table.path.name for table in tables)
            reason = why or f"brought in from the shop's table {names}"
            bring_in(work, _facts(tables), by=by, why=reason, covers=covers(work, tables, by), proof=proof)
    return ()


def _facts(tables: Sequence[Table]) -> list[tuple[f.Fact, Moment]]:
    return [fact for table in tables for fact in table.facts]


def _persons(tables: Sequence[Table]) -> list[f.PersonEntered]:
    return [cast(f.PersonEntered, fact) for fact, _ in _facts(tables)]


def _qualifications(tables: Sequence[Table]) -> list[people.Qualification]:
    return [cast(people.Qualification, fact) for fact, _ in _facts(tables)]


def _hash(table: Table) -> str:
    return hashlib.sha256(table.path.read_bytes()).hexdigest()[:16]


def _known(work: Workplace, session: Session) -> Known:
    masters = {master.number: "serial" if master.serialised else "lot" for master in work.masters(session)}
    return known_in(session, work.now().local.date(), masters)
