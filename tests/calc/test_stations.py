"""Stations of a coil and placements of an offset bar.

The number of stations, 1 + ceil((L - Z) / (0.9 Z)), and the arc of four bar
diameters with 10 % overlap: training sheet on E1444 type practice (secondary
source) and from memory; the crankshaft and the barrel are worked examples of the
shop, reckoned by hand.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.calc import stations
from ndi.calc.coil import NEW_SHARE
from ndi.domain.errors import InputError

F = Fraction
inches = st.fractions(min_value="0.25", max_value=60, max_denominator=64)


@pytest.mark.parametrize(
    ("length", "field", "needed"),
    [("40", "12", 4), ("12", "12", 1), ("12.001", "12", 2), ("22.8", "12", 2), ("22.801", "12", 3), ("31.5", "12", 3)],
)
def test_stations_needed(length: str, field: str, needed: int) -> None:
    assert stations.stations_needed(F(length), F(field)) == needed


def test_field_length_is_18_in_for_a_filled_coil_else_the_coils_diameter() -> None:
    assert [stations.field_length(fill, F(12)) for fill in ("low", "intermediate", "high")] == [12, 12, 18]


def test_unlit_crankshaft_of_the_worked_example_is_reached_from_end_to_end() -> None:
    assert stations.unlit(F(40), F(12), [F(5), F(15), F(25), F(35)]) == []


def test_unlit_end_of_a_part_is_named() -> None:
    """Fields from -1 to 11, 11 to 23, 23 to 35 leave 35 to 40."""
    assert stations.unlit(F(40), F(12), [F(5), F(17), F(29)]) == [(F(35), F(40))]


def test_unlit_beginning_and_middle_are_named() -> None:
    assert stations.unlit(F(40), F(12), [F(8), F(34)]) == [(F(0), F(2)), (F(14), F(28))]


def test_unlit_without_stations_is_the_whole_part() -> None:
    assert stations.unlit(F(40), F(12), []) == [(F(0), F(40))]


@pytest.mark.parametrize(("second", "apart"), [("15.8", []), ("15.801", [(F(5), F("15.801"))])])
def test_too_far_apart_begins_beyond_nine_tenths_of_a_field(
    second: str, apart: list[tuple[Fraction, Fraction]]
) -> None:
    assert stations.too_far_apart(F(12), [F(5), F(second)]) == apart


def test_the_same_station_twice_is_one() -> None:
    assert stations.too_far_apart(F(12), [F(5), F(5)]) == []


@given(inches, inches)
def test_needed_stations_spread_evenly_reach_everything_and_one_fewer_does_not_overlap_enough(
    length: Fraction, field: Fraction
) -> None:
    needed = stations.stations_needed(length, field)
    step = NEW_SHARE * field
    centres = [field / 2 + step * number for number in range(needed)]
    assert stations.unlit(length, field, centres) == []
    assert stations.too_far_apart(field, centres) == []
    if needed > 1:
        assert stations.unlit(length, field, centres[:-1]) != []


@pytest.mark.parametrize(("bar", "needed"), [("1", 5), ("2", 3), ("5.25", 1)])
def test_placements_of_the_barrel(bar: str, needed: int) -> None:
    """pi x 5.25 / (0.9 x 4 d): 4.58, 2.29, 0.87."""
    assert stations.placements_needed(F("5.25"), F(bar)) == needed


@given(inches, inches)
def test_placements_follow_the_formula_in_floats(bore: Fraction, bar: Fraction) -> None:
    if bar > bore:
        with pytest.raises(InputError, match="does not go into a bore"):
            stations.placements_needed(bore, bar)
        return
    exact = pi * float(bore) / (0.9 * 4 * float(bar))
    assert stations.placements_needed(bore, bar) in {max(1, ceil(exact - 1e-9)), max(1, ceil(exact + 1e-9))}


@pytest.mark.parametrize("bar", ["0", "-1", "5.26"])
def test_placements_refuse_a_bar_that_does_not_go_in(bar: str) -> None:
    with pytest.raises(InputError, match="look at both diameters"):
        stations.placements_needed(F("5.25"), F(bar))


@pytest.mark.parametrize(
    ("length", "od", "inside", "ratio", "expected"),
    [
        ("6", "2", "0", "3", True),
        ("5.999", "2", "0", "3", False),
        ("2.9", "0.62", "0.31", "3", True),
        ("12", "5", "3", "3", True),  # effective diameter sqrt(25 - 9) = 4 exactly
        ("11.999", "5", "3", "3", False),
    ],
)
def test_long_enough_is_compared_exactly(length: str, od: str, inside: str, ratio: str, expected: bool) -> None:
    assert stations.is_long_enough(F(length), F(od), F(inside), F(ratio)) is expected
