"""Bath rules: agitation, settling, volume, validity, checks.

Sources of the limits used: agitation 30 min after 4 h off, settling 60 min for
oil, dirt over 30 %: T.O. 33B-1-1 as excerpted; result valid 8 h, contamination
weekly, performance daily: ASTM E3024-16 Table 1; volume 0.1 to 0.4 mL and 5
holes at 2500 A: from memory; working range 0.15 to 0.30: the demo shop's own.
"""

from __future__ import annotations

import dataclasses

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.moment import Boot, Precision
from ndi.rules import wet_bath
from tests import build as b
from tests.rules.mt_record import (
    ask,
    check,
    concentration,
    fired,
    missing_keys,
    record,
    ring,
    sampled,
    switched,
    void,
)

RULES = ("M01", "M02", "M03", "M04", "M05", "M06", "M07", "M08", "M09")


@pytest.mark.parametrize("rule_id", [r for r in RULES if r != "M08"])
def test_complete_record_passes(rule_id: str) -> None:
    assert ask(rule_id).verdict == "PASS"


@pytest.mark.parametrize("rule_id", [r for r in RULES if r != "M05"])
def test_record_without_shots_not_recorded(rule_id: str) -> None:
    answer = ask(rule_id, record(shots=[]))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "no shot recorded")


@pytest.mark.parametrize("rule_id", ["M01", "M02", "M03", "M04"])
def test_shot_without_result_before_it_not_recorded(rule_id: str) -> None:
    answer = ask(rule_id, record(result=[concentration("08:05")]))
    assert answer.verdict == "NOT RECORDED"
    assert "no bath result before shot 1 at 08:00" in answer.says


@pytest.mark.parametrize("rule_id", ["M03", "M04", "M05", "M06"])
def test_bench_without_bath_in_equipment_record_not_recorded(rule_id: str) -> None:
    answer = ask(rule_id, record(bench=[b.rec(f.EquipmentEntered("MT-01", "bench"), "06:00")]))
    assert answer.verdict == "NOT RECORDED"
    assert "MT-01" in answer.says


MISSING_RECORDS = {
    "M05": record(result=[]),  # settling is only asked while no result is there
    "M08": record(
        bath=[b.rec(f.EquipmentEntered("MTB-26-07", "bath", vehicle="water"), "06:00")],
    ),
}


@pytest.mark.parametrize(("rule_id", "key"), missing_keys(RULES))
def test_parameter_missing_not_recorded_names_key(rule_id: str, key: str) -> None:
    facts = MISSING_RECORDS.get(rule_id, record())
    if rule_id == "M05" and key.startswith("bath_hard"):
        facts = record()
    answer = ask(
        rule_id,
        facts,
        asked="07:00" if key == "settling_time" and rule_id == "M05" else "09:00",
        parameters={key: None},
    )
    assert answer.verdict == "NOT RECORDED"
    assert answer.says == f"procedure MT-P-01 rev D gives no value for {key}"


# --- M01 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("on", "verdict"), [("06:05:59", "PASS"), ("06:06", "PASS"), ("06:06:01", "FAIL"), ("06:14", "FAIL")]
)
def test_m01_stirring_about_30_min_after_long_stop(on: str, verdict: str) -> None:
    answer = ask("M01", record(pump=[switched("off", "21:00", "2026-03-09"), switched("on", on)]))
    assert answer.verdict == verdict


def test_m01_stirred_22_min_fails_with_both_times() -> None:
    answer = ask("M01", record(pump=[switched("off", "21:00", "2026-03-09"), switched("on", "06:14")]))
    assert answer.says == "MT-01: pump ran 22 min after 554 min off; sample drawn 06:36"
    assert answer.ways_out == ("stir on, draw a new sample",)


@pytest.mark.parametrize(("off", "verdict"), [("02:25:01", "PASS"), ("02:25", "FAIL"), ("02:24:59", "FAIL")])
def test_m01_stop_of_4_h_counts_as_long(off: str, verdict: str) -> None:
    answer = ask("M01", record(pump=[switched("off", off), switched("on", "06:25")]))
    assert answer.verdict == verdict


def test_m01_short_stop_does_not_hide_the_long_one_before_fails() -> None:
    pump = [
        switched("off", "21:00", "2026-03-09"),
        switched("on", "06:15"),
        switched("off", "06:25"),
        switched("on", "06:27"),
    ]
    answer = ask("M01", record(pump=pump))
    assert answer.verdict == "FAIL"
    assert answer.found.startswith("19 min stirred")


def test_m01_stirring_around_short_stop_adds_up_passes() -> None:
    pump = [
        switched("off", "21:00", "2026-03-09"),
        switched("on", "06:00"),
        switched("off", "06:20"),
        switched("on", "06:26"),
    ]
    assert ask("M01", record(pump=pump)).verdict == "PASS"


def test_m01_pump_off_at_sampling_fails() -> None:
    pump = [switched("off", "21:00", "2026-03-09"), switched("on", "05:00"), switched("off", "06:35")]
    assert ask("M01", record(pump=pump)).verdict == "FAIL"


@pytest.mark.parametrize(("off", "verdict"), [("06:36", "FAIL"), ("06:36:01", "PASS")])
def test_m01_pump_off_about_sampling(off: str, verdict: str) -> None:
    pump = [switched("off", "21:00", "2026-03-09"), switched("on", "05:00"), switched("off", off)]
    assert ask("M01", record(pump=pump)).verdict == verdict


@pytest.mark.parametrize("pump", [[], [switched("on", "06:02")], [switched("on", "06:40")]])
def test_m01_switching_not_recorded(pump: list[Recorded[f.Fact]]) -> None:
    assert ask("M01", record(pump=pump)).verdict == "NOT RECORDED"


def test_m01_afternoon_sample_while_pump_runs_since_morning_passes() -> None:
    facts = record(
        sample=[sampled("06:36"), sampled("14:30")],
        result=[concentration("07:38"), concentration("15:31")],
        shots=[fired(1, "15:52")],
    )
    assert ask("M01", facts, "16:30").verdict == "PASS"


# --- M02 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("read", "verdict"), [("07:35:59", "FAIL"), ("07:36", "PASS"), ("07:36:01", "PASS"), ("07:11", "FAIL")]
)
def test_m02_settling_about_60_min(read: str, verdict: str) -> None:
    assert ask("M02", record(result=[concentration(read)])).verdict == verdict


def test_m02_minute_stamps_are_whole_minutes_for_a_limit_in_minutes_passes() -> None:
    drawn = dataclasses.replace(sampled("06:36"), when=b.at("06:36", precision=Precision.MINUTE))
    read = dataclasses.replace(concentration("07:36"), when=b.at("07:36", precision=Precision.MINUTE))
    assert ask("M02", record(sample=[drawn], result=[read])).verdict == "PASS"


def test_m02_minute_stamps_are_an_interval_for_a_limit_in_seconds_fails() -> None:
    drawn = dataclasses.replace(sampled("06:36"), when=b.at("06:36", precision=Precision.MINUTE))
    assert (
        ask(
            "M02", record(sample=[drawn], result=[concentration("07:36")]), parameters={"settling_time": "3600 s"}
        ).verdict
        == "FAIL"
    )


def test_m02_clock_set_forward_while_settling_fails_by_boot_clock() -> None:
    drawn = dataclasses.replace(sampled("06:36"), when=dataclasses.replace(b.at("06:36"), boot=Boot("a", 0)))
    read = dataclasses.replace(
        concentration("07:38"), when=dataclasses.replace(b.at("07:38"), boot=Boot("a", 40 * 60_000))
    )
    answer = ask("M02", record(sample=[drawn], result=[read]))
    assert (answer.verdict, answer.found) == ("FAIL", "40 min")


@pytest.mark.parametrize(("ticked", "verdict"), [(True, "PASS"), (False, "FAIL"), (None, "NOT RECORDED")])
def test_m02_demagnetised_tick(ticked: bool | None, verdict: str) -> None:
    assert ask("M02", record(sample=[sampled("06:36", ticked)])).verdict == verdict


def test_m02_sample_not_recorded() -> None:
    assert ask("M02", record(sample=[])).verdict == "NOT RECORDED"


def test_m02_sample_already_read_is_not_taken_again_not_recorded() -> None:
    facts = record(result=[concentration("07:38"), concentration("15:31")], shots=[fired(1, "15:52")])
    answer = ask("M02", facts, "16:30")
    assert answer.verdict == "NOT RECORDED"
    assert "15:31" in answer.says


# --- M03 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "verdict"),
    [("0.09", "FAIL"), ("0.0999", "FAIL"), ("0.10", "PASS"), ("0.165", "PASS"), ("0.40", "PASS"), ("0.4001", "FAIL")],
)
def test_m03_volume_about_hard_range(value: str, verdict: str) -> None:
    assert ask("M03", record(result=[concentration("07:38", f"{value} mL")])).verdict == verdict


@pytest.mark.parametrize(("value", "said"), [("0.149", True), ("0.15", False), ("0.30", False), ("0.301", True)])
def test_m03_outside_working_range_is_said_passes(value: str, said: bool) -> None:
    answer = ask("M03", record(result=[concentration("07:38", f"{value} mL")]))
    assert answer.verdict == "PASS"
    assert ("outside working range 0.15 mL to 0.30 mL" in answer.found) is said


def test_m03_contamination_not_stated_not_recorded() -> None:
    assert ask("M03", record(result=[concentration("07:38", contamination=None)])).verdict == "NOT RECORDED"


def test_m03_record_over_two_results_judges_both_fails() -> None:
    facts = record(result=[concentration("07:38"), concentration("08:05", "0.09 mL")])
    answer = ask("M03", facts)
    assert answer.verdict == "FAIL"
    assert "0.09 mL" in answer.says


def test_m03_result_after_last_shot_is_not_asked_passes() -> None:
    facts = record(result=[concentration("07:38"), concentration("08:15", "0.09 mL")])
    assert ask("M03", facts).verdict == "PASS"


def test_results_for_shots_gives_each_covering_result_once() -> None:
    facts = record(
        sample=[sampled("06:36"), sampled("07:50")],
        result=[concentration("07:00", "0.21 mL"), concentration("07:38"), concentration("08:05", "0.22 mL")],
        shots=[fired(1, "08:00"), fired(1, "08:02"), fired(2, "08:10")],
    )
    found = wet_bath.results_for_shots(b.inquiry("MT", facts))
    assert [r.reading.when.clock() for r in found] == ["07:38", "08:05"]
    assert [r.sample.when.clock() if r.sample else None for r in found] == [None, "07:50"]


# --- M04 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shot", "verdict"), [("15:37:59", "PASS"), ("15:38", "PASS"), ("15:38:01", "FAIL"), ("15:52", "FAIL")]
)
def test_m04_result_about_8_h_old(shot: str, verdict: str) -> None:
    assert ask("M04", record(shots=[fired(1, "08:00"), fired(2, shot)]), "16:30").verdict == verdict


def test_m04_too_old_names_result_its_end_and_shot_fails() -> None:
    answer = ask("M04", record(shots=[fired(2, "15:52")]), "16:30")
    assert answer.says == "MTB-26-07 result of 07:38 ended 15:38; shot 2 at 15:52"


def test_m04_second_result_takes_over_passes() -> None:
    facts = record(
        result=[concentration("07:38"), concentration("15:31", "0.165 mL")],
        shots=[fired(1, "15:30"), fired(2, "15:52")],
    )
    assert ask("M04", facts, "16:30").verdict == "PASS"


def test_m04_voided_shot_is_not_asked_passes() -> None:
    assert ask("M04", record(shots=[fired(1, "08:00"), fired(2, "15:52"), void(2, "15:52")]), "16:30").verdict == "PASS"


def test_m04_result_out_of_range_covers_nothing_fails() -> None:
    facts = record(result=[concentration("07:00"), concentration("07:38", "0.09 mL")])
    answer = ask("M04", facts)
    assert answer.verdict == "FAIL"
    assert "not covered" in answer.says


def test_m04_result_without_contamination_not_recorded() -> None:
    assert ask("M04", record(result=[concentration("07:38", contamination=None)])).verdict == "NOT RECORDED"


def test_m04_result_of_yesterday_fails() -> None:
    reading = f.ReadingRecorded("MTB-26-07", "bath concentration", b.num("0.20 mL"), contamination=b.num("0.01 mL"))
    assert ask("M04", record(result=[b.rec(reading, "15:31", day="2026-03-09")])).verdict == "FAIL"


# --- M05 ------------------------------------------------------------------------------------------


def test_m05_settling_at_0734_not_yet_two_minutes() -> None:
    answer = ask("M05", record(shots=[], result=[]), "07:34", disposition="ACCEPT")
    assert (answer.verdict, answer.found) == ("NOT YET", "2 min left")
    assert "07:36" in answer.says


@pytest.mark.parametrize(
    ("asked", "words"), [("07:35:59", "1 s left"), ("07:36", "has settled"), ("07:37", "has settled")]
)
def test_m05_about_end_of_settling_not_yet(asked: str, words: str) -> None:
    answer = ask("M05", record(shots=[], result=[]), asked)
    assert answer.verdict == "NOT YET"
    assert words in answer.says


@pytest.mark.parametrize(("asked", "verdict"), [("07:37:59", "NOT YET"), ("07:38", "PASS"), ("07:38:01", "PASS")])
def test_m05_about_first_result(asked: str, verdict: str) -> None:
    assert ask("M05", record(shots=[]), asked).verdict == verdict


def test_m05_nothing_drawn_today_not_yet() -> None:
    answer = ask("M05", record(sample=[], result=[]), "08:30")
    assert (answer.verdict, answer.says) == ("NOT YET", "MTB-26-07: no result yet today")


def test_m05_shots_before_first_result_but_decision_after_passes() -> None:
    assert ask("M05", record(shots=[fired(1, "07:10"), fired(2, "07:20")]), "08:00").verdict == "PASS"


def test_m05_asked_on_a_later_day_without_result_not_recorded() -> None:
    facts = record(result=[])
    answer = b.ask("M05", "MT", facts, b.at("09:00", "2026-03-11"))
    assert answer.verdict == "NOT RECORDED"


def decided(when: str, word: str = "ACCEPT") -> Recorded[f.Fact]:
    return b.rec(f.DecisionSigned("X-001", "P", "L2-A", None, word, (), False, (), (), "0"), when)


@pytest.mark.parametrize(("when", "verdict"), [("07:37:59", "FAIL"), ("07:38", "PASS"), ("07:38:01", "PASS")])
def test_m05_signed_decision_about_first_result(when: str, verdict: str) -> None:
    assert ask("M05", [*record(), decided(when)], "09:00").verdict == verdict


def test_m05_decision_undone_is_asked_anew_passes() -> None:
    undone = b.rec(f.DecisionUndone("X-001", "P", 1), "08:00")
    assert ask("M05", [*record(), decided("07:30"), undone], "09:00").verdict == "PASS"


def test_m05_first_result_out_of_range_fails() -> None:
    assert ask("M05", record(result=[concentration("07:38", "0.09 mL")])).verdict == "FAIL"


def test_m05_second_result_in_range_passes() -> None:
    assert ask("M05", record(result=[concentration("07:38", "0.09 mL"), concentration("08:50")])).verdict == "PASS"


@pytest.mark.parametrize(("when", "verdict"), [("05:59:59", "NOT YET"), ("06:00", "PASS")])
def test_m05_result_about_opening_of_the_shop_day(when: str, verdict: str) -> None:
    assert ask("M05", record(shots=[], sample=[], result=[concentration(when)])).verdict == verdict


@pytest.mark.parametrize(("when", "verdict"), [("05:59:59", "no result yet today"), ("06:00", "has settled")])
def test_m05_sample_about_opening_of_the_shop_day_not_yet(when: str, verdict: str) -> None:
    assert verdict in ask("M05", record(shots=[], sample=[sampled(when)], result=[])).says


@pytest.mark.parametrize(("asked", "verdict"), [("21:00", "NOT YET"), ("21:00:01", "NOT RECORDED")])
def test_m05_about_closing_of_the_shop_day(asked: str, verdict: str) -> None:
    assert ask("M05", record(result=[]), asked).verdict == verdict


def test_m05_sample_drawn_this_second_not_yet() -> None:
    assert ask("M05", record(shots=[], result=[]), "06:36").found == "60 min left"


def test_m05_before_shots_only_the_bench_of_the_station_is_asked_passes() -> None:
    other = b.rec(
        f.EquipmentEntered("MT-02", "bench", place="MT annex", tank_bath="MTB-26-09"), "06:00", day="2026-01-02"
    )
    facts = [*record(shots=[]), other]
    assert ask("M05", facts).verdict == "PASS"


def test_m05_before_shots_and_no_bench_at_the_station_all_are_asked_not_yet() -> None:
    other = b.rec(
        f.EquipmentEntered("MT-02", "bench", place="MT annex", tank_bath="MTB-26-09"), "06:00", day="2026-01-02"
    )
    facts = [*record(shots=[], opened=[b.opened("MT", station="MT desk")]), other]
    answer = ask("M05", facts)
    assert (answer.verdict, answer.says) == ("NOT YET", "MTB-26-09: no result yet today")


def test_m05_no_bench_on_file_not_recorded() -> None:
    assert ask("M05", record(shots=[], bench=[]), "07:34").verdict == "NOT RECORDED"


# --- M06, M07 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "verdict"), [("2026-03-04", "PASS"), ("2026-03-03", "PASS"), ("2026-03-02", "NOT RECORDED")]
)
def test_m06_contamination_check_about_7_days_old(day: str, verdict: str) -> None:
    assert ask("M06", record(dirt=[check("bath contamination", "23:00", day=day)])).verdict == verdict


@pytest.mark.parametrize(
    ("day", "verdict"), [("2026-02-08", "PASS"), ("2026-02-07", "PASS"), ("2026-02-06", "NOT RECORDED")]
)
def test_m07_vehicle_check_about_31_days_old(day: str, verdict: str) -> None:
    assert ask("M07", record(vehicle=[check("vehicle and viscosity", "09:00", day=day)])).verdict == verdict


@pytest.mark.parametrize(
    ("rule_id", "share", "kind"), [("M06", "dirt", "bath contamination"), ("M07", "vehicle", "vehicle and viscosity")]
)
def test_m06_m07_check_not_met_fails_and_never_checked_not_recorded(rule_id: str, share: str, kind: str) -> None:
    bad = check(kind, "07:00", passed=False, detail="dirt 0.08 on 0.20 mL")
    answer = ask(rule_id, record(**{share: [bad]}))
    assert answer.verdict == "FAIL"
    assert "dirt 0.08 on 0.20 mL" in answer.says
    assert ask(rule_id, record(**{share: []})).verdict == "NOT RECORDED"
    assert ask(rule_id, record(**{share: [check(kind, "08:05")]})).verdict == "NOT RECORDED"  # after the first shot


# --- M08 ------------------------------------------------------------------------------------------


def water() -> list[Recorded[f.Fact]]:
    return [b.rec(f.EquipmentEntered("MTB-26-07", "bath", vehicle="water"), "06:00", day="2026-01-02")]


def test_m08_oil_bath_not_applicable_by_equipment_record() -> None:
    answer = ask("M08")
    assert (answer.verdict, answer.says) == ("NOT APPLICABLE", "equipment record: vehicle of MTB-26-07 is oil")


@pytest.mark.parametrize("bath", [[], [b.rec(f.EquipmentEntered("MTB-26-07", "bath"), "06:00")]])
def test_m08_vehicle_blank_not_recorded(bath: list[Recorded[f.Fact]]) -> None:
    assert ask("M08", record(bath=bath)).verdict == "NOT RECORDED"


@pytest.mark.parametrize(
    ("done", "verdict"),
    [
        (check("water break", "07:00"), "PASS"),
        (check("water break", "06:00"), "PASS"),
        (check("water break", "05:59:59"), "NOT RECORDED"),
        (check("water break", "08:00"), "PASS"),
        (check("water break", "08:00:01"), "NOT RECORDED"),
        (check("water break", "07:00", day="2026-03-09"), "NOT RECORDED"),
        (check("water break", "07:00", passed=False), "FAIL"),
    ],
)
def test_m08_water_bath(done: Recorded[f.Fact], verdict: str) -> None:
    assert ask("M08", [*record(bath=water()), done]).verdict == verdict


# --- M09 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("holes", "verdict"), [(4, "FAIL"), (5, "PASS"), (6, "PASS"), (None, "NOT RECORDED")])
def test_m09_holes_about_5(holes: int | None, verdict: str) -> None:
    assert ask("M09", record(ring=[ring("07:44", holes)])).verdict == verdict


@pytest.mark.parametrize(("when", "verdict"), [("07:59:59", "PASS"), ("08:00", "PASS"), ("08:00:01", "NOT RECORDED")])
def test_m09_ring_about_first_shot(when: str, verdict: str) -> None:
    assert ask("M09", record(ring=[ring(when)])).verdict == verdict


def test_m09_current_blank_not_recorded() -> None:
    answer = ask("M09", record(ring=[ring("07:44", amps=None)]))
    assert answer.verdict == "NOT RECORDED"
    assert "current" in answer.says


@pytest.mark.parametrize("rings", [[], [ring("07:44", day="2026-03-09")], [ring("05:59:59")]])
def test_m09_no_ring_today_not_recorded(rings: list[Recorded[f.Fact]]) -> None:
    assert ask("M09", record(ring=rings)).verdict == "NOT RECORDED"


def test_m09_ring_at_opening_of_the_shop_day_passes() -> None:
    assert ask("M09", record(ring=[ring("06:00")])).verdict == "PASS"


def test_m09_marked_not_met_fails() -> None:
    answer = ask("M09", record(ring=[ring("07:44", passed=False)]))
    assert answer.verdict == "FAIL"
    assert "6 holes at 2500 A" in answer.says


def test_every_fact_used_is_named_in_the_answer() -> None:
    facts = record()
    answer = ask("M02", facts)
    used = {type(r.fact).__name__ for r in facts if r.position in answer.facts}
    assert used == {"BathSampled", "ReadingRecorded"}
