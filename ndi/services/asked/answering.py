"""Asking one of the questions: the list with its count and hash, freezing it, comparing a frozen one with the book of today."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.codec import body_of
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.services.asked import audit, finds, floor, in_doubt, looks, persons, relied, timing
from ndi.services.asked.proposed import proposed
from ndi.services.asked.question import QUESTIONS, AskedRow, Question, Reader, settled
from ndi.services.asked.words import kind_text, shown
from ndi.services.lookup import about
from ndi.services.ports import Head
from ndi.services.recording import check_known
from ndi.services.workplace import Workplace

_ASKED_IN = (in_doubt, relied, finds, looks, persons, floor, timing, audit)  # importing them fills the list
_RISKY = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would run what begins so


@dataclass(frozen=True)
class Answered:
    """The answer to one question; ``parameters`` as they were settled, days as dates."""

    question: Question
    parameters: dict[str, str]
    rows: tuple[AskedRow, ...]
    head: Head

    @property
    def count(self) -> int:
        return len(self.rows)

    @property
    def hash(self) -> str:
        """SHA-256 over question, parameters and cells; evidence is not part of it."""
        content = [self.question.id, sorted(self.parameters.items()), [list(row.cells) for row in self.rows]]
        return hashlib.sha256(json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()

    def only(self, text: str) -> tuple[AskedRow, ...]:
        """The rows in which some cell holds the text, whatever its case."""
        wanted = text.strip().casefold()
        return tuple(row for row in self.rows if any(wanted in cell.casefold() for cell in row.cells))


def questions() -> tuple[Question, ...]:
    """All forty, by number."""
    return tuple(sorted(QUESTIONS.values(), key=lambda each: int(each.id[1:])))


def find(id_: str) -> Question:
    """InputError for a number that is not there."""
    found = QUESTIONS.get(id_.strip().upper())
    if found is None:
        raise InputError(f"there is no question {id_}: F1 to F{len(QUESTIONS)} (ndi ask --list)")
    return found


def ask(work: Workplace, id_: str, given: Mapping[str, str]) -> Answered:
    """Answer a question from the book as it stands; InputError for wrong parameters, NotFound for a thing it does not hold."""
    asked = find(id_)
    now = work.now()
    lacking = [each for each in asked.parameters if each.default is None and not given.get(each.name, "").strip()]
    if lacking:
        needs = " ".join(f"{each.name}={each.meaning}" for each in lacking)
        likely = " ".join(f"{name}={value}" for name, value in proposed(work, asked).items())
        raise InputError(f"{asked.id} needs {needs}" + (f"; in this book for instance {likely}" if likely else ""))
    values = settled(asked, given, now.local.date())
    with work.look() as session:
        rows = tuple(asked.find(Reader(work, session, values, now)))
        return Answered(asked, values, rows, session.head())


@dataclass(frozen=True)
class Summary:
    """One line of the page over all questions: what was asked about, how many rows, or why there is no answer."""

    question: Question
    parameters: dict[str, str]
    count: int | None
    says: str = ""

    def __str__(self) -> str:
        about_ = " ".join(f"{name}={value}" for name, value in self.parameters.items())
        count = "-" if self.count is None else str(self.count)
        return f"{self.question.id:>4} {count:>7}  {self.question.text}{f' ({about_})' if about_ else ''}{self.says and f': {self.says}'}"


_LONG = {"F31": "walks the whole chain: ask it by itself, or ndi verify"}


def over_all(work: Workplace, person: str = "") -> Iterator[Summary]:
    """Every question as it is proposed, one after the other: the page that a shift is looked over with."""
    for asked in questions():
        if asked.id in _LONG:
            yield Summary(asked, {}, None, _LONG[asked.id])
            continue
        given = proposed(work, asked, person)
        try:
            answered = ask(work, asked.id, given)
        except (InputError, NotFound) as error:
            yield Summary(asked, given, None, str(error))
        else:
            yield Summary(asked, answered.parameters, answered.count)


def freeze(work: Workplace, answered: Answered, person: str) -> Recorded[f.Fact]:
    """Keep what was answered: question, parameters, count and hash as a fact with its time."""
    with work.act("freeze answer", person, answered.question.id) as session:
        check_known(session, person)
        parameters = tuple(f"{name}={value}" for name, value in sorted(answered.parameters.items()))
        fact = f.AnswerFrozen(answered.question.id, parameters, answered.hash, answered.count, answered.head.position)
        (recorded,) = session.append([Draft(fact, work.now(), person, Obtained.COMPUTED)])
        return recorded


@dataclass(frozen=True)
class Frozen:
    """A frozen answer beside what the book says now to the same question with the same parameters."""

    recorded: Recorded[f.AnswerFrozen]
    now: Answered

    @property
    def stands(self) -> bool:
        return self.recorded.fact.hash == self.now.hash

    def __str__(self) -> str:
        fact = self.recorded.fact
        begun = f"frozen {self.recorded.when} by {self.recorded.by}, {fact.count} rows, {fact.hash[:16]}: "
        if self.stands:
            return begun + "the book still says the same"
        return begun + f"the book says something else now ({self.now.count} rows, {self.now.hash[:16]})"


def frozen(work: Workplace, answered: Answered) -> tuple[Frozen, ...]:
    """The frozen answers to a question; those with the same parameters as an answer in hand are compared with it."""
    with work.look() as session:
        kept = about(session, f.AnswerFrozen, answered.question.id)
    found = []
    known = {tuple(sorted(answered.parameters.items())): answered}
    for recorded in kept:
        values = dict(line.split("=", 1) for line in recorded.fact.parameters)
        key = tuple(sorted(values.items()))
        if key not in known:
            known[key] = ask(work, answered.question.id, values)
        found.append(Frozen(recorded, known[key]))
    return tuple(found)


def evidence(work: Workplace, row: AskedRow) -> Iterator[str]:
    """The entries that a row follows from, each in words."""
    with work.look() as session:
        for position in row.evidence:
            entry = session.entry(position)
            corrected = ", corrected since" if session.is_superseded(position) else ""
            words = shown({name: value for name, value in body_of(entry.fact).items() if name != "answers"})
            yield f"entry {position}, {kind_text(type(entry.fact).__name__)}, {entry.when}, by {entry.by}{corrected}: {words}"


# --- writing it down --------------------------------------------------------------------------------


def as_json(answered: Answered, rows: tuple[AskedRow, ...] | None = None) -> str:
    """The answer for another program: question, definition, parameters, count, hash, head of the book, rows by column."""
    chosen = answered.rows if rows is None else rows
    content = {
        "question": answered.question.id,
        "text": answered.question.text,
        "definition": answered.question.definition,
        "parameters": answered.parameters,
        "count": answered.count,
        "shown": len(chosen),
        "hash": answered.hash,
        "head": str(answered.head),
        "rows": [
            {**dict(zip(answered.question.columns, row.cells, strict=True)), "evidence": list(row.evidence)}
            for row in chosen
        ],
    }
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def as_csv(answered: Answered, rows: tuple[AskedRow, ...] | None = None) -> str:
    """The rows with their columns and the entries that they follow from; no cell is a formula to a spreadsheet."""
    lines = [[*answered.question.columns, "Evidence"]]
    for row in answered.rows if rows is None else rows:
        lines.append([*map(_harmless, row.cells), " ".join(map(str, row.evidence))])
    return "".join(",".join(map(_quoted, line)) + "\r\n" for line in lines)


def _quoted(cell: str) -> str:
    """A cell as RFC 4180 writes it."""
    return '"' + cell.replace('"', '""') + '"' if any(mark in cell for mark in ',"\r\n') else cell


def _harmless(cell: str) -> str:
    risky = cell.startswith(_RISKY) and not cell[1:2].isdigit()
    return f"'{cell}" if risky else cell
