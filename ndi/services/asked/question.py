"""What a question is: its words, its definition, its parameters, its columns, and the function that answers it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.procedure import PartMaster, Procedure, Technique
from ndi.domain.quantity import Number
from ndi.rules.inquiry import Inquiry
from ndi.services.asked.words import clock_text
from ndi.services.ports import Brief, InspectionRow, Line, Named, PartRow, Session
from ndi.services.workplace import Workplace

LONGEST_VALUE = 200  # characters of a parameter
_FIRST, _LAST = date(1990, 1, 1), date(9998, 12, 31)


@dataclass(frozen=True)
class Parameter:
    """``default`` None: it must be given; ``today`` and ``today-30`` are days counted from the day of asking."""

    name: str
    meaning: str
    default: str | None = None


class AskedRow(NamedTuple):
    """One line of an answer: its cells, the entries that it follows from, the record or thing that it leads to."""

    cells: tuple[str, ...]
    evidence: tuple[int, ...] = ()
    key: str = ""


@dataclass(frozen=True)
class Question:
    """``definition`` says what exactly is counted."""

    id: str
    text: str
    definition: str
    columns: tuple[str, ...]
    parameters: tuple[Parameter, ...]
    find: Callable[[Reader], Iterable[AskedRow]]


QUESTIONS: dict[str, Question] = {}

Find = Callable[["Reader"], Iterable[AskedRow]]


def question(
    id_: str, text: str, definition: str, columns: tuple[str, ...], *parameters: Parameter
) -> Callable[[Find], Find]:
    """Puts the function below it into the list of questions."""

    def keep(find: Find) -> Find:
        QUESTIONS[id_] = Question(id_, text, definition, columns, parameters, find)
        return find

    return keep


def settled(asked: Question, given: Mapping[str, str], today: date) -> dict[str, str]:
    """Every parameter with its value, days as dates; InputError for an unknown or a missing one."""
    known = {each.name for each in asked.parameters}
    for name, value in given.items():
        if name not in known:
            raise InputError(f"{asked.id} knows no {name}; it takes {', '.join(sorted(known)) or 'no parameters'}")
        if len(value) > LONGEST_VALUE or not value.isprintable():
            raise InputError(f"{name}: at most {LONGEST_VALUE} printable characters")
    values = {}
    for each in asked.parameters:
        value = given.get(each.name, "").strip()
        if not value and each.default is not None:
            value = each.default
        if not value and each.default is None:
            raise InputError(f"{asked.id} needs {each.name}={each.meaning}")
        values[each.name] = _day_word(value, today)
    return values


def _day_word(value: str, today: date) -> str:
    if not value.startswith("today"):
        return value
    days = value.removeprefix("today") or "+0"
    if not (days[0] in "+-" and days[1:].isascii() and days[1:].isdigit() and len(days) < 6):
        return value
    return (today + timedelta(days=int(days))).isoformat()


@dataclass
class Reader:
    """What a question may look at: one transaction of the book, the parameters as they were settled, the time of asking."""

    work: Workplace
    session: Session
    given: Mapping[str, str]
    now: Moment
    _records: dict[str, InspectionRow | None] = field(default_factory=dict, repr=False)
    _limits: dict[tuple[str, ...], Inquiry] = field(default_factory=dict, repr=False)
    _offsets: dict[int, int] = field(default_factory=dict, repr=False)
    _parts: dict[str, PartRow | None] = field(default_factory=dict, repr=False)

    # --- parameters ---

    def text(self, name: str) -> str:
        return self.given[name]

    def day(self, name: str) -> date:
        """A parameter that is a day."""
        try:
            found = date.fromisoformat(self.given[name])
        except ValueError:
            found = _LAST
        if not _FIRST <= found < _LAST:
            raise InputError(f"{name}={self.given[name]} is no day; type it like 2026-03-10")
        return found

    def number(self, name: str, most: int = 100_000) -> Fraction:
        """A parameter that is a number, exactly as typed."""
        typed = self.given[name]
        try:
            value = Number(typed, "pcs").value
        except InputError:
            raise InputError(f"{name}={typed} is no number") from None
        if abs(value) > most:
            raise InputError(f"{name}={typed} lies beyond {most}")
        return value

    def whole(self, name: str, least: int = 0) -> int:
        """A parameter that is a whole number."""
        value = self.number(name)
        if value.denominator != 1 or value < least:
            raise InputError(f"{name}={self.given[name]} is no whole number from {least} up")
        return int(value)

    def period(self) -> tuple[datetime, datetime]:
        """From the beginning of the local day ``from`` to the end of the local day ``to``."""
        first, last = self.day("from"), self.day("to")
        if last < first:
            raise InputError(f"to={last} lies before from={first}")
        return self.start_of(first), self.start_of(last + timedelta(days=1))

    def start_of(self, day: date) -> datetime:
        """When a local day begins, in UTC."""
        return datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(minutes=self.now.offset_min)

    @property
    def today(self) -> date:
        return self.now.local.date()

    # --- the book ---

    def lines(self, kind: type[f.Fact]) -> list[Line]:
        """Every entry of a kind."""
        return self.session.lines(kind)

    def lines_in(self, kind: type[f.Fact]) -> list[Line]:
        """Entries of a kind that happened in the period asked for."""
        return self.session.lines(kind, *self.period())

    def named_in(self, kind: type[f.Fact]) -> list[Named]:
        """The same by what they are about, their bodies not read."""
        return self.session.named(kind, *self.period())

    @cached_property
    def briefs(self) -> dict[str, Brief]:
        """Every record by number: one reading of the table, for questions about all of them."""
        return self.session.briefs()

    def briefs_of(self, names: Iterable[str]) -> dict[str, Brief]:
        """Some records by number."""
        return self.session.briefs(dict.fromkeys(names))

    def gather(self, names: Iterable[str], *, parts: bool = True) -> None:
        """Read some records (and their parts) at once, that are asked for one by one later."""
        wanted = [name for name in dict.fromkeys(names) if name not in self._records]
        if wanted:
            found = self.session.inspections_in(wanted)
            self._records.update((name, found.get(name)) for name in wanted)
        if parts:
            rows = (self._records.get(name) for name in names)
            self.gather_parts(row.part for row in rows if row is not None)

    def gather_parts(self, names: Iterable[str]) -> None:
        """Read some parts at once."""
        wanted = [name for name in dict.fromkeys(names) if name not in self._parts]
        if wanted:
            found = self.session.parts_in(wanted)
            self._parts.update((name, found.get(name)) for name in wanted)

    def record(self, name: str) -> InspectionRow | None:
        """One record; None for a number that the book does not hold as a record (paper, a refused one)."""
        if name not in self._records:
            try:
                self._records[name] = self.session.inspection(name)
            except NotFound:
                self._records[name] = None
        return self._records[name]

    def part(self, name: str) -> PartRow | None:
        if name not in self._parts:
            try:
                self._parts[name] = self.session.part(name)
            except NotFound:
                self._parts[name] = None
        return self._parts[name]

    def gather_offsets(self, positions: Iterable[int | None]) -> None:
        """Read the local offsets of some entries at once, whose times are shown."""
        wanted = [each for each in dict.fromkeys(positions) if each and each not in self._offsets]
        if wanted:
            self._offsets.update(self.session.offsets(wanted))

    def at(self, moment: datetime | None, position: int | None) -> str:
        """A time as the clock on the wall showed it where the entry was made, whoever asks and whenever; empty for none."""
        if moment is None:
            return ""
        if position not in self._offsets:
            self.gather_offsets([position])
        return clock_text(moment, self._offsets.get(position or 0, self.now.offset_min))

    def in_force(self, day: date) -> list[Procedure]:
        """The procedures that were in force on a local day, as far as they are adopted now."""
        return [
            p
            for p in self.work.procedures(self.session)
            if p.effective_from <= day and (p.effective_to is None or day <= p.effective_to)
        ]

    def limits(self, row: InspectionRow) -> Inquiry:
        """What the technique and procedure that a record is pinned to allow; it holds no fact.  NotFound."""
        opened = [r.fact for r in self.session.facts(row.inspection, [f.InspectionOpened])]
        found = [fact for fact in opened if isinstance(fact, f.InspectionOpened)]
        if not found:
            raise NotFound(f"{row.inspection} was never opened")
        return self._limits_of(row, self.work.technique(self.session, row.technique, found[-1].technique_revision))

    def _limits_of(self, row: InspectionRow, technique: Technique) -> Inquiry:
        key = (row.procedure, row.procedure_revision, technique.number, technique.revision)
        if key not in self._limits:
            procedure = self.work.procedure(self.session, row.procedure, row.procedure_revision)
            master = PartMaster("", "", 1, False, (), (), ())
            self._limits[key] = Inquiry("", FactSet(()), procedure, technique, master, self.now)
        return self._limits[key]

    def longest(self, row: InspectionRow, key: str) -> timedelta:
        """The longest that a limit of a record can be, whichever revision of its technique it is pinned to; Missing."""
        techniques = self.work.techniques(self.session, row.technique)
        if not techniques:
            raise NotFound(f"technique {row.technique} is not adopted in this book")
        return max(self._limits_of(row, technique).minutes(key) for technique in techniques)

    def place(self, name: str) -> str:
        """Where a part is now by the last scan."""
        found = self.part(name)
        return (found.place if found else None) or "not scanned"

    def item(self, name: str) -> str:
        """Serial number or lot of a part."""
        found = self.part(name)
        return (found.serial or found.lot or found.part) if found else name

    def part_named(self, typed: str) -> PartRow:
        """A part by its key, its serial number or its lot; the latest one that was listed."""
        try:
            return self.session.part(typed)
        except NotFound:
            found = [row for row in self.session.parts_by_serial(typed) if row.serial == typed]
            found = found or [row for row in self.session.parts() if row.lot == typed]
        if not found:
            raise NotFound(f"part {typed} is not in this book: scan or type its number again")
        return found[-1]


PERIOD = (
    Parameter("from", "first day, YYYY-MM-DD", "today-30"),
    Parameter("to", "last day, YYYY-MM-DD", "today"),
)
YEARS = (
    Parameter("from", "first day, YYYY-MM-DD", "today-730"),
    Parameter("to", "last day, YYYY-MM-DD", "today"),
)
DAY = Parameter("day", "local day, YYYY-MM-DD", "today")
