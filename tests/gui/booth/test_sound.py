"""The loudspeaker: what it plays and says, what a silent machine does, and that silence ends."""

from __future__ import annotations

import threading
from array import array
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from ndi.gui import sound
from ndi.gui.presenters.booth.announcements import motif
from ndi.gui.sound import RATE, Announcer, tones
from ndi.services.line_basket import Level
from tests.build import at
from tests.gui.booth.test_announcements import remover, wash


class Ears:
    """Stands for sound card and voice; waits until something was heard."""

    def __init__(self) -> None:
        self.played: list[int] = []
        self.said: list[str] = []
        self.threads: set[str] = set()
        self.heard = threading.Condition()

    def player(self) -> Callable[[array[int]], None]:
        def play(samples: array[int]) -> None:
            with self.heard:
                self.played.append(len(samples))
                self.threads.add(threading.current_thread().name)
                self.heard.notify_all()

        return play

    def voice(self) -> Callable[[str], None]:
        def say(text: str) -> None:
            with self.heard:
                self.said.append(text)
                self.heard.notify_all()

        return say

    def wait(self, sentences: int) -> list[str]:
        with self.heard:
            assert self.heard.wait_for(lambda: len(self.said) >= sentences, 5), self.said
        return self.said


def test_motif_and_sentence_come_from_a_thread_of_their_own() -> None:
    ears = Ears()
    one = Announcer(ears.player, ears.voice)
    one.update([wash()], at("12:50:59"))
    one.update([wash()], at("12:51"))
    assert ears.wait(1) == ["Basket four. Fifteen minutes to start the wash."]
    one.stop()
    assert len(ears.played) == 1 and ears.threads == {"announcer tones"}
    assert one.twin() == ("Basket four. Fifteen minutes to start the wash.",)
    assert one.status(at("12:51")) == ""


def silent() -> Any:
    raise OSError("no such device")


def test_a_silent_machine_works_on_and_says_so() -> None:
    one = Announcer(silent, silent)
    one.update([wash()], at("13:17:59"))
    said = one.update([wash()], at("13:18:01"))
    assert said and one.idle(5)
    one.stop()
    assert one.twin()[0] == "Basket four. Wash limit is past. Stop."
    assert one.status(at("13:19")) == "no tones, no voice on this machine: read the line"


def test_a_machine_without_a_voice_still_plays() -> None:
    ears = Ears()
    one = Announcer(ears.player, silent)
    one.update([wash()], at("12:51"))
    assert one.idle(5)
    one.stop()
    assert len(ears.played) == 1
    assert one.status(at("12:51")) == "no voice on this machine: read the line"


def test_silence_lasts_ten_minutes_at_most_and_what_is_said_can_be_read() -> None:
    ears = Ears()
    one = Announcer(ears.player, ears.voice)
    assert one.mute(at("12:50:30")) == "sound off until 13:00:30"
    one.update([wash()], at("12:51"))
    assert one.twin() == ("Basket four. Fifteen minutes to start the wash.",)
    assert one.is_muted(at("13:00:29")) and not one.is_muted(at("13:00:30"))
    one.update([wash()], at("13:00:30"))
    one.update([wash()], at("13:01"))
    ears.wait(1)
    one.stop()
    assert ears.said[0].startswith("Basket four. F")
    assert all("Fifteen" not in text for text in ears.said)


def test_pressed_again_sound_comes_back() -> None:
    one = Announcer(silent, silent)
    one.mute(at("12:51"))
    assert one.mute(at("12:52")) == "sound is on" and not one.is_muted(at("12:52"))
    one.stop()


def test_a_count_that_waited_is_not_said() -> None:
    ears, clock, held = Ears(), [0.0], threading.Event()

    def slow() -> Callable[[str], None]:
        say = ears.voice()

        def wait(text: str) -> None:
            held.wait(5)
            say(text)

        return wait

    one = Announcer(ears.player, slow, monotonic=lambda: clock[0])
    one.update([remover()], at("10:59:49"))
    one.update([remover()], at("10:59:50"))  # "ten" is being said
    one.update([remover()], at("10:59:51"))
    clock[0] = 10.0
    held.set()
    assert one.idle(5)
    one.stop()
    assert "nine" not in ears.said


def test_a_voice_that_hangs_does_not_silence_the_tones() -> None:
    ears, clock, began, held = Ears(), [0.0], threading.Event(), threading.Event()

    def hanging() -> Callable[[str], None]:
        def say(_text: str) -> None:
            began.set()
            held.wait(5)

        return say

    one = Announcer(ears.player, hanging, monotonic=lambda: clock[0])
    for clock_time in ("12:50:59", "12:51", "12:52", "12:53"):
        one.update([wash()], at(clock_time))
    with ears.heard:
        assert ears.heard.wait_for(lambda: len(ears.played) == 3, 5)
    assert began.wait(5) and one.status(at("12:53")) == ""
    clock[0] = 11.0
    assert one.status(at("12:53")) == "no voice on this machine: read the line"
    held.set()
    one.stop()


def test_time_that_stands_still_says_nothing_twice() -> None:
    one = Announcer(silent, silent)
    assert one.update([wash()], at("12:51")) and not one.update([wash()], at("12:51"))
    one.stop()


def test_red_has_another_rhythm_and_no_sample_clips() -> None:
    amber, red = tones(motif("B4"), Level.AMBER), tones(motif("B4"), Level.RED)
    assert len(amber) / RATE == pytest.approx(0.65, abs=0.001) and len(red) / RATE == pytest.approx(1.40, abs=0.001)
    assert 0 < max(amber) < 32_767 and min(red) > -32_768
    assert amber[0] == 0 and amber[-1] < 2_000  # begins and ends softly


def test_tones_have_the_pitch_of_their_motif() -> None:
    """Zero crossings of the first note: two for each period."""
    low = motif("B4")[0]
    note = tones(motif("B4"), Level.AMBER)[: int(0.25 * RATE)]
    crossings = sum(1 for before, after in pairwise(note) if (before < 0) != (after < 0))
    assert crossings / 2 / 0.25 == pytest.approx(low, rel=0.03)


def test_the_library_plays_to_the_end_on_a_device_that_makes_no_sound() -> None:
    """The real library on its own silent device: the stream is taken to its end, nothing hangs."""
    miniaudio = pytest.importorskip("miniaudio")
    play = sound.sound_card([miniaudio.Backend.NULL])
    play(tones(motif("B4"), Level.AMBER))


def test_this_machine_with_what_it_has() -> None:
    """Card and voice as they are here, there or not: nothing is raised, nothing is late."""
    one = Announcer()
    one.update([wash()], at("12:51"))
    assert one.idle(10)
    one.stop(10)
