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
from math import copysign, exp, fsum, inf, log, sqrt

from ndi.domain.errors import InputError

COVERAGE = 0.95


@dataclass(frozen=True)
class Line:
    """A least-squares line y = intercept + slope x; ``s`` is the residual standard deviation (n - 2)."""

    intercept: float
    slope: float
    s: float
    n: int
    mean_x: float
    sum_squares_x: float

    def at(self, x: float) -> float:
        """The line's value at ``x``."""
        return self.intercept + self.slope * x

    def new_value_error(self, x: float) -> float:
        """Standard error of one new value at ``x``."""
        return self.s * sqrt(1 + 1 / self.n + (x - self.mean_x) ** 2 / self.sum_squares_x)

    def quantile(self, share: float) -> float:
        """Student's quantile with the line's n - 2 degrees of freedom."""
        from scipy import special  # type: ignore[import-untyped]  # heavy: only when a trend is asked for

        return float(special.stdtrit(self.n - 2, share))


def least_squares(x: Sequence[float], y: Sequence[float]) -> Line:
    """The least-squares line; InputError below three points or without two different x."""
    if len(x) != len(y):
        raise InputError(f"{len(x)} days and {len(y)} readings: give one day for each reading")
    n = len(x)
    if n < 3:
        raise InputError(f"{n} readings: a trend with a band needs at least 3")
    mean_x, mean_y = fsum(x) / n, fsum(y) / n
    sum_squares_x = fsum((xi - mean_x) ** 2 for xi in x)
    if sum_squares_x == 0:
        raise InputError("all readings are of one day: a trend needs readings of different days")
    slope = fsum((xi - mean_x) * (yi - mean_y) for xi, yi in zip(x, y, strict=True)) / sum_squares_x
    intercept = mean_y - slope * mean_x
    residuals = fsum((yi - mean_y - slope * (xi - mean_x)) ** 2 for xi, yi in zip(x, y, strict=True))
    return Line(intercept, slope, sqrt(residuals / (n - 2)), n, mean_x, sum_squares_x)


@dataclass(frozen=True)
class Trend:
    """A lamp's trend at one day: the reading expected and its 95 % two-sided prediction band, in the readings' unit."""

    line: Line
    day: int
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
        return _lower_limit_falls_to(self.line, level)


def _lower_limit_falls_to(line: Line, level: float) -> float | None:
    """Where a + b x - t * error(x) comes down through ``level``.

    That curve is concave, so it comes down through a level at most once.  With
    u = x - mean and c = value at the mean - level it is the root of
    (c + b u)^2 = k (1 + 1/n + u^2/Sxx) on which c + b u is not negative.
    """
    k = (line.quantile(COVERAGE) * line.s) ** 2
    c, b = line.at(line.mean_x) - level, line.slope
    if k == 0:
        return line.mean_x - c / b if b < 0 else None
    square, linear, rest = b * b - k / line.sum_squares_x, 2 * b * c, c * c - k * (1 + 1 / line.n)
    if square == 0:
        roots = [-rest / linear] if linear else []
    else:
        discriminant = linear * linear - 4 * square * rest
        if discriminant < 0:
            return None
        roots = [(-linear + sign * sqrt(discriminant)) / (2 * square) for sign in (-1, 1)]
    scale = sqrt(line.sum_squares_x)

    def falls_at(u: float) -> bool:
        slope = b - sqrt(k) * u / line.sum_squares_x / sqrt(1 + 1 / line.n + (u / scale) ** 2)
        return c + b * u >= 0 and slope < 0

    falling = [u for u in roots if falls_at(u)]
    return line.mean_x + falling[0] if falling else None


def predict(days: Sequence[int], values: Sequence[Fraction | float], at_day: int) -> Trend:
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
