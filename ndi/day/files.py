"""Reads the files of a day: every cell that is used is checked before anything is written to a book."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

from ndi.domain.errors import DayFileError
from ndi.tables.rows import LARGEST_FILE, Row, parse_offset, read_table, read_text

__all__ = ["LARGEST_FILE", "Folder", "Row", "parse_offset", "read_before", "read_day", "read_settings", "read_text"]

FIRST_YEAR = 1970  # entries are numbered by the milliseconds since then


@dataclass(frozen=True)
class Folder:
    """The tables of one folder, by file name without ending."""

    path: Path
    settings: Mapping[str, str] = field(default_factory=dict)
    tables: Mapping[str, tuple[Row, ...]] = field(default_factory=dict)

    def rows(self, table: str) -> Iterator[Row]:
        """The rows of a table; none if the file is not there."""
        return iter(self.tables.get(table, ()))


def read_settings(path: Path) -> dict[str, str]:
    """``day.toml``: date, offset, shop and station, each as text."""
    text = read_text(path)
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DayFileError(path.name, None, None, f"is not TOML: {error}") from None
    settings = {}
    for key, value in raw.items():
        if not isinstance(value, (str, date)):
            raise DayFileError(path.name, None, key, "must be text in quotes or a date")
        settings[key] = str(value)
    return settings


def read_day(path: Path) -> Folder:
    """A day's folder: ``day.toml`` and every ``.csv`` file in it."""
    if not path.is_dir():
        raise DayFileError(str(path), None, None, "is no folder; name the folder that holds day.toml")
    settings = read_settings(path / "day.toml")
    for key in ("date", "utc_offset", "station"):
        if key not in settings:
            raise DayFileError("day.toml", None, key, "is missing")
    try:
        day = date.fromisoformat(settings["date"])
    except ValueError:
        raise DayFileError("day.toml", None, "date", f"{settings['date']!r} is not a date YYYY-MM-DD") from None
    if day.year < FIRST_YEAR:
        raise DayFileError(
            "day.toml", None, "date", f"{day} is before {FIRST_YEAR}: no record book reaches back so far"
        )
    offset = parse_offset("day.toml", None, "utc_offset", settings["utc_offset"])
    return Folder(path, settings, _read_tables(path, day, offset))


def read_before(path: Path, day: Folder) -> Folder:
    """What lies before the day: every row has its own ``date`` and ``utc_offset``."""
    fallback = parse_offset("day.toml", None, "utc_offset", day.settings["utc_offset"])
    tables = _read_tables(path, date.fromisoformat(day.settings["date"]), fallback)
    return Folder(path, day.settings, {name: tuple(_dated(row) for row in rows) for name, rows in tables.items()})


def _dated(row: Row) -> Row:
    offset = row.opt("utc_offset")
    own = parse_offset(row.file, row.line, "utc_offset", offset) if offset else row.offset
    return Row(row.file, row.line, row.cells, row.date_of("date"), own)


def _read_tables(path: Path, day: date, offset: timedelta) -> dict[str, tuple[Row, ...]]:
    return {file.stem: tuple(read_table(file, day, offset)) for file in sorted(path.glob("*.csv"))}
