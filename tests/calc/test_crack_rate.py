"""Rates against scipy.stats, two looks against the exact mean of Chapman's estimate, angles against scipy and a draw."""

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from ndi.calc import crack_rate, detection
from ndi.calc.clock_angles import gathering
from ndi.domain.errors import InputError

counts = st.integers(1, 400).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of)))


@settings(max_examples=100, deadline=None)
@given(counts, st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_wilson_agrees_with_scipy(pair, coverage):
    found, of = pair
    span = crack_rate.wilson(found, of, coverage)
    judge = stats.binomtest(found, of).proportion_ci(coverage, method="wilson")
    assert (span.low, span.high) == (pytest.approx(judge.low, abs=1e-12), pytest.approx(judge.high, abs=1e-12))
    assert span.low <= span.estimate <= span.high


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 200), st.floats(0.01, 1000))
def test_per_time_agrees_with_chi_squared(found, time):
    span = crack_rate.per_time(found, time)
    low = stats.chi2.ppf(0.025, 2 * found) / 2 / time if found else 0
    assert span.low == pytest.approx(low, rel=1e-9)
    assert span.high == pytest.approx(stats.chi2.ppf(0.975, 2 * found + 2) / 2 / time, rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(counts, st.integers(2, 100).flatmap(lambda of: st.tuples(st.integers(1, of - 1), st.just(of))))
def test_shrunk_agrees_with_scipy_beta(pair, prior):
    (found, of), (prior_found, prior_of) = pair, prior
    span = crack_rate.shrunk(found, of, prior_found, prior_of)
    judge = stats.beta(found + prior_found, of - found + prior_of - prior_found)
    assert (span.estimate, span.low, span.high) == (
        pytest.approx(judge.mean()),
        pytest.approx(judge.ppf(0.025), rel=1e-8),
        pytest.approx(judge.ppf(0.975), rel=1e-8),
    )


@pytest.mark.parametrize("of", [1, 18, 60, 1000])
def test_upper_after_none_is_the_exact_one_sided_bound(of):
    judge = stats.binomtest(0, of, alternative="less").proportion_ci(0.95, method="exact")
    assert crack_rate.upper_after_none(of) == pytest.approx(judge.high, rel=1e-12)
    assert crack_rate.upper_after_none(of) == pytest.approx(1 - detection.lower_bound(0, of, 0.95), rel=1e-9)


@pytest.mark.parametrize(("there", "first", "second"), [(20, 12, 11), (30, 25, 5), (8, 8, 6), (49, 46, 41)])
def test_two_looks_mean_is_the_true_number(there, first, second):
    """Chapman 1951: without bias when first + second is at least the number there (hypergeometric, summed exactly)."""
    assert first + second >= there
    chance = stats.hypergeom(there, first, second)
    both = range(max(0, first + second - there), min(first, second) + 1)
    mean = sum(chance.pmf(m) * crack_rate.two_looks(first, second, m).total for m in both)
    assert mean == pytest.approx(there, rel=1e-9)
    variance = sum(chance.pmf(m) * crack_rate.two_looks(first, second, m).sd ** 2 for m in both)
    assert variance == pytest.approx(
        sum(chance.pmf(m) * (crack_rate.two_looks(first, second, m).total - there) ** 2 for m in both), rel=1e-6
    )  # Seber 1970: the variance estimate has no bias there either


def test_two_looks_nothing_in_common_and_nothing_at_all():
    assert crack_rate.two_looks(3, 2, 0).total == 11
    none = crack_rate.two_looks(0, 0, 0)
    assert (none.total, none.first_share, none.second_share) == (0, None, None)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: crack_rate.wilson(3, 2),
        lambda: crack_rate.wilson(-1, 2),
        lambda: crack_rate.wilson(0, 0),
        lambda: crack_rate.shrunk(1, 2, 0, 5),
        lambda: crack_rate.shrunk(1, 2, 5, 5),
        lambda: crack_rate.per_time(-1, 2),
        lambda: crack_rate.per_time(1, 0),
        lambda: crack_rate.two_looks(2, 3, 3),
        lambda: crack_rate.two_looks(2, 3, -1),
        lambda: gathering([]),
    ],
)
def test_impossible_counts(ask):
    with pytest.raises(InputError):
        ask()


angles = st.lists(st.integers(0, 359), min_size=2, max_size=20)


@settings(max_examples=100, deadline=None)
@given(angles, st.integers(0, 359))
def test_gathering_turns_with_the_angles_and_agrees_with_scipy(degrees, turn):
    one, other = gathering(degrees), gathering([(d + turn) % 360 for d in degrees])
    assert other.resultant == pytest.approx(one.resultant, abs=1e-9)
    assert other.p == pytest.approx(one.p, rel=1e-6, abs=1e-12)
    if one.resultant > 1e-6:
        assert abs((other.mean - one.mean - turn + 180) % 360 - 180) < 1e-6
        judge = math.degrees(stats.circmean([math.radians(d) for d in degrees]))
        assert abs((one.mean - judge + 180) % 360 - 180) < 1e-6
        assert one.resultant == pytest.approx(1 - stats.circvar([math.radians(d) for d in degrees]), abs=1e-9)


def test_gathering_that_cancels_has_no_mean():
    found = gathering([0, 180])
    assert found.mean is None and found.p > 0.9


@pytest.mark.parametrize(("n", "resultant"), [(5, 0.6), (10, 0.5), (20, 0.3)])
def test_gathering_p_agrees_with_a_draw_of_even_angles(n, resultant):
    """Share of 20000 draws of n even angles (fixed seed) whose resultant is as long or longer."""
    # angles that give just this resultant: half at +a, half at -a has cosine a = resultant (odd one at 0 counts 1)
    odd = n % 2
    cosine = (resultant * n - odd) / (n - odd)
    given_angles = [math.degrees(math.acos(cosine)) * sign for sign in [1, -1] * (n // 2)] + [0.0] * odd
    found = gathering(given_angles)
    assert found.resultant == pytest.approx(resultant)
    source = random.Random(7)
    longer = 0
    for _ in range(20000):
        turns = [source.uniform(0, 2 * math.pi) for _ in range(n)]
        longer += math.hypot(sum(map(math.cos, turns)), sum(map(math.sin, turns))) >= resultant * n
    assert found.p == pytest.approx(longer / 20000, abs=0.01)
