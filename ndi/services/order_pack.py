"""What the owner of one work order is given: which entries concern its parts and what their records rest on, as papers and list."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.services.assemble import decision_in_force
from ndi.services.lookup import about, every
from ndi.services.other_owners import OtherOwners, others_than
from ndi.services.ports import Head, InspectionRow, Session
from ndi.services.record_report import record_model
from ndi.services.report_models import RecordModel
from ndi.services.state import decision_text
from ndi.services.workplace import Workplace

# about persons and their secrets: never what a record of a part rests on
_NEVER = (f.SecretSet, f.SecretTried, f.OneTimeCodeIssued, f.OneTimeCodeConfirmed, f.BadgeAssigned, f.SetUpSigned)


@dataclass(frozen=True)
class OrderPack:
    """One work order: its records, the positions of the entries that go along, and what keeps other owners' names out."""

    work_order: str
    head: Head
    records: tuple[str, ...]
    positions: tuple[int, ...]
    photographs: tuple[tuple[str, int], ...]  # SHA-256 and size
    others: OtherOwners
    table: str  # the records as CSV


def order_pack(work: Workplace, work_order: str) -> OrderPack:
    """Gather the pack of a work order; NotFound when the book holds none of that number."""
    with work.look() as session:
        if not about(session, f.WorkOrderOpened, work_order) and not session.parts(work_order):
            raise NotFound(f"work order {work_order} is not in this book: type its number as it was received")
        rows = session.inspections(work_order=work_order)
        others = others_than(session, work_order)
        positions = set(_of_the_book(session)) | _own(session, work_order, rows)
        for row in rows:
            positions.update(_relied_upon(session, row))
        positions.update(_documents(session, rows))
        pictures = {
            r.fact.sha256: r.fact.size
            for row in rows
            for r in about(session, f.PhotoAttached, row.inspection)
            if r.fact.size is not None
        }
        return OrderPack(
            work_order,
            session.head(),
            tuple(row.inspection for row in rows),
            tuple(sorted(positions)),
            tuple(pictures.items()),
            others,
            others.clean(_table(session, rows)),
        )


def record_of(work: Workplace, pack: OrderPack, inspection: str) -> RecordModel:
    """The record as a report model with the names of other owners' things taken out."""
    with work.look() as session:
        return pack.others.clean(record_model(work, session, inspection))


# --- which entries --------------------------------------------------------------------------------------


def _of_the_book(session: Session) -> Iterator[int]:
    """The beginning of the book and the stations' keys: by these the signatures are checked."""
    for kind in (f.BookBegun, f.StationKeyEntered):
        yield from (recorded.position for recorded in every(session, kind))


def _own(session: Session, work_order: str, rows: list[InspectionRow]) -> set[int]:
    """Whatever is about the order, its parts, records, baskets, views, indications, tags and recall sets, corrected entries too."""
    names = {work_order, *(part.part for part in session.parts(work_order)), *(row.inspection for row in rows)}
    found: dict[int, f.Fact] = {}
    asked: set[str] = set()
    while names - asked:
        for name in sorted(names - asked):
            asked.add(name)
            for recorded in session.facts(name, include_superseded=True):
                if not isinstance(recorded.fact, _NEVER):
                    found[recorded.position] = recorded.fact
                    names.update(_leads_to(recorded.fact))
    return set(found)


def _leads_to(fact: f.Fact) -> tuple[str, ...]:
    """Under which other names there is more about the same work: a basket, a view, an indication, a tag, a recall set."""
    match fact:
        case f.BasketLoaded():
            return (fact.basket,)
        case f.ViewStarted():
            return (fact.view,)
        case f.IndicationSeen():
            return (fact.indication,)
        case f.TagPrinted():
            return (fact.tag,)
        case f.ContainmentOpened():
            return (fact.containment,)
        case _:
            return ()


def _relied_upon(session: Session, row: InspectionRow) -> Iterator[int]:
    """The entries that the answers of the record's signed decisions name."""
    signed = {r.position: r.fact for r in about(session, f.DecisionSigned, row.inspection)}
    in_force = decision_in_force(session, row.inspection)
    if in_force is not None:
        signed[in_force.position] = in_force.fact
    last = session.head().position
    for fact in signed.values():
        for answer in fact.answers:
            yield from (
                position
                for position in answer.facts
                if 1 <= position <= last and not isinstance(session.entry(position).fact, _NEVER)
            )


def _documents(session: Session, rows: list[InspectionRow]) -> Iterator[int]:
    """The procedures, technique sheets and part masters by which its records were made."""
    wanted = {("procedure", row.procedure) for row in rows} | {("technique", row.technique) for row in rows}
    wanted |= {("part", row.part_no) for row in rows}
    for recorded in every(session, f.DocumentAdopted):
        if (recorded.fact.document, recorded.fact.number) in wanted:
            yield recorded.position


# --- the list of records --------------------------------------------------------------------------------

_COLUMNS = ("record", "part_number", "serial", "lot", "pieces", "method", "technique", "procedure", "revision",
            "stands", "inspector", "decided", "paper")  # fmt: skip


def paper_name(inspection: str) -> str:
    """Where a record lies in the pack."""
    return f"records/{''.join(c if c.isalnum() or c in '-_' else '_' for c in inspection)}.pdf"


def _table(session: Session, rows: list[InspectionRow]) -> str:
    out = io.StringIO(newline="")
    table = csv.writer(out, lineterminator="\r\n")
    table.writerow(_COLUMNS)
    for row in rows:
        part = session.part(row.part)
        state = decision_text(session, row)
        state += " - SUSPENDED" if row.suspended else " - PROVISIONAL" if row.provisional else ""
        decided = row.decided_at.strftime("%Y-%m-%d %H:%M UTC") if row.decided_at else ""
        cells = (row.inspection, row.part_no, part.serial or "", part.lot or "", str(row.quantity), row.method,
                 row.technique, row.procedure, row.procedure_revision, state, row.inspector, decided,
                 paper_name(row.inspection))  # fmt: skip
        table.writerow([_cell(cell) for cell in cells])
    return out.getvalue()


def _cell(text: str) -> str:
    """A text that a table program would take for a formula is told not to be one."""
    return f"'{text}" if text[:1] in "=+-@\t\r" and text[:1] else text
