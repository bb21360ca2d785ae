"""Questions the penetrant line asks of the clock: what next, by when, can I go to lunch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from math import inf

from ndi.calc import look_ahead
from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment, duration_text
from ndi.domain.vocabulary import Step
from ndi.rules.inquiry import Inquiry
from ndi.services.assemble import inquiry_for
from ndi.services.judging import ask
from ndi.services.line_basket import OFF_THE_LINE, BasketState, Where
from ndi.services.line_limits import Do, shifted
from ndi.services.line_state import basket_state, line_now, loads_on
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

RULE = "I.12"


@dataclass(frozen=True)
class NextAction:
    """The next thing a basket needs: from when, begun by when, done by when."""

    basket: str
    action: str
    first_start: Moment  # of the running window, e.g. first wet
    from_: Moment | None  # None: not known before something else is over
    deadline: Moment
    work: timedelta

    @property
    def latest_start(self) -> Moment:
        return shifted(self.deadline, -self.work)

    def sentence(self, maximum: timedelta) -> str:
        begins = f" from {self.from_.clock()}," if self.from_ else ","
        less = f" - {duration_text(self.work)} work" if self.work else ""
        return (
            f"{self.action} {self.basket}{begins} start at the latest {self.latest_start.clock()} "
            f"({self.first_start.clock()} + {duration_text(maximum)}{less})"
        )


def baskets_on(work: Workplace, session: Session, line: str | None = None) -> list[Recorded[f.BasketLoaded]]:
    """Baskets loaded lately, of one line or of all."""
    return [load for load in loads_on(work, session) if line in (None, load.fact.line)]


def is_voided(session: Session, load: Recorded[f.BasketLoaded]) -> bool:
    """Whether the attempt of a basket was given up."""
    return bool(about(session, f.AttemptVoided, load.fact.basket))


def next_action(work: Workplace, session: Session, basket: str) -> tuple[NextAction, timedelta] | None:
    """What a basket needs next on the line and the maximum that makes it urgent; None when nothing is running against it."""
    loads = _loads(session, basket)
    state = basket_state(work, session, loads[-1])
    return None if state is None else action_of(state)


def action_of(state: BasketState) -> tuple[NextAction, timedelta] | None:
    """The most pressing thing that a basket needs on the line, and its maximum; None when no limit runs (a view is no work on the line)."""
    for action in sorted(state.actions, key=lambda a: a.latest.at.timestamp() if a.latest else inf):
        if action.do is Do.VIEW or action.limit is None or action.latest is None or action.since is None:
            continue
        begun = action.since if state.stage is Where.DRYING else action.earliest
        work = action.limit.at - action.latest.at
        words = "Take out of the dryer" if action.step is Step.DRY and action.do is Do.END else action.words
        found = NextAction(state.basket, words, action.since, begun, action.limit, work)
        return found, action.limit.at - action.since.at
    return None


def _basket_inquiry(work: Workplace, session: Session, basket: str) -> Inquiry:
    return inquiry_for(work, session, _loads(session, basket)[-1].fact.inspections[0])


def _loads(session: Session, basket: str) -> list[Recorded[f.BasketLoaded]]:
    loads = about(session, f.BasketLoaded, basket)
    if not loads:
        raise NotFound(f"no basket {basket} in the book; scan it when it is loaded")
    return loads


def can_i_leave(work: Workplace) -> Answer:
    """ "Can I go to lunch?": every basket's next action in the best order, and when to be back."""
    with work.book.session(readonly=True) as session:
        return leave_answer(line_now(work, session), work.now())


def _pending(states: Sequence[BasketState]) -> list[tuple[NextAction, timedelta]]:
    """What waits for hands on the line, the most pressing first."""
    found = [pending for state in states if (pending := action_of(state)) is not None]
    return sorted(found, key=lambda item: item[0].latest_start.at)


def _margin(states: Sequence[BasketState]) -> timedelta | None:
    """The largest margin that the procedures ask for; None where none gives one."""
    pending = [state for state in states if action_of(state) is not None]
    return max((state.margin for state in pending if state.margin is not None), default=None)


def back_by(states: Sequence[BasketState]) -> Moment | None:
    """When whoever leaves must be back; None when nothing waits, or the margin is not known."""
    pending, margin = _pending(states), _margin(states)
    return shifted(pending[0][0].latest_start, -margin) if pending and margin is not None else None


def leave_answer(states: Sequence[BasketState], now: Moment) -> Answer:
    """:func:`can_i_leave` for baskets that were read already."""
    pending, unknown, margin, back = _pending(states), _not_known(states), _margin(states), back_by(states)
    if not pending and not unknown:
        return _answer(Verdict.PASS, "nothing on the line waits for you", "", "")
    sentences = ". ".join(action.sentence(maximum) for action, maximum in pending)
    if margin is None or back is None:
        says = ". ".join(filter(None, [sentences, f"Not known: {unknown}"])) + "."
        return _answer(Verdict.NOT_RECORDED, says, "", "", "record it, then ask again")
    summary = f"latest start {pending[0][0].latest_start.clock()}, back by {back.clock()}"
    says = f"{sentences}. With {duration_text(margin)} margin: back by {back.clock()}."
    late = _late(now.at, [action for action, _ in pending])
    if late:
        says += (
            " Not all can be done in time: " + ", ".join(f"{name} {minutes_text(by)} late" for name, by in late) + "."
        )
    verdict = Verdict.PASS if back.at > now.at and not late else Verdict.FAIL
    if unknown:
        says += f" Not known: {unknown}."
        verdict = Verdict.NOT_RECORDED if verdict is Verdict.PASS else verdict
    return _answer(verdict, says, summary, f"margin {duration_text(margin)}")


def _not_known(states: Sequence[BasketState]) -> str:
    """What is missing of the baskets that wait for hands on the line."""
    waiting = [s for s in states if s.stage not in OFF_THE_LINE and all(a.do is not Do.VIEW for a in s.actions)]
    return "; ".join(f"{state.basket}: {', '.join(state.missing)}" for state in waiting if state.missing)


def minutes_text(minutes: Fraction) -> str:
    return duration_text(timedelta(seconds=int(minutes * 60)))


def _late(now: datetime, actions: list[NextAction]) -> list[tuple[str, Fraction]]:
    """Who cannot be done in time by one pair of hands, whatever the order."""

    def minutes(at: datetime) -> Fraction:
        return Fraction(int((at - now).total_seconds()), 60)

    jobs = [
        look_ahead.Job(
            a.basket,
            max(minutes(a.from_.at), Fraction(0)) if a.from_ else Fraction(0),
            minutes(a.deadline.at),
            Fraction(int(a.work.total_seconds()), 60),
        )
        for a in actions
        if a.work
    ]
    jobs.sort(key=lambda job: job.deadline)
    return list(look_ahead.best_order(jobs[: look_ahead.MOST_JOBS]).late) if jobs else []


def can_still_finish(work: Workplace, basket: str) -> Answer:
    """Whether a basket's next action can still end in time if it starts now."""
    with work.book.session(readonly=True) as session:
        found = next_action(work, session, basket)
    if found is None:
        return _answer(Verdict.PASS, f"{basket}: nothing is running against it", "", "")
    action, maximum = found
    now = work.now()
    limit = f"start by {action.latest_start.clock()}"
    says = f"{action.sentence(maximum)}"
    if now.at > action.latest_start.at:
        return _answer(
            Verdict.FAIL,
            f"{basket} cannot finish any more in time. {says}",
            now.clock(),
            limit,
            "clean and start again",
            "begin at once",
        )
    return _answer(Verdict.PASS, says, now.clock(), limit)


def dwell_of(work: Workplace, basket: str) -> tuple[list[Answer], str]:
    """How long a basket was wet at the shortest and at the longest (P07), and whose attempt was given up."""
    with work.book.session(readonly=True) as session:
        q = _basket_inquiry(work, session, basket)
        loads = about(session, f.BasketLoaded, basket)
        given_up = [r.fact for r in about(session, f.AttemptVoided, basket)]
        (answer,) = ask(work, session, loads[-1].fact.inspections[0], ["P07"])
    span = q.dwell()
    shortest, longest = span.shortest(work.now()), span.longest(work.now())
    assert shortest is not None and longest is not None
    text = f"short {duration_text(shortest)}, long {duration_text(longest)}"
    if given_up:
        text += f"; attempt {given_up[0].attempt} void for {', '.join(fact.inspection for fact in given_up)}"
    return [answer], text


def _answer(verdict: Verdict, says: str, found: str, limit: str, *ways: str) -> Answer:
    return Answer(RULE, 1, verdict, found, limit, says, ways, severity=Severity.WARN)
