"""Typed access to one TOML table.  Each method returns a value or refuses with file, line, key and way out."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Sequence
from datetime import date, datetime

from ndi.domain.errors import ProcedureFileError
from ndi.domain.quantity import Number, dimension, unit_name
from ndi.procedure_files.lines import KeyPath
from ndi.procedure_files.source import Source, nearest

QUOTED = 'numbers are written in quotes, e.g. "{}", so that they stay as typed'


class Table:
    """One table of a file, with the path that leads to it."""

    def __init__(self, source: Source, values: dict[str, object], path: KeyPath = ()) -> None:
        self._source = source
        self._values = values
        self.path = path

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def names(self) -> tuple[str, ...]:
        """The keys that stand in the table, in order."""
        return tuple(self._values)

    def refusal(self, key: str | None, problem: str) -> ProcedureFileError:
        return self._source.refusal(self.path if key is None else (*self.path, key), problem)

    def only(self, known: Collection[str], what: str = "key") -> None:
        """Refuse the first key that is not known here."""
        for key in self._values:
            if key not in known:
                raise self.refusal(key, f"unknown {what}{nearest(key, known)}")

    def value(self, key: str) -> object:
        if key not in self._values:
            raise self.refusal(key, "is missing; add it")
        return self._values[key]

    # --- words ------------------------------------------------------------------------------------

    def text(self, key: str, *, empty: bool = False) -> str:
        value = self.value(key)
        if not isinstance(value, str):
            raise self.refusal(key, f"must be text in quotes, found {shown_type(value)}")
        if not value.strip() and not empty:
            raise self.refusal(key, "is empty; fill it in")
        self._plain((*self.path, key), value)
        return value

    def _plain(self, place: KeyPath, value: str) -> None:
        """Words are compared letter by letter later: nothing that the eye does not see may hide in them."""
        if value != value.strip():
            raise self._source.refusal(place, f"{value!r} begins or ends with a blank; take it out")
        if any(unicodedata.category(char) == "Cc" and char not in "\n\t" for char in value):
            raise self._source.refusal(place, f"{value!r} holds a control character; take it out")

    def optional_text(self, key: str) -> str | None:
        """None where the key is absent or empty."""
        if key not in self._values:
            return None
        return self.text(key, empty=True).strip() or None

    def choice(self, key: str, words: Sequence[str], what: str | None = None) -> str:
        word = self.text(key)
        if word not in words:
            raise self.refusal(key, unknown_word(word, words, what or key))
        return word

    def words(
        self, key: str, *, known: Sequence[str] | None = None, least: int = 0, what: str | None = None
    ) -> tuple[str, ...]:
        """A list of texts without repeats; an absent key is an empty list unless ``least`` asks for some."""
        if key not in self._values and not least:
            return ()
        value = self.value(key)
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.refusal(key, 'must be a list of texts, e.g. ["one", "two"]')
        if len(value) < least:
            raise self.refusal(key, f"is empty; it needs at least {least}")
        for number, item in enumerate(value):
            place: KeyPath = (*self.path, key, number)
            if not item.strip():
                raise self._source.refusal(place, "is empty; fill it in or take it out")
            self._plain(place, item)
            if item in value[:number]:
                raise self._source.refusal(place, f"{item!r} stands here twice; take one out")
            if known is not None and item not in known:
                raise self._source.refusal(place, unknown_word(item, known, what or key))
        return tuple(value)

    def yes_no(self, key: str, default: bool | None = None) -> bool:
        if default is not None and key not in self._values:
            return default
        value = self.value(key)
        if not isinstance(value, bool):
            raise self.refusal(key, f"must be true or false without quotes, found {shown_type(value)}")
        return value

    # --- dates and counts -------------------------------------------------------------------------

    def day(self, key: str) -> date:
        value = self.value(key)
        if not isinstance(value, date) or isinstance(value, datetime):
            raise self.refusal(key, f"must be a date without quotes, e.g. 2026-01-15, found {shown_type(value)}")
        return value

    def optional_day(self, key: str) -> date | None:
        return self.day(key) if key in self._values else None

    def count(self, key: str, least: int, most: int, *, default: int | None = None) -> int:
        """A whole number of things (counts are written without quotes, measures with)."""
        if default is not None and key not in self._values:
            return default
        value = self.value(key)
        if not isinstance(value, int) or isinstance(value, bool):
            raise self.refusal(key, f"must be a whole number without quotes, found {shown_type(value)}")
        if not least <= value <= most:
            raise self.refusal(key, f"is {shown_number(value)}, it must be {least} to {most}")
        return value

    # --- measures ---------------------------------------------------------------------------------

    def measure(self, key: str, like: str, *, zero: bool = False) -> Number:
        """A number with its unit in one text, e.g. ``"0.12 in"``; ``like`` is a unit of the right dimension."""
        value = self.value(key)
        if not isinstance(value, str):
            raise self.refusal(key, bare_number(value, f"0.12 {like}"))
        typed, _, unit = value.strip().partition(" ")
        if not unit:
            raise self.refusal(key, f'{value!r} has no unit; write number and unit, e.g. "0.12 {like}"')
        number = self.number(key, typed, unit.strip(), like)
        self.above_zero(key, number, zero=zero)
        return number

    def optional_measure(self, key: str, like: str, *, zero: bool = False) -> Number | None:
        """None where the key is absent or empty."""
        if self._values.get(key, "") == "":
            return None
        return self.measure(key, like, zero=zero)

    def number(self, key: str, typed: str, unit: str, like: str) -> Number:
        """A number of the dimension of ``like``."""
        try:
            unit_name(unit)
            number = Number(typed, unit)
        except ValueError as error:  # InputError, and numbers of thousands of digits
            raise self.refusal(key, str(error)) from error
        if dimension(unit) != dimension(like):
            raise self.refusal(
                key, f"unit {unit} measures {dimension(unit)}; {dimension(like)} is needed here, e.g. {like}"
            )
        return number

    def above_zero(self, key: str, number: Number, *, zero: bool = False) -> None:
        if number.value < 0 or (number.value == 0 and not zero):
            found = "negative" if number.value < 0 else "zero"
            raise self.refusal(key, f"{number} is {found}; a limit must be above zero")

    def points(self, key: str, least: int) -> tuple[tuple[Number, Number], ...]:
        """Corners of a polygon in millimetres: ``[["0", "0"], ["120", "0"], ...]``."""
        value = self.value(key)
        if not isinstance(value, list):
            raise self.refusal(key, 'must be a list of corners, e.g. [["0", "0"], ["120", "0"], ["120", "40"]]')
        if len(value) < least:
            raise self.refusal(key, f"has {len(value)} corners; a polygon needs at least {least}")
        return tuple(self._point((*self.path, key, number), item) for number, item in enumerate(value))

    def point(self, key: str) -> tuple[Number, Number]:
        """One place in millimetres: ``["120", "40"]``."""
        return self._point((*self.path, key), self.value(key))

    def _point(self, place: KeyPath, item: object) -> tuple[Number, Number]:
        if not isinstance(item, list) or len(item) != 2:
            raise self._source.refusal(place, 'must be one place, x and y in mm, e.g. ["120", "40"]')
        for coordinate in item:
            if not isinstance(coordinate, str):
                raise self._source.refusal(place, bare_number(coordinate, "120"))
        try:
            return Number(item[0], "mm"), Number(item[1], "mm")
        except ValueError as error:  # as in number()
            raise self._source.refusal(place, str(error)) from error

    # --- tables inside ----------------------------------------------------------------------------

    def table(self, key: str) -> Table:
        return self._table_at((*self.path, key), self.value(key))

    def optional_table(self, key: str) -> Table | None:
        return self.table(key) if key in self._values else None

    def tables(self, key: str) -> list[Table]:
        """A list of tables; an absent key is an empty list."""
        value = self._values.get(key, [])
        if not isinstance(value, list):
            raise self.refusal(key, f"must be a list of tables: head each with [[{key}]]")
        return [self._table_at((*self.path, key, number), item) for number, item in enumerate(value)]

    def _table_at(self, path: KeyPath, value: object) -> Table:
        if not isinstance(value, dict):
            raise self._source.refusal(path, f"must be a table {{ ... }}, found {shown_type(value)}")
        return Table(self._source, value, path)


def root(text: str, file: str) -> Table:
    """The whole file as a table."""
    source = Source(text, file)
    return Table(source, source.values)


def unknown_word(word: str, known: Sequence[str], what: str) -> str:
    """The problem text for a word that is not in a closed list."""
    return f"{word!r} is not a known {what}{nearest(word, known)}; use one of: {', '.join(known)}"


def bare_number(value: object, example: str) -> str:
    """The problem text for a number that lacks its quotes (or is no number at all)."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        shown = shown_number(value)
        return f"{shown} has no quotes: {QUOTED.format(shown)}"
    return f"found {shown_type(value)}; {QUOTED.format(example)}"


def shown_type(value: object) -> str:
    """A value's type in the words of a person who keeps the file."""
    if isinstance(value, bool):
        return "true/false"
    names = ((str, "text"), (int, "a bare number"), (float, "a bare number"), (date, "a date"), (list, "a list"))
    for kind, name in names:
        if isinstance(value, kind):
            if isinstance(value, (int, float)):
                return f"{name} ({shown_number(value)})"
            return f"{name} ({value})" if kind is date else name
    return "a table"


def shown_number(value: int | float) -> str:
    """A bare number for a message (Python refuses to write out integers of thousands of digits)."""
    if isinstance(value, int) and value.bit_length() > 200:
        return "a very long number"
    return str(value)
