"""Every computation by name, and the answer to one question as JSON."""

from __future__ import annotations

from ndi.calc.computations import (
    charts,
    light,
    magnetizing,
    marks,
    penetrant,
    planning,
    proof,
    records,
    trends,
    units,
)
from ndi.calc.computations.inputs import Inputs, read, written
from ndi.calc.computations.outcome import Computation, Refusal
from ndi.domain.errors import InputError

COMPUTATIONS: dict[str, Computation] = {
    name: computation
    for group in (magnetizing, penetrant, marks, planning, units, light, trends, charts, proof, records)
    for name, computation in group.COMPUTATIONS.items()
}


def answer(name: str, text: str) -> tuple[int, str, str]:
    """Do computation ``name`` on the JSON ``text``: (exit code, standard output, standard error)."""
    if name not in COMPUTATIONS:
        return 2, "", f"ndi compute: {name!r} is not known; use one of {', '.join(COMPUTATIONS)}\n"
    computation = COMPUTATIONS[name]
    try:
        inputs = Inputs(read(text))
        inputs.only(computation.needed, computation.optional)
        try:
            outcome = computation.compute(inputs)
        except Refusal as refusal:
            return 1, written({"name": name, "inputs": inputs.values, "refusal": refusal.as_json}) + "\n", ""
        answer = {"formula": outcome.formula, "source": outcome.source, "result": outcome.result}
        return 0, written({"name": name, "inputs": inputs.values, **answer}) + "\n", ""
    except InputError as error:
        return 2, "", f"ndi compute {name}: {error}\n"
    except (ArithmeticError, ValueError):  # beyond doubles, or a figure that is not one
        keys = ", ".join(inputs.values)
        return 2, "", f"ndi compute {name}: {keys}: the result is beyond the range of numbers; correct the inputs\n"
