"""The calculators check themselves: every golden value is asked and compared.

A value that fails locks the calculators (``ndi compute`` refuses), never a record.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from ndi.calc import golden
from ndi.calc.computations.table import COMPUTATIONS, answer
from ndi.calc.golden_value import Golden


@dataclass(frozen=True)
class Selftest:
    """How many golden values were met, of how many, and what is wrong with the others."""

    passed: int
    total: int
    failures: tuple[str, ...]

    def line(self) -> str:
        """``n of n passed``, and that the calculators are locked where it is so."""
        told = f"{self.passed} of {self.total} passed"
        return f"{told}; calculators locked, see ndi selftest" if self.failures else told


def run() -> Selftest:
    """Ask every golden value, statistics included (their library takes a moment to load)."""
    return _of(golden.VALUES)


def run_for(computation: str) -> Selftest:
    """Every golden value that needs no statistics library, and those of ``computation``: what one question waits for."""
    return _of(
        value
        for value in golden.VALUES
        if value.computation == computation or not COMPUTATIONS[value.computation].is_statistical
    )


def _of(values: Iterable[Golden]) -> Selftest:
    wrong = [_wrong(value) for value in values]
    failures = tuple(text for text in wrong if text)
    return Selftest(len(wrong) - len(failures), len(wrong), failures)


@lru_cache(maxsize=1024)
def _wrong(value: Golden) -> str | None:
    """What is wrong with one value, or None."""
    try:
        code, out, err = answer(value.computation, value.inputs)
    except Exception as broken:  # whatever a broken formula raises is a failed value, and the others are still asked
        return f"{value.name}: {type(broken).__name__} {broken}"
    if code == 2:
        return f"{value.name}: {err.strip()}"
    told = json.loads(out)
    found = told.get("result", told)
    for place, expected in value.expected:
        try:
            got = _at(found, place)
        except (KeyError, IndexError, TypeError, ValueError):
            return f"{value.name}: {place} is not in the answer"
        if not _is_met(got, expected):
            return f"{value.name}: {place} is {json.dumps(got)}, expected {expected}"
    return None


def _at(found: object, place: str) -> object:
    for step in place.split("."):
        if isinstance(found, list):
            found = found[int(step)]
        elif isinstance(found, dict):
            found = found[step]
        else:
            raise TypeError(place)
    return found


def _is_met(got: object, expected: str) -> bool:
    """A fraction within half of the last digit expected; anything else exactly."""
    if not isinstance(got, float):
        written = got if isinstance(got, str) else json.dumps(got)
        return written == expected or (isinstance(got, int) and not isinstance(got, bool) and _is_number(got, expected))
    digits = len(expected.partition(".")[2])
    # a double is compared exactly; the billionth covers figures that lie just on the half
    return abs(Fraction(got) - Fraction(expected)) <= Fraction(1, 2 * 10**digits) * (1 + Fraction(1, 10**9))


def _is_number(got: int, expected: str) -> bool:
    try:
        return Fraction(got) == Fraction(expected)
    except ValueError:
        return False
