"""The loudspeaker: motifs through the sound card, sentences through the system's own voice, both only where there are any.

What is said is always there to be read as well (:meth:`Announcer.twin`); a
silent machine loses nothing but the sound.  All waiting is done in a thread.
"""

from __future__ import annotations

import math
import time
from array import array
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from queue import Queue
from threading import Event, Thread
from typing import Any, Protocol

from ndi.domain.moment import Moment
from ndi.gui.presenters.booth.announcements import Announcement, Motif, announcements
from ndi.services.line_basket import BasketState, Level

MUTED_FOR = timedelta(minutes=10)  # and then sound comes back by itself
KEPT = 5  # announcements that can still be read
_STALE_S = 1.5  # a count that comes later than this is worse than none
_OLD_S = 20.0  # a sentence that waited longer is said anew by the next beat
_HANGS_S = 10.0  # a part that is busy for longer does not answer
_AGAIN_S = 600.0  # a machine that had no sound is asked again after this
RATE = 22_050
_LOUD = 9_000  # of 32 767
_FADE_S = 0.01

# seconds of tone and pause: amber two even notes, red short-short-long twice
_AMBER = ((0, 0.25), (None, 0.05), (1, 0.35))
_RED = ((0, 0.10), (None, 0.04), (0, 0.10), (None, 0.04), (1, 0.30), (None, 0.12)) * 2


class Player(Protocol):
    """Plays samples (16 bit, one channel, :data:`RATE`) to their end; raises whatever it likes when it cannot."""

    def __call__(self, samples: array[int]) -> None: ...


class Voice(Protocol):
    """Says a sentence to its end; raises whatever it likes when it cannot."""

    def __call__(self, text: str) -> None: ...


def tones(motif: Motif, level: Level) -> array[int]:
    """The samples of a motif in the rhythm of a level."""
    samples = array("h")
    for which, seconds in _RED if level is Level.RED else _AMBER:
        samples.extend(_tone(None if which is None else motif[which], seconds))
    return samples


def _tone(hertz: int | None, seconds: float) -> Iterator[int]:
    count, fade = int(RATE * seconds), int(RATE * _FADE_S)
    for n in range(count):
        loud = min(1.0, n / fade, (count - n) / fade) * _LOUD  # faded in and out, or it clicks
        yield 0 if hertz is None else int(loud * math.sin(2 * math.pi * hertz * n / RATE))


class Announcer:
    """``update`` once a second, ``mute`` by a key; ``stop`` at the end.

    ``player`` and ``voice`` make what plays and speaks, each in a thread of its
    own, when it is first needed: a voice that hangs does not silence the tones.
    """

    def __init__(
        self,
        player: Callable[[], Player] | None = None,
        voice: Callable[[], Voice] | None = None,
        *,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self._before: Sequence[BasketState] = ()
        self._then: Moment | None = None
        self._muted_until: datetime | None = None
        self._said: list[Announcement] = []
        self._tones = _Perhaps("tones", player or sound_card, monotonic)
        self._voice = _Perhaps("voice", voice or system_voice, monotonic)

    def update(self, states: Sequence[BasketState], now: Moment) -> tuple[Announcement, ...]:
        """Say what became pressing since the last call; returns it, for whoever shows it."""
        if self._then is not None and now.at <= self._then.at:
            return ()
        found = announcements(self._before, states, self._then, now)
        self._before, self._then = tuple(states), now
        self._said = [*[a for a in found if a.text], *self._said][:KEPT]
        if not self.is_muted(now):
            for each in found:
                self._sound(each)
        return found

    def _sound(self, said: Announcement) -> None:
        """The motif, and after it the sentence."""
        played: Event | None = None
        if said.motif is not None:
            samples = tones(said.motif, said.level)
            played = self._tones.ask(lambda play: play(samples), _OLD_S)
        if said.text:
            self._voice.ask(lambda say: say(said.text), _STALE_S if said.motif is None else _OLD_S, played)

    def mute(self, now: Moment) -> str:
        """Silence for at most ten minutes, or sound again; says which."""
        if self.is_muted(now):
            self._muted_until = None
            return "sound is on"
        self._muted_until = now.at + MUTED_FOR
        return self.status(now)

    def is_muted(self, now: Moment) -> bool:
        return self._muted_until is not None and now.at < self._muted_until

    def status(self, now: Moment) -> str:
        """Of the sound, to be shown: muted until when, what this machine lacks; empty when all is there."""
        if self.is_muted(now):
            assert self._muted_until is not None
            return f"sound off until {Moment(self._muted_until, now.offset_min).clock()}"
        lacks = [part.name for part in (self._tones, self._voice) if part.is_missing]
        return f"no {', no '.join(lacks)} on this machine: read the line" if lacks else ""

    def twin(self) -> tuple[str, ...]:
        """What was said last, the newest first, muted or not."""
        return tuple(each.text for each in self._said)

    def idle(self, seconds: float) -> bool:
        """Wait until everything asked so far was said, or ``seconds``; whether it was."""
        return self._tones.idle(seconds) and self._voice.idle(seconds)

    def stop(self, seconds: float = 2.0) -> None:
        """Say nothing more."""
        self._tones.stop(seconds)
        self._voice.stop(seconds)


class _Perhaps:
    """Something that this machine may lack, in a thread of its own: made when first used, left alone for a while after it failed."""

    def __init__(self, name: str, make: Callable[[], Any], monotonic: Callable[[], float]) -> None:
        self.name = name
        self._make, self._now = make, monotonic
        self._made: Any = None
        self._failed_at: float | None = None
        self._busy_since: float | None = None
        self._ended = False
        self._asked: Queue[tuple[float, float, Callable[[Any], None], Event | None, Event] | None] = Queue()
        self._thread = Thread(target=self._run, name=f"announcer {name}", daemon=True)
        self._thread.start()

    @property
    def is_missing(self) -> bool:
        """It failed, or does not come back."""
        since = self._busy_since
        return self._failed_at is not None or (since is not None and self._now() - since > _HANGS_S)

    def ask(self, act: Callable[[Any], None], stale_s: float, after: Event | None = None) -> Event:
        """Do it soon, unless it waited longer than ``stale_s``; the event is set when it is over."""
        over = Event()
        self._asked.put((self._now(), stale_s, act, after, over))
        return over

    def stop(self, seconds: float) -> None:
        self._ended = True
        self._asked.put(None)
        self._thread.join(seconds)

    def idle(self, seconds: float) -> bool:
        until = time.monotonic() + seconds
        while self._asked.unfinished_tasks and time.monotonic() < until:
            time.sleep(0.005)
        return not self._asked.unfinished_tasks

    def _run(self) -> None:
        while (item := self._asked.get()) is not None and not self._ended:
            asked, stale_s, act, after, over = item
            if after is not None:
                after.wait(_HANGS_S)
            if self._now() - asked <= stale_s:
                self._busy_since = self._now()
                self._use(act)
                self._busy_since = None
            over.set()
            self._asked.task_done()

    def _use(self, act: Callable[[Any], None]) -> None:
        if self._failed_at is not None and self._now() - self._failed_at < _AGAIN_S:
            return
        # sound is an addition: whatever a driver raises, the work goes on in silence and the status says so
        try:
            if self._made is None:
                self._made = self._make()
            act(self._made)
            self._failed_at = None
        except Exception:
            self._made, self._failed_at = None, self._now()


def sound_card(backends: Sequence[Any] | None = None) -> Player:
    """Through the system's sound card; raises where there is none (never the library's own silent device)."""
    import miniaudio  # type: ignore[import-untyped]

    real = backends or [backend for backend in miniaudio.Backend if backend is not miniaudio.Backend.NULL]

    def play(samples: array[int]) -> None:
        ended = Event()
        device = miniaudio.PlaybackDevice(miniaudio.SampleFormat.SIGNED16, 1, RATE, backends=real)
        try:
            stream = _stream(samples, ended)
            next(stream)
            device.start(stream)
            ended.wait(len(samples) / RATE + 1.0)
        finally:
            device.close()

    return play


def _stream(samples: array[int], ended: Event) -> Any:
    """As the library wants it: it sends how many frames it needs, and gets at most as many."""
    place = 0
    wanted = yield array("h")
    while place < len(samples):
        chunk = samples[place : place + wanted]
        place += wanted
        wanted = yield chunk
    yield array("h", bytes(2 * wanted))  # asked for again: what came before is on its way out
    ended.set()


def system_voice() -> Voice:
    """The system's own voice, off-line; raises where it has none."""
    import pyttsx3  # type: ignore[import-untyped]

    engine = pyttsx3.init()

    def say(text: str) -> None:
        engine.say(text)
        engine.runAndWait()

    return say
