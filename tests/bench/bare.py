"""The floor of judging: the comparisons themselves, in plain Python, on the numbers and limits of the same record.

No wording, no evidence, no units, no looking up: the numbers lie ready, and
what is left is what any program has to compare.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from fractions import Fraction
from math import exp, fsum, log, sqrt

from scipy import special  # type: ignore[import-untyped]

from ndi.domain import facts as f
from ndi.domain.outcome import Missing
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import CheckKind, Quantity, Step
from ndi.rules import light
from ndi.rules.inquiry import Inquiry, View, as_timedelta


@dataclass
class Numbers:
    """What one record's limits are compared with."""

    at_least: list[tuple[Fraction, Fraction]] = field(default_factory=list)
    at_most: list[tuple[Fraction, Fraction]] = field(default_factory=list)
    not_longer: list[tuple[datetime, datetime, timedelta]] = field(default_factory=list)
    not_shorter: list[tuple[datetime, datetime, timedelta]] = field(default_factory=list)
    within: list[tuple[date, date, date]] = field(default_factory=list)
    among: list[tuple[object, frozenset[object]]] = field(default_factory=list)
    trends: list[tuple[list[float], list[float], float, float, float]] = field(default_factory=list)

    def __len__(self) -> int:
        every = (self.at_least, self.at_most, self.not_longer, self.not_shorter, self.within, self.among, self.trends)
        return sum(len(kind) for kind in every)  # type: ignore[arg-type]


def compare(n: Numbers) -> int:
    """How many comparisons do not hold."""
    bad = 0
    for value, limit in n.at_least:
        bad += not value >= limit
    for value, limit in n.at_most:
        bad += not value <= limit
    for start, stop, longest in n.not_longer:
        bad += not stop - start <= longest
    for start, stop, shortest in n.not_shorter:
        bad += not stop - start >= shortest
    for day, first, last in n.within:
        bad += not first <= day <= last
    for value_, allowed in n.among:
        bad += value_ not in allowed
    for trend in n.trends:
        bad += not _on_trend(*trend)
    return bad


def _on_trend(x: Sequence[float], y: Sequence[float], at: float, value: float, tolerance: float) -> bool:
    count = len(x)
    mean_x, mean_y = fsum(x) / count, fsum(y) / count
    squares = fsum((each - mean_x) ** 2 for each in x)
    slope = fsum((xi - mean_x) * (yi - mean_y) for xi, yi in zip(x, y, strict=True)) / squares
    spread = sqrt(fsum((yi - mean_y - slope * (xi - mean_x)) ** 2 for xi, yi in zip(x, y, strict=True)) / (count - 2))
    middle = mean_y + slope * (at - mean_x)
    half = special.stdtrit(count - 2, 0.975) * spread * sqrt(1 + 1 / count + (at - mean_x) ** 2 / squares)
    return bool(abs(value / exp(middle) - 1) * 100 <= tolerance and exp(middle - half) <= value <= exp(middle + half))


# --- the numbers of a record ----------------------------------------------------------------------


def numbers_of(q: Inquiry) -> Numbers:
    """The numbers of a record and the limits of its procedure, without anything around them."""
    n = Numbers()
    for view in q.views:
        _view(q, n, view)
    for person in {q.decider, q.opened.fact.inspector, *(view.person for view in q.views)} - {None}:
        _person(q, n, str(person))
    _ticks(q, n)
    for indication in q.indications:
        _indication(q, n, indication.seen.fact)
    if q.method == "PT":
        _penetrant(q, n)
    else:
        _magnetic(q, n)
    return n


def _view(q: Inquiry, n: Numbers, view: View) -> None:
    opens, closes = q.shop_day(view.start)
    n.among += [(zone, frozenset(view.ended.fact.zones if view.ended else ())) for zone in q.technique.zones]
    station = view.started.fact.station
    ambient = [r for r in q.readings(station or "", Quantity.AMBIENT) if opens <= r.at <= view.start.at]
    n.at_most += [
        (r.fact.value.in_unit(q.limit("ambient_max").unit), q.limit("ambient_max").value) for r in ambient[-1:]
    ]
    closed = q.facts.last(f.BoothClosed, view.person, until=view.start.at)
    if closed:
        n.not_shorter.append((closed.at, view.start.at, q.minutes("dark_adapt_min")))
    for lamp in view.lamps:
        reading = light.before(q, lamp, view.start.at)
        if reading is not None:
            _lamp(q, n, lamp, view, reading)
            n.within.append((reading.at, opens, closes))


def _lamp(q: Inquiry, n: Numbers, lamp: str, view: View, reading: light.Reading) -> None:
    least, unit = q.limit("uv_min"), q.limit("uv_min").unit
    closing = light.after(q, lamp, view.end.at) if view.end else None
    both = [reading, *([closing] if closing else [])]
    for each in both:
        n.at_least.append((each.fact.value.in_unit(unit), least.value))
        _distance(q, n, each.fact.distance)
    if closing:
        n.not_longer.append((reading.at, closing.at, q.minutes("lamp_gap_max")))
    switched = q.facts.last(f.EquipmentSwitched, lamp, until=view.start.at)
    if switched:
        n.not_shorter += [
            (switched.at, view.start.at, q.minutes("lamp_warm_up")),
            (switched.at, reading.at, q.minutes("lamp_warm_up")),
        ]
    checks = [
        r
        for r in q.facts.of(f.ProcessCheckRecorded, lamp)
        if r.fact.check == CheckKind.LAMP_INTEGRITY and r.at <= view.start.at
    ]
    n.not_longer += [(r.at, view.start.at, q.minutes("lamp_integrity_interval")) for r in checks[-1:]]
    for calibration in q.facts.of(f.CalibrationRecorded, reading.fact.meter or "")[-1:]:
        n.within.append((reading.when.local.date(), calibration.fact.done, calibration.fact.due))
    history = [
        r for r in q.as_found(lamp, Quantity.UV_A) if r.at < reading.at and r.fact.value.in_unit(unit) >= least.value
    ]
    if len(history) >= q.limit("trend_readings").value:
        x = [float(r.when.local.date().toordinal()) for r in history]
        y = [log(float(r.fact.value.in_unit(unit))) for r in history]
        value = float(reading.fact.value.in_unit(unit))
        n.trends.append(
            (x, y, float(reading.when.local.date().toordinal()), value, float(q.limit("trend_tolerance").value))
        )


def _distance(q: Inquiry, n: Numbers, distance: Number | None) -> None:
    if distance is not None:
        nominal, tolerance = q.limit("uv_distance"), q.limit("uv_distance_tolerance")
        value = distance.in_unit(nominal.unit)
        n.at_least.append((value, nominal.value - tolerance.in_unit(nominal.unit)))
        n.at_most.append((value, nominal.value + tolerance.in_unit(nominal.unit)))


def _person(q: Inquiry, n: Numbers, person: str) -> None:
    day = (q.decided or q.asked).local.date()
    held = q.certificate(person, day)
    if held:
        n.within.append((day, held.fact.issued, held.fact.expires))
        n.at_least.append((Fraction(held.fact.level), Fraction(2)))
    for exam in q.facts.of(f.VisionExamEntered, person)[-1:]:
        n.within.append((day, exam.fact.examined, exam.fact.expires))
    read = frozenset((r.fact.procedure, r.fact.revision) for r in q.facts.of(f.RevisionRead, person))
    n.among.append(((q.procedure.number, q.procedure.revision), read))


def _ticks(q: Inquiry, n: Numbers) -> None:
    abouts = (q.part, q.inspection, *(load.fact.basket for load in q.basket_loads))
    n.among += [
        (tick.fact.value, frozenset(["yes", tick.fact.value]))
        for key in abouts
        for tick in q.facts.of(f.ConfirmationGiven, key)
    ]
    n.at_least += [
        (Fraction(r.fact.quantity), Fraction(q.opened.fact.quantity)) for r in q.facts.of(f.PartReceived, q.part)
    ]


def _indication(q: Inquiry, n: Numbers, seen: f.IndicationSeen) -> None:
    if seen.length is not None and seen.width is not None:
        n.at_least.append((seen.length.value, seen.width.value * q.limit("linear_ratio").value))
        limits = [limit for zone in q.master.zones for limit in zone.limits if zone.code == seen.zone]
        n.at_most += [
            (seen.length.in_unit(limit.max_length.unit), limit.max_length.value) for limit in limits if limit.max_length
        ]


def _penetrant(q: Inquiry, n: Numbers) -> None:
    def step(name: str) -> tuple[datetime | None, datetime | None]:
        times = q.step(name)
        return (times.started.at if times.started else None, times.ended.at if times.ended else None)

    def between(start: datetime | None, stop: datetime | None, least: str | None, most: str | None) -> None:
        if start is not None and stop is not None:
            if least:
                n.not_shorter.append((start, stop, q.minutes(least)))
            if most:
                n.not_longer.append((start, stop, q.minutes(most)))

    wet, wash, dry, develop = (step(name) for name in (Step.WET, Step.WASH, Step.DRY, Step.DEVELOP))
    between(wet[1], wash[0], "dwell_base", None)
    between(wet[0], wash[1], None, "dwell_max")
    between(wash[1], dry[0], None, "wash_to_dryer_max")
    between(dry[0], dry[1], None, "dryer_time_max")
    between(dry[1], develop[0], None, "dryer_to_developer_max")
    for view in q.views:
        between(develop[1], view.start.at, "develop_min", None)
        between(develop[0], view.end.at if view.end else None, None, "develop_max")
    line = q.equipment(q.basket.fact.line)
    supply = (line.fact.water if line else None) or ""
    for quantity, least, most in (
        (Quantity.WATER_TEMPERATURE, "water_temperature_min", "water_temperature_max"),
        (Quantity.WATER_PRESSURE, None, "water_pressure_max"),
    ):
        for reading in q.readings(supply, quantity)[-1:]:
            value = reading.fact.value.in_unit(q.limit(most).unit)
            n.at_most.append((value, q.limit(most).value))
            if least:
                n.at_least.append((value, q.limit(least).value))
    for fill in q.facts.of(f.TankFilled, q.basket.fact.line)[-1:]:
        for batch in fill.fact.batches:
            n.within += [
                (q.asked.local.date(), date.min, r.fact.expires) for r in q.facts.of(f.BatchEntered, batch)[-1:]
            ]


def _magnetic(q: Inquiry, n: Numbers) -> None:
    nominal = {shot.shot: shot for shot in q.technique.shots}
    try:
        share = q.limit("amps_tolerance").value / 100
        least, most = as_timedelta(q.limit("pulse_min")), as_timedelta(q.limit("pulse_max"))
    except Missing:
        return
    for shot in (shot.fired.fact for shot in q.shots if shot.counts):
        wanted = nominal.get(shot.shot)
        n.at_least.append((Fraction(len(shot.pulses)), q.limit("pulses_min").value))
        for pulse in shot.pulses:
            if wanted and pulse.amps:
                amps, middle = pulse.amps.in_unit("A"), wanted.amps.in_unit("A")
                n.at_least.append((amps, middle * (1 - share)))
                n.at_most.append((amps, middle * (1 + share)))
            if pulse.seconds:
                seconds = Fraction(pulse.seconds.value)
                n.at_least.append((seconds, Fraction(least.total_seconds())))
                n.at_most.append((seconds, Fraction(most.total_seconds())))
    residual = q.limit("residual_max")
    n.at_most += [
        (abs(r.fact.value.in_unit(residual.unit)), residual.value) for r in q.facts.of(f.ResidualRead, q.inspection)
    ]
    for bath in {r.fact.object for r in q.facts.of(f.ReadingRecorded) if r.fact.quantity == Quantity.PARTICLE_VOLUME}:
        for reading in q.readings(bath, Quantity.PARTICLE_VOLUME)[-1:]:
            value = reading.fact.value.in_unit("mL") - (
                reading.fact.contamination.in_unit("mL") if reading.fact.contamination else 0
            )
            n.at_least += [(value, q.limit(key).value) for key in ("bath_working_min", "bath_hard_min")]
            n.at_most += [(value, q.limit(key).value) for key in ("bath_working_max", "bath_hard_max")]
    for bench in {shot.fired.fact.bench for shot in q.shots}:
        for calibration in q.facts.of(f.CalibrationRecorded, bench):
            n.within.append((q.opened.when.local.date(), calibration.fact.done, calibration.fact.due))
        rings = [
            r for r in q.facts.of(f.ProcessCheckRecorded, bench) if r.fact.holes is not None and r.at <= q.opened.at
        ]
        n.at_least += [(Fraction(r.fact.holes or 0), q.limit("ring_holes_min").value) for r in rings[-1:]]
