"""One basket on the penetrant line: where it stands by the clock, how pressing it is, what it needs next.

What the book says of it is read in ``line_state``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from enum import IntEnum, StrEnum

from ndi.domain.moment import Moment
from ndi.domain.vocabulary import Step
from ndi.services.line_limits import Action, Do

_WARN_SHARE = 4  # amber from the last quarter of the time, or from the procedure's margin, whichever is shorter


class Where(StrEnum):
    """Where a basket stands; the value is its word on the screen."""

    LOADED = "loaded"
    PRECLEANING = "in the pre-clean"
    WETTING = "wetting"
    DWELLING = "dwelling"
    READY = "ready to wash"
    PREWASHING = "prewash"
    PREWASHED = "prewashed"
    IN_REMOVER = "in the remover"
    OUT_OF_REMOVER = "out of the remover"
    WASHING = "washing"
    WASHED = "washed"
    DRYING = "drying"
    DRIED = "dried"
    COATING = "developer going on"
    DEVELOPING = "developing"
    WINDOW = "in its viewing window"
    PAST = "past its viewing window"
    VIEWED = "viewed"
    GIVEN_UP = "given up"


OFF_THE_LINE = (Where.VIEWED, Where.GIVEN_UP)


class Level(IntEnum):
    """How pressing it is."""

    CALM = 0
    AMBER = 1  # little time is left, or what is to come cannot end in time any more
    RED = 2  # a limit is passed, or a rule stops the process


@dataclass(frozen=True)
class Question:
    """Something to be ticked (``choices``) or read (``unit``) at a step; ``first``: before the next step begins."""

    item: str
    step: Step
    choices: tuple[str, ...] = ()
    unit: str = ""
    first: bool = False


@dataclass(frozen=True)
class StepDone:
    """One pass through a step."""

    step: Step
    began: Moment
    ended: Moment | None
    pieces: int | None = None
    outcome: str | None = None


@dataclass(frozen=True)
class BasketState:
    """One basket as the book has it.

    ``actions[0]`` is what comes next in the order of the work; the others run
    beside it.  ``stops`` say why the process must stop here; ``missing`` what
    nobody recorded or no procedure gives.  ``viewing`` is the usual time of the
    looks that are still to come, at ``booths``; ``queue_latest`` is when whatever
    is viewed before it must be begun (``ndi.services.viewing_queue``).
    """

    basket: str
    line: str
    method: str
    attempt: int
    inspections: tuple[str, ...]
    parts: tuple[str, ...]
    quantity: int  # by the records; what is in the basket is counted
    pieces: int | None
    stage: Where
    steps: tuple[StepDone, ...]
    actions: tuple[Action, ...]
    questions: tuple[Question, ...]
    stops: tuple[str, ...]
    missing: tuple[str, ...]
    margin: timedelta | None
    unseen: tuple[str, ...] = ()  # records not viewed to their end
    wash_each: timedelta | None = None  # the longest wash of one piece
    cautions: tuple[tuple[str, str], ...] = ()  # before what, and what the procedure wants read
    viewing: timedelta | None = None
    booths: tuple[str, ...] = ()
    develop_window: tuple[timedelta | None, timedelta | None] = (None, None)  # shortest, longest
    queue_latest: Moment | None = None
    queue_text: str = ""

    # --- by the clock -----------------------------------------------------------------------------

    def where(self, now: Moment) -> Where:
        """Where it stands at a moment."""
        action = self.actions[0] if self.actions else None
        if action is not None and self.stage is Where.DWELLING and _reached(action.earliest, now):
            return Where.READY
        if action is not None and self.stage is Where.DEVELOPING:
            if action.limit is not None and now.at > action.limit.at:
                return Where.PAST
            return Where.WINDOW if _reached(action.earliest, now) else Where.DEVELOPING
        return self.stage

    def urgent(self) -> Action | None:
        """The action that must begin first, or the next one when none has a limit."""
        timed = [(action.latest.at, place) for place, action in enumerate(self.actions) if action.latest is not None]
        return self.actions[min(timed)[1]] if timed else self.next

    @property
    def next(self) -> Action | None:
        return self.actions[0] if self.actions else None

    @property
    def latest(self) -> Moment | None:
        """The latest start of whatever is most pressing."""
        urgent = self.urgent()
        return None if urgent is None else urgent.latest

    def stopped(self, now: Moment) -> str:
        """Why the process must stop here, by what is recorded or by the clock; empty while it may go on."""
        if self.stops:
            return "; ".join(self.stops)
        over = [a for a in self.actions if a.stops and a.limit is not None and now.at > a.limit.at]
        return "; ".join(f"{a.limit_name} {a.limit.clock()} is past" for a in over if a.limit)

    def amber_from(self, action: Action) -> Moment | None:
        """From when an action is pressing."""
        if action.latest is None or self.margin is None:
            return action.latest
        window = action.window
        early = self.margin if window is None else min(self.margin, window / _WARN_SHARE)
        return Moment(action.latest.at - early, action.latest.offset_min)

    def next_view(self) -> Action | None:
        """The look at its parts, once they are developed."""
        return next((action for action in self.actions if action.do is Do.VIEW), None)

    def next_limit(self) -> Moment | None:
        """When that look must be over."""
        view = self.next_view()
        return None if view is None else view.limit

    def queue_amber_from(self, now: Moment) -> Moment | None:
        """From when the viewing queue before it is pressing: at once where it could not be developed in time any more."""
        if not self.queue_text:
            return None
        if self.queue_latest is None:
            return now
        return Moment(self.queue_latest.at - (self.margin or timedelta()), self.queue_latest.offset_min)

    def queue_says(self, now: Moment) -> str:
        """What presses because others are to be viewed before it; empty while nothing does."""
        return self.queue_text if _reached(self.queue_amber_from(now), now) else ""

    def level(self, now: Moment) -> Level:
        """How pressing the basket is."""
        if self.stage in OFF_THE_LINE:
            return Level.CALM
        over = any(a.limit is not None and now.at > a.limit.at for a in self.actions)
        if over or self.stopped(now):
            return Level.RED
        return Level.AMBER if self.is_late(now) or self.queue_says(now) else Level.CALM

    def is_late(self, now: Moment) -> bool:
        """Whether an action of its own is pressing."""
        return any(_reached(self.amber_from(action), now) for action in self.actions)


def _reached(moment: Moment | None, now: Moment) -> bool:
    return moment is not None and now.at >= moment.at


def order(states: Iterable[BasketState]) -> tuple[BasketState, ...]:
    """By the latest start of the next action; those without a limit after them, given up last."""

    def key(state: BasketState) -> tuple[bool, bool, float, str]:
        latest = state.latest
        return (
            state.stage in OFF_THE_LINE,
            latest is None,
            latest.at.timestamp() if latest else 0.0,
            state.basket,
        )

    return tuple(sorted(states, key=key))
