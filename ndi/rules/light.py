"""Lamps, meters and visible light (L01 to L18), as asked of one inspection record.

A lamp is proven for a view only by two good readings, one before and one
after; ``bracket`` is the one place that says so.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable
from datetime import datetime, timedelta
from operator import attrgetter

from ndi.calc import uv_a_trend
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.moment import Moment, duration_text
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import PERCENT, shown
from ndi.domain.vocabulary import CheckKind, Condition, Quantity
from ndi.rules.basket import between
from ndi.rules.inquiry import Inquiry, View, up_to
from ndi.rules.memo import Memo
from ndi.rules.record import STANDING_KEYS
from ndi.rules.registry import rule

Reading = Recorded[f.ReadingRecorded]
_at: Callable[[Reading], datetime] = attrgetter("at")
_TRENDS = Memo(64)


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
    """UV-A at or above the minimum, at the stated distance, with a meter in calibration."""
    minimum = q.limit("uv_min")
    return q.value(reading, minimum.unit) >= minimum.value and is_comparable(q, reading)


def before(q: Inquiry, lamp: str, at: datetime) -> Reading | None:
    """The last as-found reading of a lamp at or before an instant."""
    found = up_to(q.as_found(lamp, Quantity.UV_A), at)
    return found[-1] if found else None


def after(q: Inquiry, lamp: str, at: datetime) -> Reading | None:
    """The first comparable as-found reading of a lamp at or after an instant."""
    readings = q.as_found(lamp, Quantity.UV_A)
    return next((r for r in readings[bisect_left(readings, at, key=_at) :] if is_comparable(q, r)), None)


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
    if not is_in_limits(q, first):
        return failed(
            f"{lamp} was out of limits at {first.when.clock()}: {first.fact.value}",
            "view again under another lamp",
            used=[first],
        )
    if view.end is None:
        return not_recorded(f"end of view {view.id} not recorded", "end the view", used=view.used)
    during = readings[bisect_right(readings, first.at, key=_at) : bisect_left(readings, view.end.at, key=_at)]
    inside = [r for r in during if is_comparable(q, r)]
    closing = after(q, lamp, view.end.at)
    for reading in [*inside, *([closing] if closing else [])]:
        if not is_in_limits(q, reading):
            return failed(
                f"{lamp}: {reading.fact.value} at {reading.when.clock()} does not close the interval that opened at {first.when.clock()}",
                "view again under another lamp",
                "reprocess",
                found=str(reading.fact.value),
                limit=f"at least {q.limit('uv_min')} before and after the view",
                used=[first, reading, *view.used],
            )
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


@rule("L02", "Is the UV-A irradiance of each lamp at or above the minimum?", *STANDING_KEYS)
def l02_uv_a_at_least_minimum(q: Inquiry) -> Outcome:
    return worst(uv_outcome(q, reading) for reading in opening_readings(q))


def uv_outcome(q: Inquiry, reading: Reading) -> Outcome:
    """A lamp reading against the minimum, worst case after what the meter's later calibration showed."""
    minimum = q.limit("uv_min")
    value = q.value(reading, minimum.unit)
    typed = reading.fact.value.in_unit(minimum.unit)
    found = f"{reading.fact.object} {shown(value, minimum.unit)}"
    if value != typed:
        found += f" (read {reading.fact.value}, meter {reading.fact.meter} found high)"
    limit = f"at least {minimum}"
    if value < minimum.value:
        return failed(
            f"{reading.fact.object}: {shown(value)} is below {minimum}. Lamp withdrawn",
            "open the recall list",
            "clean, read again as-left, tell the Level III",
            found=found,
            limit=limit,
            used=[reading],
        )
    return passed(found, limit, [reading])


@rule("L03", "Was each lamp read at the stated distance?", *STANDING_KEYS)
def l03_distance(q: Inquiry) -> Outcome:
    return worst(distance_outcome(q, reading) for reading in opening_readings(q))


@rule(
    "L05",
    "Is the visible light in the booth within its maximum, with the record screen on?",
    "ambient_max",
    "shop_day_start",
    "shop_day_end",
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
    shown_value, limit = shown(value, maximum.unit), f"at most {maximum}"
    if value > maximum.value:
        return failed(
            f"{station}: {shown_value} with the screen on",
            "dim the screen",
            "find the leak",
            found=shown_value,
            limit=limit,
            used=[reading],
        )
    return passed(f"{station} {shown_value}", limit, [reading])


@rule("L06", "Was each lamp warm before it was read and used?", "lamp_warm_up", *STANDING_KEYS)
def l06_warm_up(q: Inquiry) -> Outcome:
    need = q.minutes("lamp_warm_up")

    def ask(lamp: str, view: View) -> Outcome:
        reading = before(q, lamp, view.start.at)
        outcomes = []
        for moment in [view.start, *([reading.when] if reading else [])]:
            on = q.facts.last(f.EquipmentSwitched, lamp, until=moment.at)
            if on is None:
                return not_recorded(
                    f"{lamp}: switching on not recorded", "scan the lamp when it is switched on", used=view.used
                )
            if on.fact.state != "on":
                return failed(
                    f"{lamp} was switched off at {on.when.clock()}", "switch it on and wait", used=[on, *view.used]
                )
            warm = between(on.when, moment, q.limit("lamp_warm_up"))[0]
            limit = f"at least {q.limit('lamp_warm_up')}"
            if warm < need:
                outcomes.append(
                    failed(
                        f"{lamp} on for {duration_text(warm)}",
                        "wait",
                        found=duration_text(warm),
                        limit=limit,
                        used=[on],
                    )
                )
            else:
                outcomes.append(passed(f"{lamp} on since {on.when.clock()}", limit, [on, reading]))
        return worst(outcomes)

    return each_lamp(q, ask)


@rule("L07", "Mercury lamps: no restart within the warm-up before the view?", "lamp_warm_up", *STANDING_KEYS)
def l07_no_restart(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        entered = q.equipment(lamp)
        if entered is None or entered.fact.lamp_type is None:
            return not_recorded(f"type of {lamp} not in its equipment record", "enter the lamp", used=view.used)
        if entered.fact.lamp_type != "mercury":
            return not_applicable(f"equipment record: {lamp} is {entered.fact.lamp_type}", [entered])
        starts = [r for r in q.facts.of(f.EquipmentSwitched, lamp) if r.at <= view.start.at and r.fact.state == "on"]
        if not starts:
            return not_recorded(f"{lamp}: on and off not recorded", "scan the lamp when it is switched", used=view.used)
        since = between(starts[-1].when, view.start, q.limit("lamp_warm_up"))[0]
        if len(starts) > 1 and since < q.minutes("lamp_warm_up"):
            return failed(f"{lamp} restarted {duration_text(since)} before the view", "wait", used=[starts[-1]])
        return passed(f"{lamp} on since {starts[-1].when.clock()}", used=[starts[-1]])

    return each_lamp(q, ask)


@rule("L08", "Is the integrity check of each lamp not overdue?", "lamp_integrity_interval", *STANDING_KEYS)
def l08_integrity(q: Inquiry) -> Outcome:
    interval = q.minutes("lamp_integrity_interval")

    def ask(lamp: str, view: View) -> Outcome:
        checks = [
            r
            for r in q.facts.of(f.ProcessCheckRecorded, lamp)
            if r.fact.check == CheckKind.LAMP_INTEGRITY and r.at <= view.start.at
        ]
        if not checks:
            return not_recorded(
                f"{lamp}: integrity never checked", "check filter, elements, visible leak", used=view.used
            )
        last = checks[-1]
        if not last.fact.passed:
            return failed(f"{lamp}: integrity check of {last.when} failed", "take another lamp", used=[last])
        if days(view.start) - days(last.when) > interval:
            return failed(
                f"{lamp}: integrity check was due",
                "check it now",
                found=str(last.when),
                limit=f"every {q.limit('lamp_integrity_interval')}",
                used=[last],
            )
        return passed(f"{lamp} checked {last.when.local.date()}", used=[last])

    return each_lamp(q, ask)


def days(moment: Moment) -> timedelta:
    """The local calendar day, as a duration since a fixed day: due days count as whole days."""
    return timedelta(days=moment.local.date().toordinal())


@rule("L09", "Battery lamps: read before and after each use, both in limits?", *STANDING_KEYS)
def l09_battery(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        entered = q.equipment(lamp)
        if entered is None or entered.fact.battery_powered is None:
            return not_recorded(
                f"{lamp}: battery or mains not in its equipment record", "enter the lamp", used=view.used
            )
        if not entered.fact.battery_powered:
            return not_applicable(f"equipment record: {lamp} is mains powered", [entered])
        if view.end is None:
            return not_recorded(f"end of view {view.id} not recorded", "end the view", used=view.used)
        first, closing = before(q, lamp, view.start.at), after(q, lamp, view.end.at)
        if first is None or closing is None:
            return not_recorded(f"{lamp}: reading before or after use missing", "read the lamp", used=[first, closing])
        return worst(uv_outcome(q, reading) for reading in (first, closing))

    return each_lamp(q, ask)


@rule("L10", "Was the meter of each lamp reading in calibration?", *STANDING_KEYS)
def l10_meter_in_calibration(q: Inquiry) -> Outcome:
    return worst(meter_outcome(q, reading) for reading in opening_readings(q))


@rule("L11", "Does each view lie between two in-limit readings of every lamp used?", *STANDING_KEYS)
def l11_bracketed(q: Inquiry) -> Outcome:
    return each_lamp(q, lambda lamp, view: bracket(q, lamp, view))


@rule(
    "L12",
    "Does each lamp reading agree with the lamp's own trend?",
    "trend_tolerance",
    "trend_readings",
    *STANDING_KEYS,
)
def l12_trend(q: Inquiry) -> Outcome:
    return worst(trend_outcome(q, reading) for reading in opening_readings(q))


def trend_outcome(q: Inquiry, reading: Reading) -> Outcome:
    """A reading (as-found or as-left) against the as-found readings of its lamp before it."""
    readings = q.as_found(reading.fact.object, Quantity.UV_A)
    earlier = readings[: bisect_left(readings, reading.at, key=_at)]
    read_from = (reading, *earlier, *q.facts.of(f.CalibrationRecorded), q.procedure, q.technique)
    return _TRENDS.outcome(read_from, lambda: _trend_outcome(q, reading, earlier))


def _trend_outcome(q: Inquiry, reading: Reading, earlier: list[Reading]) -> Outcome:
    unit = q.limit("uv_min").unit
    # readings that themselves fell out of limits are faults, not ageing; what cannot be compared says nothing
    history = [r for r in earlier if is_in_limits(q, r)]
    needed = q.limit("trend_readings").value
    if len(history) < needed:
        return not_applicable(
            f"{reading.fact.object}: {len(history)} earlier readings, a trend needs {needed}", history
        )
    first_day = history[0].when.local.date()
    try:
        trend = uv_a_trend.predict(
            [(r.when.local.date() - first_day).days for r in history],
            [float(q.value(r, unit)) for r in history],
            (reading.when.local.date() - first_day).days,
        )
    except InputError as problem:  # too few readings for a band, or all of one day
        return not_applicable(f"{reading.fact.object}: {problem}", history)
    value = float(q.value(reading, unit))
    share = (value / trend.predicted - 1) * float(PERCENT)
    found = f"{reading.fact.object} {value:.0f}, trend {trend.predicted:.0f} ({share:+.1f} %), band {trend.low:.0f}..{trend.high:.0f}"
    limit = f"within {q.limit('trend_tolerance')} of the trend and inside its 95 % band"
    tolerance = float(q.limit("trend_tolerance").value)
    if abs(share) > tolerance or not trend.low <= value <= trend.high:
        side = "under" if share < 0 else "over"
        return failed(
            f"{reading.fact.object}: {value:.0f} is {abs(share):.1f} % {side} its trend ({trend.predicted:.0f}); this is not ageing",
            "clean, read again",
            "tell the Level III",
            found=found,
            limit=limit,
            used=[*history, reading],
        )
    return passed(found, limit, [*history, reading])


@rule("L13", "Is this not one of several identical readings in a row?", "same_value_limit", *STANDING_KEYS)
def l13_not_identical(q: Inquiry) -> Outcome:
    count = int(q.limit("same_value_limit").value)

    def ask(reading: Reading) -> Outcome:
        earlier = up_to(q.as_found(reading.fact.object, Quantity.UV_A), reading.at)[-count:]
        if len(earlier) < count:
            return not_applicable(f"{reading.fact.object}: fewer than {count} readings", earlier)
        if len({r.fact.value.in_unit("uW/cm2") for r in earlier}) == 1:
            return failed(
                f"{reading.fact.object}: the same number {count} times running",
                "read again",
                found=str(reading.fact.value),
                used=earlier,
            )
        return passed(f"{reading.fact.object} varies", used=earlier)

    return worst(ask(reading) for reading in opening_readings(q))


@rule(
    "L15",
    "Was the light of the removal station read this shift and in limits?",
    "uv_removal_min",
    "ambient_removal_max",
    "shop_day_start",
    "shop_day_end",
)
def l15_removal_station(q: Inquiry) -> Outcome:
    washed = q.step("wash").started
    if washed is None:
        raise Missing("wash not recorded", ["wash the basket and scan it"])
    opens, _ = q.shop_day(washed.when)
    line = q.equipment(q.basket.fact.line)
    if line is None or line.fact.wash_station is None:
        raise Missing(f"{q.basket.fact.line}: wash station not in its equipment record", ["enter it"])
    station = line.fact.wash_station

    def last_of(quantity: str) -> Reading:
        found = [r for r in q.readings(station, quantity) if opens <= r.at <= washed.at]
        if not found:
            raise Missing(f"{station}: {quantity} not read today before {washed.when.clock()}", ["read it"])
        return found[-1]

    uv, ambient = last_of(Quantity.UV_A_AT_PART), last_of(Quantity.AMBIENT)
    least, most = q.limit("uv_removal_min"), q.limit("ambient_removal_max")
    uv_value, ambient_value = q.value(uv, least.unit), q.value(ambient, most.unit, high_is_bad=True)
    found = f"{shown(uv_value, least.unit)}, {shown(ambient_value, most.unit)}"
    limit = f"at least {least}, at most {most}"
    if uv_value < least.value or ambient_value > most.value:
        return failed(f"{station}: {found}", "mend the light, wash again", found=found, limit=limit, used=[uv, ambient])
    return passed(found, limit, [uv, ambient])


@rule("L16", "Was at least one lamp named, and was each in service in this booth at that time?", *STANDING_KEYS)
def l16_lamp_in_service(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        status = q.facts.last(f.EquipmentStatusSet, lamp, until=view.start.at)
        entered = q.equipment(lamp)
        if entered is None or entered.fact.kind != "lamp":
            return failed(f"{lamp} is not a lamp of this shop", "press the number of the lamp in use", used=view.used)
        if status is not None and status.fact.state != "in service":
            return failed(
                f"{lamp} {status.fact.state} since {status.when.clock()}: {status.fact.reason}",
                "view again under a lamp in service",
                used=[status, *view.used],
            )
        station, place = view.started.fact.station, entered.fact.place
        if station is not None and place is not None and place != station:
            return failed(
                f"{lamp} belongs to {place}, the view was at {station}",
                "press the number of the lamp in use",
                "enter the lamp at its new place",
                found=place,
                limit=station,
                used=[entered, *view.used],
            )
        return passed(f"{lamp} in service", used=[entered, status])

    return each_lamp(q, ask)


@rule(
    "L18",
    "Was the as-found value of each lamp recorded before cleaning?",
    "shop_day_start",
    "shop_day_end",
    *STANDING_KEYS,
)
def l18_as_found_first(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        opens, _ = q.shop_day(view.start)
        readings = up_to(q.readings(lamp, Quantity.UV_A), view.start.at)
        today = readings[bisect_left(readings, opens, key=_at) :]
        if not today:
            return not_recorded(
                f"{lamp}: no reading today before {view.start.clock()}", "read the lamp", used=view.used
            )
        if today[0].fact.condition != Condition.AS_FOUND:
            return not_recorded(
                f"{lamp}: only an as-left value today; the dirty value is lost", "tell the Level III", used=[today[0]]
            )
        return passed(f"{lamp} as-found {today[0].when.clock()}", used=[today[0]])

    return each_lamp(q, ask, q.need_views())
