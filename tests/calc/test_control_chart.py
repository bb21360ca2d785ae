"""Control charts against the examples of the NIST/SEMATECH e-Handbook, and run rules against their own wording."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi.calc import control_chart as chart
from ndi.calc import published
from ndi.domain.errors import InputError
from tests.calc.published_data import rows


def column(name: str, key: str) -> list[Fraction]:
    return [Fraction(row[key]) for row in rows(name)]


def to_4(value) -> str:
    return f"{float(value):.4f}"


def test_individuals_flow_rate():
    """6.3.2.2: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159."""
    values = column("nist-handbook-individuals-flowrate.csv", "flow_rate")
    limits, mean_range = chart.individuals(values)
    assert (float(limits.centre), to_4(mean_range)) == (50.81, "1.8778")
    assert (to_4(limits.high), to_4(limits.low)) == ("55.8041", "45.8159")
    rounded, _ = chart.individuals(values, chart.ROUNDED_FACTOR)
    assert to_4(rounded.high) == "55.8049"
    assert not chart.run_rules(values, limits.centre, mean_range / chart.D2)
    assert [choice.value for choice in published.INDIVIDUALS_FACTOR] == [3 / chart.D2, chart.ROUNDED_FACTOR]


def test_ewma_twenty_values():
    """6.3.2.4: averages printed to 2 digits, limits 52.5884 and 47.4115 (printed cut, not rounded), no signal."""
    table = rows("nist-handbook-ewma.csv")
    found = chart.ewma(
        [Fraction(r["x"]) for r in table], Fraction(50), Fraction("2.0539"), Fraction("0.3"), Fraction(3)
    )
    for average, row in zip(found.values, table, strict=True):
        assert float(average) == pytest.approx(float(row["ewma_published"]), abs=0.0051)
        assert float(average) == pytest.approx(float(row["ewma_recomputed"]), abs=5.1e-7)
    assert to_4(found.limits.high) == "52.5884" and str(float(found.limits.low)).startswith("47.4115")
    assert found.beyond == ()


def test_cusum_twenty_values():
    """6.3.2.3: target 325, k 0.3175, h 4.1959; observations 14 to 20 signal."""
    table = rows("nist-handbook-cusum.csv")
    found = chart.cusum([Fraction(r["x"]) for r in table], Fraction(325), Fraction("0.3175"), Fraction("4.1959"))
    assert [to_4(v) for v in found.high] == [r["S_high_recomputed"] for r in table]
    assert [to_4(v) for v in found.low] == [r["S_low_recomputed"] for r in table]
    assert [at + 1 for at in found.beyond] == [int(r["i"]) for r in table if r["signal"] == "1"] == list(range(14, 21))


def test_shares_thirty_samples():
    """6.3.3.2: mean share 0.2313, limits 0.4103 (printed; 0.41024 unrounded) and 0.0524; samples 15 and 23 are beyond."""
    samples = [(int(r["defective"]), int(r["n"])) for r in rows("nist-handbook-pchart.csv")]
    found = chart.shares(samples)
    assert (to_4(found.centre), to_4(found.limits[0].low)) == ("0.2313", "0.0524")
    assert float(found.limits[0].high) == pytest.approx(0.4103, abs=1e-4)
    assert [at + 1 for at in found.beyond] == [15, 23]


def test_counts_wafers():
    """6.3.3.1: mean 16, limits 28 and 4; wafer 3 lies on the limit, wafer 24 beyond it."""
    found = chart.counts([int(r["defects"]) for r in rows("nist-handbook-cchart-wafer.csv")])
    assert (found.limits.centre, found.limits.high, found.limits.low) == (16, 28, 4)
    assert [at + 1 for at in found.beyond] == [24]


def sequences() -> dict[str, list[tuple[str, str]]]:
    found: dict[str, list[tuple[str, str]]] = {}
    for row in rows("weco-synthetic-sequences.csv"):
        found.setdefault(row["sequence"], []).append((row["z"], row["signals_expected_at"]))
    return found


@pytest.mark.parametrize("name", sequences())
def test_run_rules_sequences(name):
    """Sequences made from the handbook's wording of the four Western Electric rules; own data."""
    pairs = sequences()[name]
    expected = {int(at) for _, text in pairs for at in text.replace(";", " ").split()}
    signals = chart.run_rules([Fraction(z) for z, _ in pairs], Fraction(0), Fraction(1))
    rule = name[1] if name[0] == "W" else None
    assert {s.at + 1 for s in signals if rule in (None, s.rule) and s.rule in "1234"} == expected


def test_run_rules_exactly_on_a_line_is_not_beyond():
    one = Fraction(1)
    assert not chart.run_rules([3 * one], Fraction(0), one)
    assert [s.rule for s in chart.run_rules([3 * one + Fraction(1, 10**9)], Fraction(0), one)] == ["1"]
    assert not chart.run_rules([2 * one, 0 * one, 2 * one], Fraction(0), one)
    assert not chart.run_rules([0 * one] * 20, Fraction(0), one)


@pytest.mark.parametrize(("count", "speaks"), [(5, False), (6, True)])
def test_run_rules_trend_of_six(count, speaks):
    """Additional rule of the handbook: six in a row rising or falling."""
    for sign in (1, -1):
        values = [Fraction(sign * i, 100) for i in range(count)]
        assert ("trend" in {s.rule for s in chart.run_rules(values, Fraction(0), Fraction(1))}) is speaks


@pytest.mark.parametrize(("count", "speaks"), [(13, False), (14, True)])
def test_run_rules_fourteen_up_and_down(count, speaks):
    values = [Fraction((-1) ** i, 100) for i in range(count)]
    assert ("alternating" in {s.rule for s in chart.run_rules(values, Fraction(0), Fraction(1))}) is speaks


numbers = st.lists(st.integers(-400, 400).map(lambda n: Fraction(n, 100)), max_size=30)


def naive_rules(values):
    """The four rules written out window by window."""
    found = set()
    for end in range(1, len(values) + 1):
        for rule, count, window, line in (("1", 1, 1, 3), ("2", 2, 3, 2), ("3", 4, 5, 1), ("4", 8, 8, 0)):
            last = values[max(0, end - window) : end]
            for side in (1, -1):
                if side * last[-1] > line and len([v for v in last if side * v > line]) >= count:
                    found.add((rule, end - 1))
    return found


@settings(max_examples=200, deadline=None)
@given(numbers)
def test_run_rules_agree_with_the_windows_written_out(values):
    signals = chart.run_rules(values, Fraction(0), Fraction(1))
    assert {(s.rule, s.at) for s in signals if s.rule in "1234"} == naive_rules(values)


@settings(max_examples=60, deadline=None)
@given(numbers.filter(lambda v: len(v) > 1), st.integers(-5, 5), st.integers(1, 9))
def test_individuals_follow_shift_and_scale(values, shift, scale):
    limits, mean_range = chart.individuals(values)
    moved, moved_range = chart.individuals([v * scale + shift for v in values])
    assert moved.high == limits.high * scale + shift and moved_range == mean_range * scale


def test_charts_exactly_on_a_limit_are_within():
    flat = chart.ewma([Fraction(4)], Fraction(1), Fraction(1), Fraction(1), Fraction(3))
    assert flat.beyond == () and flat.limits.high == 4
    assert chart.ewma([Fraction("4.000001")], Fraction(1), Fraction(1), Fraction(1), Fraction(3)).beyond == (0,)
    assert chart.cusum([Fraction(6)], Fraction(0), Fraction(1), Fraction(5)).beyond == ()
    assert chart.cusum([Fraction("-6.01")], Fraction(0), Fraction(1), Fraction(5)).beyond == (0,)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: chart.individuals([Fraction(1)]),
        lambda: chart.run_rules([Fraction(1)], Fraction(0), Fraction(-1)),
        lambda: chart.ewma([], Fraction(1), Fraction(1), Fraction(1), Fraction(3)),
        lambda: chart.ewma([Fraction(1)], Fraction(1), Fraction(1), Fraction(0), Fraction(3)),
        lambda: chart.ewma([Fraction(1)], Fraction(1), Fraction(1), Fraction(11, 10), Fraction(3)),
        lambda: chart.ewma([Fraction(1)], Fraction(1), Fraction(0), Fraction(1), Fraction(3)),
        lambda: chart.cusum([Fraction(1)], Fraction(1), Fraction(-1), Fraction(1)),
        lambda: chart.cusum([Fraction(1)], Fraction(1), Fraction(1), Fraction(0)),
        lambda: chart.shares([(3, 2)]),
        lambda: chart.shares([]),
        lambda: chart.counts([-1]),
        lambda: chart.counts([]),
    ],
)
def test_charts_impossible_inputs(ask):
    with pytest.raises(InputError):
        ask()
