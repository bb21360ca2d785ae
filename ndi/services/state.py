"""Where records and pieces stand: words for records, pieces by work order, what can be verified."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from ndi.domain import acceptance
from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.errors import NotFound
from ndi.domain.vocabulary import PART_STATE_ORDER, Disposition, ViewKind
from ndi.services.assemble import decision_in_force
from ndi.services.judging import Judgement, judge
from ndi.services.lookup import about
from ndi.services.ports import InspectionRow, PartRow, Session
from ndi.services.rejected_pieces import gone
from ndi.services.workplace import Workplace

SUSPENDED = "SUSPENDED"
SPLIT = "SPLIT"


def decision_text(session: Session, row: InspectionRow) -> str:
    """The disposition in words; a split lot with its counts, in the order of acceptance."""
    if row.disposition != SPLIT:
        return row.disposition
    signed = decision_in_force(session, row.inspection)
    assert signed is not None
    counts: Counter[str] = Counter()
    for child in signed.fact.children:
        counts[child.disposition] += child.quantity
    return "SPLIT " + " / ".join(f"{count} {word}" for word, count in sorted(counts.items()))


def category(session: Session, row: InspectionRow) -> str:
    """The one line of the day's count that a record stands in."""
    if row.disposition == Disposition.HOLD_ENG:
        return "hold-eng"
    if row.disposition == Disposition.REJECT:
        return "reject"
    if row.disposition == Disposition.REWORK:
        return "rework closed" if is_rework_closed(session, row) else "rework open"
    if row.disposition == Disposition.NO_DECISION:
        return "no decision"
    if row.suspended:
        return "suspended"
    if row.disposition == SPLIT:
        return "split"
    if row.disposition == Disposition.ACCEPT:
        return "accept after re-view" if _rests_on_re_view(session, row) else "accept"
    return row.disposition.lower()


def is_rework_closed(session: Session, row: InspectionRow) -> bool:
    """Whether a later inspection of the same part, after the rework, was accepted and stands."""
    return any(
        other.previous == row.inspection and other.disposition == Disposition.ACCEPT and not other.suspended
        for other in session.inspections(part=row.part)
    )


def _rests_on_re_view(session: Session, row: InspectionRow) -> bool:
    views = [r.fact for r in about(session, f.ViewStarted, row.inspection)]
    own = [view for view in views if view.kind != ViewKind.SECOND_LOOK]
    return bool(own) and own[-1].kind == ViewKind.RE_VIEW


# the lines of the day's count of records, in the order in which it is read out
CATEGORIES = (
    "accept",
    "accept after re-view",
    "split",
    "reject",
    "rework closed",
    "rework open",
    "suspended",
    "hold-eng",
    "no decision",
)


def record_counts(session: Session, rows: Iterable[InspectionRow]) -> dict[str, int]:
    """Records by category, with their total."""
    counts: Counter[str] = Counter(category(session, row) for row in rows)
    return {"total": sum(counts.values()), **{word: counts[word] for word in CATEGORIES}}


# --- pieces ---------------------------------------------------------------------------------------


def piece_states(work: Workplace, session: Session, part: PartRow) -> Counter[str]:
    """The pieces of one part or lot by state: the worst of its required inspections."""
    try:
        master = work.master(session, part.part_no)
    except NotFound:  # listed at receiving before anybody adopted its part master: nothing can be inspected by it yet
        return Counter({str(Disposition.NO_DECISION): part.quantity})
    rows = session.inspections(part=part.part)
    by_method = [
        _method_states(session, [row for row in rows if row.method == method], part.quantity)
        for method in sorted({r.method for r in master.required})
    ]
    if not by_method:
        return Counter({str(Disposition.NO_DECISION): part.quantity})
    states = worst_pieces(by_method)
    unaccounted = part.quantity - states.total()
    if unaccounted > 0:  # received, and in no record: nobody has decided about them
        states[Disposition.NO_DECISION] += unaccounted
    return _with_gone(states, Counter(gone(session, part.part).values()))


def _with_gone(states: Counter[str], left: Counter[str]) -> Counter[str]:
    """Pieces scrapped or returned: taken from the rejected ones, and from the others where those are fewer."""
    here = sorted(states, key=lambda word: (word != Disposition.REJECT, PART_STATE_ORDER.index(word)))
    for final, count in left.items():
        for word in here:
            taken = min(count, states[word])
            states[word] -= taken
            states[final] += taken
            count -= taken
    return +states


def _method_states(session: Session, rows: list[InspectionRow], quantity: int) -> Counter[str]:
    """Piece states by one method; a re-inspection after rework stands for the record it closes."""
    closed = {row.previous for row in rows if row.previous}
    current = [row for row in rows if row.inspection not in closed]
    if not current:
        return Counter({str(Disposition.NO_DECISION): quantity})
    return worst_pieces([_record_states(session, row) for row in current])


def _record_states(session: Session, row: InspectionRow) -> Counter[str]:
    signed = decision_in_force(session, row.inspection)
    if signed is None:
        return Counter({str(Disposition.NO_DECISION): row.quantity})
    states: Counter[str] = Counter()
    for child in signed.fact.children:
        word = SUSPENDED if row.suspended and child.disposition == Disposition.ACCEPT else child.disposition
        states[word] += child.quantity
    return states


def worst_pieces(several: list[Counter[str]]) -> Counter[str]:
    """Pieces under several inspections at once, each taken at its worst.

    Which piece of a lot has which state is not known here, so the worst of one
    inspection is paired with the worst of the other.
    """
    columns = [[word for word in PART_STATE_ORDER for _ in range(counts[word])] for counts in several]
    longest = max(len(column) for column in columns)
    rank = {word: index for index, word in enumerate(PART_STATE_ORDER)}
    total: Counter[str] = Counter()
    for index in range(longest):
        words = [column[index] for column in columns if index < len(column)]
        total[min(words, key=lambda word: rank[word])] += 1
    return total


def piece_counts(work: Workplace, session: Session, work_order: str) -> dict[str, int]:
    """Pieces of a work order by state, with the pieces received; lines with a reason code are not inspected."""
    total: Counter[str] = Counter()
    parts = [part for part in session.parts(work_order) if part.reason_code is None]
    for part in parts:
        total += piece_states(work, session, part)
    return {
        "received": sum(part.quantity for part in parts),
        **{word: total[word] for word in reversed(PART_STATE_ORDER)},
    }


def not_inspected(session: Session, work_order: str) -> dict[str, int]:
    """Pieces of a work order that get no record, by the reason code of the receiving list."""
    total: Counter[str] = Counter()
    for part in session.parts(work_order):
        if part.reason_code is not None:
            total[part.reason_code] += part.quantity
    return dict(sorted(total.items()))


# --- completeness ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Standing:
    """A record with its answers as they are now."""

    row: InspectionRow
    judgement: Judgement

    @property
    def open_lines(self) -> tuple[Answer, ...]:
        """What keeps it from being verified."""
        return acceptance.incomplete(self.judgement.answers, self.judgement.dispositions)

    @property
    def is_verifiable(self) -> bool:
        return self.row.decision is not None and not self.row.suspended and not self.open_lines


def standings(work: Workplace, session: Session) -> list[Standing]:
    """Every record of the book, judged now."""
    return [Standing(row, judge(work, session, row.inspection)) for row in session.inspections()]
