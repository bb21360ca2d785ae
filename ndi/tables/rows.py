"""Tables of commas that people keep: every cell is read by name, and a wrong one is named by file, line and column."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from ndi.domain.errors import DayFileError, InputError
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number

LARGEST_FILE = 16 * 1024 * 1024
LONGEST_COUNT = 6  # digits: no shop counts a million pieces, turns or holes
_YES_NO = {"yes": True, "no": False, "": None}


@dataclass(frozen=True)
class Row:
    """One line of a table; reading a cell that is wrong names file, line and column."""

    file: str
    line: int
    cells: Mapping[str, str]
    day: date
    offset: timedelta

    def error(self, column: str | None, problem: str) -> DayFileError:
        return DayFileError(self.file, self.line, column, problem)

    def opt(self, column: str) -> str | None:
        """The text of a cell, None when it is empty or the column is not there."""
        return self.cells.get(column, "").strip() or None

    def text(self, column: str) -> str:
        """The text of a cell that must not be empty."""
        found = self.opt(column)
        if found is None:
            raise self.error(column, "is empty; this line needs it (delete the line if it did not happen)")
        return found

    def many(self, column: str) -> tuple[str, ...]:
        """The parts of a cell joined by ``+``."""
        found = self.opt(column)
        return tuple(part.strip() for part in found.split("+") if part.strip()) if found else ()

    def whole(self, column: str) -> int:
        text = self.text(column)
        if not (text.isascii() and text.isdigit()):
            raise self.error(column, f"{text!r} is not a whole number")
        if len(text) > LONGEST_COUNT:
            raise self.error(column, f"a number of {len(text)} digits is no count; look at the cell again")
        return int(text)

    def yes_no(self, column: str) -> bool | None:
        """yes, no, or None for an empty cell."""
        text = (self.opt(column) or "").lower()
        if text not in _YES_NO:
            raise self.error(column, f"{text!r} is neither yes nor no (nor empty)")
        return _YES_NO[text]

    def number(self, column: str, unit: str) -> Number:
        return self._number(column, self.text(column), unit)

    def opt_number(self, column: str, unit: str) -> Number | None:
        found = self.opt(column)
        return None if found is None else self._number(column, found, unit)

    def number_with_unit(self, column: str) -> Number:
        """A number whose unit stands in the cell with it: ``0.5 fc``."""
        typed, _, unit = self.text(column).partition(" ")
        if not unit:
            raise self.error(column, f"{typed!r} has no unit; type number and unit, e.g. 0.5 fc")
        return self._number(column, typed, unit.strip())

    def _number(self, column: str, typed: str, unit: str) -> Number:
        try:
            return Number(typed, unit)
        except InputError as error:
            raise self.error(column, str(error)) from None

    def date_of(self, column: str) -> date:
        text = self.text(column)
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise self.error(column, f"{text!r} is not a date YYYY-MM-DD") from None

    def opt_date(self, column: str) -> date | None:
        return self.date_of(column) if self.opt(column) else None

    def moment(self, column: str) -> Moment:
        """A local time ``HH:MM`` or ``HH:MM:SS`` of the row's day; ``HH:MM`` is exact."""
        return self._moment(column, self.text(column))

    def opt_moment(self, column: str) -> Moment | None:
        found = self.opt(column)
        return None if found is None else self._moment(column, found)

    def moment_of(self, column: str, text: str) -> Moment:
        """A time that is only a part of a cell."""
        return self._moment(column, text)

    def _moment(self, column: str, text: str) -> Moment:
        parts = text.split(":")
        if len(parts) not in (2, 3) or not all(len(p) == 2 and p.isascii() and p.isdigit() for p in parts):
            raise self.error(column, f"{text!r} is not a time HH:MM or HH:MM:SS")
        try:
            local = datetime.combine(self.day, time.fromisoformat(text), UTC)
        except ValueError:
            raise self.error(column, f"{text!r} is not a time of day") from None
        try:
            return Moment(local - self.offset, int(self.offset.total_seconds()) // 60)
        except OverflowError:
            raise self.error(column, f"{text!r} on {self.day} is beyond every calendar") from None


def parse_offset(file: str, line: int | None, column: str, text: str) -> timedelta:
    """``-05:00`` as a duration."""
    sign = {"-": -1, "+": 1}.get(text[:1])
    parts = text[1:].split(":")
    if (
        sign is None
        or len(parts) != 2
        or not all(p.isascii() and p.isdigit() for p in parts)
        or int(parts[0]) > 14
        or int(parts[1]) > 59
    ):
        raise DayFileError(file, line, column, f"{text!r} is not an offset from UTC such as -05:00")
    return sign * timedelta(hours=int(parts[0]), minutes=int(parts[1]))


def read_text(path: Path) -> str:
    """The text of a file; too large, not UTF-8 or unreadable is said as such."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise DayFileError(
                path.name, None, None, f"is larger than {LARGEST_FILE // (1024 * 1024)} MB; a day is smaller"
            )
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise DayFileError(path.name, line, None, "is not UTF-8; save it as UTF-8") from None
    except OSError as error:
        raise DayFileError(path.name, None, None, f"cannot be read ({error.strerror})") from None


def read_table(path: Path, day: date, offset: timedelta) -> Iterator[Row]:
    """The rows of a table of commas under its header; DayFileError names file, line and column."""
    reader = csv.reader(io.StringIO(read_text(path), newline=""), strict=True)
    header: list[str] | None = None
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if header is None:
                header = [cell.strip() for cell in cells]
                if len(set(header)) != len(header):
                    raise DayFileError(path.name, reader.line_num, None, "two columns have the same name")
                continue
            if len(cells) > len(header):
                raise DayFileError(
                    path.name,
                    reader.line_num,
                    None,
                    f"{len(cells)} cells under {len(header)} columns; quote a cell that holds a comma",
                )
            yield Row(path.name, reader.line_num, dict(zip(header, cells, strict=False)), day, offset)
    except csv.Error as error:
        raise DayFileError(path.name, reader.line_num, None, f"is not a table of commas: {error}") from None
