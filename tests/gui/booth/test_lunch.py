""" "Can I go to lunch?" on the screen: it goes with the clock, and leads to the baskets."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ndi.gui.presenters.booth.line_watch import LineWatch
from ndi.gui.presenters.scene import Big, Shape, Until
from ndi.gui.sound import Announcer
from tests.build import at
from tests.gui.booth.line_day import B1, B4, Hands, begin, load


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("line")
    begin(folder)
    return folder


@pytest.fixture
def hands(morning: Path, tmp_path: Path) -> Iterator[Hands]:
    one = Hands(morning, tmp_path / "book")
    yield one
    one.close()


def big(hands: Hands) -> Big:
    (found,) = [part for part in hands.scene.parts if isinstance(part, Big)]
    return found


def wetted(hands: Hands, basket: str, records: tuple[str, ...], first: str, last: str) -> None:
    load(hands.at(first), basket, records)
    hands.key("enter", "enter", "1", "1").number("75").at(last).key("enter")


def test_an_empty_line_lets_everybody_go(hands: Hands) -> None:
    hands.key("9")
    assert (big(hands).number, big(hands).shape) == ("Yes", Shape.DONE)
    assert hands.shows("nothing on the line waits for you", "No basket is on the line.")


def test_yes_until_the_margin_before_the_first_latest_start(hands: Hands) -> None:
    wetted(hands, "B4a", B4, "11:18", "11:21")
    hands.key(".", "9").at("12:50:59")
    assert big(hands) == Big(Until(at("12:51").at), "Yes, back by 12:51", Shape.DONE)
    hands.at("12:51")
    assert (big(hands).number, big(hands).shape) == ("No", Shape.CROSS)


def test_not_known_while_pieces_are_not_counted(hands: Hands) -> None:
    load(hands.at("11:18"), "B4a", B4)
    hands.booth.screen.counts.clear()  # type: ignore[attr-defined]
    hands.scan("command:START WET").key("1", "1", "1").number("75").at("11:21").scan("command:END WET")
    hands.key(".", "9")
    assert big(hands).number == "Not known" and hands.shows("pieces in B4a not counted")


def test_a_digit_opens_the_basket(hands: Hands) -> None:
    wetted(hands, "B4a", B4, "11:18", "11:21")
    wetted(hands, "B1", B1, "11:30", "11:33")
    hands.key(".", "9", "2")
    assert hands.scene.name == "line" and hands.shows("B1, attempt 1")


def test_the_loudspeaker_hears_the_line_whatever_screen_is_open(hands: Hands) -> None:
    """As the window wires it: the watch reads, the announcer speaks, the line screen mutes."""
    watch, sound = LineWatch(hands.shop.work), Announcer(lambda: _ignore, lambda: _ignore)
    hands.booth.sound = sound  # type: ignore[attr-defined]
    wetted(hands, "B4a", B4, "11:18", "11:21")
    hands.scan("command:CANCEL")
    sound.update(watch.look(), hands.at("12:50:59").now())
    sound.update(watch.look(), hands.at("12:51").now())
    assert sound.twin() == ("Basket four A. Fifteen minutes to start the wash.",)
    hands.key("7")
    assert hands.shows("B4a: Fifteen minutes to start the wash.")  # on the line screen without any sound
    hands.key("*")
    assert hands.booth.message == "sound off until 13:01" and sound.is_muted(hands.now())
    hands.booth.message = ""
    assert hands.shows("sound off until 13:01")  # for as long as it lasts
    hands.key("1", "*")
    assert hands.shows("Sound off for a while")
    sound.stop()


def _ignore(_what: object) -> None:
    pass
