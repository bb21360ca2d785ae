"""The contamination of a bath over days: its rise, and a chart of individuals; never added to the particles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from ndi.calc import straight_line
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.vocabulary import Method, Quantity
from ndi.services.chart_models import Band, Chart, Curve, Points
from ndi.services.lookup import about
from ndi.services.paper_text import value_text
from ndi.services.report_models import Labelled
from ndi.services.study import BAND_READINGS, Study, at_days, count_of, places, readings_needed, spread, strictest
from ndi.services.trend_control import Single, control_study
from ndi.services.workplace import Workplace

_STILL_ML = 0.0005  # a week: a twentieth of what a settling tube shows


def contamination_study(work: Workplace, bath: str, *, since: date | None = None) -> Study:
    """Contamination as it stands beside each settling result; never added to the particles."""
    with work.look() as session:
        entered = about(session, f.EquipmentEntered, bath)
        if not any(r.fact.equipment == bath and r.fact.kind == "bath" for r in entered):
            raise NotFound(f"{bath} is no bath of this book")
        readings = [r for r in about(session, f.ReadingRecorded, bath) if r.fact.object == bath]
        needed = readings_needed(work, session)
        limit = strictest(work, session, "bath_contamination_interval", least=False, method=Method.MT)
    readings = [r for r in readings if since is None or r.when.local.date() >= since]
    singles = [single for r in readings if (single := _contamination(r)) is not None]
    missing = [r for r in readings if r.fact.quantity == Quantity.PARTICLE_VOLUME and r.fact.contamination is None]
    left_out = (
        (f"{count_of(len(missing), 'settling result')} that does not state its contamination",) if missing else ()
    )
    study = control_study(
        f"contamination {bath}",
        f"Contamination of bath {bath}",
        singles,
        "mL",
        (),
        int(needed.number.value),
        needed,
        left_out,
    )
    checked = (
        (Labelled("Checked", f"every {limit.text}; the check itself says whether it is met"),)
        if limit is not None
        else ()
    )
    risen, line_chart = _rise(bath, singles)
    return replace(
        study,
        says=f"{study.says} {risen}".strip(),
        lines=(*study.lines, *checked),
        charts=(*line_chart, *study.charts),
    )


def _contamination(reading: Recorded[f.ReadingRecorded]) -> Single | None:
    value = reading.fact.value if reading.fact.quantity == Quantity.CONTAMINATION else reading.fact.contamination
    return None if value is None else Single(reading.when, value.in_unit("mL"), value_text(value), reading.position)


def _rise(bath: str, singles: Sequence[Single]) -> tuple[str, tuple[Chart, ...]]:
    """Contamination against days with its band, where there are enough readings on different days."""
    if len(singles) < BAND_READINGS:
        return "", ()
    days = at_days([s.when for s in singles])
    try:
        line = straight_line.least_squares(days, [float(s.value) for s in singles])
    except InputError:
        return "", ()
    xs = spread(days[0], days[-1] + max(1.0, (days[-1] - days[0]) / 4))
    half = [line.quantile(0.975) * line.new_value_error(x) for x in xs]
    at = [line.at(x) for x in xs]
    chart = Chart(
        f"Contamination of bath {bath} over days",
        "day of the reading",
        "contamination, mL in 100 mL",
        (
            Band(
                "95 % prediction band of one reading",
                xs,
                tuple(max(a - h, 0.0) for a, h in zip(at, half, strict=True)),
                tuple(a + h for a, h in zip(at, half, strict=True)),
            ),
            Curve("line of the readings", xs, tuple(at)),
            Points("contamination", days, tuple(float(s.value) for s in singles)),
        ),
        x_is_date=True,
        from_zero=True,
    )
    if abs(line.slope) * 7 < _STILL_ML:
        return "It stays where it is.", (chart,)
    return f"It {'rises' if line.slope > 0 else 'falls'} by {places(abs(line.slope) * 7)} mL a week.", (chart,)
