"""Readings of lamps and booths: today, limit, distance, meter, bracket (L01 to L03, L05, L10, L11), and what the other light rules share.

A lamp is proven for a view only by two good readings, one before and one
after; ``bracket`` is the one place that says so.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable
from datetime import datetime, timedelta
from operator import attrgetter

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment, duration_text
from ndi.domain.outcome import Missing, Outcome, failed, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import shown
from ndi.domain.vocabulary import Quantity
from ndi.rules.basket import between
from ndi.rules.guard_band import limit_for
from ndi.rules.inquiry import Inquiry, View, up_to
from ndi.rules.record import STANDING_KEYS
from ndi.rules.registry import rule

Reading = Recorded[f.ReadingRecorded]
reading_at: Callable[[Reading], datetime] = attrgetter("at")


def looks_relied_on(q: Inquiry) -> list[View]:
    """The views that the record rests on, and the second looks still relied on."""
    return [*q.need_views(), *(look.view for look in q.second_looks if second_look_stands(q, look.view))]


def each_lamp(q: Inquiry, ask: Callable[[str, View], Outcome], views: list[View] | None = None) -> Outcome:
    """One outcome over every lamp of every view."""
    chosen = looks_relied_on(q) if views is None else views
    outcomes = [ask(lamp, view) for view in chosen for lamp in view.lamps]
    if not outcomes:
        raise Missing("no lamp named in the view", ["press the number of the lamp in use"])
    return worst(outcomes)


def is_in_limits(q: Inquiry, reading: Reading) -> bool:
    """UV-A at or above the minimum, at the stated distance, with a meter in calibration; not where that cannot be said."""
    return limit_verdict(q, reading) is Verdict.PASS and is_comparable(q, reading)


def limit_verdict(q: Inquiry, reading: Reading) -> Verdict:
    """The verdict of :func:`uv_outcome` without its words, for the many readings of a trend."""
    minimum = q.limit("uv_min")
    limit = limit_for(q, reading, minimum)
    if limit.is_broken_by(q.value(reading, minimum.unit)):
        return Verdict.FAIL
    return Verdict.PASS if limit.unknown is None else Verdict.NOT_RECORDED


def before(q: Inquiry, lamp: str, at: datetime) -> Reading | None:
    """The last as-found reading of a lamp at or before an instant."""
    found = up_to(q.as_found(lamp, Quantity.UV_A), at)
    return found[-1] if found else None


def after(q: Inquiry, lamp: str, at: datetime) -> Reading | None:
    """The first comparable as-found reading of a lamp at or after an instant."""
    readings = q.as_found(lamp, Quantity.UV_A)
    return next((r for r in readings[bisect_left(readings, at, key=reading_at) :] if is_comparable(q, r)), None)


def is_comparable(q: Inquiry, reading: Reading) -> bool:
    """Read at the stated distance with a meter in calibration; else it proves nothing either way."""
    fact = reading.fact
    key = ("comparable", fact.distance, fact.meter, fact.quantity, reading.when.local.date())
    if key not in q.worked_out:
        q.worked_out[key] = (
            distance_outcome(q, reading).verdict == "PASS" and meter_outcome(q, reading).verdict == "PASS"
        )
    return bool(q.worked_out[key])


def bracket(q: Inquiry, lamp: str, view: View) -> Outcome:
    """Whether a view lies between two in-limit readings of a lamp, with all between them in limits.

    The bracket is the last comparable reading at or before the start of the
    view and the next one at or after its end; one inside the view counts too.
    """
    key = ("bracket", lamp, view.id, view.start, view.end)
    found: Outcome = q.worked_out[key] if key in q.worked_out else q.worked_out.setdefault(key, _bracket(q, lamp, view))
    return found


def _bracket(q: Inquiry, lamp: str, view: View) -> Outcome:
    readings = q.as_found(lamp, Quantity.UV_A)
    first = next((r for r in reversed(up_to(readings, view.start.at)) if is_comparable(q, r)), None)
    if first is None:
        return not_recorded(
            f"{lamp} has no reading that can be compared before {view.start.clock()}", "read the lamp", used=view.used
        )
    opening = limit_verdict(q, first)
    if opening is Verdict.FAIL:
        return failed(
            f"{lamp} was out of limits at {first.when.clock()}: {first.fact.value}",
            "view again under another lamp",
            used=[first],
        )
    if view.end is None:
        return not_recorded(f"end of view {view.id} not recorded", "end the view", used=view.used)
    during = readings[
        bisect_right(readings, first.at, key=reading_at) : bisect_left(readings, view.end.at, key=reading_at)
    ]
    inside = [r for r in during if is_comparable(q, r)]
    closing = after(q, lamp, view.end.at)
    later = [(reading, limit_verdict(q, reading)) for reading in [*inside, *([closing] if closing else [])]]
    for reading, verdict in later:
        if verdict is Verdict.FAIL:
            return failed(
                f"{lamp}: {reading.fact.value} at {reading.when.clock()} does not close the interval that opened at {first.when.clock()}",
                "view again under another lamp",
                "reprocess",
                found=str(reading.fact.value),
                limit=f"{limit_for(q, reading, q.limit('uv_min')).text} before and after the view",
                used=[first, reading, *view.used],
            )
    for reading, verdict in ((first, opening), *later):
        if verdict is Verdict.NOT_RECORDED:
            return uv_outcome(q, reading)
    if closing is None:
        return not_yet(
            f"{lamp}: in limits at {first.when.clock()}; to be confirmed by the closing reading",
            f"read {lamp} at mid-shift or closing",
            found=f"opened {first.when.clock()}",
            used=[first, *view.used],
        )
    gap = between(first.when, closing.when, q.limit("lamp_gap_max"))[1]
    if gap > q.minutes("lamp_gap_max"):
        return failed(
            f"{lamp}: {duration_text(gap)} between the readings around the view",
            "view again between two readings",
            found=duration_text(gap),
            limit=f"at most {q.limit('lamp_gap_max')}",
            used=[first, closing],
        )
    return passed(f"{lamp} {first.when.clock()} to {closing.when.clock()}", used=[first, closing, *view.used])


def second_look_stands(q: Inquiry, view: View) -> bool:
    """A second look under a lamp that turned out bad is not relied on any more."""
    return all(bracket(q, lamp, view).verdict != "FAIL" for lamp in view.lamps)


def distance_outcome(q: Inquiry, reading: Reading) -> Outcome:
    """Whether a lamp reading was taken at the stated distance."""
    nominal, tolerance = q.limit("uv_distance"), q.limit("uv_distance_tolerance")
    if reading.fact.distance is None:
        return not_recorded(
            f"distance of the reading at {reading.when.clock()} not given",
            "read again and state the distance",
            used=[reading],
        )
    off = abs(reading.fact.distance.in_unit(nominal.unit) - nominal.value)
    found, limit = f"{reading.fact.distance}", f"{nominal} +/- {tolerance}"
    if off > tolerance.in_unit(nominal.unit):
        return failed(
            f"read at {found}: cannot be compared", f"read again at {nominal}", found=found, limit=limit, used=[reading]
        )
    return passed(found, limit, [reading])


def meter_outcome(q: Inquiry, reading: Reading) -> Outcome:
    """Whether the meter of a reading, in the channel that read it, was in calibration on the day (the due date counts)."""
    if reading.fact.meter is None:
        return not_recorded(
            f"no meter named for {reading.fact.object} at {reading.when.clock()}", "name the meter", used=[reading]
        )
    return calibration_outcome(q, reading.fact.meter, reading.fact.quantity, reading)


def calibration_outcome(q: Inquiry, meter: str, quantity: str, reading: Recorded[f.Fact]) -> Outcome:
    """Whether every calibration item of a meter that bears on a quantity was in date when ``reading`` was taken."""
    on = reading.when.local.date()
    latest: dict[str, Recorded[f.CalibrationRecorded]] = {}
    for held in sorted(q.calibrations_of(meter, quantity), key=lambda r: (r.fact.done, r.position)):
        if held.fact.done <= on:
            latest[held.fact.item] = held
    if not latest:
        return not_recorded(f"no calibration of {meter} on file", "enter its certificate", used=[reading])
    first_due = min(latest.values(), key=lambda r: r.fact.due)
    if on > first_due.fact.due:
        return failed(
            f"{meter} expired {first_due.fact.due}",
            "take a meter in calibration",
            found=f"{on}",
            limit=f"due {first_due.fact.due}",
            used=[reading, first_due],
        )
    return passed(f"{meter} due {first_due.fact.due}", used=[reading, first_due])


def opening_readings(q: Inquiry) -> list[Reading]:
    """For each lamp of each view relied on: the as-found reading that the view began on."""
    found = {}
    for view in looks_relied_on(q):
        for lamp in view.lamps:
            reading = before(q, lamp, view.start.at)
            if reading is None:
                raise Missing(f"{lamp} has no reading before {view.start.clock()}", ["read the lamp"])
            found[reading.position] = reading
    return list(found.values())


@rule(
    "L01",
    "Has each lamp of the view an as-found UV-A reading this shift before the view starts?",
    "shop_day_start",
    "shop_day_end",
    *STANDING_KEYS,
    version=2,
)
def l01_lamp_read_this_shift(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        opens, closes = q.shop_day(view.start)
        reading = before(q, lamp, view.start.at)
        if reading is None or not opens <= reading.at <= closes:
            last = f" Last: {reading.when}." if reading else ""
            return not_recorded(
                f"{lamp} has no reading this shift before {view.start.clock()}.{last}",
                "read the lamp",
                used=[*view.used, reading],
            )
        return passed(f"{lamp} read {reading.when.clock()}", used=[*view.used, reading])

    return each_lamp(q, ask)


@rule("L02", "Is the UV-A irradiance of each lamp at or above the minimum?", *STANDING_KEYS, version=2)
def l02_uv_a_at_least_minimum(q: Inquiry) -> Outcome:
    return worst(uv_outcome(q, reading) for reading in opening_readings(q))


def uv_outcome(q: Inquiry, reading: Reading) -> Outcome:
    """A lamp reading against the minimum with its guard band, worst case after what the meter's later calibration showed."""
    minimum = q.limit("uv_min")
    value = q.value(reading, minimum.unit)
    typed = reading.fact.value.in_unit(minimum.unit)
    found = f"{reading.fact.object} {shown(value, minimum.unit)}"
    if value != typed:
        found += f" (read {reading.fact.value}, meter {reading.fact.meter} found high)"
    limit = limit_for(q, reading, minimum)
    if limit.is_broken_by(value):
        return failed(
            f"{reading.fact.object}: {shown(value)} is below {shown(limit.at, minimum.unit)}. Lamp withdrawn",
            "open the recall list",
            "clean, read again as-left, tell the Level III",
            found=found,
            limit=limit.text,
            used=[reading],
        )
    return limit.unknown or passed(found, limit.text, [reading])


@rule("L03", "Was each lamp read at the stated distance?", *STANDING_KEYS, version=2)
def l03_distance(q: Inquiry) -> Outcome:
    return worst(distance_outcome(q, reading) for reading in opening_readings(q))


@rule(
    "L05",
    "Is the visible light in the booth within its maximum, with the record screen on?",
    "ambient_max",
    "guard_band",
    "shop_day_start",
    "shop_day_end",
    version=2,
)
def l05_ambient(q: Inquiry) -> Outcome:
    return worst(ambient_outcome(q, view) for view in q.need_views())


def ambient_outcome(q: Inquiry, view: View) -> Outcome:
    """The last ambient reading of the view's booth on its shop day."""
    station = view.started.fact.station
    if station is None:
        return not_recorded("booth of the view not recorded", "scan the booth", used=view.used)
    opens, _ = q.shop_day(view.start)
    found = [r for r in q.readings(station, Quantity.AMBIENT) if opens <= r.at <= view.start.at]
    if not found:
        return not_recorded(
            f"no ambient reading of {station} today before {view.start.clock()}",
            "read it with the screen on",
            used=view.used,
        )
    reading, maximum = found[-1], q.limit("ambient_max")
    if reading.fact.screen_on is None:
        return not_recorded(
            f"{station}: not stated whether the screen was on", "read again with the screen on", used=[reading]
        )
    if not reading.fact.screen_on:
        return failed(
            f"{station}: ambient was read with the screen off", "read again with the screen on", used=[reading]
        )
    meter = meter_outcome(q, reading)
    if meter.verdict != "PASS":
        return meter
    value = q.value(reading, maximum.unit, high_is_bad=True)
    shown_value, limit = shown(value, maximum.unit), limit_for(q, reading, maximum, high_is_bad=True)
    if limit.is_broken_by(value):
        return failed(
            f"{station}: {shown_value} with the screen on",
            "dim the screen",
            "find the leak",
            found=shown_value,
            limit=limit.text,
            used=[reading],
        )
    return limit.unknown or passed(f"{station} {shown_value}", limit.text, [reading])


def days(moment: Moment) -> timedelta:
    """The local calendar day, as a duration since a fixed day: due days count as whole days."""
    return timedelta(days=moment.local.date().toordinal())


@rule("L10", "Was the meter of each lamp reading in calibration?", *STANDING_KEYS, version=2)
def l10_meter_in_calibration(q: Inquiry) -> Outcome:
    return worst(meter_outcome(q, reading) for reading in opening_readings(q))


@rule("L11", "Does each view lie between two in-limit readings of every lamp used?", *STANDING_KEYS, version=2)
def l11_bracketed(q: Inquiry) -> Outcome:
    return each_lamp(q, lambda lamp, view: bracket(q, lamp, view))
