"""Head shot, offset bar and coil: published worked examples (tests/data/mt-worked-examples.csv) and worked cases.

The CSV keeps source and confidence of each row; W rows were published, D rows
derived from a published rule.
"""

import csv
import math
import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.calc.coil import NeedsExtensions, Setup, shot
from ndi.calc.conversion import convert
from ndi.calc.exact import root
from ndi.calc.magnetizing_current import head_shot, offset_bar, section_diameter
from ndi.calc.published import AMPS_PER_IN_MAX, AMPS_PER_IN_MIN, LENGTH_TO_DIAMETER_FLOOR
from ndi.domain.errors import InputError

with (Path(__file__).parent.parent / "data" / "mt-worked-examples.csv").open(encoding="utf-8", newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}
FLOOR = LENGTH_TO_DIAMETER_FLOOR.value


def f(value):
    return Fraction(str(value))


def coil(length, od, inner=0, coil_diameter=12, turns=5, position="side", floor=FLOOR):
    return shot(Setup(f(length), f(od), f(inner), f(coil_diameter), turns, position), floor)


def amps(diameter, low, high=None):
    window = head_shot(f(diameter), f(low), f(low if high is None else high))
    return [window.amps_min] if high is None else [window.amps_min, window.amps_max]


def units(values, from_unit, to_unit):
    return [convert(f(value), from_unit, to_unit) for value in values]


# id -> (numbers computed here, relative tolerance, or None: the tolerance written in the row)
FOUND = {
    "W01": ([coil(10, 2).amps], None),
    "W04": ([coil(10, 2, "1.75").effective_diameter], None),
    "W05": ([coil(10, 2, "1.75").amps], None),
    "W06": ([coil(10, 2).amps - coil(10, 2, "1.75").amps], None),
    "W09": (amps("1.5", 500), None),
    "W10": (amps(2, 500), None),
    "W11": (
        [offset_bar(f(1), f(".25"), f("1.5"), amps_per_in_min=f(500), amps_per_in_max=f(500)).current.amps_min],
        None,
    ),
    "W14": (amps(2, 800, 1000), None),
    "W20": ([coil(5, 2).amps], None),
    "W25": (amps(3, 1000), None),
    "W26": ([coil(16, 2).ampere_turns], None),
    "W27": ([coil(10, 2, coil_diameter="2.5").ampere_turns], None),
    "W39": (units([100, 2], "fc", "lx"), None),
    "W40": (units([30, 60], "G", "kA/m"), None),
    "W41": (units([300, 500, 800], "A/in", "A/mm"), None),
    "D01": ([coil(10, 2, position="centred").ampere_turns, coil(10, 2, position="centred").amps], None),
    "D02": ([coil(10, 2, coil_diameter="2.5").ampere_turns], 1e-12),
    "D09": ([coil(40, 2).ampere_turns], None),
    "D13": ([coil(10, 2, "1.75").effective_diameter], 1e-6),
    "D15": ([offset_bar(f(1), f(".25"), f("1.5"), amps_per_in_min=f(1), amps_per_in_max=f(1)).rotations], None),
    "D19": ([coil(40, "4.5").positions], None),
    "D20": ([coil("22.5", "4.5").positions], None),
    "D22": ([coil(12, "4.5").positions], None),
    "D23": (amps("2.25", 300, 800), None),
    "D39": (units([1, 2, 100], "fc", "lx"), None),
    "D40": (units([20, 500, 1000], "lx", "fc"), None),
    "D41": (units([1000, 5000, 10000], "uW/cm2", "W/m2"), None),
    "D42": (units([1, 3, 30, 60], "Oe", "A/m"), None),
    "D43": (units([3, 10], "G", "mT"), None),
    "D44": (units([30, 60], "A/cm", "Oe"), None),
    "D47": (units(["1/16", "3/16", "0.015", 3, 8], "in", "mm"), None),
}
ELSEWHERE = {"D03", "D04", "D06", "D07", "D10", "D50"}  # below, or in test_grouping


def _tolerance(text):
    if match := re.match(r"±([\d.]+) ?%", text):
        return {"rel": float(match[1]) / 100}
    if match := re.match(r"([\d.e-]+) rel", text):
        return {"rel": float(match[1])}
    if match := re.match(r"±([\d.]+)", text):
        return {"abs": float(match[1])}
    return {"rel": 1e-12}  # "exact" and rules stated as exact


@pytest.mark.parametrize("row", FOUND)
def test_worked_example(row):
    found, tolerance = FOUND[row]
    numbers = re.findall(r"\d+(?:\.\d+)?", ROWS[row]["expected"].split("(")[0])[: len(found)]
    assert len(numbers) == len(found)
    bound = {"rel": tolerance} if tolerance else _tolerance(ROWS[row]["tolerance"])
    for value, expected in zip(found, numbers, strict=True):
        assert float(value) == pytest.approx(float(expected), **bound)


def test_worked_examples_are_all_used():
    assert set(FOUND) | ELSEWHERE == set(ROWS)


@pytest.mark.parametrize(("position", "row", "last"), [("centred", "D03", "13037.69"), ("side", "D04", "10760")])
def test_coil_intermediate_fill_blends_with_the_value_of_its_position(position, row, last):
    assert ROWS[row]["expected"].endswith(last)
    assert float(coil(15, 5, position=position).ampere_turns) == pytest.approx(float(last), abs=0.05)


def test_coil_fill_ends_belong_to_low_and_high_and_the_blend_is_continuous():
    """D06: r = 2 gives the high value, r = 10 the low one; radii chosen so that r is exact."""
    for position in ("side", "centred"):
        low = coil(30, 3, coil_diameter=Fraction(3) * root(Fraction(10)), position=position)
        assert low.area_ratio == pytest.approx(10)
    exact_ten = Setup(f(30), f(1), f(0), f(10), 5, "side")
    assert exact_ten.area_ratio == 100 and exact_ten.fill == "low"
    at_high = shot(Setup(f(30), f(5), f(0), f("7.0710678118654752"), 5, "side"), FLOOR)  # r a hair below 2
    beyond = shot(Setup(f(30), f(5), f(0), f("7.0710678118654753"), 5, "side"), FLOOR)  # a hair above
    assert (at_high.fill, beyond.fill) == ("high", "intermediate")
    assert float(at_high.ampere_turns) == pytest.approx(float(beyond.ampere_turns), rel=1e-12)
    at_low = shot(Setup(f(30), f(5), f(0), f("15.8113883008418967"), 5, "centred"), FLOOR)  # r a hair above 10
    below = shot(Setup(f(30), f(5), f(0), f("15.8113883008418966"), 5, "centred"), FLOOR)
    assert (at_low.fill, below.fill) == ("low", "intermediate")
    assert float(at_low.ampere_turns) == pytest.approx(float(below.ampere_turns), rel=1e-12)


def test_coil_blend_in_the_middle_is_the_mean():
    """D07: r = 6 gives the mean of high 7000 and low 15000."""
    middle = shot(Setup(f(15), f(5), f(0), 5 * root(Fraction(6)), 5, "side"), FLOOR)
    assert float(middle.ampere_turns) == pytest.approx(11000, rel=1e-12)


def test_coil_below_the_floor_asks_for_extensions():
    """D10, and exactly at the floor it is computed."""
    with pytest.raises(NeedsExtensions) as refusal:
        coil(3, 2)
    assert (refusal.value.found, refusal.value.limit, refusal.value.thousandths_missing) == (Fraction(3, 2), 2, 1)
    assert coil(4, 2).length_to_diameter == 2
    with pytest.raises(NeedsExtensions):
        coil("3.99999999999999999999", 2)
    assert coil(3, 2, floor=f("1.5")).ampere_turns == 30000


def test_coil_floor_is_compared_exactly_for_a_hollow_part():
    """sqrt(5^2 - 3^2) = 4: L/D is exactly 2 with length 8."""
    assert coil(8, 5, 3).length_to_diameter == 2
    with pytest.raises(NeedsExtensions):
        coil("7.9999999999999999999", 5, 3)


def test_coil_centred_formula_has_no_current_at_five_sixths_or_below():
    with pytest.raises(NeedsExtensions) as refusal:
        coil(5, 6, coil_diameter=24, position="centred", floor=f("0.5"))
    assert refusal.value.limit == Fraction(5, 6)
    assert coil(5, 6, coil_diameter=24, position="side", floor=f("0.5")).ampere_turns == 54000
    assert coil("5.0001", 6, coil_diameter=24, position="centred", floor=f("0.5")).ampere_turns > 0


@pytest.mark.parametrize(
    ("case", "found", "digits", "text"),
    [
        ("10 x 2, side", coil(10, 2).ampere_turns, 0, "9000"),
        ("10 x 2, centred", coil(10, 2, position="centred").amps, 1, "2064.0"),
        ("tube 2/1.75", coil(10, 2, "1.75").amps, 1, "871.4"),
        ("crank 40 x 4.5 side", coil(40, "4.5").ampere_turns, 1, "4395.1"),
        ("crank 40 x 4.5 amps", coil(40, "4.5").amps, 1, "879.0"),
        ("crank 40 x 4.5 r", coil(40, "4.5").area_ratio, 3, "7.111"),
        ("crank 40 x 2.38", coil(40, "2.38").ampere_turns, 0, "3000"),
        ("rod 9.6 x 1.10", coil("9.6", "1.10").ampere_turns, 0, "5156"),
        ("piston pin", coil("3.90", "1.125", "0.75").ampere_turns, 0, "9675"),
        ("piston pin D", coil("3.90", "1.125", "0.75").effective_diameter, 4, "0.8385"),
        ("rocker shaft", coil("2.9", "0.62", "0.31").ampere_turns, 0, "8332"),
        ("20 x 5 side", coil(20, 5).ampere_turns, 1, "8379.2"),
        ("20 x 5 centred", coil(20, 5, position="centred").ampere_turns, 1, "9473.8"),
        ("camshaft positions", coil("31.5", "1.5").positions, 0, "3"),
        ("26.6 in a 14 in coil: exact ceiling", coil("26.6", 5, coil_diameter=14).positions, 0, "2"),
        ("a hair longer", coil("26.6000000000000001", 5, coil_diameter=14).positions, 0, "3"),
        ("high fill: 18 in field", coil(18, 9).positions, 0, "1"),
        ("high fill: beyond", coil("34.2", 9).positions, 0, "2"),
        ("high fill: beyond that", coil("34.21", 9).positions, 0, "3"),
    ],
)
def test_coil_worked_case(case, found, digits, text):
    """Worked once by a separate script in double precision; the first lines agree with T.O. 33B-1-1 table 3-3."""
    assert f"{float(found):.{digits}f}" == text, case


@given(
    st.fractions(min_value=20, max_value=60, max_denominator=64),
    st.fractions(min_value=1, max_value=9, max_denominator=64),
    st.fractions(min_value=0, max_value=Fraction(9, 10), max_denominator=64),
    st.fractions(min_value=10, max_value=20, max_denominator=64),
    st.sampled_from(["side", "centred"]),
)
def test_coil_agrees_with_the_formulas_in_doubles(length, od, share, coil_diameter, position):
    """The formulas again, written down in floats from the training sheet."""
    found = shot(Setup(length, od, od * share, coil_diameter, 4, position), FLOOR)
    ratio = min(15.0, length / math.sqrt(od**2 - (od * share) ** 2))
    r = (coil_diameter / od) ** 2
    low = 45000 / ratio if position == "side" else 43000 * float(coil_diameter) / 2 / (6 * ratio - 5)
    high = 35000 / (ratio + 2)
    blend = high if r <= 2 else low if r >= 10 else high * (10 - r) / 8 + low * (r - 2) / 8
    assert float(found.ampere_turns) == pytest.approx(blend, rel=1e-9)
    assert found.amps * 4 == found.ampere_turns
    field = 18 if r <= 2 else coil_diameter
    assert found.positions >= 1 and field + (found.positions - 1) * Fraction(9, 10) * field >= length
    assert found.positions == 1 or field + (found.positions - 2) * Fraction(9, 10) * field < length


@pytest.mark.parametrize(
    "values",
    [
        (10, 2, -1, 12, 5, "side"),
        (10, 2, 2, 12, 5, "side"),
        (10, 12, 0, 12, 5, "side"),
        (0, 2, 0, 12, 5, "side"),
        (10, 2, 0, 12, 0, "side"),
        (10, 2, 0, 12, 5, "top"),
    ],
)
def test_coil_impossible_setup_is_an_input_error(values):
    length, od, inner, coil_diameter, turns, position = values
    with pytest.raises(InputError):
        Setup(f(length), f(od), f(inner), f(coil_diameter), turns, position)


@pytest.mark.parametrize("floor", [0, -1, 16])
def test_coil_impossible_floor_is_an_input_error(floor):
    with pytest.raises(InputError):
        coil(40, 2, floor=f(floor))


@pytest.mark.parametrize(
    ("bar", "wall", "bore", "counted", "low", "high", "inside", "outside"),
    [
        ("0.75", "0.25", "1.5", "1.25", 375, 1000, 2, 3),
        ("1.0", "0.20", "5.25", "1.4", 420, 1120, 5, 5),
        ("2.0", "0.20", "5.25", "2.4", 720, 1920, 3, 3),
        ("1.5", "0.25", "1.5", "2", 600, 1600, 1, 2),  # bar as wide as the bore
    ],
)
def test_offset_bar_worked_case(bar, wall, bore, counted, low, high, inside, outside):
    """Worked by hand: pi x bore / (3.6 bar), rounded up."""
    limits = {"amps_per_in_min": AMPS_PER_IN_MIN.value, "amps_per_in_max": AMPS_PER_IN_MAX.value}
    found = offset_bar(f(bar), f(wall), f(bore), **limits)
    assert found.effective_diameter == f(counted)
    assert (found.current.amps_min, found.current.amps_max) == (low, high)
    assert (found.rotations, found.rotations_outside) == (inside, outside)
    assert found.rotations == max(1, math.ceil(math.pi * float(bore) / (3.6 * float(bar))))


@pytest.mark.parametrize("values", [("2", "0.2", "1.9"), ("0", "0.2", "1.9"), ("1", "0", "1.9"), ("1", "0.1", "0")])
def test_offset_bar_impossible_values_are_input_errors(values):
    bar, wall, bore = map(f, values)
    with pytest.raises(InputError):
        offset_bar(bar, wall, bore, amps_per_in_min=f(300), amps_per_in_max=f(800))


def test_head_shot_impossible_values_are_input_errors():
    for values in ((0, 300, 800), (1, 800, 300), (1, 0, 300), (-1, 300, 800)):
        with pytest.raises(InputError):
            head_shot(*map(f, values))


def test_section_diameter_of_three_by_four_is_worked_by_hand():
    """The 3-4-5 triangle; perimeter 14 over pi."""
    assert section_diameter(f(3), f(4), "diagonal") == pytest.approx(5)
    assert float(section_diameter(f(3), f(4), "perimeter")) == pytest.approx(14 / math.pi)


@pytest.mark.parametrize(
    ("width", "height", "basis", "named"),
    [(0, 4, "diagonal", "width_in"), (3, 0, "diagonal", "height_in"), (3, 4, "area", "basis 'area'")],
)
def test_section_diameter_refusal_names_what_is_wrong(width, height, basis, named):
    with pytest.raises(InputError, match=named):
        section_diameter(f(width), f(height), basis)


def test_head_shot_refusal_names_what_is_wrong():
    with pytest.raises(InputError, match="diameter_in 0: it must be above 0"):
        head_shot(f(0), f(300), f(800))
    with pytest.raises(InputError, match="amps_per_in_min 800 is above amps_per_in_max 300"):
        head_shot(f(1), f(800), f(300))
