"""The decay of one lamp's UV-A irradiance: a straight line through ln(reading) against days.

Source: ordinary least squares with a prediction interval for one new reading,
NIST/SEMATECH e-Handbook of Statistical Methods, section 4 (process modelling).
That a lamp fades exponentially is common practice, no source; lamps also lose
by starts, which days alone do not show.  Which readings enter is the caller's
choice.  Statistics in floats: nothing here is compared with a procedure's limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import copysign, exp, inf, log

from ndi.calc.straight_line import COVERAGE, Line, least_squares, lower_limit_falls_to
from ndi.domain.errors import InputError


@dataclass(frozen=True)
class Trend:
    """A lamp's trend at one day: the reading expected and its 95 % two-sided prediction band, in the readings' unit."""

    line: Line
    day: float
    predicted: float
    low: float
    high: float

    @property
    def slope_per_day(self) -> float:
        """Change of ln(reading) per day; -0.003 is about 0.3 % less each day."""
        return self.line.slope

    @property
    def intercept(self) -> float:
        """ln(reading) at day 0."""
        return self.line.intercept

    @property
    def s(self) -> float:
        """Residual standard deviation of ln(reading)."""
        return self.line.s

    def z(self, value: float) -> float:
        """How many standard errors of a new reading ``value`` lies above (+) or below (-) the trend."""
        above, error = log(value) - self.line.at(self.day), self.line.new_value_error(self.day)
        return above / error if error else copysign(inf, above) if above else 0.0

    def crossing_day(self, limit: float | Fraction, *, one_sided_lower: bool = True) -> float | None:
        """The day on which the trend falls to ``limit``, or None if it never does.

        With ``one_sided_lower`` it is the lower one-sided 95 % prediction limit
        that falls to it, else the line itself.  The day may lie in the past.
        """
        if limit <= 0:
            raise InputError(f"limit {limit}: it must be above 0")
        level = log(limit)
        if not one_sided_lower:
            return (level - self.intercept) / self.line.slope if self.line.slope < 0 else None
        return lower_limit_falls_to(self.line, level)


def predict(days: Sequence[Fraction | float], values: Sequence[Fraction | float], at_day: float) -> Trend:
    """The trend of ``values`` read on ``days``, seen at ``at_day``; days are counted from any one day.

    InputError if there are fewer than three readings, all of one day, or one not above 0.
    """
    for value in values:
        if value <= 0:
            raise InputError(f"reading {value}: a trend needs readings above 0")
    line = least_squares([float(day) for day in days], [log(value) for value in values])
    middle = line.at(at_day)
    half = line.quantile((1 + COVERAGE) / 2) * line.new_value_error(at_day)
    return Trend(line, at_day, exp(middle), exp(middle - half), exp(middle + half))
