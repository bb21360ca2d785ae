"""How a command says what it wrote: one line for each entry, with what followed from it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from typing import Any

from ndi.domain.entry import Obtained, Recorded
from ndi.domain.facts import Fact
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number

_KEPT_APART = ("verifier", "answers", "content", "covers", "lines", "reasons", "snapshot")  # never shown, or long


def entry_line(recorded: Recorded[Fact]) -> str:
    """``entry 214: ShotFired MT-001 MT-1 1 ..., 09:12:30``, with ``follows`` where the program worked it out."""
    fact = recorded.fact
    values = [text(getattr(fact, each.name)) for each in fields(fact) if each.name not in _KEPT_APART]  # type: ignore[arg-type]
    follows = "follows: " if recorded.how is Obtained.COMPUTED else ""
    late = f", late: {recorded.why}" if recorded.how is Obtained.TYPED_LATE else ""
    return f"entry {recorded.position}: {follows}{type(fact).__name__} {', '.join(v for v in values if v)}, {recorded.when.clock()}{late}"


def text(value: Any) -> str:
    """A value for reading; empty when it was not recorded."""
    if value is None or value == ():
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "+".join(text(each) for each in value)
    if is_dataclass(value) and not isinstance(value, (Number, Moment)):
        return ":".join(text(getattr(value, each.name)) for each in fields(value))
    return str(value)


def say(written: Iterable[Recorded[Fact]], *, as_json: bool = False) -> None:
    """Print what was written; with ``as_json`` the positions and kinds as one object."""
    found = list(written)
    if as_json:
        print(json.dumps({"entries": [{"position": r.position, "kind": type(r.fact).__name__} for r in found]}))
        return
    for recorded in found:
        print(entry_line(recorded))
    print("saved")
