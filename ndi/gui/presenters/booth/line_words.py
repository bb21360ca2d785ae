"""Words, shapes and tiles of baskets on the penetrant line."""

from __future__ import annotations

from ndi.domain.moment import Moment, duration_text
from ndi.domain.ticks import BACKGROUNDS
from ndi.domain.vocabulary import Step
from ndi.gui.presenters.scene import Big, Row, Shape, Tile, Until
from ndi.services.line_basket import BasketState, Level, Question, Where
from ndi.services.line_limits import STEP_WORDS, Action
from ndi.services.line_state import RUNNING

PIECES = Question("pieces in the basket", Step.WET, (), "pcs", first=True)
BACKGROUND = Question("background under UV-A", Step.WASH, BACKGROUNDS, first=True)
YES = "yes"
_WAITING = (Where.DWELLING, Where.DEVELOPING)
CAUTION_BEFORE: dict[Step, str] = {
    Step.WET: "penetrant",
    Step.REMOVER: "remover",
    Step.WASH: "wash",
    Step.DRY: "dryer",
    Step.DEVELOP: "developer",
}


def shape_of(state: BasketState, now: Moment) -> Shape:
    """Cross for what may not go on, bar for a step that runs, hourglass for a time that must pass."""
    where = state.where(now)
    if where in (Where.GIVEN_UP, Where.PAST) or state.stopped(now):
        return Shape.CROSS
    if where is Where.VIEWED:
        return Shape.DONE
    if where in RUNNING:
        return Shape.RUNNING
    return Shape.WAIT if where in _WAITING else Shape.OPEN


def word_of(state: BasketState, now: Moment) -> str:
    """Where it stands, and how pressing that is."""
    where, urgent = state.where(now), state.urgent()
    if state.stopped(now):
        return f"{where}: stop"
    match state.level(now):
        case Level.RED:
            return f"{where}: limit past"
        case Level.AMBER if not state.is_late(now):
            return f"{where}: viewing queue too long"
        case Level.AMBER if urgent is not None and urgent.latest is not None:
            too_late = now.at > urgent.latest.at
            return f"{where}: cannot finish any more in time" if too_late else f"{where}: little time"
    return str(where)


def timer_of(state: BasketState, now: Moment) -> Until | str:
    """The time to the next thing: until it may begin, then until it must; a step of seconds counts up."""
    action = state.next
    if action is None:
        return "-"
    if action.counted and action.since is not None:
        return Until(action.since.at, counts_up=True)
    if action.earliest is not None and now.at < action.earliest.at:
        return Until(action.earliest.at)
    latest = state.latest
    return Until(latest.at) if latest is not None else "-"


def timer_words(state: BasketState, now: Moment) -> str:
    """What :func:`timer_of` shows the time to."""
    action, urgent = state.next, state.urgent()
    if action is None or urgent is None:
        return ""
    if action.counted and action.since is not None:
        return f"{action.words}, {target(action)}"
    if action.earliest is not None and now.at < action.earliest.at:
        until = f" to {action.latest_text()}" if action.latest else ""
        return f"{action.words} from {action.earliest.clock()}{until}"
    return f"{urgent.words} at the latest {urgent.latest_text()}" if urgent.latest is not None else action.words


def target(action: Action) -> str:
    """``30 s to 120 s``, ``at most 60 s``."""
    assert action.since is not None
    most = duration_text(action.limit.at - action.since.at) if action.limit else "not known"
    if action.earliest is None:
        return f"at most {most}"
    return f"{duration_text(action.earliest.at - action.since.at)} to {most}"


def tile(state: BasketState, now: Moment, key: str, selected: bool = False) -> Tile:
    """One basket at one glance."""
    action = state.next
    small = [counted(state.pieces, "piece") if state.pieces else "pieces not counted"]
    if state.attempt > 1:
        small.append(f"attempt {state.attempt}")
    return Tile(
        state.basket,
        timer_of(state, now),
        (timer_words(state, now) if action is not None else ""),
        shape_of(state, now),
        word_of(state, now),
        ", ".join(small),
        key,
        selected,
    )


def big(state: BasketState, now: Moment) -> Big:
    """The timer of the selected basket."""
    return Big(timer_of(state, now), timer_words(state, now) or str(state.where(now)), shape_of(state, now))


def step_rows(state: BasketState) -> tuple[Row, ...]:
    """What was done, with its times."""
    rows = []
    for done in state.steps:
        ended = done.ended.clock() if done.ended else "runs"
        extra = [counted(done.pieces, "piece") if done.pieces else "", done.outcome or ""]
        shape = Shape.DONE if done.ended else Shape.RUNNING
        words = STEP_WORDS[done.step]
        rows.append(Row(f"{words}  {done.began.clock()} – {ended}", " ".join(filter(None, extra)), shape))
    return tuple(rows)


def action_rows(state: BasketState) -> tuple[Row, ...]:
    """What comes, with its limits."""
    return tuple(Row(action.sentence(state.basket), "", Shape.WAIT) for action in state.actions)


def counted(number: int, what: str) -> str:
    """``1 piece``, ``4 pieces``."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def asked(question: Question) -> str:
    """A question with the keys that answer it."""
    if question.unit:
        return f"{question.item}: type it in {question.unit}"
    keys = "  ".join(f"{number} {choice}" for number, choice in enumerate(question.choices, 1))
    return f"{question.item}?  {keys}"


def to_go(until: Moment, now: Moment) -> str:
    """``3 min to go``."""
    return f"{duration_text(until.at - now.at)} to go"
