"""What runs out when: calibrations, certificates, vision exams, authorisations, batches, by day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ndi.domain import facts as f
from ndi.services import paper_blocks as b
from ndi.services.checks_due import checks_due
from ndi.services.lookup import about, every
from ndi.services.paper_record import record_text
from ndi.services.paper_text import local_text
from ndi.services.ports import Session
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.signing import removal
from ndi.services.workplace import Workplace

USUAL_DAYS = 366
_LEVEL = " level "


@dataclass(frozen=True)
class Due:
    """One thing that is good up to and with ``until``."""

    until: date
    kind: str
    name: str
    what: str


def due_dates(work: Workplace) -> tuple[Due, ...]:
    """Every date of persons who were not removed and of equipment in service, the earliest first.

    Of each certificate, exam or calibration only the one that lasts longest.
    """
    with work.look() as session:
        found = [
            *_calibrations(session),
            *_people(work, session),
            *_batches(session),
            *(
                Due(p.effective_to, "procedure", p.name, "this revision ends")
                for p in work.procedures(session)
                if p.effective_to is not None and p.effective_to >= work.now().local.date()
            ),
        ]
    return tuple(sorted(found, key=lambda due: (due.until, due.kind, due.name, due.what)))


def _latest(dues: Iterable[Due]) -> Iterator[Due]:
    kept: dict[tuple[str, str, str], Due] = {}
    for due in dues:
        key = due.kind, due.name, due.what.split(_LEVEL)[0]  # another level of the same method takes its place
        if key not in kept or kept[key].until < due.until:
            kept[key] = due
    yield from kept.values()


def _calibrations(session: Session) -> Iterator[Due]:
    out = {
        name: status[-1].fact.state
        for name in {r.fact.equipment for r in every(session, f.CalibrationRecorded)}
        if (status := about(session, f.EquipmentStatusSet, name)) and status[-1].fact.state != "in service"
    }
    last: dict[tuple[str, str], f.CalibrationRecorded] = {}
    for recorded in every(session, f.CalibrationRecorded):
        fact = recorded.fact
        key = fact.equipment, fact.item
        if key not in last or last[key].done <= fact.done:
            last[key] = fact
    for fact in last.values():
        if fact.equipment not in out:
            yield Due(fact.due, "calibration", fact.equipment, fact.item)


def _people(work: Workplace, session: Session) -> Iterator[Due]:
    here = {r.fact.person for r in every(session, f.PersonEntered)}
    here = {person for person in here if removal(session, person, work.now()) is None}
    yield from _latest(
        [
            *(
                Due(r.fact.expires, "certificate", r.fact.person, f"{r.fact.method}{_LEVEL}{r.fact.level}")
                for r in every(session, f.CertificateEntered)
                if r.fact.person in here
            ),
            *(
                Due(r.fact.expires, "vision exam", r.fact.person, "near vision")
                for r in every(session, f.VisionExamEntered)
                if r.fact.person in here
            ),
            *(
                Due(r.fact.valid_to, "authorisation", r.fact.person, r.fact.technique)
                for r in every(session, f.AuthorisationEntered)
                if r.fact.person in here and r.fact.valid_to is not None
            ),
        ]
    )


def _batches(session: Session) -> Iterator[Due]:
    """Batches that the lines draw on now."""
    filled = {r.fact.line: r.fact.batches for r in every(session, f.TankFilled)}
    in_use = {batch: line for line, batches in filled.items() for batch in batches}
    entered = {r.fact.batch: r.fact for r in every(session, f.BatchEntered)}
    for name, line in in_use.items():
        if name in entered:
            yield Due(entered[name].expires, "batch", name, f"{entered[name].material} in {line}")


def calendar_sheet(work: Workplace, days: int = USUAL_DAYS) -> b.PaperModel:
    """The calendar as paper: what ran out, then month by month as far as ``days`` ahead, then the checks of each object."""
    today = work.now().local.date()
    horizon = today + timedelta(days=days)
    dues = due_dates(work)
    shown = [due for due in dues if due.until <= horizon]
    over = [due for due in shown if due.until < today]
    ahead = [due for due in shown if due.until >= today]
    with work.book.session(readonly=True) as session:
        head = str(session.head())
        record = record_text(
            work, session, "calibration and certificate calendar", {"as_of": today.isoformat(), "due": _told(dues)}
        )
    return b.PaperModel(
        title="CALIBRATION AND CERTIFICATE CALENDAR",
        subject=f"from {today} to {horizon}",
        book_id=work.book.book_id,
        practice=work.practice,
        printed_at=local_text(work.now()),
        head=head,
        blocks=(
            b.Pairs(
                (
                    Labelled("Ran out", str(len(over))),
                    Labelled("Runs out in this time", str(len(ahead))),
                    Labelled("Later", str(len(dues) - len(shown))),
                    Labelled("Dates", "the day named is the last valid day"),
                )
            ),
            _table("Ran out", over, today, "Nothing."),
            *(
                _table(month, [due for due in ahead if _month(due) == month], today)
                for month in dict.fromkeys(_month(due) for due in ahead)
            ),
            _checks(work),
        ),
        record=record,
        footer=b.WORK_PAPER,
    )


def _month(due: Due) -> str:
    return f"{due.until:%B %Y}"


def _table(title: str, dues: Sequence[Due], today: date, empty: str = "Nothing.") -> SheetTable:
    rows = tuple((f"{due.until:%Y-%m-%d %a}", _days(due, today), due.kind, due.name, due.what) for due in dues)
    act = frozenset(number for number, due in enumerate(dues) if due.until < today)
    columns = (("Last valid day", 0.18), ("Days", 0.17), ("What", 0.15), ("Whose", 0.2), ("Item", 0.3))
    return SheetTable(title, columns, rows, empty, act)


def _days(due: Due, today: date) -> str:
    left = (due.until - today).days
    return f"{-left} days over" if left < 0 else "today" if left == 0 else f"{left} days left"


def _checks(work: Workplace) -> SheetTable:
    """The checks that come round by the procedures' intervals."""
    checks = [check for check in checks_due(work) if check.every]
    rows = tuple(
        (check.object, check.name, check.every, check.last or "never", check.due, str(check.verdict))
        for check in checks
    )
    act = frozenset(number for number, check in enumerate(checks) if not check.settled)
    columns = (
        ("Object", 0.16),
        ("Check", 0.25),
        ("Every", 0.19),
        ("Last done", 0.15),
        ("Holds until", 0.14),
        ("Answer", 0.11),
    )
    return SheetTable("Process checks by the procedures in force", columns, rows, "None has an interval.", act)


def _told(dues: Sequence[Due]) -> list[dict[str, str]]:
    return [{"until": due.until.isoformat(), "kind": due.kind, "name": due.name, "item": due.what} for due in dues]
