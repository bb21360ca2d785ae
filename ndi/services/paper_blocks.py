"""What a report for paper is made of: blocks in the order in which they are read, all texts finished.

Every report of the supervisor, the auditor and the owner is one :class:`PaperModel`;
how a block looks is decided in ``printing``.
"""

from __future__ import annotations

from dataclasses import dataclass

from ndi.services.report_models import IndicationModel, Labelled, PictureModel, Point, SheetTable, ZoneModel


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
    """An outline with its zones and marks; ``arrows``: an arrow points at each mark."""

    caption: str
    outline: tuple[Point, ...]
    zones: tuple[ZoneModel, ...]
    marks: tuple[IndicationModel, ...]


@dataclass(frozen=True)
class Pictures:
    """Photographs or charts, two beside each other, or one as ``wide`` as the page."""

    pictures: tuple[PictureModel, ...]
    wide: bool = False


@dataclass(frozen=True)
class SignLines:
    """Lines to sign on."""

    labels: tuple[str, ...]


@dataclass(frozen=True)
class NewPage:
    """What follows begins on a new page."""


Block = Heading | Text | Bullets | Pairs | NoticeBox | Drawing | Pictures | SignLines | NewPage | SheetTable


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
