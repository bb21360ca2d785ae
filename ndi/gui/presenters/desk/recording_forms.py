"""Forms for facts that are recorded by name: fields, words and units come from the one table of the services."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from ndi.domain.errors import InputError
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.gui.presenters.desk.entries import field_words
from ndi.services.proof import Proof
from ndi.services.recordable import RECORDABLE, Recordable
from ndi.services.typed_facts import Key
from ndi.services.typed_recording import Item, prepare, record_all
from ndi.services.workplace import Workplace

AT, WHY, SURE = "at", "why", "sure"
NOBODY = "nobody stands at the desk: choose the person above, at the right"
_UNIT = {"current": "A", "length": "in", "time": "s", "share": "%"}


class RecordingForms:
    """Makes a form for a kind of fact; the person at the desk records it."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    def form(
        self,
        kind: str,
        title: str,
        preset: Mapping[str, str] = {},
        *,
        only: Sequence[str] = (),
        choices: Mapping[str, Sequence[str]] = {},
        lines: Sequence[str] = (),
    ) -> Form:
        """``only``: the keys that are shown, in this order; ``preset``: values that are known."""
        title = title[:1].upper() + title[1:]
        table = RECORDABLE[kind]
        keys = {key.name: key for key in table.keys}
        shown = [keys[name] for name in (only or keys)]
        fields = [_field(table, key, preset.get(key.name, ""), choices.get(key.name, ())) for key in shown]
        if table.timed:
            fields.append(Field(AT, "Happened at", "", "empty: now; HH:MM of today, or YYYY-MM-DD HH:MM"))
            fields.append(Field(WHY, "Why it is entered late", "", "only for a time of more than 2 min ago"))
        if kind == "reading":
            fields.append(
                Field(
                    SURE,
                    "The number really is so",
                    "no",
                    "yes, when a reading outside the plausible range was read twice",
                    ("no", "yes"),
                    free=False,
                )
            )
        hidden = {name: value for name, value in preset.items() if name not in {key.name for key in shown}}

        def act(values: Mapping[str, str]) -> Act:
            return self.act(kind, title, {**hidden, **values})

        return Form(title, tuple(fields), act, tuple(lines), "Save")

    def act(self, kind: str, title: str, values: Mapping[str, str]) -> Act:
        """What was typed as an act; InputError says what is missing or wrong."""
        person = self._person()
        if not person:
            raise InputError(NOBODY)
        given = {name: text for name, text in values.items() if text and name not in (AT, WHY, SURE)}
        item = Item(kind, given, values.get(AT) or None, values.get(WHY) or None)
        (ready,) = prepare(self._work, [item], person)
        meaning, covers = ready.signs or (None, ())

        def make(proof: Proof | None) -> str:
            written = record_all(self._work, [ready], person, proofs=[proof], sure=values.get(SURE) == "yes")
            followed = f", {len(written) - 1} entries followed from it" if len(written) > 1 else ""
            return f"{title}: saved as entry {written[0].position}{followed}"

        return Act(title, person, make, meaning, tuple(covers))


def _field(table: Recordable, key: Key, value: str, choices: Sequence[str]) -> Field:
    words = tuple(choices) or key.words or (("yes", "no") if key.kind is bool else ())
    told = table.told(key)
    form = "" if words and not key.many else key.form
    hint = "; ".join(part for part in (form if form != "text" else "", told if told != "if known" else "") if part)
    return Field(
        key.name, field_words(key.name).capitalize(), value, hint, words, free=not key.words, needed=key.needed
    )
