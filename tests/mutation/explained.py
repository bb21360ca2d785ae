"""Mutants that no test should kill, with the reason for each."""

from __future__ import annotations

import io
import tokenize
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

REASONS = Path(__file__).with_name("explained.toml")


@dataclass(frozen=True)
class Reason:
    """A mutant is known by its module and by the line as it became."""

    module: str
    becomes: str
    reason: str


@cache
def reasons() -> tuple[tuple[Reason, ...], str]:
    """Those of single mutants, and the one of all whose sentence alone is spelled otherwise."""
    with REASONS.open("rb") as file:
        found = tomllib.load(file)
    return tuple(Reason(**row) for row in found.get("mutant", [])), found["wording"]


def reason_for(module: str, difference: str) -> str | None:
    """Why this mutant may live; None when it may not."""
    single, wording = reasons()
    became = becomes(difference)
    for each in single:
        if each.module == module and each.becomes == became:
            return each.reason
    return wording if only_wording(difference) else None


def _side(difference: str, sign: str) -> list[str]:
    lines = [line[1:] for line in difference.splitlines() if line.startswith(sign) and not line.startswith(sign * 3)]
    return [line.strip() for line in lines]


def becomes(difference: str) -> str:
    """The changed lines as they became, on one line; ``(gone)`` when lines only went away."""
    return " ".join(_side(difference, "+")) or "(gone)"


def only_wording(difference: str) -> bool:
    """Whether nothing differs but the spelling of a sentence, that is of a text with a space between words.

    A single word may be a key or a name that the program compares; that is no wording.
    """
    before, after = (_tokens(" ".join(_side(difference, sign))) for sign in "-+")
    if not before or len(before) != len(after):
        return False
    differing = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    return bool(differing) and all(_same_sentence(old, new) for old, new in differing)


def _same_sentence(old: str, new: str) -> bool:
    if old[:1] == new[:1] == "f":  # values between the words stay as they are: a change there is no wording
        old, new = old[1:], new[1:]
    is_text = old[:1] in "\"'" and old[-1:] in "\"'" and " " in old.strip("\"' ")
    return is_text and old.casefold() == new.replace("XX", "", 2).casefold()


def _tokens(text: str) -> list[str]:
    try:
        found = [token.string for token in tokenize.generate_tokens(io.StringIO(f"({text}\n)").readline)]
    except (tokenize.TokenError, IndentationError):
        return _texts(text)
    return found


def _texts(text: str) -> list[str]:
    """A line that is no whole expression, taken apart at its texts."""
    parts, rest = [], text
    while '"' in rest:
        head, _, tail = rest.partition('"')
        inside, _, rest = tail.partition('"')
        parts += [head, f'"{inside}"']
    return [*parts, rest]
