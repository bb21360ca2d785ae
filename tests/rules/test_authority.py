"""G01 to G16: identity, authority, order.

Limits are common practice, no source, unless a test says otherwise.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.parameter_keys import OPTIONAL
from ndi.domain.procedure import RequiredMethod
from ndi.rules import registry
from ndi.rules.authority import material_outcome, serial_outcome, vision_outcome
from tests import build as b
from tests.rules.general_record import (
    ORDER,
    PART,
    Facts,
    ask,
    certificate,
    decision,
    facts,
    listed,
    named,
    person,
    read,
    received,
    step,
    tick,
    vision,
)

PASS, FAIL, NOT_RECORDED, NOT_YET, NOT_APPLICABLE = (
    Verdict.PASS,
    Verdict.FAIL,
    Verdict.NOT_RECORDED,
    Verdict.NOT_YET,
    Verdict.NOT_APPLICABLE,
)


def lot(**changed: Any) -> dict[str, Any]:
    return {"master": b.master(serialised=False), **changed}


RULES = [f"G{number:02}" for number in range(1, 17)]


@pytest.mark.parametrize("rule_id", [rule_id for rule_id in RULES if rule_id != "G05"])
@pytest.mark.parametrize("method", ["PT", "MT"])
def test_complete_record_stands(rule_id: str, method: str) -> None:
    answer = ask(rule_id, method)
    assert answer.settled, answer.line()


@pytest.mark.parametrize("rule_id", [rule_id for rule_id in RULES if rule_id != "G04"])  # G04 reads documents only
def test_no_facts_at_all_never_passes_or_fails_by_absence(rule_id: str) -> None:
    answer = b.ask(rule_id, "PT", [])
    assert answer.verdict in (NOT_RECORDED, NOT_APPLICABLE), answer.line()


@pytest.mark.parametrize(
    ("rule_id", "key"),
    [(rule_id, key) for rule_id in RULES for key in registry.load_all()[rule_id].keys if key not in OPTIONAL],
)
def test_parameter_missing_not_recorded(rule_id: str, key: str) -> None:
    look = [
        *b.view("09:20", "09:25", name="SC-1", person="NL3-E", kind="second look"),
        vision("NL3-E"),
        b.meter(),
        b.lamp_reading("LP-1", "06:42"),
        b.lamp_reading("LP-1", "12:40"),
    ]
    whole = ask(rule_id, look=look)
    assert whole.verdict is PASS, whole.line()
    answer = ask(rule_id, look=look, inquiry={"parameters": {key: None}})
    assert answer.verdict is NOT_RECORDED
    assert key in answer.says


# --- G01, G02 -------------------------------------------------------------------------------------


def test_g01_technique_for_other_part_fail() -> None:
    answer = ask("G01", inquiry={"technique": b.technique(applies_to=("PN-2", "PN-3"))})
    assert answer.verdict is FAIL
    assert answer.found == "PN-1"
    assert answer.limit == "PN-2, PN-3"


def test_g01_listed_under_other_work_order_fail() -> None:
    answer = ask("G01", listed=listed(work_order="W26-0151"))
    assert answer.verdict is FAIL
    assert "W26-0151" in answer.says


def test_g01_not_listed_not_recorded() -> None:
    assert ask("G01", listed=None).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    ("how", "verdict"),
    [
        ({"scanned": True}, PASS),
        ({"scanned": None, "typed_twice": True}, PASS),
        ({"scanned": False, "typed_twice": False}, NOT_RECORDED),
        ({"scanned": None}, NOT_RECORDED),
    ],
)
@pytest.mark.parametrize("rule_id", ["G01", "G02"])
def test_g01_g02_scan_or_typed_twice(rule_id: str, how: dict[str, Any], verdict: Verdict) -> None:
    assert ask(rule_id, received=received(**how)).verdict is verdict


def test_g02_not_received_not_recorded() -> None:
    assert ask("G02", received=None).verdict is NOT_RECORDED


@pytest.mark.parametrize("serial", [None, "", " ", "n/a", "N/A", "-"])
def test_g02_no_serial_on_serialised_part_not_recorded(serial: str | None) -> None:
    assert ask("G02", listed=listed(serial=serial)).verdict is NOT_RECORDED


def test_g02_lot_not_applicable_by_master() -> None:
    answer = ask("G02", listed=listed(serial=None, lot="LOT-1"), inquiry=lot())
    assert answer.verdict is NOT_APPLICABLE
    assert answer.says.startswith("part master")


def test_serial_swapped_characters_fail_names_nearest() -> None:
    outcome = serial_outcome("6H-C-3319", ["6H-C-3391", "R-7741"])
    assert outcome.verdict is FAIL
    assert outcome.says == "6H-C-3319 is not on the work order; nearest 6H-C-3391 (two characters swapped, distance 1)"


def test_serial_exact_pass() -> None:
    assert serial_outcome("6H-C-3391", ["6H-C-3391"]).verdict is PASS


def test_serial_near_nothing_fail() -> None:
    outcome = serial_outcome("ZZ-1", ["6H-C-3391"])
    assert outcome.verdict is FAIL
    assert "nearest" not in outcome.says


@pytest.mark.parametrize(("typed", "known"), [("", ["S-1"]), ("n/a", ["S-1"]), ("S-1", [])])
def test_serial_empty_or_none_listed_not_recorded(typed: str, known: list[str]) -> None:
    assert serial_outcome(typed, known).verdict is NOT_RECORDED


# --- G03 ------------------------------------------------------------------------------------------


def twelve(**changed: Any) -> dict[str, Any]:
    return {"received": received(quantity=12), "opened": b.opened(quantity=12), **changed}


def shares(*pairs: tuple[str, int]) -> tuple[f.Child, ...]:
    return tuple(f.Child(word, quantity) for word, quantity in pairs)


def test_g03_serialised_not_applicable() -> None:
    answer = ask("G03")
    assert answer.verdict is NOT_APPLICABLE
    assert answer.says.startswith("part master")


@pytest.mark.parametrize(("inside", "verdict"), [(11, FAIL), (12, PASS), (13, FAIL)])
def test_g03_quantity_against_receipt(inside: int, verdict: Verdict) -> None:
    answer = ask("G03", **twelve(opened=b.opened(quantity=inside)), inquiry=lot())
    assert answer.verdict is verdict


@pytest.mark.parametrize(("accepted", "verdict"), [(10, FAIL), (11, PASS), (12, FAIL)])
def test_g03_children_about_to_be_signed(accepted: int, verdict: Verdict) -> None:
    about = lot(disposition="SPLIT", decider="L2-A", children=shares(("ACCEPT", accepted), ("REJECT", 1)))
    answer = ask("G03", **twelve(), inquiry=about)
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert f"12 in, {accepted + 1} out" in answer.says


def test_g03_children_signed_one_lost_fail() -> None:
    signed = decision("11:21", "SPLIT", children=shares(("ACCEPT", 10), ("REJECT", 1)))
    assert ask("G03", **twelve(decision=signed), inquiry=lot()).verdict is FAIL


def test_g03_whole_lot_one_word_pass() -> None:
    assert ask("G03", **twelve(decision=decision("11:21")), inquiry=lot()).verdict is PASS


def test_g03_split_without_counts_not_recorded() -> None:
    assert ask("G03", **twelve(), inquiry=lot(disposition="SPLIT", decider="L2-A")).verdict is NOT_RECORDED


def test_g03_counted_again_last_counts_pass() -> None:
    counted = [received("07:20", quantity=11), received("07:25", quantity=12)]
    assert ask("G03", **twelve(received=counted), inquiry=lot()).verdict is PASS


def test_g03_not_received_not_recorded() -> None:
    assert ask("G03", **twelve(received=None), inquiry=lot()).verdict is NOT_RECORDED


# --- G04 ------------------------------------------------------------------------------------------

BUSH = replace(b.zone("BUSH"), material="bronze")
STEEL = b.zone("Z1", ferromagnetic=True)


def test_g04_bronze_by_mt_fail() -> None:
    answer = ask(
        "G04",
        "MT",
        inquiry={"master": b.master("MT", zones=(STEEL, BUSH)), "technique": b.technique("MT", zones=("Z1", "BUSH"))},
    )
    assert answer.verdict is FAIL
    assert answer.says == "zone BUSH is bronze: MT cannot be used on it"


def test_g04_zone_not_in_master_not_recorded() -> None:
    assert ask("G04", "MT", inquiry={"master": b.master("MT", zones=(STEEL,))}).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    ("required", "verdict"),
    [
        ((), PASS),
        ((RequiredMethod("all", "MT", "T-9", ("Z1",)),), FAIL),
        ((RequiredMethod("all", "MT", "T-9", ("Z1",)), RequiredMethod("all", "PT", "T-1", ("Z1",))), PASS),
        ((RequiredMethod("all", "MT", "T-9", ("Z2",)),), PASS),
    ],
)
def test_g04_pt_on_steel_follows_part_master(required: tuple[RequiredMethod, ...], verdict: Verdict) -> None:
    assert material_outcome({"Z1": STEEL}, "PT", ["Z1"], required).verdict is verdict


def test_g04_material_blank_not_recorded() -> None:
    assert material_outcome({"Z1": replace(STEEL, material="")}, "MT", ["Z1"]).verdict is NOT_RECORDED


def test_g04_no_zones_not_recorded() -> None:
    assert material_outcome({}, "MT", []).verdict is NOT_RECORDED


# --- G05 ------------------------------------------------------------------------------------------

CYLINDER = b.master(
    required=(RequiredMethod("head", "PT", "T-1", ("Z1",)), RequiredMethod("barrel", "MT", "T-2", ("Z2",)))
)


def cylinder(*more: Any, **changed: Any) -> Any:
    return ask("G05", listed=listed(serial="CY-4401"), inquiry={"master": CYLINDER}, more=list(more), **changed)


def barrel(*more: Any) -> list[Any]:
    return [b.opened("MT", "10:00", "X-002", technique="T-2"), *more]


def test_g05_is_asked_of_parts() -> None:
    assert registry.load_all()["G05"].scope == "part"


def test_g05_one_method_missing_not_recorded() -> None:
    answer = cylinder(decision())
    assert answer.verdict is NOT_RECORDED
    assert answer.says == "CY-4401: head PT done, barrel MT not recorded"


def test_g05_both_accepted_pass() -> None:
    answer = cylinder(decision(), *barrel(decision("10:30", inspection="X-002")))
    assert answer.verdict is PASS
    assert answer.found == "CY-4401: head PT done, barrel MT done"


@pytest.mark.parametrize("word", ["REJECT", "HOLD-ENG", "REWORK", "SCRAP", "RETURN UNSERVICEABLE"])
def test_g05_one_not_accepted_fail(word: str) -> None:
    answer = cylinder(decision(), *barrel(decision("10:30", word, inspection="X-002")))
    assert answer.verdict is FAIL
    assert word in answer.says


def test_g05_not_decided_not_recorded() -> None:
    assert cylinder(decision(), *barrel()).verdict is NOT_RECORDED


def test_g05_accepted_after_rework_pass() -> None:
    reworked = barrel(decision("10:30", "REWORK", inspection="X-002"))
    again = [
        b.opened("MT", "13:10", "X-003", technique="T-2", reason="rework", previous="X-002"),
        decision("13:22", inspection="X-003"),
    ]
    assert cylinder(decision(), *reworked, *again).verdict is PASS


def test_g05_suspended_fail_until_restored() -> None:
    signed = [decision(), *barrel(decision("10:30", inspection="X-002"))]
    suspended = b.rec(f.AcceptanceSuspended("X-001", PART, ("L11",), 1), "12:35")
    restored = b.rec(f.AcceptanceRestored("X-001", PART, 2), "13:00")
    assert cylinder(*signed, suspended).verdict is FAIL
    assert cylinder(*signed, suspended, restored).verdict is PASS


def test_g05_suspended_then_decided_anew_pass() -> None:
    signed = [decision(), *barrel(decision("10:30", inspection="X-002"))]
    suspended = b.rec(f.AcceptanceSuspended("X-001", PART, ("L11",), 1), "12:35")
    assert cylinder(*signed, suspended, decision("13:30")).verdict is PASS


def test_g05_signature_undone_not_recorded() -> None:
    signed = [decision(), *barrel(decision("10:30", inspection="X-002"))]
    assert cylinder(*signed, b.rec(f.DecisionUndone("X-001", PART, 1), "12:35")).verdict is NOT_RECORDED


def test_g05_lot_share_accepted_pass() -> None:
    split = decision(disposition="SPLIT", children=shares(("ACCEPT", 11), ("REJECT", 1)))
    assert ask("G05", more=[split]).verdict is PASS


def test_g05_no_required_method_in_master_not_recorded() -> None:
    assert ask("G05", inquiry={"master": b.master(required=())}).verdict is NOT_RECORDED


# --- G06, G07, G08 --------------------------------------------------------------------------------


def revision(name: str, begins: date, ends: date | None = None) -> Any:
    return replace(b.procedure(), revision=name, effective_from=begins, effective_to=ends)


@pytest.mark.parametrize(
    ("begins", "verdict"), [(date(2026, 3, 9), PASS), (date(2026, 3, 10), PASS), (date(2026, 3, 11), FAIL)]
)
def test_g06_effective_day_of_pinned(begins: date, verdict: Verdict) -> None:
    assert ask("G06", inquiry={"procedure": revision("D", begins)}).verdict is verdict


@pytest.mark.parametrize(
    ("ends", "verdict"), [(date(2026, 3, 9), FAIL), (date(2026, 3, 10), PASS), (date(2026, 3, 11), PASS)]
)
def test_g06_last_day_of_pinned(ends: date, verdict: Verdict) -> None:
    assert ask("G06", inquiry={"procedure": revision("D", date(2026, 1, 15), ends)}).verdict is verdict


@pytest.mark.parametrize(
    ("begins", "verdict"), [(date(2026, 3, 9), FAIL), (date(2026, 3, 10), FAIL), (date(2026, 3, 11), PASS)]
)
def test_g06_newer_revision_in_force(begins: date, verdict: Verdict) -> None:
    answer = ask("G06", inquiry={"newer_revisions": (revision("E", begins),)})
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert "Rev E" in answer.says


def test_g06_older_revision_does_not_matter_pass() -> None:
    assert ask("G06", inquiry={"newer_revisions": (revision("C", date(2025, 1, 1)),)}).verdict is PASS


def test_g06_revision_changes_while_wet_pass() -> None:
    """The revision is fixed at the first step, 23:50 local; the wash lies on the next day."""
    late = {
        "wet": [b.rec(f.StepStarted("B1", "wet", 1), "23:50"), b.rec(f.StepEnded("B1", "wet"), "23:52")],
        "wash": [b.rec(f.StepStarted("B1", "wash", 1), "00:25", day="2026-03-11")],
    }
    answer = ask(
        "G06",
        wet=late["wet"],
        wash=late["wash"],
        dryer=None,
        develop=None,
        view=None,
        inquiry={"newer_revisions": (revision("E", date(2026, 3, 11)),)},
    )
    assert answer.verdict is PASS


def test_g06_no_step_yet_not_recorded() -> None:
    assert ask("G06", wet=None, wash=None, dryer=None, develop=None, view=None).verdict is NOT_RECORDED


def test_g06_other_revision_pinned_fail() -> None:
    assert ask("G06", opened=b.opened(procedure_revision="C")).verdict is FAIL


def test_g07_not_approved_not_recorded() -> None:
    assert ask("G07", inquiry={"technique": b.technique(approved_by=" ")}).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    ("begins", "verdict"), [(date(2026, 3, 9), PASS), (date(2026, 3, 10), PASS), (date(2026, 3, 11), FAIL)]
)
def test_g07_effective_day(begins: date, verdict: Verdict) -> None:
    assert ask("G07", inquiry={"technique": b.technique(effective_from=begins)}).verdict is verdict


def test_g07_other_procedure_fail() -> None:
    assert ask("G07", inquiry={"technique": b.technique(procedure="PT-P-09")}).verdict is FAIL


def test_g07_other_revision_pinned_fail() -> None:
    assert ask("G07", opened=b.opened(technique_revision="1")).verdict is FAIL


def directives(lines: tuple[str, ...], answered: tuple[str, ...], when: str = "07:15") -> Any:
    return b.rec(f.DirectivesConfirmed(ORDER, lines, answered), when, "SUP-F")


def test_g08_no_list_not_recorded() -> None:
    assert ask("G08", directives=None).verdict is NOT_RECORDED


def test_g08_empty_list_confirmed_pass() -> None:
    assert ask("G08", directives=directives((), ())).verdict is PASS


def test_g08_line_unanswered_not_recorded() -> None:
    answer = ask("G08", directives=directives(("line 1", "line 2"), ("line 1",)))
    assert answer.verdict is NOT_RECORDED
    assert "line 2" in answer.says and "line 1" not in answer.says


def test_g08_later_line_before_decision_not_recorded() -> None:
    """A directive that comes while the part is in process is asked again at the decision."""
    lists = [directives((), ()), directives(("new",), (), "09:00")]
    assert ask("G08", directives=lists).verdict is NOT_RECORDED
    for signed in ("09:00", "09:13"):
        assert ask("G08", directives=lists, decision=decision(signed)).verdict is NOT_RECORDED


def test_g08_later_line_after_decision_pass() -> None:
    lists = [directives((), ()), directives(("new",), (), "09:30")]
    assert ask("G08", directives=lists, decision=decision("09:13")).verdict is PASS


# --- G09, G10, G11 --------------------------------------------------------------------------------


@pytest.mark.parametrize(("when", "verdict"), [("07:21", PASS), ("07:22", PASS), ("07:23", FAIL)])
def test_g09_visual_against_cleaning(when: str, verdict: Verdict) -> None:
    assert ask("G09", visual=tick("pre-clean visual", when, PART)).verdict is verdict


def test_g09_no_visual_not_recorded() -> None:
    assert ask("G09", visual=None).verdict is NOT_RECORDED


def test_g09_start_of_cleaning_missing_not_recorded() -> None:
    assert ask("G09", cleaning=None).verdict is NOT_RECORDED


def test_g09_visual_refused_fail() -> None:
    assert ask("G09", visual=tick("pre-clean visual", "07:21", PART, "no")).verdict is FAIL


@pytest.mark.parametrize("item", ["clean", "dry"])
@pytest.mark.parametrize(("when", "verdict"), [("07:34", PASS), ("07:35", PASS), ("07:36", FAIL)])
def test_g10_tick_against_first_step(item: str, when: str, verdict: Verdict) -> None:
    assert ask("G10", **named(item, tick(item, when))).verdict is verdict


@pytest.mark.parametrize("item", ["clean", "dry"])
def test_g10_tick_missing_not_recorded(item: str) -> None:
    assert ask("G10", **named(item, None)).verdict is NOT_RECORDED


def test_g10_tick_on_basket_pass() -> None:
    assert ask("G10", clean=tick("clean", "07:32", "B1")).verdict is PASS


def test_g10_tick_no_fail() -> None:
    assert ask("G10", dry=tick("dry", "07:33", value="no")).verdict is FAIL


@pytest.mark.parametrize(("first", "last", "verdict"), [("no", "yes", PASS), ("yes", "no", FAIL)])
def test_g10_last_tick_before_first_step_counts(first: str, last: str, verdict: Verdict) -> None:
    assert ask("G10", dry=[tick("dry", "07:32", value=first), tick("dry", "07:33", value=last)]).verdict is verdict


def test_g10_plugs_counted_again_last_counts_pass() -> None:
    given = [tick("plugged", "07:34"), plugs(8), plugs(9, when="07:35")]
    assert ask("G10", "MT", plugs=given, inquiry=PLUGGED).verdict is PASS


def test_g10_pre_clean_of_second_attempt_is_no_first_step_pass() -> None:
    again = [
        b.rec(f.BasketLoaded("B4b", "A", "Method A line", ("X-001",), 2), "13:36"),
        *step("preclean", "13:36", "14:15", "B4b"),
        *step("wet", "14:20", "14:23", "B4b"),
        tick("clean", "14:16"),
        tick("dry", "14:17"),
    ]
    assert ask("G10", again=again, clean=None, dry=None).verdict is PASS


PLUGGED = {"technique": b.technique("MT", plugs=9)}


def plugs(count: int, direction: str = "in", when: str = "07:34") -> Any:
    return b.rec(f.PlugsCounted("X-001", direction, count), when)


@pytest.mark.parametrize(("count", "verdict"), [(8, FAIL), (9, PASS), (10, FAIL), (0, FAIL)])
def test_g10_plugs_counted_in(count: int, verdict: Verdict) -> None:
    assert ask("G10", "MT", plugs=[tick("plugged", "07:34"), plugs(count)], inquiry=PLUGGED).verdict is verdict


def test_g10_plugs_not_counted_or_not_ticked_not_recorded() -> None:
    assert ask("G10", "MT", plugs=tick("plugged", "07:34"), inquiry=PLUGGED).verdict is NOT_RECORDED
    assert ask("G10", "MT", plugs=plugs(9), inquiry=PLUGGED).verdict is NOT_RECORDED


@pytest.mark.parametrize(("coating", "verdict"), [("0.0029", PASS), ("0.003", PASS), ("0.0031", FAIL)])
def test_g11_coating_against_technique(coating: str, verdict: Verdict) -> None:
    """0.003 in: ASTM E1444 and common practice, from memory."""
    about = {
        "technique": b.technique(coating_max=b.num("0.003 in")),
        "master": b.master(coating=b.num(f"{coating} in")),
    }
    assert ask("G11", inquiry=about).verdict is verdict


def test_g11_unit_of_limit_pass() -> None:
    about = {"technique": b.technique(coating_max=b.num("0.003 in")), "master": b.master(coating=b.num("0.0762 mm"))}
    assert ask("G11", inquiry=about).verdict is PASS


def test_g11_coating_unknown_not_recorded() -> None:
    about = {"technique": b.technique(coating_max=b.num("0.003 in")), "master": b.master(coating=None)}
    assert ask("G11", inquiry=about).verdict is NOT_RECORDED


def measured(coating: str, thickness: str | None, when: str = "07:20", zone: str | None = None) -> Recorded[f.Fact]:
    value = None if thickness is None else b.num(f"{thickness} in")
    return b.rec(f.CoatingMeasured("W26-0148/PN-1/S-1", coating, value, zone), when, "CLN-J")


COATED = {"technique": b.technique(coating_max=b.num("0.003 in")), "master": b.master(coating=None)}


@pytest.mark.parametrize(
    ("readings", "verdict"),
    [
        ([measured("chrome", "0.0029")], PASS),
        ([measured("chrome", "0.003")], PASS),
        ([measured("chrome", "0.0031")], FAIL),
        ([measured("chrome", None)], NOT_RECORDED),  # that there is some is not how thick it is
        ([measured("none", None)], PASS),
        ([measured("nickel", "0.002"), measured("paint", "0.001", "07:21")], PASS),  # layers add up to 0.003
        ([measured("nickel", "0.002"), measured("paint", "0.0011", "07:21")], FAIL),
        ([measured("chrome", "0.005"), measured("none", "0", "07:25")], PASS),  # stripped before it was worked on
        ([measured("chrome", "0.005"), measured("chrome", "0.002", "07:25")], PASS),
        ([measured("chrome", "0.001", zone="Z1")], NOT_RECORDED),  # of Z2 nobody knows
        ([measured("chrome", "0.001", zone="Z1"), measured("none", None, zone="Z2")], PASS),
        ([measured("chrome", "0.001"), measured("chrome", "0.004", "07:25", zone="Z2")], FAIL),
    ],
)
def test_g11_what_was_measured_on_the_piece(readings: list[Recorded[f.Fact]], verdict: Verdict) -> None:
    assert ask("G11", more=readings, inquiry=COATED).verdict is verdict


@pytest.mark.parametrize(
    ("when", "thickness", "verdict"),
    [
        ("08:40", "0", FAIL),  # stripped between the process and the look: it was worked on through 0.005
        ("12:00", "0", FAIL),
        ("12:00", None, FAIL),
    ],
)
def test_g11_stripped_too_late_does_not_help(when: str, thickness: str | None, verdict: Verdict) -> None:
    readings = [measured("chrome", "0.005"), measured("none", thickness, when)]
    assert ask("G11", more=readings, inquiry=COATED).verdict is verdict


def test_g11_plated_after_the_look_is_not_held_against_it() -> None:
    readings = [measured("none", "0"), measured("chrome", "0.005", "13:00")]
    assert ask("G11", asked="14:00", more=readings, inquiry=COATED).verdict is PASS


def test_g11_measured_zone_takes_the_place_of_the_master_there_only() -> None:
    """The master says 0.005 in everywhere; one of two zones was measured bare."""
    about = {**COATED, "master": b.master(coating=b.num("0.005 in"))}
    assert ask("G11", more=[measured("none", "0", zone="Z1")], inquiry=about).verdict is FAIL
    assert ask("G11", more=[measured("none", "0")], inquiry=about).verdict is PASS


def test_g11_technique_sets_none_not_applicable() -> None:
    answer = ask("G11", inquiry={"master": b.master(coating=None)})
    assert answer.verdict is NOT_APPLICABLE
    assert answer.says.startswith("technique")


# --- G12 to G16 -----------------------------------------------------------------------------------


def test_g12_level_1_wants_to_accept_fail() -> None:
    answer = ask("G12", inquiry={"decider": "L1-D", "disposition": "ACCEPT"})
    assert answer.verdict is FAIL
    assert answer.says == "L1-D holds PT level 1: may process, not decide"


def test_g12_level_1_signed_fail() -> None:
    assert ask("G12", decision=decision(name="L1-D")).verdict is FAIL


@pytest.mark.parametrize(("level", "verdict"), [(1, FAIL), (2, PASS), (3, PASS)])
def test_g12_decider_level(level: int, verdict: Verdict) -> None:
    held = [certificate("L2-A", level), certificate("L1-D", 1)]
    assert ask("G12", certificates=held).verdict is verdict


@pytest.mark.parametrize(
    ("expires", "verdict"), [(date(2026, 3, 9), FAIL), (date(2026, 3, 10), PASS), (date(2026, 3, 11), PASS)]
)
def test_g12_last_day_of_decider_counts(expires: date, verdict: Verdict) -> None:
    held = [certificate("L2-A", 2, expires=expires), certificate("L1-D", 1)]
    assert ask("G12", certificates=held, decision=decision()).verdict is verdict


def test_g12_certificate_ended_after_signature_pass() -> None:
    """A signed decision is judged on its own day, whenever it is asked about."""
    held = [certificate("L2-A", 2, expires=date(2026, 3, 10)), certificate("L1-D", 1)]
    later = {"decider": "L2-A", "disposition": "ACCEPT", "decided": b.at("09:13")}
    assert (
        ask("G12", certificates=held, decision=decision(), asked=b.at("09:00", "2027-01-01"), inquiry=later).verdict
        is PASS
    )


def test_g12_decides_anew_after_certificate_ended_fail() -> None:
    held = [certificate("L2-A", 2, expires=date(2026, 3, 10)), certificate("L1-D", 1)]
    again = {"decider": "L2-A", "disposition": "ACCEPT"}
    answer = ask("G12", certificates=held, decision=decision(), asked=b.at("09:00", "2026-03-11"), inquiry=again)
    assert answer.verdict is FAIL


def test_g12_judges_the_decision_asked_about() -> None:
    two = [decision("09:13"), decision("13:19", name="L1-D")]
    assert ask("G12", more=two).verdict is FAIL
    assert (
        ask("G12", more=two, inquiry={"decider": "L2-A", "disposition": "ACCEPT", "decided": b.at("09:13")}).verdict
        is PASS
    )
    assert (
        ask("G12", more=two, inquiry={"decider": "L1-D", "disposition": "ACCEPT", "decided": b.at("13:19")}).verdict
        is FAIL
    )


def test_g12_undone_signature_is_not_judged_any_more() -> None:
    undone = [decision("09:13", name="L1-D"), b.rec(f.DecisionUndone("X-001", PART, 1), "10:00")]
    assert ask("G12", more=undone).verdict is PASS
    assert ask("G12", more=[*undone, decision("10:05", name="L1-D")]).verdict is FAIL


def test_g12_no_certificate_of_decider_not_recorded() -> None:
    assert ask("G12", certificates=[certificate("L1-D", 1)]).verdict is NOT_RECORDED


def test_g12_certificate_of_other_method_not_recorded() -> None:
    assert ask("G12", certificates=[certificate("L2-A", 2, "MT"), certificate("L1-D", 1)]).verdict is NOT_RECORDED


def test_g12_no_certificate_of_processing_person_not_recorded() -> None:
    answer = ask("G12", wash=step("wash", "08:10", "08:14", by="CLN-J"))
    assert answer.verdict is NOT_RECORDED
    assert "CLN-J" in answer.says


def test_g12_processing_on_expired_certificate_fail() -> None:
    held = [certificate("L2-A", 2), certificate("L1-D", 1, expires=date(2026, 3, 9))]
    assert ask("G12", certificates=held).verdict is FAIL


def test_g12_cleaner_pre_cleans_pass() -> None:
    assert ask("G12", preclean=step("preclean", "07:22", "07:30", by="CLN-J")).verdict is PASS


def test_g12_wash_of_void_attempt_does_not_count_pass() -> None:
    again = [
        b.rec(f.BasketLoaded("B4b", "A", "Method A line", ("X-001",), 2), "13:36"),
        *step("wet", "14:20", "14:23", "B4b"),
    ]
    assert ask("G12", wash=step("wash", "08:10", "08:14", by="CLN-J"), again=again).verdict is PASS


def test_g12_copied_from_paper_judges_who_did_it() -> None:
    copied = [replace(r, by="SUP-F", on_behalf_of="L1-D") for r in step("wash", "08:10", "08:14")]
    assert ask("G12", wash=copied).verdict is PASS


@pytest.mark.parametrize(
    ("expires", "verdict"), [(date(2026, 3, 9), FAIL), (date(2026, 3, 10), PASS), (date(2026, 3, 11), PASS)]
)
def test_g13_last_day_counts(expires: date, verdict: Verdict) -> None:
    answer = ask("G13", vision=vision("L2-A", expires))
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert "2026-03-09" in answer.says


def test_g13_examined_on_the_day_pass() -> None:
    assert ask("G13", vision=vision("L2-A", date(2027, 3, 9), date(2026, 3, 10))).verdict is PASS


def test_g13_none_on_file_not_recorded() -> None:
    assert ask("G13", vision=None).verdict is NOT_RECORDED


def test_g13_examined_after_the_view_not_recorded() -> None:
    assert ask("G13", vision=vision("L2-A", date(2027, 3, 11), date(2026, 3, 11))).verdict is NOT_RECORDED


def test_g13_second_look_by_expired_person_fail() -> None:
    look = b.view("09:20", "09:25", name="SC-1", person="L2-C", kind="second look")
    assert ask("G13", look=look).verdict is NOT_RECORDED
    assert ask("G13", look=[*look, vision("L2-C", date(2026, 3, 8))]).verdict is FAIL


def test_vision_at_check_in_expired_fail() -> None:
    outcome = vision_outcome(FactSet([vision("L2-M", date(2026, 3, 8))]), "L2-M", b.at("14:10"))
    assert outcome.verdict is FAIL
    assert "2026-03-08" in outcome.says


NEEDED = {"technique": b.technique(needs_authorisation=True)}


def authorised(begins: date = date(2026, 1, 15), ends: date | None = None, technique: str = "T-1") -> Any:
    return b.rec(f.AuthorisationEntered("L2-A", technique, begins, ends), "08:00", "NL3-E", day="2026-01-15")


def test_g14_not_demanded_not_applicable() -> None:
    assert ask("G14").verdict is NOT_APPLICABLE


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ([], NOT_RECORDED),
        ([authorised()], PASS),
        ([authorised(technique="T-9")], NOT_RECORDED),
        ([authorised(ends=date(2026, 3, 9))], FAIL),
        ([authorised(ends=date(2026, 3, 10))], PASS),
        ([authorised(date(2026, 3, 10))], PASS),
        ([authorised(date(2026, 3, 11))], FAIL),
    ],
)
def test_g14_authorisation_at_view(given: Facts, verdict: Verdict) -> None:
    assert ask("G14", more=given, inquiry=NEEDED).verdict is verdict


def trainee(**changed: Any) -> Any:
    people = [person("L2-A"), person("NL3-E"), person("L1-D", "trainee")]
    return ask("G15", people=people, **changed)


def test_g15_no_trainee_not_applicable() -> None:
    assert ask("G15").verdict is NOT_APPLICABLE


def test_g15_not_co_signed_not_recorded() -> None:
    assert trainee().verdict is NOT_RECORDED


def test_g15_co_signed_by_level_2_pass() -> None:
    assert trainee(signed=tick("trainee work co-signed", "09:15", by="L2-A")).verdict is PASS


@pytest.mark.parametrize(("item_class", "verdict"), [(1, NOT_RECORDED), (2, PASS)])
def test_g15_co_signed_from_the_desk(item_class: int, verdict: Verdict) -> None:
    """The Level III did not look: that is enough for a class 2 part, not for a class 1 part.  Common practice, no source."""
    changed = {"inquiry": {"master": b.master("PT", item_class=item_class)}}
    assert trainee(signed=tick("trainee work co-signed", "09:15", by="NL3-E"), **changed).verdict is verdict


def test_g15_co_signed_by_trainee_fail() -> None:
    assert trainee(signed=tick("trainee work co-signed", "09:15", by="L1-D")).verdict is FAIL


def test_g15_co_signature_refused_fail() -> None:
    assert trainee(signed=tick("trainee work co-signed", "09:15", value="no", by="L2-A")).verdict is FAIL


def test_g15_co_signed_by_level_1_fail() -> None:
    held = [certificate("L2-A", 1), certificate("L1-D", 1)]
    assert trainee(signed=tick("trainee work co-signed", "09:15", by="L2-A"), certificates=held).verdict is FAIL


def test_g15_person_not_entered_not_recorded() -> None:
    answer = ask("G15", people=[person("L2-A")])
    assert answer.verdict is NOT_RECORDED
    assert "L1-D" in answer.says


def test_g15_inspector_later_who_was_trainee_then_judged_as_then() -> None:
    people = [person("L2-A", "trainee"), person("L2-A", day="2026-03-01"), person("L1-D", "operator")]
    assert ask("G15", people=people).verdict is NOT_APPLICABLE
    people = [person("L2-A", "trainee"), person("L2-A", day="2026-03-11"), person("L1-D", "operator")]
    assert ask("G15", people=people).verdict is NOT_RECORDED


@pytest.mark.parametrize(("when", "verdict"), [("07:34", PASS), ("07:35", PASS), ("07:36", FAIL)])
def test_g16_read_against_first_step(when: str, verdict: Verdict) -> None:
    assert ask("G16", read=read("L2-A", when, b.DAY)).verdict is verdict


def test_g16_never_read_not_recorded() -> None:
    assert ask("G16", read=None).verdict is NOT_RECORDED


def test_g16_other_revision_read_not_recorded() -> None:
    assert ask("G16", read=read("L2-A", revision="C")).verdict is NOT_RECORDED


def test_g16_other_viewer_reads_before_own_view_pass() -> None:
    other = b.view("08:50", "09:12", person="L2-B")
    assert ask("G16", view=other).verdict is NOT_RECORDED
    assert ask("G16", view=other, more=[read("L2-B", "08:45", b.DAY)]).verdict is PASS
    assert ask("G16", view=other, more=[read("L2-B", "08:51", b.DAY)]).verdict is FAIL


def test_facts_used_are_named() -> None:
    given = facts()
    arrival = next(r for r in given if isinstance(r.fact, f.PartReceived))
    assert arrival.position in b.ask("G01", "PT", given).facts
