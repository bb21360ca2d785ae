"""What a question is: its words, its definition, its parameters, its columns, and the function that answers it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from typing import Any

from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.errors import InputError, NotFound
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.services.ports import InspectionRow, Line, PartRow, Session
from ndi.services.workplace import Workplace

LONGEST_VALUE = 200  # characters of a parameter
NOT_RECORDED = "not recorded"
_FIRST, _LAST = date(1990, 1, 1), date(9998, 12, 31)


@dataclass(frozen=True)
class Parameter:
    """``default`` None: it must be given; ``today`` and ``today-30`` are days counted from the day of asking."""

    name: str
    meaning: str
    default: str | None = None


@dataclass(frozen=True)
class AskedRow:
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
    _records: dict[str, InspectionRow] | None = field(default=None, repr=False)
    _parts: dict[str, PartRow] = field(default_factory=dict, repr=False)

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

    @property
    def records(self) -> dict[str, InspectionRow]:
        """Every record by number: one reading of the table, for questions about all of them."""
        if self._records is None:
            self._records = {row.inspection: row for row in self.session.inspections()}
        return self._records

    def record(self, name: str) -> InspectionRow | None:
        """One record; None for a number that the book does not hold as a record (paper, a refused one)."""
        if self._records is not None:
            return self._records.get(name)
        try:
            return self.session.inspection(name)
        except NotFound:
            return None

    def part(self, name: str) -> PartRow | None:
        if name not in self._parts:
            try:
                self._parts[name] = self.session.part(name)
            except NotFound:
                return None
        return self._parts[name]

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


# --- words ------------------------------------------------------------------------------------------


def when(line: Line) -> str:
    """Local day and time of an entry."""
    return str(Moment(utc_from_text(line.at), line.offset_min))


def local(line: Line) -> datetime:
    """Local wall time of an entry."""
    return Moment(utc_from_text(line.at), line.offset_min).local


def at(moment: datetime | None, offset_min: int) -> str:
    return "" if moment is None else str(Moment(moment, offset_min))


def shown(value: Any) -> str:
    """A value of a body as a person reads it."""
    if value is None:
        return NOT_RECORDED
    if value is True or value is False:
        return "yes" if value else "no"
    if isinstance(value, dict) and set(value) == {"typed", "unit"}:
        return f"{value['typed']} {value['unit']}".strip()
    if isinstance(value, dict) and "at" in value:
        return str(Moment(utc_from_text(value["at"]), value.get("offset_min", 0)))
    if isinstance(value, dict):
        return "; ".join(f"{name} {shown(each)}" for name, each in value.items())
    if isinstance(value, list):
        return ", ".join(shown(each) for each in value)
    return str(value)


def number_of(value: Any) -> Number | None:
    """A number of a body."""
    return Number(value["typed"], value["unit"]) if isinstance(value, dict) and "typed" in value else None


def state_of(row: InspectionRow | None) -> str:
    """Where a record stands."""
    if row is None:
        return "not in this book"
    overlay = " - SUSPENDED" if row.suspended else " - PROVISIONAL" if row.provisional else ""
    return row.disposition + overlay


PERIOD = (
    Parameter("from", "first day, YYYY-MM-DD", "today-30"),
    Parameter("to", "last day, YYYY-MM-DD", "today"),
)
YEARS = (
    Parameter("from", "first day, YYYY-MM-DD", "today-730"),
    Parameter("to", "last day, YYYY-MM-DD", "today"),
)
DAY = Parameter("day", "local day, YYYY-MM-DD", "today")
