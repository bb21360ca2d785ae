"""What is said of the baskets, second by second, and in which words: exact."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import combinations

import pytest

from ndi.domain.moment import Moment
from ndi.domain.vocabulary import Step
from ndi.gui.presenters.booth.announcements import alarm, announcements, in_words, motif, spoken
from ndi.services.line_basket import BasketState, Level, Where
from ndi.services.line_limits import Action, Do
from tests.build import at


def wash(basket: str = "B4", **changed: object) -> BasketState:
    """Wet since 11:18: ready 11:51, wash at the latest 13:06, over by 13:18; amber 15 min before."""
    action = Action(
        Do.START, "Wash", Step.WASH, at("11:51"), at("11:18"), at("13:06"), at("13:18"), "wash limit", "P07", True
    )
    return replace(state(basket, Where.DWELLING, action), **changed)  # type: ignore[arg-type]


def remover(basket: str = "B5") -> BasketState:
    """In the remover since 10:58, 30 to 120 s."""
    action = Action(
        Do.END,
        "End of remover",
        Step.REMOVER,
        at("10:58:30"),
        at("10:58"),
        at("11:00"),
        at("11:00"),
        "remover limit",
        "P12",
        True,
        True,
    )
    return state(basket, Where.IN_REMOVER, action)


def dryer(basket: str = "B3") -> BasketState:
    """Out of the wash at 09:52, into the dryer by 10:02; amber in the last quarter, 2 min 30 s."""
    action = Action(
        Do.START, "Into the dryer", Step.DRY, None, at("09:52"), at("10:02"), at("10:02"), "dryer limit", "P19"
    )
    return state(basket, Where.WASHED, action)


def state(basket: str, stage: Where, action: Action) -> BasketState:
    return BasketState(
        basket, "line", "A", 1, ("PT-1",), ("P1",), 4, 4, stage, (), (action,), (), (), (), timedelta(minutes=15)
    )


def heard(one: BasketState, begin: str, end: str) -> list[tuple[str, str, bool, Level]]:
    """Everything that is said while the clock ticks each second: time, text, with motif, level."""
    found = []
    now, last = at(begin), at(end)
    while now.at < last.at:
        then, now = now, Moment(now.at + timedelta(seconds=1), now.offset_min)
        found += [(now.clock(), a.text, a.motif is not None, a.level) for a in announcements([one], [one], then, now)]
    return found


def test_amber_is_said_when_it_begins_and_then_once_a_minute() -> None:
    said = heard(wash(), "12:50", "12:53:30")
    assert said == [
        ("12:51", "Basket four. Fifteen minutes to start the wash.", True, Level.AMBER),
        ("12:52", "Basket four. Fourteen minutes to start the wash.", True, Level.AMBER),
        ("12:53", "Basket four. Thirteen minutes to start the wash.", True, Level.AMBER),
    ]


def test_after_the_latest_start_the_wash_limit_counts() -> None:
    assert alarm(wash(), at("13:12")) == "Basket four. Cannot finish any more in time. Six minutes to wash limit."
    assert alarm(wash(), at("13:06")) == "Basket four. Zero seconds to start the wash."


def test_red_repeats_its_motif_every_ten_seconds_and_speaks_once_a_minute() -> None:
    said = heard(wash(), "13:17:59", "13:19:05")
    assert [s[0] for s in said if s[3] is Level.RED] == [
        "13:18:01",
        *(f"13:18:{second}" for second in (10, 20, 30, 40, 50)),
        "13:19",
    ]
    assert {s[1] for s in said if s[3] is Level.RED and s[1]} == {"Basket four. Wash limit is past. Stop."}
    assert [s[0] for s in said if s[3] is Level.RED and s[1]] == ["13:18:01", "13:19"]


def test_at_the_limit_is_within_it() -> None:
    assert wash().level(at("13:18")) is Level.AMBER and wash().level(at("13:18:01")) is Level.RED
    assert wash().level(at("12:50:59")) is Level.CALM and wash().level(at("12:51")) is Level.AMBER


def test_a_short_window_turns_amber_in_its_last_quarter() -> None:
    assert heard(dryer(), "09:59", "10:00") == [
        ("09:59:30", "Basket three. Two minutes to dryer limit.", True, Level.AMBER)
    ]
    assert alarm(dryer(), at("10:01:20")) == "Basket three. Forty seconds to dryer limit."
    assert alarm(dryer(), at("10:01")) == "Basket three. One minute to dryer limit."


def test_the_remover_is_counted_down() -> None:
    counted = [(clock, text) for clock, text, tune, _ in heard(remover(), "10:58", "11:00") if not tune]
    assert counted == [
        ("10:58:30", "Remover: shortest time reached."),
        ("10:59:50", "Remover: ten"),
        *(
            (f"10:59:{51 + place}", word)
            for place, word in enumerate("nine eight seven six five four three two one".split())  # noqa: SIM905
        ),
        ("11:00", "zero"),
    ]


def test_a_missed_second_is_not_said_late() -> None:
    one = remover()
    (said,) = [a.text for a in announcements([one], [one], at("10:59:51"), at("10:59:55")) if a.motif is None]
    assert said == "five"


def test_a_count_comes_before_a_motif() -> None:
    both = (wash(), remover())
    said = announcements(both, both, at("10:59:49"), at("10:59:50"))
    assert said[0].motif is None


def test_ready_is_said_once() -> None:
    assert heard(wash(), "11:50", "11:55") == [("11:51", "Basket four. Ready for wash.", True, Level.CALM)]


def test_what_presses_is_said_at_once_when_the_window_opens_and_when_a_rule_stops_it() -> None:
    (first,) = announcements([], [wash()], None, at("13:00"))
    assert first.level is Level.AMBER
    stopped = wash(stops=("P18: over-washed",))
    (said,) = announcements([wash()], [stopped], at("12:00"), at("12:00:01"))
    assert (said.text, said.level) == ("Basket four. Stop: a rule is broken.", Level.RED)


def test_nothing_is_said_of_what_is_off_the_line() -> None:
    gone = wash(stage=Where.GIVEN_UP)
    assert heard(gone, "13:17", "13:20") == []


def test_nothing_is_said_of_a_basket_without_limits() -> None:
    free = state("B1", Where.LOADED, Action(Do.START, "Wet", Step.WET))
    assert heard(free, "13:17", "13:20") == []


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("B4", "Basket four"),
        ("B4a", "Basket four A"),
        ("B21", "Basket twenty-one"),
        ("B4/2", "Basket four, use two"),
        ("KORB-X", "Basket KORB-X"),
    ],
)
def test_names_as_they_are_spoken(name: str, words: str) -> None:
    assert spoken(name) == words


@pytest.mark.parametrize(
    ("number", "words"),
    [(0, "zero"), (13, "thirteen"), (20, "twenty"), (42, "forty-two"), (99, "ninety-nine"), (120, "120")],
)
def test_numbers_in_words(number: int, words: str) -> None:
    assert in_words(number) == words


def test_baskets_of_a_day_have_motifs_of_their_own() -> None:
    names = [f"B{number}" for number in range(1, 10)] + ["B4a", "B4b"]
    assert all(motif(one) != motif(other) for one, other in combinations(names, 2))
    assert all(low != high and min(low, high) >= 200 and max(low, high) <= 600 for low, high in map(motif, names))
    assert motif("B4") == motif("B4")
