"""The trend of a lamp out of a book: a worked case, numpy's covariance of a fitted line, and what is left out."""

from __future__ import annotations

import json
from datetime import date
from fractions import Fraction
from math import exp, log

import numpy as np
import pytest
from scipy import stats

from ndi.calc import control_chart
from ndi.calc.straight_line import least_squares
from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.services.chart_models import Band, Chart, Curve, Points, Upright
from ndi.services.trend_lamp import lamp_trend
from tests.build import num
from tests.trends.past import LAMP, PEOPLE, Past, on

FIRST = "2026-02-09"
DAYS = [0, 1, 2, 3, 4, 7, 8, 9, 10, 11, 14, 15, 16, 17, 18, 21, 22, 23, 24, 25, 28]
VALUES = [1620, 1612, 1625, 1604, 1598, 1590, 1596, 1575, 1581, 1570, 1562]
VALUES += [1548, 1555, 1541, 1549, 1530, 1522, 1527, 1511, 1515, 1498]
TODAY = 29  # 2026-03-10, the day of the shop


@pytest.fixture
def worked(past: Past) -> Past:
    past.lamp_read(FIRST, DAYS, VALUES)
    return past


def test_worked_case_of_21_readings(worked: Past) -> None:
    """Computed once by a separate script in double precision; printed digits."""
    study = lamp_trend(worked.work, LAMP)
    found = study.figures
    assert found["readings"] == 21 and study.enough
    assert found["slope_per_day"] == pytest.approx(-0.00278914, abs=5e-9)
    assert found["s"] == pytest.approx(0.0036779, abs=5e-8)
    assert [round(float(str(found[key])), 1) for key in ("predicted", "low", "high")] == [1495.6, 1483.0, 1508.4]
    assert (found["crossing_lower"], found["crossing_line"]) == ("2026-07-23", "2026-08-01")
    assert "loses 0.279 % a day" in study.says and "2026-07-23" in study.says and "2026-08-01" in study.says


def test_band_and_line_against_numpy(worked: Past) -> None:
    """Prediction variance s^2 + x C x' with the covariance that numpy.polyfit gives; Student's quantile by scipy."""
    study = lamp_trend(worked.work, LAMP)
    y = np.log(VALUES)
    (slope, intercept), unscaled = np.polyfit(DAYS, y, 1, cov="unscaled")
    s2 = float(np.sum((y - slope * np.array(DAYS) - intercept) ** 2) / (len(DAYS) - 2))

    def expected(day: float, share: float) -> float:
        at = np.array([day, 1.0])
        error = np.sqrt(s2 * (1 + at @ unscaled @ at))
        return exp(slope * day + intercept + stats.t.ppf(share, len(DAYS) - 2) * error)

    chart = study.charts[0]
    assert isinstance(chart, Chart)
    first = (date(2026, 2, 9) - date(1970, 1, 1)).days
    (band,) = [layer for layer in chart.layers if isinstance(layer, Band)]
    for x, low, high in list(zip(band.xs, band.low, band.high, strict=True))[::9]:
        assert low == pytest.approx(expected(x - first, 0.025), rel=1e-9)
        assert high == pytest.approx(expected(x - first, 0.975), rel=1e-9)
    (upright,) = [layer for layer in chart.layers if isinstance(layer, Upright)]
    assert expected(upright.x - first, 0.05) == pytest.approx(1000, rel=1e-9)
    lower = [layer for layer in chart.layers if isinstance(layer, Curve)][1]
    assert lower.ys[50] == pytest.approx(expected(lower.xs[50] - first, 0.05), rel=1e-9)


@pytest.mark.parametrize(("count", "enough"), [(7, False), (8, True), (9, True)])
def test_eight_readings_are_needed(past: Past, count: int, enough: bool) -> None:
    """The demonstration procedure asks for 8 readings (4.13; common practice, no source)."""
    past.lamp_read(FIRST, DAYS[:count], VALUES[:count])
    study = lamp_trend(past.work, LAMP)
    assert study.enough is enough
    assert ("Too few readings" in study.says) is not enough
    chart = study.charts[0]
    assert isinstance(chart, Chart)
    assert any(isinstance(layer, Band) for layer in chart.layers) is enough  # no band where there is no trend


def test_eight_readings_of_one_day_are_too_few(past: Past) -> None:
    for hour in range(8):
        past.lamp_read(FIRST, [0], [1600 + hour], clock=f"{6 + hour:02d}:00")
    assert "on 1 day;" in lamp_trend(past.work, LAMP).says


def test_what_is_not_compared_is_left_out_and_said(worked: Past) -> None:
    worked.lamp_read(FIRST, [5], [1700], condition="as-left")
    worked.lamp_read(FIRST, [6], [2000], distance="12 in")
    worked.lamp_read(FIRST, [12], [900])
    study = lamp_trend(worked.work, LAMP)
    assert study.figures["readings"] == 21
    assert study.figures["slope_per_day"] == pytest.approx(-0.00278914, abs=5e-9)
    assert study.left_out == (
        "1 reading as-left",
        "1 reading at another distance, or with a meter that was not in calibration",
        "1 reading out of limits: a fault, not ageing",
    )


def test_a_reading_far_below_is_not_ageing_and_gets_no_day(worked: Past) -> None:
    """880 against 1495.6: ratio 0.588, z -131 (worked once by a separate script)."""
    worked.lamp_read(FIRST, [TODAY], [880], clock="06:20")
    study = lamp_trend(worked.work, LAMP)
    assert study.figures["last_is_ageing"] is False
    assert study.figures["last_ratio"] == pytest.approx(0.588, abs=5e-4)
    assert study.figures["last_z"] == pytest.approx(-131, abs=0.5)
    assert "is not ageing" in study.says and "No day is given" in study.says
    chart = study.charts[0]
    assert isinstance(chart, Chart)
    assert not any(isinstance(layer, Upright) for layer in chart.layers)


@pytest.mark.parametrize(("errors", "ageing"), [(-3.05, False), (-2.95, True), (2.95, True), (3.05, False)])
def test_the_jump_test_turns_at_three_standard_errors(worked: Past, errors: float, ageing: bool) -> None:
    y = np.log(VALUES)
    (slope, intercept), unscaled = np.polyfit(DAYS, y, 1, cov="unscaled")
    s2 = float(np.sum((y - slope * np.array(DAYS) - intercept) ** 2) / (len(DAYS) - 2))
    at = np.array([TODAY, 1.0])
    error = float(np.sqrt(s2 * (1 + at @ unscaled @ at)))
    value = exp(slope * TODAY + intercept + errors * error)
    worked.lamp_read(FIRST, [TODAY], [f"{value:.4f}"], clock="06:20")
    study = lamp_trend(worked.work, LAMP)
    assert study.figures["last_is_ageing"] is ageing
    assert study.figures["last_z"] == pytest.approx(errors, abs=1e-3)


def test_two_lamps_under_one_name_get_no_day(past: Past) -> None:
    """A new bulb that nobody recorded: the line through both is no line."""
    rng = np.random.default_rng(7)
    old = [round(1700 * exp(-0.004 * d) * (1 + 0.003 * e)) for d, e in enumerate(rng.normal(size=30))]
    new = [round(2000 * exp(-0.004 * d) * (1 + 0.003 * e)) for d, e in enumerate(rng.normal(size=30))]
    past.lamp_read("2026-01-05", range(60), [*old, *new])
    study = lamp_trend(past.work, LAMP)
    assert study.figures["is_relied_on"] is False and "no day is given" in study.says
    since = lamp_trend(past.work, LAMP, since=date(2026, 2, 4))
    assert since.figures["is_relied_on"] is True and since.figures["readings"] == 30
    assert -0.0048 < float(str(since.figures["slope_per_day"])) < -0.0032
    assert since.left_out == ("readings before 2026-02-04, as asked",)


def test_one_steady_lamp_is_seldom_taken_for_two(past: Past) -> None:
    """Hundred lamps of 60 readings that only fade and scatter: at most a few are told apart wrongly."""
    rng, doubted = np.random.default_rng(11), 0
    for _ in range(100):
        y = 7.4 - 0.003 * np.arange(60) + 0.004 * rng.normal(size=60)
        line = least_squares(list(range(60)), [float(v) for v in y])
        rest = [Fraction(float(v) - line.at(n)).limit_denominator(10**9) for n, v in enumerate(y)]
        spoke = {
            s.at
            for s in control_chart.run_rules(rest, Fraction(0), Fraction(line.s).limit_denominator(10**9))
            if s.rule in ("1", "4")
        }
        doubted += len(spoke) >= 3 and len(spoke) > 0.05 * 60
    assert doubted <= 6


def test_a_lamp_that_came_back_into_service_begins_anew(past: Past) -> None:
    past.lamp_read(FIRST, DAYS[:10], [1200 - d for d in DAYS[:10]])
    past.put(
        (f.EquipmentStatusSet(LAMP, "repair", "filter cracked"), on("2026-02-22", "08:00")),
        (f.EquipmentStatusSet(LAMP, "in service", "new filter"), on("2026-02-23", "06:00")),
    )
    past.lamp_read(FIRST, DAYS[10:], VALUES[10:])
    study = lamp_trend(past.work, LAMP)
    assert study.figures["readings"] == 11
    assert study.left_out == ("readings before 2026-02-23, when it came back into service",)


def test_a_lamp_that_does_not_fade_meets_no_limit(past: Past) -> None:
    past.lamp_read(FIRST, DAYS[:10], [1500 + 2 * d + (d % 3) for d in DAYS[:10]])
    study = lamp_trend(past.work, LAMP)
    assert "does not fade" in study.says and study.figures["crossing_line"] == "never, on this line"


def test_a_meter_found_high_makes_earlier_readings_worth_less(past: Past) -> None:
    """What its next calibration showed counts in the worst case, as rule L02 takes it: 1620 / 1.10."""
    past.lamp_read(FIRST, DAYS[:9], VALUES[:9])
    past.put(
        (
            f.CalibrationRecorded("RM-1", "UV-A channel", date(2026, 3, 1), date(2027, 3, 1), "adjusted", num("10 %")),
            on("2026-03-01"),
        )
    )
    study = lamp_trend(past.work, LAMP)
    chart = study.charts[0]
    assert isinstance(chart, Chart)
    kept = next(layer for layer in chart.layers if isinstance(layer, Points))
    assert kept.ys[0] == pytest.approx(1620 / 1.10)
    assert log(kept.ys[0]) < log(1620)


@pytest.mark.parametrize(("last", "ageing"), [("1500", True), ("1499", False)])
def test_readings_without_any_scatter_are_no_error(past: Past, last: str, ageing: bool) -> None:
    """Ten times the same number (rule L13 asks about it): every other reading lies beyond any number of standard errors."""
    past.lamp_read(FIRST, range(11), [*["1500"] * 10, last])
    study = lamp_trend(past.work, LAMP)
    assert study.figures["last_is_ageing"] is ageing
    assert json.loads(study.as_json())["figures"]["last_z"] == (0 if ageing else None)


def test_an_unknown_lamp_is_said(past: Past) -> None:
    with pytest.raises(NotFound, match="LP-1x is no lamp"):
        lamp_trend(past.work, "LP-1x")
    with pytest.raises(NotFound, match="no lamp"):
        lamp_trend(past.work, "MTB-1")  # a bath


def test_no_person_is_named(worked: Past) -> None:
    text = repr(lamp_trend(worked.work, LAMP))
    assert [person for person in PEOPLE if person in text] == []
