"""How often something is found, with the interval that small numbers deserve.

Sources: E. B. Wilson 1927 (share), exact Poisson interval by the chi-squared
distribution (F. Garwood 1936), beta prior for shares of a model family (Bayes,
any textbook), one-sided bound after no find at all 1 - alpha^(1/n), D. G. Chapman
1951 with G. Seber's variance 1970 (two looks at the same parts).
Parts are seen only at overhaul: these are shares of parts, not hours to crack.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import expm1, log1p, sqrt

from ndi.domain.errors import InputError

COVERAGE = 0.95


@dataclass(frozen=True)
class Span:
    """An estimate with its two-sided interval."""

    estimate: float
    low: float
    high: float


def _counts(found: int, of: int) -> None:
    if of < 1 or not 0 <= found <= of:
        raise InputError(f"found {found} of {of}: found lies between 0 and of, and of is at least 1")


def wilson(found: int, of: int, coverage: float = COVERAGE) -> Span:
    """A share with Wilson's interval, without continuity correction."""
    from scipy import special  # type: ignore[import-untyped]  # heavy: only when a rate is asked for

    _counts(found, of)
    z = float(special.ndtri((1 + coverage) / 2))
    share = found / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z / (1 + z * z / of) * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return Span(share, 0.0 if found == 0 else middle - half, 1.0 if found == of else middle + half)


def upper_after_none(of: int, confidence: float = COVERAGE) -> float:
    """One-sided upper bound of a share when none of ``of`` was found."""
    _counts(0, of)
    return -expm1(log1p(-confidence) / of)


def shrunk(found: int, of: int, prior_found: int, prior_of: int, coverage: float = COVERAGE) -> Span:
    """A share drawn towards that of its family: beta prior (prior_found, prior_of - prior_found); equal-tailed interval."""
    from scipy import special

    _counts(found, of)
    if not 0 < prior_found < prior_of:
        raise InputError(f"prior_found {prior_found} of prior_of {prior_of}: it lies between, neither 0 nor all")
    a, b = found + prior_found, of + prior_of - found - prior_found
    tail = (1 - coverage) / 2
    return Span(a / (a + b), float(special.betaincinv(a, b, tail)), float(special.betaincinv(a, b, 1 - tail)))


def per_time(found: int, time: float, coverage: float = COVERAGE) -> Span:
    """Events for each unit of time with the exact Poisson interval."""
    from scipy import special

    if found < 0 or time <= 0:
        raise InputError(f"found {found}, time {time}: found is not below 0 and time is above it")
    tail = (1 - coverage) / 2
    low = float(special.gammaincinv(found, tail)) if found else 0.0
    return Span(found / time, low / time, float(special.gammaincinv(found + 1, 1 - tail)) / time)


@dataclass(frozen=True)
class Missed:
    """Two independent looks at the same parts: how many there may be in all."""

    total: float
    sd: float
    distinct: int
    missed: float
    first_share: float | None  # of what the second found, the first had found too
    second_share: float | None


def two_looks(first: int, second: int, both: int) -> Missed:
    """Chapman's estimate; finds are seldom independent, so it is a lower bound."""
    if first < 0 or second < 0 or not 0 <= both <= min(first, second):
        raise InputError(f"first {first}, second {second}, both {both}: both is at most the smaller, none below 0")
    total = (first + 1) * (second + 1) / (both + 1) - 1
    variance = (first + 1) * (second + 1) * (first - both) * (second - both) / ((both + 1) ** 2 * (both + 2))
    distinct = first + second - both
    return Missed(
        total,
        sqrt(variance),
        distinct,
        total - distinct,
        both / second if second else None,
        both / first if first else None,
    )
