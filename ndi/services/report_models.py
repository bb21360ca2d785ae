"""What the printing room gets: finished texts and figures, no rows, no facts.

Every value is already the text that paper shows, with its unit; only what is
drawn (outline, marks) comes as numbers, in millimetres, because a picture is
not a judgement.  How it looks is decided in ``printing``; which lines a tag
carries, and in which order, is decided here, since the check code is taken
over them.
"""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from ndi.domain.check_code import check_code, qr_text
from ndi.domain.errors import InputError

Point = tuple[float, float]  # millimetres, x to the right, y upwards, as in the part master

# the words a tag may carry in large letters, by disposition
TAG_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "ACCEPT": ("ACCEPT", "ACCEPT - PROVISIONAL"),
        "REWORK": ("REWORK",),
        "REJECT": ("REJECT",),
        "HOLD-ENG": ("HOLD ENGINEERING",),
        "RETURN UNSERVICEABLE": ("UNSERVICEABLE",),
        "SUSPENDED": ("SUSPENDED",),
    }
)
PROVISIONAL_WORD = "ACCEPT - PROVISIONAL"
PRACTICE_TAG = "PRACTICE - NOT A TAG"
CHECK_CODE_LABEL = "CHECK CODE"
SMALL_PRINT = (
    "Inspection result only. Not a release to service; other inspections and work may be open.",
    f"{CHECK_CODE_LABEL}: taken over every other line of this tag, top to bottom.",
    "It guards against copying errors, not against forgery: compare with the record book.",
)

# characters to a line, by how large the value is printed; a longer value is continued on the next line
_LARGE_WRAP, _MEDIUM_WRAP, _TEXT_WRAP, _HALF_WRAP, _HASH_WRAP = 40, 36, 50, 22, 32


class TagRole(StrEnum):
    """How much weight a line of a tag has."""

    HEADER = "header"
    PRACTICE = "practice"
    WORD = "word"
    WAITS = "waits"
    LARGE = "large"
    MEDIUM = "medium"
    TEXT = "text"
    CODE = "code"  # beside the QR code
    SMALL = "small"


@dataclass(frozen=True)
class TagCell:
    """A label and its value; a continued value has no label."""

    label: str
    value: str

    @property
    def text(self) -> str:
        return f"{self.label} {self.value}" if self.label else self.value


@dataclass(frozen=True)
class TagRow:
    """One printed line of a tag: one cell, or two that share a baseline."""

    role: TagRole
    cells: tuple[TagCell, ...]

    @property
    def text(self) -> str:
        return " ".join(cell.text for cell in self.cells)


def _clean(value: str) -> str:
    return " ".join(unicodedata.normalize("NFC", value).split())


def _block(role: TagRole, label: str, value: str | None, wrap: int) -> tuple[TagRow, ...]:
    """A labelled value on as many lines as its length asks for; nothing for an absent value."""
    lines = textwrap.wrap(_clean(value or ""), wrap, break_on_hyphens=False)
    return tuple(TagRow(role, (TagCell("" if number else label, line),)) for number, line in enumerate(lines))


def _pair(first: tuple[str, str], second: tuple[str, str]) -> tuple[TagRow, ...]:
    """Two values beside each other where both are short, below each other where not."""
    cells = [TagCell(label, _clean(value)) for label, value in (first, second)]
    if all(cell.value and len(cell.value) <= _HALF_WRAP for cell in cells):
        return (TagRow(TagRole.TEXT, tuple(cells)),)
    return tuple(row for cell in cells for row in _block(TagRole.TEXT, cell.label, cell.value, _TEXT_WRAP))


@dataclass(frozen=True)
class TagModel:
    """One tag for one part, lot or piece, from a signed snapshot.

    ``disposition`` is a key of :data:`TAG_WORDS`; ``waits_for`` names the
    reading that a provisional acceptance waits for; ``decided_at`` is local
    time with its offset; ``record_hash`` 64 hex digits; ``head`` position and
    16 characters.  InputError where word and disposition contradict each other.
    """

    book_id: str
    tag_no: int
    copy: int
    practice: bool
    disposition: str
    tag_word: str
    waits_for: str | None
    part_no: str
    description: str
    serial: str | None
    lot: str | None
    piece: str | None
    quantity: int
    work_order: str
    engine: str
    limits_basis: str
    procedure: str
    technique: str
    inspection: str
    person: str
    certificate: str
    decided_at: str
    conditions: str | None
    exceptions: tuple[str, ...]
    record_hash: str
    head: str
    procedure_hash: str | None = None

    def __post_init__(self) -> None:
        words = TAG_WORDS.get(self.disposition)
        if words is None:
            raise InputError(f"no tag is printed for {self.disposition}; tags are for {', '.join(TAG_WORDS)}")
        if self.tag_word not in words:
            raise InputError(f"a tag of {self.disposition} cannot say {self.tag_word!r}; it says {' or '.join(words)}")
        if (self.tag_word == PROVISIONAL_WORD) != (self.waits_for is not None):
            raise InputError(f"{PROVISIONAL_WORD} goes with the reading that it waits for, and no other word does")
        if self.copy < 1 or self.quantity < 1:
            raise InputError(f"tag {self.tag_no}: copy {self.copy} and quantity {self.quantity} must be 1 or more")

    @property
    def qr(self) -> str:
        """What the QR code says."""
        return qr_text(self.book_id, self.tag_no, self.record_hash)

    @property
    def rows(self) -> tuple[TagRow, ...]:
        """Every printed line but the check code's own, top to bottom."""
        practice = (TagRow(TagRole.PRACTICE, (TagCell("", PRACTICE_TAG),)),) if self.practice else ()
        return (*self._head_rows(), *practice, *self._word_rows(), *self._body_rows(), *self._code_rows(), *practice)

    @property
    def lines(self) -> tuple[str, ...]:
        """The printed lines in printed order, from which the check code is taken."""
        return tuple(row.text for row in self.rows)

    @property
    def check_code(self) -> str:
        """Eight characters over :attr:`lines`."""
        return check_code(self.lines)

    def _head_rows(self) -> tuple[TagRow, ...]:
        number = TagCell("PRACTICE" if self.practice else "TAG", str(self.tag_no))
        copy = TagCell("", "ORIGINAL" if self.copy == 1 else f"COPY {self.copy}")
        return (TagRow(TagRole.HEADER, (number, copy)),)

    def _word_rows(self) -> tuple[TagRow, ...]:
        word = TagRow(TagRole.WORD, (TagCell("", self.tag_word),))
        return (word, *_block(TagRole.WAITS, "WAITS FOR", self.waits_for, _MEDIUM_WRAP))

    def _body_rows(self) -> tuple[TagRow, ...]:
        return (
            *_block(TagRole.LARGE, "PART NO", self.part_no, _LARGE_WRAP),
            *_block(TagRole.LARGE, "SERIAL", self.serial, _LARGE_WRAP),
            *_block(TagRole.LARGE, "LOT", self.lot, _LARGE_WRAP),
            *_block(TagRole.LARGE, "PIECE", self.piece, _LARGE_WRAP),
            *_block(TagRole.LARGE, "QUANTITY", str(self.quantity), _LARGE_WRAP),
            *_block(TagRole.MEDIUM, "DESCRIPTION", self.description, _MEDIUM_WRAP),
            *_block(TagRole.TEXT, "CONDITIONS", self.conditions, _TEXT_WRAP),
            *(row for text in self.exceptions for row in _block(TagRole.TEXT, "EXCEPTION", text, _TEXT_WRAP)),
            *_block(TagRole.TEXT, "ENGINE", self.engine, _TEXT_WRAP),
            *_pair(("WORK ORDER", self.work_order), ("LIMITS", self.limits_basis)),
            *_pair(("INSPECTION", self.inspection), ("TECHNIQUE", self.technique)),
            *_pair(("PROCEDURE", self.procedure), ("DOC. HASH", (self.procedure_hash or "")[:16])),
            *_pair(("DECIDED BY", f"{self.person}, {self.certificate}"), ("DECIDED AT", self.decided_at)),
        )

    def _code_rows(self) -> tuple[TagRow, ...]:
        return (
            *_block(TagRole.CODE, "BOOK", self.book_id, _HASH_WRAP),
            *_block(TagRole.CODE, "HEAD", self.head, _HASH_WRAP),
            *_block(TagRole.CODE, "RECORD", self.record_hash, _HASH_WRAP),
            *(TagRow(TagRole.SMALL, (TagCell("", line),)) for line in SMALL_PRINT),
        )


# --- the inspection record ------------------------------------------------------------------------


@dataclass(frozen=True)
class Labelled:
    """A name and its value."""

    label: str
    value: str


@dataclass(frozen=True)
class StepRow:
    """A step of one attempt: times as the span that they are."""

    attempt: str
    on: str  # basket or inspection
    step: str
    started: str
    ended: str
    duration: str  # shortest and longest
    by: str
    observed: str = ""


@dataclass(frozen=True)
class ShotRow:
    shot: str
    kind: str
    bench: str
    current: str
    nominal: str
    pulses: str
    fired_at: str
    by: str


@dataclass(frozen=True)
class ViewRow:
    """A view or re-view; ``said`` is what the inspector stated: none seen, indications, background."""

    view: str
    kind: str
    attempt: str
    person: str
    lamps: str
    started: str
    ended: str
    zones: str
    said: str


@dataclass(frozen=True)
class ReadingRow:
    at: str
    object: str
    quantity: str
    value: str
    condition: str
    meter: str
    by: str


@dataclass(frozen=True)
class SecondLookRow:
    look: str
    about: str  # indication, or the whole inspection
    person: str
    certificate: str
    blind: str
    found: str
    compared: str  # agrees, size differs, disagrees; and how it was resolved


@dataclass(frozen=True)
class IndicationModel:
    """One indication.  Without ``x_mm`` and ``y_mm`` it is listed, not drawn.

    ``angle_deg`` turns the drawn length counter-clockwise from the x axis;
    ``length_mm`` None draws a ring only.
    """

    name: str
    zone: str
    position: str
    form: str
    size: str
    interpretation: str
    basis: str
    evaluation: str
    limit: str
    disposition: str = ""
    note: str = ""
    x_mm: float | None = None
    y_mm: float | None = None
    length_mm: float | None = None
    angle_deg: float = 0.0


@dataclass(frozen=True)
class ZoneModel:
    code: str
    polygon: tuple[Point, ...]


@dataclass(frozen=True)
class AnswerLine:
    """One rule and its answer; ``text`` is the question or what it says, ``person`` who gave a reason."""

    rule: str
    verdict: str
    severity: str
    text: str
    found: str
    limit: str
    paragraph: str
    person: str | None = None


@dataclass(frozen=True)
class ReasonLine:
    rule: str
    text: str
    person: str


@dataclass(frozen=True)
class SignatureLine:
    """A decision or signature: ``meaning`` is performed, second look, verified, approved ..."""

    at: str
    person: str
    certificate: str
    meaning: str
    covers: str


@dataclass(frozen=True)
class PictureModel:
    """A thumbnail as the bytes of a PNG or JPEG file; the original stays in the archive."""

    content: bytes
    caption: str


@dataclass(frozen=True)
class RecordModel:
    """An inspection record as it stands at ``head``.

    ``word`` is the disposition's word with PROVISIONAL or SUSPENDED where it
    applies, ``standing`` the lines that explain it; ``attempts`` the chain of
    attempts in words; ``rules_asked`` e.g. "102 of PT-P-01 Rev D".
    """

    record_no: str
    book_id: str
    practice: bool
    part_no: str
    item: str  # serial, lot or piece with quantity, as one text
    work_order: str
    word: str
    suspended: bool
    provisional: bool
    standing: tuple[str, ...]
    identity: tuple[Labelled, ...]
    revisions: tuple[Labelled, ...]
    attempts: tuple[str, ...]
    rules_asked: str
    record_hash: str
    head: str
    steps: tuple[StepRow, ...] = ()
    shots: tuple[ShotRow, ...] = ()
    views: tuple[ViewRow, ...] = ()
    readings: tuple[ReadingRow, ...] = ()
    second_looks: tuple[SecondLookRow, ...] = ()
    indications: tuple[IndicationModel, ...] = ()
    outline: tuple[Point, ...] = ()
    zones: tuple[ZoneModel, ...] = ()
    answers: tuple[AnswerLine, ...] = ()
    reasons: tuple[ReasonLine, ...] = ()
    exceptions: tuple[str, ...] = ()
    signatures: tuple[SignatureLine, ...] = ()
    pictures: tuple[PictureModel, ...] = ()
    containments: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()  # answers that are other now than in the signed snapshot


# --- the shift sheet --------------------------------------------------------------------------------


@dataclass(frozen=True)
class SheetTable:
    """A table of a shift sheet: heading, columns with their share of the width, rows, what to say without rows."""

    heading: str
    columns: tuple[tuple[str, float], ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = "None recorded."
    emphasised: frozenset[int] = frozenset()  # rows that somebody must act on


@dataclass(frozen=True)
class ShiftModel:
    """One day of a shop as it stands at ``head``, for whoever takes over."""

    day: str
    shop: str
    book_id: str
    practice: bool
    printed_at: str
    head: str
    figures: tuple[Labelled, ...]
    tables: tuple[SheetTable, ...]


# --- sheets of codes, and the lines that go with parts ----------------------------------------------


@dataclass(frozen=True)
class CodeCell:
    """One code of a sheet: what the scanner reads, what a person reads, what it is for."""

    code: str
    name: str
    note: str = ""


@dataclass(frozen=True)
class CodeSheetModel:
    """Codes of one kind, to be cut out or hung up."""

    title: str
    cells: tuple[CodeCell, ...]
    book_id: str
    date: str
    practice: bool


@dataclass(frozen=True)
class ScaleCardModel:
    """What one sheet of scale cards says: ``code`` is None for cards that name no part."""

    code: str | None
    lines: tuple[str, ...]


@dataclass(frozen=True)
class ScaleCardSheetModel:
    """Scale cards, a sheet with every size for each part or work order."""

    cards: tuple[ScaleCardModel, ...]
    book_id: str
    date: str
    practice: bool


@dataclass(frozen=True)
class TravellerNeed:
    """A required method of a part with its zones, and where that stands."""

    method: str
    technique: str
    zones: str
    state: str


@dataclass(frozen=True)
class TravellerModel:
    """One line of paper that goes with a part."""

    part_no: str
    description: str
    item: str  # serial, or lot with quantity
    work_order: str
    engine: str
    item_class: str
    needs: tuple[TravellerNeed, ...]
    state: str
    code: str


@dataclass(frozen=True)
class TravellerSheetModel:
    """Lines to be cut apart, with the time and the head of the book at which they were true."""

    lines: tuple[TravellerModel, ...]
    book_id: str
    date: str
    head: str
    practice: bool
