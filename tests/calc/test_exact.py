"""Exact arithmetic against Python's decimal module and the first digits of pi (OEIS A000796)."""

from decimal import Decimal, localcontext
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.calc.exact import RootSum, ceil_of_pi_times, nearest, pi_between, root

PI_60 = "3.14159265358979323846264338327950288419716939937510582097494"
rationals = st.fractions(min_value=-50, max_value=50, max_denominator=40)
squares = st.fractions(min_value=0, max_value=50, max_denominator=40)


def test_pi_between_brackets_the_published_digits():
    low, high = pi_between()
    assert low < Fraction(PI_60) + Fraction(1, 10**58) and Fraction(PI_60) < high
    assert high - low < Fraction(1, 2**395)


@given(squares)
def test_root_agrees_with_decimal_to_fifty_digits(value):
    with localcontext() as context:
        context.prec = 60
        expected = (Decimal(value.numerator) / Decimal(value.denominator)).sqrt()
    assert abs(root(value) - Fraction(expected)) <= Fraction(expected) * Fraction(1, 10**50)


@given(squares)
def test_root_of_a_square_is_exact(value):
    assert root(value * value) == value


def test_root_of_a_negative_number_is_refused():
    with pytest.raises(ValueError):
        root(Fraction(-1))


@pytest.mark.parametrize("digits", [5, 16, 30, 300])
def test_ceil_of_pi_times_decides_next_to_a_whole_number(digits):
    """A factor a hair below and above 2/pi, closer than a double can tell."""
    low, high = pi_between(4 * digits + 100)
    hair = Fraction(1, 10**digits)
    assert ceil_of_pi_times(2 / high - hair) == 2
    assert ceil_of_pi_times(2 / low + hair) == 3


def test_ceil_of_pi_times_zero_is_zero():
    assert ceil_of_pi_times(Fraction(0)) == 0


def _in_decimal(number: RootSum) -> Decimal:
    with localcontext() as context:
        context.prec = 80
        square = Decimal(number.square.numerator) / Decimal(number.square.denominator)
        return square.sqrt() + Decimal(number.rest.numerator) / Decimal(number.rest.denominator)


@given(squares, rationals, squares, rationals)
def test_root_sum_orders_as_eighty_digits_do(a, b, c, d):
    one, other = RootSum(a, b), RootSum(c, d)
    difference = _in_decimal(one) - _in_decimal(other)
    if abs(difference) > Decimal("1e-60"):
        assert (one < other) == (difference < 0)
        assert (one > other) == (difference > 0)
    else:
        assert one == other


def test_root_sum_written_in_two_ways_is_equal():
    assert RootSum(Fraction(9), Fraction(1)) == RootSum(Fraction(1), Fraction(3)) == 4
    assert RootSum(Fraction(2), Fraction(0)) < Fraction("1.41421356237309504881")
    assert RootSum(Fraction(2), Fraction(0)) > Fraction("1.41421356237309504880")


def test_nearest_keeps_whole_numbers_and_rounds_once():
    assert nearest(Fraction(6, 2)) == 3 and isinstance(nearest(Fraction(3)), int)
    assert nearest(Fraction(1, 3)) == 1 / 3
    with pytest.raises(OverflowError):
        nearest(Fraction(10) ** 400)


def test_ceiling_in_exact_numbers_where_doubles_give_one_more():
    """(26.6 - 14) / (0.9 x 14) is exactly 1; in doubles it comes out above 1."""
    assert ceil((Fraction("26.6") - 14) / (Fraction("0.9") * 14)) == 1
    assert ceil((26.6 - 14) / (0.9 * 14)) == 2
