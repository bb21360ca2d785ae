"""Entries of the book in words: kind, fields, time, person; for lists of facts and for corrections."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from ndi.domain.entry import Recorded
from ndi.domain.facts import Fact
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.services.ports import Session

_WORDS = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")
COLUMNS = (
    Column("Entry", 7, right=True),
    Column("At", 17),
    Column("By", 8),
    Column("Kind", 22),
    Column("What it says", 40, stretch=True),
    Column("How", 13),
)
BRIEF = (Column("Entry", 6, right=True), Column("At", 17), Column("Who said what", 34, stretch=True))
_HIDDEN = frozenset({"verifier", "content", "answers", "lines", "snapshot", "proof", "covers"})


def kind_words(kind: type) -> str:
    """``ReadingRecorded`` as ``reading recorded``."""
    return _WORDS.sub(" ", kind.__name__).lower()


def field_words(name: str) -> str:
    return name.strip("_").replace("_", " ")


def value_words(value: Any) -> str:
    """A value of a fact as a person reads it."""
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (Number, Moment, date, str, int)):
        return str(value)
    if isinstance(value, tuple):
        return ", ".join(value_words(item) for item in value) or "none"
    if dataclasses.is_dataclass(value):
        said = [
            value_words(getattr(value, f.name)) for f in dataclasses.fields(value) if getattr(value, f.name) is not None
        ]
        return " ".join(said)
    return str(value)


def _fields(fact: Any) -> tuple[dataclasses.Field[Any], ...]:
    return dataclasses.fields(fact)


def fact_words(fact: Fact) -> str:
    """Every recorded field of a fact in one line."""
    said = []
    for each in _fields(fact):
        value = getattr(fact, each.name)
        if value is None or value == () or each.name in _HIDDEN:
            continue
        said.append(f"{field_words(each.name)} {value_words(value)}")
    return ", ".join(said)


def entry_row(recorded: Recorded[Fact], *, superseded: bool = False) -> Row:
    """One line of a list of entries."""
    text = fact_words(recorded.fact)
    if recorded.supersedes:
        text = f"CORRECTION ({recorded.why}): {text}"
    elif recorded.why:
        text = f"{text} (late: {recorded.why})"
    if superseded:
        text = f"CORRECTED SINCE: {text}"
    by = f"{recorded.by} for {recorded.on_behalf_of}" if recorded.on_behalf_of else recorded.by
    cells = (str(recorded.position), str(recorded.when), by, kind_words(type(recorded.fact)), text, str(recorded.how))
    return Row(cells, key=str(recorded.position))


def listing(found: Iterable[Recorded[Fact]], corrected: Iterable[int] = ()) -> Listing:
    """Entries in the order of the book."""
    gone = frozenset(corrected)
    rows = [entry_row(r, superseded=r.position in gone) for r in sorted(found, key=lambda r: r.position)]
    return Listing(COLUMNS, tuple(rows))


def brief(found: Iterable[Recorded[Fact]]) -> Listing:
    """Entries for a narrow place: number, time, and the rest in one text."""
    rows = []
    for recorded in sorted(found, key=lambda r: r.position):
        entry, at, by, kind, text, _how = entry_row(recorded).cells
        rows.append(Row((entry, at, f"{by}: {kind}, {text}"), entry))
    return Listing(BRIEF, tuple(rows), "No entry: nothing of this is recorded.")


def details(recorded: Recorded[Fact]) -> tuple[Labelled, ...]:
    """Every field of one entry, a line each."""
    fact = recorded.fact
    shown = [
        Labelled(field_words(each.name).capitalize(), value_words(getattr(fact, each.name)))
        for each in _fields(fact)
        if each.name not in _HIDDEN
    ]
    about = [
        Labelled("Entry", f"{recorded.position}, {kind_words(type(fact))}"),
        Labelled("At", f"{recorded.when} ({recorded.how})"),
        Labelled("By", recorded.by + (f" for {recorded.on_behalf_of}" if recorded.on_behalf_of else "")),
    ]
    return (*about, *shown, *([Labelled("Reason", recorded.why)] if recorded.why else []))


def about_subjects(session: Session, subjects: Sequence[str]) -> Listing:
    """Everything the book holds about some things, corrected entries included and marked."""
    found: dict[int, Recorded[Fact]] = {}
    for subject in subjects:
        found |= {r.position: r for r in session.facts(subject, include_superseded=True)}
    newest = {r.supersedes for r in found.values() if r.supersedes}
    corrected = [position for position, r in found.items() if r.uid in newest]
    return listing(found.values(), corrected)
