"""Conversions against pint (definitions of another author); field units of air with pint's own mu0."""

from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.calc.conversion import UNITS, Exact, convert
from ndi.domain.errors import InputError, UnitMismatch

REGISTRY = pint.UnitRegistry()
REGISTRY.define("footcandle = lumen / foot ** 2")
PINT = {
    "in": "inch",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "ft": "foot",
    "in2": "inch ** 2",
    "mm2": "millimeter ** 2",
    "A": "ampere",
    "A/in": "ampere / inch",
    "A/mm": "ampere / millimeter",
    "A/cm": "ampere / centimeter",
    "A/m": "ampere / meter",
    "kA/m": "kiloampere / meter",
    "T": "tesla",
    "mT": "millitesla",
    "uW/cm2": "microwatt / centimeter ** 2",
    "mW/cm2": "milliwatt / centimeter ** 2",
    "W/m2": "watt / meter ** 2",
    "lx": "lux",
    "fc": "footcandle",
    "degF": "degree_Fahrenheit",
    "degC": "degree_Celsius",
    "K": "kelvin",
    "ddegF": "delta_degree_Fahrenheit",
    "ddegC": "delta_degree_Celsius",
    "psi": "pound_force_per_square_inch",
    "kPa": "kilopascal",
    "bar": "bar",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "mL/100mL": "milliliter / deciliter",
    "%vol": "percent",
}
IN_TESLA = {"G": "1e-4", "T": "1", "mT": "1e-3"}
AIR = {"G", "mT", "T", "Oe"}
MU0 = REGISTRY.Quantity(1, "vacuum_permeability")


def _quantity(value, unit):
    """pint's quantity; fields of air as A/m: B / mu0, and 1 Oe as 1e-4 T / mu0."""
    if unit in AIR:
        tesla = float(Fraction(value)) * float(Fraction(IN_TESLA.get(unit, "1e-4")))
        return (REGISTRY.Quantity(tesla, "tesla") / MU0).to("ampere / meter")
    return REGISTRY.Quantity(float(Fraction(value)), PINT[unit])


PAIRS = [(a, b) for a in UNITS for b in UNITS if UNITS[a].dimension == UNITS[b].dimension]


@pytest.mark.parametrize(("source", "target"), PAIRS, ids=lambda unit: unit)
def test_convert_agrees_with_pint(source, target):
    value = Fraction("287.35")
    expected = _quantity(value, source)
    if target in AIR:
        expected = (expected.to("ampere / meter") * MU0).to("tesla").magnitude / float(
            Fraction(IN_TESLA.get(target, "1e-4"))
        )
    else:
        expected = expected.to(PINT[target]).magnitude
    assert float(convert(value, source, target)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("source", "target"), PAIRS, ids=lambda unit: unit)
def test_convert_round_trip_is_exact(source, target):
    for text in ("0.015", "71.3", "1e-9"):
        there = convert(Fraction(text), source, target)
        assert convert(Exact.parse(str(there)), target, source) == Exact(Fraction(text))


@given(st.sampled_from(PAIRS), st.fractions(min_value=0, max_value=10**6))
def test_convert_any_rational_comes_back(pair, value):
    source, target = pair
    there = convert(value, source, target)
    assert Exact.parse(str(there)) == there
    assert convert(there, target, source) == Exact(value)


@pytest.mark.parametrize(
    ("value", "source", "target", "exact"),
    [
        ("1", "in", "mm", "127/5"),  # definitions: exact arithmetic by hand
        ("1", "mm", "in", "5/127"),
        ("12", "in", "ft", "1/1"),
        ("1", "in2", "mm2", "16129/25"),
        ("212", "degF", "degC", "100/1"),
        ("-40", "degC", "degF", "-40/1"),
        ("9", "ddegF", "ddegC", "5/1"),
        ("1", "bar", "kPa", "100/1"),
        ("1", "psi", "kPa", "8896443230521/1290320000000"),
        ("1", "fc", "lx", "1562500/145161"),
        ("1", "Oe", "A/m", "250/1/pi"),
        ("1", "G", "Oe", "1/1"),
        ("1", "kA/m", "Oe", "4/1*pi"),
        ("10", "G", "mT", "1/1"),
        ("0.2", "mL/100mL", "%vol", "1/5"),
    ],
)
def test_convert_exact_form(value, source, target, exact):
    assert str(convert(Fraction(value), source, target)) == exact


def test_convert_nearest_double_of_a_number_with_pi():
    """1000/(4 pi), 20 digits from the definition."""
    assert float(convert(Fraction(1), "Oe", "A/m")) == 79.577471545947667884


@pytest.mark.parametrize(("source", "target"), [("A", "A/m"), ("degF", "ddegF"), ("in", "in2"), ("lx", "uW/cm2")])
def test_convert_other_dimension_names_both(source, target):
    with pytest.raises(UnitMismatch) as error:
        convert(Fraction(1), source, target)
    assert UNITS[source].dimension in str(error.value) and UNITS[target].dimension in str(error.value)


@pytest.mark.parametrize(
    ("value", "source", "target"),
    [("1", "inch", "mm"), ("1", "in", "MM"), ("-1", "K", "degC"), ("-459.68", "degF", "K")],
)
def test_convert_impossible_question_is_an_input_error(value, source, target):
    with pytest.raises(InputError):
        convert(Fraction(value), source, target)


@pytest.mark.parametrize("text", ["", "1", "1/0x", "pi", "1/2*pi/pi", "1.5/2"])
def test_exact_parse_refuses_other_forms(text):
    with pytest.raises(InputError):
        Exact.parse(text)
