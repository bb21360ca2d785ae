"""What a report for paper is made of: blocks in the order in which they are read, all texts finished.

Every report of the supervisor, the auditor and the owner is one :class:`PaperModel`;
how a block looks is decided in ``printing``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ndi.services.chart_models import Picture
from ndi.services.report_models import (
    CodeCell,
    IndicationModel,
    Labelled,
    PictureModel,
    Point,
    RecordModel,
    SheetTable,
    ZoneModel,
)

# told while a long report is made: what is done, how many of how many
Progress = Callable[[str, int, int], None]


def unheard(_what: str, _done: int, _of: int) -> None:
    """Nobody listens."""


@dataclass(frozen=True)
class Heading:
    """A heading that stays with what follows."""

    text: str


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    text: str
    small: bool = False


@dataclass(frozen=True)
class Bullets:
    """A list of sentences."""

    texts: tuple[str, ...]


@dataclass(frozen=True)
class Pairs:
    """Labels with their values."""

    pairs: tuple[Labelled, ...]


@dataclass(frozen=True)
class NoticeBox:
    """A framed statement that must not be missed."""

    word: str
    texts: tuple[str, ...]
    inverted: bool = False


@dataclass(frozen=True)
class Drawing:
    """An outline with its zones and marks, numbered from ``first``; an arrow points at each mark."""

    caption: str
    outline: tuple[Point, ...]
    zones: tuple[ZoneModel, ...]
    marks: tuple[IndicationModel, ...]
    first: int = 1


@dataclass(frozen=True)
class Pictures:
    """Photographs or charts, two beside each other, or one as ``wide`` as the page."""

    pictures: tuple[PictureModel, ...]
    wide: bool = False


@dataclass(frozen=True)
class Finding:
    """One finding on one page: its words, what follows from it, the place on the part, the photographs.

    More photographs than a page holds beside the drawing go on to the next one.
    """

    heading: str
    pairs: tuple[Labelled, ...]
    follows: str
    drawing: Drawing
    pictures: tuple[PictureModel, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class RecordBlock:
    """A whole inspection record, with its word in the heading; begins on a new page."""

    record: RecordModel


@dataclass(frozen=True)
class WritingRows:
    """An empty table to write in by hand: columns with their share of the width, how many rows of which height in mm.

    ``on_this_page``: at most so many rows, as far as they fit; none where there is no room.
    """

    heading: str
    columns: tuple[tuple[str, float], ...]
    rows: int
    height_mm: float = 8.0
    on_this_page: bool = False


@dataclass(frozen=True)
class WritingFields:
    """Labels with lines to write on, two beside each other."""

    labels: tuple[str, ...]


@dataclass(frozen=True)
class Codes:
    """Codes to be scanned, four beside each other, each with its name in letters."""

    cells: tuple[CodeCell, ...]


@dataclass(frozen=True)
class Figure:
    """A chart, as wide as the page."""

    picture: Picture
    height_mm: float = 84.0


@dataclass(frozen=True)
class SignLines:
    """Lines to sign on."""

    labels: tuple[str, ...]


@dataclass(frozen=True)
class NewPage:
    """What follows begins on a new page."""


Block = (
    Heading
    | Text
    | Bullets
    | Pairs
    | NoticeBox
    | Drawing
    | Pictures
    | Finding
    | RecordBlock
    | WritingRows
    | WritingFields
    | Codes
    | Figure
    | SignLines
    | NewPage
    | SheetTable
)


WORK_PAPER = "Work paper: the record book says what stands now. Not a release document."


@dataclass(frozen=True)
class PaperModel:
    """A report as the book stands at ``head``; ``record`` is its machine-readable form as JSON text, attached to the file."""

    title: str
    subject: str  # second line of every page
    book_id: str
    practice: bool
    printed_at: str
    head: str
    blocks: tuple[Block, ...]
    record: str | None = None
    footer: str = "Inspection report only. Not a release document; other inspections and work may be open."
