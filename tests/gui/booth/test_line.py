"""The penetrant line worked by keys, scans and the pedal (enter): baskets B1, B4a and B5 of the demonstration day."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from ndi.domain import facts as f
from ndi.gui.presenters.scene import Shape, Tiles, Until
from ndi.services.line_basket import Where
from tests.build import at
from tests.gui.booth.line_day import B1, B4, B5, RECORDS, Hands, begin, load, part_of


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


def wet(hands: Hands, first: str, last: str, temperature: str) -> Hands:
    """Wetting with all its ticks: four keys, a number, the pedal twice."""
    hands.at(first).key("enter", "enter")  # dry before wetting; first part wet
    hands.key("1", "1").number(temperature)  # wetted by flow; no contact; part temperature
    return hands.at(last).key("enter")


def to_the_developer(hands: Hands, into: str, out: str, on: str, done: str) -> Hands:
    """Dryer and developer with their ticks."""
    hands.at(into).key("enter").at(out).key("enter", "enter")  # in; out, dry
    return hands.at(on).key("enter", "1").at(done).key("enter", "enter")  # on, form a; done, coat on all zones


# --- B1 -------------------------------------------------------------------------------------------


def test_b1_from_loading_to_its_viewing_window(hands: Hands) -> None:
    """Times of the day, moved by 60 min; the book's morning ends later than the line's began."""
    load(hands.at("08:33"), "B1", B1)
    assert hands.state("B1").stage is Where.LOADED and hands.shows("Method A line", "dry before wetting")
    wet(hands, "08:35", "08:38", "72")
    assert hands.shows("Wash from 09:08 to 10:29", "dwelling")
    hands.at("09:10").key("enter", "1").number("14")  # wash; did not dry on; nozzle
    hands.at("09:14").key("enter", "1")  # the wash ends, clean
    to_the_developer(hands, "09:16", "09:34", "09:36", "09:37")
    assert hands.times("B1") == {
        "wet": ("08:35", "08:38"),
        "wash": ("09:10", "09:14"),
        "dry": ("09:16", "09:34"),
        "develop": ("09:36", "09:37"),
    }
    assert hands.ticks("B1") == {
        "dry before wetting": "yes",
        "wetted by": "flow",
        "no contact, cavities drain": "yes",
        "penetrant did not dry on": "yes",
        "dry at dryer out": "yes",
        "developer form": "a",
        "developer on all zones": "yes",
    }
    assert hands.observed("B1") == {"part temperature": "72 degF", "nozzle distance": "14 in"}
    (first,) = [r.fact for r in hands.facts(f.StepStarted, "B1") if r.fact.step == "wet"]
    assert first.pieces == 2  # each scanned by itself
    assert hands.facts(f.StepEnded, "B1")[1].fact.outcome == "clean"
    answers = hands.answers("PT-001")
    assert {
        rule: answers[rule] for rule in ("P02", "P03", "P06", "P07", "P16", "P17", "P19", "P21", "P23")
    } == dict.fromkeys(("P02", "P03", "P06", "P07", "P16", "P17", "P19", "P21", "P23"), "PASS")
    state = hands.state("B1")
    assert state.where(at("09:46")) is Where.DEVELOPING and state.where(at("09:47")) is Where.WINDOW
    assert state.where(at("13:36")) is Where.WINDOW and state.where(at("13:36:01")) is Where.PAST


def test_the_time_of_an_end_is_the_press_not_the_answer(hands: Hands) -> None:
    """The wash ends when the pedal is pressed, although the background is stated 40 s later."""
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "72")
    hands.at("09:10").key("enter").at("09:14").key("enter")
    hands.restarted()  # killed in between: the mark is kept
    hands.at("09:14:40").key("2")
    (end,) = [r for r in hands.facts(f.StepEnded, "B1") if r.fact.step == "wash"]
    assert (end.when.clock(), end.fact.outcome, str(end.how)) == ("09:14", "light background", "timer")


def test_a_mark_is_taken_back_before_it_is_in_the_book(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "72")
    hands.at("09:10").key("enter").at("09:12").key("enter", "-")
    assert "wash" in hands.times("B1") and len(hands.times("B1")["wash"]) == 1
    hands.at("09:14").key("enter", "0")  # background left open: the end is recorded, P17 stays open
    assert hands.times("B1")["wash"] == ("09:10", "09:14")
    assert hands.answers("PT-001")["P17"] == "NOT RECORDED"


def test_leaving_the_basket_records_the_marked_end(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "72")
    hands.at("09:10").key("enter").at("09:14").key("enter").at("09:15").key(".")
    assert hands.times("B1")["wash"] == ("09:10", "09:14")
    assert any(isinstance(part, Tiles) for part in hands.scene.parts)


def test_a_no_is_possible_and_fails_its_rule(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    hands.key("2")  # not dry before wetting
    assert hands.ticks("B1") == {"dry before wetting": "no"}
    hands.at("08:35").key("enter")
    assert hands.answers("PT-001")["P03"] == "FAIL"


def test_nothing_is_answered_by_enter_that_is_not_yes_or_no(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    hands.at("08:35").key("enter", "enter").at("08:38").key("enter")
    assert "nothing is proposed for wetted by" in hands.refused("enter")
    assert hands.ticks("B1") == {"dry before wetting": "yes"}


def test_what_was_left_open_is_asked_again_at_the_next_stage(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    hands.at("08:35").key("enter", "enter", "0", "0")  # wetted by and no contact are left open
    assert hands.shows("part temperature") and not hands.shows("3 brush")
    hands.key("2", "1", "enter")  # now digits are the temperature
    assert hands.observed("B1") == {"part temperature": "21 degF"}
    hands.key("-")  # undone
    assert hands.observed("B1") == {}
    hands.at("08:38").key("enter")
    assert hands.shows("3 brush")


def test_too_early_is_said_and_washed_all_the_same_only_on_purpose(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "72")
    assert "too early: 3 min to go" in hands.at("09:05").refused("enter")
    hands.key("0", "enter")
    assert hands.times("B1")["wash"] == ("09:05",)
    assert hands.answers("PT-001")["P06"] == "FAIL"


def test_a_cold_part_dwells_longer(hands: Hands) -> None:
    """Twice the base below 60 F (T.O. 33B-1-1 dwell table): ready at 09:38, not 09:08."""
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "55")
    assert hands.shows("Wash from 09:38 to 10:29")
    assert hands.state("B1").where(at("09:37")) is Where.DWELLING


def test_steps_by_command_codes_and_a_double_scan(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    hands.at("08:35").scan("command:START WET")
    hands.booth.scan("command:START WET")
    assert hands.booth.refused and "runs already" in hands.booth.message
    hands.at("08:38").scan("command:END WET").at("09:10").scan("command:START WASH")
    hands.at("09:14").scan("command:END WASH").key("1")
    hands.booth.scan("command:END DRY")
    assert hands.booth.refused and "does not run" in hands.booth.message
    assert hands.times("B1") == {"wet": ("08:35", "08:38"), "wash": ("09:10", "09:14")}


def test_parts_are_ticked_by_key_and_a_part_that_was_left_out_still_waits(hands: Hands) -> None:
    hands.at("08:33").key("7", "0")
    assert hands.shows("B7", "B8")
    hands.key("1", "1", "2", "2", "enter")  # basket B7; first part in, second in and out again
    assert [r.fact.inspections for r in hands.facts(f.BasketLoaded, "B7")] == [("PT-001",)]
    hands.scan("basket:B8")
    assert hands.shows("PT-002") and not hands.shows("PT-001")


def test_a_lot_is_counted_by_typing_because_its_code_is_one(hands: Hands) -> None:
    load(hands.at("10:19"), "B5", B5)
    assert hands.shows("pieces in the basket", "6 by the records")
    assert "nothing is proposed" in hands.refused("enter")
    hands.number("6").key("enter", "enter")
    assert [r.fact.pieces for r in hands.facts(f.StepStarted, "B5")] == [6]


def test_two_methods_in_one_basket_are_refused(hands: Hands) -> None:
    hands.at("08:33").scan("basket:B7", f"part:{part_of('PT-001')}", f"part:{part_of('PT-018')}")
    assert "two removal methods in one basket" in hands.refused("enter")


def test_a_part_in_a_basket_does_not_wait_for_another(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    hands.scan("basket:B7")
    hands.booth.scan(f"part:{part_of('PT-001')}")
    assert hands.booth.refused and "does not wait for a basket" in hands.booth.message


def test_a_basket_is_used_again_under_a_name_of_its_own(hands: Hands) -> None:
    load(hands.at("08:33"), "B7", ("PT-001",))
    hands.key("*", "1")  # given up: too long wet
    load(hands.at("08:50"), "B7", ("PT-001",))
    assert [r.fact.attempt for r in hands.facts(f.BasketLoaded, "B7/2")] == [2]
    assert hands.state("B7/2").next is not None and hands.shows("Pre-clean")


# --- B4a: over-dwell, attempt 2 -------------------------------------------------------------------


def test_b4a_is_over_dwelled_given_up_and_goes_again_as_attempt_2(hands: Hands) -> None:
    load(hands.at("11:17"), "B4a", B4)
    wet(hands, "11:18", "11:21", "75")
    # E08: lunch at 11:25
    hands.at("11:25").key(".", "9")
    sentence = "Wash B4a from 11:51, start at the latest 13:06 (11:18 + 120 min - 12 min work)"
    assert hands.scene.name == "lunch" and hands.shows(sentence, "back by 12:51", "Yes, back by 12:51")
    hands.at("12:51")
    assert hands.shows("No") and not hands.shows("Yes")
    hands.key("1")
    assert hands.scene.name == "line" and hands.shows("B4a, attempt 1")
    # E14, E15
    hands.key(".").at("13:06:01")
    assert hands.shows("cannot finish any more in time")
    hands.at("13:18")
    assert not hands.shows("stop")
    hands.at("13:18:01")
    assert hands.shows("ready to wash: stop")
    # the parts are washed all the same, by somebody else, and then given up
    hands.scan("person:CLN-J", "basket:B4a").at("13:34")
    assert hands.shows("Wash limit 13:18 is past", "give the attempt up")
    hands.key("0", "enter", "1").number("14")
    hands.at("13:36").key("enter", "1")
    assert hands.times("B4a") == {"wet": ("11:18", "11:21"), "wash": ("13:34", "13:36")}
    assert hands.shows("138 min", "Stop")
    hands.key("enter", "1")
    voided = hands.facts(f.AttemptVoided, "B4a")
    assert [r.fact.inspection for r in voided] == list(B4) and "138 min" in voided[0].fact.reason
    assert hands.state("B4a").stage is Where.GIVEN_UP
    # attempt 2 in the same minute
    load(hands, "B4b", B4)
    assert [r.fact.attempt for r in hands.facts(f.BasketLoaded, "B4b")] == [2]
    assert [state.basket for state in hands.states()] == ["B4b"]
    hands.key("0", "enter").at("14:15").key("enter")  # dry is asked first and left open: pre-clean
    assert hands.times("B4b") == {"preclean": ("13:36", "14:15")}
    wet(hands.scan("person:L1-D"), "14:20", "14:23", "78")
    assert hands.times("B4b")["wet"] == ("14:20", "14:23")
    answers = hands.answers("PT-019")
    assert (answers["P39"], answers["P40"], answers["P07"]) == ("PASS", "PASS", "NOT YET")


def test_wetted_again_the_longest_counts_from_the_second_wetting(hands: Hands) -> None:
    load(hands.at("11:17"), "B4a", B4)
    wet(hands, "11:18", "11:21", "75")
    hands.at("11:40").key("*")
    assert hands.shows("Wet again", "Sound off")
    hands.key("7").at("11:42").key("enter")
    assert hands.times("B4a")["wet"] == ("11:18", "11:40", "11:21", "11:42")
    action = hands.state("B4a").next
    assert action is not None and action.limit is not None and action.latest is not None
    assert (action.limit.clock(), action.latest.clock()) == ("13:40", "13:28")


def test_over_washed_stops_the_process(hands: Hands) -> None:
    load(hands.at("11:17"), "B4a", B4)
    wet(hands, "11:18", "11:21", "75")
    hands.at("11:55").key("enter").at("12:00").key("enter", "3")
    assert hands.shows("P18", "give the attempt up")
    hands.key("enter")
    assert hands.shows("Give up: P18", "Give up: over-washed")


# --- B5: Method D ---------------------------------------------------------------------------------


def test_b5_with_its_steps_of_seconds(hands: Hands) -> None:
    load(hands.at("10:19"), "B5", B5)
    hands.number("6")
    wet(hands, "10:20", "10:23", "70")
    assert hands.shows("Prewash from 10:53 to 12:19")
    hands.at("10:56").key("enter", "1")  # prewash; did not dry on
    big = hands.scene.parts[0].left[0]  # type: ignore[union-attr]
    assert big.number == Until(at("10:56").at, counts_up=True)  # type: ignore[union-attr]
    assert big.caption == "End of prewash, at most 1 min" and big.shape is Shape.RUNNING  # type: ignore[union-attr]
    hands.at("10:56:50").key("enter").at("10:58").key("enter")
    assert hands.shows("End of remover, 30 s to 2 min")
    assert "too early" not in hands.booth.message
    hands.at("10:59:30").key("enter").at("10:59:40").key("enter").number("14")  # remover ends; rinse
    assert hands.shows("End of rinse, at most 1 min")
    hands.at("11:00:30").key("enter", "1", "enter")  # rinse ends, clean, checked under UV-A
    to_the_developer(hands, "11:02", "11:14", "11:15", "11:16")
    assert hands.times("B5") == {
        "wet": ("10:20", "10:23"),
        "prewash": ("10:56", "10:56:50"),
        "remover": ("10:58", "10:59:30"),
        "wash": ("10:59:40", "11:00:30"),
        "dry": ("11:02", "11:14"),
        "develop": ("11:15", "11:16"),
    }
    answers = hands.answers("PT-018")
    assert {rule: answers[rule] for rule in ("P06", "P07", "P11", "P12", "P14", "P21", "P23")} == dict.fromkeys(
        ("P06", "P07", "P11", "P12", "P14", "P21", "P23"), "PASS"
    )


def test_remover_too_long_stops_by_the_clock(hands: Hands) -> None:
    load(hands.at("10:19"), "B5", B5)
    hands.number("6")
    wet(hands, "10:20", "10:23", "70")
    hands.at("10:56").key("enter").at("10:56:50").key("enter").at("10:58").key("enter")
    state = hands.state("B5")
    assert state.stopped(at("11:00")) == "" and "remover limit 11:00 is past" in state.stopped(at("11:00:01"))


# --- loading and counting -------------------------------------------------------------------------


def test_loading_by_command_code_with_the_basket_scanned_last(hands: Hands) -> None:
    load(hands.at("11:17"), "B4a", B4)
    hands.key("*", "1")
    hands.scan("command:LOAD BASKET", *(f"part:{part_of(name)}" for name in B4)).key("enter")
    assert [r.fact.attempt for r in hands.facts(f.BasketLoaded, "B4a/2")] == [2]


def test_a_given_up_basket_is_loaded_again_by_enter(hands: Hands) -> None:
    load(hands.at("11:17"), "B4a", B4)
    hands.key("*", "2")
    assert [r.fact.reason for r in hands.facts(f.AttemptVoided, "B4a")] == ["over-washed"] * 4
    hands.key("enter")
    assert hands.shows("Load B4a/2", "attempt 2")


def test_of_two_lines_with_the_penetrant_one_is_chosen(hands: Hands) -> None:
    hands.shop.record(f.TankFilled("Method D line", ("PEN-1", "DEV-1")), by="L1-D")
    hands.at("08:33").scan("basket:B7", f"part:{part_of('PT-001')}")
    assert "choose the line" in hands.refused("enter")
    hands.key("+", "+", "enter")
    assert [r.fact.line for r in hands.facts(f.BasketLoaded, "B7")] == ["Method D line"]


def test_pieces_are_counted_by_scans_when_the_count_was_lost(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    hands.booth.screen.counts.clear()  # type: ignore[attr-defined]
    hands.scan(f"part:{part_of('PT-001')}", f"part:{part_of('PT-001')}")
    assert hands.shows("1 counted of 2 by the records")
    hands.scan(f"part:{part_of('PT-002')}").key("enter", "enter")  # dry before wetting; wet
    assert [r.fact.pieces for r in hands.facts(f.StepStarted, "B1")] == [2]


def test_each_part_has_its_count_under_the_nozzle(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "72")
    hands.at("09:10").key("enter").scan(f"part:{part_of('PT-002')}")
    hands.at("09:12").scan(f"part:{part_of('PT-001')}").restarted()
    (side,) = hands.scene.parts
    assert side.left[1].number == Until(at("09:12").at, counts_up=True)  # type: ignore[union-attr]
    assert side.left[1].caption == "part 2 of 2, at most 3 min each"  # type: ignore[union-attr]


# --- all together ---------------------------------------------------------------------------------


def test_tiles_stand_by_latest_start_and_keys_open_them(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "72")
    load(hands.at("08:40"), "B5", B5)
    hands.number("6")
    wet(hands, "08:41", "08:44", "70")
    load(hands.at("08:50"), "B4a", B4)
    hands.key(".")
    (tiles,) = [part for part in hands.scene.parts if isinstance(part, Tiles)]
    # B1: 08:35 + 120 - 2 x 3; B5: 08:41 + 120 - 1; B4a is not wet
    assert [(t.title, t.key, t.word) for t in tiles.tiles] == [
        ("B1", "1", "dwelling"),
        ("B5", "2", "dwelling"),
        ("B4a", "3", "loaded"),
    ]
    assert tiles.tiles[0].big == Until(at("09:08").at)
    hands.at("09:09")
    (tiles,) = [part for part in hands.scene.parts if isinstance(part, Tiles)]
    assert tiles.tiles[0].big == Until(at("10:29").at) and tiles.tiles[0].word == "ready to wash"
    hands.key("2")
    assert hands.shows("B5, attempt 1")


def test_a_killed_window_comes_back_in_the_middle(hands: Hands) -> None:
    hands.at("08:33").scan("basket:B7", f"part:{part_of('PT-001')}").restarted().key("enter")
    hands.restarted().at("08:35").key("enter")
    hands.restarted().key("enter")  # the piece that was counted is still known
    assert [r.fact.pieces for r in hands.facts(f.StepStarted, "B7")] == [1]


@pytest.mark.parametrize("seed", range(3))
def test_no_key_or_code_in_any_order_breaks_the_screen(hands: Hands, seed: int) -> None:
    """A walk of random keys, scans and waiting: refusals are said, nothing is raised, and every screen comes back."""
    chance = random.Random(seed)
    steps = ("WET", "PREWASH", "REMOVER", "WASH", "DRY", "DEVELOP", "PRECLEAN", "IMMERSE")
    codes = [f"part:{part_of(name)}" for name in RECORDS] + [f"basket:{name}" for name in ("B1", "B7", "B8")]
    codes += [f"command:{word} {step}" for word in ("START", "END") for step in steps] + ["command:LOAD BASKET"]
    load(hands.at("08:33"), "B1", B1)
    for _ in range(90):
        if chance.random() < 0.75:
            hands.booth.press(chance.choice("0123456789+-*.") if chance.random() < 0.6 else "enter")
        else:
            hands.booth.scan(chance.choice(codes))
        if chance.random() < 0.3:
            hands.shop.after(chance.choice((5, 40, 300, 1800)))
        if hands.scene.name != "line":
            hands.scan("command:CANCEL").key("7")
        shown = hands.scene
        assert hands.restarted().scene.parts == shown.parts


def test_a_stranger_does_nothing(hands: Hands) -> None:
    hands.booth.hand.person = None
    hands.at("08:33").scan("basket:B7", f"part:{part_of('PT-001')}")
    assert "nobody is at this station" in hands.refused("enter")


def test_viewed_parts_are_off_the_line(hands: Hands) -> None:
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "72")
    hands.at("09:10").key("enter", "1").number("14").at("09:14").key("enter", "1")
    to_the_developer(hands, "09:16", "09:34", "09:36", "09:37")
    from ndi.services import inspecting

    for inspection, first, last in (("PT-001", "09:50", "10:05"), ("PT-002", "10:06", "10:20")):
        hands.at(first)
        inspecting.start_view(hands.shop.work, f"{inspection}/view", inspection, "L2-B", ["LP-3"], station="PT booth")
        hands.at(last)
        inspecting.end_view(hands.shop.work, f"{inspection}/view", zones=("NOSE",), nothing_seen=True)
        expected = {"PT-001": ("PT-002",), "PT-002": ()}[inspection]
        assert hands.state("B1").unseen == expected
    assert hands.states() == () and hands.state("B1").stage is Where.VIEWED


def test_each_part_that_is_scanned_under_the_nozzle_gets_its_own_wash_time(hands: Hands) -> None:
    """Scanned as each one's wash begins; the next scan, or the end of the wash, ends it.  P16 then needs no mean."""
    load(hands.at("08:33"), "B1", B1)
    wet(hands, "08:35", "08:38", "72")
    hands.at("09:10").key("enter", "1").number("14")
    hands.at("09:10:10").scan(f"part:{part_of('PT-001')}")
    hands.at("09:12:00").scan(f"part:{part_of('PT-002')}")
    assert hands.restarted().shows("part 2 of 2, at most 3 min each")
    hands.at("09:14").key("enter", "1")
    timed = {
        r.fact.piece.rpartition("/")[2]: (r.fact.began.clock(), r.when.clock()) for r in hands.facts(f.PieceTimed, "B1")
    }
    assert timed == {"CC-L-0871": ("09:10:10", "09:12"), "CC-R-0871": ("09:12", "09:14")}
    to_the_developer(hands, "09:16", "09:34", "09:36", "09:37")
    (p16,) = [a for a in hands.shop.judge("PT-001").answers if a.rule == "P16"]
    assert (p16.verdict, p16.found) == ("PASS", "CC-L-0871 110 s; CC-R-0871 2 min")
