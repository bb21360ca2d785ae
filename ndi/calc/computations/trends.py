"""What changes with time or use: a lamp's trend, a bath's trend, a meter found wrong."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from math import expm1, floor, isfinite

from ndi.calc import bath_trend, meter_correction, published, straight_line, uv_a_trend
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Refusal, Result
from ndi.domain.quantity import shown

_CONDITIONS = ("as found", "as left")


def _used(inputs: Inputs) -> list[tuple[Fraction, Fraction]]:
    """Day and value of the readings that a trend may use: as found, since the lamp was last changed or cleaned."""
    since = inputs.number("since_day") if inputs.has("since_day") else None
    used = []
    for reading in inputs.objects("readings"):
        reading.only(("day", "uv_a_uw_cm2"), ("condition",))
        day, value = reading.number("day"), reading.number("uv_a_uw_cm2", above=0)
        as_left = reading.has("condition") and reading.word("condition", _CONDITIONS) == "as left"
        if not as_left and (since is None or day >= since):
            used.append((day, value))
    return used


def _date(first: date, day: float | None) -> str | None:
    """The date on which ``day`` falls, days counted from ``first``; None beyond the calendar."""
    try:
        return None if day is None else (first + timedelta(days=floor(day))).isoformat()
    except OverflowError:
        return None


def _lamp_trend(inputs: Inputs) -> Outcome:
    used = _used(inputs)
    least = inputs.whole("readings_min", least=3) if inputs.has("readings_min") else published.TREND_READINGS.value
    limit, at_day = inputs.number("limit_uw_cm2", above=0), float(inputs.number("at_day"))
    new = inputs.number("new_uw_cm2", above=0) if inputs.has("new_uw_cm2") else None
    z_most = inputs.number("jump_z", above=0) if inputs.has("jump_z") else published.JUMP_Z.value
    first = inputs.day("first_date") if inputs.has("first_date") else None
    if len(used) < least:
        raise Refusal(
            "lamp trend: too few readings as found",
            f"{len(used)} readings",
            f"{least} readings",
            ["read the lamp on more days, as found, before it is cleaned", "judge each reading by the limit alone"],
        )
    trend = uv_a_trend.predict([day for day, _ in used], [value for _, value in used], at_day)
    line, lower = (trend.crossing_day(limit, one_sided_lower=side) for side in (False, True))
    result: Result = {
        "intercept": trend.intercept,
        "slope_per_day": trend.slope_per_day,
        "percent_per_day": 100 * expm1(trend.slope_per_day),
        "s": trend.s,
        "readings_used": len(used),
        "predicted_uw_cm2": trend.predicted,
        "low_uw_cm2": trend.low,
        "high_uw_cm2": trend.high,
        "crossing_day": line,
        "crossing_day_lower": lower,
    }
    if first is not None:
        result |= {"crossing_date": _date(first, line), "crossing_date_lower": _date(first, lower)}
    if new is not None:
        z = trend.z(float(new))
        jumped = abs(z) > z_most
        result |= {
            "ratio": float(new) / trend.predicted,
            "z": z if isfinite(z) else None,
            "is_jump": jumped,
            "reading": "not ageing: look for dirt, filter, driver, voltage, distance" if jumped else "on the trend",
        }
    return Outcome(
        "least squares of ln(reading) on day, as-left readings and those before since_day left out; 95 % two-sided "
        "prediction interval of one reading at at_day; crossing where the line, or its one-sided lower 95 % prediction "
        f"limit, falls to the limit; z = (ln new - line) / standard error of a new reading, a jump beyond {shown(z_most)}",
        "NIST/SEMATECH e-Handbook section 4 (least squares, prediction interval); exponential fading: common practice, "
        f"starts of a mercury lamp are not seen; readings needed: {published.TREND_READINGS.source}",
        result,
    )


_DOSE = ("volume_l", "target_ml", "mix_g_per_l", "mix_ml")


def _dose(inputs: Inputs, last_ml: Fraction) -> Result:
    given = [key for key in _DOSE if inputs.has(key)]
    if not given:
        return {}
    missing = [key for key in _DOSE if key not in given]
    if missing:
        raise BadInput(missing[0], f"this key is missing; a dose needs {', '.join(_DOSE)}, or none of them")
    volume, target, mix_g, mix_ml = (inputs.number(key, above=0) for key in _DOSE)
    if target < last_ml:
        raise BadInput(
            "target_ml", f"{shown(target)} is below the last result {shown(last_ml)}; nothing is to be added"
        )
    return {"dose_g": bath_trend.dose(volume, last_ml, target, mix_g, mix_ml)}


def _bath_trend(inputs: Inputs) -> Outcome:
    results = []
    for item in inputs.objects("results"):
        item.only(("shots", "particles_ml"))
        results.append((item.number("shots", least=0), item.number("particles_ml", least=0)))
    limits = inputs.numbers("limits_ml", least=0)
    if len(results) < 3:
        raise Refusal(
            "bath trend: too few results",
            f"{len(results)} results",
            "3 results",
            ["settle more samples before the next addition", "judge each result by the limit alone"],
        )
    line = straight_line.least_squares([float(s) for s, _ in results], [float(ml) for _, ml in results])
    last = max(results, key=lambda pair: pair[0])[1]
    forecast = [
        {
            "limit_ml": limit,
            "at_shot": bath_trend.shot_at(line, float(limit)),
            "at_shot_lower": straight_line.lower_limit_falls_to(line, float(limit)),
            "shots_left": bath_trend.shots_left(line, float(last), float(limit)),
        }
        for limit in limits
    ]
    result: Result = {"intercept_ml": line.intercept, "slope_ml_per_shot": line.slope, "s_ml": line.s}
    result |= {"last_ml": last, "forecast": forecast}
    if inputs.has("next_shots"):
        shots = float(inputs.number("next_shots", least=0))
        half = line.quantile((1 + straight_line.COVERAGE) / 2) * line.new_value_error(shots)
        result |= {
            "next_ml": line.at(shots),
            "next_low_ml": line.at(shots) - half,
            "next_high_ml": line.at(shots) + half,
        }
    return Outcome(
        "least squares of particle volume on shots since the last addition; at_shot where the line falls to the limit, "
        "at_shot_lower where its one-sided lower 95 % prediction limit does; shots_left = (last result - limit) / loss per "
        "shot; dose = volume x (target - last result) x mix mass per L / mL of fresh mix; contamination is never added",
        "NIST/SEMATECH e-Handbook section 4; even drag-out: common practice, no source. A next result outside its 95 % "
        "interval points to pump or agitation rather than drag-out",
        result | _dose(inputs, last),
    )


_READING = ("date", "value")
_LIMITS = ("limit_min", "limit_max")


def _meter_correction(inputs: Inputs) -> Outcome:
    error = inputs.number("error_percent", above=-100)
    calibrated, found = inputs.day("calibrated_date"), inputs.day("found_date")
    if calibrated >= found:
        raise BadInput("found_date", f"{found} is not after calibrated_date {calibrated}; swap or correct them")
    limits = {key: inputs.number(key, above=0) for key in _LIMITS if inputs.has(key)}
    rows = []
    for item in inputs.objects("readings"):
        item.only(_READING)
        read, value = item.day("date"), item.number("value")
        if not calibrated <= read <= found:
            raise item.bad("date", f"{read} does not lie between {calibrated} and {found}; leave such readings out")
        worst = meter_correction.worst_case(value, error)
        linear = meter_correction.linear_drift(value, error, calibrated, read, found)
        row: Result = {"date": read.isoformat(), "value": value, "worst_case": worst, "linear_drift": linear}
        if limits:
            row |= {"worst_is_within": _is_within(worst, limits), "linear_is_within": _is_within(linear, limits)}
        rows.append(row)
    critical = {
        key.replace("limit", "critical_reading"): meter_correction.critical_reading(limit, error)
        for key, limit in limits.items()
    }
    return Outcome(
        "true = reading / (1 + error/100), a positive error meaning that the meter reads high; worst case: the whole error "
        "since the last calibration; linear drift: the error grows evenly by the day; critical reading = limit x (1 + error/100)",
        "common practice, no source; both figures are shown because the true course is not known",
        {"factor": meter_correction.factor(error), **critical, "readings": rows},
    )


def _is_within(value: Fraction, limits: dict[str, Fraction]) -> bool:
    return not (
        ("limit_min" in limits and value < limits["limit_min"])
        or ("limit_max" in limits and value > limits["limit_max"])
    )


COMPUTATIONS = {
    "lamp-trend": Computation(
        ("readings", "at_day", "limit_uw_cm2"),
        ("first_date", "since_day", "new_uw_cm2", "readings_min", "jump_z"),
        _lamp_trend,
        '{"readings": [{"day": 0, "uv_a_uw_cm2": 1620}, {"day": 1, "uv_a_uw_cm2": 1612}, {"day": 4, "uv_a_uw_cm2": 1598}, '
        '{"day": 7, "uv_a_uw_cm2": 1590}, {"day": 10, "uv_a_uw_cm2": 1581}, {"day": 14, "uv_a_uw_cm2": 1562}, '
        '{"day": 21, "uv_a_uw_cm2": 1530}, {"day": 28, "uv_a_uw_cm2": 1498}], "at_day": 29, "limit_uw_cm2": 1000}',
        "a lamp's loss per day, the reading to expect, the day it meets the limit; is a new reading ageing or something else "
        "(readings may carry condition: as found or as left)",
        is_statistical=True,
    ),
    "bath-trend": Computation(
        ("results", "limits_ml"),
        ("next_shots", *_DOSE),
        _bath_trend,
        '{"results": [{"shots": 0, "particles_ml": 0.25}, {"shots": 118, "particles_ml": 0.23}, '
        '{"shots": 240, "particles_ml": 0.205}, {"shots": 420, "particles_ml": 0.165}], "limits_ml": [0.15, 0.10]}',
        "a bath's loss per shot, shots left to each limit, and with volume_l, target_ml, mix_g_per_l, mix_ml the dose",
        is_statistical=True,
    ),
    "meter-correction": Computation(
        ("error_percent", "calibrated_date", "found_date", "readings"),
        _LIMITS,
        _meter_correction,
        '{"error_percent": 9, "calibrated_date": "2025-09-20", "found_date": "2026-03-20", '
        '"readings": [{"date": "2026-03-01", "value": 1060}]}',
        "what readings were worth when their meter was found wrong (error above 0: it reads high)",
    ),
}
