"""How an engine was inspected, for its owner: procedures and people, conditions in their limits or not, recalls, signatures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.rules import registry
from ndi.services import paper_blocks as b
from ndi.services.assemble import decision_in_force
from ndi.services.judging import Judgement, judge
from ndi.services.lookup import about, only
from ndi.services.owner_lines import Line
from ndi.services.ports import InspectionRow, Session
from ndi.services.record_report import method_text
from ndi.services.report_models import SheetTable
from ndi.services.state import decision_text
from ndi.services.workplace import Workplace

# the first letter of a rule's id says what it asks about
_GROUPS: Mapping[str, str] = MappingProxyType(
    {
        "L": "Light: lamps, ambient light, the inspector's eyes",
        "P": "Penetrant line: times, temperatures, baths",
        "M": "Magnetising: currents, bath, demagnetisation",
        "G": "Identity, documents, people",
        "K": "Checks of the equipment",
        "D": "Indications and the decision",
    }
)


def directives(session: Session, work_order: str) -> Iterator[b.Block]:
    """Directives and bulletins that ask for one of these inspections, answered or not."""
    confirmed = about(session, f.DirectivesConfirmed, work_order)
    yield b.Heading("Directives and bulletins")
    if not confirmed:
        yield b.Text("The list of directives for this engine was not recorded.")
    elif not confirmed[-1].fact.lines:
        yield b.Text("The list was drawn up; no line asks for one of these inspections.")
    else:
        fact = confirmed[-1].fact
        yield b.Bullets(
            tuple(f"{line}: {'answered' if line in fact.answered else 'NOT answered yet'}" for line in fact.lines)
        )


def how(work: Workplace, session: Session, lines: Sequence[Line]) -> Iterator[b.Block]:
    """Procedures, processes and levels; conditions; deviations; doubt about equipment of the shop."""
    judged = [judge(work, session, row.inspection) for line in lines for row in line.rows]
    rows = [row for line in lines for row in line.rows]
    yield _procedures(session, rows, judged)
    yield _conditions(judged)
    exceptions = tuple(_exceptions(judged))
    yield b.Text("Deviations and concessions: " + ("none." if not exceptions else ""))
    if exceptions:
        yield b.Bullets(exceptions)
    recalls = tuple(_recalls(session, rows))
    if recalls:
        yield b.Text("Doubt about equipment of the shop that touched this engine:")
        yield b.Bullets(recalls)


def _procedures(session: Session, rows: Sequence[InspectionRow], judged: Sequence[Judgement]) -> SheetTable:
    used: dict[tuple[str, str, str], list[str]] = {}
    for row, judgement in zip(rows, judged, strict=True):
        opened = only(session, f.InspectionOpened, row.inspection)
        day = opened.when.local.date()
        held = [
            r.fact.level
            for r in about(session, f.CertificateEntered, row.inspector)
            if r.fact.method == row.method and r.fact.issued <= day <= r.fact.expires
        ]
        person = (
            f"{row.inspector}, {row.method} level {max(held)}" if held else f"{row.inspector}, no valid certificate"
        )
        key = f"{row.procedure} rev {row.procedure_revision}", method_text(judgement.inquiry), person
        used.setdefault(key, []).append(f"{row.technique} rev {opened.fact.technique_revision}")
    told = tuple(
        (*key, ", ".join(dict.fromkeys(techniques)), str(len(techniques))) for key, techniques in sorted(used.items())
    )
    columns = (
        ("Procedure", 0.13),
        ("Process", 0.24),
        ("Inspector", 0.17),
        ("Technique sheets", 0.37),
        ("Records", 0.09),
    )
    return SheetTable("How it was inspected", columns, told, "No inspection was begun.")


def _conditions(judged: Sequence[Judgement]) -> SheetTable:
    """Of how many records every question of a kind is settled, and which records are not."""
    rows: list[tuple[str, ...]] = []
    act: set[int] = set()
    for letter, name in _GROUPS.items():
        asked = [[a for a in j.answers if a.rule.startswith(letter)] for j in judged]
        asking = [(j, answers) for j, answers in zip(judged, asked, strict=True) if answers]
        if not asking:
            continue
        by_answer: dict[str, list[str]] = {}
        for judgement, answers in asking:
            for answer in answers:
                if not answer.settled:
                    by_answer.setdefault(_said(answer), []).append(judgement.inspection)
        unsettled = {name for names in by_answer.values() for name in names}
        if by_answer:
            act.add(len(rows))
        told = "\n".join(f"{said}: {', '.join(names)}" for said, names in by_answer.items()) or "none"
        rows.append((name, str(len(asking)), str(len(asking) - len(unsettled)), told))
    columns = (
        ("What the records were asked", 0.29),
        ("Records asked", 0.09),
        ("In limits", 0.09),
        ("Not in limits, or not answered", 0.53),
    )
    return SheetTable("Conditions in their limits", columns, tuple(rows), "No record was opened.", frozenset(act))


def _said(answer: Answer) -> str:
    return f"{registry.load_all()[answer.rule].question} {answer.verdict} ({answer.rule})"


def _exceptions(judged: Sequence[Judgement]) -> Iterator[str]:
    for judgement in judged:
        for recorded in judgement.inquiry.facts.of(f.DeviationSigned, judgement.inspection):
            fact = recorded.fact
            yield (
                f"{judgement.inspection}, {fact.rule}: deviation signed by {fact.person} ({fact.role}), "
                f"until {fact.expires}: {fact.justification}"
            )
        if judgement.inquiry.concession:
            yield f"{judgement.inspection}: engineering concession {judgement.inquiry.concession}"


def _recalls(session: Session, rows: Sequence[InspectionRow]) -> Iterator[str]:
    recalls: dict[str, set[str]] = {}
    for row in rows:
        for recorded in about(session, f.ContainmentOpened, row.inspection):
            closed = bool(about(session, f.ContainmentClosed, recorded.fact.containment))
            told = f"{recorded.fact.containment}: {recorded.fact.object} was found out of its limit"
            recalls.setdefault(f"{told}; {'closed' if closed else 'still open'}", set()).add(row.inspection)
    yield from (f"{told} ({len(records)} record(s) of this engine)" for told, records in recalls.items())


def numbers(session: Session, lines: Sequence[Line]) -> Iterator[b.Block]:
    """Record numbers, decisions, signatures and check codes of tags; and what this paper is not."""
    rows = []
    for line in lines:
        for row in line.rows:
            tags = [r.fact for r in about(session, f.TagPrinted, row.inspection) if r.fact.decision == row.decision]
            signed = decision_in_force(session, row.inspection)
            who = f"{signed.fact.person} {signed.when}" if signed else "not signed"
            codes = ", ".join(dict.fromkeys(f"{tag.tag}: {tag.check_code}" for tag in tags)) or "no tag"
            word = decision_text(session, row) + (" - SUSPENDED" if row.suspended else "")
            word += " - PROVISIONAL" if row.provisional and not row.suspended else ""
            rows.append((row.inspection, line.full_name, word, who, codes))
    columns = (("Record", 0.1), ("Part", 0.29), ("Decision", 0.22), ("Signed", 0.2), ("Tag: check code", 0.19))
    yield SheetTable("Records and tags", columns, tuple(rows), "No record was opened.")
    yield b.Text(
        "This is an inspection report. It is not the release document and takes no part of one. Photographs at full "
        "size and the evidence of each record are handed out on request; the same report for machines is attached to "
        "this file."
    )
    yield b.SignLines(("inspector, date", "for the shop, date"))
