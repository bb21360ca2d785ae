"""The forty questions: the list of them, the answer to one, freezing it, writing it to a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ndi.domain.errors import InputError, NotFound
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.services.asked import answering
from ndi.services.asked.answering import Answered
from ndi.services.workplace import Workplace

_LIST = (Column("No.", 4), Column("Question", 80, stretch=True))


@dataclass(frozen=True)
class AnswerView:
    """The answer to one question, as it is shown."""

    answered: Answered
    lines: tuple[Labelled, ...]


class Questions:
    """What the screen asks."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    def listing(self) -> Listing:
        """All forty."""
        return Listing(_LIST, tuple(Row((each.id, each.text), each.id) for each in answering.questions()))

    def parameters(self, id_: str) -> str:
        """What stands in the parameter field before anybody typed: ``lamp= from=today-30``."""
        return " ".join(f"{each.name}={each.default or ''}" for each in answering.find(id_).parameters)

    def is_ready(self, id_: str) -> bool:
        """Whether it can be asked without a parameter being typed."""
        return all(each.default is not None for each in answering.find(id_).parameters)

    def about(self, id_: str) -> tuple[Labelled, ...]:
        """What a question counts and what it needs."""
        asked = answering.find(id_)
        needs = "; ".join(f"{each.name}: {each.meaning}" for each in asked.parameters) or "nothing"
        return (Labelled("Counted", asked.definition), Labelled("Needs", needs))

    def ask(self, id_: str, typed: str) -> AnswerView:
        """Answer it; ``typed`` are parameters as name=value, apart by blanks."""
        answered = answering.ask(self._work, id_, _values(typed))
        kept = [str(each) for each in answering.frozen(self._work, answered)]
        lines = (
            Labelled("Counted", answered.question.definition),
            Labelled("Answer", f"{answered.count} rows, hash {answered.hash[:16]}, head {answered.head}"),
            *(Labelled("Frozen", text) for text in kept[-3:]),
        )
        return AnswerView(answered, lines)

    def rows(self, answered: Answered, text: str) -> Listing:
        """The rows in which some cell holds the text."""
        titles = (*answered.question.columns, "Entries")
        columns = tuple(Column(title, 12, stretch=title not in ("Pieces", "Entries")) for title in titles)
        rows = tuple(Row((*row.cells, " ".join(map(str, row.evidence[:6]))), row.key) for row in answered.only(text))
        return Listing(columns, rows, "None recorded.")

    def leads_to(self, key: str) -> str:
        """The record that a row leads to; empty for a row about something else."""
        with self._work.book.session(readonly=True) as session:
            try:
                return session.inspection(key).inspection
            except NotFound:
                return ""

    def freeze(self, answered: Answered) -> Act:
        """Keep hash and count with the time."""
        person = self._person()

        def make(_proof: object) -> str:
            if not person:
                raise InputError("say first who stands at the desk")
            recorded = answering.freeze(self._work, answered, person)
            return f"{answered.question.id} frozen as entry {recorded.position}: {answered.count} rows"

        return Act(f"Freeze the answer to {answered.question.id}", person or self._work.station, make)

    def export_form(self, answered: Answered) -> Form:
        """Write the answer to a new file."""
        fields = (Field("file", "File", hint="ends in .csv or .json; never over a file that is there", needed=True),)

        def act(values: Mapping[str, str]) -> Act:
            path = Path(values["file"])
            if path.suffix.lower() not in (".csv", ".json"):
                raise InputError(f"{path} ends neither in .csv nor in .json")
            text = answering.as_csv(answered) if path.suffix.lower() == ".csv" else answering.as_json(answered)
            return Act(f"Write {path}", self._person() or self._work.station, lambda _proof: _write(path, text))

        return Form(f"Write the answer to {answered.question.id}", fields, act)


def _values(typed: str) -> dict[str, str]:
    """``lamp=LP-3 zone=MAIN 3`` as names and values; a value goes on to the next name."""
    found: dict[str, str] = {}
    name = ""
    for word in typed.split():
        before, sign, after = word.partition("=")
        if sign:
            name, found[before] = before, after
        elif name:
            found[name] += f" {word}"
        else:
            raise InputError(f"{word!r} is no parameter: type NAME=VALUE")
    return found


def _write(path: Path, text: str) -> str:
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except FileExistsError:
        raise InputError(f"{path} is there already and is not overwritten: name another file") from None
    except OSError as error:
        raise InputError(f"{path} cannot be written ({error.strerror}): name another file") from error
    return f"written: {path}"
