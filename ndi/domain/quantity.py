"""Numbers as they were typed, with their unit, compared exactly.

A :class:`Number` keeps the text that was typed.  Comparisons use rational
arithmetic in the unit of the limit; nothing is rounded before it is judged.
Absolute temperature and temperature difference are different dimensions.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from ndi.domain.errors import InputError, UnitMismatch

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)\Z", re.ASCII)

PERCENT = Fraction(100)  # a share in percent, divided by this, is a plain ratio
FULL_TURN_DEG = Fraction(360)
HALF_TURN_DEG = Fraction(180)  # after it a line lies in its own direction again

# unit -> (dimension, factor to the base unit, offset added before the factor)
_UNITS: dict[str, tuple[str, Fraction, Fraction]] = {
    **{
        unit: (dimension, Fraction(factor), Fraction(0))
        for unit, dimension, factor in (
            ("in", "length", "25.4"),
            ("mm", "length", "1"),
            ("cm", "length", "10"),
            ("m", "length", "1000"),
            ("ft", "length", "304.8"),
            ("s", "time", "1"),
            ("min", "time", "60"),
            ("h", "time", "3600"),
            ("d", "time", "86400"),
            ("uW/cm2", "irradiance", "1"),
            ("mW/cm2", "irradiance", "1000"),
            ("W/m2", "irradiance", "100"),
            ("lx", "illuminance", "1"),
            ("A", "current", "1"),
            ("kA", "current", "1000"),
            ("A-turns", "ampere-turns", "1"),
            ("G", "flux density", "1"),
            ("mT", "flux density", "10"),
            ("psi", "pressure", "6894.757293168"),
            ("kPa", "pressure", "1000"),
            ("bar", "pressure", "100000"),
            ("mL", "settled volume per 100 mL", "1"),
            ("%", "share", "1"),
            ("deg", "angle", "1"),
            ("cSt", "kinematic viscosity", "1"),
            ("pcs", "count", "1"),
            ("holes", "count", "1"),
            ("ddegF", "temperature difference", "5/9"),
            ("ddegC", "temperature difference", "1"),
            ("V", "voltage", "1"),
        )
    },
    # 1 fc = 1 lm/ft2 = 1/0.09290304 lx, exact because 1 ft = 0.3048 m is exact
    "fc": ("illuminance", Fraction(1) / Fraction("0.09290304"), Fraction(0)),
    "degC": ("temperature", Fraction(1), Fraction(0)),
    "degF": ("temperature", Fraction(5, 9), Fraction(-32)),
    "K": ("temperature", Fraction(1), Fraction("-273.15")),
}
_ALIASES = {"F": "degF", "C": "degC", "µW/cm²": "uW/cm2", "µW/cm2": "uW/cm2", "uW/cm²": "uW/cm2"}


def known_units() -> tuple[str, ...]:
    """Every unit that a number may carry, sorted."""
    return tuple(sorted(_UNITS))


def unit_name(text: str) -> str:
    """The unit meant by ``text``; InputError if it is none we know (units are never guessed)."""
    name = _ALIASES.get(text, text)
    if name not in _UNITS:
        raise InputError(f"unit {text!r} is not known; use one of {', '.join(known_units())}")
    return name


def dimension(unit: str) -> str:
    """The dimension of a known unit, e.g. ``length`` for ``in``."""
    return _UNITS[unit_name(unit)][0]


def difference_unit(unit: str) -> str:
    """The unit in which differences of a unit are told: ``ddegF`` for ``degF``, itself for all but temperatures."""
    return {"degF": "ddegF", "degC": "ddegC", "K": "ddegC"}.get(unit_name(unit), unit_name(unit))


@lru_cache(maxsize=4096)
def _parse(typed: str) -> Fraction:
    if not _NUMBER.match(typed):
        raise InputError(f"{typed!r} is not a number; type digits with one decimal point")
    return Fraction(typed)


@lru_cache(maxsize=4096)
def _converted(typed: str, mine: str, unit: str) -> Fraction:
    _, factor, offset = _UNITS[mine]
    _, per_unit, shift = _UNITS[unit]
    return (_parse(typed) + offset) * factor / per_unit - shift


@dataclass(frozen=True)
class Number:
    """A number as typed and its unit, e.g. ``Number("0.165", "mL")``."""

    typed: str
    unit: str

    def __post_init__(self) -> None:
        _parse(self.typed)
        object.__setattr__(self, "unit", unit_name(self.unit))

    @property
    def value(self) -> Fraction:
        """The exact value in the unit that was typed."""
        return _parse(self.typed)

    def in_unit(self, unit: str) -> Fraction:
        """The exact value in ``unit``; UnitMismatch if the dimensions differ."""
        if unit == self.unit:
            return self.value
        unit = unit_name(unit)
        if unit == self.unit:
            return self.value
        mine, theirs = _UNITS[self.unit], _UNITS[unit]
        if mine[0] != theirs[0]:
            raise UnitMismatch(
                f"{self} is a {mine[0]}, {unit} is a {theirs[0]}: they cannot be compared; choose a unit of {theirs[0]}"
            )
        return _converted(self.typed, self.unit, unit)

    def __str__(self) -> str:
        return f"{self.typed} {self.unit}"


def shown(value: Fraction, unit: str = "", *, digits: int = 4) -> str:
    """``value`` for reading: exact where short, else to ``digits`` decimals and marked with ~."""
    if value.denominator == 1:
        return f"{value.numerator} {unit}".rstrip()
    scaled = value * 10**digits
    mark = ""
    if scaled.denominator != 1:
        scaled = Fraction(round(scaled))
        mark = "~"
    sign = "-" if scaled < 0 else ""
    whole, rest = divmod(abs(int(scaled)), 10**digits)
    text = f"{mark}{sign}{whole}"
    tail = f"{rest:0{digits}d}".rstrip("0")
    if tail:
        text += "." + tail
    return f"{text} {unit}".rstrip()
