"""What a computation is, and what it gives: a result with formula and source, or a refusal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from ndi.calc.computations.inputs import Inputs
from ndi.calc.published import Choice
from ndi.domain.errors import NdiError

Result = dict[str, object]
Kind = TypeVar("Kind")


@dataclass(frozen=True)
class Outcome:
    """A result with the formula it came from, in words, and the formula's source."""

    formula: str
    source: str
    result: Result


class Refusal(Exception):
    """The question is well put but has no lawful answer."""

    def __init__(self, rule: str, found: str, limit: str, ways_out: Sequence[str]) -> None:
        super().__init__(f"{rule}: found {found}, limit {limit}")
        self.as_json = {"rule": rule, "found": found, "limit": limit, "ways_out": list(ways_out)}


@dataclass(frozen=True)
class Computation:
    """Keys, what is done with them, and an example that runs; ``is_statistical``: it loads the statistics library."""

    needed: tuple[str, ...]
    optional: tuple[str, ...]
    compute: Callable[[Inputs], Outcome]
    example: str
    asks: str
    is_statistical: bool = False


def chosen(inputs: Inputs, key: str, choices: Sequence[Choice[Kind]]) -> Choice[Kind]:
    """What an input names among contradicting sources; the first without that key."""
    if not inputs.has(key):
        return choices[0]
    word = inputs.word(key, [choice.word for choice in choices])
    return next(choice for choice in choices if choice.word == word)


def alternatives(
    inputs: Inputs, key: str, choices: Sequence[Choice[Kind]], result_of: Callable[[Choice[Kind]], Result]
) -> Result:
    """What each contradicting source would give, with that source: shown once an input names its choice and they differ."""
    if not inputs.has(key):
        return {}

    def tried(choice: Choice[Kind]) -> Result:
        try:
            return result_of(choice)
        except NdiError as none:
            return {"refused": str(none)}

    found = [(choice, tried(choice)) for choice in choices]
    if all(result == found[0][1] for _, result in found):
        return {}
    return {
        f"{key}_alternatives": [{"choice": choice.word, **result, "source": choice.source} for choice, result in found]
    }
