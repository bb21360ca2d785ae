"""Penetrant dwell corrected for the temperature of the part and for service-induced flaws.

Source: US T.O. 33B-1-1 / TM 1-1500-335-23, penetrant chapter, dwell table: twice
the base at 40 to 60 F, the base at 60 to 100 F, half of it but at least 5 min at
100 to 120 F; at least 30 min where service-induced flaws are looked for.  Two
bands share 60 F and 100 F in that table; the procedure says which one counts.
"""

from __future__ import annotations

from fractions import Fraction

from ndi.domain.errors import InputError, NdiError
from ndi.domain.quantity import shown

COLD_FROM, MIDDLE_FROM, MIDDLE_TO, WARM_TO = Fraction(40), Fraction(60), Fraction(100), Fraction(120)  # degF
COLD_FACTOR, WARM_FACTOR = Fraction(2), Fraction(1, 2)
WARM_LEAST_MIN = Fraction(5)
SERVICE_LEAST_MIN = Fraction(30)
ABSOLUTE_ZERO_F = Fraction("-459.67")
EDGES = ("middle", "longer")


class OutsideTable(NdiError, LookupError):
    """The table has no dwell for this temperature; ``temperature_f`` keeps it."""

    def __init__(self, temperature_f: Fraction) -> None:
        super().__init__(
            f"part at {shown(temperature_f)} F: the dwell table covers {COLD_FROM} to {WARM_TO} F; "
            "bring the part into that range and wet it then, or ask the Level III for a dwell"
        )
        self.temperature_f = temperature_f


def _cold(base_min: Fraction) -> Fraction:
    return base_min * COLD_FACTOR


def _middle(base_min: Fraction) -> Fraction:
    return base_min


def _warm(base_min: Fraction) -> Fraction:
    return max(base_min * WARM_FACTOR, WARM_LEAST_MIN)


def required_dwell(
    base_min: Fraction,
    part_temperature_f: Fraction,
    service_induced: bool,
    edge: str = "middle",
    cold_to: Fraction = MIDDLE_FROM,
) -> Fraction:
    """The least dwell in minutes (T.O. 33B-1-1 dwell table).

    ``edge`` says which band a temperature of exactly 60 or 100 F belongs to:
    ``middle`` the band between them, ``longer`` the one with the longer dwell.
    ``cold_to`` is where doubling ends: 60 F here, 50 F in other published rules.
    Raises OutsideTable below 40 and above 120 F, InputError for impossible values.
    """
    if base_min <= 0:
        raise InputError(f"base dwell {shown(base_min)} min: it must be above 0")
    if part_temperature_f < ABSOLUTE_ZERO_F:
        raise InputError(f"part temperature {shown(part_temperature_f)} F lies below absolute zero; read it again")
    if edge not in EDGES:
        raise InputError(f"edge {edge!r} is not known; use {' or '.join(EDGES)}")
    if not COLD_FROM < cold_to < MIDDLE_TO:
        raise InputError(f"cold_to {shown(cold_to)} F: it lies between {COLD_FROM} and {MIDDLE_TO}")
    table = ((COLD_FROM, cold_to, _cold), (cold_to, MIDDLE_TO, _middle), (MIDDLE_TO, WARM_TO, _warm))
    bands = [dwell for low, high, dwell in table if low <= part_temperature_f <= high]
    if not bands:
        raise OutsideTable(part_temperature_f)
    if len(bands) > 1 and edge == "middle":
        bands = [_middle]
    needed = max(dwell(base_min) for dwell in bands)
    return max(needed, SERVICE_LEAST_MIN) if service_induced else needed
