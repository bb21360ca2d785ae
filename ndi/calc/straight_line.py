"""Least-squares straight line with the standard error of a new value.

Source: ordinary least squares and the prediction interval of one new reading,
NIST/SEMATECH e-Handbook of Statistical Methods, section 4 (process modelling).
Statistics in floats: nothing here is compared with a procedure's limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, sqrt

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
        raise InputError(f"{len(x)} days or counts and {len(y)} readings: give one for each reading")
    n = len(x)
    if n < 3:
        raise InputError(f"{n} readings: a trend with a band needs at least 3")
    mean_x, mean_y = fsum(x) / n, fsum(y) / n
    sum_squares_x = fsum((xi - mean_x) ** 2 for xi in x)
    if sum_squares_x == 0:
        raise InputError("all readings are of one day or count: a trend needs different ones")
    slope = fsum((xi - mean_x) * (yi - mean_y) for xi, yi in zip(x, y, strict=True)) / sum_squares_x
    intercept = mean_y - slope * mean_x
    residuals = fsum((yi - mean_y - slope * (xi - mean_x)) ** 2 for xi, yi in zip(x, y, strict=True))
    return Line(intercept, slope, sqrt(residuals / (n - 2)), n, mean_x, sum_squares_x)


def lower_limit_falls_to(line: Line, level: float) -> float | None:
    """Where the lower one-sided 95 % prediction limit comes down through ``level``, or None.

    That limit, a + b x - t * error(x), is concave, so it comes down through a level at most once.  With
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
