"""What a rule may look at: one record, its pinned revisions, and the shop's facts around it.

An :class:`Inquiry` puts single facts together into the things people speak of
(views, attempts, baskets, indications, second looks).  It decides nothing.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from functools import cache, cached_property
from operator import attrgetter
from typing import Any, TypeVar

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment, Span
from ndi.domain.outcome import Missing
from ndi.domain.procedure import Parameter, PartMaster, Procedure, Technique
from ndi.domain.quantity import PERCENT, Number
from ndi.domain.vocabulary import Condition, Quantity, Step, ViewKind

F = TypeVar("F", bound=f.Fact)
B = TypeVar("B", f.StepStarted, f.StepEnded)
T = TypeVar("T")
_at = attrgetter("at")


@dataclass(frozen=True)
class View:
    """One look at a part: by whom, from when to when, under which lamps, which zones."""

    started: Recorded[f.ViewStarted]
    ended: Recorded[f.ViewEnded] | None

    @property
    def id(self) -> str:
        return self.started.fact.view

    @property
    def person(self) -> str:
        return self.started.fact.person

    @property
    def lamps(self) -> tuple[str, ...]:
        return self.started.fact.lamps

    @property
    def start(self) -> Moment:
        return self.started.when

    @property
    def end(self) -> Moment | None:
        return self.ended.when if self.ended else None

    @property
    def used(self) -> tuple[Recorded[f.Fact] | None, ...]:
        return (self.started, self.ended)


@dataclass(frozen=True)
class SecondLook:
    """A second person's look: the view and the result saved before the first was shown."""

    view: View
    saved: Recorded[f.SecondLookSaved] | None

    @property
    def id(self) -> str:
        return self.view.id


@dataclass(frozen=True)
class Shot:
    """A shot as fired, and why it does not count, if it was voided."""

    fired: Recorded[f.ShotFired]
    voided: Recorded[f.ShotVoided] | None

    @property
    def counts(self) -> bool:
        return self.voided is None


@dataclass(frozen=True)
class StepTimes:
    """One step of a basket (or record): start is the first part in, end the last part out."""

    step: str
    started: Recorded[f.StepStarted] | None
    ended: Recorded[f.StepEnded] | None

    @property
    def used(self) -> tuple[Recorded[f.Fact] | None, ...]:
        return (self.started, self.ended)


@dataclass(frozen=True)
class Indication:
    """An indication with everything recorded about it."""

    seen: Recorded[f.IndicationSeen]
    tests: tuple[Recorded[f.IndicationTested], ...]
    interpreted: Recorded[f.IndicationInterpreted] | None
    evaluated: Recorded[f.IndicationEvaluated] | None
    photos: tuple[Recorded[f.PhotoAttached], ...]
    second_looks: tuple[SecondLook, ...]
    resolved: Recorded[f.DisagreementResolved] | None
    measured: tuple[Recorded[f.PhotographMeasured], ...] = ()

    @property
    def id(self) -> str:
        return self.seen.fact.indication

    @property
    def relevant(self) -> bool:
        return self.interpreted is not None and self.interpreted.fact.interpretation == "relevant"


@dataclass(frozen=True)
class Inquiry:
    """Everything one judgement is made from.

    ``asked`` is the moment of asking; rules use it only for what still runs.
    ``decider``, ``disposition``, ``children`` and ``concession`` are what is
    about to be signed, or was signed; ``decided`` is when it was signed.
    ``techniques`` holds the technique of every inspection that shares the
    basket, by inspection.  ``earlier_amps`` are the technique currents that the
    bench was set to before this record, latest first, as (amps, item, technique).
    """

    inspection: str
    facts: FactSet
    procedure: Procedure
    technique: Technique
    master: PartMaster
    asked: Moment
    decider: str | None = None
    disposition: str | None = None
    children: tuple[f.Child, ...] = ()
    concession: str | None = None
    decided: Moment | None = None
    techniques: dict[str, Technique] = field(default_factory=dict)
    earlier_amps: Sequence[tuple[Number, str, str]] = ()
    newer_revisions: tuple[Procedure, ...] = ()
    lost_photographs: frozenset[str] = frozenset()  # hashes of files that are missing or not what they were
    verifier: str | None = None  # who wants to verify; without ``inspection`` every record in ``facts`` is in scope

    @cached_property
    def worked_out(self) -> dict[tuple[object, ...], Any]:
        """What several rules ask alike, by question: this inquiry's facts never change, so it is worked out once."""
        return {}

    def once(self, work_out: Callable[[], T], *question: object) -> T:
        """The answer to ``question``, worked out when it is asked for the first time; nobody may change it."""
        found: T
        try:
            found = self.worked_out[question]
        except KeyError:
            found = self.worked_out[question] = work_out()
        return found

    # --- parameters -------------------------------------------------------------------------------

    def parameter(self, key: str, technique: Technique | None = None) -> Parameter:
        """The window of the technique (the record's, or one given) if it has one, else the procedure's value; Missing names key and revision."""
        found = (technique or self.technique).windows.get(key) or self.procedure.parameters.get(key)
        if found is None:
            raise Missing(
                f"procedure {self.procedure.number} rev {self.procedure.revision} gives no value for {key}",
                ["Level III: put the value into the next revision"],
            )
        return found

    def limit(self, key: str, technique: Technique | None = None) -> Number:
        """A limit that is a number."""
        value = self.parameter(key, technique).value
        assert isinstance(value, Number), f"{key} is not a number"
        return value

    def minutes(self, key: str) -> timedelta:
        """A limit that is a time, exact to the microsecond."""
        return self.once(lambda: as_timedelta(self.limit(key)), "minutes", key)

    def word(self, key: str) -> str:
        value = self.parameter(key).value
        assert isinstance(value, str), f"{key} is not a word"
        return value

    def says_yes(self, key: str) -> bool:
        """Whether the procedure (or the technique's window) says yes to something that is asked only where it does."""
        found = self.technique.windows.get(key) or self.procedure.parameters.get(key)
        return found is not None and found.value is True

    # --- the record -------------------------------------------------------------------------------

    @cached_property
    def opened(self) -> Recorded[f.InspectionOpened]:
        return self.facts.of(f.InspectionOpened, self.inspection)[0]

    @property
    def part(self) -> str:
        return self.opened.fact.part

    @property
    def method(self) -> str:
        return self.opened.fact.method

    @cached_property
    def basket_loads(self) -> list[Recorded[f.BasketLoaded]]:
        """The baskets this record went through, by attempt."""
        return sorted(self.facts.of(f.BasketLoaded, self.inspection), key=lambda r: (r.fact.attempt, r.position))

    @cached_property
    def basket(self) -> Recorded[f.BasketLoaded]:
        """The basket of the current attempt; Missing for a penetrant record that was never loaded."""
        if not self.basket_loads:
            raise Missing("no basket recorded for this part", ["scan the basket"])
        return self.basket_loads[-1]

    @cached_property
    def attempt(self) -> int:
        """The current attempt: of the latest basket, or 1."""
        return self.basket_loads[-1].fact.attempt if self.basket_loads else 1

    def step(self, step: str, on: str | None = None) -> StepTimes:
        """A step of the current basket, or of another basket or record named ``on``."""
        starts, ends = self.starts(step, on), self.ends(step, on)
        return StepTimes(step, starts[-1] if starts else None, ends[-1] if ends else None)

    def starts(self, step: str, on: str | None = None) -> list[Recorded[f.StepStarted]]:
        """Every start of a step, e.g. re-wettings of a basket."""
        return list(self._steps(f.StepStarted, on or self.basket.fact.basket).get(step, ()))

    def ends(self, step: str, on: str | None = None) -> list[Recorded[f.StepEnded]]:
        """Every end of a step."""
        return list(self._steps(f.StepEnded, on or self.basket.fact.basket).get(step, ()))

    def _steps(self, kind: type[B], key: str) -> dict[str, list[Recorded[B]]]:
        """Starts or ends on one basket or record, by step."""

        def sort_out() -> dict[str, list[Recorded[B]]]:
            found: dict[str, list[Recorded[B]]] = {}
            for recorded in self.facts.of(kind, key):
                found.setdefault(recorded.fact.step, []).append(recorded)
            return found

        return self.once(sort_out, kind, key)

    def observed(self, step: str, quantity: str, on: str | None = None) -> list[Recorded[f.StepObserved]]:
        """Numbers observed in a step of the current basket (or of ``on``)."""
        key = on or self.basket.fact.basket
        found = self.facts.of(f.StepObserved, key)
        return [r for r in found if r.fact.step == step and r.fact.quantity == quantity]

    def confirmed(self, item: str, about: str | None = None) -> Recorded[f.ConfirmationGiven] | None:
        """The latest tick for ``item`` on this record, else on its current basket; or only on ``about``."""
        abouts = (
            [about] if about else [self.inspection, *([self.basket_loads[-1].fact.basket] if self.basket_loads else [])]
        )
        for key in abouts:
            ticks = [r for r in self.facts.of(f.ConfirmationGiven, key) if r.fact.item == item]
            if ticks:
                return ticks[-1]
        return None

    @cached_property
    def all_views(self) -> list[View]:
        """Every view of the record, second looks included, by start."""
        ends = {r.fact.view: r for r in self.facts.of(f.ViewEnded, self.inspection)}
        return [View(r, ends.get(r.fact.view)) for r in self.facts.of(f.ViewStarted, self.inspection)]

    @cached_property
    def views(self) -> list[View]:
        """The views that the record rests on now.

        First views of the current attempt, or, once a containment sent the part
        back for another look, the views of the latest re-view.
        """
        own = [
            v
            for v in self.all_views
            if v.started.fact.kind != ViewKind.SECOND_LOOK and v.started.fact.attempt == self.attempt
        ]
        if not own:
            return []
        last = own[-1].started.fact
        return [v for v in own if (v.started.fact.kind, v.started.fact.containment) == (last.kind, last.containment)]

    def need_views(self) -> list[View]:
        """:attr:`views`; Missing when nobody has viewed the part."""
        if not self.views:
            raise Missing("no view recorded", ["view the part"])
        return self.views

    @cached_property
    def second_looks(self) -> list[SecondLook]:
        saved = {r.fact.second_look: r for r in self.facts.of(f.SecondLookSaved, self.inspection)}
        return [SecondLook(v, saved.get(v.id)) for v in self.all_views if v.started.fact.kind == ViewKind.SECOND_LOOK]

    @cached_property
    def shots(self) -> list[Shot]:
        voids = self.facts.of(f.ShotVoided, self.inspection)

        def void_of(fired: Recorded[f.ShotFired]) -> Recorded[f.ShotVoided] | None:
            return next((v for v in voids if v.fact.shot == fired.fact.shot and v.fact.fired_at == fired.when), None)

        return [Shot(r, void_of(r)) for r in self.facts.of(f.ShotFired, self.inspection)]

    def need_shots(self) -> list[Shot]:
        """The shots that count, by time; Missing when there is none."""
        counted = [shot for shot in self.shots if shot.counts]
        if not counted:
            raise Missing("no shot recorded", ["fire the technique's shots"])
        return counted

    @cached_property
    def indications(self) -> list[Indication]:
        return [self._indication(seen) for seen in self.facts.of(f.IndicationSeen, self.inspection)]

    def _indication(self, seen: Recorded[f.IndicationSeen]) -> Indication:
        key = seen.fact.indication
        resolved = self.facts.of(f.DisagreementResolved, key)
        return Indication(
            seen,
            tuple(self.facts.of(f.IndicationTested, key)),
            self.facts.last(f.IndicationInterpreted, key),
            self.facts.last(f.IndicationEvaluated, key),
            tuple(self.facts.of(f.PhotoAttached, key)),
            tuple(look for look in self.second_looks if look.view.started.fact.indication == key),
            resolved[-1] if resolved else None,
            tuple(self.facts.of(f.PhotographMeasured, key)),
        )

    # --- people and equipment ---------------------------------------------------------------------

    def certificate(self, person: str, on: date) -> Recorded[f.CertificateEntered] | None:
        """The person's highest certificate in this record's method that is valid on a day (last day counts)."""
        held = [
            r
            for r in self.facts.of(f.CertificateEntered, person)
            if r.fact.method == self.method and r.fact.issued <= on <= r.fact.expires
        ]
        return max(held, key=lambda r: r.fact.level, default=None)

    def equipment(self, asset: str) -> Recorded[f.EquipmentEntered] | None:
        return self.facts.last(f.EquipmentEntered, asset)

    def readings(
        self, object_: str, quantity: str, *, condition: str | None = None
    ) -> list[Recorded[f.ReadingRecorded]]:
        """Readings of an object, by time."""
        return list(self.facts.readings(object_, quantity, condition))

    def as_found(self, object_: str, quantity: str) -> list[Recorded[f.ReadingRecorded]]:
        return self.readings(object_, quantity, condition=Condition.AS_FOUND)

    def value(self, reading: Recorded[f.ReadingRecorded], unit: str, *, high_is_bad: bool = False) -> Fraction:
        """The reading in ``unit``, worst case after what its meter's later calibration showed.

        A meter found reading ``e`` percent high read everything since its
        calibration before that high by at most that: true = reading / (1 + e/100).
        """
        typed = reading.fact.value.in_unit(unit)
        error = self.meter_error(reading)
        if error is None:
            return typed
        corrected = typed / (1 + error / PERCENT)
        return max(typed, corrected) if high_is_bad else min(typed, corrected)

    def calibrations_of(self, meter: str, quantity: str) -> list[Recorded[f.CalibrationRecorded]]:
        """Calibrations of the channel of a meter that reads a quantity, as they were entered.

        A meter with several channels has an item for each: those whose item
        names the quantity count, else those whose item names no other one.
        """
        return self.once(lambda: self._calibrations_of(meter, quantity), "calibrations", meter, quantity)

    def _calibrations_of(self, meter: str, quantity: str) -> list[Recorded[f.CalibrationRecorded]]:
        every = self.facts.of(f.CalibrationRecorded, meter)
        named = [r for r in every if _names(r.fact.item, quantity)]
        return named or [r for r in every if not any(_names(r.fact.item, other) for other in Quantity)] or every

    def meter_error(self, reading: Recorded[f.ReadingRecorded]) -> Fraction | None:
        """Signed as-found error in percent that the next calibration of the reading's meter showed."""
        if reading.fact.meter is None:
            return None
        of = reading.fact.meter, reading.fact.quantity, reading.when.local.date()
        return self.once(lambda: self._meter_error(*of), "meter error", *of)

    def _meter_error(self, meter: str, quantity: str, on: date) -> Fraction | None:
        later = [r for r in self.calibrations_of(meter, quantity) if r.fact.done > on]
        following = min(later, key=lambda r: r.fact.done, default=None)
        if following is None or following.fact.as_found_error_percent is None:
            return None
        return following.fact.as_found_error_percent.in_unit("%")

    def shop_day(self, moment: Moment) -> tuple[datetime, datetime]:
        """First and last instant of the shop day that ``moment`` lies in, as UTC."""
        local = moment.local
        return self.once(lambda: self._shop_day(local), "shop day", local.date(), moment.offset_min)

    def _shop_day(self, local: datetime) -> tuple[datetime, datetime]:
        start = local.replace(hour=0, minute=0, second=0, microsecond=0)
        opens, closes = (time.fromisoformat(self.word(key)) for key in ("shop_day_start", "shop_day_end"))
        return (
            start.replace(hour=opens.hour, minute=opens.minute),
            start.replace(hour=closes.hour, minute=closes.minute),
        )

    # --- durations --------------------------------------------------------------------------------

    def dwell(self) -> Span:
        """From the latest whole-basket wetting to the wash (Method D: to the prewash)."""
        wet_start, wet_end = self.step(Step.WET).started, self.step(Step.WET).ended
        if wet_start is None or wet_end is None:
            raise Missing("wetting times not recorded", ["scan first wet and last wet"])
        prewash = self.step(Step.PREWASH)
        removal = prewash if prewash.started else self.step(Step.WASH)
        return Span(
            wet_start.when,
            wet_end.when,
            removal.started.when if removal.started else None,
            removal.ended.when if removal.ended else None,
        )


def up_to(facts: list[Recorded[F]], at: datetime) -> list[Recorded[F]]:
    """Those of some facts, given by time, that are not later than an instant."""
    return facts[: bisect_right(facts, at, key=_at)]


@cache
def as_timedelta(number: Number) -> timedelta:
    """A duration limit as a timedelta, exact to the microsecond."""
    per_second = timedelta(seconds=1) // timedelta.resolution
    return int(number.in_unit("s") * per_second) * timedelta.resolution


@cache
def _names(item: str, quantity: str) -> bool:
    """Whether the item of a calibration (``UV-A channel``) names a quantity (``UV-A at 15 in``)."""
    return item.split()[:1] == quantity.split()[:1]
