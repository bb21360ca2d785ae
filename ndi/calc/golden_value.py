"""What a golden value is: a question to a computation, and what its result holds."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

WORKED = "worked once by a separate script"
HANDBOOK = "US T.O. 33B-1-1 / TM 1-1500-335-23"
NIST = "NIST/SEMATECH e-Handbook of Statistical Methods"


@dataclass(frozen=True)
class Golden:
    """A question (computation and JSON) and what its result holds at each place (keys and indices joined by dots)."""

    name: str
    computation: str
    inputs: str
    expected: tuple[tuple[str, str], ...]
    source: str


def golden(
    computation: str, case: str, inputs: Mapping[str, object] | str, expected: Mapping[str, str], source: str = WORKED
) -> Golden:
    text = inputs if isinstance(inputs, str) else json.dumps(inputs)
    return Golden(f"{computation}: {case}", computation, text, tuple(expected.items()), source)
