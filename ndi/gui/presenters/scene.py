"""What a booth screen consists of: few kinds of parts, each drawn by one function of the view.

A scene says what is shown, never how large or in which red; it holds no widget
and nothing of the book.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple


class Shape(StrEnum):
    """State by shape; the word stands beside it."""

    OPEN = "open"  # square: nothing recorded yet
    RUNNING = "running"  # bar
    DONE = "done"  # tick
    CROSS = "cross"
    WAIT = "wait"  # hourglass
    DASH = "dash"  # not asked here


class Point(NamedTuple):
    """Millimetres on the outline of a part, y upwards."""

    x: float
    y: float


@dataclass(frozen=True)
class Until:
    """A timer: counts down to ``at`` (or up from it when it is past); the view asks the clock, not the book."""

    at: datetime
    counts_up: bool = False


@dataclass(frozen=True)
class Tile:
    """One basket or record on the board: a big number, what it is for, how it stands."""

    title: str
    big: Until | str
    action: str
    shape: Shape
    word: str
    small: str = ""
    key: str = ""
    selected: bool = False


@dataclass(frozen=True)
class Row:
    """One line of a list; ``key`` is the key that chooses it."""

    text: str
    detail: str = ""
    shape: Shape | None = None
    key: str = ""
    selected: bool = False


@dataclass(frozen=True)
class Cell:
    """One shot of the strip."""

    title: str
    lines: tuple[str, ...]
    shape: Shape
    selected: bool = False


@dataclass(frozen=True)
class Area:
    """A zone on the outline."""

    name: str
    corners: tuple[Point, ...]
    shape: Shape
    selected: bool = False


@dataclass(frozen=True)
class Line:
    """An indication or a stroke drawn to scale; ``label`` stands at its first point."""

    points: tuple[Point, ...]
    label: str = ""
    selected: bool = False


@dataclass(frozen=True)
class Dot:
    """A numbered place on the outline, such as a point of the residual field."""

    at: Point
    label: str
    shape: Shape
    selected: bool = False


# --- parts of a scene -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Tiles:
    tiles: tuple[Tile, ...]
    empty: str = ""  # said when there are none


@dataclass(frozen=True)
class Rows:
    """``first`` is the row that must be visible; longer lists are paged by the view."""

    rows: tuple[Row, ...]
    heading: str = ""
    empty: str = ""


@dataclass(frozen=True)
class Strip:
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Outline:
    """A part seen from one side; ``marker`` is where the keypad arrows are."""

    corners: tuple[Point, ...]
    areas: tuple[Area, ...] = ()
    lines: tuple[Line, ...] = ()
    marker: Point | None = None
    caption: str = ""
    dots: tuple[Dot, ...] = ()


@dataclass(frozen=True)
class Big:
    """A number to be read from across the booth."""

    number: Until | str
    caption: str
    shape: Shape | None = None


@dataclass(frozen=True)
class Asked:
    """One value that is being typed: ``typed`` is what stands there, ``hint`` is grey beside it and never taken."""

    label: str
    typed: str
    unit: str = ""
    hint: str = ""
    secret: bool = False
    current: bool = True


@dataclass(frozen=True)
class Form:
    fields: tuple[Asked, ...]
    heading: str = ""


@dataclass(frozen=True)
class Said:
    """A paragraph: a caution, an answer with its ways out."""

    text: str
    heading: str = ""


@dataclass(frozen=True)
class Picture:
    """A photograph that is shown in red levels while a key is held."""

    path: str
    caption: str = ""


Part = Tiles | Rows | Strip | Outline | Big | Form | Said | Picture


@dataclass(frozen=True)
class Side:
    """Two columns: ``share`` of the width goes to the left one."""

    left: tuple[Part, ...]
    right: tuple[Part, ...]
    share: float = 0.5


class KeyHint(NamedTuple):
    """What a key does here; ``word`` is one or two words."""

    key: str
    word: str


@dataclass(frozen=True)
class Scene:
    """All that one screen shows.

    ``strip`` is the carry-over: person, lamps, bath, meters.  ``message`` is the
    one message line; ``refused`` tells that it is a refusal.  ``questions`` are
    at most five open questions.
    """

    name: str
    title: str
    parts: tuple[Part | Side, ...]
    keys: tuple[KeyHint, ...] = ()
    strip: tuple[str, ...] = ()
    message: str = ""
    refused: bool = False
    typed: str = ""  # what the scanner or the keypad has in hand
    practice: bool = False
    questions: tuple[str, ...] = field(default=())
