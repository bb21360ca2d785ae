"""P22 to P27, P41, P42: developer, viewing times, wiped indications, re-views."""

from __future__ import annotations

from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.outcome import Outcome
from ndi.domain.procedure import Parameter
from ndi.rules.penetrant_developing import re_view_possible
from tests import build
from tests.build import at, inquiry, num, rec
from tests.rules.penetrant_day import PART, Fact, ask, basket, end, load, minute, start, wiped_spot

PASS, FAIL, NOT_RECORDED, NOT_YET, NOT_APPLICABLE = (
    Verdict.PASS,
    Verdict.FAIL,
    Verdict.NOT_RECORDED,
    Verdict.NOT_YET,
    Verdict.NOT_APPLICABLE,
)


# --- P22, P23 ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # 30 min: training sheet on developers
    ("put_on", "verdict"),
    [("09:39:59", PASS), ("09:40", PASS), ("09:40:01", FAIL), ("09:58", FAIL)],
)
def test_p22_dryer_to_developer_at_limit(put_on: str, verdict: Verdict) -> None:
    assert ask("P22", basket(develop=(put_on, "09:59"), view=None)).verdict is verdict


def test_p22_waiting_not_yet_then_fails() -> None:
    facts = basket(develop=None, view=None)
    assert ask("P22", facts, "09:40").verdict is NOT_YET
    assert ask("P22", facts, "09:40:01").verdict is FAIL


@pytest.mark.parametrize("missing", [{"dry": None}, {"dry": ("08:50", None)}, {"develop": None}])
def test_p22_missing_time_not_recorded(missing: dict[str, Any]) -> None:
    assert ask("P22", basket(**missing)).verdict is NOT_RECORDED


def test_p23_other_form_fails() -> None:
    answer = ask("P23", basket(ticks={"developer form": "d"}))
    assert (answer.verdict, answer.found, answer.limit) == (FAIL, "form d", "form a")


@pytest.mark.parametrize("missing", ["developer form", "developer on all zones"])
def test_p23_missing_tick_not_recorded(missing: str) -> None:
    assert ask("P23", basket(without=[missing])).verdict is NOT_RECORDED


def test_p23_coat_incomplete_fails_and_form_missing_in_technique_not_recorded() -> None:
    assert ask("P23", basket(ticks={"developer on all zones": "no"})).verdict is FAIL
    assert ask("P23", basket(), technique=build.technique(developer_form=None)).verdict is NOT_RECORDED


# --- P24, P25 ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # 10 min: common practice for dry developer
    ("viewed", "verdict", "found"),
    [
        ("09:23:59", FAIL, "9 min 59 s"),
        ("09:24", PASS, "10 min"),
        ("09:24:01", PASS, "10 min 1 s"),
        ("09:21", FAIL, "7 min"),
    ],
)
def test_p24_shortest_developing_at_limit(viewed: str, verdict: Verdict, found: str) -> None:
    answer = ask("P24", basket(view=(viewed, "09:50")))
    assert (answer.verdict, answer.found, answer.limit) == (verdict, found, "at least 10 min")


def test_p24_not_viewed_yet_says_when_ready() -> None:
    facts = basket(view=None)
    answer = ask("P24", facts, "09:20")
    assert (answer.verdict, answer.says) == (NOT_YET, "developing: 6 min elapsed, ready 09:24")
    assert answer.ways_out == ("wait 4 min",)
    assert ask("P24", facts, "09:24").verdict is PASS


def test_p24_each_view_counts() -> None:
    facts = [*basket(), *build.view("09:20", "09:22", name="V0")]
    answer = ask("P24", facts)
    assert (answer.verdict, answer.says) == (FAIL, "developing before view V0 6 min, 4 min too short")


def test_p24_second_look_is_not_judged() -> None:
    assert ask("P24", [*basket(), *build.view("09:20", "09:22", name="SL1", kind="second look")]).verdict is PASS


@pytest.mark.parametrize("missing", [{"develop": None}, {"develop": ("09:12", None)}])
def test_p24_developer_times_missing_not_recorded(missing: dict[str, Any]) -> None:
    assert ask("P24", basket(**missing)).verdict is NOT_RECORDED


def test_p24_developer_going_on_not_yet() -> None:
    assert ask("P24", basket(develop=("09:12", None), view=None), "09:13").verdict is NOT_YET


def test_p24_post_cleaned_without_a_view_not_recorded() -> None:
    assert ask("P24", basket(view=None, postclean=("10:00", "10:05"))).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    # 240 min: practice for dry developer, from memory
    ("ended", "verdict", "found"),
    [
        ("13:11:59", PASS, "239 min 59 s"),
        ("13:12", PASS, "240 min"),
        ("13:12:01", FAIL, "240 min 1 s"),
        ("13:24", FAIL, "252 min"),
    ],
)
def test_p25_longest_developing_at_limit(ended: str, verdict: Verdict, found: str) -> None:
    answer = ask("P25", basket(view=("09:30", ended)))
    assert (answer.verdict, answer.found) == (verdict, found)


def test_p25_viewing_not_yet_then_fails() -> None:
    facts = basket(view=("09:30", None))
    assert ask("P25", facts, "13:12").verdict is NOT_YET
    assert ask("P25", facts, "13:12:01").verdict is FAIL


def test_p25_never_viewed_not_yet_then_fails() -> None:
    assert ask("P25", basket(view=None), "13:12").verdict is NOT_YET
    assert ask("P25", basket(view=None), "13:12:01").verdict is FAIL


def test_p25_last_view_counts() -> None:
    assert ask("P25", [*basket(), *build.view("13:00", "13:12:01", name="V2")]).verdict is FAIL


def test_p25_no_developer_or_cleaned_without_view_not_recorded() -> None:
    assert ask("P25", basket(develop=None)).verdict is NOT_RECORDED
    assert ask("P25", basket(view=None, postclean=("10:00", "10:05"))).verdict is NOT_RECORDED


def test_p25_technique_window_of_a_basket_mate_counts() -> None:
    # 60 min: practice for nonaqueous developer, from memory
    short = Parameter("develop_max", num("60 min"), "3", "from memory")
    other = build.technique(number="T-2", windows={"develop_max": short})
    assert ask("P25", basket(view=("09:30", "10:12")), techniques={"X-002": other}).verdict is PASS
    assert ask("P25", basket(view=("09:30", "10:12:01")), techniques={"X-002": other}).verdict is FAIL
    assert ask("P25", basket(view=("09:30", "10:12:01"))).verdict is PASS


def test_p25_minute_stamps_stand_as_written() -> None:
    facts = [
        *basket(view=None),
        rec(f.ViewStarted("V1", "X-001", "L2-B", ("LP-1",), "first"), "09:30"),
        rec(f.ViewEnded("V1", "X-001"), minute("13:12")),
    ]
    assert ask("P25", facts).verdict is PASS


# --- P26, P27 ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # 10 min local redeveloping: common practice, no source
    ("looked", "verdict"),
    [("09:49:59", FAIL), ("09:50", PASS), ("09:50:01", PASS), ("09:42", FAIL)],
)
def test_p26_redeveloped_at_limit(looked: str, verdict: Verdict) -> None:
    assert ask("P26", [*basket(), *wiped_spot(("wiped", "09:40"), ("redeveloped", looked))]).verdict is verdict


def test_p26_nothing_wiped_not_applicable() -> None:
    answer = ask("P26", [*basket(), *wiped_spot(("described", "09:40"))])
    assert (answer.verdict, answer.says) == (NOT_APPLICABLE, "condition of the rule: no indication was wiped")


def test_p26_waiting_not_yet_then_look_not_recorded() -> None:
    facts = [*basket(), *wiped_spot(("wiped", "09:40"))]
    answer = ask("P26", facts, "09:48")
    assert (answer.verdict, answer.says) == (
        NOT_YET,
        "IND-1: redeveloping after the wipe at 09:40: 8 min elapsed, ready 09:50",
    )
    assert ask("P26", facts, "09:50").verdict is NOT_RECORDED


def test_p26_each_wipe_needs_its_own_time() -> None:
    twice = wiped_spot(("wiped", "09:40"), ("redeveloped", "09:42"), ("wiped", "09:43"), ("redeveloped", "09:55"))
    assert ask("P26", [*basket(), *twice]).verdict is FAIL
    wiped_again = wiped_spot(("wiped", "09:40"), ("wiped", "09:43"), ("redeveloped", "09:53"))
    assert ask("P26", [*basket(), *wiped_again]).verdict is PASS


@pytest.mark.parametrize(
    ("interpretation", "looked", "item_class", "verdict"),
    [
        ("false", "10:30", 1, PASS),
        ("false", None, 1, NOT_RECORDED),
        (None, None, 1, NOT_RECORDED),
        ("false", None, 2, PASS),
        (None, None, 2, PASS),
    ],
)
def test_p26_second_look_where_the_procedure_asks(
    interpretation: str | None, looked: str | None, item_class: int, verdict: Verdict
) -> None:
    wiped = wiped_spot(("wiped", "09:40"), ("redeveloped", "09:52"), interpretation=interpretation, looked=looked)
    assert ask("P26", [*basket(), *wiped], master=build.master(item_class=item_class)).verdict is verdict


@pytest.mark.parametrize(("count", "verdict"), [(1, PASS), (2, PASS), (3, FAIL)])
def test_p27_wipes_at_limit(count: int, verdict: Verdict) -> None:
    wiped = wiped_spot(*(("wiped", f"09:4{number}") for number in range(count)))
    answer = ask("P27", [*basket(), *wiped])
    assert (answer.verdict, answer.found) == (verdict, f"IND-1: wipes {count}")


def test_p27_nothing_wiped_not_applicable() -> None:
    assert ask("P27", basket()).verdict is NOT_APPLICABLE


# --- P41 and whether a re-view is still possible ----------------------------------------------------


def moved(place: str, when: str) -> Fact:
    return rec(f.PartMoved(PART, place), when)


def re_view(begun: str = "13:00", done: str | None = "13:10") -> list[Fact]:
    return build.view(begun, done, name="V2", kind="re-view", containment="CT-9")


@pytest.mark.parametrize(("done", "verdict"), [("13:11:59", PASS), ("13:12", PASS), ("13:12:01", FAIL)])
def test_p41_developing_time_at_limit(done: str, verdict: Verdict) -> None:
    assert ask("P41", [*basket(), *re_view(done=done)]).verdict is verdict


def test_p41_first_view_not_applicable() -> None:
    answer = ask("P41", basket())
    assert (answer.verdict, answer.says) == (NOT_APPLICABLE, "condition of the rule: the record rests on first views")


@pytest.mark.parametrize(
    ("touched", "verdict"),
    [
        ([moved("post-clean", "11:30")], FAIL),
        ([moved("post-clean", "09:20")], FAIL),
        ([moved("assembly", "11:50")], FAIL),
        ([moved("quarantine", "11:50")], FAIL),
        ([moved("PT rack", "09:20")], PASS),
        ([moved("re-view rack", "12:40"), moved("PT booth", "12:55"), moved("booth", "12:56")], PASS),
        ([moved("post-clean", "13:30")], PASS),
        ([moved("rework", "09:13")], PASS),
        ([rec(f.StepStarted("X-001", "postclean"), "11:30")], FAIL),
        ([rec(f.StepStarted("B1", "postclean"), "11:30")], FAIL),
        (wiped_spot(("wiped", "09:40"), ("redeveloped", "09:52")), PASS),
    ],
    ids=[
        "cleaned",
        "cleaned before viewing",
        "assembly",
        "anywhere once viewed",
        "rack before viewing",
        "looks only",
        "after",
        "before developing",
        "step",
        "basket step",
        "wiped",
    ],
)
def test_p41_touched_since_developing(touched: list[Fact], verdict: Verdict) -> None:
    assert ask("P41", [*basket(), *touched, *re_view()]).verdict is verdict


def test_p41_names_place_and_time() -> None:
    answer = ask("P41", [*basket(), moved("post-clean", "11:30"), moved("assembly", "11:50"), *re_view()])
    assert answer.says == "post-cleaned 11:30; at assembly since 11:50"


def test_p41_part_never_located_not_recorded() -> None:
    assert ask("P41", [*basket(without=["received"]), *re_view()]).verdict is NOT_RECORDED


def test_p41_re_view_running_not_yet_then_fails() -> None:
    assert ask("P41", [*basket(), *re_view(done=None)], "13:12").verdict is NOT_YET
    assert ask("P41", [*basket(), *re_view(done=None)], "13:12:01").verdict is FAIL


def possible(facts: list[Fact], asked: str) -> Outcome:
    return re_view_possible(inquiry("PT", facts, asked), at(asked))


@pytest.mark.parametrize(("asked", "verdict"), [("13:11:59", PASS), ("13:12", FAIL), ("13:12:01", FAIL)])
def test_re_view_possible_until_the_developer_limit(asked: str, verdict: Verdict) -> None:
    outcome = possible(basket(), asked)
    assert outcome.verdict is verdict
    assert "developer limit 13:12" in (outcome.says or outcome.found)


def line_basket(begun: str, done: str, *places: tuple[str, str]) -> list[Fact]:
    """A basket of the demo day: developer on and its locations since."""
    received = rec(f.PartReceived(PART, "W26-0148", 1, scanned=True), "07:20")
    return [
        load(),
        received,
        start("develop", begun),
        end("develop", done),
        *(moved(place, when) for place, when in places),
    ]


@pytest.mark.parametrize(
    ("facts", "verdict", "says"),
    [
        (line_basket("08:36", "08:37", ("post-clean", "10:05")), FAIL, "developer limit 12:36; post-cleaned 10:05"),
        (line_basket("09:17", "09:19", ("post-clean", "11:30")), FAIL, "post-cleaned 11:30"),
        (
            line_basket("09:17", "09:19", ("post-clean", "11:30"), ("assembly", "11:50")),
            FAIL,
            "post-cleaned 11:30; at assembly since 11:50",
        ),
        (line_basket("10:16", "10:18"), PASS, ""),
    ],
)
def test_re_view_possible_at_1236(facts: list[Fact], verdict: Verdict, says: str) -> None:
    outcome = possible(facts, "12:36")
    assert (outcome.verdict, outcome.says) == (verdict, says)


def test_re_view_possible_names_the_limit_while_open() -> None:
    assert possible(line_basket("10:16", "10:18"), "12:36").found == "developer limit 14:16; untouched since developing"


# --- P42 --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["a", "b", "c", "f"])
def test_p42_other_forms_not_applicable(form: str) -> None:
    answer = ask("P42", basket(), technique=build.technique(developer_form=form))
    assert (answer.verdict, answer.says) == (
        NOT_APPLICABLE,
        f"technique T-1 Rev 2: developer form {form} is not nonaqueous",
    )


def test_p42_nonaqueous_needs_the_coat_tick() -> None:
    sheet = build.technique(developer_form="d")
    assert ask("P42", basket(), technique=sheet).verdict is PASS
    assert ask("P42", basket(without=["developer on all zones"]), technique=sheet).verdict is NOT_RECORDED
    assert ask("P42", basket(ticks={"developer on all zones": "no"}), technique=sheet).verdict is FAIL
    assert ask("P42", basket(), technique=build.technique(developer_form=None)).verdict is NOT_RECORDED
