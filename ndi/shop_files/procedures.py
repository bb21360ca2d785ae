"""A new procedure file to begin from, and what a folder of procedures leaves open."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ndi.domain.errors import InputError
from ndi.domain.procedure import Procedure
from ndi.rules import registry

_KEY = re.compile(r"(?P<key>[a-z_0-9]+) = \{ value = ")


@dataclass(frozen=True)
class Filled:
    """What is put into a template: what is None stays as the template has it."""

    number: str | None = None
    revision: str | None = None
    title: str | None = None
    method: str | None = None
    effective_from: date | None = None
    approved_by: str | None = None


def filled(text: str, values: Filled) -> str:
    """A template with some of its first keys set; comments stay."""
    for key, value in (
        ("number", values.number),
        ("revision", values.revision),
        ("title", values.title),
        ("method", values.method),
    ):
        if value is not None:
            text = _set(text, key, _quoted(key, value))
    if values.approved_by is not None:
        text = _set(text, "approved_by", _quoted("approved_by", values.approved_by))
    if values.effective_from is not None:
        text = _set(text, "effective_from", values.effective_from.isoformat())
    return text


def with_rules(text: str, like: Procedure) -> str:
    """The template with every rule of ``like`` listed, its severity copied and its paragraph to be stated.

    Parameters that none of these rules reads are taken out, so that what is left
    empty is what the rules wait for.  No value is copied: limits are the shop's own.
    """
    rules = registry.load_all()
    read = {key for rule in like.rules for key in rules[rule].keys}
    foreign = {key for rule in rules.values() for key in rule.keys} - read
    lines = [
        f'{rule} = {{ severity = "{setting.severity}", paragraph = "to be stated" }}  # {rules[rule].question}'
        for rule, setting in like.rules.items()
    ]
    block = (
        "[rules]\n# severities to begin with; yours may differ. Paragraphs are those of your written procedure.\n"
        + "\n".join(lines)
        + "\n"
    )
    return _without(text, foreign).replace("\n[rules]\n", "\n" + block, 1)


def _without(text: str, keys: set[str]) -> str:
    """The text without the parameters ``keys`` and the comment above each."""
    kept: list[str] = []
    for line in text.splitlines(keepends=True):
        found = _KEY.match(line)
        if found and found["key"] in keys:
            kept.pop()
            continue
        kept.append(line)
    return "".join(kept)


def _set(text: str, key: str, value: str) -> str:
    pattern = re.compile(rf'^{key} = (?:"[^"]*"|\d{{4}}-\d{{2}}-\d{{2}})', re.MULTILINE)
    return pattern.sub(lambda _: f"{key} = {value}", text, count=1)


def _quoted(key: str, value: str) -> str:
    if not value.isprintable() or '"' in value or "\\" in value:
        raise InputError(f"{key} {value!r} cannot be written: no quotes, backslashes or control characters")
    return f'"{value}"'


# --- what is open -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class OpenKey:
    """A parameter that rules of a revision read and that has no value there."""

    procedure: str
    key: str
    rules: tuple[str, ...]

    def __str__(self) -> str:
        verb = "answers" if len(self.rules) == 1 else "answer"
        return f"{self.procedure}: {self.key} has no value: {', '.join(self.rules)} {verb} NOT RECORDED unless a technique sheet gives it"


def open_keys(procedure: Procedure) -> list[OpenKey]:
    """Every key without a value that a listed rule reads, in the order of the rules."""
    readers: dict[str, list[str]] = {}
    rules = registry.load_all()
    for rule in procedure.rules:
        for key in rules[rule].keys if rule in rules else ():
            if key not in procedure.parameters:
                readers.setdefault(key, []).append(rule)
    return [OpenKey(procedure.name, key, tuple(found)) for key, found in readers.items()]


def unknown_rules(procedure: Procedure) -> list[str]:
    """Listed rules that this program cannot ask (the loader knows their ids)."""
    rules: Mapping[str, registry.Rule] = registry.load_all()
    return [rule for rule in procedure.rules if rule not in rules]


def open_lines(procedures: Sequence[Procedure]) -> Iterator[str]:
    """What the revisions leave open, one line for each."""
    for procedure in procedures:
        if not procedure.rules:
            yield f"{procedure.name}: lists no rule: nothing is asked under it"
        yield from (str(key) for key in open_keys(procedure))
        unknown = unknown_rules(procedure)
        if unknown:
            yield f"{procedure.name}: {', '.join(unknown)} cannot be asked by this program: take them out"
