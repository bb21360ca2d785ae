"""An inquiry about the shop rather than a record: a lamp, a meter, a bath before any part is on it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.fact_set import FactSet
from ndi.domain.procedure import PartMaster, Procedure, Technique
from ndi.rules.inquiry import Inquiry
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

# what is said once of an object and holds until it is said anew
_STANDING: tuple[type[f.Fact], ...] = (f.EquipmentEntered, f.CalibrationRecorded, f.BatchEntered)


def shop_inquiry(
    work: Workplace,
    session: Session,
    subjects: Iterable[str | None],
    *,
    method: str | None = None,
    kinds: tuple[type[f.Fact], ...] | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
) -> Inquiry:
    """Facts about some objects with a procedure of the method in force; it belongs to no inspection.

    With ``kinds`` only facts of those kinds, from ``since`` to ``until``, and what
    stands about the object whenever it was said: a list over ten years of readings need not read them all.
    """
    procedure = any_procedure(work, session, method)
    found: dict[int, Recorded[f.Fact]] = {}
    meters: set[str] = set()
    for subject in subjects:
        if subject is None:
            continue
        facts = session.facts(subject, kinds, since=since, until=until)
        if kinds is not None:
            facts += session.facts(subject, _STANDING)
        for recorded in facts:
            found[recorded.position] = recorded
            if isinstance(recorded.fact, f.ReadingRecorded) and recorded.fact.meter:
                meters.add(recorded.fact.meter)
    for meter in meters:
        for recorded in about(session, f.CalibrationRecorded, meter):
            found[recorded.position] = recorded
    technique = Technique("", "", procedure.method, procedure.number, (), procedure.effective_from, "", ())
    master = PartMaster("", "", 1, False, (), (), ())
    return Inquiry("", FactSet(found.values()), procedure, technique, master, work.now())


def any_procedure(work: Workplace, session: Session, method: str | None = None) -> Procedure:
    """The procedure in force now for a method (or for any): lamps and meters are shared by all."""
    today = work.now().local.date()
    found = [
        p
        for p in work.procedures(session)
        if method in (None, p.method)
        and p.effective_from <= today
        and (p.effective_to is None or today <= p.effective_to)
    ]
    if not found:
        raise NotFound(
            f"no {method or ''} procedure is in force on {today}; a Level III adopts one first".replace("  ", " ")
        )
    return found[0]
