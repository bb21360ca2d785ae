"""Probability of detection from hit/miss results, and what a demonstration with few misses proves.

Sources: logistic regression on ln(size), a90/95 by the likelihood ratio, by Wald's
band of the curve, and by the standard error of a90 alone (delta method), MIL-HDBK-1823A type practice; binomial demonstration
(29 of 29), the same handbook.  Least number of targets: ``published``.  A curve
holds for the surface, part and light that were tried, and never for a person.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, fsum, isfinite, log, log1p, sqrt

from ndi.domain.errors import InputError, NdiError

_STEPS_MOST = 200
_CLOSE = 1e-12


class NoCurve(NdiError, ArithmeticError):
    """The results fix no curve; ``found`` and ``limit`` say why, ``ways_out`` what to do."""

    def __init__(self, found: str, limit: str, way_out: str) -> None:
        super().__init__(f"no detection curve: found {found}, needed {limit}; {way_out}")
        self.found, self.limit, self.way_out = found, limit, way_out


@dataclass(frozen=True)
class Trials:
    """At one value of x (size or its logarithm): how many were tried and how many found."""

    x: float
    tried: int
    found: int


@dataclass(frozen=True)
class Logistic:
    """logit(p) = b0 + b1 x with the covariances of both."""

    b0: float
    b1: float
    var_b0: float
    var_b1: float
    covariance: float
    log_likelihood: float

    @property
    def se_b0(self) -> float:
        return sqrt(self.var_b0)

    @property
    def se_b1(self) -> float:
        return sqrt(self.var_b1)

    def x_at(self, share: float) -> float:
        """Where the curve reaches ``share``."""
        return (logit(share) - self.b0) / self.b1

    def se_x_at(self, share: float) -> float:
        """Standard error of that place (delta method)."""
        x = self.x_at(share)
        return sqrt(self.var_b0 + 2 * x * self.covariance + x * x * self.var_b1) / abs(self.b1)


def logit(share: float) -> float:
    return log(share) - log1p(-share)


def _log_likelihood(trials: Sequence[Trials], b0: float, b1: float) -> float:
    """Without the binomial coefficients, as usual for hit and miss."""
    terms = []
    for t in trials:
        eta = b0 + b1 * t.x
        log_sum = max(eta, 0.0) + log1p(exp(-abs(eta)))  # ln(1 + e^eta), without overflow
        terms.append(t.found * eta - t.tried * log_sum)
    return fsum(terms)


def _share(eta: float) -> float:
    return 1 / (1 + exp(-eta)) if eta >= 0 else exp(eta) / (1 + exp(eta))


def check_overlap(trials: Sequence[Trials]) -> None:
    """NoCurve where hits and misses do not overlap, or one of them is absent: then no finite curve is best."""
    hits = [t.x for t in trials if t.found]
    misses = [t.x for t in trials if t.found < t.tried]
    if not misses:
        raise NoCurve("no misses", "hits and misses", "add smaller targets, until some are missed")
    if not hits:
        raise NoCurve("no hits", "hits and misses", "add larger targets, until some are found")
    if min(hits) >= max(misses) or max(hits) <= min(misses):
        raise NoCurve(
            "sizes at which all below were missed and all above found",
            "hits and misses that overlap",
            "add targets of sizes near the change",
        )


def fit(trials: Sequence[Trials]) -> Logistic:
    """The curve of greatest likelihood (Newton's method); NoCurve where there is none."""
    check_overlap(trials)
    total = sum(t.tried for t in trials)
    middle = fsum(t.tried * t.x for t in trials) / total
    spread = sqrt(fsum(t.tried * (t.x - middle) ** 2 for t in trials) / total)
    scaled = [Trials((t.x - middle) / spread, t.tried, t.found) for t in trials]
    a, b = logit(sum(t.found for t in trials) / total), 0.0
    best = _log_likelihood(scaled, a, b)
    for _ in range(_STEPS_MOST):
        gradient, (h00, h01, h11) = _slopes(scaled, a, b)
        determinant = h00 * h11 - h01 * h01
        step_a = (h11 * gradient[0] - h01 * gradient[1]) / determinant
        step_b = (h00 * gradient[1] - h01 * gradient[0]) / determinant
        size = 1.0
        while (reached := _log_likelihood(scaled, a + size * step_a, b + size * step_b)) < best and size > _CLOSE:
            size /= 2
        a, b = a + size * step_a, b + size * step_b
        best = max(best, reached)
        if abs(step_a) + abs(step_b) < _CLOSE * (1 + abs(a) + abs(b)):
            break
    _, (h00, h01, h11) = _slopes(scaled, a, b)
    determinant = h00 * h11 - h01 * h01
    var_a, var_b, cov = h11 / determinant, h00 / determinant, -h01 / determinant
    ratio = middle / spread
    return Logistic(
        b0=a - b * ratio,
        b1=b / spread,
        var_b0=var_a - 2 * ratio * cov + ratio * ratio * var_b,
        var_b1=var_b / spread**2,
        covariance=(cov - ratio * var_b) / spread,
        log_likelihood=best,
    )


def _slopes(trials: Sequence[Trials], a: float, b: float) -> tuple[tuple[float, float], tuple[float, float, float]]:
    """Gradient and negative second derivatives of the log likelihood."""
    g0, g1, h00, h01, h11 = [], [], [], [], []
    for t in trials:
        p = _share(a + b * t.x)
        rest, weight = t.found - t.tried * p, t.tried * p * (1 - p)
        g0.append(rest)
        g1.append(rest * t.x)
        h00.append(weight)
        h01.append(weight * t.x)
        h11.append(weight * t.x * t.x)
    return (fsum(g0), fsum(g1)), (fsum(h00), fsum(h01), fsum(h11))


def _z(confidence: float) -> float:
    from scipy import special  # type: ignore[import-untyped]  # heavy: only when a curve is asked for

    return float(special.ndtri(confidence))


def delta_upper(curve: Logistic, share: float, confidence: float) -> float:
    """One-sided upper bound of the place where the curve reaches ``share``, by that place's own standard error."""
    return curve.x_at(share) + _z(confidence) * curve.se_x_at(share)


def band_upper(curve: Logistic, share: float, confidence: float) -> float | None:
    """The place where the lower one-sided Wald band of the curve reaches ``share``; None where it never does.

    The larger root of (b0 + b1 x - logit)^2 = z^2 var(b0 + b1 x), for a curve that rises.
    """
    z2 = _z(confidence) ** 2
    rest = curve.b0 - logit(share)
    square = curve.b1**2 - z2 * curve.var_b1
    half = curve.b1 * rest - z2 * curve.covariance
    last = rest**2 - z2 * curve.var_b0
    if square <= 0:
        return None
    return (-half + sqrt(half * half - square * last)) / square


def share_at(curve: Logistic, x: float) -> float:
    """The share that the curve detects at ``x``."""
    return _share(curve.b0 + curve.b1 * x)


def share_lower(curve: Logistic, x: float, confidence: float) -> float:
    """The lower one-sided Wald band of the curve at ``x``."""
    variance = curve.var_b0 + 2 * x * curve.covariance + x * x * curve.var_b1
    return _share(curve.b0 + curve.b1 * x - _z(confidence) * sqrt(max(variance, 0.0)))


def likelihood_upper(trials: Sequence[Trials], curve: Logistic, share: float, confidence: float) -> float | None:
    """One-sided upper bound of that place by the likelihood ratio; None where the results leave it open.

    It is the largest x at which a curve through (x, share) is at most half the
    squared normal quantile of ``confidence`` less likely than the best curve.
    """
    least = curve.log_likelihood - _z(confidence) ** 2 / 2
    low = curve.x_at(share)
    width = max(t.x for t in trials) - min(t.x for t in trials)
    step = width
    while _best_through(trials, low + step, share) >= least:
        step *= 2
        if step > width * 2**20:
            return None
    high = low + step
    while high - low > 1e-13 * (1 + abs(high)):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if _best_through(trials, middle, share) >= least:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _best_through(trials: Sequence[Trials], x: float, share: float) -> float:
    """The greatest log likelihood of curves that reach ``share`` at ``x``: concave in the slope."""
    level = logit(share)
    slope, best = 0.0, _log_likelihood(trials, level, 0.0)
    for _ in range(_STEPS_MOST):
        moved = [(t, t.x - x, _share(level + slope * (t.x - x))) for t in trials]
        gradient = fsum((t.found - t.tried * p) * d for t, d, p in moved)
        second = fsum(t.tried * p * (1 - p) * d * d for t, d, p in moved)
        step = gradient / second if second else 0.0
        size = 1.0
        while size > _CLOSE:
            tried = slope + size * step
            reached = _log_likelihood(trials, level - tried * x, tried)
            if isfinite(reached) and reached >= best:
                break
            size /= 2
        else:
            return best
        slope, best = slope + size * step, reached
        if abs(size * step) <= _CLOSE * (1 + abs(slope)):
            return best
    return best


def chance_of_at_most(misses: int, of: int, share: float) -> float:
    """Probability that a process that detects ``share`` misses at most ``misses`` of ``of``."""
    from scipy import special

    if not 0 <= misses <= of or of < 1:
        raise InputError(f"misses {misses} of {of}: misses lie between 0 and the number of targets, at least 1")
    return float(special.bdtr(misses, of, 1 - share))


def lower_bound(misses: int, of: int, confidence: float) -> float:
    """One-sided exact lower bound of the share detected (Clopper and Pearson, 1934)."""
    from scipy import special

    if not 0 <= misses <= of or of < 1:
        raise InputError(f"misses {misses} of {of}: misses lie between 0 and the number of targets, at least 1")
    found = of - misses
    return float(special.betaincinv(found, misses + 1, 1 - confidence)) if found else 0.0
