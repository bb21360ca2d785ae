"""Correcting an entry by its number: what was typed takes the place of what stood there, with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.facts import Fact
from ndi.domain.moment import Moment
from ndi.services import recording
from ndi.services.lookup import about
from ndi.services.recordable import BY_FACT, Recordable
from ndi.services.recording import check_known
from ndi.services.typed_facts import moment_of, values_of
from ndi.services.workplace import Workplace

SHORTEST_REASON = 10  # letters: a reason that says something


@dataclass(frozen=True)
class Correction:
    """An entry as it stands and as it will stand."""

    old: Recorded[Fact]
    fact: Fact
    when: Moment

    @property
    def changes(self) -> tuple[str, ...]:
        """Each field that changes, with both values."""
        pairs = [
            (each.name, getattr(self.old.fact, each.name), getattr(self.fact, each.name))
            for each in fields(self.fact)  # type: ignore[arg-type]
        ]
        found = [f"{name}: {_shown(before)} -> {_shown(after)}" for name, before, after in pairs if before != after]
        return (*found, *([f"time: {self.old.when} -> {self.when}"] if self.when != self.old.when else []))


def _shown(value: Any) -> str:
    if isinstance(value, tuple):
        return " + ".join(_shown(each) for each in value) or "nothing"
    if isinstance(value, (f.Pulse, f.Mark, f.Dimension)):
        return ":".join(_shown(getattr(value, each.name)) for each in fields(value))
    return "not recorded" if value is None else str(value)


def prepare(work: Workplace, position: int, given: Mapping[str, Any], *, at: str | None = None) -> Correction:
    """What a correction would change; InputError for what is signed or worked out, corrected already, or no change."""
    with work.book.session(readonly=True) as session:
        old = session.entry(position)
        superseding = _superseded_by(session.facts, old)
    kind = BY_FACT.get(type(old.fact))
    if kind is None or (kind.signs is not None and kind.signs(old.fact) is not None):
        raise InputError(
            f"entry {position} is {type(old.fact).__name__}: signed or worked out, it has an action of its own"
        )
    if superseding is not None:
        raise InputError(f"entry {position} was corrected by entry {superseding}: correct that one")
    correction = _with(work, kind, old, given, at)
    _check_view(work, correction)
    if not correction.changes:
        raise InputError(f"entry {position} says that already: nothing to correct")
    return correction


def _check_view(work: Workplace, correction: Correction) -> None:
    """A view does not end before it began."""
    fact = correction.fact
    if not isinstance(fact, (f.ViewStarted, f.ViewEnded)):
        return
    with work.book.session(readonly=True) as session:
        starts = [r.when for r in about(session, f.ViewStarted, fact.view)]
        ends = [r.when for r in about(session, f.ViewEnded, fact.view)]
    begin = [correction.when] if isinstance(fact, f.ViewStarted) else starts
    end = [correction.when] if isinstance(fact, f.ViewEnded) else ends
    if begin and end and end[-1].at < begin[-1].at:
        raise InputError(f"view {fact.view} would end {end[-1].clock()}, before it began {begin[-1].clock()}")


def _superseded_by(facts: Any, old: Recorded[Fact]) -> int | None:
    for subject in old.fact.subjects()[:1]:
        for each in facts(subject, [type(old.fact)], include_superseded=True):
            if each.supersedes == old.uid:
                return int(each.position)
    return None


def _with(
    work: Workplace, kind: Recordable, old: Recorded[Fact], given: Mapping[str, Any], at: str | None
) -> Correction:
    now = work.now()
    changed = values_of(kind.all_keys, given, now)
    emptied = {name: None for name, typed in given.items() if name not in changed}
    needed = {key.name for key in kind.all_keys if key.needed}
    if needed & set(emptied):
        raise InputError(f"{', '.join(sorted(needed & set(emptied)))} cannot be empty")
    when = old.when if at is None else moment_of(at, now)
    return Correction(old, replace(old.fact, **{**emptied, **changed}), when)  # type: ignore[type-var]


def correct_entry(work: Workplace, correction: Correction, by: str, reason: str) -> list[Recorded[Fact]]:
    """Put it in; what was written, with what followed from it (a decision undone, tags void)."""
    if len(reason.strip()) < SHORTEST_REASON:
        raise InputError(f"the reason is kept for ever: write {SHORTEST_REASON} letters or more")
    with work.together() as session:
        check_known(session, by)
        before = session.head().position
        recording.correct(work, correction.old.uid, correction.fact, by, when=correction.when, why=reason)
        return [session.entry(position) for position in range(before + 1, session.head().position + 1)]
