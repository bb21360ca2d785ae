"""Conversion of units."""

from __future__ import annotations

from ndi.calc import conversion
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome
from ndi.domain.errors import InputError


def _convert(inputs: Inputs) -> Outcome:
    units = tuple(conversion.UNITS)
    value, source, target = inputs.number("value"), inputs.word("from", units), inputs.word("to", units)
    try:
        exact = conversion.convert(value, source, target)
    except InputError as error:
        mismatch = conversion.UNITS[source].dimension != conversion.UNITS[target].dimension
        raise BadInput("from, to" if mismatch else "value", str(error)) from error
    return Outcome(
        "exact factors of the definitions; G, mT, T and Oe count as a field in air, B = mu0 H, mu0 = 4 pi 1e-7",
        "inch 25.4 mm and pound 0.45359237 kg (1959), standard gravity 9.80665 m/s2 (CGPM 1901), footcandle one lumen "
        "per square foot, oersted 1000/(4 pi) A/m",
        {"value": float(exact), "exact": str(exact)},
    )


COMPUTATIONS = {
    "convert": Computation(
        ("value", "from", "to"),
        (),
        _convert,
        '{"value": 2, "from": "fc", "to": "lx"}',
        f"units: {', '.join(conversion.UNITS)}",
    ),
}
