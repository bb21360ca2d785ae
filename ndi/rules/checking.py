"""One question for every process check: was the object checked in time before it was used, and was the check met?

- no check before the use, or the last one longer ago than the procedure's
  interval: NOT RECORDED;
- the last check before the use was not met: FAIL;
- an object that the record did not use needs no check and is not asked about.

An interval in days counts whole local days, and zero days means on each day of
use; an interval in hours or minutes is counted to the instant.  What a check
must show is asked by the functions that the other rules ask with.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import cast

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing, Outcome, failed, not_recorded, passed, worst
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import CheckKind, Material, Quantity, Step
from ndi.rules import basket as b
from ndi.rules import guard_band, light, penetrant_line, penetrant_removal, wet_bath
from ndi.rules.inquiry import Inquiry, as_timedelta

Check = Recorded[f.ProcessCheckRecorded]
Reading = Recorded[f.ReadingRecorded]
Done = Check | Reading

DAYS = "d"


@dataclass(frozen=True)
class Use:
    """That the record relied upon an object at a moment, with the facts that say so."""

    object: str
    at: Moment
    used: tuple[Recorded[f.Fact] | None, ...] = ()


@dataclass(frozen=True)
class Kind:
    """One kind of check: its name, the key of its interval, every one done on an object by time, what one must show."""

    name: str
    interval: str
    done: Callable[[Inquiry, str], Sequence[Done]]
    met: Callable[[Inquiry, Done], Outcome]
    way_out: str


# --- the one question -----------------------------------------------------------------------------


def checked(q: Inquiry, kind: Kind, uses: Iterable[Use]) -> Outcome:
    """One outcome over every use: checked in time before it, and the check met."""
    every = list(uses)
    return worst(_use_outcome(q, kind, use, every) for use in every)


def _use_outcome(q: Inquiry, kind: Kind, use: Use, every: list[Use]) -> Outcome:
    interval = q.limit(kind.interval)
    before = [done for done in kind.done(q, use.object) if done.at <= use.at.at]
    if not before:
        says = f"{kind.name} of {use.object}: none before it was used at {use.at}{_since(q, use, every, None)}"
        return not_recorded(says, kind.way_out, used=use.used)
    last = before[-1]
    if overdue(last.when, use.at, interval):
        due = due_text(last.when, interval)
        says = f"{kind.name} of {use.object} was due {due}, last done {last.when}{_since(q, use, every, last)}"
        return not_recorded(says, kind.way_out, used=[last, *use.used])
    met = kind.met(q, last)
    text = f"{kind.name} of {use.object} {last.when}"
    limit = "; ".join(part for part in (met.limit, every_text(interval)) if part)
    facts = tuple(sorted({*met.facts, last.position}))
    return replace(met, found=f"{text}: {met.found}" if met.found else text, limit=limit, facts=facts)


def _since(q: Inquiry, use: Use, every: list[Use], last: Done | None) -> str:
    """``; used twice since by this record, 4 pieces``: how much rests on a check that is not there."""
    count = sum(u.object == use.object and (last is None or u.at.at > last.at) for u in every)
    return f"; this record used it {count} x since, {q.opened.fact.quantity} pcs"


def overdue(done: Moment, at: Moment, interval: Number) -> bool:
    """Whether a check done at one moment no longer covers a use at another."""
    if interval.unit == DAYS:
        return b.overdue(done, at, interval)
    return b.between(done, at, interval)[1] > as_timedelta(interval)


def due_text(done: Moment, interval: Number) -> str:
    """Until when a check covered its object."""
    if interval.unit == DAYS:
        return str(done.local.date() + as_timedelta(interval))
    return str(Moment(done.at + as_timedelta(interval), done.offset_min))


def every_text(interval: Number) -> str:
    return f"every {interval}" if interval.value else "on each day of use, before it"


# --- what was used --------------------------------------------------------------------------------


def lamps(q: Inquiry) -> list[Use]:
    """The lamps of the views and second looks that the record rests on."""
    found = [Use(lamp, view.start, view.used) for view in light.looks_relied_on(q) for lamp in view.lamps]
    if not found:
        raise Missing("no lamp named in the view", ["press the number of the lamp in use"])
    return found


def booths(q: Inquiry) -> list[Use]:
    """The booths of the views."""
    found = []
    for view in q.need_views():
        if view.started.fact.station is None:
            raise Missing("booth of the view not recorded", ["scan the booth"], [view.started.position])
        found.append(Use(view.started.fact.station, view.start, view.used))
    return found


def benches(q: Inquiry) -> list[Use]:
    """The benches of the shots that count."""
    return [Use(shot.fired.fact.bench, shot.fired.when, (shot.fired,)) for shot in q.need_shots()]


def baths(q: Inquiry) -> list[Use]:
    """The baths of those benches."""
    return [replace(use, object=wet_bath.bath_of(q, use.object)) for use in benches(q)]


def line_in_use(q: Inquiry) -> list[Use]:
    """The penetrant line of the current basket, from its first wetting."""
    first = b.need_runs(q, Step.WET)[0]
    return [Use(q.basket.fact.line, first.first_start, first.used)]


def batches(q: Inquiry, material: Material, step: Step) -> list[Use]:
    """The batches of a material that the line drew on, from the start of the step that uses them."""
    first = b.need_runs(q, step)[0]
    return [Use(batch.fact.batch, first.first_start, (batch,)) for batch in b.batches(q, material)]


def penetrants(q: Inquiry) -> list[Use]:
    return batches(q, Material.PENETRANT, Step.WET)


def gauges(q: Inquiry) -> list[tuple[Quantity, Use]]:
    """What is read of the dryer and of the water of the line, and when they were used."""
    line, wash, dry = b.line(q), b.need_runs(q, Step.WASH)[-1], b.need_runs(q, Step.DRY)[-1]
    named = [
        (Quantity.DRYER_TEMPERATURE, "dryer", line.fact.dryer, dry),
        (Quantity.WATER_TEMPERATURE, "water supply", line.fact.water, wash),
        (Quantity.WATER_PRESSURE, "water supply", line.fact.water, wash),
    ]
    for _, name, asset, _ in named:
        if asset is None:
            raise Missing(
                f"{name} of {line.fact.equipment} not in its equipment record",
                ["complete the line's record"],
                [line.position],
            )
    return [(quantity, Use(str(asset), run.first_start, run.used)) for quantity, _, asset, run in named]


# --- what was done --------------------------------------------------------------------------------


def of_kind(kind: CheckKind) -> Callable[[Inquiry, str], Sequence[Done]]:
    """Process checks of one kind of an object."""

    def done(q: Inquiry, object_: str) -> Sequence[Done]:
        every = q.facts.of(f.ProcessCheckRecorded, object_)
        return [r for r in every if r.fact.object == object_ and r.fact.check == kind]

    return done


def read(quantity: Quantity) -> Callable[[Inquiry, str], Sequence[Done]]:
    """Readings of one quantity of an object."""
    return lambda q, object_: q.readings(object_, quantity)


def was_passed(q: Inquiry, done: Done) -> Outcome:
    """What the person who checked said."""
    assert isinstance(done.fact, f.ProcessCheckRecorded)
    said = done.fact.detail or ""
    if done.fact.passed:
        return passed(said, used=[done])
    says = f"{done.fact.check} of {done.fact.object} not met at {done.when}" + (f": {said}" if said else "")
    return failed(says, "mend it, check again", "list the parts since the last check that was met", used=[done])


def as_reading(done: Done) -> Reading:
    return cast("Reading", done)


def as_check(done: Done) -> Check:
    return cast("Check", done)


def lamp_is_bright(q: Inquiry, done: Done) -> Outcome:
    """In limits, at the stated distance, with a meter in calibration."""
    reading = as_reading(done)
    return worst(ask(q, reading) for ask in (light.distance_outcome, light.meter_outcome, light.uv_outcome))


def booth_is_dark(q: Inquiry, done: Done) -> Outcome:
    """Visible light within its maximum, read with the record screen on and a meter in calibration."""
    reading, most = as_reading(done), q.limit("ambient_max")
    name = reading.fact.object
    if reading.fact.screen_on is None:
        return not_recorded(f"{name}: not said whether the screen was on", "read it with the screen on", used=[reading])
    if not reading.fact.screen_on:
        return failed(f"{name} was read with the screen off", "read it with the screen on", used=[reading])
    value = q.value(reading, most.unit, high_is_bad=True)
    ways = ("dim the screen", "find the leak")
    darkness = guard_band.bounded(q, reading, name, value, most.unit, *ways, most=most, used=[reading])
    return worst([light.meter_outcome(q, reading), darkness])


def within(
    q: Inquiry, done: Done, *, least: str | None = None, most: str | None = None, guarded: bool = False
) -> Outcome:
    """A reading within the limits of some keys, ``guarded`` where a guard band moves them."""
    reading, low, high = as_reading(done), q.limit(least) if least else None, q.limit(most) if most else None
    unit = (low or high or reading.fact.value).unit
    value = q.value(reading, unit, high_is_bad=low is None)
    what, way = f"{reading.fact.object}: {reading.fact.quantity}", "correct it, read again"
    if guarded:
        return guard_band.bounded(q, reading, what, value, unit, way, least=low, most=high, used=[reading])
    return b.bounded(what, value, unit, way, least=low, most=high, used=[reading])


def remover_is_right(q: Inquiry, done: Done) -> Outcome:
    reading = as_reading(done)
    batch = q.facts.last(f.BatchEntered, reading.fact.object)
    assert batch is not None  # the use names a batch that is entered
    return penetrant_removal.strength_outcome(q, batch, reading)


def panel_shows_all(q: Inquiry, done: Done) -> Outcome:
    check = as_check(done)
    return worst([panel_was_dark(check), penetrant_line.panel_outcome(check), penetrant_line.comparison_outcome(check)])


def panel_was_dark(check: Check) -> Outcome:
    """Whether the panel was looked at before use and showed nothing: old penetrant in its cracks makes any line look right."""
    if check.fact.dark_before is None:
        says = f"{check.fact.object}: not said whether it was dark before use"
        return not_recorded(says, "clean it, look at it under UV-A, then run it", used=[check])
    if not check.fact.dark_before:
        says = f"{check.fact.object} showed indications before use: what it shows now is old penetrant"
        return failed(says, "clean it until it shows nothing, run it again", found="not dark before use", used=[check])
    return passed("dark before use", used=[check])


def panels(q: Inquiry, line: str) -> Sequence[Done]:
    """Panel checks of a line with the batches in use."""
    every = [r for r in q.facts.of(f.ProcessCheckRecorded, line) if r.fact.check == CheckKind.PANEL]
    return penetrant_line.with_batches_in_use(q, [r for r in every if r.at <= b.first_wetting(q).at])


# --- certificates ---------------------------------------------------------------------------------


def certificates(q: Inquiry, use: Use, item: str, held: Iterable[Recorded[f.CalibrationRecorded]], key: str) -> Outcome:
    """The latest calibration of an item on the day of use: its own due day, and the procedure's interval."""
    on, interval = use.at.local.date(), q.limit(key)
    known = [r for r in held if r.fact.done <= on]
    if not known:
        return not_recorded(f"{use.object}: no calibration of {item} on file", "enter its certificate", used=use.used)
    latest = max(known, key=lambda r: (r.fact.done, r.position))
    found, limit = f"{use.object} {item}: due {latest.fact.due}", f"in date on {on}; {every_text(interval)}"
    ways = ("take another that is in calibration", "calibrate it")
    if on > latest.fact.due:
        says = f"{use.object}: calibration of {item} ended {latest.fact.due}, used {on}"
        return failed(says, *ways, found=found, limit=limit, used=[latest, *use.used])
    if days_between(latest.fact.done, on) > as_timedelta(interval):
        says = (
            f"{use.object}: {item} last calibrated {latest.fact.done}, the procedure asks for it {every_text(interval)}"
        )
        return not_recorded(says, *ways, used=[latest, *use.used])
    return passed(found, limit, [latest])


def days_between(first: date, last: date) -> timedelta:
    return last - first


def items_of(held: Iterable[Recorded[f.CalibrationRecorded]]) -> dict[str, list[Recorded[f.CalibrationRecorded]]]:
    """Calibrations by item."""
    found: dict[str, list[Recorded[f.CalibrationRecorded]]] = {}
    for recorded in held:
        found.setdefault(recorded.fact.item, []).append(recorded)
    return found


def meter_certificates(q: Inquiry, use: Use, quantity: str, key: str) -> Outcome:
    """Every calibration item of a meter that bears on a quantity."""
    by_item = items_of(q.calibrations_of(use.object, quantity))
    if not by_item:
        return certificates(q, use, quantity, (), key)
    return worst(certificates(q, use, item, held, key) for item, held in by_item.items())


def meter_of(reading: Recorded[f.ReadingRecorded | f.ResidualRead], name: str) -> Use:
    """The meter of a reading, as used by it; Missing when none is named."""
    if reading.fact.meter is None:
        raise Missing(f"no meter named for {name} at {reading.when}", ["name the meter"], [reading.position])
    return Use(reading.fact.meter, reading.when, (reading,))
