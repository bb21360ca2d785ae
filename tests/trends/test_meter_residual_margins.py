"""Meters against scipy's line; residual fields at the limit; margins where there is none."""

from __future__ import annotations

from datetime import date

import pytest
from scipy import stats

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.services.chart_models import Band, Chart, Level, Points
from ndi.services.trend_margins import margins_study
from ndi.services.trend_meter import meter_study
from ndi.services.trend_residual import residual_study
from tests.build import num
from tests.trends.past import Past, on

METER = "GM-90"
DONE = ["2023-03-01", "2023-09-01", "2024-03-01", "2024-09-02", "2025-03-03", "2025-09-01"]
ERRORS = [0.5, 1.1, 1.4, 2.2, 2.4, 3.1]


def calibrated(past: Past, meter: str, item: str, errors: list[float | None]) -> None:
    past.put(
        *(
            (
                f.CalibrationRecorded(
                    meter,
                    item,
                    date.fromisoformat(day),
                    date.fromisoformat(day).replace(year=int(day[:4]) + 1),
                    "adjusted",
                    None if error is None else num(f"{error} %"),
                ),
                on(day, "12:00"),
            )
            for day, error in zip(DONE, errors, strict=False)
        )
    )


def days(text: str) -> int:
    return (date.fromisoformat(text) - date(1970, 1, 1)).days


def test_errors_of_a_meter_go_on_along_their_line(past: Past) -> None:
    """Slope and prediction by scipy.stats.linregress: percent a year, and at the next calibration."""
    calibrated(past, METER, "field", [*ERRORS])
    study = meter_study(past.work, METER)
    line = stats.linregress([days(day) for day in DONE], ERRORS)
    assert f"{365.25 * line.slope:+.1f} % a year" in study.says
    assert f"{line.intercept + line.slope * days('2026-09-01'):+.1f} % is to be expected" in study.says
    assert study.enough and study.figures["field"] == ERRORS


@pytest.mark.parametrize(("count", "enough"), [(2, False), (3, True)])
def test_two_calibrations_give_no_band(past: Past, count: int, enough: bool) -> None:
    calibrated(past, METER, "field", [*ERRORS[:count]])
    study = meter_study(past.work, METER)
    assert study.enough is enough and ("too few calibrations" in study.says) is not enough
    chart = study.charts[0]
    assert isinstance(chart, Chart) and any(isinstance(layer, Band) for layer in chart.layers) is enough


def test_a_calibration_without_a_figure_is_left_out_and_said(past: Past) -> None:
    calibrated(past, METER, "field", [0.5, None, 1.4, 2.2])
    study = meter_study(past.work, METER)
    assert study.figures["field"] == [0.5, 1.4, 2.2]
    assert study.left_out == ("1 calibration without a figure: only within tolerance or not",)


def test_an_ammeter_stands_beside_the_tolerance_of_shots(past: Past) -> None:
    calibrated(past, "MT-91", "ammeter", [*ERRORS])
    calibrated(past, "MT-91", "shot timer", [None])
    study = meter_study(past.work, "MT-91")
    (chart,) = study.charts
    assert isinstance(chart, Chart)
    limits = [layer for layer in chart.layers if isinstance(layer, Level) and layer.is_limit]
    assert [level.y for level in limits] == [10, -10] and "MT-P-01 Rev F, 6.1" in limits[0].label
    assert "shot timer: no calibration says by how much" in study.says


def test_an_unknown_meter_is_said(past: Past) -> None:
    with pytest.raises(NotFound, match="no calibration of RM-77"):
        meter_study(past.work, "RM-77")


# --- residual fields ----------------------------------------------------------------------------------


def read_field(past: Past, record: str, *values: str, point: str = "bore", clock: int = 10) -> None:
    past.put(
        *(
            (f.ResidualRead(record, point, num(f"{value} G"), "GM-1", True), on("2026-03-01", f"05:{clock + n}"))
            for n, value in enumerate(values)
        )
    )


@pytest.mark.parametrize(("last", "above"), [("2.99", 0), ("3", 0), ("-3", 0), ("3.01", 1), ("-3.01", 1)])
def test_the_last_pass_counts_and_at_the_limit_is_within(past: Past, last: str, above: int) -> None:
    """3 G of the demonstration procedure (7.1; helicopter maintenance manual, secondary source)."""
    read_field(past, past.record(part_no="T6-10502"), "12", last)
    study = residual_study(past.work, "T6-10502")
    assert study.figures["above"] == above
    chart = study.charts[0]
    assert isinstance(chart, Chart)
    assert [p.ys for p in chart.layers if isinstance(p, Points)] == [(12.0,), (float(last),)]
    assert study.figures["usual_passes"] == (2 if not above else None)


def test_another_part_number_and_an_earlier_day_are_left_out(past: Past) -> None:
    read_field(past, past.record(part_no="T6-10502"), "1")
    read_field(past, past.record(part_no="T6-10504"), "2")
    assert residual_study(past.work, "T6-10502").figures["points"] == 1
    with pytest.raises(NotFound, match="since 2026-03-02"):
        residual_study(past.work, "T6-10502", since=date(2026, 3, 2))


# --- margins ------------------------------------------------------------------------------------------


def test_margins_before_the_first_basket_are_none(past: Past) -> None:
    study = margins_study(past.work)
    assert study.says.startswith("No basket with its times was run") and not study.charts
