"""How a magnetic bath loses its particles by use: its line over shots, the shots that are left, the dose (I.3)."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ndi.calc import bath_trend, straight_line
from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Condition, Method, Quantity
from ndi.services.chart_models import Band, Chart, Curve, Dash, Layer, Level, Marker, Points, Upright
from ndi.services.lookup import about, every
from ndi.services.paper_text import on_paper, value_text
from ndi.services.ports import Session
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.study import BAND_READINGS, Limit, Study, clock_text, count_of, newest, places, spread, strictest
from ndi.services.workplace import Workplace

Reading = Recorded[f.ReadingRecorded]

DOSE_KEYS = ("volume_l", "target_ml", "mix_g_per_l", "mix_ml")
_SOURCE = (
    "least squares of particle volume on shots and prediction interval of one result: NIST/SEMATECH e-Handbook, section 4; "
    "even drag-out from shot to shot: common practice, no source"
)
_DOSE_SOURCE = "dose = volume x (target - last result) x mix mass per litre / mL of the fresh mix"


@dataclass(frozen=True)
class _Result:
    """A settling result with the shots that the bath had seen when its sample was drawn."""

    reading: Reading
    shots: int

    @property
    def ml(self) -> float:
        return float(self.reading.fact.value.in_unit("mL"))


def bath_study(
    work: Workplace, bath: str, *, since: date | None = None, dose: Mapping[str, Number] | None = None
) -> Study:
    """The study of one bath since it was last filled or added to; ``dose`` holds all of DOSE_KEYS, or nothing."""
    with work.look() as session:
        entered = [r.fact for r in every(session, f.EquipmentEntered)]
        if not any(e.equipment == bath and e.kind == "bath" for e in entered):
            raise NotFound(f"{bath} is no bath of this book")
        benches = sorted({e.equipment for e in entered if e.tank_bath == bath})
        readings = [
            r
            for r in about(session, f.ReadingRecorded, bath)
            if (r.fact.object, r.fact.quantity) == (bath, Quantity.PARTICLE_VOLUME)
        ]
        kept, why = _segment(session, readings, benches, since)
        results = _counted(session, kept, bath, benches)
        limits = [
            found
            for key, least in (
                ("bath_working_min", True),
                ("bath_hard_min", True),
                ("bath_working_max", False),
            )
            if (found := strictest(work, session, key, least=least, method=Method.MT))
        ]
    left = len(readings) - len(kept)
    left_out = (f"{count_of(left, 'result')} before {why}",) if left else ()
    if len(results) < BAND_READINGS or len({r.shots for r in results}) < 2:
        says = (
            f"Too few results for a trend of {bath}: {count_of(len(results), 'result')} since {why or 'the first'}, at "
            f"{count_of(len({r.shots for r in results}), 'different count')} of shots; {BAND_READINGS} results at different "
            "counts are needed. Each result is judged by its limits alone."
        )
        lines = [Labelled("Limit", limit.text) for limit in limits]
        figures: dict[str, object] = {"results": len(results)}
        line = None
        enough = False
    else:
        line = straight_line.least_squares([float(r.shots) for r in results], [r.ml for r in results])
        says, lines, figures = _answered(bath, results, line, limits)
        enough = True
    lines = [*lines, _dose_line(results, dose, figures)]
    return Study(
        f"bath {bath}",
        f"Particles of bath {bath}",
        says,
        tuple(lines),
        (_chart(bath, results, line, limits),) if results else (),
        (_table(bath, results, line),),
        left_out,
        (*(limit.source for limit in limits), _SOURCE, _DOSE_SOURCE),
        enough=enough,
        figures=figures,
    )


def _segment(
    session: Session, readings: Sequence[Reading], benches: Sequence[str], since: date | None
) -> tuple[list[Reading], str]:
    """The results that one line may go through, and since when: from the last filling or the last result as left."""
    starts = [(r.at, f"the bath was filled on {clock_text(r.when)}") for b in benches for r in _fillings(session, b)]
    starts += [
        (r.at, f"the result as left on {clock_text(r.when)}")
        for r in readings
        if r.fact.condition in (Condition.AS_LEFT, Condition.AFTER_CLEANING)
    ]
    if since is not None:
        return [r for r in readings if r.when.local.date() >= since], f"{since}, as asked"
    if not starts:
        return list(readings), ""
    begun, why = max(starts)
    return [r for r in readings if r.at >= begun], why


def _fillings(session: Session, bench: str) -> list[Recorded[f.TankFilled]]:
    return [r for r in about(session, f.TankFilled, bench) if r.fact.line == bench]


def _counted(session: Session, readings: Sequence[Reading], bath: str, benches: Sequence[str]) -> list[_Result]:
    """The sample tells of the bath as it was drawn, an hour before it is read."""
    if not readings:
        return []
    fired = sorted(
        utc_from_text(shot.at) for shot in session.fields(f.ShotFired, ("bench",)) if shot.values[0] in benches
    )
    drawn = [r.at for r in about(session, f.BathSampled, bath)]
    found = []
    for number, reading in enumerate(readings):
        earlier = readings[number - 1].at if number else None
        samples = [at for at in drawn if at <= reading.at and (earlier is None or at > earlier)]
        found.append((reading, samples[-1] if samples else reading.at))
    first = bisect_right(fired, found[0][1])
    return [_Result(reading, bisect_right(fired, at) - first) for reading, at in found]


def _answered(
    bath: str, results: Sequence[_Result], line: straight_line.Line, limits: Sequence[Limit]
) -> tuple[str, list[Labelled], dict[str, object]]:
    last = results[-1]
    figures: dict[str, object] = {
        "results": len(results),
        "intercept_ml": line.intercept,
        "slope_ml_per_shot": line.slope,
        "s_ml": line.s,
        "last_ml": last.ml,
        "shots": last.shots,
    }
    lines = [
        Labelled(
            "Loss",
            f"{places(-line.slope * 100)} mL for 100 shots, {len(results)} results, residual {places(line.s)} mL",
        )
    ]
    says = ""
    for limit in limits:
        if limit.key == "bath_working_max":
            lines.append(Labelled("Most, working", limit.text))
            continue
        level = float(limit.number.in_unit("mL"))
        at, lower = bath_trend.shot_at(line, level), straight_line.lower_limit_falls_to(line, level)
        left = bath_trend.shots_left(line, last.ml, level)
        name = "working" if limit.key == "bath_working_min" else "hard"
        figures |= {f"{name}_at_shot": at, f"{name}_at_shot_lower": lower, f"{name}_shots_left": left}
        if at is None or left is None:
            lines.append(Labelled(f"Least, {name}", f"{limit.text}: the line does not fall to it"))
            continue
        by_band = f", {lower:.0f} by the lower one-sided 95 % limit" if lower is not None else ""
        lines.append(
            Labelled(
                f"Least, {name}",
                f"{limit.text}: at shot {at:.0f} by the line{by_band}; {left:.0f} shots from the last result",
            )
        )
        if not says:
            reach = f"after about {max(left, 0.0):.0f} more shots" if left > 0 else "already"
            says = f"{bath} loses {places(-line.slope * 100)} mL for 100 shots and meets the {name} limit {limit.text} {reach}."
    if not says:
        says = f"{bath} does not lose particles by this line ({places(line.slope * 100)} mL for 100 shots): look at pump and settling."
    outside = _last_outside(results)
    if outside is not None:
        is_out, low, high = outside
        figures["last_outside_band"] = is_out
        where = f"the 95 % band of those before it ({low:.3f} to {high:.3f} mL)"
        if is_out:
            says += f" The last result lies outside {where}: look at pump and agitation rather than drag-out."
        lines.append(
            Labelled(
                "Last result", f"{value_text(last.reading.fact.value)}, {'outside' if is_out else 'inside'} {where}"
            )
        )
    return says, lines, figures


def _last_outside(results: Sequence[_Result]) -> tuple[bool, float, float] | None:
    """Whether the last result lies outside the band of those before it, and that band; None where they give none."""
    earlier = results[:-1]
    if len(earlier) < BAND_READINGS or len({r.shots for r in earlier}) < 2:
        return None
    line = straight_line.least_squares([float(r.shots) for r in earlier], [r.ml for r in earlier])
    at = float(results[-1].shots)
    half = line.quantile(0.975) * line.new_value_error(at)
    return abs(results[-1].ml - line.at(at)) > half, line.at(at) - half, line.at(at) + half


def _dose_line(results: Sequence[_Result], dose: Mapping[str, Number] | None, figures: dict[str, object]) -> Labelled:
    if not dose:
        return Labelled("Dose", f"not worked out: it needs {', '.join(DOSE_KEYS)}")
    missing = [key for key in DOSE_KEYS if key not in dose]
    if missing:
        raise InputError(f"a dose needs {', '.join(DOSE_KEYS)}; {missing[0]} is missing")
    if not results:
        raise InputError("a dose needs a result of the bath: settle a sample first")
    volume, target, mix_g, mix_ml = (dose[key].value for key in DOSE_KEYS)
    last = results[-1].reading.fact.value
    grams = bath_trend.dose(volume, last.in_unit("mL"), target, mix_g, mix_ml)
    figures["dose_g"] = float(grams)
    return Labelled(
        "Dose",
        f"{float(grams):.1f} g of powder lift {dose['volume_l'].typed} L from {value_text(last)} to "
        f"{dose['target_ml'].typed} mL ({dose['mix_g_per_l'].typed} g/L gives {dose['mix_ml'].typed} mL); settle a sample afterwards",
    )


def _chart(bath: str, results: Sequence[_Result], line: straight_line.Line | None, limits: Sequence[Limit]) -> Chart:
    layers: list[Layer] = []
    if line is not None:
        last = float(results[-1].shots)
        shots = [
            at for limit in limits if (at := bath_trend.shot_at(line, float(limit.number.in_unit("mL")))) is not None
        ]
        ahead = max([last * 1.15, *(at * 1.03 for at in shots if last < at < 3 * last)], default=last) or 1.0
        xs = spread(0.0, ahead)
        middle = tuple(line.at(x) for x in xs)
        half = [line.quantile(0.975) * line.new_value_error(x) for x in xs]
        low, high = (tuple(m + side * h for m, h in zip(middle, half, strict=True)) for side in (-1, 1))
        layers.append(Band("95 % prediction band of one result", xs, low, high))
        layers.append(Curve("line of the results", xs, middle))
        working = next((limit for limit in limits if limit.key == "bath_working_min"), None)
        if working is not None:
            meets = straight_line.lower_limit_falls_to(line, float(working.number.in_unit("mL")))
            if meets is not None and 0 <= meets <= ahead:
                layers.append(Upright(f"lower one-sided 95 % limit meets it at shot {meets:.0f}", meets))
    for limit in limits:
        words = {
            "bath_working_min": "least, working",
            "bath_hard_min": "least, hard",
            "bath_working_max": "most, working",
        }
        dash = Dash.DASHED if "working" in limit.key else Dash.SOLID
        layers.append(Level(f"{words[limit.key]} {limit.text}", float(limit.number.in_unit("mL")), dash, is_limit=True))
    counts = tuple(float(r.shots) for r in results)
    layers.append(Points("settling result, contamination subtracted", counts, tuple(r.ml for r in results), Marker.DOT))
    return Chart(
        f"Particles of bath {bath} over shots",
        "shots fired in this bath when the sample was drawn",
        "particle volume, mL in 100 mL",
        tuple(layers),
        x_counts=True,
    )


def _table(bath: str, results: Sequence[_Result], line: straight_line.Line | None) -> SheetTable:
    rows = [
        (
            clock_text(r.reading.when),
            str(r.shots),
            value_text(r.reading.fact.value),
            value_text(r.reading.fact.contamination),
            f"{line.at(float(r.shots)):.3f} mL" if line else "",
            on_paper(r.reading.fact.condition or ""),
        )
        for r in results
    ]
    shown, heading = newest(rows, f"Settling results of {bath}")
    columns = (
        ("Read", 0.2),
        ("Shots", 0.12),
        ("Particles", 0.17),
        ("Contamination", 0.17),
        ("By the line", 0.17),
        ("Condition", 0.17),
    )
    return SheetTable(heading, columns, shown, "No settling result is recorded.")
