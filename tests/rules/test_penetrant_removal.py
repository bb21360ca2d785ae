"""P11 to P21: prewash, remover, wash or rinse, dryer."""

from __future__ import annotations

from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from tests import build
from tests.build import num
from tests.rules.penetrant_day import (
    LINE,
    Fact,
    ask,
    ask_d,
    basket,
    end,
    filled,
    line,
    load,
    minute,
    observed,
    reading,
    rem,
    start,
    steps,
    tick,
)

PASS, FAIL, NOT_RECORDED, NOT_YET, NOT_APPLICABLE = (
    Verdict.PASS,
    Verdict.FAIL,
    Verdict.NOT_RECORDED,
    Verdict.NOT_YET,
    Verdict.NOT_APPLICABLE,
)


# --- P11, P12 ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # 60 s: practice for hydrophilic pre-rinse, from memory
    ("ended", "verdict", "found"),
    [("08:40:59", PASS, "59 s"), ("08:41:00", PASS, "1 min"), ("08:41:01", FAIL, "61 s"), ("08:41:35", FAIL, "95 s")],
)
def test_p11_prewash_at_limit(ended: str, verdict: Verdict, found: str) -> None:
    answer = ask_d("P11", basket("D", prewash=("08:40:00", ended)))
    assert (answer.verdict, answer.found, answer.limit) == (verdict, found, "at most 60 s")


def test_p11_timed_to_the_minute_not_recorded() -> None:
    answer = ask_d("P11", basket("D", prewash=("08:40:00", minute("08:41"))))
    assert (answer.verdict, answer.says) == (
        NOT_RECORDED,
        "prewash was timed to the minute only, its limit is in seconds",
    )


def test_p11_no_prewash_not_recorded() -> None:
    assert ask_d("P11", basket("D", prewash=None)).verdict is NOT_RECORDED
    assert ask_d("P11", basket("D", prewash=("08:40:00", None))).verdict is NOT_RECORDED


def test_p11_running_not_yet_then_fails() -> None:
    facts = basket("D", prewash=("08:40:00", None), remover=None, wash=None, dry=None, develop=None, view=None)
    assert ask_d("P11", facts, "08:41:00").verdict is NOT_YET
    assert ask_d("P11", facts, "08:41:01").verdict is FAIL


@pytest.mark.parametrize("rule_id", ["P11", "P12", "P13", "P14"])
def test_p11_to_p14_method_a_not_applicable(rule_id: str) -> None:
    answer = ask(rule_id, basket())
    assert (answer.verdict, answer.says) == (NOT_APPLICABLE, "technique T-1 Rev 2 is Method A")


@pytest.mark.parametrize("rule_id", ["P11", "P12", "P13", "P14", "P16"])
def test_removal_method_missing_in_technique_not_recorded(rule_id: str) -> None:
    assert ask(rule_id, basket(), technique=build.technique(pt_method=None)).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    # 120 s: ceiling of hydrophilic contact, practice, from memory; 10 s: no source
    ("ended", "verdict", "found"),
    [
        ("08:41:09", FAIL, "9 s"),
        ("08:41:10", PASS, "10 s"),
        ("08:41:11", PASS, "11 s"),
        ("08:42:59", PASS, "119 s"),
        ("08:43:00", PASS, "2 min"),
        ("08:43:01", FAIL, "2 min 1 s"),
    ],
)
def test_p12_remover_contact_at_limits(ended: str, verdict: Verdict, found: str) -> None:
    answer = ask_d("P12", basket("D", remover=("08:41:00", ended), wash=("08:43:10", "08:43:50")))
    assert (answer.verdict, answer.found) == (verdict, found)


def test_p12_timed_to_the_minute_not_recorded() -> None:
    assert ask_d("P12", basket("D", remover=(minute("08:41"), "08:42:00"))).verdict is NOT_RECORDED


def test_p12_end_missing_not_recorded() -> None:
    assert ask_d("P12", basket("D", remover=("08:41:00", None))).verdict is NOT_RECORDED
    assert ask_d("P12", basket("D", remover=None)).verdict is NOT_RECORDED


def test_p12_in_the_remover_not_yet_then_fails() -> None:
    facts = basket("D", remover=("08:41:00", None), wash=None, dry=None, develop=None, view=None)
    assert ask_d("P12", facts, "08:41:05").verdict is NOT_YET
    assert ask_d("P12", facts, "08:43:00").verdict is NOT_YET
    assert ask_d("P12", facts, "08:43:01").verdict is FAIL


def test_p12_two_starts_longest_from_first_shortest_from_last() -> None:
    facts = basket("D", remover=("08:41:00", "08:42:00"))
    assert ask_d("P12", [*facts, start("remover", "08:41:51")]).verdict is FAIL
    assert ask_d("P12", [*facts, start("remover", "08:41:50")]).verdict is PASS


# --- P13 --------------------------------------------------------------------------------------------


def concentration(value: str, **changed: Any) -> list[Fact]:
    facts = [r for r in basket("D") if getattr(r.fact, "quantity", "") != "remover concentration"]
    return [*facts, reading("REM", "remover concentration", value, **changed)]


@pytest.mark.parametrize(
    # nominal 20 % +/- 3 % absolute: common practice, no source
    ("value", "verdict"),
    [
        ("16.9 %", FAIL),
        ("17 %", PASS),
        ("17.1 %", PASS),
        ("22.9 %", PASS),
        ("23 %", PASS),
        ("23.1 %", FAIL),
        ("27 %", FAIL),
    ],
)
def test_p13_concentration_about_nominal(value: str, verdict: Verdict) -> None:
    assert ask_d("P13", concentration(value)).verdict is verdict


@pytest.mark.parametrize(
    # 35 %: ceiling for immersion, practice, from memory
    ("value", "verdict"),
    [("34.9 %", PASS), ("35 %", PASS), ("35.1 %", FAIL)],
)
def test_p13_concentration_ceiling(value: str, verdict: Verdict) -> None:
    facts = [r for r in concentration(value) if getattr(r.fact, "material", "") != "remover"]
    assert ask_d("P13", [*facts, rem(nominal_percent=num("34 %"))]).verdict is verdict


@pytest.mark.parametrize(("day", "verdict"), [("2026-03-04", PASS), ("2026-03-03", PASS), ("2026-03-02", NOT_RECORDED)])
def test_p13_reading_due_day_counts(day: str, verdict: Verdict) -> None:
    assert ask_d("P13", concentration("20 %", day=day, when="23:00")).verdict is verdict


def test_p13_no_reading_or_nominal_not_recorded() -> None:
    assert ask_d("P13", concentration("20 %", when="08:41:01")).verdict is NOT_RECORDED
    assert ask_d("P13", concentration("20 %", when="08:41:00")).verdict is PASS
    facts = [r for r in basket("D") if getattr(r.fact, "material", "") != "remover"]
    assert ask_d("P13", [*facts, rem(nominal_percent=None)]).verdict is NOT_RECORDED
    assert ask_d("P13", [*facts, filled("PEN", "DEV", day="2026-01-07"), rem()]).verdict is NOT_RECORDED


# --- P14 --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ended", "verdict"), [("08:43:09", PASS), ("08:43:10", PASS), ("08:43:11", FAIL)])
def test_p14_rinse_at_limit(ended: str, verdict: Verdict) -> None:
    # 60 s: common practice, no source
    assert ask_d("P14", basket("D", wash=("08:42:10", ended))).verdict is verdict


def test_p14_unchecked_not_recorded_and_no_fails() -> None:
    assert ask_d("P14", basket("D", without=["rinse checked under UV-A"])).verdict is NOT_RECORDED
    assert ask_d("P14", basket("D", ticks={"rinse checked under UV-A": "no"})).verdict is FAIL


def test_p14_minute_stamp_or_no_end_not_recorded() -> None:
    assert ask_d("P14", basket("D", wash=("08:42:10", minute("08:43")))).verdict is NOT_RECORDED
    assert ask_d("P14", basket("D", wash=("08:42:10", None))).verdict is NOT_RECORDED


def test_p14_rinsing_not_yet_even_without_tick() -> None:
    facts = basket(
        "D", without=["rinse checked under UV-A"], wash=("08:42:10", None), dry=None, develop=None, view=None
    )
    assert ask_d("P14", facts, "08:43:10").verdict is NOT_YET
    assert ask_d("P14", facts, "08:43:11").verdict is FAIL


# --- P15 --------------------------------------------------------------------------------------------


def water(
    temperature: str | None = "68 degF",
    pressure: str | None = "28 psi",
    nozzle: str | None = "14 in",
    when: str = "07:00",
    day: str = build.DAY,
) -> list[Fact]:
    facts = basket(without=["checks", "nozzle"])
    if temperature:
        facts.append(reading("PT line", "water temperature", temperature, when, day))
    if pressure:
        facts.append(reading("PT line", "water pressure", pressure, when, day))
    if nozzle:
        facts.append(observed("wash", "nozzle distance", nozzle))
    return facts


@pytest.mark.parametrize(
    # 50 to 100 degF (10 to 38 degC) and 40 psi: aerospace practice as quoted by trade pages; 12 in: TM 1-1500-204-23-7
    ("changed", "verdict"),
    [
        ({"temperature": "49.9 degF"}, FAIL),
        ({"temperature": "50 degF"}, PASS),
        ({"temperature": "100 degF"}, PASS),
        ({"temperature": "100.1 degF"}, FAIL),
        ({"temperature": None}, NOT_RECORDED),
        ({"pressure": "39.9 psi"}, PASS),
        ({"pressure": "40 psi"}, PASS),
        ({"pressure": "40.1 psi"}, FAIL),
        ({"pressure": "276 kPa"}, FAIL),  # 40.03 psi
        ({"pressure": None}, NOT_RECORDED),
        ({"nozzle": "11.9 in"}, FAIL),
        ({"nozzle": "12 in"}, PASS),
        ({"nozzle": "12.1 in"}, PASS),
        ({"nozzle": None}, NOT_RECORDED),
        ({"when": "08:40:01"}, NOT_RECORDED),
        ({"when": "08:40"}, PASS),
        ({"when": "06:00"}, PASS),
        ({"when": "05:59:59"}, NOT_RECORDED),
        ({"day": "2026-03-09"}, NOT_RECORDED),
    ],
)
def test_p15_water_at_limits(changed: dict[str, Any], verdict: Verdict) -> None:
    assert ask("P15", water(**changed)).verdict is verdict


@pytest.mark.parametrize(("pressure", "verdict"), [("24.9 psi", PASS), ("25 psi", PASS), ("25.1 psi", FAIL)])
def test_p15_air_judged_where_used(pressure: str, verdict: Verdict) -> None:
    # 25 psi: trade page on over-washing
    assert ask("P15", [*water(), observed("wash", "air pressure", pressure)]).verdict is verdict


def test_p15_line_record_incomplete_not_recorded() -> None:
    facts = [r for r in water() if r.fact.subjects() != (LINE,)]
    answer = ask("P15", facts)
    assert (answer.verdict, answer.says) == (NOT_RECORDED, f"{LINE} has no equipment record")
    assert ask("P15", [*facts, line(water=None)]).verdict is NOT_RECORDED
    assert ask("P15", [*facts, line()]).verdict is PASS


def test_p15_names_the_hot_water() -> None:
    assert ask("P15", water(temperature="106 degF")).says == "water 106 degF is above 100 degF"


# --- P16 to P18 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # 180 s for each part: common practice, no source; two parts in this basket
    ("ended", "verdict"),
    [("08:45:59", PASS), ("08:46:00", PASS), ("08:46:01", FAIL)],
)
def test_p16_wash_for_two_parts_at_limit(ended: str, verdict: Verdict) -> None:
    answer = ask("P16", basket(wash=("08:40", ended)))
    assert (answer.verdict, answer.limit) == (
        verdict,
        "at most 180 s x 2 = 6 min, on average: only the basket was timed",
    )


def piece(name: str, began: str, ended: str) -> Fact:
    return build.rec(f.PieceTimed("B1", "wash", f"W26-0148/PN-1/{name}", build.at(began)), ended)


@pytest.mark.parametrize(
    ("ended", "verdict"), [("08:42:59", PASS), ("08:43:00", PASS), ("08:43:01", FAIL), ("08:45:00", FAIL)]
)
def test_p16_one_part_far_too_long_is_not_hidden_by_the_mean(ended: str, verdict: Verdict) -> None:
    """Six minutes for two parts of at most 180 s each are right on average, whichever part had them."""
    washed = basket(wash=("08:40", "08:46:00"))
    assert ask("P16", washed).verdict is PASS
    answer = ask("P16", [*washed, piece("S-1", "08:40:00", ended), piece("S-2", ended, "08:46:00")])
    expected = FAIL if ended == "08:42:59" else verdict  # then the other one had 181 s
    assert answer.verdict is expected
    if expected is FAIL:
        assert "washed" in answer.says and "longest 180 s" in answer.says


def test_p16_every_part_timed_by_itself_needs_no_mean() -> None:
    """Between two parts the basket waits: 7 min in all, 3 min for each of two."""
    facts = [piece("S-1", "08:40:00", "08:43:00"), piece("S-2", "08:44:00", "08:47:00")]
    answer = ask("P16", [*basket(wash=("08:40", "08:47:00")), *facts])
    assert (answer.verdict, answer.found, answer.limit) == (PASS, "S-1 3 min; S-2 3 min", "at most 180 s")
    assert ask("P16", basket(wash=("08:40", "08:47:00"))).verdict is FAIL


def test_p16_some_parts_timed_by_themselves_says_so() -> None:
    answer = ask("P16", [*basket(wash=("08:40", "08:46:00")), piece("S-1", "08:40:00", "08:43:00")])
    assert answer.verdict is PASS
    assert "on average: only 1 of 2 were timed by themselves" in answer.limit
    assert ask("P16", [*basket(wash=("08:40", "08:42:00")), piece("S-1", "08:38:00", "08:41:01")]).verdict is FAIL


def test_p16_part_that_ended_before_it_began_not_recorded() -> None:
    answer = ask("P16", [*basket(wash=("08:40", "08:46:00")), piece("S-1", "08:43:00", "08:41:00")])
    assert (answer.verdict, answer.says) == (NOT_RECORDED, "wash of part S-1 ended before it began")


def test_p16_passes_of_one_part_count_together() -> None:
    twice = [piece("S-1", "08:40:00", "08:42:00"), piece("S-1", "08:43:00", "08:44:01")]
    answer = ask("P16", [*basket(wash=("08:40", "08:45:00")), *twice])
    assert (answer.verdict, answer.says) == (FAIL, "part S-1 washed 3 min 1 s, longest 180 s")


def test_p16_twelve_minutes_for_four_parts_passes() -> None:
    facts = [
        load(),
        *steps({"wet": ("14:20", "14:23")}),
        start("wash", "14:56", pieces=4),
        end("wash", "15:08", outcome="clean"),
    ]
    answer = ask("P16", facts)
    assert (answer.verdict, answer.found) == (PASS, "12 min")


def test_p16_pieces_unknown_not_recorded() -> None:
    facts = [load(), start("wet", "08:00", pieces=None), start("wash", "08:40", pieces=None), end("wash", "08:41")]
    assert ask("P16", facts).verdict is NOT_RECORDED


def test_p16_no_wash_or_no_end_not_recorded() -> None:
    assert ask("P16", basket(wash=None)).verdict is NOT_RECORDED
    assert ask("P16", basket(wash=("08:40", None))).verdict is NOT_RECORDED


def test_p16_minute_stamps_that_could_be_either_not_recorded() -> None:
    assert ask("P16", basket(wash=(minute("08:40"), minute("08:46")))).verdict is NOT_RECORDED
    assert ask("P16", basket(wash=(minute("08:40"), minute("08:45")))).verdict is PASS
    assert ask("P16", basket(wash=(minute("08:40"), minute("08:48")))).verdict is FAIL


def test_p16_washed_twice_counts_together() -> None:
    facts = basket(wash=("08:40", "08:43"), dry=None, develop=None, view=None)
    again = [start("wash", "08:44"), end("wash", "08:47", outcome="clean")]
    answer = ask("P16", [*facts, *again])
    assert (answer.verdict, answer.found) == (PASS, "6 min")
    assert ask("P16", [*facts, again[0], end("wash", "08:47:01", outcome="clean")]).verdict is FAIL


def test_p16_washing_not_yet_then_fails() -> None:
    facts = basket(wash=("08:40", None), dry=None, develop=None, view=None)
    assert ask("P16", facts, "08:46").verdict is NOT_YET
    assert ask("P16", facts, "08:46:01").verdict is FAIL


def test_p16_method_d_not_applicable() -> None:
    assert ask_d("P16", basket("D")).verdict is NOT_APPLICABLE


@pytest.mark.parametrize(
    ("background", "stated", "not_over_washed"),
    [
        ("clean", PASS, PASS),
        ("light background", PASS, PASS),
        ("over-washed", PASS, FAIL),
        (None, NOT_RECORDED, NOT_RECORDED),
        ("fine", NOT_RECORDED, NOT_RECORDED),
    ],
)
def test_p17_p18_background(background: str | None, stated: Verdict, not_over_washed: Verdict) -> None:
    facts = basket(background=background)
    assert ask("P17", facts).verdict is stated
    assert ask("P18", facts).verdict is not_over_washed


@pytest.mark.parametrize("rule_id", ["P17", "P18"])
def test_p17_p18_wash_not_ended(rule_id: str) -> None:
    assert ask(rule_id, basket(wash=None)).verdict is NOT_RECORDED
    assert ask(rule_id, basket(wash=("08:40", None))).verdict is NOT_RECORDED
    assert ask(rule_id, basket(wash=("08:40", None), dry=None, develop=None, view=None), "08:42").verdict is NOT_YET


def test_p18_over_washed_stays_after_another_wash() -> None:
    facts = basket(background="over-washed", dry=None, develop=None, view=None)
    answer = ask("P18", [*facts, start("wash", "08:46"), end("wash", "08:47", outcome="clean")])
    assert (answer.verdict, answer.says) == (FAIL, "over-washed at 08:45: the process stops here")


# --- P19 to P21 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    # 10 min: common practice, no source
    ("put_in", "verdict"),
    [("08:54:59", PASS), ("08:55", PASS), ("08:55:01", FAIL), ("08:59", FAIL)],
)
def test_p19_wash_to_dryer_at_limit(put_in: str, verdict: Verdict) -> None:
    assert ask("P19", basket(dry=(put_in, "09:10"))).verdict is verdict


def test_p19_last_part_in_counts() -> None:
    assert ask("P19", [*basket(dry=("08:50", "09:10")), start("dry", "08:55:01")]).verdict is FAIL


def test_p19_on_the_rack_not_yet_then_fails() -> None:
    facts = basket(dry=None, develop=None, view=None)
    answer = ask("P19", facts, "08:55")
    assert (answer.verdict, answer.says) == (NOT_YET, "time from wash to dryer is running: 10 min, must end by 08:55")
    assert ask("P19", facts, "08:55:01").verdict is FAIL


@pytest.mark.parametrize("missing", [{"wash": None}, {"wash": ("08:40", None)}, {"dry": None}])
def test_p19_missing_time_not_recorded(missing: dict[str, Any]) -> None:
    assert ask("P19", basket(**missing)).verdict is NOT_RECORDED


def dryer(value: str, when: str = "07:00", day: str = build.DAY) -> list[Fact]:
    return [*basket(without=["checks"]), reading("dryer", "dryer temperature", value, when, day)]


@pytest.mark.parametrize(
    # 160 degF: NAVSEA T9074-AS-GIB-010/271
    ("value", "verdict"),
    [("159.9 degF", PASS), ("160 degF", PASS), ("160.1 degF", FAIL), ("71 degC", PASS), ("72 degC", FAIL)],
)
def test_p20_dryer_temperature_at_limit(value: str, verdict: Verdict) -> None:
    assert ask("P20", dryer(value)).verdict is verdict


@pytest.mark.parametrize(
    ("when", "day", "verdict"),
    [("08:50", build.DAY, PASS), ("08:50:01", build.DAY, NOT_RECORDED), ("07:00", "2026-03-09", NOT_RECORDED)],
)
def test_p20_reading_of_the_day_before_use(when: str, day: str, verdict: Verdict) -> None:
    assert ask("P20", dryer("150 degF", when, day)).verdict is verdict


def test_p20_last_reading_before_use_counts() -> None:
    assert ask("P20", [*dryer("150 degF"), reading("dryer", "dryer temperature", "171 degF", "08:30")]).verdict is FAIL


def test_p20_dryer_of_line_unknown_not_recorded() -> None:
    facts = [r for r in dryer("150 degF") if r.fact.subjects() != (LINE,)]
    assert ask("P20", [*facts, line(dryer=None)]).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    # 30 min: common practice, no source
    ("out", "verdict"),
    [("09:19:59", PASS), ("09:20", PASS), ("09:20:01", FAIL), ("09:24", FAIL)],
)
def test_p21_dryer_time_at_limit(out: str, verdict: Verdict) -> None:
    assert ask("P21", basket(dry=("08:50", out), develop=("09:25", "09:26"))).verdict is verdict


def test_p21_dryness_tick() -> None:
    assert ask("P21", basket(without=["dry at dryer out"])).verdict is NOT_RECORDED
    assert ask("P21", basket(ticks={"dry at dryer out": "no"})).verdict is FAIL


def test_p21_other_developer_needs_no_dryness_tick() -> None:
    facts = basket(without=["dry at dryer out"])
    assert ask("P21", facts, technique=build.technique(developer_form="b")).verdict is PASS
    assert ask("P21", facts, technique=build.technique(developer_form=None)).verdict is NOT_RECORDED


def test_p21_in_the_dryer_not_yet_then_fails_and_end_missing_not_recorded() -> None:
    facts = basket(without=["dry at dryer out"], dry=("08:50", None), develop=None, view=None)
    assert ask("P21", facts, "09:20").verdict is NOT_YET
    assert ask("P21", facts, "09:20:01").verdict is FAIL
    assert ask("P21", basket(dry=("08:50", None))).verdict is NOT_RECORDED
    assert ask("P21", basket(dry=None)).verdict is NOT_RECORDED


def test_tick_on_the_inspection_counts_too() -> None:
    facts = [*basket(without=["dry at dryer out"]), tick("dry at dryer out", about="X-001", attempt=1)]
    assert ask("P21", facts).verdict is PASS
