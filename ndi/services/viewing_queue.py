"""How much is to be viewed before a basket, and whether its developer lasts that long.

At one booth one first look goes on at a time (G20), so that the looks at what
was developed follow one another; what must be looked at first goes first.  The
time of a look is the technique's usual time for each piece.  A look that is
under way counts whole, which says it rather too early than too late.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from ndi.domain.moment import duration_text
from ndi.services.line_basket import BasketState, Where
from ndi.services.line_limits import NOTHING, shifted

_DEVELOPED = (Where.COATING, Where.DEVELOPING)
_BEFORE_DEVELOPER = (Where.WASHED, Where.DRYING, Where.DRIED)


def with_queues(states: Sequence[BasketState]) -> tuple[BasketState, ...]:
    """The same baskets, each knowing what is to be viewed before it at its booth."""
    return tuple(_with_queue(state, [other for other in states if other.basket != state.basket]) for state in states)


def _with_queue(state: BasketState, others: list[BasketState]) -> BasketState:
    if state.viewing is None:
        return state
    same_booth = [o for o in others if o.stage in _DEVELOPED and o.viewing and set(o.booths) & set(state.booths)]
    if state.stage in _DEVELOPED:
        return _developed(state, [other for other in same_booth if _goes_before(other, state)])
    if state.stage in _BEFORE_DEVELOPER:
        return _to_be_developed(state, same_booth)
    return state


def _goes_before(other: BasketState, state: BasketState) -> bool:
    """Whose viewing must be over first goes first; where that is the same, by name."""
    limits = [one.next_limit() for one in (other, state)]
    if limits[0] is None or limits[1] is None:
        return limits[0] is not None
    return (limits[0].at, other.basket) < (limits[1].at, state.basket)


def _work(queue: Sequence[BasketState]) -> timedelta:
    return sum((other.viewing for other in queue if other.viewing), NOTHING)


def _named(queue: Sequence[BasketState]) -> str:
    return ", ".join(other.basket for other in queue)


def _minutes(work: timedelta) -> str:
    """Whole minutes, rounded up: a plan, nothing is judged by it."""
    return f"{-(-work // timedelta(minutes=1))} min"


def _developed(state: BasketState, before: list[BasketState]) -> BasketState:
    """The queue must begin early enough that this basket's own look still ends in time."""
    action = state.next_view()
    if not before or action is None or action.latest is None:
        return state
    work = _work(before)
    latest = shifted(action.latest, -work)
    text = f"{_named(before)} first ({_minutes(work)}): begin by {latest.local:%H:%M}"
    return replace(state, queue_latest=latest, queue_text=text)


def _to_be_developed(state: BasketState, before: list[BasketState]) -> BasketState:
    """Developed now, would it be viewed in time?  Its own least developing time passes while the queue is viewed."""
    least, most = state.develop_window
    if most is None or state.viewing is None:
        return state
    work = _work(before)
    needed = max(work, least or NOTHING) + state.viewing
    if needed <= most:
        return state
    queue = f"{_named(before)} first ({_minutes(work)}), then this" if before else "this look"
    text = (
        f"{queue} ({_minutes(state.viewing)}): over {_minutes(needed)} after developing, at most {duration_text(most)}. "
        "Wait with the developer"
    )
    return replace(state, queue_text=text)
