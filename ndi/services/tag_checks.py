"""What the book says of a tag in somebody's hand: scanned, typed, or copied line by line."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest

from ndi.domain import facts as f
from ndi.domain.check_code import check_code, parse_qr, typed_code
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.vocabulary import Disposition
from ndi.services.assemble import decision_in_force
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.rejected_pieces import gone
from ndi.services.report_models import CHECK_CODE_LABEL, PROVISIONAL_WORD
from ndi.services.state import SUSPENDED
from ndi.services.workplace import Workplace

CURRENT, PROVISIONAL, SUSPENDED_NOW, VOID, UNKNOWN = "current", "provisional", "suspended", "void", "unknown"

_TAG_AND_CODE = re.compile(r"(?:TAG\s+|PRACTICE\s+)?(\d+)[\s/-]+(\S+)", re.IGNORECASE)
_NUMBER_LINE = re.compile(r"(?:TAG|PRACTICE) (\d+) (?:ORIGINAL|COPY \d+)")
_CODE_LINE = re.compile(rf"(?:{CHECK_CODE_LABEL}:?\s*)?([0-9A-Z]{{8}})", re.IGNORECASE)


@dataclass(frozen=True)
class TagStanding:
    """How a tag stands: one word, and what else is to be said.  ``copy`` None: no tag of this book."""

    word: str
    says: str = ""
    copy: int | None = None
    practice: bool = False

    @property
    def is_current(self) -> bool:
        return self.word == CURRENT

    @property
    def brief(self) -> str:
        """``current``, ``void: a later decision stands``, ``suspended, copy 2``."""
        text = f"{self.word}: {self.says}" if self.says and self.word in (VOID, UNKNOWN) else self.word
        return f"{text}, copy {self.copy}" if self.copy is not None and self.copy > 1 else text

    def __str__(self) -> str:
        """:attr:`brief` with everything that is to be said."""
        return f"{self.brief}; {self.says}" if self.says and self.word not in (VOID, UNKNOWN) else self.brief


def scanned_status(work: Workplace, scanned: str) -> TagStanding:
    """A tag by its square code: current, provisional, suspended, void, copy n, or unknown.

    All copies of a tag carry the same square code, so ``copy`` is the latest.
    """
    content = parse_qr(scanned)
    if content.book_id != work.book.book_id:
        return TagStanding(UNKNOWN, f"tag of another book ({content.book_id})")
    with work.book.session(readonly=True) as session:
        printed = about(session, f.TagPrinted, str(content.tag_no))
        if not printed:
            return TagStanding(UNKNOWN, "this book printed no such tag")
        signed = session.entry(printed[-1].fact.decision).fact
        if not isinstance(signed, f.DecisionSigned) or not signed.snapshot.startswith(content.hash16):
            return TagStanding(UNKNOWN, "the code does not fit the record")
        return _standing(session, printed[-1])


def typed_status(work: Workplace, tag: str, code: str) -> TagStanding:
    """A tag by its number and check code, typed from the paper; the code also tells which copy it is."""
    wanted = typed_code(code)
    with work.book.session(readonly=True) as session:
        printed = about(session, f.TagPrinted, tag)
        if not printed:
            return TagStanding(UNKNOWN, "this book printed no such tag")
        fitting = [r for r in printed if r.fact.check_code == wanted]
        if not fitting:
            return TagStanding(
                UNKNOWN, f"the check code does not fit tag {tag}: copied wrongly, or not printed by this book"
            )
        found = _standing(session, fitting[-1])
        later = printed[-1].fact.copy
        if found.is_current and later > fitting[-1].fact.copy:
            return TagStanding(found.word, f"COPY {later} was printed later", found.copy, found.practice)
        return found


def status_of(work: Workplace, typed: str) -> TagStanding:
    """A tag by whatever was scanned or typed: its square code, or its number and check code."""
    if typed.strip().startswith("ndi:"):
        return scanned_status(work, typed)
    found = _TAG_AND_CODE.fullmatch(typed.strip())
    if found is None:
        raise InputError(
            f"{typed[:60]!r} is neither the square code of a tag nor a tag number with its check code; scan again or type e.g. '12 4NVCJ7X5'"
        )
    return typed_status(work, found[1], found[2])


def _standing(session: Session, printed: Recorded[f.TagPrinted]) -> TagStanding:
    tag = printed.fact
    voided = about(session, f.TagVoided, tag.tag)
    row = session.inspection(tag.inspection)

    def stands(word: str, says: str = "") -> TagStanding:
        return TagStanding(word, says, tag.copy, tag.practice)

    if voided:
        return stands(VOID, voided[-1].fact.reason)
    if row.decision != tag.decision or decision_in_force(session, tag.inspection) is None:
        return stands(VOID, "a later decision stands" if row.decision is not None else "the decision was undone")
    left = gone(session, tag.part).get(tag.piece)
    if left is not None and tag.disposition == Disposition.REJECT:
        return stands(VOID, f"the piece is {left} since")
    if tag.disposition == SUSPENDED and not row.suspended:
        return stands(VOID, "the suspension has ended: print the tag again")
    if row.suspended:
        accepted = tag.disposition in (Disposition.ACCEPT, SUSPENDED)
        return stands(
            SUSPENDED_NOW, "" if accepted else f"{tag.disposition} stands, its claim of no other indications does not"
        )
    if row.provisional and tag.disposition == Disposition.ACCEPT:
        return stands(PROVISIONAL)
    return stands(CURRENT, "printed as provisional, cleared since" if PROVISIONAL_WORD in tag.lines else "")


def latest_print(session: Session, tag: str) -> Recorded[f.TagPrinted]:
    """The latest print of a tag; NotFound."""
    printed = about(session, f.TagPrinted, tag)
    if not printed:
        raise NotFound(f"this book printed no tag {tag}")
    return printed[-1]


def standing_of_print(session: Session, printed: Recorded[f.TagPrinted]) -> TagStanding:
    """How one print of a tag stands now."""
    return _standing(session, printed)


# --- copied by hand ---


@dataclass(frozen=True)
class CopiedTag:
    """A tag whose lines somebody copied: the code that they give, and the one that was copied with them, if any."""

    lines: tuple[str, ...]
    computed: str
    copied: str | None

    @property
    def tag(self) -> str | None:
        """Its number, where the first line says it."""
        found = _NUMBER_LINE.fullmatch(self.lines[0]) if self.lines else None
        return found[1] if found else None

    @property
    def agrees(self) -> bool:
        return self.copied in (None, self.computed)


def copied_tag(text: str) -> CopiedTag:
    """Read copied lines, top to bottom; empty lines do not count, the check code may stand anywhere among them."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    copied = None
    kept = []
    for number, line in enumerate(lines):
        found = _CODE_LINE.fullmatch(line)
        labelled = line.upper().startswith(CHECK_CODE_LABEL) or (
            number > 0 and lines[number - 1].upper() == CHECK_CODE_LABEL
        )
        if line.upper() == CHECK_CODE_LABEL:
            continue
        if found and labelled:
            copied = typed_code(found[1])
        else:
            kept.append(line)
    if not kept:
        raise InputError("the file holds no line of a tag: copy every line of it, top to bottom")
    return CopiedTag(tuple(kept), check_code(kept), copied)


def differences(work: Workplace, copied: CopiedTag) -> list[str]:
    """Where copied lines differ from what this book printed under that tag number; nothing where they agree."""
    if copied.tag is None:
        return ["the first line does not say which tag it is (e.g. 'TAG 12 ORIGINAL')"]
    with work.book.session(readonly=True) as session:
        printed = about(session, f.TagPrinted, copied.tag)
    if not printed:
        return [f"this book printed no tag {copied.tag}"]
    return min((_line_differences(r.fact.lines, copied.lines) for r in printed), key=len)


def _line_differences(printed: Sequence[str], copied: Sequence[str]) -> list[str]:
    pairs = zip_longest(printed, copied)
    return [
        f"line {n}: printed {a or 'nothing'!r}, copied {b or 'nothing'!r}"
        for n, (a, b) in enumerate(pairs, start=1)
        if a != b
    ]


def is_code_of(work: Workplace, scanned: str, tag: str) -> bool:
    """Whether a scanned square code is that of this tag of this book."""
    content = parse_qr(scanned)
    return content.book_id == work.book.book_id and str(content.tag_no) == tag
