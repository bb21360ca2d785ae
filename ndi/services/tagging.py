"""Tags: printed from the signed snapshot, one for each disposition of a lot; what a tag is worth later is in ``tag_checks``."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import cast

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.vocabulary import DECIDING_LEVEL, Disposition
from ndi.rules.disposition import d16_tag_scanned_back
from ndi.services.assemble import decision_in_force, inquiry_for
from ndi.services.lookup import about, only
from ndi.services.paper_text import local_text
from ndi.services.ports import InspectionRow, Session
from ndi.services.recording import outside_answer
from ndi.services.rejected_pieces import gone
from ndi.services.report_models import PROVISIONAL_WORD, TAG_WORDS, TagModel
from ndi.services.tag_checks import scanned_status
from ndi.services.workplace import Refused, Workplace

_HEAD_LABEL = "HEAD "
NO_TAG = frozenset({Disposition.NO_DECISION, Disposition.SCRAP})
_LATER = (Disposition.RETURN_UNSERVICEABLE,)  # what a rejected share may have become when its tag was printed


@dataclass(frozen=True)
class PrintedTag:
    """A tag in the book and what is printed on it."""

    model: TagModel
    recorded: Recorded[f.Fact]


def print_tags(work: Workplace, inspection: str, person: str) -> list[PrintedTag]:
    """Make the tags of a signed record: one for each child of a lot.

    Printed by a person with a deciding certificate in the method; a suspended
    record gets a SUSPENDED tag; the same tag again is COPY n.
    """
    with work.act("print tags", person, inspection) as session:
        row = session.inspection(inspection)
        signed = decision_in_force(session, inspection)
        if signed is None:
            raise Refused((), f"{inspection} is not signed: sign a disposition first")
        _check_printer(work, session, row, person)
        shares = [_as_it_is(session, row, child) for child in signed.fact.children]
        groups = [child for child in shares if child.disposition not in NO_TAG]
        return [_print(work, session, row, signed, child, person) for child in groups]


def _as_it_is(session: Session, row: InspectionRow, child: f.Child) -> f.Child:
    """A rejected share with what became of it since: scrapped (no tag), or going back to its owner."""
    if child.disposition != Disposition.REJECT:
        return child
    left = gone(session, row.part)
    whole = left.get(None) if session.part(row.part).quantity == 1 else None
    return replace(child, disposition=left.get(child.piece) or whole or child.disposition)


def _check_printer(work: Workplace, session: Session, row: InspectionRow, person: str) -> None:
    today = work.now().local.date()
    held = [r.fact for r in about(session, f.CertificateEntered, person)]
    if not any(c.method == row.method and c.level >= DECIDING_LEVEL and c.issued <= today <= c.expires for c in held):
        raise Refused(
            (),
            f"{person} holds no level {DECIDING_LEVEL} certificate in {row.method}: an inspector of the method prints the tag",
        )


def _print(
    work: Workplace,
    session: Session,
    row: InspectionRow,
    signed: Recorded[f.DecisionSigned],
    child: f.Child,
    person: str,
) -> PrintedTag:
    earlier = _printed_before(session, row.inspection, signed, child, row.suspended)
    number = int(earlier[-1].tag) if earlier else _next_number(session)
    copy = len(earlier) + 1
    model = tag_model(work, session, row, signed, child, number=number, copy=copy)
    fact = f.TagPrinted(
        str(number),
        row.inspection,
        row.part,
        model.disposition,
        child.quantity,
        model.lines,
        model.check_code,
        copy,
        signed.position,
        work.practice,
        child.piece,
    )
    (recorded,) = session.append([Draft(fact, work.now(), person)])
    return PrintedTag(model, recorded)


def _next_number(session: Session) -> int:
    """One more than the last tag number; numbers have no gaps, so the last one is found by halving."""
    low, high = 0, 1  # low is printed (or none is), high is not
    while about(session, f.TagPrinted, str(high)):
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if about(session, f.TagPrinted, str(middle)) else (low, middle)
    return high


def _printed_before(
    session: Session, inspection: str, signed: Recorded[f.DecisionSigned], child: f.Child, suspended: bool
) -> list[f.TagPrinted]:
    word = "SUSPENDED" if suspended and child.disposition == Disposition.ACCEPT else child.disposition
    return [
        r.fact
        for r in about(session, f.TagPrinted, inspection)
        if (r.fact.decision, r.fact.piece, r.fact.disposition) == (signed.position, child.piece, word)
    ]


def tag_model(
    work: Workplace,
    session: Session,
    row: InspectionRow,
    signed: Recorded[f.DecisionSigned],
    child: f.Child,
    *,
    number: int,
    copy: int,
) -> TagModel:
    """What a tag says, from the snapshot that was signed."""
    part = session.part(row.part)
    master = work.master(session, part.part_no)
    order = only(session, f.WorkOrderOpened, row.work_order).fact
    suspended = row.suspended and child.disposition == Disposition.ACCEPT
    provisional = row.provisional and child.disposition == Disposition.ACCEPT and not suspended
    disposition = "SUSPENDED" if suspended else child.disposition
    word = PROVISIONAL_WORD if provisional else TAG_WORDS[disposition][0]
    adopted = [
        r.fact
        for r in about(session, f.DocumentAdopted, "procedure")
        if (r.fact.document, r.fact.number, r.fact.revision) == ("procedure", row.procedure, row.procedure_revision)
    ]
    return TagModel(
        book_id=work.book.book_id,
        tag_no=number,
        copy=copy,
        practice=work.practice,
        disposition=disposition,
        tag_word=word,
        waits_for=signed.fact.waits_for if provisional else None,
        part_no=part.part_no,
        description=part.description or master.description,
        serial=part.serial,
        lot=part.lot,
        piece=child.piece,
        quantity=child.quantity,
        work_order=row.work_order,
        engine=f"{order.engine_model} serial {order.engine_serial}",
        limits_basis=order.limits_basis,
        procedure=f"{row.procedure} Rev {row.procedure_revision}",
        technique=f"{row.technique} Rev {only(session, f.InspectionOpened, row.inspection).fact.technique_revision}",
        inspection=row.inspection,
        person=signed.fact.person,
        certificate=signed.fact.certificate or "certificate not recorded",
        decided_at=local_text(signed.when),
        conditions=_conditions(session, row, child) or signed.fact.concession,
        exceptions=_exceptions(signed.fact),
        record_hash=signed.fact.snapshot,
        head=str(session.head()),
        procedure_hash=adopted[-1].sha256 if adopted else None,
    )


def _conditions(session: Session, row: InspectionRow, child: f.Child) -> str | None:
    """The bounded operation that a rework tag carries."""
    if child.disposition != Disposition.REWORK:
        return None
    orders = about(session, f.ReworkOrdered, row.inspection)
    if not orders:
        return None
    order = orders[-1].fact
    return f"{order.zone}: {order.operation}"


def _exceptions(signed: f.DecisionSigned) -> tuple[str, ...]:
    """The named exceptions under which it was accepted (law 2); L11 stands in the word already."""
    return tuple(
        f"{a.rule} {a.verdict}: accepted under a signed deviation"
        for a in signed.answers
        if a.verdict not in ("PASS", "NOT APPLICABLE")
        and a.severity == "B"
        and a.rule not in ("L11", "D05")
        and Disposition.ACCEPT in [c.disposition for c in signed.children]
    )


def printed_model(work: Workplace, session: Session, recorded: Recorded[f.TagPrinted]) -> TagModel:
    """The tag as it was printed at an entry, line for line; InputError where this program would print it otherwise."""
    fact = recorded.fact
    row, signed = session.inspection(fact.inspection), session.entry(fact.decision)
    assert isinstance(signed.fact, f.DecisionSigned)
    child = next(
        c
        for c in signed.fact.children
        if c.piece == fact.piece
        and fact.disposition in (c.disposition, "SUSPENDED", *(_LATER if c.disposition == Disposition.REJECT else ()))
    )
    if fact.disposition in _LATER:
        child = replace(child, disposition=fact.disposition)
    then = replace(row, suspended=fact.disposition == "SUSPENDED", provisional=PROVISIONAL_WORD in fact.lines)
    model = tag_model(
        work, session, then, cast("Recorded[f.DecisionSigned]", signed), child, number=int(fact.tag), copy=fact.copy
    )
    heads = [line.removeprefix(_HEAD_LABEL) for line in fact.lines if line.startswith(_HEAD_LABEL)]
    model = replace(model, practice=fact.practice, head=heads[-1] if heads else model.head)
    if model.lines != fact.lines:
        raise InputError(
            f"tag {fact.tag} was printed by another version of this program or before a correction: print a copy, do not draw the old one again"
        )
    return model


def printed_again(work: Workplace, session: Session, entry: int) -> PrintedTag:
    """The tag that was printed at an entry; see :func:`printed_model`."""
    recorded = session.entry(entry)
    if not isinstance(recorded.fact, f.TagPrinted):
        raise InputError(f"entry {entry} is no printed tag")
    printed = cast("Recorded[f.TagPrinted]", recorded)
    return PrintedTag(printed_model(work, session, printed), printed)


def tag_status(work: Workplace, scanned: str) -> str:
    """What the book says of a scanned tag, in brief: current, provisional, suspended, void, copy n, or unknown."""
    return scanned_status(work, scanned).brief


def scan_back(work: Workplace, tag: str, person: str) -> Answer:
    """The tag is wired on and scanned on the part; returns how all tags of its record stand now (D16)."""
    with work.act("scan back tag", person, tag) as session:
        printed = about(session, f.TagPrinted, tag)
        if not printed:
            raise NotFound(f"tag {tag} was never printed")
        fact = printed[-1].fact
        if fact.practice:
            raise InputError("a practice tag is never wired to a part")
        session.append([Draft(f.TagScannedBack(tag, fact.inspection, person), work.now(), person)])
        return tag_answer(work, session, fact.inspection)


def tag_answer(work: Workplace, session: Session, inspection: str) -> Answer:
    """D16 asked of a record: whether each of its tags was printed from the decision in force and scanned on the part."""
    inquiry = inquiry_for(work, session, inspection)
    return outside_answer("D16", d16_tag_scanned_back(inquiry), inquiry.procedure)
