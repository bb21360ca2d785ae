"""What a person is about to do, as it is shown before it is done; and what went wrong with it, in words.

Every change the desk makes is an :class:`Act`: the screen shows its title, its
meaning and what it covers, takes a secret where one is asked for, and has it
carried out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from ndi.domain.errors import InputError, NdiError, NotPermitted
from ndi.services import signing
from ndi.services.proof import Meaning, Proof
from ndi.services.workplace import Workplace

PRACTICE_TEXT = "Practice book: no secret is asked for, and nothing here counts for a real part."


@dataclass(frozen=True)
class Second:
    """The other person who signs the same act, for the same cover; ``make`` does it with both proofs."""

    person: str
    meaning: Meaning
    make: Callable[[Proof | None, Proof | None], str]


@dataclass(frozen=True)
class Act:
    """``make`` does it and says in one sentence what was saved.  ``meaning`` None: no signature goes with it.

    With a ``second`` two persons sign, and its ``make`` is what is done.
    """

    title: str
    person: str
    make: Callable[[Proof | None], str]
    meaning: Meaning | None = None
    covers: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    second: Second | None = None

    @property
    def meaning_text(self) -> str:
        if self.meaning is None:
            return f"Entry by {self.person}"
        text = f"Signature of {self.person}, meaning: {self.meaning}"
        return f"{text}; and of {self.second.person}, meaning: {self.second.meaning}" if self.second else text


def signed_by_two(
    title: str,
    first: tuple[str, Meaning],
    second: tuple[str, Meaning],
    make: Callable[[Proof | None, Proof | None], str],
    covers: tuple[str, ...],
    notes: tuple[str, ...] = (),
) -> Act:
    """An act that two persons sign, each with a name and a meaning."""
    other = Second(second[0], second[1], make)
    return Act(title, first[0], lambda proof: make(proof, None), first[1], covers, notes, other)


@dataclass(frozen=True)
class Failure:
    """Why something was not done: a sentence, and a line for each answer that refused it."""

    text: str
    lines: tuple[str, ...] = ()


def asks_secret(work: Workplace, act: Act) -> bool:
    """Whether a secret is typed for an act."""
    return act.meaning is not None and not work.practice


def carry_out(
    work: Workplace,
    act: Act,
    secret: str = "",
    badge: str | None = None,
    second_secret: str = "",
    second_badge: str | None = None,
) -> str:
    """Prove who signs, then do it; says what was saved."""
    proof = _proved(work, act, act.person, act.meaning, secret, badge)
    if act.second is None:
        return act.make(proof)
    other = act.second
    return other.make(proof, _proved(work, act, other.person, other.meaning, second_secret, second_badge))


def _proved(
    work: Workplace, act: Act, person: str, meaning: Meaning | None, secret: str, badge: str | None
) -> Proof | None:
    if not asks_secret(work, act):
        return None
    assert meaning is not None
    if not secret:
        raise InputError(f"{person} types the secret first; it is asked for with every signature")
    return signing.prove(work, person, secret, meaning, act.covers, badge=badge or None)


def explain(error: Exception) -> Failure | None:
    """An error that a person may meet, in words; None for a mistake of the program."""
    if isinstance(error, NotPermitted):
        return Failure(str(error), tuple(answer.line() for answer in error.answers))
    if isinstance(error, NdiError):
        first, *rest = str(error).splitlines() or [type(error).__name__]
        return Failure(first, tuple(line.strip() for line in rest))
    return None


# --- forms ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Field:
    """One line of a form.  ``choices``: words to pick from (others may be typed where ``free``)."""

    name: str
    label: str
    value: str = ""
    hint: str = ""
    choices: tuple[str, ...] = ()
    free: bool = True
    needed: bool = False
    day: bool = False  # YYYY-MM-DD


@dataclass(frozen=True)
class Form:
    """Something a person fills in; ``act`` turns what was typed into an act, InputError says what is wrong.

    ``act`` reads the book: it is called in the worker's thread.
    """

    title: str
    fields: tuple[Field, ...]
    act: Callable[[Mapping[str, str]], Act]
    lines: tuple[str, ...] = ()
    button: str = "Go on"


def needed(values: Mapping[str, str], fields: tuple[Field, ...]) -> None:
    """InputError names the first field that is needed and empty."""
    for field in fields:
        if field.needed and not values.get(field.name, "").strip():
            raise InputError(f"{field.label}: type it; it is needed")
