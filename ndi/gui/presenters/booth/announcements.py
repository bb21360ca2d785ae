"""What is said and sounded of the baskets: one pure function of the states before and now.

Every announcement is text first; tones and a voice, where the machine has them,
only repeat it.  The two-note motifs are this project's own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zlib import crc32

from ndi.domain.moment import Moment
from ndi.services.line_basket import BasketState, Level, Where
from ndi.services.line_limits import STEP_WORDS, Action, Do

Motif = tuple[int, int]  # two tones in Hz

AMBER_EVERY = timedelta(minutes=1)
RED_EVERY = timedelta(seconds=10)
RED_SPOKEN_EVERY = timedelta(minutes=1)
COUNTED_DOWN = 10  # seconds before the limit of a step of seconds

_LOWEST_HZ = 220
_STEPS = (0, 2, 4, 7, 9, 12, 14, 16)  # semitones; any two of them sound well together
_ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_NAME = re.compile(r"B?(\d{1,2})([a-zA-Z]?)(?:/(\d{1,2}))?\Z", re.ASCII)


@dataclass(frozen=True)
class Announcement:
    """``text`` is spoken and shown (empty: tones alone); ``motif`` is the basket's, None for a count."""

    basket: str
    text: str
    motif: Motif | None
    level: Level


def motif(basket: str) -> Motif:
    """Two different tones that belong to a basket's name: the same always, B1 to B11 and their letters all different."""
    named = _NAME.match(basket)
    if named:
        letter = ord(named[2].lower()) - ord("a") + 1 if named[2] else 0
        index = int(named[1]) * 5 + letter + int(named[3] or 1) - 1
    else:
        index = crc32(basket.encode())
    first = index % len(_STEPS)
    second = (first + 1 + index // len(_STEPS) % (len(_STEPS) - 1)) % len(_STEPS)
    return _hertz(first), _hertz(second)


def _hertz(place: int) -> int:
    semitones: int = _STEPS[place]
    return round(_LOWEST_HZ * 2 ** (semitones / 12))


def in_words(number: int) -> str:
    """A whole number below 100 in words, a larger one in digits."""
    if not 0 <= number < 100:
        return str(number)
    if number < len(_ONES):
        return _ONES[number]
    tens, ones = divmod(number, 10)
    return _TENS[tens - 2] + (f"-{_ONES[ones]}" if ones else "")


def spoken(basket: str) -> str:
    """``Basket four A`` for ``B4a``."""
    named = _NAME.match(basket)
    if not named:
        return f"Basket {basket}"
    use = f", use {in_words(int(named[3]))}" if named[3] else ""
    return f"Basket {in_words(int(named[1]))}{' ' + named[2].upper() if named[2] else ''}{use}"


def alarm(state: BasketState, now: Moment) -> str:
    """What presses on a basket, as a sentence to be spoken."""
    return f"{spoken(state.basket)}. {presses(state, now)}"


def presses(state: BasketState, now: Moment) -> str:
    """:func:`alarm` without the basket's name."""
    over = [action for action in state.actions if action.limit is not None and now.at > action.limit.at]
    if over:
        stop = " Stop." if state.stopped(now) else ""
        return f"{over[0].limit_name[:1].upper()}{over[0].limit_name[1:]} is past.{stop}"
    if state.stops:
        return "Stop: a rule is broken."
    if state.queue_says(now) and not state.is_late(now):
        return f"Viewing queue: {state.queue_says(now)}."
    action = state.urgent()
    if action is None or action.latest is None or action.limit is None:
        return f"{state.where(now)}."
    if now.at > action.latest.at:
        return f"Cannot finish any more in time. {_span(action.limit, now)} to {action.limit_name}."
    if action.latest.at < action.limit.at:
        return f"{_span(action.latest, now)} to start the {_noun(action)}."
    return f"{_span(action.limit, now)} to {action.limit_name}."


def _span(until: Moment, now: Moment) -> str:
    seconds = int((until.at - now.at).total_seconds())
    number, unit = (seconds // 60, "minute") if seconds >= 60 else (max(seconds, 0), "second")
    text = f"{in_words(number)} {unit}{'' if number == 1 else 's'}"
    return text[:1].upper() + text[1:]


def _noun(action: Action) -> str:
    return "view" if action.do is Do.VIEW else STEP_WORDS[action.step] if action.step else "next step"


# --- from one moment to the next ------------------------------------------------------------------


def announcements(
    before: Sequence[BasketState], after: Sequence[BasketState], then: Moment | None, now: Moment
) -> tuple[Announcement, ...]:
    """What is to be said now, given what stood at ``then``; the most pressing basket first.

    ``then`` None: nothing was heard before, whatever presses is said at once.
    """
    earlier = {state.basket: state for state in before}
    said = [a for state in after for a in _of_basket(earlier.get(state.basket), state, then, now)]
    return tuple(sorted(said, key=lambda a: (a.motif is not None, -a.level)))  # a count waits for nothing


def _of_basket(old: BasketState | None, state: BasketState, then: Moment | None, now: Moment) -> Iterator[Announcement]:
    yield from _count(state, then, now)
    level = state.level(now)
    was = old.level(then) if old is not None and then is not None else Level.CALM
    if level > was:
        yield Announcement(state.basket, alarm(state, now), motif(state.basket), level)
    elif level > Level.CALM and then is not None:
        yield from _repeat(state, level, then, now)
    elif level is Level.CALM and old is not None and then is not None:
        yield from _arrived(old, state, then, now)


def _arrived(old: BasketState, state: BasketState, then: Moment, now: Moment) -> Iterator[Announcement]:
    """A time that had to pass has passed."""
    where = state.where(now)
    if where in (Where.READY, Where.WINDOW) and old.where(then) is not where:
        text = "Ready to wash" if where is Where.READY else "Ready to view"
        if state.next is not None and where is Where.READY:
            text = f"Ready for {_noun(state.next)}"
        yield Announcement(state.basket, f"{spoken(state.basket)}. {text}.", motif(state.basket), Level.CALM)


def _repeat(state: BasketState, level: Level, then: Moment, now: Moment) -> Iterator[Announcement]:
    """Amber once a minute; red again and again, spoken once a minute."""
    began = _began(state, level, now)
    every = AMBER_EVERY if level is Level.AMBER else RED_EVERY
    if not _beats(began, then, now, every):
        return
    spoken_now = level is Level.AMBER or _beats(began, then, now, RED_SPOKEN_EVERY)
    yield Announcement(state.basket, alarm(state, now) if spoken_now else "", motif(state.basket), level)


def _began(state: BasketState, level: Level, now: Moment) -> datetime:
    """Since when the level is what it is, as far as the limits tell; the last step where a rule stopped it."""
    marks = [state.amber_from(a) if level is Level.AMBER else a.limit for a in state.actions]
    if level is Level.AMBER and state.queue_latest is not None:
        marks.append(state.queue_amber_from(now))
    passed = [mark.at for mark in marks if mark is not None and mark.at <= now.at]
    if passed:
        return min(passed)
    return max((step.ended or step.began).at for step in state.steps) if state.steps else now.at


def _beats(began: datetime, then: Moment, now: Moment, every: timedelta) -> bool:
    """Whether a whole number of periods was completed between the two moments."""
    return (now.at - began) // every > (then.at - began) // every


def _count(state: BasketState, then: Moment | None, now: Moment) -> Iterator[Announcement]:
    """Steps of seconds: their shortest time, and the last ten seconds to their longest."""
    action = state.next
    if then is None or action is None or not action.counted or action.step is None:
        return
    word = _noun(action)
    word = word[:1].upper() + word[1:]
    if action.earliest is not None and then.at < action.earliest.at <= now.at:
        yield Announcement(state.basket, f"{word}: shortest time reached.", None, Level.CALM)
    if action.limit is None or now.at > action.limit.at:
        return
    left = -(-(action.limit.at - now.at) // timedelta(seconds=1))  # whole seconds, rounded up
    before = -(-(action.limit.at - then.at) // timedelta(seconds=1))
    if left <= COUNTED_DOWN and left < before:
        text = f"{word}: {in_words(left)}" if before > COUNTED_DOWN else in_words(left)
        yield Announcement(state.basket, text, None, Level.AMBER)
