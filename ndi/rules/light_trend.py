"""A lamp's readings against each other: its own trend, and the same number again and again (L12, L13)."""

from __future__ import annotations

from bisect import bisect_left

from ndi.calc import uv_a_trend
from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.errors import InputError
from ndi.domain.outcome import Outcome, failed, not_applicable, passed, worst
from ndi.domain.quantity import PERCENT
from ndi.domain.vocabulary import Quantity
from ndi.rules.inquiry import Inquiry, up_to
from ndi.rules.light import Reading, is_comparable, limit_verdict, opening_readings, reading_at, uv_outcome
from ndi.rules.memo import Memo
from ndi.rules.record import STANDING_KEYS
from ndi.rules.registry import rule

_TRENDS = Memo(64)


@rule(
    "L12",
    "Does each lamp reading agree with the lamp's own trend?",
    "trend_tolerance",
    "trend_readings",
    *STANDING_KEYS,
    version=2,
)
def l12_trend(q: Inquiry) -> Outcome:
    return worst(trend_outcome(q, reading) for reading in opening_readings(q))


def trend_outcome(q: Inquiry, reading: Reading) -> Outcome:
    """A reading (as-found or as-left) against the as-found readings of its lamp before it."""
    readings = q.as_found(reading.fact.object, Quantity.UV_A)
    earlier = readings[: bisect_left(readings, reading.at, key=reading_at)]
    read_from = (reading, *earlier, *q.facts.of(f.CalibrationRecorded), q.procedure, q.technique)
    return _TRENDS.outcome(read_from, lambda: _trend_outcome(q, reading, earlier))


def _trend_outcome(q: Inquiry, reading: Reading, earlier: list[Reading]) -> Outcome:
    unit = q.limit("uv_min").unit
    # readings that themselves fell out of limits are faults, not ageing; what cannot be compared says nothing
    judged = [(r, limit_verdict(q, r)) for r in earlier if is_comparable(q, r)]
    for r, verdict in judged:
        if verdict is Verdict.NOT_RECORDED:
            return uv_outcome(q, r)
    history = [r for r, verdict in judged if verdict is Verdict.PASS]
    needed = q.limit("trend_readings").value
    if len(history) < needed:
        return not_applicable(
            f"{reading.fact.object}: {len(history)} earlier readings, a trend needs {needed}", history
        )
    first_day = history[0].when.local.date()
    since_first = [(r.when.local.date() - first_day).days for r in history]
    if not any(since_first):
        return not_applicable(
            f"{reading.fact.object}: all readings are of one day, a trend needs different days", history
        )
    try:
        trend = uv_a_trend.predict(
            since_first,
            [float(q.value(r, unit)) for r in history],
            (reading.when.local.date() - first_day).days,
        )
    except InputError as problem:  # too few readings for a band
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


@rule("L13", "Is this not one of several identical readings in a row?", "same_value_limit", *STANDING_KEYS, version=2)
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
