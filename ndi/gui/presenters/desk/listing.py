"""Lists as the desk shows them: columns, rows of finished texts, what to say when there is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from ndi.services.report_models import Labelled

__all__ = ["Column", "Labelled", "Listing", "Row", "RowSource"]


@dataclass(frozen=True)
class Column:
    """``width`` in characters; a list gives what is left over to the columns that ``stretch``."""

    title: str
    width: int
    stretch: bool = False
    right: bool = False


@dataclass(frozen=True)
class Row:
    """One line; ``key`` is what the line is about, ``act`` that somebody must do something about it."""

    cells: tuple[str, ...]
    key: str = ""
    act: bool = False


class RowSource(Protocol):
    """Where a list takes its rows from; only those that are seen are asked for."""

    def count(self) -> int: ...

    def rows(self, first: int, most: int) -> Sequence[Row]:
        """The rows from ``first`` on, at most ``most``."""


@dataclass(frozen=True)
class Listing:
    """A list that is in memory; a :class:`RowSource`."""

    columns: tuple[Column, ...]
    all_rows: tuple[Row, ...] = ()
    empty: str = "None recorded."

    def count(self) -> int:
        return len(self.all_rows)

    def rows(self, first: int, most: int) -> Sequence[Row]:
        return self.all_rows[first : first + most]

    def only_act(self) -> Listing:
        """The rows that somebody must do something about."""
        return Listing(self.columns, tuple(row for row in self.all_rows if row.act), "Nothing is open here.")
