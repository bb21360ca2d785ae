"""P01 to P10 and P35 to P40: materials, part, wetting, dwell, attempts."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Verdict
from ndi.domain.entry import Recorded
from ndi.domain.moment import Boot, Moment
from ndi.domain.procedure import Parameter
from tests import build
from tests.build import at, num, rec
from tests.rules.penetrant_day import (
    LINE,
    PART,
    Fact,
    ask,
    ask_d,
    basket,
    dev,
    end,
    filled,
    line,
    load,
    minute,
    pen,
    rem,
    start,
    steps,
    tanks,
    temperature,
    tick,
)

PASS, FAIL, NOT_RECORDED, NOT_YET, NOT_APPLICABLE = (
    Verdict.PASS,
    Verdict.FAIL,
    Verdict.NOT_RECORDED,
    Verdict.NOT_YET,
    Verdict.NOT_APPLICABLE,
)


def window(**values: str) -> dict[str, Parameter]:
    return {key: Parameter(key, num(value), "3", "from memory") for key, value in values.items()}


# --- P01 --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "verdict", "says"),
    [
        ({}, PASS, ""),
        ({"pen": pen(system="S-2")}, FAIL, "materials of different systems: PEN S-2, DEV S-1"),
        ({"pen": pen(type="2")}, FAIL, "PEN is type 2, technique asks for 1"),
        ({"pen": pen(method="D")}, FAIL, "PEN is method D, technique asks for A"),
        ({"pen": pen(sensitivity="3")}, FAIL, "PEN is sensitivity 3, technique asks for 2"),
        ({"dev": dev(form="d")}, FAIL, "DEV is form d, technique asks for a"),
        ({"dev": dev(form=None)}, NOT_RECORDED, "form of DEV not entered"),
        ({"dev": dev(system=None)}, NOT_RECORDED, "system of DEV not entered"),
        ({"dev": None}, NOT_RECORDED, f"no developer recorded in the tanks of {LINE}"),
        ({"dev": None, "pen": pen(method="D")}, FAIL, "PEN is method D, technique asks for A"),
    ],
)
def test_p01_batches_judged(changed: dict[str, Any], verdict: Verdict, says: str) -> None:
    answer = ask("P01", [load(), start("wet", "08:00"), *tanks(**changed)])
    assert (answer.verdict, answer.says) == (verdict, says)


def test_p01_tank_not_scanned_not_recorded() -> None:
    answer = ask("P01", basket(without=["tanks"]))
    assert answer.verdict is NOT_RECORDED
    assert "contents of the tanks of Method A line" in answer.says


def test_p01_tank_filled_after_wetting_not_recorded() -> None:
    facts = [load(), start("wet", "08:00"), line(), pen(), dev(), filled("PEN", "DEV", when="08:01", day=build.DAY)]
    assert ask("P01", facts).verdict is NOT_RECORDED


def test_p01_method_d_without_remover_not_recorded() -> None:
    facts = [load(), start("wet", "08:00"), *tanks(pen=pen(method="D", sensitivity="3"))]
    assert ask_d("P01", facts).verdict is NOT_RECORDED
    facts = [load(), start("wet", "08:00"), *tanks(pen=pen(method="D", sensitivity="3"), rem=rem())]
    assert ask_d("P01", facts).verdict is PASS


def test_p01_technique_without_sensitivity_not_recorded() -> None:
    answer = ask("P01", basket(), technique=build.technique(sensitivity=None))
    assert answer.verdict is NOT_RECORDED
    assert "technique T-1 Rev 2 gives no sensitivity" in answer.says


def test_p01_visible_dye_has_no_sensitivity_passes() -> None:
    facts = [load(), start("wet", "08:00"), *tanks(pen=pen(type="2", sensitivity=None))]
    assert ask("P01", facts, technique=build.technique(type="2", sensitivity=None)).verdict is PASS


# --- P02 to P05 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # 40 to 125 degF: common practice, from memory (4 to 52 degC in many specifications)
    ("value", "verdict"),
    [
        ("39.9 degF", FAIL),
        ("40 degF", PASS),
        ("40.1 degF", PASS),
        ("124.9 degF", PASS),
        ("125 degF", PASS),
        ("125.1 degF", FAIL),
        ("138 degF", FAIL),
        ("22 degC", PASS),
    ],
)
def test_p02_part_temperature_at_limits(value: str, verdict: Verdict) -> None:
    answer = ask("P02", [*basket(without=["temperature"]), temperature(value)])
    assert answer.verdict is verdict
    assert answer.limit == "40 degF to 125 degF"


def test_p02_one_of_two_parts_hot_fails() -> None:
    answer = ask("P02", [*basket(), temperature("138 degF")])
    assert (answer.verdict, answer.says) == (FAIL, "part 138 degF is above 125 degF")


def test_p02_no_temperature_not_recorded() -> None:
    assert ask("P02", basket(without=["temperature"])).verdict is NOT_RECORDED


def test_p03_tick_no_fails() -> None:
    answer = ask("P03", basket(ticks={"dry before wetting": "no"}))
    assert (answer.verdict, answer.says) == (FAIL, "part was not dry before wetting (L1-D 08:00)")


def test_p03_without_tick_not_recorded() -> None:
    assert ask("P03", basket(without=["dry before wetting"])).verdict is NOT_RECORDED


def test_p03_ticked_after_wetting_not_recorded() -> None:
    facts = [*basket(without=["dry before wetting"]), tick("dry before wetting", when="08:05:01")]
    assert ask("P03", facts).verdict is NOT_RECORDED


def test_p03_ticked_at_the_end_of_wetting_passes() -> None:
    assert (
        ask("P03", [*basket(without=["dry before wetting"]), tick("dry before wetting", when="08:05")]).verdict is PASS
    )


def test_p03_tick_of_an_earlier_attempt_not_recorded() -> None:
    facts = [*basket(without=["dry before wetting"]), tick("dry before wetting", about="X-001", attempt=2)]
    assert ask("P03", facts).verdict is NOT_RECORDED


WORKED, ETCHED = "worked since last etch", "etched and neutralised"


def blend(when: str) -> Fact:
    return rec(f.ReworkDone("X-000", PART, "RWK-N", "Z1", num("0.006 in")), when)


@pytest.mark.parametrize(
    ("facts", "verdict"),
    [
        ([], NOT_RECORDED),
        ([tick(WORKED, "no", "07:00", PART)], PASS),
        ([tick(WORKED, "yes", "07:00", PART)], NOT_RECORDED),
        ([tick(WORKED, "yes", "07:00", PART), tick(ETCHED, "yes", "07:30", PART)], PASS),
        ([tick(WORKED, "yes", "07:00", PART), tick(ETCHED, "yes", "06:30", PART)], NOT_RECORDED),
        ([tick(WORKED, "yes", "07:00", PART), tick(ETCHED, "yes", "08:10", PART)], FAIL),
        ([tick(WORKED, "no", "07:00", PART), blend("06:45")], NOT_RECORDED),
        ([tick(WORKED, "no", "07:00", PART), blend("06:30"), tick(ETCHED, "yes", "06:45", PART)], PASS),
        ([tick(WORKED, "no", "07:00", PART), blend("09:30")], PASS),
        ([tick(WORKED, "no", "08:06", PART)], NOT_RECORDED),
    ],
    ids=[
        "nothing",
        "not worked",
        "etch missing",
        "etched",
        "etch before work",
        "etch after wetting",
        "blended",
        "blend etched",
        "blend later",
        "late",
    ],
)
def test_p04_work_and_etch(facts: list[Fact], verdict: Verdict) -> None:
    assert ask("P04", [*basket(without=[WORKED]), *facts]).verdict is verdict


@pytest.mark.parametrize(("value", "verdict"), [("never", PASS), ("released by Level III", PASS), ("used", FAIL)])
def test_p05_visible_dye_history(value: str, verdict: Verdict) -> None:
    facts = [*basket(without=["visible dye history"]), tick("visible dye history", value, about=PART)]
    assert ask("P05", facts).verdict is verdict


def test_p05_without_tick_not_recorded() -> None:
    assert ask("P05", basket(without=["visible dye history"])).verdict is NOT_RECORDED


def test_p05_visible_dye_technique_not_applicable() -> None:
    answer = ask("P05", basket(), technique=build.technique(type="2"))
    assert (answer.verdict, answer.says) == (NOT_APPLICABLE, "technique T-1 Rev 2 is Type 2")


# --- P06 --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # T.O. 33B-1-1 dwell table: at least 30 min for service-induced flaws
    ("wash", "verdict", "found"),
    [("08:34:59", FAIL, "29 min 59 s"), ("08:35", PASS, "30 min"), ("08:35:01", PASS, "30 min 1 s")],
)
def test_p06_shortest_dwell_at_limit(wash: str, verdict: Verdict, found: str) -> None:
    answer = ask("P06", basket(wash=(wash, "08:45")))
    assert (answer.verdict, answer.found, answer.limit) == (verdict, found, "at least 30 min")


def test_p06_counts_from_the_last_part_wet() -> None:
    answer = ask("P06", basket(wet=("08:00", "08:09"), wash=("08:35", "08:45")))
    assert (answer.verdict, answer.says) == (FAIL, "dwell 26 min, 4 min too short")


def vectors() -> list[tuple[str, str, str, str]]:
    """Rows of the dwell table of T.O. 33B-1-1 that have one answer (made from that table, not published cases)."""
    path = Path(__file__).parent.parent / "data" / "pt-boundary-vectors.csv"
    rows = list(csv.reader(line for line in path.read_text().splitlines() if not line.startswith("#")))
    found = []
    for row in rows[1:]:
        if row[0] != "T.O. dwell":
            continue
        given = dict(pair.split("=") for pair in row[2].split(";"))
        needed = row[3].split("=")[1].split(" (")[0]
        if " or " not in needed:
            found.append((given["part_F"], given["specified_min"], given["service_flaws"], needed))
    return found


@pytest.mark.parametrize(("part_f", "base", "service", "needed"), vectors())
def test_p06_dwell_table(part_f: str, base: str, service: str, needed: str) -> None:
    values = {"dwell_base": f"{base} min", "dwell_service_induced": service == "1"}
    facts = [
        *basket(without=["temperature"], wet=("08:00", "08:00"), wash=("08:01", "08:02")),
        temperature(f"{part_f} degF"),
    ]
    answer = ask("P06", facts, parameters=values)
    if "outside" in needed:
        assert answer.verdict is NOT_RECORDED
    else:
        assert (answer.verdict, answer.limit) == (FAIL, f"at least {needed} min")


def test_p06_coldest_part_asks_for_the_longest_dwell() -> None:
    answer = ask("P06", [*basket(), temperature("55 degF")])
    assert (answer.verdict, answer.limit) == (FAIL, "at least 60 min")


def test_p06_temperature_on_the_edge_of_two_bands() -> None:
    facts = [*basket(without=["temperature"]), temperature("60 degF")]
    assert ask("P06", facts).limit == "at least 30 min"
    assert ask("P06", facts, parameters={"dwell_band_edge": "longer"}).limit == "at least 60 min"


def test_p06_largest_minimum_of_the_basket() -> None:
    other = build.technique(number="T-2", windows=window(dwell_base="40 min"))
    answer = ask("P06", basket(), techniques={"X-002": other})
    assert (answer.verdict, answer.found, answer.limit) == (FAIL, "35 min", "at least 40 min")


def test_p06_still_wet_not_yet_then_passes() -> None:
    facts = basket(wash=None, dry=None, develop=None, view=None)
    answer = ask("P06", facts, "08:31")
    assert (answer.verdict, answer.says) == (NOT_YET, "dwell: 26 min elapsed, ready 08:35")
    assert answer.ways_out == ("wait 4 min",)
    assert ask("P06", facts, "08:35").verdict is PASS


def test_p06_wetting_still_going_on_not_yet() -> None:
    assert (
        ask("P06", basket(wet=("08:00", None), wash=None, dry=None, develop=None, view=None), "08:03").verdict
        is NOT_YET
    )


@pytest.mark.parametrize(
    "missing",
    [{"wet": None}, {"wet": ("08:00", None)}, {"wash": None}, {"without": ["temperature"]}, {"without": ["load"]}],
)
def test_p06_missing_time_or_temperature_not_recorded(missing: dict[str, Any]) -> None:
    assert ask("P06", basket(**missing)).verdict is NOT_RECORDED


def test_p06_method_d_ends_at_the_prewash() -> None:
    assert ask_d("P06", basket("D")).found == "35 min"


def test_p06_method_missing_in_technique_not_recorded() -> None:
    assert ask("P06", basket(), technique=build.technique(pt_method=None)).verdict is NOT_RECORDED


def test_p06_smaller_of_two_clocks_counts() -> None:
    def booted(text: str, ms: int) -> Moment:
        moment = at(text)
        return Moment(moment.at, moment.offset_min, boot=Boot("b-1", ms))

    half_hour = 30 * 60 * 1000
    facts = basket(wet=("08:00", booted("08:05", 0)), wash=(booted("08:35", half_hour - 1000), "08:45"))
    answer = ask("P06", facts)
    assert (answer.verdict, answer.found) == (FAIL, "29 min 59 s")


def test_p06_minute_stamps_stand_as_written() -> None:
    assert ask("P06", basket(wet=(minute("08:00"), minute("08:05")), wash=(minute("08:35"), "08:45"))).verdict is PASS


# --- P07, P10 ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # 120 min: common practice (re-apply after two hours), from memory
    ("ended", "verdict", "found"),
    [
        ("09:59:59", PASS, "119 min 59 s"),
        ("10:00", PASS, "120 min"),
        ("10:00:01", FAIL, "120 min 1 s"),
        ("10:18", FAIL, "138 min"),
    ],
)
def test_p07_longest_time_wet_at_limit(ended: str, verdict: Verdict, found: str) -> None:
    answer = ask("P07", basket(wash=("08:40", ended), dry=None, develop=None, view=None))
    assert (answer.verdict, answer.found, answer.limit) == (verdict, found, "at most 120 min")


def test_p07_still_wet_not_yet_then_fails() -> None:
    facts = basket(wash=None, dry=None, develop=None, view=None)
    answer = ask("P07", facts, "10:00")
    assert (answer.verdict, answer.says) == (NOT_YET, "time wet is running: 120 min, must end by 10:00")
    answer = ask("P07", facts, "10:00:01")
    assert (answer.verdict, answer.found) == (FAIL, "120 min 1 s")
    assert answer.ways_out == ("do not develop; clean and start again as the next attempt",)


def test_p07_being_washed_over_the_maximum_fails() -> None:
    assert ask("P07", basket(wash=("09:59", None), dry=None, develop=None, view=None), "10:00:01").verdict is FAIL


@pytest.mark.parametrize("missing", [{"wet": None}, {"wash": None}, {"wash": ("08:40", None)}])
def test_p07_missing_time_not_recorded(missing: dict[str, Any]) -> None:
    assert ask("P07", basket(**missing)).verdict is NOT_RECORDED


def test_p07_wash_begun_too_late_without_end_fails() -> None:
    answer = ask("P07", basket(wash=("10:00:01", None), dry=("10:20", "10:30"), develop=None, view=None))
    assert (answer.verdict, answer.says) == (FAIL, "time wet over 120 min 1 s, end not recorded")
    assert (
        ask("P07", basket(wash=("10:00", None), dry=("10:20", "10:30"), develop=None, view=None)).verdict
        is NOT_RECORDED
    )


def rewetted(*times: tuple[str, str], pieces: int | None = 2) -> list[Fact]:
    return [fact for begun, done in times for fact in (start("wet", begun, pieces=pieces), end("wet", done))]


def test_p07_rewetting_of_the_whole_basket_restarts_it() -> None:
    facts = [*basket(wash=("10:40", "10:45"), dry=None, develop=None, view=None), *rewetted(("09:00", "09:05"))]
    answer = ask("P07", facts)
    assert (answer.verdict, answer.found) == (PASS, "105 min")
    assert ask("P06", facts).found == "95 min"


def test_p07_rewetting_of_fewer_pieces_does_not_restart_it() -> None:
    facts = [
        *basket(wash=("10:40", "10:45"), dry=None, develop=None, view=None),
        *rewetted(("09:00", "09:05"), pieces=1),
    ]
    assert ask("P07", facts).verdict is FAIL


def test_p07_second_start_before_the_end_does_not_restart_it() -> None:
    facts = [
        *basket(wet=("08:00", "08:05"), wash=("08:40", "10:00:01"), dry=None, develop=None, view=None),
        start("wet", "08:03"),
    ]
    assert ask("P07", facts).verdict is FAIL
    assert ask("P10", facts).verdict is PASS


def test_p07_smallest_maximum_of_the_basket() -> None:
    other = build.technique(number="T-2", windows=window(dwell_max="40 min"))
    assert ask("P07", basket(), techniques={"X-002": other}).verdict is FAIL


def test_p07_method_d_ends_at_the_end_of_the_prewash() -> None:
    answer = ask_d("P07", basket("D"))
    assert (answer.verdict, answer.found) == (PASS, "40 min 40 s")


def test_p08_tick_no_fails_and_missing_not_recorded() -> None:
    assert ask("P08", basket(ticks={"penetrant did not dry on": "no"})).verdict is FAIL
    assert ask("P08", basket(without=["penetrant did not dry on"])).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    # half of the dwell: T.O. 33B-1-1, drain-dwell mode; dwell here is 08:05 to 08:45, 40 min
    ("out", "verdict"),
    [("08:19:59", PASS), ("08:20", PASS), ("08:20:01", FAIL)],
)
def test_p09_immersed_share_at_limit(out: str, verdict: Verdict) -> None:
    facts = basket(ticks={"wetted by": "immersion"}, immerse=("08:00", out), wash=("08:45", "08:48"))
    assert ask("P09", facts).verdict is verdict


def test_p09_out_of_tank_missing_not_recorded() -> None:
    assert ask("P09", basket(ticks={"wetted by": "immersion"}, immerse=("08:00", None))).verdict is NOT_RECORDED
    assert ask("P09", basket(ticks={"wetted by": "immersion"})).verdict is NOT_RECORDED


def test_p09_how_wetted_not_stated_not_recorded() -> None:
    assert ask("P09", basket(without=["wetted by"])).verdict is NOT_RECORDED


def test_p09_sprayed_not_applicable() -> None:
    answer = ask("P09", basket(ticks={"wetted by": "spray"}))
    assert (answer.verdict, answer.says) == (NOT_APPLICABLE, "condition of the rule: wetted by spray, not immersed")


def test_p09_in_the_tank_or_draining_not_yet() -> None:
    open_basket = {"wash": None, "dry": None, "develop": None, "view": None}
    facts = basket(ticks={"wetted by": "immersion"}, immerse=("08:00", None), **open_basket)  # type: ignore[arg-type]
    assert ask("P09", facts, "08:10").verdict is NOT_YET
    facts = basket(ticks={"wetted by": "immersion"}, immerse=("08:00", "08:10"), **open_basket)  # type: ignore[arg-type]
    assert ask("P09", facts, "08:24:59").verdict is NOT_YET
    assert ask("P09", facts, "08:25").verdict is PASS


def test_p10_rewettings_at_limit() -> None:
    once = [*basket(wash=("10:40", "10:45"), dry=None, develop=None, view=None), *rewetted(("09:00", "09:05"))]
    assert ask("P10", once).verdict is PASS
    answer = ask("P10", [*once, *rewetted(("10:00", "10:05"))])
    assert (answer.verdict, answer.says) == (FAIL, "re-wettings 2 is above 1")


@pytest.mark.parametrize(("ended", "verdict"), [("11:59:59", PASS), ("12:00", PASS), ("12:00:01", FAIL)])
def test_p10_total_since_the_very_first_wetting(ended: str, verdict: Verdict) -> None:
    facts = [*basket(wash=("11:40", ended), dry=None, develop=None, view=None), *rewetted(("10:30", "10:35"))]
    assert ask("P10", facts).verdict is verdict


def test_p10_still_wet_not_yet_and_never_wetted_not_recorded() -> None:
    facts = basket(wash=None, dry=None, develop=None, view=None)
    assert ask("P10", facts, "12:00").verdict is NOT_YET
    assert ask("P10", facts, "12:00:01").verdict is FAIL
    assert ask("P10", [load()]).verdict is NOT_RECORDED


# --- P35, P36 ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("expires", "verdict"), [(date(2026, 3, 9), FAIL), (date(2026, 3, 10), PASS), (date(2026, 3, 11), PASS)]
)
def test_p35_last_day_of_a_batch_counts(expires: date, verdict: Verdict) -> None:
    assert ask("P35", [load(), start("wet", "08:00"), *tanks(pen=pen(expires=expires))]).verdict is verdict


def test_p35_batch_not_entered_not_recorded() -> None:
    answer = ask("P35", [load(), start("wet", "08:00"), line(), pen(), filled("PEN", "DEV")])
    assert (answer.verdict, answer.says) == (NOT_RECORDED, "batch DEV is not entered")


def test_p35_quarantined_before_wetting_fails() -> None:
    def quarantined(when: str) -> Fact:
        return rec(f.EquipmentStatusSet("PEN", "quarantine", "water layer seen"), when)

    assert ask("P35", [*basket(), quarantined("07:00")]).verdict is FAIL
    assert ask("P35", [*basket(), quarantined("08:01")]).verdict is PASS


@pytest.mark.parametrize(
    ("alloys", "part", "verdict"),
    [
        (("aluminium",), "aluminium", PASS),
        (("steel",), "aluminium", FAIL),
        ((), "aluminium", NOT_RECORDED),
        (("aluminium",), None, NOT_RECORDED),
    ],
)
def test_p36_alloy_in_approvals(alloys: tuple[str, ...], part: str | None, verdict: Verdict) -> None:
    facts = [load(), start("wet", "08:00"), *tanks(dev=dev(alloys=alloys))]
    assert ask("P36", facts, master=build.master(alloy=part)).verdict is verdict


# --- P37, P38 ---------------------------------------------------------------------------------------


def together(**windows: str) -> Answer:
    other = build.technique(number="T-2", windows=window(**windows))
    facts = [*basket(without=["load"]), load(inspections=("X-001", "X-002"))]
    return ask("P37", facts, techniques={"X-001": build.technique(), "X-002": other})


@pytest.mark.parametrize(("most", "verdict"), [("30.1 min", PASS), ("30 min", PASS), ("29.9 min", FAIL)])
def test_p37_windows_just_overlap(most: str, verdict: Verdict) -> None:
    assert together(dwell_max=most).verdict is verdict


def test_p37_no_common_developing_time_fails() -> None:
    answer = together(develop_min="300 min", develop_max="400 min")
    assert (answer.verdict, answer.says) == (FAIL, "no common develop: at least 300 min, at most 240 min")


def test_p37_other_system_fails() -> None:
    other = build.technique(number="T-2", sensitivity="3")
    answer = ask("P37", basket(), techniques={"X-002": other})
    assert answer.verdict is FAIL
    assert answer.says.startswith("different systems in one basket: T-1 Rev 2: 1/A/2/a; T-2 Rev 2: 1/A/3/a")


def test_p37_unknown_technique_of_a_part_not_recorded() -> None:
    facts = [*basket(without=["load"]), load(inspections=("X-001", "X-002"))]
    assert ask("P37", facts).verdict is NOT_RECORDED


def test_p37_incomplete_technique_not_recorded() -> None:
    other = build.technique(number="T-2", developer_form=None)
    assert ask("P37", basket(), techniques={"X-002": other}).verdict is NOT_RECORDED


def test_p37_remover_window_of_method_d() -> None:
    other = build.technique(number="T-2", pt_method="D", sensitivity="3", windows=window(remover_max="9 s"))
    answer = ask_d("P37", basket("D"), techniques={"X-002": other})
    assert (answer.verdict, answer.says) == (FAIL, "no common remover: at least 10 s, at most 9 s")


def test_p38_tick_no_fails_and_missing_not_recorded() -> None:
    assert ask("P38", basket(ticks={"no contact, cavities drain": "no"})).verdict is FAIL
    assert ask("P38", basket(without=["no contact, cavities drain"])).verdict is NOT_RECORDED


# --- P39, P40 ---------------------------------------------------------------------------------------


def second_attempt(*preclean: Recorded[f.Fact], wet: bool = True) -> list[Fact]:
    """Attempt 1 in B1 ended 13:36, attempt 2 in B1b was wetted 14:20."""
    first = steps({"wet": ("11:18", "11:21"), "wash": ("13:34", "13:36")})
    again = steps({"wet": ("14:20", "14:23")}, "B1b") if wet else []
    return [load(), load("B1b", 2, "14:15"), *first, *preclean, *again]


def test_p39_precleaned_between_the_attempts_passes() -> None:
    answer = ask("P39", second_attempt(start("preclean", "13:36", "B1b"), end("preclean", "14:15", "B1b")))
    assert (answer.verdict, answer.found) == (PASS, "pre-clean 13:36 to 14:15")


def test_p39_ended_exactly_at_wetting_passes() -> None:
    assert (
        ask("P39", second_attempt(start("preclean", "13:36", "B1b"), end("preclean", "14:20", "B1b"))).verdict is PASS
    )


@pytest.mark.parametrize(
    "preclean",
    [
        [],
        [start("preclean", "13:36", "B1b")],
        [start("preclean", "13:36", "B1b"), end("preclean", "14:20:01", "B1b")],
        [start("preclean", "13:35:59", "B1b"), end("preclean", "14:15", "B1b")],
        [start("preclean", "13:36"), end("preclean", "14:15")],
    ],
    ids=["none", "no end", "ended after wetting", "begun in attempt 1", "on the first basket"],
)
def test_p39_wetted_without_a_preclean_fails(preclean: list[Fact]) -> None:
    answer = ask("P39", second_attempt(*preclean))
    assert answer.verdict is FAIL
    assert "attempt 2 was wetted at 14:20" in answer.says


def test_p39_not_wetted_yet() -> None:
    assert ask("P39", second_attempt(wet=False)).verdict is NOT_RECORDED
    assert ask("P39", second_attempt(start("preclean", "13:36", "B1b"), wet=False)).verdict is NOT_YET
    assert (
        ask(
            "P39", second_attempt(start("preclean", "13:36", "B1b"), end("preclean", "14:15", "B1b"), wet=False)
        ).verdict
        is PASS
    )


@pytest.mark.parametrize(("attempt", "verdict"), [(2, PASS), (3, PASS), (4, FAIL)])
def test_p40_attempts_at_limit(attempt: int, verdict: Verdict) -> None:
    answer = ask("P40", [load(), load("B1b", attempt)])
    assert (answer.verdict, answer.found) == (verdict, f"attempt {attempt}")


def test_p07_names_the_facts_that_it_read() -> None:
    facts = basket()
    read = [
        fact
        for fact in facts
        if isinstance(fact.fact, f.StepStarted | f.StepEnded) and fact.fact.step in ("wet", "wash")
    ]
    assert ask("P07", facts).facts == tuple(sorted(fact.position for fact in read))
