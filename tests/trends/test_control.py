"""Charts of individuals out of a book, against the example of the NIST/SEMATECH e-Handbook and its run rules."""

from __future__ import annotations

from typing import Any

import pytest
from scipy import stats

from ndi.domain.errors import NotFound
from ndi.domain.vocabulary import Quantity
from ndi.services.chart_models import Chart, Curve, Level, Marker, Points
from ndi.services.trend_contamination import contamination_study
from ndi.services.trend_control import readings_study
from tests.calc.published_data import rows
from tests.trends.past import BATH, Past
from tests.trends.test_bath import ML, SHOTS, settled

OBJECT = "PEN-9"


def flow_rates() -> list[str]:
    return [row["flow_rate"] for row in rows("nist-handbook-individuals-flowrate.csv")]


def test_individuals_chart_of_the_handbook(past: Past) -> None:
    """6.3.2.2, flow rate: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159, no signal."""
    past.read(OBJECT, Quantity.BRIGHTNESS, "2026-02-20", [f"{value} %" for value in flow_rates()])
    study = readings_study(past.work, OBJECT, Quantity.BRIGHTNESS)
    found: dict[str, Any] = {
        key: study.figures[key] for key in ("centre", "upper_limit", "lower_limit", "mean_moving_range")
    }
    assert {key: f"{float(value):.4f}" for key, value in found.items()} == {
        "centre": "50.8100",
        "upper_limit": "55.8041",
        "lower_limit": "45.8159",
        "mean_moving_range": "1.8778",
    }
    assert study.figures["signals"] == {} and "steady" in study.says
    chart = study.charts[0]
    assert isinstance(chart, Chart)
    levels = [layer.y for layer in chart.layers if isinstance(layer, Level) and not layer.is_limit]
    assert [f"{level:.4f}" for level in levels] == ["50.8100", "45.8159", "55.8041"]


@pytest.mark.parametrize(
    ("tail", "rule"),
    [
        (["60"], "1: beyond 3 sigma"),
        (["51.9"] * 8, "4: eight in a row on one side"),
        (["50.1", "50.3", "50.5", "50.7", "50.9", "51.1"], "six in a row rising or falling"),
    ],
)
def test_a_run_rule_speaks_and_is_marked(past: Past, tail: list[str], rule: str) -> None:
    """The rules as the handbook lists them under 6.3.2."""
    base = ["50", "51", "50.5", "51.2", "49.8", "50.9", "50.2", "51.1", "49.9", "50.6", "50"]
    past.read(OBJECT, Quantity.BRIGHTNESS, "2026-02-01", [f"{value} %" for value in [*base, *tail]])
    study = readings_study(past.work, OBJECT, Quantity.BRIGHTNESS)
    signals = study.figures["signals"]
    assert isinstance(signals, dict)
    assert rule in signals[str(len(base) + len(tail) - 1)] and "a run rule speaks" in study.says
    chart = study.charts[0]
    assert isinstance(chart, Chart)
    crosses = [p for p in chart.layers if isinstance(p, Points) and p.marker is Marker.CROSS]
    assert len(crosses[0].xs) == len(signals)
    assert study.tables[0].rows[0][2]  # the newest first, with the rule's words


@pytest.mark.parametrize(("count", "enough"), [(7, False), (8, True)])
def test_too_few_readings_have_no_control_limits(past: Past, count: int, enough: bool) -> None:
    past.read(OBJECT, Quantity.BRIGHTNESS, "2026-02-20", [f"{value} %" for value in flow_rates()[:count]])
    study = readings_study(past.work, OBJECT, Quantity.BRIGHTNESS)
    assert study.enough is enough and ("Too few readings" in study.says) is not enough
    chart = study.charts[0]
    assert isinstance(chart, Chart)
    assert any("control limits" in layer.label for layer in chart.layers if isinstance(layer, Level)) is enough


def test_the_limit_of_the_procedure_stands_in_the_chart_with_its_paragraph(past: Past) -> None:
    past.read(OBJECT, Quantity.BRIGHTNESS, "2026-02-20", [f"{value} %" for value in flow_rates()])
    study = readings_study(past.work, OBJECT, Quantity.BRIGHTNESS)
    chart = study.charts[0]
    assert isinstance(chart, Chart)
    (limit,) = [layer for layer in chart.layers if isinstance(layer, Level) and layer.is_limit]
    assert limit.label.startswith("least 90 % (PT-P-01 Rev D, ") and limit.y == 90
    assert study.sources[0].startswith("brightness_min 90 %")


def test_readings_in_other_units_are_drawn_in_the_limits_unit(past: Past) -> None:
    """2.0 fc is 21.5278 lx (1 fc = 1 lm/ft2)."""
    past.read("MT booth 9", Quantity.AMBIENT, "2026-02-20", [f"{value} lx" for value in range(9, 19)])
    study = readings_study(past.work, "MT booth 9", Quantity.AMBIENT)
    chart = study.charts[0]
    assert isinstance(chart, Chart) and chart.y_label == "ambient visible, fc"
    every = next(layer for layer in chart.layers if isinstance(layer, Curve))
    assert every.ys[0] == pytest.approx(9 * 0.09290304)


def test_nothing_read_is_said(past: Past) -> None:
    with pytest.raises(NotFound, match="no reading of brightness"):
        readings_study(past.work, "PEN-77", Quantity.BRIGHTNESS)


def test_contamination_rises_by_its_own_line(past: Past) -> None:
    """The slope of scipy.stats.linregress, a week."""
    levels = [0.010, 0.012, 0.013, 0.016, 0.017, 0.019, 0.020, 0.023, 0.024, 0.026]
    past.read(BATH, Quantity.CONTAMINATION, "2026-02-20", [f"{level:.3f} mL" for level in levels])
    study = contamination_study(past.work, BATH)
    slope = stats.linregress(range(10), levels).slope
    assert f"rises by {7 * slope:.4f} mL a week" in study.says
    assert len(study.charts) == 2 and study.enough


def test_contamination_is_read_beside_the_particles_and_never_added(past: Past) -> None:
    settled(past, SHOTS, ML)
    study = contamination_study(past.work, BATH)
    assert study.figures["centre"] == pytest.approx(0.01)
    assert "stays where it is" in study.says
