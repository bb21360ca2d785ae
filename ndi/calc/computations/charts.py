"""Control charts of readings and counts."""

from __future__ import annotations

from fractions import Fraction

from ndi.calc import control_chart, published
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Result, alternatives, chosen


def _values(inputs: Inputs, least: int) -> list[Fraction]:
    values = inputs.numbers("values")
    if len(values) < least:
        raise BadInput("values", f"{len(values)} values; this chart needs at least {least}")
    return values


def _individuals(inputs: Inputs) -> Outcome:
    values = _values(inputs, 2)
    factor = chosen(inputs, "limit_factor", published.INDIVIDUALS_FACTOR)
    limits, mean_range = control_chart.individuals(values, factor.value)
    signals = control_chart.run_rules(values, limits.centre, mean_range / control_chart.D2)

    def by(choice: published.Choice[Fraction]) -> Result:
        other, _ = control_chart.individuals(values, choice.value)
        return {"lower_limit": other.low, "upper_limit": other.high}

    return Outcome(
        "centre = mean; limits = mean -/+ factor x mean moving range; sigma of the run rules = mean moving range / 1.128; rules "
        "1: beyond 3 sigma, 2: two of three beyond 2, 3: four of five beyond 1, 4: eight on one side, trend: six rising or "
        "falling, alternating: fourteen up and down; at counts from 0",
        f"NIST/SEMATECH e-Handbook 6.3.2 and 6.3.2.2; factor: {factor.source}",
        {
            "centre": limits.centre,
            "lower_limit": limits.low,
            "upper_limit": limits.high,
            "mean_moving_range": mean_range,
            "beyond": [at for at, value in enumerate(values) if not limits.low <= value <= limits.high],
            "signals": [{"rule": signal.rule, "at": signal.at} for signal in signals],
        }
        | alternatives(inputs, "limit_factor", published.INDIVIDUALS_FACTOR, by),
    )


def _ewma(inputs: Inputs) -> Outcome:
    values, target = _values(inputs, 1), inputs.number("target")
    sigma = inputs.number("sigma", above=0)
    weight = inputs.number("weight", above=0) if inputs.has("weight") else published.EWMA_WEIGHT.value
    if weight > 1:
        raise BadInput("weight", "it is not possible; it must not be above 1")
    chart = control_chart.ewma(values, target, sigma, weight, control_chart.SIGMAS)
    return Outcome(
        "e = w x + (1 - w) e before, beginning at the target; limits = target -/+ 3 sigma sqrt(w / (2 - w)); beyond counts from 0",
        f"NIST/SEMATECH e-Handbook 6.3.2.4; weight: {'as given' if inputs.has('weight') else published.EWMA_WEIGHT.source}",
        {
            "lower_limit": chart.limits.low,
            "upper_limit": chart.limits.high,
            "averages": list(chart.values),
            "beyond": list(chart.beyond),
        },
    )


def _cusum(inputs: Inputs) -> Outcome:
    values, target = _values(inputs, 1), inputs.number("target")
    slack, decision = inputs.number("k", least=0), inputs.number("h", above=0)
    chart = control_chart.cusum(values, target, slack, decision)
    return Outcome(
        "high = max(0, high before + x - target - k), low = max(0, low before + target - k - x); a signal above h; beyond counts from 0",
        "NIST/SEMATECH e-Handbook 6.3.2.3",
        {"high": list(chart.high), "low": list(chart.low), "beyond": list(chart.beyond)},
    )


def _p_chart(inputs: Inputs) -> Outcome:
    samples = []
    for item in inputs.objects("samples"):
        item.only(("found", "of"))
        found, of = item.whole("found", least=0), item.whole("of", least=1)
        if found > of:
            raise item.bad("found", f"{found} is above of {of}; swap or correct them")
        samples.append((found, of))
    if not samples:
        raise BadInput("samples", "no samples; give at least one")
    chart = control_chart.shares(samples)
    rows = [
        {"share": Fraction(*s), "lower_limit": x.low, "upper_limit": x.high}
        for s, x in zip(samples, chart.limits, strict=True)
    ]
    return Outcome(
        "centre = all found / all; limits = centre -/+ 3 sqrt(centre (1 - centre) / n), within 0 and 1; beyond counts from 0",
        "NIST/SEMATECH e-Handbook 6.3.3.2",
        {"centre": chart.centre, "samples": rows, "beyond": list(chart.beyond)},
    )


def _c_chart(inputs: Inputs) -> Outcome:
    counts = inputs.numbers("counts", least=0)
    for index, count in enumerate(counts):
        if count.denominator != 1:
            raise BadInput(f"counts[{index}]", "it is not a whole number")
    if not counts:
        raise BadInput("counts", "no counts; give at least one")
    chart = control_chart.counts([count.numerator for count in counts])
    return Outcome(
        "centre = mean count; limits = centre -/+ 3 sqrt(centre), not below 0; beyond counts from 0",
        "NIST/SEMATECH e-Handbook 6.3.3.1",
        {
            "centre": chart.limits.centre,
            "lower_limit": chart.limits.low,
            "upper_limit": chart.limits.high,
            "beyond": list(chart.beyond),
        },
    )


COMPUTATIONS = {
    "individuals-chart": Computation(
        ("values",),
        ("limit_factor",),
        _individuals,
        '{"values": [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]}',
        "chart of single readings with run rules; limit_factor is 3/d2 or 2.66",
    ),
    "ewma-chart": Computation(
        ("values", "target", "sigma"),
        ("weight",),
        _ewma,
        '{"values": [52, 47, 53, 49.3, 50.1], "target": 50, "sigma": 2.0539}',
        "chart of weighted moving averages: small lasting changes",
    ),
    "cusum-chart": Computation(
        ("values", "target", "k", "h"),
        (),
        _cusum,
        '{"values": [324.925, 324.675, 328.325, 327.25], "target": 325, "k": 0.3175, "h": 4.1959}',
        "chart of cumulative sums: small lasting changes",
    ),
    "p-chart": Computation(
        ("samples",),
        (),
        _p_chart,
        '{"samples": [{"found": 12, "of": 50}, {"found": 15, "of": 50}, {"found": 8, "of": 50}]}',
        "chart of shares",
    ),
    "c-chart": Computation(("counts",), (), _c_chart, '{"counts": [16, 14, 28, 16]}', "chart of counts"),
}
