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
from ndi.services.asked.proposed import proposed
from ndi.services.asked.question import AskedRow
from ndi.services.workplace import Workplace

_LIST = (Column("No.", 4), Column("Question", 80, stretch=True))
_SHOWN_ENTRIES = 6  # numbers in the last column; Shift+Return leads to all of them
_FROZEN = 3  # frozen answers that are shown
_NARROW = ("Pieces", "Entries", "Used for")


@dataclass(frozen=True)
class AnswerView:
    """The answer to one question, as it is shown."""

    answered: Answered
    lines: tuple[Labelled, ...]


@dataclass(frozen=True)
class Begun:
    """A question as it is chosen: what stands in the parameter field, what it counts, whether it can be asked so."""

    id: str
    typed: str
    lines: tuple[Labelled, ...]
    is_ready: bool


@dataclass(frozen=True)
class Shown:
    """The rows that a filter leaves, in the order of the list."""

    rows: tuple[AskedRow, ...]
    listing: Listing


@dataclass(frozen=True)
class Lead:
    """Where a row leads; ``screen`` empty for a row that leads nowhere."""

    screen: str
    key: str = ""
    says: str = ""


class Questions:
    """What the screen asks."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    def listing(self) -> Listing:
        """All forty."""
        return Listing(_LIST, tuple(Row((each.id, each.text), each.id) for each in answering.questions()))

    def begin(self, id_: str) -> Begun:
        """A question with what it is asked about when nobody types anything: ``lamp=LP-3 from=today-30``."""
        asked = answering.find(id_)
        values = {each.name: each.default or "" for each in asked.parameters}
        values.update(proposed(self._work, asked, self._person()))
        needs = "; ".join(f"{each.name}: {each.meaning}" for each in asked.parameters) or "nothing"
        lines = (Labelled("Counted", asked.definition), Labelled("Needs", needs))
        ready = all(values[each.name] for each in asked.parameters if each.default is None)
        return Begun(asked.id, " ".join(f"{name}={value}" for name, value in values.items()), lines, ready)

    def ask(self, id_: str, typed: str) -> AnswerView:
        """Answer it; ``typed`` are parameters as name=value, apart by blanks."""
        answered = answering.ask(self._work, id_, _values(typed))
        kept = [str(each) for each in answering.frozen(self._work, answered)]
        lines = (
            Labelled("Counted", answered.question.definition),
            Labelled("Answer", f"{answered.count} rows, hash {answered.hash[:16]}, head {answered.head}"),
            *(Labelled("Frozen", text) for text in kept[-_FROZEN:]),
        )
        return AnswerView(answered, lines)

    def rows(self, answered: Answered, text: str) -> Shown:
        """The rows in which some cell holds the text."""
        titles = (*answered.question.columns, "Entries")
        columns = tuple(Column(title, 12, stretch=title not in _NARROW) for title in titles)
        rows = answered.only(text) if text.strip() else answered.rows
        listed = tuple(Row((*row.cells, _entries(row)), row.key) for row in rows)
        return Shown(rows, Listing(columns, listed, "None recorded." if not answered.rows else "No row holds that."))

    def leads_to(self, row: AskedRow) -> Lead:
        """The record of a row; for a row about something else the entry that it follows from."""
        with self._work.book.session(readonly=True) as session:
            try:
                return Lead("record", session.inspection(row.key).inspection)
            except NotFound:
                return self.entry_of(row, 0)

    def entry_of(self, row: AskedRow, nth: int) -> Lead:
        """One of the entries that a row follows from, one after the other."""
        if not row.evidence:
            return Lead("", says="This row follows from no single entry: it says what is not in the book, or a sum.")
        place = nth % len(row.evidence)
        return Lead("correction", str(row.evidence[place]), f"Entry {place + 1} of {len(row.evidence)} of the row.")

    def freeze(self, answered: Answered) -> Act:
        """Keep hash and count with the time."""
        person = self._person()

        def make(_proof: object) -> str:
            if not person:
                raise InputError("say first who stands at the desk")
            recorded = answering.freeze(self._work, answered, person)
            return f"{answered.question.id} frozen as entry {recorded.position}: {answered.count} rows"

        return Act(f"Freeze the answer to {answered.question.id}", person or self._work.station, make)

    def export_form(self, answered: Answered, rows: tuple[AskedRow, ...]) -> Form:
        """Write the rows shown to a new file."""
        of = f"{len(rows)} of {answered.count} rows" if len(rows) != answered.count else f"{answered.count} rows"
        name = Path.home() / f"{answered.question.id}-{self._work.now().local:%Y-%m-%d}.csv"
        hint = "ends in .csv or .json; never over a file that is there"
        fields = (Field("file", "File", value=str(name), hint=hint, needed=True),)

        def act(values: Mapping[str, str]) -> Act:
            path = Path(values["file"]).expanduser()
            if path.suffix.lower() not in (".csv", ".json"):
                raise InputError(f"{path} ends neither in .csv nor in .json")
            write = answering.as_csv if path.suffix.lower() == ".csv" else answering.as_json
            text = write(answered, rows)
            return Act(f"Write {path}", self._person() or self._work.station, lambda _proof: _write(path, text, of))

        return Form(f"Write the answer to {answered.question.id}", fields, act, lines=(of,))


def _entries(row: AskedRow) -> str:
    more = len(row.evidence) - _SHOWN_ENTRIES
    return " ".join(map(str, row.evidence[:_SHOWN_ENTRIES])) + (f" +{more}" if more > 0 else "")


def _values(typed: str) -> dict[str, str]:
    """``lamp=LP-3 zone=MAIN 3`` as names and values; a value goes on to the next name."""
    found: dict[str, str] = {}
    name = ""
    for word in typed.split():
        before, sign, after = word.partition("=")
        if sign:
            name, found[before] = before, after
        elif name:
            found[name] = f"{found[name]} {word}".strip()
        else:
            raise InputError(f"{word!r} is no parameter: type NAME=VALUE")
    return found


def _write(path: Path, text: str, of: str) -> str:
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except FileExistsError:
        raise InputError(f"{path} is there already and is not overwritten: name another file") from None
    except OSError as error:
        raise InputError(f"{path} cannot be written ({error.strerror}): name another file") from error
    return f"{of} written: {path}"
