"""How a lamp fades: its line, the day on which it meets the limit, and whether its last reading is ageing at all (I.2)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import expm1, isfinite, log

from ndi.calc import control_chart, published, uv_a_trend
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import Condition, Quantity
from ndi.rules import light
from ndi.rules.inquiry import Inquiry
from ndi.services.chart_models import day_number
from ndi.services.lookup import about
from ndi.services.paper_text import on_paper, value_text
from ndi.services.ports import Session
from ndi.services.report_models import Labelled
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.study import (
    BAND_READINGS,
    Limit,
    Study,
    clock_text,
    count_of,
    day_text,
    places,
    readings_needed,
    strictest,
)
from ndi.services.trend_lamp_shown import LampReadings, Reading, Tested, jumped, lamp_chart, lamp_table
from ndi.services.workplace import Workplace

TESTED = 40  # readings, the newest, that are tested for a jump
# Run rules 1 and 4 speak at about 1 % of the points of a steady process (0.27 % + 2/256); a line that is one of two lamps
# or of a lamp before and after cleaning has them at a third of its points.
_SIGNALS_MOST = 0.05
_SIGNALS_LEAST = 3
_RULES = ("1", "4")
_SOURCE = (
    "least squares of ln(reading) on day and prediction interval of one reading: NIST/SEMATECH e-Handbook, section 4; "
    "that lamps fade exponentially: common practice, no source; starts of a mercury lamp are not seen by days"
)
_NOT_AGEING = "look for dirt, filter, driver, voltage, distance"


def lamp_trend(work: Workplace, lamp: str, *, since: date | None = None) -> Study:
    """The study of one lamp; ``since`` leaves out what lies before a change that the book does not know of."""
    with work.look() as session:
        known = about(session, f.EquipmentEntered, lamp)
        if not any(r.fact.equipment == lamp and r.fact.kind == "lamp" for r in known):
            raise NotFound(f"{lamp} is no lamp of this book")
        limit, needed = strictest(work, session, "uv_min", least=True), readings_needed(work, session)
        if limit is None:
            raise NotFound("no procedure in force holds uv_min, the least irradiance of a lamp: a Level III sets it")
        q = replace(shop_inquiry(work, session, [lamp]), procedure=limit.procedure)
        begins, why = _begins(session, lamp, since)
        of = _sorted_out(q, lamp, limit, begins, why)
    today = day_number(work.now().local.date())
    least = max(int(needed.number.value), BAND_READINGS)
    days = {day_number(r.when.local.date()) for r in of.kept}
    if len(of.kept) < least or len(days) < 2:
        return _too_few(of, needed, least, len(days), today)
    return _answered(of, needed, least, today)


def _begins(session: Session, lamp: str, since: date | None) -> tuple[date | None, str]:
    """From which day on readings count, and why: a lamp that came back into service may be another lamp inside."""
    if since is not None:
        return since, f"readings before {since}, as asked"
    back, away = None, False
    for status in about(session, f.EquipmentStatusSet, lamp):
        if status.fact.state != "in service":
            away = True
        elif away:
            back, away = status.when.local.date(), False
    return back, f"readings before {back}, when it came back into service" if back else ""


def _sorted_out(q: Inquiry, lamp: str, limit: Limit, begins: date | None, why: str) -> LampReadings:
    """Which readings the line goes through: as found, comparable, in limits, as rule L12 takes them."""
    whole = q.readings(lamp, Quantity.UV_A)
    every = [r for r in whole if begins is None or r.when.local.date() >= begins]
    found = [r for r in every if r.fact.condition == Condition.AS_FOUND]
    after = [r for r in every if r.fact.condition != Condition.AS_FOUND]
    read = [r for r in found if light.is_comparable(q, r)]
    good = {r.position for r in read if _in_limits(q, r)}
    kept, out = [r for r in read if r.position in good], [r for r in read if r.position not in good]
    conditions = Counter(r.fact.condition or "condition not stated" for r in after)
    left_out = [f"{count_of(n, 'reading')} {word}" for word, n in sorted(conditions.items())]
    if len(found) > len(read):
        left_out.append(
            f"{count_of(len(found) - len(read), 'reading')} at another distance, or with a meter that was not in calibration"
        )
    if out:
        left_out.append(f"{count_of(len(out), 'reading')} out of limits: a fault, not ageing")
    if why and len(every) < len(whole):
        left_out.append(why)
    values = {r.position: q.value(r, limit.number.unit) for r in read}
    return LampReadings(lamp, limit, tuple(read), tuple(kept), tuple(out), tuple(after), values, tuple(left_out))


def _in_limits(q: Inquiry, reading: Reading) -> bool:
    try:
        return light.is_in_limits(q, reading)
    except Missing:  # a guard band whose uncertainty is not known: it proves nothing
        return False


def _too_few(of: LampReadings, needed: Limit, least: int, days: int, today: float) -> Study:
    says = (
        f"Too few readings for a trend of {of.lamp}: {count_of(len(of.kept), 'reading')} as found in limits on "
        f"{count_of(days, 'day')}; {least} on different days are needed ({needed.where}). "
        "Each reading is judged by its limit alone."
    )
    return Study(
        f"lamp {of.lamp}",
        f"UV-A of lamp {of.lamp}",
        says,
        (Labelled("Limit", of.limit.text),),
        (lamp_chart(of, None, today),) if of.read or of.after else (),
        (lamp_table(of, {}),),
        of.left_out,
        (of.limit.source, needed.source, _SOURCE),
        enough=False,
        figures={"readings": len(of.kept), "needed": least},
    )


def _line(of: LampReadings, kept: tuple[Reading, ...], day: float) -> uv_a_trend.Trend:
    """The line through whole local days, as rule L12 draws it."""
    days = [day_number(r.when.local.date()) for r in kept]
    return uv_a_trend.predict(days, [of.values[r.position] for r in kept], day)


def _tested(of: LampReadings, least: int) -> Tested:
    """By position: how far a reading lies from the line of those before it, as a ratio and in standard errors."""
    found = {}
    for reading in of.read[-TESTED:]:
        earlier = tuple(r for r in of.kept if r.at < reading.at)
        if len(earlier) < least:
            continue
        try:
            trend = _line(of, earlier, day_number(reading.when.local.date()))
        except InputError:  # all of one day
            continue
        value = float(of.values[reading.position])
        found[reading.position] = (value / trend.predicted, trend.z(value))
    return found


def _answered(of: LampReadings, needed: Limit, least: int, today: float) -> Study:
    tested = _tested(of, least)
    trend = _line(of, of.kept, max(today, day_number(of.read[-1].when.local.date())))
    level, unit = of.limit.number.value, on_paper(of.limit.number.unit)
    line, lower = (trend.crossing_day(level, one_sided_lower=side) for side in (False, True))
    last = of.read[-1]
    jump = jumped(tested, last) or last.position in {r.position for r in of.out}
    signals = _residual_signals(of, trend)
    two_lines = signals >= _SIGNALS_LEAST and signals > _SIGNALS_MOST * len(of.kept)
    rate = 100 * expm1(trend.slope_per_day)
    jumps = sum(jumped(tested, r) for r in of.read)
    relied = not jump and not two_lines
    meets = f"lower one-sided 95 % limit {day_text(lower)}; the line {day_text(line)}"
    lines = (
        Labelled("Limit", of.limit.text),
        Labelled("Loss", f"{places(-rate)} % a day, {len(of.kept)} readings, residual {places(100 * trend.s)} %"),
        Labelled(
            "Today by the line",
            f"{trend.predicted:.0f} {unit}, 95 % prediction band {trend.low:.0f} to {trend.high:.0f}",
        ),
        Labelled("Meets the limit", meets if relied else f"{meets}; by a line not to be relied on"),
        Labelled(
            "Jump test",
            f"{jumps or 'none'} of the newest {len(tested)} tested beyond {published.JUMP_Z.value} standard errors",
        ),
        Labelled(
            "About one line", f"run rules 1 and 4 speak at {signals} of {len(of.kept)} readings; about 1 % by chance"
        ),
    )
    if jump:
        says = _says_jump(of, tested)
    elif two_lines:
        says = (
            f"The readings of {of.lamp} do not lie about one line (run rules speak at {signals} of {len(of.kept)}): no day "
            "is given. Look for a change of the lamp, a cleaning or a meter that was not recorded, and give the day of it."
        )
    else:
        says = _says_fades(of, rate, lower, line, today)
    return Study(
        f"lamp {of.lamp}",
        f"UV-A of lamp {of.lamp}",
        says,
        lines,
        (lamp_chart(of, trend, today, dated=relied),),
        (lamp_table(of, tested),),
        of.left_out,
        (of.limit.source, needed.source, _SOURCE, f"jump: {published.JUMP_Z.source}"),
        figures={
            "readings": len(of.kept),
            "slope_per_day": trend.slope_per_day,
            "percent_per_day": rate,
            "s": trend.s,
            "predicted": trend.predicted,
            "low": trend.low,
            "high": trend.high,
            "unit": of.limit.number.unit,
            "limit": float(level),
            "crossing_line": day_text(line),
            "crossing_lower": day_text(lower),
            "is_relied_on": relied,
            "last_is_ageing": not jump,
            "last_ratio": tested.get(last.position, (None, None))[0],
            "last_z": tested.get(last.position, (None, None))[1],
            "jumps": jumps,
            "residual_signals": signals,
        },
    )


def _residual_signals(of: LampReadings, trend: uv_a_trend.Trend) -> int:
    """Run rules on what is left over the line: a line through two lamps, or through a cleaning, speaks here."""
    rest = [
        Fraction(log(of.values[r.position]) - trend.line.at(day_number(r.when.local.date()))).limit_denominator(10**9)
        for r in of.kept
    ]
    sigma = Fraction(trend.s).limit_denominator(10**9)
    if not sigma:
        return 0
    return len({s.at for s in control_chart.run_rules(rest, Fraction(0), sigma) if s.rule in _RULES})


def _says_jump(of: LampReadings, tested: Mapping[int, tuple[float, float]]) -> str:
    last = of.read[-1]
    ratio, z = tested.get(last.position, (0.0, 0.0))
    far = f", {100 * (ratio - 1):+.1f} % from its line, {z:.0f} standard errors" if ratio and isfinite(z) else ""
    return (
        f"{of.lamp} is not ageing: its last reading, {value_text(last.fact.value)} on {clock_text(last.when)}{far}. "
        f"No day is given for it: {_NOT_AGEING}."
    )


def _says_fades(of: LampReadings, rate: float, lower: float | None, line: float | None, today: float) -> str:
    limit = on_paper(str(of.limit.number))
    loses = (
        f"{of.lamp} loses {places(-rate)} % a day" if rate < 0 else f"{of.lamp} does not fade ({places(rate)} % a day)"
    )
    if lower is None:
        return f"{loses}: its lower 95 % prediction limit does not come down to {limit}."
    when = f"reaches {limit} on {day_text(lower)}" if lower >= today else f"fell to {limit} on {day_text(lower)}"
    median = f" (the line itself on {day_text(line)})" if line is not None else ""
    return f"{loses}: its lower one-sided 95 % prediction limit {when}{median}. Replace it before, and read it daily."
