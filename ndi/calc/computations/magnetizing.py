"""Head shot, coil shot, bar: currents, ampere-turns, placements."""

from __future__ import annotations

from fractions import Fraction

from ndi.calc import coil, magnetizing_current, published
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Refusal, Result, alternatives, chosen
from ndi.domain.quantity import shown

_AMPS = ("amps_per_in_min", "amps_per_in_max")


def _amps_per_in(inputs: Inputs) -> tuple[Fraction, Fraction, str]:
    """Least and greatest amps per inch, and where they came from."""
    given = [key for key in _AMPS if inputs.has(key)]
    if inputs.has("amps_practice"):
        if given:
            raise BadInput("amps_practice", f"it cannot be given together with {given[0]}; leave one of them out")
        practice = chosen(inputs, "amps_practice", published.AMPS_PRACTICE)
        return *practice.value, f"amps per inch as chosen: {practice.source}"
    if not given:
        low, high = published.AMPS_PER_IN_MIN, published.AMPS_PER_IN_MAX
        return low.value, high.value, f"published default: {low.source}"
    if len(given) == 1:
        missing = next(key for key in _AMPS if key not in given)
        raise BadInput(missing, f"this key is missing; give it together with {given[0]}, or leave out both")
    least, most = (inputs.number(key, above=0) for key in _AMPS)
    if least > most:
        raise BadInput(_AMPS[0], f"{shown(least)} is above amps_per_in_max {shown(most)}; swap or correct them")
    return least, most, "amps per inch as given"


def _head_shot(inputs: Inputs) -> Outcome:
    low, high, whence = _amps_per_in(inputs)
    diameter = inputs.number("diameter_in", above=0)
    window = magnetizing_current.head_shot(diameter, low, high)

    def by(choice: published.Choice[tuple[Fraction, Fraction]]) -> Result:
        other = magnetizing_current.head_shot(diameter, *choice.value)
        return {"amps_min": other.amps_min, "amps_max": other.amps_max}

    return Outcome(
        f"I = k D: amps are the part's diameter times {shown(low)} to {shown(high)} A/in, peak",
        f"ASTM E1444 type practice for direct contact; {whence}",
        {"amps_min": window.amps_min, "amps_max": window.amps_max}
        | alternatives(inputs, "amps_practice", published.AMPS_PRACTICE, by),
    )


def _offset_bar(inputs: Inputs) -> Outcome:
    low, high, whence = _amps_per_in(inputs)
    bar, wall, bore = (inputs.number(key, above=0) for key in ("bar_diameter_in", "wall_in", "bore_in"))
    basis = chosen(inputs, "diameter_basis", published.OFFSET_DIAMETER)

    def counted(choice: published.Choice[str]) -> magnetizing_current.OffsetBar:
        return magnetizing_current.offset_bar(
            bar, wall, bore, amps_per_in_min=low, amps_per_in_max=high, counts=choice.value
        )

    def by(choice: published.Choice[str]) -> Result:
        other = counted(choice)
        window = {"amps_min": other.current.amps_min, "amps_max": other.current.amps_max}
        return {"effective_diameter_in": other.effective_diameter, **window}

    found = counted(basis)
    return Outcome(
        f"I = k (d + 2 t), d the {basis.word}'s diameter, k from {shown(low)} to {shown(high)} A/in, peak; each placement of the bar magnetises an arc "
        "of 4 bar diameters, overlapped by 10 %: placements = circumference / (0.9 x 4 bars), rounded up, at least 1; "
        "once along the bore, once along the outside, which asks for more",
        f"ASTM E1444 type practice for an offset conductor; d: {basis.source}; {whence}",
        {
            "effective_diameter_in": found.effective_diameter,
            "amps_min": found.current.amps_min,
            "amps_max": found.current.amps_max,
            "rotations": found.rotations,
            "rotations_outside": found.rotations_outside,
        }
        | alternatives(inputs, "diameter_basis", published.OFFSET_DIAMETER, by),
    )


_COIL_FORMULA = {
    "low": {
        "side": "45000 / (L/D), part against the winding, low fill",
        "centred": "43000 R / (6 L/D - 5), part centred, R half the coil diameter, low fill",
    },
    "high": dict.fromkeys(coil.POSITIONS, "35000 / (L/D + 2), high fill"),
    "intermediate": {
        "side": "high (10 - r)/8 + low (r - 2)/8, high = 35000 / (L/D + 2), low = 45000 / (L/D) (part against the winding)",
        "centred": "high (10 - r)/8 + low (r - 2)/8, high = 35000 / (L/D + 2), low = 43000 R / (6 L/D - 5) (part centred)",
    },
}


def _coil_formula(shot: coil.CoilShot, setup: coil.Setup, rule: str) -> str:
    if rule == published.COIL_RULE[1].word:
        return "35000 / (L/D + 2) from L/D 4 on, 45000 / (L/D) below, whatever the fill"
    return _COIL_FORMULA[shot.fill][setup.position]


def _coil(inputs: Inputs) -> Outcome:
    setup = coil.Setup(
        length=inputs.number("length_in", above=0),
        od=inputs.number("od_in", above=0),
        id=inputs.number("id_in", least=0),
        coil_diameter=inputs.number("coil_diameter_in", above=0),
        turns=inputs.whole("turns", least=1),
        position=inputs.word("position", coil.POSITIONS),
    )
    default = published.LENGTH_TO_DIAMETER_FLOOR
    floor = inputs.number("floor", above=0) if inputs.has("floor") else default.value
    whence = "as given" if inputs.has("floor") else f"published default: {default.source}"
    rule = chosen(inputs, "rule", published.COIL_RULE)
    plus = chosen(inputs, "high_fill", published.HIGH_FILL_PLUS)

    def by_rule(choice: published.Choice[str]) -> Result:
        other = coil.shot(setup, floor, choice.value, plus.value)
        return {"ampere_turns": other.ampere_turns, "amps": other.amps}

    def by_plus(choice: published.Choice[Fraction]) -> Result:
        other = coil.shot(setup, floor, rule.value, choice.value)
        return {"ampere_turns": other.ampere_turns, "amps": other.amps}

    def by_floor(choice: published.Choice[Fraction]) -> Result:
        other = coil.shot(setup, choice.value, rule.value, plus.value)
        if choice is published.COIL_FLOOR[1] and other.length_to_diameter_raw <= choice.value:
            return {"refused": f"L/D {shown(other.length_to_diameter_raw, digits=12)} asks for pole pieces"}
        return {"ampere_turns": other.ampere_turns, "amps": other.amps}

    try:
        shot = coil.shot(setup, floor, rule.value, plus.value)
    except coil.NeedsExtensions as short:
        raise Refusal(
            f"coil shot: {short.why}",
            f"L/D {shown(short.found, digits=12)}",
            f"L/D {shown(short.limit)}",
            [
                f"add extensions of the part's own diameter, {shown(short.thousandths_missing)} in or more in all",
                "magnetise lengthwise in another way and prove it",
            ],
        ) from short
    return Outcome(
        f"ampere-turns = {_coil_formula(shot, setup, rule.word).replace('+ 2', f'+ {shown(plus.value)}')}; r = (coil diameter / OD)^2, D = sqrt(OD^2 - ID^2), "
        f"L/D not below {shown(floor)} and counted as 15 at most; amps = ampere-turns / turns, peak; "
        "positions = 1 + (L - e)/(0.9 e), rounded up, e the coil diameter (18 in at high fill), 1 up to L = e",
        "US T.O. 33B-1-1 / TM 1-1500-335-23 table 3-3 (45000, D); ASTM E1444 type practice (other formulas, fill "
        f"classes, ceiling 15); effective length and overlap from memory; L/D floor {whence}"
        f"; rule: {rule.source}; added to L/D: {plus.source}",
        {
            "fill": shot.fill,
            "area_ratio": shot.area_ratio,
            "effective_diameter_in": shot.effective_diameter,
            "length_to_diameter": shot.length_to_diameter,
            "length_to_diameter_raw": shot.length_to_diameter_raw,
            "ampere_turns": shot.ampere_turns,
            "amps": shot.amps,
            "positions": shot.positions,
        }
        | alternatives(inputs, "rule", published.COIL_RULE, by_rule)
        | alternatives(inputs, "high_fill", published.HIGH_FILL_PLUS, by_plus)
        | alternatives(inputs, "floor", published.COIL_FLOOR, by_floor),
    )


def _counted_diameter(inputs: Inputs) -> Outcome:
    width, height = inputs.number("width_in", above=0), inputs.number("height_in", above=0)
    basis = chosen(inputs, "basis", published.SECTION_DIAMETER)

    def by(choice: published.Choice[str]) -> Result:
        return {"diameter_in": magnetizing_current.section_diameter(width, height, choice.value)}

    return Outcome(
        "counted diameter of a rectangular section: perimeter / pi, or diagonal, as basis says",
        f"as chosen: {basis.source}",
        by(basis) | alternatives(inputs, "basis", published.SECTION_DIAMETER, by),
    )


COMPUTATIONS = {
    "head-shot": Computation(
        ("diameter_in",), (*_AMPS, "amps_practice"), _head_shot, '{"diameter_in": 2.25}', "amps of a head shot"
    ),
    "coil": Computation(
        ("length_in", "od_in", "id_in", "coil_diameter_in", "turns", "position"),
        ("floor", "rule", "high_fill"),
        _coil,
        '{"length_in": 40, "od_in": 4.5, "id_in": 0, "coil_diameter_in": 12, "turns": 5, "position": "side"}',
        "ampere-turns, amps and positions of a coil shot; position is side or centred",
    ),
    "offset-bar": Computation(
        ("bar_diameter_in", "wall_in", "bore_in"),
        (*_AMPS, "amps_practice", "diameter_basis"),
        _offset_bar,
        '{"bar_diameter_in": 0.75, "wall_in": 0.25, "bore_in": 1.5}',
        "amps and placements of a bar that lies against the bore",
    ),
    "counted-diameter": Computation(
        ("width_in", "height_in", "basis"),
        (),
        _counted_diameter,
        '{"width_in": 1, "height_in": 1, "basis": "perimeter"}',
        "diameter to reckon with for a section that is not round; basis is perimeter or diagonal",
    ),
}
