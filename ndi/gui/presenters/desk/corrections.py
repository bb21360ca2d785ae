"""Corrections: an entry is picked, its fields are edited, a reason is typed, and what would follow is shown first."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.facts import Fact
from ndi.domain.moment import Moment, Precision
from ndi.domain.quantity import Number
from ndi.gui.presenters.desk import entries
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.gui.presenters.desk.listing import Labelled
from ndi.gui.presenters.desk.recording_forms import NOBODY
from ndi.services import correction
from ndi.services.recordable import BY_FACT
from ndi.services.typed_facts import INSIDE, JOINED
from ndi.services.workplace import Workplace

AT, REASON = "at ", "reason "  # with a blank: no field of a fact has such a name
_FOLLOWS: dict[type[Fact], str] = {
    f.DecisionUndone: "{inspection}: the decision is undone, it is signed again",
    f.TagVoided: "tag {tag} of {inspection} becomes void",
    f.AcceptanceSuspended: "{inspection} is suspended",
    f.ProvisionalCleared: "{inspection} is no longer provisional",
    f.ContainmentOpened: "a recall set of {object} is opened, {pieces} pieces",
    f.EquipmentStatusSet: "{equipment} is set {state}",
}


class _Undo(Exception):
    """Leaves a transaction without keeping anything of it."""


@dataclass(frozen=True)
class EntryView:
    """One entry in full; ``form`` None: it is not corrected here, ``why_not`` says why."""

    position: int
    title: str
    lines: tuple[Labelled, ...]
    form: Form | None
    why_not: str


class Corrections:
    """Entries by their number, and what puts another in their place."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    def entry(self, position: int) -> EntryView:
        """One entry, with its form where it can be corrected."""
        with self._work.book.session(readonly=True) as session:
            recorded = session.entry(position)
            corrected = session.is_superseded(position)
        title = f"Entry {position}: {entries.kind_words(type(recorded.fact))}"
        form, why_not = None, ""
        kind = BY_FACT.get(type(recorded.fact))
        if corrected:
            why_not = "This entry was corrected already; correct the latest one."
        elif kind is None or (kind.signs is not None and kind.signs(recorded.fact) is not None):
            why_not = "This entry was signed or worked out: it is not corrected, it has an action of its own."
        else:
            form = self._form(recorded, title)
        return EntryView(position, title, entries.details(recorded), form, why_not)

    def _form(self, recorded: Recorded[Fact], title: str) -> Form:
        kind = BY_FACT[type(recorded.fact)]
        before = {key.name: typed(getattr(recorded.fact, key.name)) for key in kind.all_keys}
        shown = [
            Field(
                key.name,
                entries.field_words(key.name).capitalize(),
                before[key.name],
                "" if key.form == "text" or key.words else key.form,
                key.words or (("yes", "no") if key.kind is bool else ()),
                needed=key.needed,
            )
            for key in kind.all_keys
        ]
        shown.append(Field(AT, "Happened at", _typed_time(recorded.when), "YYYY-MM-DD HH:MM[:SS]", needed=True))
        shown.append(
            Field(
                REASON,
                "Reason",
                "",
                f"what was wrong; {correction.SHORTEST_REASON} letters or more, kept for ever",
                needed=True,
            )
        )

        def act(values: Mapping[str, str]) -> Act:
            return self._act(recorded, before, values)

        lines = ("The old entry stays in the book; the new one stands in its place.",)
        return Form(f"Correct {title[0].lower()}{title[1:]}", tuple(shown), act, lines, "Show what would happen")

    def _act(self, recorded: Recorded[Fact], before: Mapping[str, str], values: Mapping[str, str]) -> Act:
        person = self._person()
        if not person:
            raise InputError(NOBODY)
        given = {name: values[name] for name, text in before.items() if values.get(name, "") != text}
        at = values[AT] if values[AT] != _typed_time(recorded.when) else None
        prepared = correction.prepare(self._work, recorded.position, given, at=at)
        reason = values[REASON]
        follows = self._tried(prepared, person, reason)
        changes = tuple(f"{change}" for change in prepared.changes)
        notes = (f"Reason: {reason}", *(f"Then: {line}" for line in follows or ("nothing else changes",)))

        def make(_proof: object) -> str:
            written = correction.correct_entry(self._work, prepared, person, reason)
            return f"Entry {recorded.position} corrected by entry {written[0].position}; {len(written) - 1} entries followed"

        return Act(f"Correct entry {recorded.position}", person, make, None, changes, notes)

    def _tried(self, prepared: correction.Correction, person: str, reason: str) -> tuple[str, ...]:
        """What would follow: the correction is made in a transaction that is left without keeping it."""
        followed: list[Recorded[Fact]] = []
        try:
            with self._work.together():
                followed = correction.correct_entry(self._work, prepared, person, reason)
                raise _Undo
        except _Undo:
            pass
        return tuple(dict.fromkeys(_follows(each.fact) for each in followed[1:] if type(each.fact) in _FOLLOWS))


def _follows(fact: Fact) -> str:
    return _FOLLOWS[type(fact)].format(**{each.name: getattr(fact, each.name) for each in fields(fact)})  # type: ignore[arg-type]


def _typed_time(when: Moment) -> str:
    return f"{when.local:%Y-%m-%d %H:%M}" if when.precision is Precision.MINUTE else f"{when.local:%Y-%m-%d %H:%M:%S}"


def typed(value: Any) -> str:
    """A value of a fact as it would be typed."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return JOINED.join(typed(item) for item in value)
    if isinstance(value, Moment):
        return _typed_time(value)
    if isinstance(value, Number):
        return str(value)
    if hasattr(value, "__dataclass_fields__"):
        return INSIDE.join(typed(getattr(value, name)) for name in value.__dataclass_fields__)
    return str(value)
