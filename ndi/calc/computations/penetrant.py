"""Dwell of the penetrant."""

from __future__ import annotations

from fractions import Fraction

from ndi.calc import dwell, published
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Refusal, Result, alternatives, chosen
from ndi.domain.quantity import shown


def _dwell(inputs: Inputs) -> Outcome:
    temperature = inputs.number("part_temperature_f")
    if temperature < dwell.ABSOLUTE_ZERO_F:
        raise BadInput("part_temperature_f", f"{shown(temperature)} F lies below absolute zero; read it again")
    base, service = inputs.number("base_min", above=0), inputs.flag("service_induced")
    edge = inputs.word("edge", dwell.EDGES) if inputs.has("edge") else published.DWELL_BAND_EDGE.value
    cold = chosen(inputs, "cold_band", published.COLD_BAND_TO)

    def by_edge(choice: published.Choice[str]) -> Result:
        return {"required_min": dwell.required_dwell(base, temperature, service, choice.value, cold.value)}

    def by_band(choice: published.Choice[Fraction]) -> Result:
        return {"required_min": dwell.required_dwell(base, temperature, service, edge, choice.value)}

    try:
        required = dwell.required_dwell(base, temperature, service, edge, cold.value)
    except dwell.OutsideTable as outside:
        raise Refusal(
            "P06: no dwell for this part temperature",
            f"{shown(outside.temperature_f, digits=12)} F",
            f"{dwell.COLD_FROM} to {dwell.WARM_TO} F",
            [
                f"bring the part to {dwell.MIDDLE_FROM} to {dwell.MIDDLE_TO} F and wet it then",
                "ask the Level III for a qualified dwell at this temperature",
            ],
        ) from outside
    return Outcome(
        f"base x 2 from 40 F, x 1 from {shown(cold.value)} F, x 0.5 but at least 5 min from 100 to 120 F; at least 30 min for "
        f"service-induced flaws; exactly {shown(cold.value)} or 100 F belongs to the {edge} "
        + ("band" if edge == "middle" else "dwell of the two bands"),
        "US T.O. 33B-1-1 / TM 1-1500-335-23, dwell table of the penetrant chapter; "
        + ("band edge as given" if inputs.has("edge") else f"band edge: {published.DWELL_BAND_EDGE.source}"),
        {"required_min": required}
        | alternatives(inputs, "edge", published.BAND_EDGE, by_edge)
        | alternatives(inputs, "cold_band", published.COLD_BAND_TO, by_band),
    )


COMPUTATIONS = {
    "dwell": Computation(
        ("base_min", "part_temperature_f", "service_induced"),
        ("edge", "cold_band"),
        _dwell,
        '{"base_min": 20, "part_temperature_f": 59.9, "service_induced": false}',
        "penetrant dwell for the part's temperature; edge is middle or longer, cold_band 40-60 or 40-50",
    ),
}
