"""What calibrations found of a meter, an ammeter, a gaussmeter: the error each time, where it is going (beside I.5)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ndi.calc import straight_line
from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.vocabulary import Method
from ndi.services.chart_models import Band, Chart, Curve, Dash, Layer, Level, Points, day_number
from ndi.services.lookup import about
from ndi.services.paper_text import value_text
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.study import BAND_READINGS, Limit, Study, count_of, spread, strictest
from ndi.services.workplace import Workplace

AMMETER = "ammeter"
_SOURCE = (
    "least squares of the as-found error on day and prediction interval of one calibration: NIST/SEMATECH e-Handbook, "
    "section 4; that an error grows evenly: common practice, no source (the worst case stands beside it in ndi recall)"
)


@dataclass(frozen=True)
class _Item:
    """The calibrations of one item of a meter, by day."""

    item: str
    every: tuple[f.CalibrationRecorded, ...]

    @property
    def told(self) -> list[tuple[f.CalibrationRecorded, float]]:
        """Those that say what they found, with the error in percent."""
        return [
            (c, float(c.as_found_error_percent.in_unit("%")))
            for c in self.every
            if c.as_found_error_percent is not None
        ]


def meter_study(work: Workplace, meter: str, *, item: str | None = None) -> Study:
    """Every item of one meter (or bench); NotFound where no calibration is recorded."""
    with work.look() as session:
        facts = [r.fact for r in about(session, f.CalibrationRecorded, meter)]
        facts = [c for c in facts if c.equipment == meter and item in (None, c.item)]
        if not facts:
            raise NotFound(f"no calibration of {meter}{f', {item},' if item else ''} is in this book")
        tolerance = strictest(work, session, "amps_tolerance", least=False, method=Method.MT)
    names = list(dict.fromkeys(c.item for c in facts))
    items = [_Item(n, tuple(sorted((c for c in facts if c.item == n), key=lambda c: c.done))) for n in names]
    today = day_number(work.now().local.date())
    answers = [_answered(each, today) for each in items]
    silent = sum(len(each.every) - len(each.told) for each in items)
    limits = [tolerance] if tolerance is not None and any(_is_ammeter(each) for each in items) else []
    charts = tuple(_chart(meter, each, tolerance if _is_ammeter(each) else None) for each in items if each.told)
    return Study(
        f"meter {meter}",
        f"Calibration errors of {meter}",
        " ".join(f"{meter} {each.item}: {says}" for each, (says, _, _) in zip(items, answers, strict=True)),
        (
            *(Labelled(each.item, line) for each, (_, line, _) in zip(items, answers, strict=True)),
            *(Labelled("Shots may be off by", limit.text) for limit in limits),
            Labelled("Limit of the error", "stands on the certificate; this book holds none"),
        ),
        charts,
        (_table(items),),
        (f"{count_of(silent, 'calibration')} without a figure: only within tolerance or not",) if silent else (),
        (*(limit.source for limit in limits), _SOURCE),
        enough=any(enough for _, _, enough in answers),
        figures={each.item: [error for _, error in each.told] for each in items},
    )


def _is_ammeter(each: _Item) -> bool:
    return AMMETER in each.item.lower()


def _line(told: Sequence[tuple[f.CalibrationRecorded, float]]) -> straight_line.Line | None:
    days = [day_number(c.done) for c, _ in told]
    if len(told) < BAND_READINGS or len(set(days)) < 2:
        return None
    return straight_line.least_squares(days, [error for _, error in told])


def _answered(each: _Item, today: float) -> tuple[str, str, bool]:
    """A sentence, a line of figures, and whether there was enough for a line."""
    told = each.told
    if not told:
        return (
            "no calibration says by how much it was off.",
            f"{count_of(len(each.every), 'calibration')}, no figure",
            False,
        )
    last, error = told[-1]
    worst = max((abs(e) for _, e in told), default=0.0)
    figures = f"last {error:+.1f} % on {last.done}, worst {worst:.1f} %, {count_of(len(told), 'figure')}"
    line = _line(told)
    if line is None:
        says = f"too few calibrations with a figure for a trend ({len(told)} of {BAND_READINGS}); the last found {error:+.1f} %."
        return says, figures, False
    due = max(day_number(last.due), today)
    half = line.quantile(0.975) * line.new_value_error(due)
    at = line.at(due)
    says = (
        f"{365.25 * line.slope:+.1f} % a year; at {'its next calibration' if due == day_number(last.due) else 'this day'} "
        f"{at:+.1f} % is to be expected (95 % prediction band {at - half:+.1f} to {at + half:+.1f} %)."
    )
    return says, figures, True


def _chart(meter: str, each: _Item, tolerance: Limit | None) -> Chart:
    told = each.told
    days, errors = tuple(day_number(c.done) for c, _ in told), tuple(error for _, error in told)
    layers: list[Layer] = []
    line = _line(told)
    if line is not None:
        xs = spread(days[0], max(day_number(told[-1][0].due), days[-1] + 1))
        half = [line.quantile(0.975) * line.new_value_error(x) for x in xs]
        middle = tuple(line.at(x) for x in xs)
        low, high = (tuple(m + side * h for m, h in zip(middle, half, strict=True)) for side in (-1, 1))
        layers += [
            Band("95 % prediction band of one calibration", xs, low, high),
            Curve("line of the errors", xs, middle),
        ]
    layers.append(Level("no error", 0.0, Dash.DOTTED))
    if tolerance is not None:
        value = float(tolerance.number.in_unit("%"))
        layers += [
            Level(f"shots may be off by {tolerance.text}", value, is_limit=True),
            Level("", -value, is_limit=True),
        ]
    known = [c.uncertainty_percent for c, _ in told]
    spans = [float(u.in_unit("%")) if u is not None else 0.0 for u in known]
    if any(spans):
        low = tuple(e - s for e, s in zip(errors, spans, strict=True))
        high = tuple(e + s for e, s in zip(errors, spans, strict=True))
        layers.append(Points("error as found, with the certificate's uncertainty", days, errors, low=low, high=high))
    else:
        layers.append(Points("error as found (+ reads high)", days, errors))
    return Chart(f"{meter}, {each.item}", "day of the calibration", "error as found, %", tuple(layers), x_is_date=True)


def _table(items: Sequence[_Item]) -> SheetTable:
    rows = [
        (
            each.item,
            str(c.done),
            str(c.due),
            c.result,
            value_text(c.as_found_error_percent),
            value_text(c.uncertainty_percent),
        )
        for each in items
        for c in reversed(each.every)
    ]
    columns = (
        ("Item", 0.22),
        ("Done", 0.13),
        ("Due", 0.13),
        ("Result", 0.26),
        ("As found", 0.13),
        ("Uncertainty", 0.13),
    )
    return SheetTable("Calibrations, the newest of each item first", columns, tuple(rows))
