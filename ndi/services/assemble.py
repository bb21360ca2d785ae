"""Gathers from the book everything that one judgement may look at.

The gathering follows the facts: from the record to its part, baskets, views,
lamps, people, meters, line and batches.  It decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache, cached_property
from typing import TypeVar, cast, overload

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.procedure import Technique
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import is_crack_type
from ndi.rules.inquiry import Inquiry
from ndi.rules.process_checks import RECORD_COPIES
from ndi.services.earlier_visits import earlier_visits
from ndi.services.lookup import existing
from ndi.services.ports import PartRow, Session
from ndi.services.workplace import Workplace

F = TypeVar("F", bound=f.Fact)
Setting = tuple[Number, str, str]  # a current, the item it is for, the technique that says so

# How far back shop facts can matter: a lamp's trend, a quarterly check, a yearly calibration.
SHOP_PAST = timedelta(days=400)
# How far after a signed record shop facts can matter: the reading that closes a lamp's interval.
SHOP_AFTER = timedelta(days=32)
# Views of the same person or station that can overlap or make one stretch.
NEIGHBOURS = timedelta(hours=16)
# Checks of booths, clocks and copies are done each day or each week; older ones cover nothing.
CHECKS_PAST = timedelta(days=32)


# What holds until it is said anew, however long ago it was entered; these facts are few.
STANDING = (f.EquipmentEntered, f.EquipmentStatusSet, f.CalibrationRecorded, f.BatchEntered, f.TankFilled)


@cache
def _kinds_under(fields: tuple[str, ...]) -> tuple[tuple[type[f.Fact], ...], tuple[type[f.Fact], ...]]:
    """The kinds that are found under some of these fields: those that stand, and the others."""
    found = [kind for kind in f.KINDS.values() if set(kind.SUBJECTS) & set(fields)]
    return tuple(k for k in found if k in STANDING), tuple(k for k in found if k not in STANDING)


PEOPLE = ("person", "station", "object", "equipment")
THINGS = ("equipment", "object", "meter", "bath", "line", "batch", "station")


@dataclass(frozen=True)
class _Window:
    """When the work of a record was done; ``end`` None: it may go on."""

    begun: datetime
    end: datetime | None

    def after(self, margin: timedelta) -> datetime | None:
        return None if self.end is None else self.end + margin


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

    def around(
        self, subjects: Iterable[str | None], fields: tuple[str, ...], since: datetime, until: datetime | None
    ) -> None:
        """Collect what stands about each subject, and its other facts of a time: those of ten years are never read."""
        standing, passing = _kinds_under(fields)
        for subject in subjects:
            if subject is not None and (subject, since) not in self._asked:
                self._asked.add((subject, since))
                self.keep(self.session.facts(subject, standing))
                self.keep(self.session.facts(subject, passing, since=since, until=until))

    def keep(self, facts: Iterable[Recorded[f.Fact]]) -> None:
        self.found.update({recorded.position: recorded for recorded in facts})

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
        lost_photographs=_lost_photographs(work, facts, inspection),
    )


def _lost_photographs(work: Workplace, facts: FactSet, inspection: str) -> frozenset[str]:
    """Photographs of a record that were put into the archive and are not there now, or not what they were."""
    names = {r.fact.sha256 for r in facts.of(f.PhotoAttached, inspection) if r.fact.size is not None}
    archive = work.photographs
    return frozenset(name for name in names if archive is None or not archive.holds(name))


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
    window = _window(g)
    g.about(basket.basket for basket in baskets)
    first = min(recorded.at for recorded in g.found.values())
    g.about([opened.part, opened.work_order])
    for view in views:
        for lamp in view.lamps:
            _gather_lamp(g, lamp, window)
        g.around([view.station, view.person], PEOPLE, window.begun - NEIGHBOURS, window.after(NEIGHBOURS))
    g.about(seen.indication for seen in g.of(f.IndicationSeen))
    g.about(photo.sha256 for photo in g.of(f.PhotoAttached))
    _gather_checks(g, views, window)
    _gather_people(g, opened, views, window)
    _gather_line(g, baskets, window, first)
    for bench in sorted({shot.bench for shot in g.of(f.ShotFired)}):
        _gather_bench(g, bench, window)
    row = session.part(opened.part)
    g.about([row.part_no])
    _gather_earlier(g, row, opened, inspection)
    if row.serial is not None and g.of(f.ReworkOrdered):
        stays = [other.part for other in session.parts_by_serial(row.serial) if other.part_no == row.part_no]
        g.about(stays, kinds=(f.PartListed, f.ReworkDone))
    meters = {r.meter for kind in (f.ReadingRecorded, f.ResidualRead, f.FieldShown) for r in g.of(kind)}  # type: ignore[attr-defined]
    g.about(sorted(meter for meter in meters if meter), kinds=(f.CalibrationRecorded, f.EquipmentEntered))
    return FactSet(g.found.values())


def _gather_earlier(g: _Gatherer, row: PartRow, opened: f.InspectionOpened, inspection: str) -> None:
    """What this book itself found at earlier visits; asked for only where this record has something to compare."""
    called = [r for r in g.found.values() if isinstance(r.fact, f.IndicationInterpreted)]
    if not any(seen.inspection == inspection for seen in g.of(f.IndicationSeen)):
        return
    begun = min(r.at for r in g.found.values() if r.fact is opened)
    has_crack = any(isinstance(r.fact, f.IndicationInterpreted) and is_crack_type(r.fact.type) for r in called)
    until = max((r.at for r in called), default=begun)
    g.keep(earlier_visits(g.session, row, begun, until=until, has_crack=has_crack))


def _window(g: _Gatherer) -> _Window:
    """The time of a record's own facts; a record that is not signed, or looked at just now, still goes on."""
    times = [recorded.at for recorded in g.found.values()]
    ended = {view.view for view in g.of(f.ViewEnded)}
    goes_on = not g.of(f.DecisionSigned) or any(view.view not in ended for view in g.of(f.ViewStarted))
    return _Window(min(times), None if goes_on else max(times))


def _gather_lamp(g: _Gatherer, lamp: str, window: _Window) -> None:
    """A lamp with the readings of its trend and the one that closes its interval, however late that was taken."""
    until = window.after(SHOP_AFTER)
    g.around([lamp], THINGS, window.begun - SHOP_PAST, until)
    if until is None or window.end is None:
        return
    end = window.end
    if not any(
        r.at > end and isinstance(r.fact, f.ReadingRecorded) and r.fact.object == lamp for r in g.found.values()
    ):
        g.keep(g.session.facts(lamp, (f.ReadingRecorded,), since=until))


def _gather_checks(g: _Gatherer, views: list[f.ViewStarted], window: _Window) -> None:
    """The checks of booths and cameras of the record, and of the copies of the book."""
    cameras = {photo.camera for photo in g.of(f.PhotoAttached) if photo.camera}
    objects = {view.station for view in views if view.station} | cameras | {RECORD_COPIES}
    since, kinds = window.begun - CHECKS_PAST, (f.ProcessCheckRecorded, f.ReadingRecorded)
    for name in sorted(objects):
        g.keep(g.session.facts(name, kinds, since=since, until=window.after(CHECKS_PAST)))


def _gather_people(g: _Gatherer, opened: f.InspectionOpened, views: list[f.ViewStarted], window: _Window) -> None:
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
    )
    for person in sorted(people):
        g.keep(g.session.facts(person, held))
        g.keep(
            g.session.facts(person, (f.CheckedIn,), since=window.begun - CHECKS_PAST, until=window.after(NEIGHBOURS))
        )


def _gather_line(g: _Gatherer, baskets: list[f.BasketLoaded], window: _Window, first: datetime) -> None:
    past, until = window.begun - SHOP_PAST, window.after(SHOP_AFTER)
    for basket in baskets:
        g.around([basket.line], THINGS, past, until)
        for line in [entered for entered in g.of(f.EquipmentEntered) if entered.equipment == basket.line]:
            g.around([line.wash_station, line.water, line.dryer], THINGS, past, until)
        for tank in _fillings_of(g, basket.line, first, until):
            g.around(tank.batches, THINGS, past, until)


def _fillings_of(g: _Gatherer, line: str, first: datetime, until: datetime | None) -> list[f.TankFilled]:
    """What was in the tanks of a line when the work of a record began, and what was filled in while it went on."""
    found = [r for r in g.found.values() if isinstance(r.fact, f.TankFilled) and r.fact.line == line]
    found.sort(key=lambda r: (r.at, r.position))
    before = [r for r in found if r.at <= first][-1:]
    since = [r for r in found if r.at > first and (until is None or r.at <= until)]
    return [r.fact for r in (*before, *since) if isinstance(r.fact, f.TankFilled)]


def _gather_bench(g: _Gatherer, bench: str, window: _Window) -> None:
    """A bench without its shots, its bath, its calibrations."""
    kinds = (f.EquipmentSwitched, f.ProcessCheckRecorded, f.ReadingRecorded)
    past, until = window.begun - SHOP_PAST, window.after(SHOP_AFTER)
    g.keep(g.session.facts(bench, STANDING))
    g.keep(g.session.facts(bench, kinds, since=past, until=until))
    baths = [entered.tank_bath for entered in g.of(f.EquipmentEntered) if entered.equipment == bench]
    g.around(baths, THINGS, past, until)


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
