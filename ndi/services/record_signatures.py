"""Who signed what on a record, and what later facts did to it, as lines of paper."""

from __future__ import annotations

from collections.abc import Iterator

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from ndi.rules.inquiry import Inquiry
from ndi.services.lookup import about
from ndi.services.paper_text import doer, local_text, on_paper, value_text
from ndi.services.ports import InspectionRow, Session
from ndi.services.report_models import SignatureLine


def cause_text(session: Session, position: int) -> str:
    """What the entry at a position says, in few words."""
    recorded = session.entry(position)
    fact = recorded.fact
    if isinstance(fact, f.ReadingRecorded):
        condition = f" {fact.condition}" if fact.condition else ""
        return f"{fact.object} read {value_text(fact.value)}{condition} at {recorded.when.clock()}"
    return _cause(fact) or f"{type(fact).__name__} at {recorded.when.clock()} by {doer(recorded)}"


def _cause(fact: f.Fact) -> str:
    """Checks, calibrations and what people and batches hold, in words; empty for any other entry."""
    match fact:
        case f.ProcessCheckRecorded():
            return f"{fact.check} of {fact.object}"
        case f.CalibrationRecorded():
            return f"calibration of {fact.item} of {fact.equipment} on {fact.done}"
        case f.CertificateEntered():
            return f"certificate {fact.method} level {fact.level} of {fact.person}, {fact.issued} to {fact.expires}"
        case f.VisionExamEntered():
            return f"vision examination of {fact.person}, {fact.examined} to {fact.expires}"
        case f.AuthorisationEntered():
            return f"authorisation of {fact.person} for {fact.technique}"
        case f.BatchEntered():
            return f"batch {fact.batch} of {fact.material}"
    return ""


def signature_lines(session: Session, row: InspectionRow, q: Inquiry) -> tuple[SignatureLine, ...]:
    """Everything signed on a record, and what later facts did to it, by time."""
    lines = [*_decisions(session, row), *_other_signatures(session, row, q), *_consequences(session, row)]
    lines.sort(key=lambda pair: (pair[0].at, pair[1]))
    return tuple(line for _, _, line in lines)


_Dated = tuple[Moment, int, SignatureLine]


def _line(recorded: Recorded[f.Fact], person: str, certificate: str | None, meaning: str, covers: str) -> _Dated:
    line = SignatureLine(local_text(recorded.when), person, certificate or "", meaning, on_paper(covers))
    return recorded.when, recorded.position, line


def _decisions(session: Session, row: InspectionRow) -> Iterator[_Dated]:
    for recorded in about(session, f.DecisionSigned, row.inspection):
        fact = recorded.fact
        children = " / ".join(
            f"{c.quantity} {c.disposition}{f' ({c.piece})' if c.piece else ''}" for c in fact.children
        )
        word = children if len(fact.children) > 1 else fact.disposition
        covers = f"{word}{', provisional' if fact.provisional else ''}; {len(fact.answers)} answers, snapshot {fact.snapshot[:16]}; entry {recorded.position}"
        yield _line(recorded, fact.person, fact.certificate, fact.meaning or "performed", covers)


def _other_signatures(session: Session, row: InspectionRow, q: Inquiry) -> Iterator[_Dated]:
    name = row.inspection
    for look in about(session, f.SecondLookSaved, name):
        held = q.certificate(look.fact.person, look.when.local.date())
        certificate = f"{held.fact.method} level {held.fact.level}" if held else None
        covers = f"{look.fact.second_look}: {look.fact.indication or 'whole inspection'}{', own result saved first' if look.fact.blind else ''}"
        yield _line(look, look.fact.person, certificate, "second look", covers)
    for second in about(session, f.SecondSignature, name):
        yield _line(
            second,
            second.fact.person,
            second.fact.certificate,
            second.fact.meaning or "approved",
            second.fact.disposition,
        )
    for deviation in about(session, f.DeviationSigned, name):
        yield _line(
            deviation,
            deviation.fact.person,
            deviation.fact.role,
            "deviation",
            f"{deviation.fact.rule}: {deviation.fact.justification}",
        )
    for given in about(session, f.ConcessionGiven, name):
        yield _line(
            given,
            given.fact.person,
            None,
            "concession",
            f"{given.fact.reference} rev {given.fact.revision}: {given.fact.conditions}",
        )
    for order in about(session, f.ReworkOrdered, name):
        yield _line(
            order,
            order.fact.ordered_by,
            None,
            "rework ordered",
            f"{order.fact.indication} {order.fact.zone}: {order.fact.operation}",
        )
    for done in about(session, f.ReworkDone, name):
        measured = "; ".join(f"{d.name} {value_text(d.value)}" for d in done.fact.dimensions)
        depth = f"depth {value_text(done.fact.depth)}" if done.fact.depth else "depth not recorded"
        yield _line(
            done,
            done.fact.person,
            None,
            "rework done",
            f"{done.fact.zone}: {depth}{f'; {measured}' if measured else ''}",
        )
    for verified in about(session, f.VerificationSigned, name):
        if name in verified.fact.inspections:
            yield _line(
                verified, verified.fact.person, None, "verified", f"the record as it stood at entry {verified.position}"
            )


def _consequences(session: Session, row: InspectionRow) -> Iterator[_Dated]:
    """What later facts did to a signature, and its tags."""
    for suspended in about(session, f.AcceptanceSuspended, row.inspection):
        yield _line(
            suspended,
            doer(suspended),
            None,
            "suspended",
            f"by entry {suspended.fact.cause}: {cause_text(session, suspended.fact.cause)}",
        )
    for restored in about(session, f.AcceptanceRestored, row.inspection):
        yield _line(restored, doer(restored), None, "stands again", f"by entry {restored.fact.cause}")
    for cleared in about(session, f.ProvisionalCleared, row.inspection):
        yield _line(
            cleared,
            doer(cleared),
            None,
            "no longer provisional",
            f"by entry {cleared.fact.cause}: {cause_text(session, cleared.fact.cause)}",
        )
    for undone in about(session, f.DecisionUndone, row.inspection):
        yield _line(undone, doer(undone), None, "undone", f"by the correction in entry {undone.fact.cause}")
    for tag in about(session, f.TagPrinted, row.inspection):
        share = f"{tag.fact.disposition} {tag.fact.quantity}{f' ({tag.fact.piece})' if tag.fact.piece else ''}"
        copy = "original" if tag.fact.copy == 1 else f"copy {tag.fact.copy}"
        yield _line(
            tag,
            doer(tag),
            None,
            "tag printed",
            f"tag {tag.fact.tag}, {copy}: {share}; check code {tag.fact.check_code}",
        )
    for void in about(session, f.TagVoided, row.inspection):
        yield _line(void, doer(void), None, "tag void", f"tag {void.fact.tag}: {void.fact.reason}")
