"""Detection curves against published logistic fits (beetle, budworm), check answers by IRLS, and scipy as second judge."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from ndi.calc.detection import (
    NoCurve,
    Trials,
    band_upper,
    chance_of_at_most,
    delta_upper,
    fit,
    likelihood_upper,
    lower_bound,
    share_at,
    share_lower,
)
from ndi.domain.errors import InputError
from tests.calc.published_data import rows

BEETLES = [Trials(float(r["log10_dose"]), int(r["n"]), int(r["killed"])) for r in rows("bliss-beetle-binomial.csv")]
BUDWORMS = {
    sex: [
        Trials(float(r["ldose"]), int(r["n"]), int(r["numdead"]))
        for r in rows("budworm-binomial.csv")
        if r["sex"] == sex
    ]
    for sex in "FM"
}
SYNTHETIC = [(float(r["size_mm"]), int(r["hit"])) for r in rows("pod-hitmiss-synthetic.csv")]
ANSWERS = {(r["dataset"], r["model"], r["quantity"]): float(r["value"]) for r in rows("pod-check-answers.csv")}


def test_fit_beetles_published():
    """Bliss 1935; published logistic fit: intercept -60.72 (SE 5.18), slope 34.27 (SE 2.91)."""
    curve = fit(BEETLES)
    found = (curve.b0, curve.se_b0, curve.b1, curve.se_b1)
    assert [f"{x:.2f}" for x in found] == ["-60.72", "5.18", "34.27", "2.91"]
    # published residual deviance 11.2
    saturated = sum(
        k * math.log(p) + (t.tried - k) * math.log1p(-p) for t in BEETLES if 0 < (p := (k := t.found) / t.tried) < 1
    )
    assert f"{2 * (saturated - curve.log_likelihood):.1f}" == "11.2"


def test_fit_budworms_published():
    """Venables and Ripley's model with a slope for each sex is two separate curves.

    Their printed coefficients, from memory: -2.9935 (0.5527), sexM 0.1750, ldose 0.9060 (0.1671), sexM:ldose 0.3529.
    """
    female, male = (fit(BUDWORMS[sex]) for sex in "FM")
    assert f"{female.b0:.4f} {female.se_b0:.4f} {female.b1:.4f} {female.se_b1:.4f}" == "-2.9935 0.5527 0.9060 0.1671"
    assert f"{male.b0 - female.b0:.4f} {male.b1 - female.b1:.4f}" == "0.1750 0.3529"


def test_fit_budworms_likelihood_of_one_slope_for_both():
    """The published doses (0.25: 2.231265, 0.75: 4.295910) are of one slope for both sexes: a curve through them
    is less likely than the females' own, and by the likelihood that numpy gives it."""
    answer = {share: ANSWERS["budworm-binomial", "logit female", f"x{share}"] for share in (25, 50, 75)}
    assert answer[25] == pytest.approx(2.231265, abs=1e-6)
    slope = 2 * math.log(3) / (answer[75] - answer[25])
    assert answer[50] == pytest.approx((answer[25] + answer[75]) / 2, abs=1e-8)
    eta = [slope * (t.x - answer[50]) for t in BUDWORMS["F"]]
    given = sum(t.found * e - t.tried * np.logaddexp(0, e) for t, e in zip(BUDWORMS["F"], eta, strict=True))
    assert given < fit(BUDWORMS["F"]).log_likelihood < given + 2


@pytest.mark.parametrize(
    ("model", "transform", "back"), [("size_linear", float, float), ("log_size", math.log, math.exp)]
)
def test_fit_sixty_targets_agrees_with_independent_irls(model, transform, back):
    trials = [Trials(transform(size), 1, hit) for size, hit in SYNTHETIC]
    curve = fit(trials)
    found = {
        "b0": curve.b0,
        "b1": curve.b1,
        "se_b0": curve.se_b0,
        "se_b1": curve.se_b1,
        "cov_b0b1": curve.covariance,
        "logL": curve.log_likelihood,
        "a50": back(curve.x_at(0.5)),
        "a90": back(curve.x_at(0.9)),
        "a90_95_wald": back(delta_upper(curve, 0.9, 0.95)),
        "a90_95_likelihood_ratio": back(likelihood_upper(trials, curve, 0.9, 0.95)),
    }
    for quantity, value in found.items():
        assert value == pytest.approx(ANSWERS["synthetic-hitmiss-60", model, quantity], rel=2e-7), quantity


def test_fit_beetles_agrees_with_independent_irls():
    curve = fit(BEETLES)
    for share, name in ((0.5, "x50"), (0.9, "x90")):
        answer = lambda quantity: ANSWERS["bliss-beetle-binomial", "logit", quantity]  # noqa: E731
        assert curve.x_at(share) == pytest.approx(answer(name), rel=1e-8)
        assert curve.se_x_at(share) == pytest.approx(answer(f"se_{name}"), rel=1e-6)
        assert delta_upper(curve, share, 0.95) == pytest.approx(answer(f"{name}_upper95_one_sided_wald"), rel=1e-8)


def _nll(parameters, x, y):
    eta = parameters[0] + parameters[1] * x
    return float(np.sum(np.logaddexp(0, eta) - y * eta))


sets = st.lists(st.tuples(st.integers(5, 200), st.booleans()), min_size=12, max_size=30)


@settings(max_examples=40, deadline=None)
@given(sets)
def test_fit_and_bounds_agree_with_scipy(pairs):
    x = np.array([math.log(size / 1000) for size, _ in pairs])
    y = np.array([float(hit) for _, hit in pairs])
    trials = [Trials(float(a), 1, int(b)) for a, b in zip(x, y, strict=True)]
    hits, misses = x[y == 1], x[y == 0]
    assume(len(hits) > 1 and len(misses) > 1 and min(hits) < max(misses) and max(hits) > min(misses))
    curve = fit(trials)
    best = optimize.minimize(_nll, [0.0, 0.0], (x, y), method="BFGS", options={"gtol": 1e-9})
    assert curve.log_likelihood >= -best.fun - 1e-7
    assert curve.log_likelihood == pytest.approx(-best.fun, abs=1e-5)
    assume(curve.b1 > 0)
    upper = likelihood_upper(trials, curve, 0.9, 0.95)
    level, quantile = math.log(9), stats.norm.ppf(0.95)
    if upper is not None and upper < 20:
        through = optimize.minimize_scalar(lambda slope: _nll([level - slope * upper, slope], x, y), bracket=(0, 1))
        assert curve.log_likelihood + through.fun == pytest.approx(quantile**2 / 2, abs=1e-6)
    band = band_upper(curve, 0.9, 0.95)
    if band is not None:
        spread = math.sqrt(curve.var_b0 + 2 * band * curve.covariance + band**2 * curve.var_b1)
        assert curve.b0 + curve.b1 * band - quantile * spread == pytest.approx(level, abs=1e-6 * (1 + abs(band)))
        assert band >= curve.x_at(0.9)
    else:
        assert curve.b1 <= quantile * curve.se_b1 * (1 + 1e-9)


@pytest.mark.parametrize(
    ("results", "found"),
    [
        ([(1, 1), (2, 1), (3, 1)], "no misses"),
        ([(1, 0), (2, 0), (3, 0)], "no hits"),
        ([(1, 0), (2, 0), (3, 1), (4, 1)], "all below were missed"),
        ([(1, 0), (2, 0), (2, 1), (4, 1)], "all below were missed"),
        ([(1, 1), (2, 1), (3, 0), (4, 0)], "all below were missed"),
    ],
)
def test_fit_without_overlap_is_refused(results, found):
    with pytest.raises(NoCurve) as none:
        fit([Trials(float(x), 1, hit) for x, hit in results])
    assert found in none.value.found


def test_demonstration_table():
    """Exact binomial: smallest n for which m misses show 0.90 with 95 %."""
    for row in rows("pod-binomial-demonstration.csv"):
        misses, n = int(row["misses_allowed"]), int(row["n_required"])
        assert chance_of_at_most(misses, n, 0.9) == pytest.approx(
            float(row["prob_of_m_or_fewer_misses_at_POD_0.90"]), abs=5e-7
        )
        assert lower_bound(misses, n, 0.95) == pytest.approx(float(row["one_sided_95_lower_bound_POD"]), abs=5e-7)
        assert chance_of_at_most(misses, n - 1, 0.9) > 0.05


@pytest.mark.parametrize(("misses", "of"), [(0, 1), (3, 10), (10, 10), (7, 60)])
def test_lower_bound_agrees_with_scipy_exact_interval(misses, of):
    exact = stats.binomtest(of - misses, of, alternative="greater").proportion_ci(0.95, method="exact")
    assert lower_bound(misses, of, 0.95) == pytest.approx(exact.low, abs=1e-12)
    assert chance_of_at_most(misses, of, 0.8) == pytest.approx(stats.binom.cdf(misses, of, 0.2))


def test_demonstration_impossible_counts():
    for misses, of in ((-1, 5), (6, 5), (0, 0)):
        with pytest.raises(InputError):
            chance_of_at_most(misses, of, 0.9)
        with pytest.raises(InputError):
            lower_bound(misses, of, 0.95)


def test_band_of_the_curve_meets_the_upper_bound_of_its_place():
    """Where ``share_lower`` is 90 %, ``band_upper`` says it is; the standard error of logit by hand from the covariance."""
    curve = fit(BEETLES)
    place = band_upper(curve, 0.9, 0.95)
    assert share_lower(curve, place, 0.95) == pytest.approx(0.9)
    assert share_at(curve, curve.x_at(0.9)) == pytest.approx(0.9)
    error = math.sqrt(
        np.array([1, 1.8]) @ [[curve.var_b0, curve.covariance], [curve.covariance, curve.var_b1]] @ [1, 1.8]
    )
    eta = curve.b0 + 1.8 * curve.b1 - stats.norm.ppf(0.95) * error
    assert share_lower(curve, 1.8, 0.95) == pytest.approx(1 / (1 + math.exp(-eta)))
