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
class Act:
    """``make`` does it and says in one sentence what was saved.  ``meaning`` None: no signature goes with it."""

    title: str
    person: str
    make: Callable[[Proof | None], str]
    meaning: Meaning | None = None
    covers: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def meaning_text(self) -> str:
        return f"Signature of {self.person}, meaning: {self.meaning}" if self.meaning else f"Entry by {self.person}"


@dataclass(frozen=True)
class Failure:
    """Why something was not done: a sentence, and a line for each answer that refused it."""

    text: str
    lines: tuple[str, ...] = ()


def asks_secret(work: Workplace, act: Act) -> bool:
    """Whether a secret is typed for an act."""
    return act.meaning is not None and not work.practice


def carry_out(work: Workplace, act: Act, secret: str = "", badge: str | None = None) -> str:
    """Prove who signs, then do it; says what was saved."""
    proof = None
    if asks_secret(work, act):
        assert act.meaning is not None
        if not secret:
            raise InputError(f"{act.person} types the secret first; it is asked for with every signature")
        proof = signing.prove(work, act.person, secret, act.meaning, act.covers, badge=badge or None)
    return act.make(proof)


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
