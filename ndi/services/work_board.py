"""What is open at the benches and in the booths: one line for each record that nobody decided yet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ndi.domain import facts as f
from ndi.domain.errors import NdiError, NotFound
from ndi.domain.procedure import Technique
from ndi.domain.vocabulary import Disposition
from ndi.services.assemble import inquiry_for
from ndi.services.inspecting import material_answer
from ndi.services.ports import InspectionRow, PartRow, Session
from ndi.services.to_do import Kind, next_task
from ndi.services.workplace import Workplace

MOST_OPEN = 40


@dataclass(frozen=True)
class OpenRecord:
    """A record and what is to be done on it next.  ``is_viewing``: somebody is looking at it now."""

    row: InspectionRow
    name: str  # of the part, as people say it
    next: str
    kind: Kind | None
    is_viewing: bool
    since: datetime


def open_records(work: Workplace, session: Session, method: str | None = None) -> list[OpenRecord]:
    """Records without a decision, oldest first, at most :data:`MOST_OPEN`."""
    rows = session.inspections(disposition=Disposition.NO_DECISION)
    rows += session.inspections(suspended=True)
    chosen = [row for row in rows if method in (None, row.method)]
    return [_open_record(work, session, row) for row in chosen[-MOST_OPEN:]]


def _open_record(work: Workplace, session: Session, row: InspectionRow) -> OpenRecord:
    q = inquiry_for(work, session, row.inspection)
    task = next_task(q)
    viewing = any(view.ended is None for view in q.all_views)
    title = "suspended: look at the red lines" if row.suspended else task.title
    return OpenRecord(row, part_name(work, session, session.part(row.part)), title, task.kind, viewing, row.opened_at)


def part_name(work: Workplace, session: Session, part: PartRow) -> str:
    """``Rocker arms LOT-148-RKR, 12``."""
    try:
        described = part.description or work.master(session, part.part_no).description
    except NotFound:
        described = part.description or part.part_no
    count = f", {part.quantity}" if part.quantity > 1 else ""
    return f"{described} {part.serial or part.lot or ''}".strip() + count


def record_in_hand(session: Session, part: str) -> str | None:
    """The record of a part that is being worked on: the latest open one, else one whose rework is not done yet."""
    rows = list(reversed(session.inspections(part=part)))
    for row in rows:
        if row.decision is None:
            return row.inspection
    followed = {row.previous for row in rows}
    for row in rows:
        waits = row.disposition == Disposition.REWORK and row.inspection not in followed
        if waits and not session.facts(row.inspection, (f.ReworkDone,)):
            return row.inspection
    return None


def techniques_for(work: Workplace, session: Session, part: PartRow) -> list[Technique]:
    """The techniques that the part master asks for and that have no record yet, in the master's order; else those it asks for."""
    master = work.master(session, part.part_no)
    wanted = list(dict.fromkeys(required.technique for required in master.required))
    begun = {row.technique for row in session.inspections(part=part.part)}
    found = []
    for number in [name for name in wanted if name not in begun] or wanted:
        try:
            technique = work.technique(session, number)
        except NdiError:
            continue
        if material_answer(work, session, part.part_no, technique.method, technique.zones).settled:
            found.append(technique)
    return found
