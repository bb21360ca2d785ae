"""Light where none is wanted, and a lamp at another distance."""

from __future__ import annotations

from fractions import Fraction

from ndi.calc import light_budget, published
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Refusal, Result
from ndi.domain.quantity import shown


def _screen_light(inputs: Inputs) -> Outcome:
    luminance = inputs.number("luminance_cd_m2", least=0)
    area, distance = inputs.number("area_m2", above=0), inputs.number("distance_m", above=0)
    result: Result = {"illuminance_lx": light_budget.illuminance(luminance, area, distance)}
    if inputs.has("limit_lx"):
        limit = inputs.number("limit_lx", above=0)
        allowed = light_budget.allowed_luminance(limit, area, distance)
        result |= {"allowed_cd_m2": allowed, "is_within": luminance <= allowed}
    return Outcome(
        "E = L A / d^2, an evenly bright screen seen squarely; allowed luminance = limit d^2 / A",
        "photometry, any textbook; measure at the part, walls reflect",
        result,
    )


_TARGETS = ("to_distance_in", "to_uw_cm2")


def _span_refusal(distance: Fraction) -> Refusal:
    least, most = published.LAMP_DISTANCE_FROM, published.LAMP_DISTANCE_TO
    return Refusal(
        "lamp distance: the inverse square holds for no lamp here",
        f"{shown(distance)} in",
        f"{shown(least.value)} to {shown(most.value)} in ({least.source})",
        ["measure at the distance itself", f"stay within {shown(least.value)} to {shown(most.value)} in"],
    )


def _lamp_distance(inputs: Inputs) -> Outcome:
    reading, distance = inputs.number("uv_a_uw_cm2", above=0), inputs.number("distance_in", above=0)
    given = [key for key in _TARGETS if inputs.has(key)]
    if len(given) != 1:
        raise BadInput(_TARGETS[0], f"give one of {' and '.join(_TARGETS)}, the other is the answer")
    least, most = published.LAMP_DISTANCE_FROM.value, published.LAMP_DISTANCE_TO.value
    if given == ["to_distance_in"]:
        other = inputs.number("to_distance_in", above=0)
        answer = light_budget.at_distance(reading, distance, other)
        result: Result = {"uv_a_uw_cm2": answer, "change_percent": (answer / reading - 1) * 100}
    else:
        other = light_budget.distance_for(reading, distance, inputs.number("to_uw_cm2", above=0))
        result = {"distance_in": other}
    for place in (distance, other):
        if not least <= place <= most:
            raise _span_refusal(place)
    return Outcome(
        f"E2 = E1 (d1 / d2)^2, used from {shown(least)} to {shown(most)} in only",
        "inverse-square law; real lamps depart from it: an estimate, never a reading",
        result | {"is_estimate": True},
    )


COMPUTATIONS = {
    "screen-light": Computation(
        ("luminance_cd_m2", "area_m2", "distance_m"),
        ("limit_lx",),
        _screen_light,
        '{"luminance_cd_m2": 300, "area_m2": 0.159, "distance_m": 0.6}',
        "light that a screen throws on the part, and the luminance allowed for a limit",
    ),
    "lamp-distance": Computation(
        ("uv_a_uw_cm2", "distance_in"),
        _TARGETS,
        _lamp_distance,
        '{"uv_a_uw_cm2": 880, "distance_in": 15, "to_uw_cm2": 1000}',
        "estimate of a lamp's reading at to_distance_in, or of the distance for to_uw_cm2",
    ),
}
