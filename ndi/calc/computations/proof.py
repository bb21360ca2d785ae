"""How much is found and how much is missed: detection curve, demonstration, two looks, rates."""

from __future__ import annotations

from math import exp, log

from ndi.calc import crack_rate, detection, published
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Refusal, Result

_SCALES = ("log", "linear")
_MISSED_IN = "0.015 0.018 0.020 0.022 0.025 0.028 0.030 0.033 0.035 0.038 0.040 0.048 0.053 0.070"
_FOUND_IN = (
    "0.025 0.030 0.035 0.040 0.043 0.045 0.050 0.050 0.055 0.058 0.060 0.060 0.065 0.070 "
    "0.075 0.080 0.080 0.085 0.090 0.095 0.100 0.110 0.120 0.130 0.150 0.180"
)
EXAMPLE_TARGETS = ", ".join(
    f'{{"size_in": {size}, "found": {word}}}'
    for word, sizes in (("false", _MISSED_IN), ("true", _FOUND_IN))
    for size in sizes.split()
)


def _detection(inputs: Inputs) -> Outcome:
    trials, is_log = [], True
    if inputs.has("scale"):
        is_log = inputs.word("scale", _SCALES) == "log"
    for item in inputs.objects("targets"):
        item.only(("size_in", "found"))
        size = float(item.number("size_in", above=0))
        trials.append(detection.Trials(log(size) if is_log else size, 1, int(item.flag("found"))))
    least = inputs.whole("targets_min", least=3) if inputs.has("targets_min") else published.DETECTION_TARGETS.value
    rule = "detection curve from hits and misses"
    if len(trials) < least:
        way_out = ["try more targets, of sizes spread over the change", "show a demonstration without misses instead"]
        raise Refusal(rule, f"{len(trials)} targets", f"{least} targets", way_out)
    try:
        curve = detection.fit(trials)
    except detection.NoCurve as none:
        raise Refusal(rule, none.found, none.limit, [none.way_out]) from none
    if curve.b1 <= 0:
        raise Refusal(
            rule, "larger targets are not found more often", "a curve that rises", ["look again at sizes and results"]
        )

    def size_of(x: float | None) -> float | None:
        return None if x is None else exp(x) if is_log else x

    bounds = {
        "a90_95_likelihood_ratio": size_of(detection.likelihood_upper(trials, curve, 0.9, 0.95)),
        "a90_95_wald": size_of(detection.band_upper(curve, 0.9, 0.95)),
        "a90_95_delta": size_of(detection.delta_upper(curve, 0.9, 0.95)),
    }
    result: Result = {
        "targets": len(trials),
        "hits": sum(t.found for t in trials),
        "b0": curve.b0,
        "b1": curve.b1,
        "se_b0": curve.se_b0,
        "se_b1": curve.se_b1,
        "covariance": curve.covariance,
        "log_likelihood": curve.log_likelihood,
        "a50_in": size_of(curve.x_at(0.5)),
        "a90_in": size_of(curve.x_at(0.9)),
        **{f"{key}_in": value for key, value in bounds.items()},
    }
    return Outcome(
        f"logit(p) = b0 + b1 {'ln(size)' if is_log else 'size'}, greatest likelihood; a90/95: the one-sided 95 % upper bound "
        "of a90 by likelihood ratio (kept), by Wald's band of the curve, and by a90's own standard error (delta method); "
        "null where the results leave a bound open",
        f"logistic regression, MIL-HDBK-1823A type practice; targets needed: {published.DETECTION_TARGETS.source}. Holds for "
        "the surface, part and light that were tried, and never judges a person",
        result,
    )


def _counted(inputs: Inputs, part: str, whole: str) -> tuple[int, int]:
    """``part`` out of ``whole``, both whole numbers."""
    of = inputs.whole(whole, least=1)
    found = inputs.whole(part, least=0)
    if found > of:
        raise BadInput(part, f"{found} is above {whole} {of}; swap or correct them")
    return found, of


def _demonstration(inputs: Inputs) -> Outcome:
    found, of = _counted(inputs, "found", "of")
    share = inputs.number("share", above=0)
    if share >= 1:
        raise BadInput("share", "it must be below 1; a share of 1 cannot be shown by any number of targets")
    chance = detection.chance_of_at_most(of - found, of, float(share))
    return Outcome(
        "chance = probability that a process which detects just this share misses as few or fewer; lower bound: one-sided "
        "exact 95 % bound of the share detected",
        "binomial demonstration (29 of 29), MIL-HDBK-1823A type practice; Clopper and Pearson 1934",
        {
            "chance": chance,
            "is_shown_95": chance <= 0.05,
            "lower_bound_95": detection.lower_bound(of - found, of, 0.95),
        },
    )


def _missed(inputs: Inputs) -> Outcome:
    first, second, both = (inputs.whole(key, least=0) for key in ("first", "second", "both"))
    if both > min(first, second):
        raise BadInput("both", f"{both} is above what one of the two looks found; correct it")
    found = crack_rate.two_looks(first, second, both)
    return Outcome(
        "N = (n1 + 1)(n2 + 1)/(m + 1) - 1; missed = N - (n1 + n2 - m); first_share = m / n2, second_share = m / n1",
        "D. G. Chapman 1951, variance G. Seber 1970. Finds are not independent (what is easy for one is easy for both), so "
        "the estimate is a lower bound; second looks must be blind",
        {
            "total": found.total,
            "sd": found.sd,
            "distinct": found.distinct,
            "missed": found.missed,
            "first_share": found.first_share,
            "second_share": found.second_share,
        },
    )


def _crack_rate(inputs: Inputs) -> Outcome:
    found, of = _counted(inputs, "found", "of")
    span = crack_rate.wilson(found, of)
    result: Result = {"found": found, "of": of, "share": span.estimate, "low": span.low, "high": span.high}
    if found == 0:
        result["upper_one_sided"] = crack_rate.upper_after_none(of)
    given = [key for key in ("prior_found", "prior_of") if inputs.has(key)]
    if len(given) == 1:
        missing = "prior_of" if given == ["prior_found"] else "prior_found"
        raise BadInput(missing, f"this key is missing; give it together with {given[0]}, or leave out both")
    if given:
        prior_found, prior_of = _counted(inputs, "prior_found", "prior_of")
        if not 0 < prior_found < prior_of:
            raise BadInput("prior_found", "a prior has some found and some not; use the counts of the model family")
        drawn = crack_rate.shrunk(found, of, prior_found, prior_of)
        result |= {"shrunk_share": drawn.estimate, "shrunk_low": drawn.low, "shrunk_high": drawn.high}
    return Outcome(
        "share = found / of with Wilson's 95 % interval; none found: one-sided 95 % upper bound 1 - 0.05^(1/n); with a prior: "
        "(found + prior_found) / (of + prior_of), 95 % interval of the beta distribution",
        "E. B. Wilson 1927; beta prior of the model family (Bayes). Parts are seen only at overhaul: a share of parts by "
        "their hours, never hours to a crack",
        result,
    )


def _crack_rate_hours(inputs: Inputs) -> Outcome:
    found, hours = inputs.whole("found", least=0), inputs.number("hours", above=0)
    per = inputs.number("per_hours", above=0) if inputs.has("per_hours") else 1000
    span = crack_rate.per_time(found, float(hours / per))
    return Outcome(
        "events / (hours / per_hours) with the exact 95 % Poisson interval",
        "F. Garwood 1936 (chi-squared form)",
        {"rate": span.estimate, "low": span.low, "high": span.high},
    )


COMPUTATIONS = {
    "detection": Computation(
        ("targets",),
        ("scale", "targets_min"),
        _detection,
        f'{{"targets": [{EXAMPLE_TARGETS}]}}',
        "probability of detection from targets found and missed: a50, a90, a90/95; scale is log or linear",
        is_statistical=True,
    ),
    "demonstration": Computation(
        ("found", "of", "share"),
        (),
        _demonstration,
        '{"found": 29, "of": 29, "share": 0.9}',
        "what it proves when nearly all targets are found",
        is_statistical=True,
    ),
    "missed": Computation(
        ("first", "second", "both"),
        (),
        _missed,
        '{"first": 46, "second": 41, "both": 38}',
        "how many indications two blind looks at the same parts may both have missed",
    ),
    "crack-rate": Computation(
        ("found", "of"),
        ("prior_found", "prior_of"),
        _crack_rate,
        '{"found": 3, "of": 41}',
        "share of pieces cracked, with the interval that small numbers deserve",
        is_statistical=True,
    ),
    "crack-rate-hours": Computation(
        ("found", "hours"),
        ("per_hours",),
        _crack_rate_hours,
        '{"found": 7, "hours": 61400}',
        "cracks per 1000 hours (or per_hours) with their interval",
        is_statistical=True,
    ),
}
