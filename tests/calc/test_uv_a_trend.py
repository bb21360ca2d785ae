"""Trend against NIST StRD Norris (certified), scipy.stats, numpy, and values worked once by a separate script."""

import csv
import math
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from ndi.calc.straight_line import least_squares
from ndi.calc.uv_a_trend import predict
from ndi.domain.errors import InputError

DAYS = [0, 1, 2, 3, 4, 7, 8, 9, 10, 11, 14, 15, 16, 17, 18, 21, 22, 23, 24, 25, 28]  # from 2026-02-09
READINGS = [1620, 1612, 1625, 1604, 1598, 1590, 1596, 1575, 1581, 1570, 1562]
READINGS += [1548, 1555, 1541, 1549, 1530, 1522, 1527, 1511, 1515, 1498]
DAY = 29  # 2026-03-10
TREND = predict(DAYS, READINGS, DAY)


def test_least_squares_norris_certified_values():
    """NIST StRD, Norris: certified to 15 digits."""
    lines = (Path(__file__).parent.parent / "data" / "nist-strd-norris.csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) == 36
    line = least_squares([float(row["x"]) for row in rows], [float(row["y"]) for row in rows])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.s == pytest.approx(0.884796396144373, rel=1e-12)


def test_predict_worked_case():
    """Computed once by a separate script in double precision; printed digits."""
    assert TREND.intercept == pytest.approx(7.391185, abs=5e-7)
    assert TREND.slope_per_day == pytest.approx(-0.00278914, abs=5e-9)
    assert TREND.s == pytest.approx(0.0036779, abs=5e-8)
    assert (round(TREND.predicted, 1), round(TREND.low, 1), round(TREND.high, 1)) == (1495.6, 1483.0, 1508.4)


@pytest.mark.parametrize(
    ("limit", "lower", "day"), [(1000, False, "173.3"), (1000, True, "164.1"), (1200, True, "102.2")]
)
def test_crossing_day_worked_case(limit, lower, day):
    assert f"{TREND.crossing_day(limit, one_sided_lower=lower):.1f}" == day


@pytest.mark.parametrize(("value", "z", "ratio"), [(880, "-131", "0.588"), (1380, "-19.9", "0.923")])
def test_z_of_a_jump_worked_case(value, z, ratio):
    assert f"{TREND.z(value):.3g}" == z
    assert f"{value / TREND.predicted:.3f}" == ratio


readings = st.lists(
    st.tuples(st.integers(0, 60), st.integers(800, 2000)), min_size=4, max_size=12, unique_by=lambda pair: pair[0]
)


@settings(max_examples=60, deadline=None)
@given(readings, st.integers(0, 90))
def test_predict_agrees_with_scipy_linregress_and_numpy_design_matrix(pairs, day):
    x, y = np.array([p[0] for p in pairs], float), np.log(np.array([p[1] for p in pairs], float))
    trend = predict([p[0] for p in pairs], [Fraction(p[1]) for p in pairs], day)
    reference = stats.linregress(x, y)
    assert trend.slope_per_day == pytest.approx(reference.slope, rel=1e-6, abs=1e-11)
    assert trend.intercept == pytest.approx(reference.intercept, rel=1e-9)
    design = np.column_stack([np.ones_like(x), x])
    point = np.array([1.0, day])
    rest = y - design @ np.linalg.lstsq(design, y, rcond=None)[0]
    s = math.sqrt(rest @ rest / (len(x) - 2))
    error = s * math.sqrt(1 + point @ np.linalg.inv(design.T @ design) @ point)
    half = stats.t.ppf(0.975, len(x) - 2) * error
    assert trend.s == pytest.approx(s, rel=1e-6, abs=1e-9)
    assert math.log(trend.high / trend.predicted) == pytest.approx(half, rel=1e-5, abs=1e-8)
    assert math.log(trend.predicted / trend.low) == pytest.approx(half, rel=1e-5, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(readings, st.integers(300, 1900))
def test_crossing_day_is_where_a_bracketing_search_finds_it(pairs, limit):
    trend = predict([p[0] for p in pairs], [p[1] for p in pairs], 0)
    assume(trend.s > 1e-6)
    quantile = stats.t.ppf(0.95, len(pairs) - 2)

    def above(x):
        return trend.line.at(x) - quantile * trend.line.new_value_error(x) - math.log(limit)

    found = trend.crossing_day(limit)
    grid = np.linspace(-5000, 20000, 20001)
    values = [above(x) for x in grid]
    falls = [i for i in range(len(grid) - 1) if values[i] > 0 >= values[i + 1]]
    if falls:
        expected = optimize.brentq(above, grid[falls[0]], grid[falls[0] + 1])
        assert found == pytest.approx(expected, rel=1e-6, abs=1e-4)
    elif found is not None:
        assert abs(above(found)) < 1e-6 and above(found + 1e-3) < above(found)


def test_crossing_day_of_a_rising_line_is_none():
    rising = predict([0, 1, 2, 3], [1000, 1010, 1020, 1031], 4)
    assert rising.crossing_day(900, one_sided_lower=False) is None


def test_crossing_day_without_scatter_is_the_line():
    exact = predict([0, 1, 2, 3], [1600.0, 800.0, 400.0, 200.0], 4)
    assert exact.crossing_day(100) == pytest.approx(4, abs=1e-6)
    assert exact.predicted == pytest.approx(100)


def test_predict_does_not_depend_on_the_first_day():
    moved = predict([day + 1000 for day in DAYS], READINGS, DAY + 1000)
    assert moved.predicted == pytest.approx(TREND.predicted) and moved.low == pytest.approx(TREND.low)


@pytest.mark.parametrize(
    ("days", "values"),
    [([0, 1], [9, 8]), ([3, 3, 3], [9, 8, 7]), ([0, 1, 2], [9, 0, 7]), ([0, 1, 2], [9, -1, 7]), ([0, 1, 2], [9, 8])],
)
def test_predict_impossible_readings_are_input_errors(days, values):
    with pytest.raises(InputError):
        predict(days, values, 5)
