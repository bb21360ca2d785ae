"""What a question is asked about when nobody says so: the lamp of the last recall, the crack seen last, the engine at hand.

Only proposed: the values stand in the field, and the answer names them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.vocabulary import Interpretation
from ndi.services.asked.question import Question
from ndi.services.containment import all_containments
from ndi.services.lamps import lamps
from ndi.services.ports import InspectionRow, Session
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class _Found:
    """An indication that stands as relevant, with its record."""

    row: InspectionRow
    zone: str


def proposed(work: Workplace, asked: Question, person: str = "") -> dict[str, str]:
    """A value for each parameter of a question that has no default, as far as the book holds one."""
    with work.look() as session:
        found = {}
        for each in asked.parameters:
            if each.default is None:
                value = person if each.name == "person" and person else _PROPOSE[each.name](work, session)
                if value:
                    found[each.name] = value
        return found


def _recalled(work: Workplace, session: Session, *, lamp: bool) -> str:
    """The object of the last recall set, where it is a lamp or where it is none."""
    known = lamps(session)
    recalled = [r.fact.object for r in all_containments(session) if (r.fact.object in known) is lamp]
    return recalled[-1] if recalled else ""


def _lamp(work: Workplace, session: Session) -> str:
    return _recalled(work, session, lamp=True) or next(iter(lamps(session)), "")


def _object(work: Workplace, session: Session) -> str:
    return _recalled(work, session, lamp=False) or _equipment(session, "bath") or _equipment(session, "bench")


def _equipment(session: Session, kind: str) -> str:
    return next((r.body["equipment"] for r in session.lines(f.EquipmentEntered) if r.body["kind"] == kind), "")


def _crack(session: Session) -> _Found | None:
    """The relevant indication seen last, whose record the book holds."""
    said = {r.values[0]: r.values[1] for r in session.fields(f.IndicationInterpreted, ("indication", "interpretation"))}
    for seen in reversed(session.fields(f.IndicationSeen, ("indication", "inspection", "zone"))):
        name, inspection, zone = seen.values
        if said.get(name) == Interpretation.RELEVANT and zone:
            try:
                return _Found(session.inspection(inspection or ""), zone)
            except NotFound:
                continue
    return None


def _of_crack(take: Callable[[Session, _Found], str]) -> Callable[[Workplace, Session], str]:
    def value(_work: Workplace, session: Session) -> str:
        found = _crack(session)
        return take(session, found) if found else ""

    return value


def _work_order(_work: Workplace, session: Session) -> str:
    """The one with the latest record, else the one opened last."""
    opened = session.fields(f.InspectionOpened, ("inspection",))[-1:]
    for line in opened:
        return session.inspection(line.values[0] or "").work_order
    orders = session.named(f.WorkOrderOpened)
    return orders[-1].subject if orders else ""


def _meter(_work: Workplace, session: Session) -> str:
    """The meter of the last reading that names one."""
    found = [r.values[0] for r in session.fields(f.ReadingRecorded, ("meter",)) if r.values[0]]
    return found[-1] or "" if found else ""


def _revision(work: Workplace, session: Session) -> tuple[str, str]:
    today = work.now().local.date()
    for p in work.procedures(session):
        if p.effective_from <= today and (p.effective_to is None or today <= p.effective_to):
            return p.number, p.revision
    return "", ""


def _person(_work: Workplace, session: Session) -> str:
    decided = session.fields(f.DecisionSigned, ("person",))
    return decided[-1].values[0] or "" if decided else ""


_PROPOSE: dict[str, Callable[[Workplace, Session], str]] = {
    "lamp": _lamp,
    "object": _object,
    "part_no": _of_crack(lambda _session, found: found.row.part_no),
    "zone": _of_crack(lambda _session, found: found.zone),
    "serial": _of_crack(lambda session, found: session.part(found.row.part).serial or ""),
    "part": _of_crack(lambda _session, found: found.row.part),
    "work_order": _work_order,
    "meter": _meter,
    "procedure": lambda work, session: _revision(work, session)[0],
    "revision": lambda work, session: _revision(work, session)[1],
    "person": _person,
    "seed": lambda work, _session: work.now().local.date().isoformat(),
}
