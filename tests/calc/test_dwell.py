"""Dwell against the boundary vectors of the T.O. 33B-1-1 dwell table (tests/data/pt-boundary-vectors.csv)."""

import csv
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.calc.dwell import OutsideTable, required_dwell
from ndi.domain.errors import InputError

_LINES = (Path(__file__).parent.parent / "data" / "pt-boundary-vectors.csv").read_text(encoding="utf-8").splitlines()
VECTORS = [row for row in csv.DictReader(_LINES[1:]) if row["group"] == "T.O. dwell"]
SHARED_EDGE = {"d2": {"middle": 20, "longer": 40}, "d6": {"middle": 20, "longer": 20}}


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["case"])
@pytest.mark.parametrize("edge", ["middle", "longer"])
def test_required_dwell_boundary_vector(vector, edge):
    inputs = dict(pair.split("=") for pair in vector["inputs"].split(";"))
    arguments = Fraction(inputs["specified_min"]), Fraction(inputs["part_F"]), inputs["service_flaws"] == "1", edge
    expected = vector["expected"].removeprefix("required_min=")
    if expected.startswith("outside the table"):
        with pytest.raises(OutsideTable):
            required_dwell(*arguments)
    elif vector["case"] in SHARED_EDGE:
        assert str(SHARED_EDGE[vector["case"]][edge]) in expected.split("(")[0]
        assert required_dwell(*arguments) == SHARED_EDGE[vector["case"]][edge]
    else:
        assert required_dwell(*arguments) == int(expected.split()[0])


def test_vectors_are_all_there():
    assert len(VECTORS) == 14


@pytest.mark.parametrize(
    ("base", "temperature", "service", "needed"),
    [
        ("20", "60", False, 20),
        ("20", "59.9", False, 40),
        ("20", "100", False, 20),
        ("20", "100.1", False, 10),
        ("4", "110", False, 5),  # at least 5 min in the warm band, even where the base is less
        ("20", "55", True, 40),
        ("10", "70", True, 30),
        ("20", "110", True, 30),
        ("20", "40", False, 40),
        ("20", "120", False, 10),
    ],
)
def test_required_dwell_on_and_beside_the_edges(base, temperature, service, needed):
    assert required_dwell(Fraction(base), Fraction(temperature), service) == needed


@pytest.mark.parametrize("temperature", ["39.9", "38", "120.1", "-40"])
def test_required_dwell_outside_the_table_is_refused_with_the_temperature(temperature):
    with pytest.raises(OutsideTable) as refusal:
        required_dwell(Fraction(20), Fraction(temperature), False)
    assert refusal.value.temperature_f == Fraction(temperature)
    assert f"part at {temperature} F" in str(refusal.value)


def test_required_dwell_longer_edge_takes_the_warm_bands_five_minutes_over_a_shorter_base():
    assert required_dwell(Fraction(4), Fraction(100), False, "longer") == 5
    assert required_dwell(Fraction(4), Fraction(100), False, "middle") == 4


@pytest.mark.parametrize(
    ("base", "temperature", "edge"),
    [("0", "70", "middle"), ("-1", "70", "middle"), ("9", "-460", "middle"), ("9", "70", "warm")],
)
def test_required_dwell_impossible_value_is_an_input_error(base, temperature, edge):
    with pytest.raises(InputError):
        required_dwell(Fraction(base), Fraction(temperature), False, edge)


@given(
    st.fractions(min_value=Fraction(1, 10), max_value=200),
    st.fractions(min_value=40, max_value=120),
    st.sampled_from(["middle", "longer"]),
)
def test_required_dwell_properties(base, temperature, edge):
    plain = required_dwell(base, temperature, False, edge)
    assert required_dwell(base, temperature, True, edge) == max(plain, 30)
    assert required_dwell(base, temperature, False, "longer") >= required_dwell(base, temperature, False, "middle")
    assert required_dwell(2 * base, temperature, False, edge) >= plain
