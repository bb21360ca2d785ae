"""Conversion between the units of MT and PT, exact: a rational number, times or over pi.

Sources: inch 25.4 mm and pound 0.453 592 37 kg (international yard and pound
agreement, 1959), standard gravity 9.806 65 m/s2 (CGPM 1901), footcandle one
lumen per square foot, oersted 1000/(4 pi) A/m, gauss 1e-4 T, and for a field in
air B = mu0 H with mu0 = 4 pi 1e-7 (exact until 2019, since then within 2e-10).
The units here are those of ``ndi compute convert``; numbers in records carry
the units of ``ndi.domain.quantity``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from ndi.calc.exact import pi
from ndi.domain.errors import InputError, UnitMismatch
from ndi.domain.quantity import shown

FOOT = Fraction("0.3048")  # m
INCH = Fraction("0.0254")  # m
PSI = Fraction("0.45359237") * Fraction("9.80665") / INCH**2  # Pa
OERSTED = Fraction(250)  # A/m, over pi


@dataclass(frozen=True)
class Unit:
    """``dimension``, and a value in the base unit = (value + offset) * factor * pi**pi_power."""

    dimension: str
    factor: Fraction
    pi_power: int = 0
    offset: Fraction = Fraction(0)


UNITS: dict[str, Unit] = {
    "in": Unit("length", INCH),
    "mm": Unit("length", Fraction("0.001")),
    "cm": Unit("length", Fraction("0.01")),
    "m": Unit("length", Fraction(1)),
    "ft": Unit("length", FOOT),
    "in2": Unit("area", INCH**2),
    "mm2": Unit("area", Fraction("0.000001")),
    "A": Unit("current", Fraction(1)),
    "A/in": Unit("field strength (in air)", 1 / INCH),
    "A/mm": Unit("field strength (in air)", Fraction(1000)),
    "A/cm": Unit("field strength (in air)", Fraction(100)),
    "A/m": Unit("field strength (in air)", Fraction(1)),
    "kA/m": Unit("field strength (in air)", Fraction(1000)),
    "G": Unit("field strength (in air)", OERSTED, -1),
    "mT": Unit("field strength (in air)", 10 * OERSTED, -1),
    "T": Unit("field strength (in air)", 10_000 * OERSTED, -1),
    "Oe": Unit("field strength (in air)", OERSTED, -1),
    "uW/cm2": Unit("irradiance", Fraction("0.01")),
    "mW/cm2": Unit("irradiance", Fraction(10)),
    "W/m2": Unit("irradiance", Fraction(1)),
    "lx": Unit("illuminance", Fraction(1)),
    "fc": Unit("illuminance", 1 / FOOT**2),
    "degF": Unit("temperature", Fraction(5, 9), offset=Fraction("459.67")),
    "degC": Unit("temperature", Fraction(1), offset=Fraction("273.15")),
    "K": Unit("temperature", Fraction(1)),
    "ddegF": Unit("temperature difference", Fraction(5, 9)),
    "ddegC": Unit("temperature difference", Fraction(1)),
    "psi": Unit("pressure", PSI),
    "kPa": Unit("pressure", Fraction(1000)),
    "bar": Unit("pressure", Fraction(100_000)),
    "s": Unit("time", Fraction(1)),
    "min": Unit("time", Fraction(60)),
    "h": Unit("time", Fraction(3600)),
    "mL/100mL": Unit("share of volume", Fraction(1)),
    "%vol": Unit("share of volume", Fraction(1)),
}

_EXACT = re.compile(r"(-?\d+/\d+)((?:\*pi)*|(?:/pi)*)\Z", re.ASCII)


@dataclass(frozen=True)
class Exact:
    """coefficient * pi**pi_power, written ``p/q``, ``p/q*pi`` or ``p/q/pi``."""

    coefficient: Fraction
    pi_power: int = 0

    def __str__(self) -> str:
        power = "*pi" * self.pi_power if self.pi_power >= 0 else "/pi" * -self.pi_power
        return f"{self.coefficient.numerator}/{self.coefficient.denominator}{power}"

    def __float__(self) -> float:
        return float(self.coefficient * pi() ** self.pi_power)

    @classmethod
    def parse(cls, text: str) -> Exact:
        """The number that ``str()`` wrote; InputError for anything else."""
        match = _EXACT.match(text)
        if match is None:
            raise InputError(f"{text!r} is not of the form p/q, p/q*pi or p/q/pi")
        power = match[2].count("pi")
        return cls(Fraction(match[1]), -power if match[2].startswith("/") else power)


def _unit(name: str) -> Unit:
    if name not in UNITS:
        raise InputError(f"unit {name!r} is not known; use one of {', '.join(UNITS)}")
    return UNITS[name]


def convert(value: Fraction | Exact, from_unit: str, to_unit: str) -> Exact:
    """``value`` of one unit in another, exact; G, mT, T and Oe stand for a field in air.

    InputError for an unknown unit or a temperature below absolute zero;
    UnitMismatch, naming both, where the dimensions differ.
    """
    source, target = _unit(from_unit), _unit(to_unit)
    if source.dimension != target.dimension:
        raise UnitMismatch(
            f"{from_unit} is a {source.dimension}, {to_unit} is a {target.dimension}: one does not convert to the other"
        )
    given = value if isinstance(value, Exact) else Exact(value)
    base = (given.coefficient + source.offset) * source.factor
    if source.dimension == "temperature" and base < 0:
        raise InputError(f"value {shown(given.coefficient)} {from_unit} lies below absolute zero")
    return Exact(base / target.factor - target.offset, given.pi_power + source.pi_power - target.pi_power)
