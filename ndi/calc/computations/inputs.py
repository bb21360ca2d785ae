"""What ``ndi compute`` reads and writes: strict JSON with exact numbers.

A number is kept as its text until a formula asks for it, so it is never a
double on the way in, and it is echoed as it was typed.  Which keys a
computation has is not known here.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import TypeVar

from ndi.calc.exact import nearest
from ndi.domain.errors import InputError

Wanted = TypeVar("Wanted")

_DIGITS_MOST, _EXPONENT_MOST = 400, 400  # beyond any measurement; keeps exact arithmetic quick
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_EXPONENT = re.compile(r"[eE]([+-]?\d+)\Z", re.ASCII)


@dataclass(frozen=True)
class Literal:
    """A JSON number as it was typed; NaN and Infinity too, so that they can be refused by key."""

    text: str


class BadInput(InputError):
    """An input is wrong; the message begins with its key."""

    def __init__(self, key: str, problem: str) -> None:
        super().__init__(f"{key}: {problem}" if key else problem)
        self.key = key


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for key, value in pairs:
        if key in found:
            raise BadInput(json.dumps(key)[1:-1], "this key is given twice; give it once")
        found[key] = value
    return found


def read(text: str) -> dict[str, object]:
    """The JSON object in ``text``; BadInput for anything else."""
    try:
        value = json.loads(
            text, parse_float=Literal, parse_int=Literal, parse_constant=Literal, object_pairs_hook=_object
        )
    except (json.JSONDecodeError, RecursionError) as error:
        raise BadInput("", f"standard input is not JSON ({error}); give one JSON object") from None
    if not isinstance(value, dict):
        raise BadInput("", f"standard input is {_kind(value)}; give one JSON object with the keys of the computation")
    return value


def _kind(value: object) -> str:
    if isinstance(value, bool):
        return "a boolean"
    kinds: dict[type, str] = {str: "text", Literal: "a number", dict: "an object", list: "a list", type(None): "null"}
    return kinds[type(value)]


class Inputs:
    """One JSON object whose keys are asked for by name; ``at`` is its place, for messages."""

    def __init__(self, values: Mapping[str, object], at: str = "") -> None:
        self.values, self.at = values, at

    def only(self, needed: Sequence[str], optional: Sequence[str] = ()) -> None:
        """BadInput for a key that is not known or not there."""
        for key in self.values:
            if key not in needed and key not in optional:
                known = ", ".join([*needed, *(f"{name} (may be left out)" for name in optional)])
                raise BadInput(self._place(json.dumps(key)[1:-1]), f"this key is not known; the keys are {known}")
        for key in needed:
            if key not in self.values:
                raise BadInput(self._place(key), "this key is missing")

    def has(self, key: str) -> bool:
        return key in self.values

    def number(self, key: str, *, above: int | None = None, least: int | None = None) -> Fraction:
        """An exact number, above or not below a bound that makes sense."""
        literal = self._of(key, Literal, "a number")
        value = self._exact(key, literal.text)
        if above is not None and value <= above:
            raise BadInput(self._place(key), f"{literal.text} is not possible; it must be above {above}")
        if least is not None and value < least:
            raise BadInput(self._place(key), f"{literal.text} is not possible; it must not be below {least}")
        return value

    def whole(self, key: str, *, least: int) -> int:
        """An exact whole number, not below a bound."""
        value = self.number(key, least=least)
        if value.denominator != 1:
            raise BadInput(self._place(key), f"{self._of(key, Literal, 'a number').text} is not a whole number")
        return value.numerator

    def flag(self, key: str) -> bool:
        """true or false."""
        return self._of(key, bool, "true or false")

    def text(self, key: str) -> str:
        """Any text."""
        return self._of(key, str, "text")

    def word(self, key: str, choices: Sequence[str]) -> str:
        """One of a few words."""
        word = self.text(key)
        if word not in choices:
            raise BadInput(self._place(key), f"{json.dumps(word)} is not known; use {' or '.join(choices)}")
        return word

    def texts(self, key: str) -> list[str]:
        """A list of texts."""
        items = self._of(key, list, "a list of texts")
        named = Inputs({f"{key}[{index}]": item for index, item in enumerate(items)}, self.at)
        return [named.text(name) for name in named.values]

    def numbers(self, key: str, *, above: int | None = None, least: int | None = None) -> list[Fraction]:
        """A list of exact numbers, each within the bound."""
        items = self._of(key, list, "a list of numbers")
        named = Inputs({f"{key}[{index}]": item for index, item in enumerate(items)}, self.at)
        return [named.number(name, above=above, least=least) for name in named.values]

    def day(self, key: str) -> date:
        """A day, YYYY-MM-DD."""
        text = self.text(key)
        try:
            if not _DAY.fullmatch(text):
                raise ValueError(text)
            return date.fromisoformat(text)
        except ValueError:
            raise BadInput(self._place(key), f"{json.dumps(text)} is not a day; type it like 2026-03-10") from None

    def bad(self, key: str, problem: str) -> BadInput:
        """The error to raise for a key of this object."""
        return BadInput(self._place(key), problem)

    def object(self, key: str) -> Inputs:
        """One object, knowing its place."""
        return Inputs(self._of(key, dict, "an object"), f"{self._place(key)}.")

    def objects(self, key: str) -> list[Inputs]:
        """A list of objects, each knowing its place."""
        items = self._of(key, list, "a list of objects")
        named = Inputs({f"{key}[{index}]": item for index, item in enumerate(items)}, self.at)
        return [Inputs(named._of(name, dict, "an object"), f"{self._place(name)}.") for name in named.values]

    def _place(self, key: str) -> str:
        return f"{self.at}{key}"

    def _of(self, key: str, kind: type[Wanted], wanted: str) -> Wanted:
        value = self.values[key]
        if not isinstance(value, kind):
            raise BadInput(self._place(key), f"this must be {wanted}, not {_kind(value)}")
        return value

    def _exact(self, key: str, text: str) -> Fraction:
        if text.lstrip("-") in ("NaN", "Infinity"):
            raise BadInput(self._place(key), f"{text} is not a number that can be measured")
        exponent = _EXPONENT.search(text)
        if len(text) > _DIGITS_MOST or (exponent and abs(int(exponent[1])) > _EXPONENT_MOST):
            raise BadInput(
                self._place(key),
                f"this number is out of range; give at most {_DIGITS_MOST} characters "
                f"and an exponent within {_EXPONENT_MOST}",
            )
        return Fraction(text)


def written(value: object) -> str:
    """``value`` as one line of JSON: typed numbers as typed, fractions as whole numbers or the nearest double."""
    if isinstance(value, Literal):
        return value.text
    if isinstance(value, Fraction):
        return repr(nearest(value))
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{json.dumps(key)}: {written(item)}" for key, item in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(written(item) for item in value) + "]"
    return json.dumps(value, allow_nan=False)
