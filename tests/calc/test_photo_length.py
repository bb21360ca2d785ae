"""Lengths on a card: numpy's linear system as judge of the map, first-order theory of errors as judge of the spread."""

import math
from itertools import islice

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from ndi.calc.photo_length import Picture, arc, mapped, normal_draws, scatter, to_card
from ndi.domain.errors import InputError

CORNERS = ((412.0, 388.0), (1195.0, 341.0), (1222.0, 742.0), (436.0, 771.0))
ENDS = ((618.0, 902.0), (905.0, 861.0))
PICTURE = Picture(CORNERS, ENDS, 1.0, 0.5)


def numpy_map(corners, width, height):
    """Homography by the eight linear equations of four points."""
    system, right = [], []
    for (x, y), (u, v) in zip(corners, ((0, 0), (width, 0), (width, height), (0, height)), strict=True):
        system += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    h = np.append(np.linalg.solve(np.array(system), np.array(right)), 1).reshape(3, 3)

    def of(point):
        u, v, w = h @ [*point, 1]
        return u / w, v / w

    return of


def numpy_length(values):
    corners, ends = np.reshape(values[:8], (4, 2)), np.reshape(values[8:], (2, 2))
    of = numpy_map(corners, 1.0, 0.5)
    return math.dist(of(ends[0]), of(ends[1]))


def test_length_worked_case():
    """Worked once by a separate script: 0.3728 in, 0.3696 by the top edge, an end off the card."""
    assert (f"{PICTURE.length:.4f}", f"{PICTURE.simple_length:.4f}", PICTURE.is_outside) == ("0.3728", "0.3696", True)
    assert not Picture(CORNERS, ((600.0, 500.0), (900.0, 600.0)), 1.0, 0.5).is_outside


shifts = st.lists(st.integers(-80, 80), min_size=12, max_size=12)


@settings(max_examples=80, deadline=None)
@given(shifts)
def test_map_agrees_with_numpy(moved):
    corners = tuple((x + moved[2 * i], y + moved[2 * i + 1]) for i, (x, y) in enumerate(CORNERS))
    judge, matrix = numpy_map(corners, 1.0, 0.5), to_card(corners, 1.0, 0.5)
    for point in (*corners, *ENDS, (800.0 + moved[8], 500.0 + moved[9])):
        assert mapped(matrix, point) == pytest.approx(judge(point), rel=1e-6, abs=1e-8)


def test_card_seen_squarely_is_a_ruler():
    square = Picture(
        ((0.0, 0.0), (1000.0, 0.0), (1000.0, 500.0), (0.0, 500.0)), ((100.0, 100.0), (400.0, 500.0)), 1.0, 0.5
    )
    assert square.length == pytest.approx(0.5) and square.simple_length == pytest.approx(0.5)


def test_scatter_agrees_with_first_order_theory():
    """Independent judge: gradient of numpy's length, squared and summed."""
    start = np.array([*(v for c in CORNERS for v in c), *(v for e in ENDS for v in e)])
    noise = np.array([1.5] * 8 + [2.0] * 4)
    steps = np.eye(12) * 1e-3
    gradient = np.array([(numpy_length(start + s) - numpy_length(start - s)) / 2e-3 for s in steps])
    expected = math.sqrt(float(((gradient * noise) ** 2).sum()))
    found = scatter(PICTURE, 1.5, 2, 4000, 1)
    assert found.sd == pytest.approx(expected, rel=0.05)
    assert (found.low, found.high) == (pytest.approx(0.365, abs=1e-3), pytest.approx(0.380, abs=1e-3))  # worked once
    assert found == scatter(PICTURE, 1.5, 2, 4000, 1) != scatter(PICTURE, 1.5, 2, 4000, 2)


def test_draws_are_normal():
    draws = list(islice(normal_draws(3), 5000))
    assert stats.kstest(draws, "norm").pvalue > 0.01
    assert abs(np.corrcoef(draws[:-1], draws[1:])[0, 1]) < 0.04


@pytest.mark.parametrize(
    ("radius", "chord", "expected"), [(1.125, 0.3, 0.3009), (1.125, 1.2, 1.2657), (1, 2, math.pi), (1, 0, 0)]
)
def test_arc(radius, chord, expected):
    assert arc(radius, chord) == pytest.approx(expected, abs=5e-5)


def test_impossible_pictures():
    crossed = (CORNERS[0], CORNERS[2], CORNERS[1], CORNERS[3])
    for ask in (
        lambda: Picture(crossed, ENDS, 1.0, 0.5),
        lambda: arc(1, 2.1),
        lambda: arc(0, 0),
        lambda: scatter(PICTURE, 1, 1, 1, 1),
        lambda: scatter(PICTURE, 500, 1, 50, 1),
    ):
        with pytest.raises(InputError):
            ask()
