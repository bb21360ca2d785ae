"""Which records a fact bears on: those it is a fact of, those of its part, those that used its object.

What then becomes of their signatures is decided in ``deciding``.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.vocabulary import Quantity
from ndi.rules import light
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.workplace import Workplace


def records_named(session: Session, fact: f.Fact) -> list[str]:
    """Inspections that a fact is a fact of: it names them, their basket or an indication on them."""
    names = [getattr(fact, "inspection", None)]
    if isinstance(fact, f.BasketLoaded):
        names += fact.inspections
    on = getattr(fact, "on", None) or getattr(fact, "about", None)
    if on is not None:
        names += [on, *(name for r in about(session, f.BasketLoaded, on) for name in r.fact.inspections)]
    indication = getattr(fact, "indication", None)
    if indication is not None:
        names += [r.fact.inspection for r in about(session, f.IndicationSeen, indication)]
    known = {row.inspection for row in _rows(session, names)}
    return [name for name in dict.fromkeys(names) if name in known]


def records_of_part(session: Session, fact: f.Fact) -> list[str]:
    """Inspections of the part or work order that a fact is about."""
    parts = [getattr(fact, "part", None), getattr(fact, "about", None)]
    found = [row.inspection for part in parts if part is not None for row in session.inspections(part=part)]
    if isinstance(fact, (f.WorkOrderOpened, f.DirectivesConfirmed)):
        found += [row.inspection for row in session.inspections(work_order=fact.work_order)]
    return found


def bearing_on(session: Session, recorded: Recorded[f.Fact], since: datetime | None = None) -> list[str]:
    """Records that a fact can bear on: those it is a fact of, those of its part, and what used its object from its time on."""
    fact = recorded.fact
    found = [*records_named(session, fact), *records_of_part(session, fact)]
    for subject in fact.subjects():
        found += [use.inspection for use in session.uses(subject, since or recorded.at, None)]
    return list(dict.fromkeys(found))


def _rows(session: Session, names: Iterable[str | None]) -> list[f.InspectionOpened]:
    found: list[f.InspectionOpened] = []
    for name in names:
        if name is not None:
            found += [r.fact for r in about(session, f.InspectionOpened, name) if r.fact.inspection == name]
    return found


def affected_by_reading(work: Workplace, session: Session, recorded: Recorded[f.ReadingRecorded]) -> list[str]:
    """Records that a reading bears on: what relied on the object since the reading before it, also later than this one.

    A lamp reading that proves nothing (distance, meter) does not close an
    interval, so the one before it is looked for among those that do.
    """
    reading = recorded.fact
    earlier = [
        r
        for r in about(session, f.ReadingRecorded, reading.object, until=recorded.at)
        if r.fact.object == reading.object
        and r.fact.quantity == reading.quantity
        and r.fact.condition == reading.condition
        and r.position != recorded.position
        and r.at < recorded.at
    ]
    if reading.quantity == Quantity.UV_A:
        q = shop_inquiry(work, session, [reading.object])
        earlier = [r for r in earlier if light.is_comparable(q, r)]
    since = earlier[-1].at if earlier else None
    return [
        use.inspection
        for name in (reading.object, *lines_with(session, reading.object))
        for use in session.uses(name, since, None)
    ]


def lines_with(session: Session, asset: str) -> list[str]:
    """Penetrant lines that an asset (wash station, water supply, dryer) is part of."""
    lines = [r.fact for r in every(session, f.EquipmentEntered) if r.fact.kind == "line"]
    return [entered.equipment for entered in lines if asset in (entered.wash_station, entered.water, entered.dryer)]


def relying_on_any(session: Session, fact: f.Fact) -> list[str]:
    """Every record that rests, at whatever time, on something that a shop fact is about."""
    found = [name for subject in fact.subjects() for name in relying_on(session, subject)]
    if isinstance(fact, (f.CertificateEntered, f.PersonEntered)):
        found += worked_on_by(session, fact.person)
    return list(dict.fromkeys(found))


def relying_on(session: Session, subject: str) -> list[str]:
    """Every record that used an object or person, directly, as a signer, or through readings taken with a meter."""
    names = [
        use.inspection for asset in (subject, *lines_with(session, subject)) for use in session.uses(asset, None, None)
    ]
    names += [r.fact.inspection for r in about(session, f.DecisionSigned, subject) if r.fact.person == subject]
    objects = {r.fact.object for r in about(session, f.ReadingRecorded, subject) if r.fact.meter == subject}
    for asset in sorted(objects):
        names += [
            use.inspection for name in (asset, *lines_with(session, asset)) for use in session.uses(name, None, None)
        ]
    return list(dict.fromkeys(names))


def worked_on_by(session: Session, person: str) -> list[str]:
    """Every record with a step or a shot by a person; looks through all of them, for the rare change of a certificate."""
    kinds: tuple[type[f.Fact], ...] = (f.StepStarted, f.StepEnded, f.ShotFired)
    done = [r.fact for kind in kinds for r in every(session, kind) if person in (r.by, r.on_behalf_of)]
    return list(dict.fromkeys(name for fact in done for name in records_named(session, fact)))
