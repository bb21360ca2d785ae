"""Shot rules: calibration, current, pulses, type, order, bath mode, contacts, re-shoot.

Sources of the limits used: calibration every 6 months: ASTM E3024-16 Table 1;
pulse at least 0.5 s: a light-helicopter maker's manual; two pulses and the
longest pulse: from memory; current within 10 %: common practice, no source;
demagnetising between directions: AC 43.13-1B; bath off before the current
ends: ISO-style practice notes.
"""

from __future__ import annotations

import dataclasses
from datetime import date
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.procedure import NominalShot
from tests import build as b
from tests.rules.mt_record import (
    ask,
    calibration,
    demag,
    evaluated,
    fired,
    interpreted,
    missing_keys,
    re_shot,
    record,
    seen,
    tick,
    void,
)

RULES = ("M10", "M11", "M12", "M13", "M14", "M16", "M17", "M18", "M20", "M25", "M28", "M32", "M33", "M34", "M37")
SHOT_RULES = ("M10", "M11", "M12", "M13", "M16", "M17", "M20", "M28")
Nominals = tuple[NominalShot, ...]


def ungrouped(**first: Any) -> dict[str, Any]:
    """A technique whose two shots are viewed one by one, as argument of ``ask``."""
    return {"technique": b.technique("MT", shots=(b.shot(1, "circular", **first), b.shot(2, "longitudinal", "600 A")))}


@pytest.mark.parametrize("rule_id", [*SHOT_RULES, "M14", "M25", "M32"])
def test_complete_record_passes(rule_id: str) -> None:
    assert ask(rule_id).verdict == "PASS"


@pytest.mark.parametrize("rule_id", SHOT_RULES)
def test_record_without_shots_not_recorded(rule_id: str) -> None:
    assert ask(rule_id, record(shots=[])).verdict == "NOT RECORDED"


@pytest.mark.parametrize("rule_id", ["M11", "M12", "M13", "M16", "M20", "M28"])
def test_shot_unknown_to_technique_not_recorded(rule_id: str) -> None:
    answer = ask(rule_id, record(shots=[fired(1, "08:00"), fired(2, "08:10"), fired(9, "08:15")]))
    assert answer.verdict == "NOT RECORDED"
    assert answer.says == "shot 9 at 08:15 is not in technique T-1 Rev 2"


@pytest.mark.parametrize("rule_id", ["M14", "M18", "M20", "M25", "M33"])
def test_technique_without_shots_not_recorded(rule_id: str) -> None:
    answer = ask(rule_id, technique=b.technique("MT", shots=()))
    assert answer.verdict == "NOT RECORDED"
    assert "T-1 Rev 2 lists no shots" in answer.says


@pytest.mark.parametrize(("rule_id", "key"), missing_keys(RULES))
def test_parameter_missing_not_recorded_names_key(rule_id: str, key: str) -> None:
    answer = ask(rule_id, parameters={key: None})
    assert answer.verdict == "NOT RECORDED"
    assert answer.says == f"procedure MT-P-01 rev D gives no value for {key}"


# --- M10 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("due", "verdict"), [(date(2026, 3, 11), "PASS"), (date(2026, 3, 10), "PASS"), (date(2026, 3, 9), "FAIL")]
)
@pytest.mark.parametrize("item", ["ammeter", "shot timer", "quick break"])
def test_m10_due_about_day_of_shots(item: str, due: date, verdict: str) -> None:
    others = [calibration(name) for name in ("ammeter", "shot timer", "quick break") if name != item]
    answer = ask("M10", record(calibrations=[*others, calibration(item, due)]))
    assert answer.verdict == verdict
    if verdict == "FAIL":
        assert answer.says == f"MT-01: calibration of {item} ended 2026-03-09"


def test_m10_item_not_on_file_not_recorded() -> None:
    answer = ask("M10", record(calibrations=[calibration("ammeter"), calibration("quick break")]))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "MT-01: no calibration of shot timer on file")


def test_m10_calibrated_only_after_the_shots_not_recorded() -> None:
    late = calibration("ammeter", date(2026, 9, 1), date(2026, 3, 11))
    assert (
        ask("M10", record(calibrations=[late, calibration("shot timer"), calibration("quick break")])).verdict
        == "NOT RECORDED"
    )


def test_m10_later_calibration_does_not_heal_the_expired_one_fails() -> None:
    old, new = calibration("ammeter", date(2026, 3, 9)), calibration("ammeter", date(2026, 9, 1), date(2026, 3, 11))
    assert (
        ask("M10", record(calibrations=[old, new, calibration("shot timer"), calibration("quick break")])).verdict
        == "FAIL"
    )


@pytest.mark.parametrize(("done", "verdict"), [(date(2026, 3, 10), "PASS"), (date(2026, 3, 11), "NOT RECORDED")])
def test_m10_done_about_day_of_shots(done: date, verdict: str) -> None:
    first = calibration("ammeter", date(2026, 9, 1), done)
    assert (
        ask("M10", record(calibrations=[first, calibration("shot timer"), calibration("quick break")])).verdict
        == verdict
    )


# --- M11 ------------------------------------------------------------------------------------------


def pushrods(amps: str, *earlier: tuple[str, str, str], shots: list[Recorded[f.Fact]] | None = None) -> Any:
    technique = b.technique("MT", shots=(b.shot(1, "circular", "300 A"),))
    settings = tuple((b.num(text), item, number) for text, item, number in earlier)
    return ask(
        "M11", record(shots=shots or [fired(1, "11:22", amps)]), "11:23", technique=technique, earlier_amps=settings
    )


@pytest.mark.parametrize(
    ("amps", "verdict"),
    [
        ("270 A", "PASS"),
        ("269.9 A", "FAIL"),
        ("270.1 A", "PASS"),
        ("305 A", "PASS"),
        ("329.9 A", "PASS"),
        ("330 A", "PASS"),
        ("330.1 A", "FAIL"),
        ("0.33 kA", "PASS"),
    ],
)
def test_m11_current_about_10_percent(amps: str, verdict: str) -> None:
    assert pushrods(amps).verdict == verdict


def test_m11_810_a_names_the_nearest_earlier_setting_fails() -> None:
    answer = pushrods(
        "810 A",
        ("1200 A", "rocker arms", "MT-T-6030"),
        ("800 A", "rocker arms", "MT-T-6030"),
        ("800 A", "tappets", "MT-T-6022"),
        ("1000 A", "rocker arms", "MT-T-6030"),
    )
    assert answer.verdict == "FAIL"
    assert answer.says == "shot 1 at 11:22: 810 A, technique 300 A +/- 30 A. 800 A was set for rocker arms (MT-T-6030)"
    assert (answer.found, answer.limit) == ("810 A", "300 A +/- 10 %")
    assert answer.ways_out == ("void the shot, demagnetise, shoot again",)


@pytest.mark.parametrize(
    ("earlier", "named"), [("900 A", True), ("900.1 A", False), ("736.3 A", False), ("736.4 A", True)]
)
def test_m11_earlier_setting_must_be_within_its_own_tolerance(earlier: str, named: bool) -> None:
    answer = pushrods("810 A", (earlier, "gears", "MT-T-6050"))
    assert ("gears" in answer.says) is named


def test_m11_two_earlier_settings_nearest_in_value_wins() -> None:
    answer = pushrods("810 A", ("800 A", "caps", "MT-T-6011"), ("815 A", "shafts", "MT-T-6034"))
    assert "815 A was set for shafts (MT-T-6034)" in answer.says


def test_m11_wrong_shot_voided_and_repeated_passes() -> None:
    answer = pushrods("", shots=[fired(1, "11:22", "810 A"), void(1, "11:22"), fired(1, "11:25", "305 A")])
    assert answer.verdict == "PASS"


def test_m11_one_wrong_pulse_of_two_fails() -> None:
    shot = fired(1, "08:00")
    assert isinstance(shot.fact, f.ShotFired)
    pulses = (shot.fact.pulses[0], f.Pulse(b.num("1101 A"), b.num("0.7 s")))
    wrong = dataclasses.replace(shot, fact=dataclasses.replace(shot.fact, pulses=pulses))
    assert ask("M11", record(shots=[wrong, fired(2, "08:10")])).verdict == "FAIL"


@pytest.mark.parametrize("shot", [fired(1, "08:00", "blank"), fired(1, "08:00", pulses=0)])
def test_m11_current_or_pulses_blank_not_recorded(shot: Recorded[f.Fact]) -> None:
    assert ask("M11", record(shots=[shot, fired(2, "08:10")])).verdict == "NOT RECORDED"


# --- M12 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seconds", "verdict"),
    [
        ("0.2 s", "FAIL"),
        ("0.499 s", "FAIL"),
        ("0.5 s", "PASS"),
        ("0.501 s", "PASS"),
        ("1.499 s", "PASS"),
        ("1.5 s", "PASS"),
        ("1.501 s", "FAIL"),
        (None, "NOT RECORDED"),
    ],
)
def test_m12_pulse_length(seconds: str | None, verdict: str) -> None:
    assert ask("M12", record(shots=[fired(1, "08:00", seconds=seconds), fired(2, "08:10")])).verdict == verdict


@pytest.mark.parametrize(("pulses", "verdict"), [(0, "NOT RECORDED"), (1, "FAIL"), (2, "PASS"), (3, "PASS")])
def test_m12_number_of_pulses_about_procedures_two(pulses: int, verdict: str) -> None:
    assert ask("M12", record(shots=[fired(1, "08:00", pulses=pulses), fired(2, "08:10")])).verdict == verdict


@pytest.mark.parametrize(("pulses", "verdict"), [(2, "FAIL"), (3, "PASS")])
def test_m12_number_of_pulses_about_techniques_three(pulses: int, verdict: str) -> None:
    shots = (
        dataclasses.replace(b.shot(1, "circular", group="all"), pulses=3),
        b.shot(2, "longitudinal", "600 A", group="all"),
    )
    answer = ask(
        "M12",
        record(shots=[fired(1, "08:00", pulses=pulses), fired(2, "08:10")]),
        technique=b.technique("MT", shots=shots),
    )
    assert answer.verdict == verdict


def test_m12_one_short_pulse_says_both_fails() -> None:
    answer = ask("M12", record(shots=[fired(1, "08:00", pulses=1, seconds="0.2 s"), fired(2, "08:10")]))
    assert answer.says == "shot 1 at 08:00: 1 of 2 pulses; shot 1 at 08:00: pulse of 0.2 s"


# --- M13, M14 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("current", "verdict"), [("FWDC", "PASS"), ("AC", "FAIL"), ("HWDC", "FAIL"), (None, "NOT RECORDED")]
)
def test_m13_current_type(current: str | None, verdict: str) -> None:
    assert ask("M13", record(shots=[fired(1, "08:00", current_type=current), fired(2, "08:10")])).verdict == verdict


@pytest.mark.parametrize("shots", [[fired(1, "08:00")], [fired(1, "08:00"), fired(2, "08:10"), void(2, "08:10")], []])
def test_m14_shot_missing_or_void_not_recorded(shots: list[Recorded[f.Fact]]) -> None:
    answer = ask("M14", record(shots=shots))
    assert answer.verdict == "NOT RECORDED"
    assert "shot 2 (coil)" in answer.says


def test_m14_missing_coil_position_is_named_not_recorded() -> None:
    coil = b.shot(3, "longitudinal", position=b.num("25 in"))
    technique = b.technique("MT", shots=(b.shot(1, "circular"), b.shot(2, "longitudinal"), coil))
    assert ask("M14", technique=technique).says == "no shot recorded for shot 3 (coil at 25 in)"


def test_m14_shot_of_another_technique_fails() -> None:
    answer = ask("M14", record(shots=[fired(1, "08:00"), fired(2, "08:10"), fired(9, "08:15")]))
    assert answer.verdict == "FAIL"
    assert "shot 9 at 08:15" in answer.says


def test_m14_unknown_shot_voided_passes() -> None:
    shots = [fired(1, "08:00"), fired(2, "08:10"), fired(9, "08:15"), void(9, "08:15")]
    assert ask("M14", record(shots=shots)).verdict == "PASS"


# --- M16, M28 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mode", "m16", "m28"),
    [
        ("continuous", "PASS", "PASS"),
        ("bath off before last pulse", "PASS", "PASS"),
        ("bath after last pulse", "FAIL", "PASS"),
        ("residual", "FAIL", "FAIL"),
        (None, "NOT RECORDED", "NOT RECORDED"),
        ("somehow", "NOT RECORDED", "NOT RECORDED"),
    ],
)
def test_m16_m28_bath_mode_of_a_continuous_technique(mode: str | None, m16: str, m28: str) -> None:
    facts = record(shots=[fired(1, "08:00", bath_mode=mode), fired(2, "08:10")])
    assert (ask("M16", facts).verdict, ask("M28", facts).verdict) == (m16, m28)


def test_m16_residual_technique_not_applicable_and_m28_passes() -> None:
    shots = tuple(dataclasses.replace(n, bath_mode="residual") for n in b.technique("MT").shots)
    facts = record(shots=[fired(1, "08:00", bath_mode="residual"), fired(2, "08:10", bath_mode="residual")])
    technique = b.technique("MT", shots=shots)
    answer = ask("M16", facts, technique=technique)
    assert answer.verdict == "NOT APPLICABLE"
    assert "technique T-1 Rev 2" in answer.says
    assert ask("M28", facts, technique=technique).verdict == "PASS"


# --- M17 ------------------------------------------------------------------------------------------


def test_m17_grouped_shots_need_no_view_between_passes() -> None:
    assert ask("M17").verdict == "PASS"


def test_m17_groups_that_differ_not_recorded() -> None:
    shots = (b.shot(1, "circular", group="a"), b.shot(2, "longitudinal", group="b"))
    assert ask("M17", technique=b.technique("MT", shots=shots)).verdict == "NOT RECORDED"


@pytest.mark.parametrize(
    ("viewed", "verdict"),
    [("08:00:01", "PASS"), ("08:09:59", "PASS"), ("08:10:01", "FAIL"), ("07:59:59", "NOT RECORDED")],
)
def test_m17_view_between_two_shots(viewed: str, verdict: str) -> None:
    facts = [*record(), tick("viewed after shot", viewed, "1")]
    assert ask("M17", facts, **ungrouped()).verdict == verdict


@pytest.mark.parametrize("ticks", [[], [tick("viewed after shot", "08:05", "2")]])
def test_m17_no_view_of_that_shot_not_recorded(ticks: list[Recorded[f.Fact]]) -> None:
    answer = ask("M17", [*record(), *ticks], **ungrouped())
    assert (answer.verdict, answer.says) == (
        "NOT RECORDED",
        "view after shot 1 at 08:00 not recorded before shot 2 at 08:10",
    )


def test_m17_view_in_the_second_of_the_next_shot_follows_order_of_the_book() -> None:
    first, viewed, second = fired(1, "08:00"), tick("viewed after shot", "08:10", "1"), fired(2, "08:10")
    assert ask("M17", [*record(shots=[first, second]), viewed], **ungrouped()).verdict == "PASS"


def test_m17_last_shot_needs_no_tick_passes() -> None:
    assert ask("M17", record(shots=[fired(1, "08:00")]), **ungrouped()).verdict == "PASS"


def test_m17_shot_repeated_for_evidence_asks_for_a_view_of_the_one_before_not_recorded() -> None:
    shots = [fired(1, "08:00"), fired(2, "08:10"), fired(2, "08:30")]
    one = [*record(shots=shots), tick("viewed after shot", "08:05", "1")]
    assert ask("M17", one, **ungrouped()).verdict == "NOT RECORDED"
    assert ask("M17", [*one, tick("viewed after shot", "08:15", "2")], **ungrouped()).verdict == "PASS"


def test_m17_voided_shot_is_not_in_the_row_passes() -> None:
    shots = [fired(1, "08:00"), void(1, "08:00"), fired(1, "08:04"), fired(2, "08:10")]
    assert ask("M17", [*record(shots=shots), tick("viewed after shot", "08:06", "1")], **ungrouped()).verdict == "PASS"


# --- M18 ------------------------------------------------------------------------------------------


def with_demag_before() -> Any:
    shots = (b.shot(1, "circular"), b.shot(2, "longitudinal", "600 A", demag_before=True))
    return b.technique("MT", shots=shots)


def test_m18_technique_asks_for_none_not_applicable() -> None:
    answer = ask("M18")
    assert answer.verdict == "NOT APPLICABLE"
    assert "technique T-1 Rev 2" in answer.says


@pytest.mark.parametrize(
    ("when", "verdict"),
    [("07:59:59", "NOT RECORDED"), ("08:00:01", "PASS"), ("08:09:59", "PASS"), ("08:10:01", "NOT RECORDED")],
)
def test_m18_demagnetised_between_circular_and_longitudinal(when: str, verdict: str) -> None:
    assert ask("M18", record(demag=[demag(when), demag("08:20")]), technique=with_demag_before()).verdict == verdict


def test_m18_no_demagnetisation_not_recorded() -> None:
    answer = ask("M18", record(demag=[demag("08:20")]), technique=with_demag_before())
    assert answer.says == "no demagnetisation before shot 2 at 08:10 since shot 1 at 08:00"


def test_m18_longitudinal_shot_missing_not_recorded() -> None:
    assert ask("M18", record(shots=[fired(1, "08:00")]), technique=with_demag_before()).verdict == "NOT RECORDED"


def test_m18_longitudinal_repeated_without_new_circular_passes() -> None:
    shots = [fired(1, "08:00"), fired(2, "08:10"), fired(2, "08:15")]
    assert (
        ask("M18", record(shots=shots, demag=[demag("08:05"), demag("08:20")]), technique=with_demag_before()).verdict
        == "PASS"
    )


def test_m18_voided_circular_shot_left_its_field_not_recorded() -> None:
    shots = [fired(1, "08:00"), fired(1, "08:07"), void(1, "08:07"), fired(2, "08:10")]
    facts = record(shots=shots, demag=[demag("08:05"), demag("08:20")])
    assert ask("M18", facts, technique=with_demag_before()).verdict == "NOT RECORDED"


# --- M20 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("turns", "amps", "verdict"),
    [
        (5, "600 A", "PASS"),
        (5, "540 A", "PASS"),
        (5, "539.9 A", "FAIL"),
        (5, "660 A", "PASS"),
        (5, "660.1 A", "FAIL"),
        (3, "1000 A", "PASS"),  # ampere-turns alone; the current is another rule
        (3, "600 A", "FAIL"),
        (None, "600 A", "NOT RECORDED"),
        (5, "blank", "NOT RECORDED"),
    ],
)
def test_m20_ampere_turns_about_3000(turns: int | None, amps: str, verdict: str) -> None:
    assert ask("M20", record(shots=[fired(1, "08:00"), fired(2, "08:10", amps, coil_turns=turns)])).verdict == verdict


def test_m20_wrong_coil_names_both_fails() -> None:
    answer = ask("M20", record(shots=[fired(1, "08:00"), fired(2, "08:10", coil_turns=3)]))
    assert answer.says == "shot 2 at 08:10: 3 turns x 600 A = 1800 A-turns, technique 3000 A-turns"


def test_m20_technique_without_turns_not_recorded() -> None:
    technique = b.technique("MT", shots=(b.shot(1, "circular"), b.shot(2, "longitudinal", turns=None)))
    assert ask("M20", technique=technique).verdict == "NOT RECORDED"


def test_m20_technique_without_coil_not_applicable() -> None:
    assert ask("M20", technique=b.technique("MT", shots=(b.shot(1, "circular"),))).verdict == "NOT APPLICABLE"


def test_m20_coil_shot_not_fired_not_recorded() -> None:
    assert ask("M20", record(shots=[fired(1, "08:00")])).verdict == "NOT RECORDED"


# --- M25, M32, M33, M37 ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule_id", "share", "item", "changed"),
    [
        ("M25", "arc", "no arc burn after head shot", {}),
        ("M32", "trapped", "bearings and trapped parts removed", {}),
        (
            "M33",
            "spaced",
            "spaced on the bar, viewed all round",
            {"technique": b.technique("MT", shots=(b.shot(1, "circular", kind="bar"),))},
        ),
    ],
)
def test_m25_m32_m33_ticks(rule_id: str, share: str, item: str, changed: dict[str, Any]) -> None:
    lot = [b.opened("MT", quantity=6)]
    when = "07:50" if rule_id == "M32" else "08:12"
    assert ask(rule_id, record(opened=lot), **changed).verdict == "PASS"
    assert ask(rule_id, record(opened=lot, **{share: []}), **changed).verdict == "NOT RECORDED"
    assert ask(rule_id, record(opened=lot, **{share: [tick(item, when, "no")]}), **changed).verdict == "FAIL"


@pytest.mark.parametrize("kind", ["head", "between heads"])
def test_m25_contact_shot_needs_the_tick_not_recorded(kind: str) -> None:
    technique = b.technique("MT", shots=(b.shot(1, "circular", kind=kind), b.shot(2, "longitudinal")))
    assert ask("M25", record(arc=[]), technique=technique).verdict == "NOT RECORDED"


def test_m25_bar_and_coil_only_not_applicable() -> None:
    technique = b.technique("MT", shots=(b.shot(1, "circular", kind="bar"), b.shot(2, "longitudinal")))
    assert ask("M25", record(arc=[]), technique=technique).verdict == "NOT APPLICABLE"


@pytest.mark.parametrize(("when", "verdict"), [("07:59:59", "NOT RECORDED"), ("08:00:01", "PASS")])
def test_m25_tick_about_the_last_head_shot(when: str, verdict: str) -> None:
    assert ask("M25", record(arc=[tick("no arc burn after head shot", when)])).verdict == verdict


@pytest.mark.parametrize(("when", "verdict"), [("08:00", "PASS"), ("08:00:01", "NOT RECORDED")])
def test_m32_tick_about_the_first_shot(when: str, verdict: str) -> None:
    assert ask("M32", record(trapped=[tick("bearings and trapped parts removed", when)])).verdict == verdict


def test_m33_no_bar_shot_and_single_part_not_applicable() -> None:
    bar = b.technique("MT", shots=(b.shot(1, "circular", kind="bar"),))
    assert "technique T-1 Rev 2" in ask("M33").says
    assert ask("M33").verdict == "NOT APPLICABLE"
    answer = ask("M33", technique=bar)
    assert (answer.verdict, answer.says) == ("NOT APPLICABLE", "a single part, no lot on the bar")


@pytest.mark.parametrize(("zone", "verdict"), [("FLANGE-FACE", "PASS"), ("JOURNAL-2", "FAIL"), (None, "NOT RECORDED")])
def test_m37_contact_zone(zone: str | None, verdict: str) -> None:
    facts = record(shots=[fired(1, "08:00", contact_zone=zone), fired(2, "08:10")])
    assert (
        ask("M37", facts, technique=b.technique("MT", forbidden_contact=("JOURNAL-1", "JOURNAL-2"))).verdict == verdict
    )


def test_m37_technique_bars_none_or_has_no_head_shot_not_applicable() -> None:
    assert ask("M37").verdict == "NOT APPLICABLE"
    bar = (b.shot(1, "circular", kind="bar"), b.shot(2, "longitudinal"))
    assert (
        ask("M37", technique=b.technique("MT", shots=bar, forbidden_contact=("JOURNAL-1",))).verdict == "NOT APPLICABLE"
    )


# --- M34 ------------------------------------------------------------------------------------------


def test_m34_no_indication_not_applicable() -> None:
    assert ask("M34", disposition="REJECT").verdict == "NOT APPLICABLE"


@pytest.mark.parametrize("item_class", [2, 3])
def test_m34_lower_class_not_applicable_by_master(item_class: int) -> None:
    answer = ask(
        "M34", [*record(), seen(), interpreted()], disposition="REJECT", master=b.master("MT", item_class=item_class)
    )
    assert (answer.verdict, answer.says) == ("NOT APPLICABLE", f"part master PN-1 is class {item_class}")


@pytest.mark.parametrize(
    ("outcome", "verdict"),
    [("returned", "PASS"), ("gone", "FAIL"), (None, "NOT RECORDED"), ("no re-shot", "NOT RECORDED")],
)
@pytest.mark.parametrize("disposition", ["REJECT", "REWORK", "SPLIT"])
def test_m34_reject_or_rework_of_class_1(disposition: str, outcome: str | None, verdict: str) -> None:
    tests = [] if outcome == "no re-shot" else [re_shot(outcome)]
    assert ask("M34", [*record(), seen(), interpreted(), *tests], disposition=disposition).verdict == verdict


def test_m34_over_limit_before_any_disposition_not_recorded() -> None:
    answer = ask("M34", [*record(), seen(), interpreted(), evaluated("over limit")])
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "IND-01: re-shoot not recorded")


def test_m34_signed_reject_still_asks_for_the_re_shoot_not_recorded() -> None:
    signed = b.rec(f.DecisionSigned("X-001", "P", "L2-A", None, "REJECT", (), False, (), (), "0"), "08:46")
    assert ask("M34", [*record(), seen(), interpreted(), signed]).verdict == "NOT RECORDED"


@pytest.mark.parametrize(
    "facts", [[interpreted(), evaluated("within limit")], [interpreted("nonrelevant"), evaluated("over limit")], []]
)
def test_m34_nothing_that_asks_for_reject_not_applicable(facts: list[Recorded[f.Fact]]) -> None:
    assert ask("M34", [*record(), seen(), *facts], disposition="ACCEPT").verdict == "NOT APPLICABLE"


def test_m34_latest_re_shoot_counts_passes() -> None:
    facts = [*record(), seen(), interpreted(), re_shot("gone", "08:30"), re_shot("returned", "08:34")]
    assert ask("M34", facts, disposition="REJECT").verdict == "PASS"
