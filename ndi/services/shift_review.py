"""A shift before the supervisor verifies it: red and amber lines first, lamps, margins, late facts, what is provisional."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Verdict
from ndi.domain.entry import Obtained, Recorded
from ndi.services import covers
from ndi.services.asked.answering import ask
from ndi.services.lamps import LampDay, lamp_days, lamps
from ndi.services.lookup import every
from ndi.services.ports import Session
from ndi.services.serious import Finding, findings_in
from ndi.services.state import Standing, standings
from ndi.services.workplace import Workplace

CALENDAR_DAYS = 14


@dataclass(frozen=True)
class ReviewLine:
    """One answer of one record that is not settled: red where it blocks, amber where a reason is enough."""

    inspection: str
    state: str
    answer: Answer

    @property
    def is_red(self) -> bool:
        return self.answer.severity.blocks


@dataclass(frozen=True)
class ShiftReview:
    """What a supervisor looks at; ``verifiable`` is exactly what one signature would cover."""

    day: date
    scope: tuple[str, ...]
    lines: tuple[ReviewLine, ...]  # red first, then amber, in the order of the records
    lamps: tuple[LampDay, ...]
    calendar: dict[str, tuple[LampDay, ...]]  # each lamp on the fortnight that ends with the day
    views: int  # of the day, under whatever lamp: what proves that a lamp was not used
    margins: tuple[tuple[str, ...], ...]  # basket, attempt, what, took, limit, margin, mark: the closest first
    late: tuple[Recorded[f.Fact], ...]
    provisional: tuple[str, ...]
    unsigned: tuple[str, ...]
    suspended: tuple[str, ...]
    serious: tuple[Finding, ...]  # red ones
    verifiable: tuple[str, ...]
    verified: tuple[str, ...]  # by an earlier signature

    def lamp_says(self, lamp: LampDay) -> str:
        """What is known of a lamp on the day; that it was not used is proved by the views, not said by a person."""
        if lamp.verdict is not Verdict.NOT_APPLICABLE:
            return lamp.says
        return f"not used, as the usage log proves: none of the {self.views} views of the day was under it"

    @property
    def covers(self) -> covers.Covers:
        return covers.records(self.verifiable)

    @property
    def covers_text(self) -> str:
        """``50 records, 12 of them verified before``: a signature is never taken for one that covers only what is new."""
        before = len(set(self.verifiable) & set(self.verified))
        more = f", {before} of them verified before" if before else ""
        return f"{len(self.verifiable)} record{'' if len(self.verifiable) == 1 else 's'}{more}"

    @property
    def red(self) -> tuple[ReviewLine, ...]:
        return tuple(line for line in self.lines if line.is_red)

    @property
    def amber(self) -> tuple[ReviewLine, ...]:
        return tuple(line for line in self.lines if not line.is_red)


def shift_review(work: Workplace, day: date) -> ShiftReview:
    """Everything of one local day's records as the book stands now; changes nothing."""
    margins = tuple(row.cells for row in ask(work, "F7", {"day": day.isoformat()}).rows)
    with work.book.session(readonly=True) as session:
        scope = [s for s in standings(work, session) if _is_of_day(work, s, day)]
        now = work.now()
        calendar = {
            lamp: tuple(lamp_days(work, session, lamp, day - timedelta(days=CALENDAR_DAYS - 1), day))
            for lamp in lamps(session)
        }
        return ShiftReview(
            day,
            tuple(s.row.inspection for s in scope),
            _lines(scope),
            tuple(days[-1] for days in calendar.values()),
            calendar,
            sum(1 for r in every(session, f.ViewStarted) if r.when.local.date() == day),
            margins,
            late_facts(session, day),
            tuple(s.row.inspection for s in scope if s.row.provisional and not s.row.suspended),
            tuple(s.row.inspection for s in scope if s.row.decision is None),
            tuple(s.row.inspection for s in scope if s.row.suspended),
            tuple(each for each in findings_in(work, session) if each.is_red(now)),
            tuple(s.row.inspection for s in scope if s.is_verifiable),
            tuple(s.row.inspection for s in scope if s.row.verified),
        )


def _is_of_day(work: Workplace, standing: Standing, day: date) -> bool:
    """Whether a record was opened or decided on a local day."""
    zone = work.now().local.tzinfo
    times = (standing.row.opened_at, standing.row.decided_at)
    return any(at is not None and at.astimezone(zone).date() == day for at in times)


def _lines(scope: list[Standing]) -> tuple[ReviewLine, ...]:
    red, amber = [], []
    for standing in scope:
        row = standing.row
        word = row.disposition + (" - SUSPENDED" if row.suspended else "")
        red += [ReviewLine(row.inspection, word, answer) for answer in standing.open_lines]
        amber += [
            ReviewLine(row.inspection, word, answer)
            for answer in standing.judgement.answers
            if not answer.settled and not answer.severity.blocks
        ]
    return (*red, *amber)


def late_facts(session: Session, day: date) -> tuple[Recorded[f.Fact], ...]:
    """Facts of a day that were typed late, by the time at which they happened."""
    found: dict[int, Recorded[f.Fact]] = {}
    for kind in f.KINDS.values():
        for recorded in session.of_kind(kind):
            if recorded.how is Obtained.TYPED_LATE and recorded.when.local.date() == day:
                found[recorded.position] = recorded
    return tuple(sorted(found.values(), key=lambda r: (r.at, r.position)))


# the words of the lamp calendar
LAMP_WORDS: dict[Verdict, str] = {
    Verdict.PASS: "in limits",
    Verdict.FAIL: "out of limits",
    Verdict.NOT_RECORDED: "missing",
    Verdict.NOT_YET: "missing",
    Verdict.NOT_APPLICABLE: "not used",
}
