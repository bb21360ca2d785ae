"""Probability of detection from a qualification set: the curve, a90/95, what a run without misses proves, the refusals (I.8)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log
from typing import cast

from ndi.calc import detection
from ndi.calc.computations import proof
from ndi.calc.computations.inputs import Inputs, read
from ndi.calc.computations.outcome import Outcome, Refusal
from ndi.domain.quantity import Number
from ndi.services.chart_models import Chart, Curve, Dash, Layer, Level, Marker, Picture, Points, Upright
from ndi.services.how_good import PROCESS_ONLY
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.study import Study, count_of, percent

SHARE, CONFIDENCE = 0.9, 0.95
HOLDS_FOR = "the surface, part, process and light that were tried, and for nothing else"


@dataclass(frozen=True)
class Target:
    """One known discontinuity of a qualification set: its size in inches, and whether it was found."""

    size: Number
    found: bool

    @property
    def size_in(self) -> float:
        return float(self.size.in_unit("in"))


def detection_study(targets: Sequence[Target], tried: str) -> Study:
    """The study of one set; ``tried`` says on what and how it was tried, in a person's words."""
    hits = sum(target.found for target in targets)
    misses = len(targets) - hits
    counted = Labelled("Targets", f"{len(targets)}, found {hits}, missed {misses}")
    on = Labelled("Tried on", tried or "not stated: then the figures may be quoted for nothing")
    about = (Labelled("What it is about", PROCESS_ONLY), on, counted, Labelled("Holds for", HOLDS_FOR))
    proved, figures = _demonstration(len(targets), misses)
    try:
        outcome = _curve(targets)
    except Refusal as refusal:
        told = refusal.as_json
        ways = cast("list[str]", told["ways_out"])
        return Study(
            "probability of detection",
            "Probability of detection",
            f"No curve: found {told['found']}, needed {told['limit']}. To go on: {'; '.join(ways)}. {proved}",
            about,
            (_chart(targets, None),) if targets else (),
            (_table(targets),),
            (),
            ("binomial demonstration: MIL-HDBK-1823A type practice; Clopper and Pearson 1934",),
            enough=False,
            figures={"targets": len(targets), "hits": hits, "refused": told["found"], **figures},
        )
    result = outcome.result
    ratio = cast("float | None", result["a90_95_likelihood_ratio_in"])
    wald = cast("float | None", result["a90_95_wald_in"])
    a50, a90 = cast("float", result["a50_in"]), cast("float", result["a90_in"])
    bound = f"{ratio:.3f} in" if ratio is not None else "left open by these results"
    says = (
        f"The curve reaches 90 % at {a90:.3f} in; with 95 % confidence at {bound} (a90/95 by likelihood ratio). "
        f"It holds for {HOLDS_FOR}."
    )
    lines = (
        *about,
        Labelled("a50, a90", f"{a50:.4f} in, {a90:.4f} in"),
        Labelled(
            "a90/95",
            f"{bound} by likelihood ratio; {f'{wald:.4f} in' if wald is not None else 'open'} by Wald, to compare",
        ),
        Labelled("Curve", f"logit p = {result['b0']:.4f} + {result['b1']:.4f} ln(size in in)"),
    )
    return Study(
        "probability of detection",
        "Probability of detection",
        says,
        lines,
        (_chart(targets, result),),
        (_table(targets),),
        (),
        (outcome.source,),
        figures={
            "hits": hits,
            **{key: value for key, value in result.items() if isinstance(value, (int, float)) or value is None},
            **figures,
        },
    )


def _curve(targets: Sequence[Target]) -> Outcome:
    """By the same computation, with the same refusals, as ``ndi compute detection``."""
    told = (
        f'{{"size_in": {_decimal(target.size)}, "found": {"true" if target.found else "false"}}}' for target in targets
    )
    return proof.COMPUTATIONS["detection"].compute(Inputs(read(f'{{"targets": [{", ".join(told)}]}}')))


def _decimal(size: Number) -> str:
    """The size in inches as a number of JSON."""
    value = size.in_unit("in")
    typed = size.typed.lstrip("+")
    return typed if size.unit == "in" and typed[0].isdigit() and not typed.endswith(".") else repr(float(value))


def _demonstration(of: int, misses: int) -> tuple[str, dict[str, object]]:
    """What the count alone proves, whatever the sizes."""
    if not of:
        return "", {}
    least = detection.lower_bound(misses, of, CONFIDENCE)
    chance = detection.chance_of_at_most(misses, of, SHARE)
    says = (
        f"By count alone: {count_of(of, 'target')} with {count_of(misses, 'miss', 'misses')} shows a detection of at least "
        f"{percent(least)} of such targets with 95 % confidence"
    )
    says += f" (0.9^{of} = {chance:.4f})." if misses == 0 else "."
    return says, {"lower_bound_95": least, "chance_at_90": chance}


def _chart(targets: Sequence[Target], result: dict[str, object] | None) -> Picture:
    layers: list[Layer] = []
    sizes = [target.size_in for target in targets]
    if result is not None:
        curve = _logistic(result)
        low, high = log(min(sizes) * 0.8), log(max(sizes) * 1.25)
        xs = [low + (high - low) * step / 199 for step in range(200)]
        at = tuple(exp(x) for x in xs)
        lower = tuple(detection.share_lower(curve, x, CONFIDENCE) for x in xs)
        layers += [
            Curve("probability of detection", at, tuple(detection.share_at(curve, x) for x in xs)),
            Curve("lower one-sided 95 % limit (Wald)", at, lower, Dash.DOTTED),
            Level("90 %", SHARE, Dash.DASHED),
        ]
        for words, key in (("a90", "a90_in"), ("a90/95, likelihood ratio", "a90_95_likelihood_ratio_in")):
            place = cast("float | None", result[key])
            if place is not None and place <= max(sizes) * 1.25:
                layers.append(Upright(f"{words} {place:.3f} in", place))
    for words, found, marker in (("found", True, Marker.DOT), ("missed", False, Marker.CROSS)):
        of = [target.size_in for target in targets if target.found is found]
        if of:
            layers.append(Points(words, tuple(of), tuple(float(found) for _ in of), marker))
    return Chart("Probability of detection", "size of the target, in", "share found", tuple(layers), log_x=True)


def _logistic(result: dict[str, object]) -> detection.Logistic:
    """The curve that the computation found."""
    b0, b1, se0, se1, both, likelihood = (
        cast("float", result[key]) for key in ("b0", "b1", "se_b0", "se_b1", "covariance", "log_likelihood")
    )
    return detection.Logistic(b0, b1, se0**2, se1**2, both, likelihood)


def _table(targets: Sequence[Target]) -> SheetTable:
    """By size: how many were tried, how many found."""
    groups: dict[str, list[bool]] = {}
    for target in sorted(targets, key=lambda each: each.size_in):
        groups.setdefault(str(target.size), []).append(target.found)
    rows = tuple((size, str(len(found)), str(sum(found))) for size, found in groups.items())
    columns = (("Size", 0.4), ("Tried", 0.3), ("Found", 0.3))
    return SheetTable("The qualification set, by size", columns, rows, "The set is empty.")
