"""Questions the penetrant line asks of the clock: what next, by when, can I go to lunch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from ndi.calc import look_ahead
from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment, duration_text
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import Step
from ndi.rules.basket import shared_maximum, shared_minimum
from ndi.rules.inquiry import Inquiry, as_timedelta
from ndi.services.assemble import inquiry_for
from ndi.services.judging import ask
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

RULE = "I.12"
_BACK = timedelta(days=2)  # a basket older than this is no longer on the line


@dataclass(frozen=True)
class NextAction:
    """The next thing a basket needs: from when, begun by when, done by when."""

    basket: str
    action: str
    first_start: Moment  # of the running window, e.g. first wet
    from_: Moment
    deadline: Moment
    work: timedelta

    @property
    def latest_start(self) -> Moment:
        return shifted(self.deadline, -self.work)

    def sentence(self, maximum: timedelta) -> str:
        return (
            f"{self.action} {self.basket} from {self.from_.clock()}, start at the latest {self.latest_start.clock()} "
            f"({self.first_start.clock()} + {duration_text(maximum)} - {duration_text(self.work)} work)"
        )


def shifted(moment: Moment, by: timedelta) -> Moment:
    """The moment ``by`` later, on the same local clock."""
    return Moment(moment.at + by, moment.offset_min)


def baskets_on(work: Workplace, session: Session, line: str | None = None) -> list[Recorded[f.BasketLoaded]]:
    """Baskets loaded lately, of one line or of all."""
    since = work.now().at - _BACK
    return [r for r in every(session, f.BasketLoaded) if r.at >= since and (line is None or r.fact.line == line)]


def next_action(work: Workplace, session: Session, basket: str) -> tuple[NextAction, timedelta] | None:
    """What a basket needs next and the maximum that makes it urgent; None when nothing is running against it."""
    q = _basket_inquiry(work, session, basket)
    wet, wash, dry = q.step(Step.WET, basket), q.step(Step.WASH, basket), q.step(Step.DRY, basket)
    removal = q.step(Step.PREWASH, basket) if q.technique.pt_method == "D" else wash
    if wet.started is None:
        return None
    if removal.started is None:
        maximum = as_timedelta(shared_maximum(q, "dwell_max"))
        last_wet = wet.ended.when if wet.ended else work.now()
        ready = shifted(last_wet, as_timedelta(shared_minimum(q, "dwell_base")))
        deadline = shifted(wet.started.when, maximum)
        return NextAction(basket, "Wash", wet.started.when, ready, deadline, wash_work(q, wet.started)), maximum
    if dry.started is not None and dry.ended is None:
        maximum = q.minutes("dryer_time_max")
        deadline = shifted(dry.started.when, maximum)
        return NextAction(
            basket, "Take out of the dryer", dry.started.when, dry.started.when, deadline, timedelta(0)
        ), maximum
    return None


def wash_work(q: Inquiry, wet: Recorded[f.StepStarted]) -> timedelta:
    """Time to plan for washing a basket: the longest wash that its pieces may take."""
    if wet.fact.pieces is None:
        raise Missing(f"pieces in {wet.fact.on} not counted", ["count them"])
    return q.minutes("wash_per_part_max") * wet.fact.pieces


def _basket_inquiry(work: Workplace, session: Session, basket: str) -> Inquiry:
    loads = about(session, f.BasketLoaded, basket)
    if not loads:
        raise NotFound(f"no basket {basket} in the book; scan it when it is loaded")
    return inquiry_for(work, session, loads[-1].fact.inspections[0])


def is_voided(session: Session, load: Recorded[f.BasketLoaded]) -> bool:
    """Whether the attempt of a basket was given up."""
    return any(isinstance(r.fact, f.AttemptVoided) for r in about(session, f.AttemptVoided, load.fact.basket))


def can_i_leave(work: Workplace) -> Answer:
    """ "Can I go to lunch?": every basket's next action in the best order, and when to be back."""
    with work.book.session(readonly=True) as session:
        pending = []
        for load in baskets_on(work, session):
            if not is_voided(session, load):
                found = next_action(work, session, load.fact.basket)
                if found is not None:
                    pending.append((*found, _basket_inquiry(work, session, load.fact.basket)))
    if not pending:
        return _answer(Verdict.PASS, "nothing on the line waits for you", "", "")
    margin = pending[0][2].minutes("lunch_margin")
    late = _late(work.now().at, [action for action, _, _ in pending])
    pending.sort(key=lambda item: item[0].latest_start.at)
    sentences = ". ".join(action.sentence(maximum) for action, maximum, _ in pending)
    first = pending[0][0].latest_start
    back = shifted(first, -margin)
    summary = f"latest start {first.clock()}, back by {back.clock()}"
    says = f"{sentences}. With {duration_text(margin)} margin: back by {back.clock()}."
    if late:
        says += (
            " Not all can be done in time: " + ", ".join(f"{name} {minutes_text(by)} late" for name, by in late) + "."
        )
    verdict = Verdict.PASS if back.at > work.now().at and not late else Verdict.FAIL
    return _answer(verdict, says, summary, f"margin {duration_text(margin)}")


def minutes_text(minutes: Fraction) -> str:
    return duration_text(timedelta(seconds=int(minutes * 60)))


def _late(now: datetime, actions: list[NextAction]) -> list[tuple[str, Fraction]]:
    """Who cannot be done in time by one pair of hands, whatever the order."""

    def minutes(at: datetime) -> Fraction:
        return Fraction(int((at - now).total_seconds()), 60)

    jobs = [
        look_ahead.Job(
            a.basket,
            max(minutes(a.from_.at), Fraction(0)),
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
