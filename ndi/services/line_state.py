"""Where every basket on a penetrant line stands now, what it needs next and what is still to be ticked.

A state is read from the book once and holds moments; where it stands *at* a
moment is then a matter of the clock alone (``BasketState.where``).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain import ticks as t
from ndi.domain.answer import Severity, Verdict
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.outcome import Missing
from ndi.domain.parameter_keys import KEYS
from ndi.domain.ticks import Tick
from ndi.domain.vocabulary import Observed, Step, ViewKind
from ndi.rules import basket as b
from ndi.rules import registry
from ndi.rules.inquiry import Inquiry, as_timedelta
from ndi.services.assemble import inquiry_for
from ndi.services.line_basket import OFF_THE_LINE, BasketState, Question, StepDone, Where, order
from ndi.services.line_limits import STEP_WORDS, Action, Do, Known, Limits
from ndi.services.lookup import about, every
from ndi.services.ports import InspectionRow, Session
from ndi.services.viewing_queue import with_queues
from ndi.services.workplace import Workplace

_BACK = timedelta(days=2)  # a basket older than this is no longer on the line


def loads_on(work: Workplace, session: Session) -> list[Recorded[f.BasketLoaded]]:
    """The latest load of every basket loaded lately."""
    since = work.now().at - _BACK
    return list({r.fact.basket: r for r in every(session, f.BasketLoaded) if r.at >= since}.values())


def line_now(work: Workplace, session: Session, line: str | None = None) -> tuple[BasketState, ...]:
    """Every basket on a line (or on all lines) now, the most urgent first; what is viewed is off it."""
    found = []
    for load in loads_on(work, session):
        rows = _current(session, load)
        if any(not _is_viewed(session, row, load.fact.attempt) for row in rows):
            found.append(_Reading(work, session, load, rows).state())
    # the booth is shared by all lines
    return order(state for state in with_queues(found) if line in (None, state.line))


def state_of(work: Workplace, session: Session, basket: str) -> BasketState:
    """One basket, wherever it stands; NotFound for one that was never loaded or whose parts are in another now."""
    loads = about(session, f.BasketLoaded, basket)
    found = basket_state(work, session, loads[-1]) if loads else None
    if found is None:
        raise NotFound(f"basket {basket} is not on the line: load it first")
    return found


def basket_state(work: Workplace, session: Session, load: Recorded[f.BasketLoaded]) -> BasketState | None:
    """The state of one load; None when all its parts went on into another basket, or none has a record."""
    rows = _current(session, load)
    return _Reading(work, session, load, rows).state() if rows else None


def _current(session: Session, load: Recorded[f.BasketLoaded]) -> list[InspectionRow]:
    """The records of a load whose parts are in no later one."""
    rows = [row for name in load.fact.inspections if (row := _row(session, name)) is not None]
    return [row for row in rows if _is_current(session, row.inspection, load)]


def _is_viewed(session: Session, row: InspectionRow, attempt: int) -> bool:
    """Whether a part was looked at to the end in this attempt, or decided upon."""
    if row.decision is not None:
        return True
    name = row.inspection
    views = [
        r.fact.view
        for r in about(session, f.ViewStarted, name)
        if r.fact.inspection == name and r.fact.attempt == attempt and r.fact.kind != ViewKind.SECOND_LOOK
    ]
    ended = {r.fact.view for r in about(session, f.ViewEnded, name)}
    return bool(views) and all(view in ended for view in views)


def _row(session: Session, inspection: str) -> InspectionRow | None:
    try:
        return session.inspection(inspection)
    except NotFound:
        return None


def _is_current(session: Session, inspection: str, load: Recorded[f.BasketLoaded]) -> bool:
    loads = [r for r in about(session, f.BasketLoaded, inspection) if inspection in r.fact.inspections]
    return bool(loads) and max(loads, key=lambda r: (r.fact.attempt, r.position)).position == load.position


class _Reading:
    """Puts the state of one load together."""

    def __init__(
        self, work: Workplace, session: Session, load: Recorded[f.BasketLoaded], rows: list[InspectionRow]
    ) -> None:
        self.work, self.session, self.load, self.rows = work, session, load, rows
        self.known = Known()
        self.q: Inquiry = inquiry_for(work, session, rows[0].inspection)
        self.limits = Limits(self.q, self.known)

    def state(self) -> BasketState:
        fact, q = self.load.fact, self.q
        unseen = [row for row in self.rows if not _is_viewed(self.session, row, self.load.fact.attempt)]
        stage = self._stage(bool(unseen))
        running = stage not in OFF_THE_LINE
        actions = tuple(self._actions(stage, unseen)) if running else ()
        margin = self.known.get(lambda: as_timedelta(q.limit("lunch_margin"))) if running else None
        self._unended()
        return BasketState(
            fact.basket,
            fact.line,
            fact.method,
            fact.attempt,
            tuple(row.inspection for row in self.rows),
            tuple(row.part for row in self.rows),
            sum(row.quantity for row in self.rows),
            self.limits.pieces,
            stage,
            tuple(self._steps()),
            actions,
            tuple(self._questions(stage)) if running else (),
            tuple(self._stops({action.rule for action in actions})) if running else (),
            tuple(self.known.missing),
            margin,
            tuple(row.inspection for row in unseen),
            self.limits.wash_each if stage is Where.WASHING else None,
            tuple((caution.before, caution.text) for caution in q.procedure.cautions),
            self._viewing_work(unseen) if running else None,
            self._booths(unseen),
            self._develop_window(),
        )

    # --- where it stands ---

    def _is_given_up(self) -> bool:
        voided = about(self.session, f.AttemptVoided, self.load.fact.basket)
        names = {r.fact.inspection for r in voided if r.fact.attempt == self.load.fact.attempt}
        return all(row.inspection in names for row in self.rows)

    def _stage(self, unseen: bool) -> Where:
        if self._is_given_up():
            return Where.GIVEN_UP
        if not unseen:
            return Where.VIEWED
        for step, running, over in _STAGES:
            run = self.limits.run(step)
            if run is not None:
                return running if run.end is None else over
        return Where.LOADED

    def _steps(self) -> Iterable[StepDone]:
        for step in STEP_WORDS:
            for run in b.runs(self.q, step):
                end = run.end
                yield StepDone(
                    step,
                    run.first_start,
                    end.when if end else None,
                    run.pieces,
                    end.fact.outcome if end is not None and isinstance(end.fact, f.StepEnded) else None,
                )

    def _unended(self) -> None:
        """An earlier step without its end is missing, not running."""
        passed = False
        for step, _running, _over in _STAGES:
            run = self.limits.run(step)
            if passed and run is not None and run.end is None:
                self.known.missing.append(f"end of {STEP_WORDS[step]} not recorded")
            passed = passed or run is not None

    # --- what comes next ---

    def _actions(self, stage: Where, unseen: list[InspectionRow]) -> Iterable[Action]:
        limits, step = self.limits, RUNNING.get(stage)
        if step is not None:
            yield limits.end(step)
        match stage:
            case Where.LOADED:
                yield self._before_wetting()
            case Where.WETTING | Where.DWELLING:
                yield limits.removal()
            case Where.WASHING if not limits.is_hydrophilic:
                yield from self._also(limits.dwell_end(Step.WASH))
            case stage if stage in _WITH_REMOVER and not limits.is_hydrophilic:
                yield limits.removal()  # scanned by mistake: the wash is still to come
            case Where.PREWASHING:
                yield from self._also(limits.dwell_end(Step.PREWASH))
            case Where.PREWASHED:
                yield limits.after(Step.PREWASH, Step.REMOVER, "Remover")
            case Where.OUT_OF_REMOVER:
                yield limits.after(Step.REMOVER, Step.WASH, "Rinse")
            case Where.WASHED:
                yield limits.after(Step.WASH, Step.DRY, "Into the dryer", "wash_to_dryer_max", "dryer limit", "P19")
            case Where.DRIED:
                yield limits.after(
                    Step.DRY, Step.DEVELOP, "Developer on", "dryer_to_developer_max", "developer limit", "P22"
                )
            case Where.COATING | Where.DEVELOPING:
                yield limits.view(self._viewing_work(unseen))

    def _also(self, action: Action | None) -> Iterable[Action]:
        return () if action is None else (action,)

    def _before_wetting(self) -> Action:
        """The wetting; before it, for a later attempt, the pre-clean."""
        cleaned = self.limits.run(Step.PRECLEAN)
        if self.load.fact.attempt > 1 and (cleaned is None or cleaned.end is None):
            return Action(Do.START, "Pre-clean", Step.PRECLEAN)
        return Action(Do.START, "Wet", Step.WET)

    def _viewing_work(self, unseen: list[InspectionRow]) -> timedelta:
        """Time to plan for looking at what was not looked at: the technique's expected time for each piece."""
        total = timedelta()
        for row in unseen:
            technique = self.q.techniques.get(row.inspection, self.q.technique)
            if technique.expected_view_min is not None:
                total += as_timedelta(technique.expected_view_min) * row.quantity
        return total

    def _develop_window(self) -> tuple[timedelta | None, timedelta | None]:
        """Shortest and longest developing time; what is missing of them is said when the developer is on."""
        ahead = Limits(self.q, Known())
        return ahead.least_developing(), ahead.most_developing()

    def _booths(self, unseen: list[InspectionRow]) -> tuple[str, ...]:
        """Where its records are to be viewed."""
        opened = [about(self.session, f.InspectionOpened, row.inspection)[-1].fact for row in unseen]
        return tuple(dict.fromkeys(fact.station for fact in opened if fact.station))

    # --- what stops it ---

    def _stops(self, by_the_clock: set[str]) -> Iterable[str]:
        """Rules of the procedure that stop the process and are broken by what is recorded; those whose time runs are left to the clock."""
        q = self.q
        registry.load_all()
        for rule, setting in q.procedure.rules.items():
            if setting.severity is Severity.STOP and rule.startswith("P") and rule not in by_the_clock:
                answer = registry.answer(rule, q)
                if answer.verdict is Verdict.FAIL:
                    yield f"{rule}: {answer.says}"

    # --- what is still to be ticked ---

    def _questions(self, stage: Where) -> Iterable[Question]:
        place = _ORDER.index(stage)
        for asked_from, until, question in self._every_question():
            due = _ORDER.index(asked_from) <= place and (until is None or place <= _ORDER.index(until))
            if due and not self._is_answered(question):
                yield question

    def _is_answered(self, question: Question) -> bool:
        basket, attempt = self.load.fact.basket, self.load.fact.attempt
        if question.unit:
            return bool(self.q.observed(question.step, question.item))
        given = self.q.confirmed(question.item, about=basket)
        return given is not None and given.fact.attempt in (None, attempt)

    def _every_question(self) -> Iterable[tuple[Where, Where | None, Question]]:
        """From which stage a question is asked, until which one it makes sense, and the question."""
        form, removal = self.q.technique.developer_form, removal_step(self.limits)
        taking_off = Where.PREWASHING if self.limits.is_hydrophilic else Where.WASHING
        yield Where.LOADED, Where.WETTING, _tick(t.DRY_BEFORE_WETTING, Step.WET, first=True)
        yield Where.WETTING, None, _tick(t.WETTED_BY, Step.WET)
        yield Where.WETTING, None, _tick(t.NO_CONTACT, Step.WET)
        yield (
            Where.WETTING,
            None,
            Question(Observed.PART_TEMPERATURE, Step.WET, (), self._unit("wetting_temperature_min")),
        )
        yield taking_off, None, _tick(t.STILL_WET, removal)
        yield Where.WASHING, None, Question(Observed.NOZZLE_DISTANCE, Step.WASH, (), self._unit("nozzle_distance_min"))
        if self.limits.is_hydrophilic:
            yield Where.WASHED, None, _tick(t.RINSE_CHECKED, Step.WASH, first=True)
        if form is None or form == b.DRY_POWDER:
            yield Where.DRIED, None, _tick(t.DRY_AT_DRYER_OUT, Step.DRY, first=True)
        yield Where.COATING, None, _tick(t.DEVELOPER_FORM, Step.DEVELOP)
        yield Where.DEVELOPING, None, _tick(t.DEVELOPER_COAT, Step.DEVELOP)

    def _unit(self, key: str) -> str:
        """The unit in which the procedure gives the limit; the catalogue's where it gives none."""
        try:
            return b.shared_minimum(self.q, key).unit
        except Missing:
            return KEYS[key].unit


def removal_step(limits: Limits) -> Step:
    """The step that takes the penetrant off."""
    return Step.PREWASH if limits.is_hydrophilic else Step.WASH


def _tick(tick: Tick, step: Step, *, first: bool = False) -> Question:
    return Question(tick.item, step, tick.values, first=first)


# a step with where the basket stands while it runs and when it is over, from the last to the first
_STAGES: tuple[tuple[Step, Where, Where], ...] = (
    (Step.DEVELOP, Where.COATING, Where.DEVELOPING),
    (Step.DRY, Where.DRYING, Where.DRIED),
    (Step.WASH, Where.WASHING, Where.WASHED),
    (Step.REMOVER, Where.IN_REMOVER, Where.OUT_OF_REMOVER),
    (Step.PREWASH, Where.PREWASHING, Where.PREWASHED),
    (Step.WET, Where.WETTING, Where.DWELLING),
    (Step.PRECLEAN, Where.PRECLEANING, Where.LOADED),
)
_WITH_REMOVER = (Where.PREWASHING, Where.PREWASHED, Where.IN_REMOVER, Where.OUT_OF_REMOVER)
RUNNING: dict[Where, Step] = {running: step for step, running, _ in _STAGES}
_ORDER = tuple(Where)
