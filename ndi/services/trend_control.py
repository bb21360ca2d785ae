"""Charts of individuals with run rules for any reading that a shop repeats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ndi.calc import control_chart
from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.domain.quantity import shown
from ndi.domain.vocabulary import Condition, Quantity
from ndi.services.chart_models import Chart, Curve, Dash, Layer, Level, Marker, Points
from ndi.services.lookup import about
from ndi.services.paper_text import on_paper, value_text
from ndi.services.ports import Session
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.study import (
    Limit,
    Study,
    at_days,
    clock_text,
    count_of,
    newest,
    readings_needed,
    strictest,
)
from ndi.services.workplace import Workplace

# the limits of a repeated reading: keys of the least and of the most
_LIMITS: dict[str, tuple[tuple[str, bool], ...]] = {
    Quantity.UV_A: (("uv_min", True),),
    Quantity.UV_A_AT_PART: (("uv_at_part_min", True), ("uv_at_part_max", False)),
    Quantity.AMBIENT: (("ambient_max", False),),
    Quantity.WHITE_LIGHT: (("white_light_min", True),),
    Quantity.PARTICLE_VOLUME: (("bath_working_min", True), ("bath_working_max", False)),
    Quantity.WATER_TEMPERATURE: (("water_temperature_min", True), ("water_temperature_max", False)),
    Quantity.WATER_PRESSURE: (("water_pressure_max", False),),
    Quantity.DRYER_TEMPERATURE: (("dryer_temperature_max", False),),
    Quantity.REMOVER_CONCENTRATION: (("remover_concentration_max", False),),
    Quantity.SPECKS: (("specks_max", False),),
    Quantity.WATER_CONTENT: (("water_content_max", False),),
    Quantity.BRIGHTNESS: (("brightness_min", True),),
    Quantity.RING_HOLES: (("ring_holes_min", True),),
}
_RULE_WORDS = {
    "1": "1: beyond 3 sigma",
    "2": "2: two of three beyond 2 sigma",
    "3": "3: four of five beyond 1 sigma",
    "4": "4: eight in a row on one side",
    "trend": "six in a row rising or falling",
    "alternating": "fourteen in a row up and down",
}
SOURCE = "individuals chart and run rules: NIST/SEMATECH e-Handbook, 6.3.2 and 6.3.2.2 (limits mean -/+ 3/1.128 mean moving range)"


@dataclass(frozen=True)
class Single:
    """One value of a chart of individuals."""

    when: Moment
    value: Fraction
    text: str
    position: int


@dataclass(frozen=True)
class Charted:
    """A chart of individuals; ``signals`` by the number of the value, from 0."""

    chart: Chart
    table: SheetTable
    limits: control_chart.Limits
    mean_range: Fraction
    signals: dict[int, tuple[str, ...]]


def individuals(
    singles: Sequence[Single], title: str, y_label: str, unit: str, limits: Sequence[tuple[str, Fraction]] = ()
) -> Charted:
    """The chart of some values in the order in which they came; InputError below two."""
    values = [single.value for single in singles]
    found, mean_range = control_chart.individuals(values)
    signals: dict[int, list[str]] = {}
    for signal in control_chart.run_rules(values, found.centre, mean_range / control_chart.D2):
        signals.setdefault(signal.at, []).append(_RULE_WORDS[signal.rule])
    said = {at: tuple(words) for at, words in signals.items()}
    xs = at_days([single.when for single in singles])
    if len(set(xs)) < len(xs) or xs[-1] - xs[0] < 2:  # several at one time: the order tells more than the clock
        xs, over_dates = tuple(float(n + 1) for n in range(len(xs))), False
    else:
        over_dates = True
    calm = [n for n in range(len(xs)) if n not in said]
    layers: list[Layer] = [
        Level(f"mean {_short(found.centre)}", float(found.centre), Dash.SOLID),
        Level(f"control limits {_short(found.low)} and {_short(found.high)}", float(found.low), Dash.DOTTED),
        Level("", float(found.high), Dash.DOTTED),
        *(Level(words, float(value), is_limit=True) for words, value in limits),
        Curve("", xs, tuple(float(v) for v in values), Dash.SOLID),
        Points("reading", tuple(xs[n] for n in calm), tuple(float(values[n]) for n in calm), Marker.DOT),
    ]
    if said:
        at = sorted(said)
        layers.append(
            Points("a run rule speaks", tuple(xs[n] for n in at), tuple(float(values[n]) for n in at), Marker.CROSS)
        )
    chart = Chart(
        title,
        "day of the reading" if over_dates else "readings in order",
        y_label,
        tuple(layers),
        x_is_date=over_dates,
        x_counts=not over_dates,
    )
    rows = [(clock_text(s.when), s.text, "; ".join(said.get(n, ()))) for n, s in enumerate(singles)]
    shown_rows, heading = newest(rows, "Readings")
    flags = frozenset(n for n, row in enumerate(shown_rows) if row[2])
    table = SheetTable(
        heading, (("Read", 0.24), (f"Value, {on_paper(unit)}", 0.26), ("Run rules", 0.5)), shown_rows, emphasised=flags
    )
    return Charted(chart, table, found, mean_range, said)


def _short(value: Fraction) -> str:
    return shown(value, digits=3).lstrip("~")


def readings_study(work: Workplace, object_: str, quantity: str, *, since: date | None = None) -> Study:
    """The chart of individuals of one quantity of one object, as found where it is read both ways."""
    with work.look() as session:
        every = [
            r
            for r in about(session, f.ReadingRecorded, object_)
            if r.fact.object == object_
            and r.fact.quantity == quantity
            and (since is None or r.when.local.date() >= since)
        ]
        if not every:
            raise NotFound(
                f"the book holds no reading of {quantity} of {object_}" + (f" since {since}" if since else "")
            )
        limits = _limits(work, session, quantity)
        needed = readings_needed(work, session)
    unit = limits[0].number.unit if limits else every[-1].fact.value.unit
    kept = [r for r in every if r.fact.condition not in (Condition.AS_LEFT, Condition.AFTER_CLEANING)]
    left_out = (
        (f"{count_of(len(every) - len(kept), 'reading')} as left or after cleaning",) if len(kept) < len(every) else ()
    )
    singles = [Single(r.when, r.fact.value.in_unit(unit), value_text(r.fact.value), r.position) for r in kept]
    title = f"{quantity} of {object_}"
    return control_study(
        f"readings {object_} {quantity}", title, singles, unit, limits, int(needed.number.value), needed, left_out
    )


def control_study(
    name: str,
    title: str,
    singles: Sequence[Single],
    unit: str,
    limits: Sequence[Limit],
    least: int,
    needed: Limit,
    left_out: tuple[str, ...] = (),
) -> Study:
    """A chart of individuals as a study; too few values are said, and their chart has no control limits."""
    levels = [(_limit_text(limit), limit.number.in_unit(unit)) for limit in limits]
    lines = [Labelled("Limit", _limit_text(limit)) for limit in limits] or [
        Labelled("Limit", "the procedures in force hold none for this")
    ]
    sources = (*(limit.source for limit in limits), SOURCE, needed.source)
    y_label = f"{title.split(' of ')[0]}, {on_paper(unit)}"
    if len(singles) < max(least, 2):
        says = (
            f"Too few readings for control limits ({title}): {len(singles)} of {least} ({needed.where}). "
            "Each reading is judged by its limit alone."
        )
        xs = tuple(float(n + 1) for n in range(len(singles)))
        points = Points("reading", xs, tuple(float(s.value) for s in singles))
        chart = Chart(
            title,
            "readings in order",
            y_label,
            (*(Level(words, float(value), is_limit=True) for words, value in levels), points),
            x_counts=True,
        )
        rows, heading = newest([(clock_text(s.when), s.text) for s in singles], "Readings")
        table = SheetTable(heading, (("Read", 0.4), ("Value", 0.6)), rows)
        return Study(
            name,
            title,
            says,
            tuple(lines),
            (chart,) if singles else (),
            (table,),
            left_out,
            sources,
            enough=False,
            figures={"readings": len(singles), "needed": least},
        )
    made = individuals(singles, title, y_label, unit, levels)
    spoke = sorted(made.signals)
    if spoke:
        last = max(spoke)
        says = (
            f"{title}: a run rule speaks at {count_of(len(spoke), 'reading')}, last on {clock_text(singles[last].when)} "
            f"({'; '.join(made.signals[last])}). Look for what changed."
        )
    else:
        says = f"{title}: steady, no run rule speaks over {len(singles)} readings."
    lines += [
        Labelled("Mean", f"{_short(made.limits.centre)} {on_paper(unit)}"),
        Labelled("Control limits", f"{_short(made.limits.low)} to {_short(made.limits.high)} {on_paper(unit)}"),
        Labelled("Mean moving range", f"{_short(made.mean_range)} {on_paper(unit)}, {len(singles)} readings"),
    ]
    return Study(
        name,
        title,
        says,
        tuple(lines),
        (made.chart,),
        (made.table,),
        left_out,
        sources,
        figures={
            "readings": len(singles),
            "centre": made.limits.centre,
            "lower_limit": made.limits.low,
            "upper_limit": made.limits.high,
            "mean_moving_range": made.mean_range,
            "signals": {str(at): list(words) for at, words in made.signals.items()},
        },
    )


def _limits(work: Workplace, session: Session, quantity: str) -> list[Limit]:
    found = (strictest(work, session, key, least=least) for key, least in _LIMITS.get(quantity, ()))
    return [limit for limit in found if limit is not None]


def _limit_text(limit: Limit) -> str:
    return f"{'least' if limit.key.endswith('_min') else 'most'} {limit.text}"
