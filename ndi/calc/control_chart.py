"""Control charts: individuals with run rules, EWMA, CUSUM, shares and counts.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3 (individuals
6.3.2.2, CUSUM 6.3.2.3, EWMA 6.3.2.4, counts 6.3.3.1, proportions 6.3.3.2; run rules
of Western Electric as section 6.3.2 lists them).  Points are compared with limits
exactly, by squares where a root stands in the limit; a point on a limit is within it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from ndi.calc.exact import root
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

D2 = Fraction("1.128")  # mean range of two normal values, in standard deviations, as the handbook prints it
ROUNDED_FACTOR = Fraction("2.66")  # 3 / 1.128, as many tables print it
SIGMAS = Fraction(3)


@dataclass(frozen=True)
class Limits:
    """Centre line and control limits, for showing."""

    centre: Fraction
    low: Fraction
    high: Fraction


@dataclass(frozen=True)
class Signal:
    """A run rule that speaks at a point (counted from 0)."""

    rule: str
    at: int


def _least(values: Sequence[object], count: int) -> None:
    if len(values) < count:
        raise InputError(f"{len(values)} values: this chart needs at least {count}")


def individuals(values: Sequence[Fraction], factor: Fraction = SIGMAS / D2) -> tuple[Limits, Fraction]:
    """Limits of single values by their mean moving range, and that range; exact."""
    _least(values, 2)
    mean = sum(values, Fraction(0)) / len(values)
    moved = [abs(b - a) for a, b in pairwise(values)]
    mean_range = sum(moved, Fraction(0)) / len(moved)
    return Limits(mean, mean - factor * mean_range, mean + factor * mean_range), mean_range


def run_rules(values: Sequence[Fraction], centre: Fraction, sigma: Fraction) -> list[Signal]:
    """Where the run rules speak, in order of the points.

    1: one point beyond 3 sigma; 2: two of three beyond 2 sigma on one side; 3: four of
    five beyond 1 sigma on one side; 4: eight in a row on one side; trend: six in a row
    rising or falling; alternating: fourteen in a row going up and down.  The last
    point of a window belongs to those counted.
    """
    if sigma < 0:
        raise InputError(f"sigma {shown(sigma)}: it must not be below 0")
    steps = [(b > a) - (b < a) for a, b in pairwise(values)]
    found = []
    for at, value in enumerate(values):
        side = (value > centre) - (value < centre)

        def beyond(count: int, window: int, sigmas: int, at: int = at, side: int = side) -> bool:
            away = [side * (v - centre) > sigmas * sigma for v in values[max(0, at - window + 1) : at + 1]]
            return bool(side) and away[-1] and sum(away) >= count

        rules = {
            "1": beyond(1, 1, 3),
            "2": beyond(2, 3, 2),
            "3": beyond(4, 5, 1),
            "4": beyond(8, 8, 0),
            "trend": _runs(steps[max(0, at - 5) : at], 5, lambda a, b: a == b != 0),
            "alternating": _runs(steps[max(0, at - 13) : at], 13, lambda a, b: a == -b != 0),
        }
        found += [Signal(rule, at) for rule, speaks in rules.items() if speaks]
    return found


def _runs(steps: Sequence[int], count: int, go_on: Callable[[int, int], bool]) -> bool:
    return len(steps) == count and all(go_on(a, b) for a, b in pairwise(steps))


@dataclass(frozen=True)
class Charted:
    """A chart of derived values: limits, the values, and the points (from 0) beyond the limits."""

    limits: Limits
    values: tuple[Fraction, ...]
    beyond: tuple[int, ...]


def ewma(values: Sequence[Fraction], target: Fraction, sigma: Fraction, weight: Fraction, sigmas: Fraction) -> Charted:
    """Exponentially weighted moving average with limits target +/- sigmas s sqrt(w / (2 - w))."""
    _least(values, 1)
    if not 0 < weight <= 1:
        raise InputError(f"weight {shown(weight)}: it lies above 0 and is at most 1")
    if sigma <= 0 or sigmas <= 0:
        raise InputError(f"sigma {shown(sigma)}, sigmas {shown(sigmas)}: both must be above 0")
    averages, last = [], target
    for value in values:
        last = weight * value + (1 - weight) * last
        averages.append(last)
    square = sigmas**2 * sigma**2 * weight / (2 - weight)
    half = root(square)
    beyond = tuple(at for at, average in enumerate(averages) if (average - target) ** 2 > square)
    return Charted(Limits(target, target - half, target + half), tuple(averages), beyond)


@dataclass(frozen=True)
class Cusum:
    """Upper and lower cumulative sums and the points (from 0) at which either is above h."""

    high: tuple[Fraction, ...]
    low: tuple[Fraction, ...]
    beyond: tuple[int, ...]


def cusum(values: Sequence[Fraction], target: Fraction, slack: Fraction, decision: Fraction) -> Cusum:
    """Tabular CUSUM: high = max(0, high + x - target - k), low = max(0, low + target - k - x), signal above h."""
    _least(values, 1)
    if slack < 0 or decision <= 0:
        raise InputError(f"k {shown(slack)}, h {shown(decision)}: k must not be below 0, h must be above it")
    highs, lows = [Fraction(0)], [Fraction(0)]
    for value in values:
        highs.append(max(Fraction(0), highs[-1] + value - target - slack))
        lows.append(max(Fraction(0), lows[-1] + target - slack - value))
    pairs = list(zip(highs, lows, strict=True))[1:]
    return Cusum(tuple(highs[1:]), tuple(lows[1:]), tuple(at for at, pair in enumerate(pairs) if max(pair) > decision))


@dataclass(frozen=True)
class Shares:
    """Chart of shares: mean share, limits for each sample, samples (from 0) beyond them."""

    centre: Fraction
    limits: tuple[Limits, ...]
    beyond: tuple[int, ...]


def shares(samples: Sequence[tuple[int, int]]) -> Shares:
    """p chart of (found, of): mean share +/- 3 sqrt(p (1 - p) / n), not below 0 nor above 1."""
    _least(samples, 1)
    for found, of in samples:
        if of < 1 or not 0 <= found <= of:
            raise InputError(f"found {found} of {of}: found lies between 0 and of, and of is at least 1")
    mean = Fraction(sum(found for found, _ in samples), sum(of for _, of in samples))
    limits, beyond = [], []
    for at, (found, of) in enumerate(samples):
        square = SIGMAS**2 * mean * (1 - mean) / of
        half = root(square)
        limits.append(Limits(mean, max(Fraction(0), mean - half), min(Fraction(1), mean + half)))
        if (Fraction(found, of) - mean) ** 2 > square:
            beyond.append(at)
    return Shares(mean, tuple(limits), tuple(beyond))


def counts(values: Sequence[int]) -> Charted:
    """c chart: mean count +/- 3 sqrt(mean), not below 0."""
    _least(values, 1)
    if min(values) < 0:
        raise InputError(f"count {min(values)}: it must not be below 0")
    mean = Fraction(sum(values), len(values))
    square = SIGMAS**2 * mean
    half = root(square)
    beyond = tuple(at for at, value in enumerate(values) if (value - mean) ** 2 > square)
    return Charted(Limits(mean, max(Fraction(0), mean - half), mean + half), tuple(map(Fraction, values)), beyond)
