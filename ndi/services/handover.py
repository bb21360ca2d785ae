"""Handover: what is still open, line by line, and who has read each line before taking over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError
from ndi.domain.outcome import Missing
from ndi.rules.process_checks import RECORD_COPIES
from ndi.services import outage
from ndi.services.checks_due import checks_due
from ndi.services.containment import all_containments, latest_actions
from ndi.services.copies import late_backup
from ndi.services.crack_alerts import crack_alerts
from ndi.services.leaving import departures
from ndi.services.line_questions import baskets_on, is_voided, next_action
from ndi.services.line_state import line_now
from ndi.services.lone_hands import few_hands, hasty_signatures
from ndi.services.lookup import every
from ndi.services.people import open_proposals
from ndi.services.ports import Session
from ndi.services.recall_contents import done_items
from ndi.services.recording import check_known
from ndi.services.serious import findings_in
from ndi.services.state import Standing, standings
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class OpenLine:
    """One thing that is not finished.  ``read_by`` has read this very line today: other words make it another line."""

    kind: str
    about: str
    text: str
    read_by: tuple[str, ...] = ()

    @property
    def line(self) -> str:
        return f"{self.about}: {self.text}"


def open_lines(work: Workplace) -> tuple[OpenLine, ...]:
    """Everything that whoever takes over must know, as the book stands now."""
    today = work.now().local.date()
    due = checks_due(work)
    with work.book.session(readonly=True) as session:
        every_record = standings(work, session)
        found = [
            *_serious(work, session),
            *(OpenLine("left early", each.name, each.text) for each in departures(work, session) if each.reason),
            *_baskets(work, session),
            *_queues(work, session),
            *_recalls(session),
            *(OpenLine("cracks gather", part_no, text) for part_no, text in crack_alerts(work, session, today)),
            *_equipment(session),
            *_backup(work, session),
            *(
                OpenLine("process check", check.object, f"{check.name}: {check.says}")
                for check in due
                if check.every and not check.settled
            ),
            *_records(every_record),
            *(OpenLine("few hands", each.inspection, each.sentence()) for each in few_hands(every_record)),
            *(
                OpenLine("signatures", each.station, each.sentence())
                for each in hasty_signatures(session, today, work.now().offset_min)
            ),
            *_waiting(session),
            *_paper(session),
        ]
        read = [r.fact for r in every(session, f.HandoverAcknowledged) if r.fact.day == today]
    return tuple(_with_readers(line, read) for line in found)


def _with_readers(line: OpenLine, read: list[f.HandoverAcknowledged]) -> OpenLine:
    people = dict.fromkeys(fact.person for fact in read if fact.line == line.line)
    return OpenLine(line.kind, line.about, line.text, tuple(people))


def acknowledge(work: Workplace, line: str, person: str) -> Recorded[f.Fact]:
    """The person has read one open line; InputError when it is not open in these words any more, or was read already."""
    fitting = [each for each in open_lines(work) if each.line == line]
    if not fitting:
        raise InputError("this line is not open in these words any more: look again")
    if person in fitting[0].read_by:
        raise InputError(f"{person} has read this line already")
    with work.act("acknowledge handover", person, fitting[0].about) as session:
        check_known(session, person)
        fact = f.HandoverAcknowledged(person, work.now().local.date(), fitting[0].about, line)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def read_on(session: Session, day: date) -> list[Recorded[f.HandoverAcknowledged]]:
    """Who read what on a day."""
    return [r for r in every(session, f.HandoverAcknowledged) if r.fact.day == day]


# --- what is open -----------------------------------------------------------------------------------


def _serious(work: Workplace, session: Session) -> Iterator[OpenLine]:
    """Cracks without a judgement and serious findings without a report whose time is over, before everything else."""
    now = work.now()
    for finding in findings_in(work, session):
        if finding.is_red(now):
            yield OpenLine(
                "serious finding", finding.name, f"RED, first seen {finding.discovered}: {finding.state(now)}"
            )


def _baskets(work: Workplace, session: Session) -> Iterator[OpenLine]:
    for load in baskets_on(work, session):
        if is_voided(session, load):
            continue
        try:
            found = next_action(work, session, load.fact.basket)
        except Missing as missing:
            yield OpenLine("basket", load.fact.basket, str(missing))
            continue
        if found is not None:
            yield OpenLine("basket", load.fact.basket, found[0].sentence(found[1]))


def _queues(work: Workplace, session: Session) -> Iterator[OpenLine]:
    """Baskets whose developer does not last for what is to be viewed before them."""
    now = work.now()
    for state in line_now(work, session):
        if state.queue_says(now):
            yield OpenLine("viewing queue", state.basket, state.queue_says(now))


def _recalls(session: Session) -> Iterator[OpenLine]:
    for recorded in all_containments(session):
        fact = recorded.fact
        done = done_items(session, fact.containment)
        actions = latest_actions(session, fact.containment)
        left = [name for name in fact.inspections if name not in done]
        if left:
            todo = ", ".join(f"{name} {actions[name].action}" if name in actions else name for name in left)
            yield OpenLine(
                "recall set", fact.containment, f"{fact.object}, {len(left)} of {len(fact.inspections)} to do: {todo}"
            )


def _equipment(session: Session) -> Iterator[OpenLine]:
    latest = {r.fact.equipment: r.fact for r in every(session, f.EquipmentStatusSet)}
    for status in latest.values():
        if status.state != "in service":
            yield OpenLine("equipment", status.equipment, f"{status.state}: {status.reason}")


def _backup(work: Workplace, session: Session) -> Iterator[OpenLine]:
    """A book whose copy is older than a day is lost with its disk; a book for practice may be."""
    late = "" if work.practice else late_backup(work, session)
    if late:
        yield OpenLine("backup", RECORD_COPIES, late)


def _records(found: list[Standing]) -> Iterator[OpenLine]:
    for standing in found:
        row = standing.row
        if standing.is_verifiable:
            if row.provisional:
                yield OpenLine("record", row.inspection, f"{row.disposition} - PROVISIONAL, waits for a reading")
            continue
        word = row.disposition + (" - SUSPENDED" if row.suspended else "")
        lines = ", ".join(f"{a.rule} {a.verdict}" for a in standing.open_lines)
        yield OpenLine("record", row.inspection, f"{word}; {lines or 'not signed'}")


def _paper(session: Session) -> Iterator[OpenLine]:
    """Sheets written in an outage that are not in the book, or that no second person compared with it."""
    for sheet in outage.sheets(session):
        if sheet.state is not outage.State.COMPARED:
            text = f"{sheet.state}{f': {sheet.says}' if sheet.says else ''} ({sheet.outage})"
            yield OpenLine("outage form", sheet.form, text)


def _waiting(session: Session) -> Iterator[OpenLine]:
    for proposal in open_proposals(session):
        yield OpenLine(
            "qualification",
            proposal.proposal,
            f"{proposal.kind} of {proposal.person}, entered by {proposal.entered_by}, waits for a second person",
        )
