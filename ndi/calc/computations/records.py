"""What the records add up to: two looks, margins, blended depth, coverage, evidence, shots, an audit sample."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from ndi.calc import agreement, bookkeeping, published
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Refusal, Result
from ndi.domain.quantity import shown


def _once(key: str, names: Iterable[str]) -> list[str]:
    """The names, each of which may stand there once."""
    found: list[str] = []
    for index, name in enumerate(names):
        if name in found:
            raise BadInput(f"{key}[{index}]", f"this name stands at {key}[{found.index(name)}] already; list it once")
        found.append(name)
    return found


def _second_look(inputs: Inputs) -> Outcome:
    pairs = []
    for item in inputs.objects("pairs"):
        item.only(("first_in", "second_in"))
        pairs.append((item.number("first_in", least=0), item.number("second_in", least=0)))
    if len(pairs) < 2:
        raise BadInput("pairs", f"{len(pairs)} pairs; a spread needs at least 2")
    found = agreement.agreement(pairs)
    return Outcome(
        "bias = mean of first - second; sd with n - 1; limits of agreement = bias -/+ 1.96 sd",
        "J. M. Bland and D. G. Altman 1986",
        {
            "pairs": len(pairs),
            "bias_in": found.bias,
            "sd_in": found.sd,
            "low_in": found.bias - found.half_width,
            "high_in": found.bias + found.half_width,
        },
    )


def _margins(inputs: Inputs) -> Outcome:
    values = inputs.numbers("margins")
    if len(values) < 2:
        raise BadInput("margins", f"{len(values)} margins; a drift needs at least 2")
    found = agreement.margins(values)
    return Outcome(
        "worst = smallest; worst_5_percent = 5 % quantile, between neighbours by straight line; drift = least-squares slope "
        "per step in the order given",
        "R. J. Hyndman and Y. Fan 1996, type 7; least squares",
        {
            "count": len(values),
            "worst": found.worst,
            "worst_5_percent": found.worst_5_percent,
            "mean": found.mean,
            "drift_per_step": found.drift,
        },
    )


def _blend_ledger(inputs: Inputs) -> Outcome:
    limits: dict[str, Fraction] = {}
    for item in inputs.objects("zones"):
        item.only(("zone", "limit_in"))
        zone = item.text("zone")
        if zone in limits:
            raise item.bad("zone", "this zone stands there twice; list it once")
        limits[zone] = item.number("limit_in", least=0)
    depths = []
    for item in inputs.objects("blends"):
        item.only(("zone", "depth_in"))
        if item.text("zone") not in limits:
            raise item.bad("zone", "this zone is not in zones; give its limit there")
        depths.append((item.text("zone"), item.number("depth_in", least=0)))
    ledger = bookkeeping.blend_ledger(depths, limits)
    return Outcome(
        "sum of all depths blended away in a zone over the life of the part, against the zone's limit; at the limit is within it",
        "sums; limits come from the part's own overhaul manual",
        {
            "zones": [
                {"zone": zone, "total_in": row.total, "left_in": row.left, "is_within": row.is_within}
                for zone, row in ledger.items()
            ]
        },
    )


def _coverage(inputs: Inputs) -> Outcome:
    zones = _once("zones", inputs.texts("zones"))
    shots = []
    for item in inputs.objects("shots"):
        item.only(("shot", "direction", "zones"))
        covered = item.texts("zones")
        for index, zone in enumerate(covered):
            if zone not in zones:
                raise item.bad(f"zones[{index}]", "this zone is not in zones; add it there or correct it")
        shots.append(bookkeeping.Shot(item.text("shot"), item.text("direction"), tuple(covered)))
    directions = inputs.whole("directions", least=1) if inputs.has("directions") else published.DIRECTIONS.value
    matrix = bookkeeping.coverage(zones, shots)
    return Outcome(
        f"for each zone the shots by direction; a zone needs {directions}",
        published.DIRECTIONS.source,
        {"matrix": matrix, "lacking": bookkeeping.lacking(matrix, directions)},
    )


def _evidence(inputs: Inputs) -> Outcome:
    answers = []
    for item in inputs.objects("answers"):
        item.only(("answer", "obtained"))
        answers.append((item.word("answer", bookkeeping.ANSWERS), item.word("obtained", bookkeeping.OBTAINED)))
    found = bookkeeping.evidence(answers)
    if found.share is None:
        raise Refusal(
            "evidence: nothing was asked",
            "0 answers asked for",
            "1 answer",
            ["ask the rules of a record that has begun"],
        )
    rows: Result = {how: Fraction(count, found.asked) for how, count in found.by_obtained.items()}
    return Outcome(
        "share of PASS among all answers but NOT APPLICABLE, and the same by how the weakest fact behind each was obtained",
        "counting; own choice of classes",
        {"asked": found.asked, "passed": found.passed, "share": found.share, "share_by_obtained": rows},
    )


def _shot_use(inputs: Inputs) -> Outcome:
    shots = _once("shots", inputs.texts("shots"))
    shown_by = inputs.texts("first_shown_by")
    for index, shot in enumerate(shown_by):
        if shot not in shots:
            raise BadInput(f"first_shown_by[{index}]", "this shot is not in shots; add it there or correct it")
    counts = bookkeeping.first_shown(shots, shown_by)
    return Outcome(
        "for each shot (or minute) the relevant indications that it was the first to show",
        "counting; a shot that showed nothing first may still be what the procedure asks for",
        {"first_shown": counts, "never": [shot for shot, count in counts.items() if not count]},
    )


def _audit_draw(inputs: Inputs) -> Outcome:
    population = _once("population", inputs.texts("population"))
    size, seed = inputs.whole("size", least=1), inputs.text("seed")
    if size > len(population):
        raise BadInput("size", f"{size} is above the {len(population)} of the population; draw fewer")
    return Outcome(
        "names in the order of SHA-256 of the seed, a zero byte and the name (UTF-8); the first of them are drawn",
        "own method; anybody with seed and list draws the same, in whatever order the list is given",
        {"drawn": bookkeeping.audit_draw(population, seed, size), "of": len(population)},
    )


def _demag_forecast(inputs: Inputs) -> Outcome:
    parts = []
    for index, item in enumerate(inputs.objects("parts")):
        item.only(("residual_g",))
        readings = item.numbers("residual_g")
        if not readings:
            raise BadInput(f"parts[{index}].residual_g", "no readings; give one for each pass")
        parts.append(readings)
    limit = inputs.number("limit_g", above=0)
    if not parts:
        raise Refusal("demagnetising forecast", "0 parts", "1 part", ["demagnetise the first part and read each pass"])
    found = agreement.demagnetizing(parts, limit)
    return Outcome(
        f"passes until the residual lies within -/+ {shown(limit)} G; usual = the median (the lower of two) of parts that "
        "came within; signs of the last readings",
        "counting; the field after the next pass is read, never forecast into a record",
        {
            "usual_passes": found.usual_passes,
            "most_passes": found.most_passes,
            "never_within": list(found.never_within),
            "last_plus": found.plus,
            "last_minus": found.minus,
        },
    )


COMPUTATIONS = {
    "second-look": Computation(
        ("pairs",),
        (),
        _second_look,
        '{"pairs": [{"first_in": 0.31, "second_in": 0.29}, {"first_in": 0.22, "second_in": 0.20}, '
        '{"first_in": 0.62, "second_in": 0.65}]}',
        "how two looks agree on length",
    ),
    "margins": Computation(
        ("margins",), (), _margins, '{"margins": [4.0, 3.5, 3.8, 2.9]}', "how far a step stays from its limit"
    ),
    "blend-ledger": Computation(
        ("zones", "blends"),
        (),
        _blend_ledger,
        '{"zones": [{"zone": "PIN-1", "limit_in": 0.010}], "blends": [{"zone": "PIN-1", "depth_in": 0.004}]}',
        "depth blended away over a part's life, by zone",
    ),
    "coverage": Computation(
        ("zones", "shots"),
        ("directions",),
        _coverage,
        '{"zones": ["PIN", "FLANGE"], "shots": [{"shot": "1", "direction": "circular", "zones": ["PIN", "FLANGE"]}, '
        '{"shot": "2", "direction": "longitudinal", "zones": ["PIN"]}]}',
        "zones by direction, and zones that lack one",
    ),
    "evidence": Computation(
        ("answers",),
        (),
        _evidence,
        '{"answers": [{"answer": "PASS", "obtained": "timer"}, {"answer": "PASS", "obtained": "typed late"}, '
        '{"answer": "NOT YET", "obtained": "typed"}]}',
        f"how much is answered, and on what evidence; obtained is {', '.join(bookkeeping.OBTAINED)}",
    ),
    "shot-use": Computation(
        ("shots", "first_shown_by"),
        (),
        _shot_use,
        '{"shots": ["1", "2", "3"], "first_shown_by": ["1", "1", "3"]}',
        "which shots (or minutes) never showed anything first",
    ),
    "audit-draw": Computation(
        ("population", "seed", "size"),
        (),
        _audit_draw,
        '{"population": ["MT-1", "MT-2", "MT-3", "MT-4"], "seed": "2026-03", "size": 2}',
        "a sample of records that anybody draws again",
    ),
    "demag-forecast": Computation(
        ("parts", "limit_g"),
        (),
        _demag_forecast,
        '{"parts": [{"residual_g": [7, 3.5, 1]}, {"residual_g": [-4, -2]}], "limit_g": 3}',
        "passes that parts of one number usually need",
    ),
}
