"""Gathers from the book everything that one judgement may look at.

The gathering follows the facts: from the record to its part, baskets, views,
lamps, people, meters, line and batches.  It decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from functools import cached_property
from typing import TypeVar, cast, overload

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.procedure import Technique
from ndi.domain.quantity import Number
from ndi.rules.inquiry import Inquiry
from ndi.services.lookup import existing
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

F = TypeVar("F", bound=f.Fact)
Setting = tuple[Number, str, str]  # a current, the item it is for, the technique that says so

# How far back shop facts can matter: a lamp's trend, a quarterly check, a yearly calibration.
SHOP_PAST = timedelta(days=400)
# Views of the same person or station that can overlap or make one stretch.
NEIGHBOURS = timedelta(hours=16)


class _Gatherer:
    """Collects facts once each."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.found: dict[int, Recorded[f.Fact]] = {}
        self._asked: set[tuple[str, datetime | None]] = set()

    def about(
        self,
        subjects: Iterable[str | None],
        *,
        since: datetime | None = None,
        kinds: tuple[type[f.Fact], ...] | None = None,
    ) -> None:
        """Collect the facts about each subject that was not asked about yet."""
        for subject in subjects:
            if subject is not None and (subject, since) not in self._asked:
                self._asked.add((subject, since))
                self.keep(self.session.facts(subject, kinds, since=since))

    def keep(self, facts: Iterable[Recorded[f.Fact]]) -> None:
        self.found.update((recorded.position, recorded) for recorded in facts)

    def of(self, kind: type[F]) -> list[F]:
        """The facts of one kind collected so far."""
        return [recorded.fact for recorded in self.found.values() if isinstance(recorded.fact, kind)]


def inquiry_for(
    work: Workplace,
    session: Session,
    inspection: str,
    *,
    asked: Moment | None = None,
    decider: str | None = None,
    disposition: str | None = None,
    children: tuple[f.Child, ...] = (),
) -> Inquiry:
    """The inquiry for one record as the book stands.

    Without ``disposition`` the decision in force, if any, says who decided what.
    """
    asked = asked or work.now()
    facts = gather(session, inspection)
    opened = next(r for r in facts.of(f.InspectionOpened, inspection) if r.fact.inspection == inspection)
    technique = work.technique(session, opened.fact.technique, opened.fact.technique_revision)
    procedure = work.procedure(session, opened.fact.procedure, opened.fact.procedure_revision)
    decided = None
    if disposition is None:
        signed = decision_in_force(session, inspection)
        if signed is not None:
            disposition, children = signed.fact.disposition, signed.fact.children
            decider, decided = signed.fact.person, signed.when
    return Inquiry(
        inspection,
        facts,
        procedure,
        technique,
        work.master(session, session.part(opened.fact.part).part_no),
        asked,
        decider,
        disposition,
        children,
        concession_in_force(facts, inspection),
        decided,
        techniques=_basket_techniques(work, session, facts, inspection, technique),
        earlier_amps=_EarlierAmps(work, session, facts, opened),
        newer_revisions=tuple(
            p for p in work.procedures(session) if p.number == procedure.number and p.revision != procedure.revision
        ),
    )


def concession_in_force(facts: FactSet, inspection: str) -> str | None:
    """Reference, revision and conditions of the latest engineering concession on a record."""
    given = facts.of(f.ConcessionGiven, inspection)
    if not given:
        return None
    fact = given[-1].fact
    return f"{fact.reference} rev {fact.revision}: {fact.conditions}"


def decision_in_force(session: Session, inspection: str) -> Recorded[f.DecisionSigned] | None:
    """The decision that the inspections table points at, or None."""
    position = session.inspection(inspection).decision
    return None if position is None else cast("Recorded[f.DecisionSigned]", session.entry(position))


def gather(session: Session, inspection: str) -> FactSet:
    """Every fact that the rules may need about one record."""
    g = _Gatherer(session)
    g.about([inspection])
    opened = next((fact for fact in g.of(f.InspectionOpened) if fact.inspection == inspection), None)
    if opened is None:
        raise NotFound(f"the book holds no inspection {inspection}")
    views = [view for view in g.of(f.ViewStarted) if view.inspection == inspection]
    baskets = g.of(f.BasketLoaded)
    begun = min(recorded.at for recorded in g.found.values())
    past, near = begun - SHOP_PAST, begun - NEIGHBOURS
    g.about([opened.part, opened.work_order])
    g.about(basket.basket for basket in baskets)
    for view in views:
        g.about(view.lamps, since=past)
        g.about([view.station, view.person], since=near)
    g.about(seen.indication for seen in g.of(f.IndicationSeen))
    g.about(photo.sha256 for photo in g.of(f.PhotoAttached))
    _gather_people(g, opened, views)
    _gather_line(g, baskets, past)
    for bench in sorted({shot.bench for shot in g.of(f.ShotFired)}):
        _gather_bench(g, bench)
    g.about([session.part(opened.part).part_no])
    meters = {r.meter for r in g.of(f.ReadingRecorded)} | {r.meter for r in g.of(f.ResidualRead)}
    g.about(sorted(meter for meter in meters if meter), kinds=(f.CalibrationRecorded, f.EquipmentEntered))
    return FactSet(g.found.values())


def _gather_people(g: _Gatherer, opened: f.InspectionOpened, views: list[f.ViewStarted]) -> None:
    people = {opened.inspector, *(view.person for view in views)}
    people |= {r.by for r in g.found.values() if isinstance(r.fact, (f.StepStarted, f.StepEnded, f.ShotFired))}
    people |= {p.fact.person for p in g.found.values() if isinstance(p.fact, (f.DecisionSigned, f.SecondLookSaved))}
    people |= {fact.person for fact in g.of(f.ReworkDone)}
    held = (
        f.PersonEntered,
        f.CertificateEntered,
        f.VisionExamEntered,
        f.AuthorisationEntered,
        f.RevisionRead,
        f.CheckedIn,
    )
    for person in sorted(people):
        g.keep(g.session.facts(person, held))


def _gather_line(g: _Gatherer, baskets: list[f.BasketLoaded], past: datetime) -> None:
    for basket in baskets:
        g.about([basket.line])
        for line in [entered for entered in g.of(f.EquipmentEntered) if entered.equipment == basket.line]:
            g.about([line.wash_station, line.water, line.dryer], since=past)
    for tank in g.of(f.TankFilled):
        g.about(tank.batches)


def _gather_bench(g: _Gatherer, bench: str) -> None:
    """A bench without its shots, its bath, its calibrations."""
    kinds = (
        f.EquipmentEntered,
        f.EquipmentSwitched,
        f.EquipmentStatusSet,
        f.CalibrationRecorded,
        f.ProcessCheckRecorded,
        f.ReadingRecorded,
        f.TankFilled,
    )
    g.about([bench], kinds=kinds)
    g.about(entered.tank_bath for entered in g.of(f.EquipmentEntered) if entered.equipment == bench)


def _basket_techniques(
    work: Workplace, session: Session, facts: FactSet, inspection: str, own: Technique
) -> dict[str, Technique]:
    """The technique of every inspection that shares the current basket."""
    loads = facts.of(f.BasketLoaded, inspection)
    found = {inspection: own}
    if loads:
        latest = max(loads, key=lambda r: (r.fact.attempt, r.position))
        for other in existing(session, latest.fact.inspections):
            if other not in found:
                found[other] = work.technique(session, session.inspection(other).technique)
    return found


class _EarlierAmps(Sequence[Setting]):
    """Technique currents that the bench was set to earlier on this day, latest first.

    Looked up when a rule asks for them, inside the same transaction: only a shot
    with a wrong current does.
    """

    def __init__(self, work: Workplace, session: Session, facts: FactSet, opened: Recorded[f.InspectionOpened]) -> None:
        self._given = (work, session, facts, opened)

    @cached_property
    def _settings(self) -> tuple[Setting, ...]:
        return _earlier_amps(*self._given)

    @overload
    def __getitem__(self, index: int) -> Setting: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Setting]: ...
    def __getitem__(self, index: int | slice) -> Setting | Sequence[Setting]:
        return self._settings[index]

    def __len__(self) -> int:
        return len(self._settings)


def _earlier_amps(
    work: Workplace, session: Session, facts: FactSet, opened: Recorded[f.InspectionOpened]
) -> tuple[Setting, ...]:
    shots = facts.of(f.ShotFired, opened.fact.inspection)
    if not shots:
        return ()
    bench, first = shots[0].fact.bench, shots[0].at
    uses = session.uses(bench, first - NEIGHBOURS, first)
    earlier: list[str] = []
    for use in sorted(uses, key=lambda u: u.started, reverse=True):
        if use.inspection != opened.fact.inspection and use.inspection not in earlier:
            earlier.append(use.inspection)
    found: list[Setting] = []
    for inspection in existing(session, earlier):
        row = session.inspection(inspection)
        technique = work.technique(session, row.technique)
        item = work.master(session, row.part_no).description
        found += [(nominal.amps, item, technique.number) for nominal in technique.shots]
    return tuple(found)
