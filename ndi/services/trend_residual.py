"""Residual fields of one part number: how near the limit they end, at which point, after how many passes (I.15)."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from statistics import median

from ndi.calc import agreement
from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number, shown
from ndi.domain.vocabulary import Method
from ndi.services.chart_models import Chart, Dash, Layer, Level, Marker, Points
from ndi.services.paper_text import value_text
from ndi.services.ports import Fields, Session
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.study import Limit, Study, count_of, midnight, readings_needed, strictest
from ndi.services.trend_control import Single, control_study
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class _Field:
    """The readings at one point of one record, in the order in which they were taken."""

    inspection: str
    point: str
    values: tuple[Fraction, ...]
    last: Fields

    @property
    def size(self) -> Fraction:
        return abs(self.values[-1])

    @property
    def when(self) -> Moment:
        return Moment(utc_from_text(self.last.at), self.last.offset_min)


def residual_study(work: Workplace, part_no: str, *, since: date | None = None) -> Study:
    """The last reading at every point of every record of one part number, in gauss."""
    with work.look() as session:
        limit = strictest(work, session, "residual_max", least=False, method=Method.MT)
        if limit is None:
            raise NotFound("no procedure in force holds residual_max, the most residual field: a Level III sets it")
        fields = _fields(session, part_no, limit.number.unit, since, work.now().offset_min)
        needed = readings_needed(work, session)
    if not fields:
        raise NotFound(f"no residual field of a part {part_no} is recorded{f' since {since}' if since else ''}")
    unit, most = limit.number.unit, limit.number.value
    singles = [Single(x.when, x.size, shown(x.size, unit), x.last.position) for x in fields]
    title = f"Residual field of {part_no}"
    control = control_study(f"residual {part_no}", title, singles, unit, (limit,), int(needed.number.value), needed)
    worst = max(fields, key=lambda x: x.size)
    over = [x for x in fields if x.size > most]
    passes = agreement.demagnetizing([x.values for x in fields], most)
    records = len({x.inspection for x in fields})
    says = (
        f"{part_no}: {count_of(len(fields), 'point')} of {count_of(records, 'record')} end at "
        f"{shown(_median(fields), unit)} in the middle and {shown(worst.size, unit)} at worst ({worst.point}, "
        f"{worst.inspection}), the limit being {limit.text}. "
        + (f"{count_of(len(over), 'point')} ended above it." if over else "None ended above it.")
    )
    lines = (
        Labelled("Limit", f"most {limit.text}"),
        Labelled("Passes usually needed", _passes_text(passes)),
        Labelled(
            "Direction",
            f"{passes.plus} end positive, {passes.minus} negative, {len(fields) - passes.plus - passes.minus} at none",
        ),
        Labelled("Steady", control.says if control.enough else "too few readings for control limits"),
    )
    return Study(
        f"residual {part_no}",
        title,
        says,
        lines,
        (_chart(part_no, fields, limit), *(control.charts if control.enough else ())),
        (_by_point(fields, limit),),
        (),
        (limit.source, *control.sources[1:]),
        enough=control.enough,
        figures={
            "points": len(fields),
            "records": records,
            "median": float(_median(fields)),
            "worst": float(worst.size),
            "above": len(over),
            "usual_passes": passes.usual_passes,
            "unit": unit,
        },
    )


def _fields(session: Session, part_no: str, unit: str, since: date | None, offset_min: int) -> list[_Field]:
    records = {row.inspection for row in session.briefs().values() if row.part_no == part_no}
    found: dict[tuple[str, str], list[Fields]] = defaultdict(list)
    start = midnight(since, offset_min) if since is not None else None
    for read in session.fields(f.ResidualRead, ("inspection", "point", "value"), start):
        inspection, point, value = read.values
        if inspection is not None and inspection in records and point is not None and value is not None:
            found[inspection, point].append(read)
    fields = [
        _Field(inspection, point, tuple(_gauss(read, unit) for read in reads), reads[-1])
        for (inspection, point), reads in found.items()
    ]
    return sorted(fields, key=lambda x: (x.last.at, x.last.position))


def _gauss(read: Fields, unit: str) -> Fraction:
    value = json.loads(read.values[2] or "{}")
    return Number(value["typed"], value["unit"]).in_unit(unit)


def _median(fields: Sequence[_Field]) -> Fraction:
    return Fraction(median([x.size for x in fields]))


def _passes_text(passes: agreement.Demagnetizing) -> str:
    if passes.usual_passes is None:
        return "none came within the limit"
    never = f"; {count_of(len(passes.never_within), 'point')} never within" if passes.never_within else ""
    return f"{passes.usual_passes} usually, {passes.most_passes} at most{never}"


def _chart(part_no: str, fields: Sequence[_Field], limit: Limit) -> Chart:
    names = tuple(dict.fromkeys(x.point for x in sorted(fields, key=lambda x: x.point)))
    at = {name: float(n) for n, name in enumerate(names)}
    seen: dict[str, int] = defaultdict(int)
    lasts: list[tuple[float, float]] = []
    earlier: list[tuple[float, float]] = []
    for each in fields:
        aside = ((seen[each.point] % 9) - 4) * 0.07
        seen[each.point] += 1
        x = at[each.point] + aside
        lasts.append((x, float(each.values[-1])))
        earlier += [(x, float(value)) for value in each.values[:-1]]
    most = float(limit.number.value)
    layers: list[Layer] = [
        Level(f"most {limit.text}, either direction", most, is_limit=True),
        Level("", -most, is_limit=True),
        Level("no field", 0.0, Dash.DOTTED),
    ]
    if earlier:
        layers.append(Points("before the last pass", *_columns(earlier), Marker.RING))
    layers.append(Points("after the last pass", *_columns(lasts), Marker.DOT))
    return Chart(
        f"Residual field of {part_no} by point",
        "point of the technique sheet",
        f"residual field, {limit.number.unit}",
        tuple(layers),
        x_names=names,
    )


def _columns(pairs: Sequence[tuple[float, float]]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    return tuple(x for x, _ in pairs), tuple(y for _, y in pairs)


def _by_point(fields: Sequence[_Field], limit: Limit) -> SheetTable:
    groups: dict[str, list[_Field]] = defaultdict(list)
    for each in fields:
        groups[each.point].append(each)
    unit, most = limit.number.unit, limit.number.value
    rows, act = [], set()
    for number, (point, of) in enumerate(sorted(groups.items())):
        worst = max(of, key=lambda x: x.size)
        share = round(100 * worst.size / most) if most else 0
        rows.append(
            (point, str(len(of)), shown(_median(of), unit), shown(worst.size, unit), f"{share} %", worst.inspection)
        )
        if worst.size > most:
            act.add(number)
    columns = (
        ("Point", 0.26),
        ("Records", 0.12),
        ("Middle", 0.15),
        ("Worst", 0.15),
        (f"Worst of {value_text(limit.number)}", 0.16),
        ("In record", 0.16),
    )
    return SheetTable("By point, after the last pass", columns, tuple(rows), "None recorded.", frozenset(act))
