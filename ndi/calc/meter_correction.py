"""What readings were worth when their meter is found wrong at calibration.

A meter that reads high by e percent shows true x (1 + e/100).  Worst case: it was
off by the whole error since the calibration before.  Best estimate: the error
grew evenly, day by day, from none.  Common practice, no source; exact numbers.
"""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

WHOLE = Fraction(100)  # percent


def factor(error_percent: Fraction) -> Fraction:
    """What the meter shows for each unit of truth; InputError at an error of -100 % or less."""
    if error_percent <= -WHOLE:
        raise InputError(f"error_percent {shown(error_percent)}: a meter that shows nothing cannot be corrected")
    return 1 + error_percent / WHOLE


def critical_reading(limit: Fraction, error_percent: Fraction) -> Fraction:
    """The reading that a truth exactly at ``limit`` gives when the whole error counts."""
    return limit * factor(error_percent)


def worst_case(reading: Fraction, error_percent: Fraction) -> Fraction:
    """The true value if the whole error counted all along."""
    return reading / factor(error_percent)


def linear_drift(reading: Fraction, error_percent: Fraction, calibrated: date, read: date, found: date) -> Fraction:
    """The true value if the error grew evenly from none at ``calibrated`` to all of it at ``found``."""
    if not calibrated <= read <= found or calibrated == found:
        raise InputError(f"{read} does not lie between the calibrations of {calibrated} and {found}")
    share = Fraction((read - calibrated).days, (found - calibrated).days)
    return reading / factor(error_percent * share)
