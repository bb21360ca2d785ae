"""A lamp's readings as a chart and a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import exp, isfinite

from ndi.calc import published, uv_a_trend
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.services.chart_models import Band, Chart, Curve, Dash, Layer, Level, Marker, Points, Upright, day_number
from ndi.services.paper_text import on_paper, value_text
from ndi.services.report_models import SheetTable
from ndi.services.study import Limit, at_days, clock_text, day_text, newest, spread

Reading = Recorded[f.ReadingRecorded]
Tested = Mapping[int, tuple[float, float]]  # by position: ratio to the line before, standard errors from it

_AHEAD_MOST = 1095.0  # days beyond the last reading that a chart shows
_AHEAD_LEAST = 30.0


@dataclass(frozen=True)
class LampReadings:
    """One lamp's readings: ``read`` as found and comparable, of these ``kept`` in limits and ``out`` of them; ``after``
    as left.  ``values`` by position, in the unit of the limit, worst case by the meter's later calibration."""

    lamp: str
    limit: Limit
    read: tuple[Reading, ...]
    kept: tuple[Reading, ...]
    out: tuple[Reading, ...]
    after: tuple[Reading, ...]
    values: Mapping[int, Fraction]
    left_out: tuple[str, ...]

    def value(self, reading: Reading) -> float:
        found = self.values.get(reading.position)
        return float(reading.fact.value.in_unit(self.limit.number.unit) if found is None else found)


def jumped(tested: Tested, reading: Reading) -> bool:
    """Whether a reading lies further from the line of those before it than ageing explains."""
    return reading.position in tested and abs(tested[reading.position][1]) > published.JUMP_Z.value


def lamp_chart(of: LampReadings, trend: uv_a_trend.Trend | None, today: float, *, dated: bool = True) -> Chart:
    """Readings, line with its band, limit; ``dated``: the day on which they meet is drawn."""
    unit = of.limit.number.unit

    def points(label: str, readings: Sequence[Reading], marker: Marker) -> Points:
        return Points(label, at_days([r.when for r in readings]), tuple(of.value(r) for r in readings), marker)

    layers: list[Layer] = []
    if trend is not None:
        layers += _line_layers(of, trend, today, dated=dated)
    layers.append(Level(f"least {of.limit.text}", float(of.limit.number.value), is_limit=True))
    layers.append(points("as found, in limits", of.kept, Marker.DOT))
    if of.after:
        layers.append(points("as left or after cleaning, not counted", of.after, Marker.RING))
    if of.out:
        layers.append(points("out of limits, not counted", of.out, Marker.CROSS))
    return Chart(
        f"UV-A of lamp {of.lamp}",
        "day of the reading",
        f"UV-A at 15 in, {on_paper(unit)}",
        tuple(layers),
        x_is_date=True,
    )


def _line_layers(of: LampReadings, trend: uv_a_trend.Trend, today: float, *, dated: bool) -> list[Layer]:
    first = day_number(of.kept[0].when.local.date())
    last = max(today, day_number(of.kept[-1].when.local.date()))
    lower = trend.crossing_day(of.limit.number.value)
    ahead = last + max(_AHEAD_LEAST, (last - first) / 2)
    if dated and lower is not None and last < lower < last + _AHEAD_MOST:
        ahead = max(ahead, lower + 0.06 * (lower - first))
    xs = spread(first, ahead)
    at = [trend.line.at(x) for x in xs]
    error = [trend.line.new_value_error(x) for x in xs]
    two, one = trend.line.quantile(0.975), trend.line.quantile(0.95)

    def beside(times: float) -> tuple[float, ...]:
        return tuple(exp(a + times * e) for a, e in zip(at, error, strict=True))

    layers: list[Layer] = [
        Band("95 % prediction band of one reading", xs, beside(-two), beside(two)),
        Curve("line of the readings as found", xs, beside(0.0)),
        Curve("lower one-sided 95 % limit", xs, beside(-one), Dash.DOTTED),
    ]
    if dated and lower is not None and first <= lower <= ahead:
        layers.append(Upright(f"meets the limit {day_text(lower)}", lower))
    return layers


def lamp_table(of: LampReadings, tested: Tested) -> SheetTable:
    """The readings as found, newest first, each beside the line of those before it."""
    rows = []
    for reading in of.read:
        ratio, z = tested.get(reading.position, (0.0, 0.0))
        value = of.value(reading)
        mark = "OUT" if value < of.limit.number.value else "jump" if jumped(tested, reading) else ""
        against = (f"{100 * (ratio - 1):+.1f} %", f"{z:+.1f}" if isfinite(z) else "") if ratio else ("", "")
        corrected = f"{value:.0f}" if value != float(reading.fact.value.in_unit(of.limit.number.unit)) else ""
        rows.append((clock_text(reading.when), value_text(reading.fact.value), corrected, *against, mark))
    shown, heading = newest(rows, f"Readings of {of.lamp} as found")
    columns = (
        ("Read", 0.2),
        ("UV-A", 0.2),
        ("Worst case by its meter", 0.2),
        ("From the line before", 0.16),
        ("Standard errors", 0.14),
        ("Mark", 0.1),
    )
    marked = frozenset(number for number, row in enumerate(shown) if row[-1])
    return SheetTable(heading, columns, shown, "It was never read as found.", marked)
