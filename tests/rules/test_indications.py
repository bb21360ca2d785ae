"""Indications, second looks, rework, disposition.

Sources of the limits used: linear from a length of 3 times the width, and four
or more rounded marks in line with edge gaps up to 1/16 in read as one linear
indication: as worded for welds in ASME Section VIII Div. 1 App. 6 and 8 (seen
in summaries; the boiler code says *more than* 3, this procedure says *at
least*); everything else (blind second look, 0.03 in or 20 % agreement, reject
only into quarantine, blend depth over the part's life, alert at three cracks in
90 days): common practice, no source.
"""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.domain import facts as f
from ndi.domain.draw import is_drawn
from ndi.domain.entry import Recorded
from ndi.domain.procedure import ZoneLimit
from ndi.rules import indications, registry
from tests import build as b
from tests.rules import indication_record as r
from tests.rules.indication_record import (
    IND,
    Facts,
    ask,
    called,
    done,
    evaluated,
    limit,
    look,
    mark,
    ordered,
    part,
    photo,
    record,
    seen,
    tried,
)
from tests.rules.light_record import keys_read

RULES = tuple(f"D{number:02d}" for number in (*range(1, 15), 17, 19))
NOT_ASKED = {
    "D04": "single mark",
    "D09": "nothing on this record is rejected",
    "D10": "no rework",
    "D11": "no rework",
    "D14": "not released",
    "D17": "no earlier visit",
}
UNDECIDED = {"D12": "FAIL", "D13": "NOT YET"}  # a crack is there; nobody has signed


def verdict(rule_id: str, facts: Facts, **changed: Any) -> str:
    return str(ask(rule_id, facts, **changed).verdict)


# --- all of them ----------------------------------------------------------------------------------


def test_every_indication_rule_of_the_program_is_tested_here() -> None:
    elsewhere = {"D15", "D16", "D18", "D20"}  # in test_disposition
    assert {rule_id for rule_id in registry.load_all() if rule_id.startswith("D")} == set(RULES) | elsewhere


@pytest.mark.parametrize("rule_id", RULES)
def test_complete_record_answers(rule_id: str) -> None:
    answer = ask(rule_id)
    assert answer.verdict == UNDECIDED.get(rule_id, "NOT APPLICABLE" if rule_id in NOT_ASKED else "PASS")
    assert NOT_ASKED.get(rule_id, "") in answer.says


NONE_SEEN = record(seen=None, tests=None, called=None, evaluated=None, photo=None, look=None)


@pytest.mark.parametrize("rule_id", ["D01", "D02", "D03", "D04", "D05", "D06", "D07", "D08", "D19"])
def test_no_indication_not_applicable(rule_id: str) -> None:
    assert ask(rule_id, NONE_SEEN).verdict == "NOT APPLICABLE"


REJECTED = {"disposition": "REJECT", "decider": "L2-A"}
FULL: dict[str, dict[str, Any]] = {"D09": REJECTED, "D12": {"disposition": "ACCEPT"}, "D13": {"decider": "L2-A"}}


@pytest.mark.parametrize("rule_id", RULES)
def test_keys_read_are_all_declared(rule_id: str) -> None:
    row = seen(form="cluster", marks=tuple(mark(x) for x in ("1.000", "1.078", "1.150", "1.2245")))
    whole = look("L2-B", "13:00", "SL2", indication=None, none_seen=False)
    facts = [*record(seen=row, more=[*whole, ordered(), done(), r.again(), *history()]), *past("165 deg")]
    facts += [b.rec(f.PastInspection("PN-1", "W25", "S-9", "Z1", "crack"), "09:00", day="2026-02-01")]
    assert keys_read(
        rule_id, "MT", facts, master=part(limit("any", "0.1 in", blend="0.01 in")), **FULL.get(rule_id, {})
    ) <= set(registry.load_all()[rule_id].keys)


@pytest.mark.parametrize(
    ("rule_id", "key"),
    [
        ("D03", "linear_ratio"),
        ("D08", "size_agreement"),
        ("D08", "size_agreement_share"),
        ("D08", "uv_min"),
        ("D07", "uv_min"),
        ("D07", "lamp_gap_max"),
        ("D07", "uv_distance"),
        ("D07", "uv_distance_tolerance"),
        ("D09", "uv_min"),
        ("D19", "alert_count"),
        ("D19", "alert_window"),
    ],
)
def test_parameter_missing_not_recorded_names_key(rule_id: str, key: str) -> None:
    answer = ask(rule_id, parameters={key: None}, **FULL.get(rule_id, {}))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", f"procedure MT-P-01 rev D gives no value for {key}")


@pytest.mark.parametrize("key", ["group_count", "group_gap", "group_straightness", "linear_ratio"])
@pytest.mark.parametrize("rule_id", ["D04", "D05", "D12"])
def test_parameter_of_the_group_rule_missing_not_recorded_names_key(rule_id: str, key: str) -> None:
    facts = record(seen=seen(form="cluster", marks=(mark("1.000"), mark("1.078"))))
    answer = ask(rule_id, facts, master=part(limit("any", "0.5 in")), parameters={key: None})
    assert answer.verdict == "NOT RECORDED"
    assert key in answer.says


# --- D01 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("blank", ["zone", "position", "orientation", "form", "length", "width"])
def test_d01_blank_field_is_named_not_recorded(blank: str) -> None:
    answer = ask("D01", record(seen=seen(**{blank: None})))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", f"{IND}: {blank} missing")


def test_d01_empty_text_is_blank_too_not_recorded() -> None:
    assert ask("D01", record(seen=seen(orientation="", position=""))).says == f"{IND}: position, orientation missing"


def test_d01_zone_not_on_the_outline_fails() -> None:
    answer = ask("D01", record(seen=seen(zone="Z9")))
    assert (answer.verdict, answer.says) == ("FAIL", f"{IND}: zone Z9 is not on the outline of PN-1")


def test_d01_one_of_two_blank_not_recorded() -> None:
    answer = ask("D01", record(more=seen(name="IND-02", form=None)))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "IND-02: form missing")


# --- D02 ------------------------------------------------------------------------------------------

WIPED, RE_SHOT, DEMAG = tried("wiped", "gone"), tried("re-shot", "gone", "10:10"), tried("demagnetised", "gone")


@pytest.mark.parametrize(
    ("call", "tests", "expected"),
    [
        (called("relevant"), [], "PASS"),
        (called("relevant", basis=""), [], "NOT RECORDED"),
        (None, [], "NOT RECORDED"),
        (called("nonrelevant", "press fit"), [], "NOT RECORDED"),
        (called("nonrelevant", "press fit"), [tried("described")], "PASS"),
        (called("nonrelevant", "press fit", basis=""), [tried("described")], "NOT RECORDED"),
        (
            called("nonrelevant", "press fit"),
            [tried("described"), tried("re-shot", "returned", "10:10")],
            "PASS",
        ),  # it does return
        (called("nonrelevant", "magnetic writing"), [tried("described")], "NOT RECORDED"),
        (called("nonrelevant", "magnetic writing"), [DEMAG], "NOT RECORDED"),
        (called("nonrelevant", "magnetic writing"), [RE_SHOT], "NOT RECORDED"),
        (called("nonrelevant", "magnetic writing"), [DEMAG, RE_SHOT], "PASS"),
        (called("nonrelevant", "magnetic writing"), [DEMAG, tried("re-shot", "returned", "10:10")], "FAIL"),
        (called("nonrelevant", "magnetic writing"), [DEMAG, tried("re-shot", None, "10:10")], "NOT RECORDED"),
        (called("false", None), [], "NOT RECORDED"),
        (called("false", None), [WIPED], "NOT RECORDED"),
        (called("false", None), [RE_SHOT], "NOT RECORDED"),
        (called("false", None), [WIPED, RE_SHOT], "PASS"),
        (called("false", None), [WIPED, tried("re-shot", "returned", "10:10")], "FAIL"),
        (called("false", None), [WIPED, tried("re-shot", None, "10:10")], "NOT RECORDED"),
        (called("false", None), [WIPED, tried("redeveloped", "gone", "10:10")], "NOT RECORDED"),  # a penetrant step
        (called("false", None), [WIPED, tried("re-shot", "returned", "10:09"), RE_SHOT], "PASS"),  # the last one counts
    ],
)
def test_d02_interpretation_needs_its_evidence(call: Any, tests: Facts, expected: str) -> None:
    assert verdict("D02", record(called=call, tests=tests)) == expected


@pytest.mark.parametrize(("step", "expected"), [("redeveloped", "PASS"), ("re-shot", "NOT RECORDED")])
def test_d02_penetrant_false_call_needs_wipe_and_redevelop(step: str, expected: str) -> None:
    tests = [WIPED, tried(step, "gone", "10:10")]
    facts = record(opened=b.opened("PT"), called=called("false", None), tests=tests)
    assert verdict("D02", facts, method="PT") == expected


# --- D03 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "width", "form", "expected"),
    [
        ("0.30 in", "0.1 in", "linear", "PASS"),  # exactly 3 times
        ("0.30 in", "0.1 in", "rounded", "FAIL"),
        ("0.2999 in", "0.1 in", "linear", "FAIL"),
        ("0.2999 in", "0.1 in", "rounded", "PASS"),
        ("0.3001 in", "0.1 in", "linear", "PASS"),
        ("7.62 mm", "0.1 in", "linear", "PASS"),  # 7.62 mm = 0.3 in
        ("7.61 mm", "0.1 in", "linear", "FAIL"),
        ("0.10 in", "0.02 in", "rounded", "FAIL"),
        ("0.3 in", "0.1 in", "network", "NOT APPLICABLE"),
        ("0.3 in", "0.1 in", None, "NOT APPLICABLE"),
        (None, "0.1 in", "linear", "NOT RECORDED"),
        ("0.3 in", None, "rounded", "NOT RECORDED"),
    ],
)
def test_d03_form_about_3_times_the_width(
    length: str | None, width: str | None, form: str | None, expected: str
) -> None:
    assert verdict("D03", record(seen=seen(length, width, form=form))) == expected


def test_d03_says_what_the_size_is_and_what_was_recorded() -> None:
    assert (
        ask("D03", record(seen=seen("0.10 in", "0.02 in", form="rounded"))).says
        == f"{IND} 0.10 x 0.02 in is linear, recorded as rounded"
    )


# --- D04: made here, worked by a separate script ----------------------------------------------------

THREE = (mark("1.000"), mark("1.078", "2.004"), mark("1.150", "1.998", "0.028"), mark("1.500"), mark("1.090", "2.200"))
FOUR = (*THREE, mark("1.2245"))


@pytest.mark.parametrize(
    ("form", "marks", "length", "expected"),
    [
        ("rounded", THREE, "0.03 in", "PASS"),
        ("cluster", THREE, "0.03 in", "PASS"),
        ("cluster", FOUR, "0.03 in", "FAIL"),
        ("rounded", FOUR, "0.2544 in", "FAIL"),
        ("rounded", FOUR, "0.2545 in", "PASS"),  # the whole row, exactly
        ("rounded", FOUR, "6.4643 mm", "PASS"),  # 0.2545 in = 6.4643 mm, exactly
        ("rounded", FOUR, "6.46429 mm", "FAIL"),
        ("rounded", FOUR, None, "FAIL"),
        ("aligned group", FOUR, "0.03 in", "PASS"),
        ("aligned group", (), "0.2545 in", "NOT RECORDED"),
        ("cluster", (), "0.2545 in", "NOT RECORDED"),
        ("rounded", (), "0.03 in", "NOT APPLICABLE"),
    ],
)
def test_d04_three_in_line_stay_rounded_four_are_one_linear_of_0_2545_in(
    form: str, marks: Any, length: str | None, expected: str
) -> None:
    assert verdict("D04", record(seen=seen(length, "0.03 in", form=form, marks=marks))) == expected


def test_d04_says_how_many_and_how_long() -> None:
    assert (
        ask("D04", record(seen=seen("0.03 in", form="cluster", marks=FOUR))).found
        == f"{IND}: 4 in line, 0.2545 in over all"
    )


@pytest.mark.parametrize(("x", "expected"), [("1.2415", "FAIL"), ("1.24150001", "PASS")])
def test_d04_gap_about_one_sixteenth(x: str, expected: str) -> None:
    """Centres 0.0915 apart, radii 0.015 and 0.014: the gap is 0.0625 in exactly (on a line of equal y)."""
    marks = (mark("1.000"), mark("1.075"), mark("1.150", size="0.028"), mark(x))
    assert verdict("D04", record(seen=seen("0.03 in", form="cluster", marks=marks))) == expected


@given(st.permutations(FOUR))
def test_d04_order_of_the_marks_does_not_matter(marks: list[f.Mark]) -> None:
    answer = ask("D04", record(seen=seen("0.03 in", form="cluster", marks=tuple(marks))))
    assert answer.found == f"{IND}: 4 in line, 0.2545 in over all"


# --- D05 ------------------------------------------------------------------------------------------


def size(length: str, second: str | None = None, **changed: Any) -> Facts:
    """The record with the first person's length and the second's (None: the same)."""
    return record(
        seen=seen(length, "0.02 in", **changed), look=look(length=second or length, form=changed.get("form", "linear"))
    )


@pytest.mark.parametrize(
    ("length", "word"),
    [
        ("0.1249 in", "within limit"),
        ("0.125 in", "within limit"),
        ("0.1251 in", "over limit"),
        ("3.175 mm", "within limit"),
        ("3.176 mm", "over limit"),
    ],
)
@pytest.mark.parametrize("recorded", ["within limit", "over limit"])
def test_d05_evaluation_about_the_limit(length: str, word: str, recorded: str) -> None:
    """0.125 in = 3.175 mm exactly."""
    facts = [*size(length), evaluated(recorded)]
    assert verdict("D05", facts, master=part(limit("linear", "0.125 in"))) == ("PASS" if recorded == word else "FAIL")


@pytest.mark.parametrize(
    ("first", "second", "word"),
    [
        ("0.12 in", "0.13 in", "over limit"),
        ("0.13 in", "0.12 in", "over limit"),
        ("0.12 in", "0.125 in", "within limit"),
    ],
)
def test_d05_larger_of_two_lengths_counts(first: str, second: str, word: str) -> None:
    facts = [*size(first, second), evaluated(word)]
    assert verdict("D05", facts, master=part(limit("linear", "0.125 in"))) == "PASS"


CRACK_NONE, LINEAR, ROUNDED = (
    limit("any", None, discontinuity="fatigue crack"),
    limit("linear", "0.25 in"),
    limit("rounded", "0.06 in"),
)
ANY, CRACK_LINEAR = limit("any", "0.1 in"), limit("linear", "0.5 in", discontinuity="fatigue crack")


@pytest.mark.parametrize(
    ("limits", "type_", "form", "chosen"),
    [
        ((LINEAR, ROUNDED), "lap", "linear", LINEAR),
        ((LINEAR, ROUNDED), "pore", "rounded", ROUNDED),
        ((ANY, LINEAR), "lap", "linear", LINEAR),  # this form before any
        ((ANY, LINEAR), "pore", "rounded", ANY),
        ((LINEAR, CRACK_NONE), "fatigue crack", "linear", CRACK_NONE),  # this discontinuity before this form
        ((CRACK_NONE, CRACK_LINEAR, LINEAR), "fatigue crack", "linear", CRACK_LINEAR),
        ((CRACK_NONE, LINEAR), "lap", "linear", LINEAR),
        ((CRACK_NONE,), "lap", "linear", None),
        ((ROUNDED,), "lap", "linear", None),
        ((LINEAR,), None, "network", LINEAR),  # what is not rounded is linear
        ((), "lap", "linear", None),
    ],
)
def test_d05_most_particular_limit_of_the_zone(
    limits: tuple[ZoneLimit, ...], type_: str | None, form: str, chosen: ZoneLimit | None
) -> None:
    inquiry = b.inquiry("MT", record(seen=seen(form=form), called=called(type_=type_)), master=part(*limits))
    assert indications.limit_of(inquiry, inquiry.indications[0]) == chosen


def test_d05_no_limit_for_the_zone_not_recorded_hold() -> None:
    answer = ask("D05", master=part())
    assert (answer.verdict, answer.ways_out) == ("NOT RECORDED", ("hold for engineering",))


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"evaluated": None}, "NOT RECORDED"),
        ({"seen": seen(None)}, "NOT RECORDED"),
        ({"seen": seen(zone="Z9")}, "NOT RECORDED"),
        ({"called": called("false")}, "NOT APPLICABLE"),
    ],
)
def test_d05_what_is_missing(changed: dict[str, Any], expected: str) -> None:
    assert verdict("D05", record(**changed)) == expected


@pytest.mark.parametrize(("marks", "word"), [(THREE, "within limit"), (FOUR, "over limit")])
def test_d05_four_in_line_are_read_against_the_linear_limit(marks: Any, word: str) -> None:
    """Each pore is within 0.06; four in line are 0.2545 linear, over 0.12."""
    facts = [*size("0.03 in", form="rounded", marks=marks), evaluated(word)]
    assert verdict("D05", facts, master=part(limit("rounded", "0.06 in"), limit("linear", "0.12 in"))) == "PASS"


@pytest.mark.parametrize(("most", "word"), [("0.2545 in", "within limit"), ("0.25449999999999999999 in", "over limit")])
def test_d05_row_exactly_as_long_as_the_limit_is_within_it(most: str, word: str) -> None:
    facts = [*size("0.03 in", form="rounded", marks=FOUR), evaluated(word)]
    assert verdict("D05", facts, master=part(limit("any", most))) == "PASS"


@pytest.mark.parametrize("open_look", [look(saved=False), look(length=None)], ids=["not saved", "not measured"])
def test_d05_second_look_without_a_length_leaves_the_first_persons(open_look: Facts) -> None:
    facts = record(seen=seen("0.125 in"), look=open_look, evaluated=evaluated("within limit"))
    assert verdict("D05", facts, master=part(limit("linear", "0.125 in"))) == "PASS"


def test_d05_none_allowed_and_blend_said_in_words() -> None:
    assert (
        ask("D05", master=part(limit("any", None, blend="0.010 in"))).limit
        == "none allowed, blend to 0.010 in (LS-1 rev 1)"
    )


# --- D06, D07 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({}, "PASS"),
        ({"photo": None}, "NOT RECORDED"),
        ({"photo": photo(scale=None)}, "NOT RECORDED"),
        ({"photo": photo(scale=False)}, "NOT RECORDED"),
        ({"photo": photo(tag=None)}, "NOT RECORDED"),
        ({"photo": photo(tag="not readable")}, "NOT RECORDED"),
        ({"photo": photo(tag="seen by person")}, "PASS"),
        ({"photo": [photo(scale=False), photo()]}, "PASS"),
        ({"photo": [photo(scale=True, tag=None), photo(scale=None, tag="read")]}, "NOT RECORDED"),  # one that has both
        ({"look": None}, "NOT YET"),
        ({"look": look(saved=False)}, "NOT YET"),
        ({"called": called("false")}, "NOT APPLICABLE"),
    ],
)
def test_d06_photograph_and_second_look(changed: dict[str, Any], expected: str) -> None:
    assert verdict("D06", record(**changed)) == expected


@pytest.mark.parametrize(("lost", "expected"), [("ab12", "NOT RECORDED"), ("cd34", "PASS")])
def test_d06_file_of_the_photograph_is_lost(lost: str, expected: str) -> None:
    assert verdict("D06", record(), lost_photographs=frozenset({lost})) == expected


def test_d06_class_2_not_applicable_names_the_master() -> None:
    assert ask("D06", master=b.master("MT", item_class=2)).says == "part master: PN-1 is class 2"


def person(
    name: str, level: int | None = 2, expires: date = date(2028, 1, 1), sight: date | None = date(2026, 9, 14)
) -> Facts:
    found = [r.certificate(name, level, expires)] if level is not None else []
    return found + ([r.vision(name, sight)] if sight is not None else [])


LP2_BAD = [b.lamp_reading("LP-2", "06:45"), b.lamp_reading("LP-2", "12:35", "880")]


@pytest.mark.parametrize(
    ("looks", "people", "expected"),
    [
        ([], [], "NOT YET"),
        (look(), person("NL3-E", 3), "PASS"),
        (look("L2-B"), person("L2-B"), "PASS"),
        (look("L2-B"), person("L2-B", 1), "FAIL"),
        (look("L2-B"), person("L2-B", None), "NOT RECORDED"),  # no certificate on file contradicts nothing
        (look("L2-B"), person("L2-B", expires=date(2026, 3, 10)), "PASS"),  # the last day counts
        (look("L2-B"), person("L2-B", expires=date(2026, 3, 9)), "FAIL"),
        (look("L2-B"), person("L2-B", sight=date(2026, 3, 10)), "PASS"),
        (look("L2-B"), person("L2-B", sight=date(2026, 3, 9)), "FAIL"),
        (look("L2-B"), person("L2-B", sight=None), "NOT RECORDED"),
        (look("L2-B"), [r.certificate("L2-B", method="PT"), r.vision("L2-B")], "NOT RECORDED"),  # another method
        (look("L2-A"), person("L2-A"), "FAIL"),  # the first viewer
        (look(blind=False), person("NL3-E", 3), "FAIL"),
        (look(saved=False), person("NL3-E", 3), "NOT YET"),
        (look(lamps=("LP-2",)), [*person("NL3-E", 3), *LP2_BAD], "NOT YET"),  # made under a bad lamp
        (look(lamps=("LP-1", "LP-2")), [*person("NL3-E", 3), *LP2_BAD], "NOT YET"),
        (look(lamps=("LP-2",)), [*person("NL3-E", 3), LP2_BAD[0]], "PASS"),  # not known to be bad
        ([*look("L2-A", name="SL0"), *look(start="12:00")], person("NL3-E", 3), "PASS"),  # the best one counts
        ([*look(lamps=("LP-2",)), *look(start="12:00", name="SL2")], [*person("NL3-E", 3), *LP2_BAD], "PASS"),
    ],
)
def test_d07_second_look_by_another_qualified_person_blind(looks: Facts, people: Facts, expected: str) -> None:
    assert verdict("D07", record(look=looks, people=people)) == expected


@pytest.mark.parametrize("word", ["relevant", "nonrelevant", "false"])
@pytest.mark.parametrize(("item_class", "expected"), [(1, "NOT YET"), (2, "NOT APPLICABLE")])
def test_d07_class_1_calls_are_on_the_procedures_list(word: str, item_class: int, expected: str) -> None:
    assert (
        verdict("D07", record(look=None, called=called(word)), master=b.master("MT", item_class=item_class)) == expected
    )


def test_d07_not_yet_interpreted_is_taken_as_relevant() -> None:
    assert verdict("D07", record(look=None, called=None)) == "NOT YET"


@pytest.mark.parametrize(
    ("word", "disposition", "children", "expected"),
    [
        ("relevant", "REJECT", (), "NOT YET"),
        ("relevant", "REWORK", (), "NOT YET"),
        ("relevant", "HOLD-ENG", (), "NOT APPLICABLE"),
        ("nonrelevant", "REJECT", (), "NOT APPLICABLE"),
        ("relevant", "SPLIT", (f.Child("ACCEPT", 11), f.Child("REJECT", 1, "3")), "NOT YET"),
        ("relevant", "SPLIT", (f.Child("ACCEPT", 12),), "NOT APPLICABLE"),
    ],
)
def test_d07_reject_and_rework_of_every_class(
    word: str, disposition: str, children: tuple[f.Child, ...], expected: str
) -> None:
    facts = record(look=None, called=called(word))
    assert (
        verdict("D07", facts, master=b.master("MT", item_class=3), disposition=disposition, children=children)
        == expected
    )


@pytest.mark.parametrize(
    ("looks", "expected"), [(None, "NOT YET"), (look(indication=None, none_seen=True), "PASS"), (look(), "NOT YET")]
)
def test_d07_closing_of_a_rework_needs_a_look_at_the_whole_part(looks: Any, expected: str) -> None:
    opened = b.opened("MT", reason="rework", previous="X-000")
    facts = record(opened=opened, seen=None, tests=None, called=None, evaluated=None, photo=None, look=looks)
    assert verdict("D07", facts) == expected


# --- D08 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        ("0.10 in", "0.13 in", "PASS"),  # 0.03 apart, exactly
        ("0.13 in", "0.10 in", "PASS"),
        ("0.10 in", "0.1301 in", "NOT RECORDED"),
        ("0.10 in", "0.1299 in", "PASS"),
        ("0.50 in", "0.40 in", "PASS"),  # 20 % of the larger, exactly
        ("0.40 in", "0.50 in", "PASS"),
        ("0.50 in", "0.3999 in", "NOT RECORDED"),
        ("0.3999 in", "0.50 in", "NOT RECORDED"),
        ("0.50 in", "0.4001 in", "PASS"),
        ("2.54 mm", "0.13 in", "PASS"),
    ],
)
def test_d08_sizes_about_0_03_in_and_20_percent(first: str, second: str, expected: str) -> None:
    assert verdict("D08", size(first, second)) == expected


def resolved(indication: str | None = IND, who: str = "NL3-E") -> Recorded[f.Fact]:
    return b.rec(f.DisagreementResolved("X-001", indication, who, "relevant"), "12:00", who)


@pytest.mark.parametrize("differs", [{"interpretation": "false"}, {"form": "rounded"}, {"length": "0.10 in"}], ids=str)
def test_d08_disagreement_waits_for_the_level_iii(differs: dict[str, Any]) -> None:
    assert verdict("D08", record(look=look(**differs))) == "NOT RECORDED"
    assert verdict("D08", record(look=look(**differs), more=resolved())) == "PASS"
    assert verdict("D08", record(look=look(**differs), more=resolved("IND-02"))) == "NOT RECORDED"


def test_d08_says_both_values() -> None:
    answer = ask("D08", record(look=look(length="0.10 in", interpretation="false")))
    assert "relevant against false; 0.31 in against 0.10 in" in answer.says


@pytest.mark.parametrize("blank", [{"length": None}, {"interpretation": None}, {"form": None}], ids=str)
def test_d08_what_the_second_person_left_open_is_no_disagreement(blank: dict[str, Any]) -> None:
    assert verdict("D08", record(look=look(**blank))) == "PASS"


def test_d08_look_under_a_bad_lamp_or_not_saved_is_left_out() -> None:
    assert verdict("D08", record(look=look(length="0.10 in", lamps=("LP-2",)), more=LP2_BAD)) == "NOT APPLICABLE"
    assert verdict("D08", record(look=look(saved=False))) == "NOT APPLICABLE"


@pytest.mark.parametrize(
    ("none_seen", "more", "expected"),
    [
        (False, None, "PASS"),
        (None, None, "PASS"),
        (True, None, "NOT RECORDED"),
        (True, resolved(), "NOT RECORDED"),  # of one indication, not of the whole
        (True, resolved(None), "PASS"),
    ],
)
def test_d08_look_at_the_whole_part(none_seen: bool | None, more: Any, expected: str) -> None:
    assert verdict("D08", record(look=look(indication=None, none_seen=none_seen), more=more)) == expected


def test_d08_second_person_found_what_the_first_did_not_see_not_recorded() -> None:
    whole = look(indication=None, none_seen=False)
    assert verdict("D08", [*NONE_SEEN, *whole]) == "NOT RECORDED"
    assert verdict("D08", [*NONE_SEEN, *whole, resolved(None)]) == "PASS"


def test_d08_whole_part_under_a_bad_lamp_is_left_out() -> None:
    whole = look(indication=None, none_seen=True, lamps=("LP-2",))
    assert verdict("D08", record(look=whole, more=LP2_BAD)) == "NOT APPLICABLE"


# --- D09 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"more": r.moved()}, "PASS"),
        ({}, "NOT RECORDED"),
        ({"more": r.moved("MT bench")}, "NOT RECORDED"),
        ({"more": r.moved(when="10:05")}, "PASS"),  # at the second it was seen
        ({"more": r.moved(when="10:04:59")}, "NOT RECORDED"),  # before anything was seen
        ({"more": r.moved(), "look": None}, "NOT YET"),
        ({"more": r.moved(), "look": look("L2-A")}, "FAIL"),
        ({"more": r.moved(), "called": called("false")}, "NOT RECORDED"),  # nothing relevant carries it
    ],
)
def test_d09_reject_needs_second_look_and_quarantine(changed: dict[str, Any], expected: str) -> None:
    assert verdict("D09", record(**changed), **REJECTED) == expected


def test_d09_second_look_is_needed_whatever_the_class() -> None:
    assert (
        verdict("D09", record(look=None, more=r.moved()), master=b.master("MT", item_class=3), **REJECTED) == "NOT YET"
    )


SPLIT = {"disposition": "SPLIT", "children": (f.Child("ACCEPT", 11), f.Child("REJECT", 1, "piece 3"))}
PIECE = {"seen": seen(piece="piece 3")}


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({**PIECE, "more": r.moved(piece="piece 3")}, "PASS"),
        ({**PIECE, "more": r.moved(piece="piece 4")}, "NOT RECORDED"),
        ({**PIECE, "more": r.moved()}, "NOT RECORDED"),  # the lot, not the piece
        (
            {"seen": seen(piece="piece 4"), "more": r.moved(piece="piece 3")},
            "NOT RECORDED",
        ),  # nothing carries the reject
    ],
)
def test_d09_split_lot_the_piece_itself_goes_to_quarantine(changed: dict[str, Any], expected: str) -> None:
    assert verdict("D09", record(**changed), **SPLIT) == expected


# --- D10 ------------------------------------------------------------------------------------------

BLEND = part(limit("any", None, blend="0.010 in"))


def rework(*facts: Recorded[f.Fact], basis: str = "new limits") -> Facts:
    return record(order=r.order(basis), more=[ordered(), *facts])


@pytest.mark.parametrize(
    ("depth", "expected"),
    [
        ("0.0099 in", "PASS"),
        ("0.010 in", "PASS"),
        ("0.0101 in", "FAIL"),
        ("0.254 mm", "PASS"),
        ("0.255 mm", "FAIL"),
        (None, "NOT RECORDED"),
    ],
)
def test_d10_depth_about_its_limit(depth: str | None, expected: str) -> None:
    assert verdict("D10", rework(done(depth)), master=BLEND) == expected


@pytest.mark.parametrize(
    ("earlier", "depth", "expected"),
    [
        ("0.004 in", "0.006 in", "PASS"),
        ("0.004 in", "0.0061 in", "FAIL"),
        (None, "0.006 in", "NOT RECORDED"),
        (None, "0.0101 in", "FAIL"),
    ],
)
def test_d10_depths_of_the_parts_life_are_added(earlier: str | None, depth: str, expected: str) -> None:
    before = done(earlier, "09:00", inspection="X-900", day="2023-05-04")
    assert verdict("D10", rework(before, done(depth)), master=BLEND) == expected


EARLIER = "W23-0077/PN-1/S-1"


def earlier_stay(serial: str = "S-1", part_no: str = "PN-1", zone: str = "Z1", **more: Any) -> Facts:
    """A rework of 0.005 in under an earlier work order, and this stay's line of the list."""
    return [
        b.rec(f.PartListed("W26-0148/PN-1/S-1", "W26-0148", "PN-1", 1, "S-1"), "06:50"),
        b.rec(f.PartListed(EARLIER, "W23-0077", part_no, 1, serial), "06:50", day="2023-05-02"),
        done("0.005 in", "09:00", inspection="X-900", part=EARLIER, zone=zone, **{"day": "2023-05-04", **more}),
    ]


@pytest.mark.parametrize(("depth", "expected"), [("0.005 in", "PASS"), ("0.0051 in", "FAIL")])
def test_d10_depth_of_an_earlier_work_order_is_added(depth: str, expected: str) -> None:
    assert verdict("D10", rework(*earlier_stay(), done(depth)), master=BLEND) == expected


@pytest.mark.parametrize(
    "other",
    [{"serial": "S-2"}, {"part_no": "PN-2"}, {"zone": "Z2"}, {"day": "2026-05-04"}],
    ids=["serial", "part number", "zone", "later stay"],
)
def test_d10_depth_of_something_else_is_not_added_pass(other: dict[str, str]) -> None:
    assert verdict("D10", rework(*earlier_stay(**other), done("0.006 in")), master=BLEND) == "PASS"


@pytest.mark.parametrize(
    ("serial", "depth", "expected"),
    [("S-1", "0.005 in", "PASS"), ("S-1", "0.0051 in", "FAIL"), ("S-2", "0.010 in", "PASS")],
)
def test_d10_depth_from_papers_of_an_earlier_visit_is_added(serial: str, depth: str, expected: str) -> None:
    listed = b.rec(f.PartListed("W26-0148/PN-1/S-1", "W26-0148", "PN-1", 1, "S-1"), "06:50")
    past = b.rec(f.PastRework("PN-1", serial, "Z1", b.num("0.005 in"), date(2021, 5, 4)), "08:00")
    assert verdict("D10", rework(listed, past, done(depth)), master=BLEND) == expected


def test_d10_depth_from_papers_not_measured_not_recorded() -> None:
    listed = b.rec(f.PartListed("W26-0148/PN-1/S-1", "W26-0148", "PN-1", 1, "S-1"), "06:50")
    past = b.rec(f.PastRework("PN-1", "S-1", "Z1", None, date(2021, 5, 4)), "08:00")
    assert verdict("D10", rework(listed, past, done("0.005 in")), master=BLEND) == "NOT RECORDED"


def test_d10_rework_of_another_zone_is_not_added() -> None:
    before = done("0.009 in", "09:00", inspection="X-900", zone="Z2", day="2023-05-04")
    assert verdict("D10", rework(before, done("0.006 in")), master=BLEND) == "PASS"


@pytest.mark.parametrize(
    ("value", "basis", "expected"),
    [
        ("0.5401 in", "new limits", "PASS"),
        ("0.540 in", "new limits", "PASS"),
        ("0.5399 in", "new limits", "FAIL"),
        ("0.5399 in", "service limits", "PASS"),
        ("0.530 in", "service limits", "PASS"),
        ("0.5299 in", "service limits", "FAIL"),
        ("0.544 in", "some other column", "NOT RECORDED"),
    ],
)
def test_d10_remaining_dimension_against_the_column_of_the_work_order(value: str, basis: str, expected: str) -> None:
    assert verdict("D10", rework(done(dimensions=(r.dimension(value),)), basis=basis), master=BLEND) == expected


@pytest.mark.parametrize(
    ("facts", "master", "expected"),
    [
        (rework(), BLEND, "NOT YET"),
        (rework(done(dimensions=())), BLEND, "NOT RECORDED"),
        (rework(done(dimensions=(r.dimension(new=None),))), BLEND, "NOT RECORDED"),
        (rework(done(zone="Z9")), BLEND, "NOT RECORDED"),
        (rework(done()), part(limit("any", None)), "NOT RECORDED"),  # no blend depth in the data
        (record(order=None, more=[ordered(), done()]), BLEND, "NOT RECORDED"),
    ],
)
def test_d10_what_is_missing(facts: Facts, master: Any, expected: str) -> None:
    assert verdict("D10", facts, master=master) == expected


def test_d10_and_d11_are_asked_of_the_re_inspection_too() -> None:
    facts = record(
        opened=b.opened("MT", "12:30", reason="rework", previous="X-000"),
        more=[ordered(inspection="X-000"), done("0.011 in", inspection="X-000")],
    )
    assert verdict("D10", facts, master=BLEND) == "FAIL"
    assert verdict("D11", facts) == "PASS"


# --- D11 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        (rework(), "NOT YET"),
        (rework(done()), "NOT YET"),
        (rework(r.again()), "NOT RECORDED"),  # opened, but nobody said that the rework ended
        (rework(done(), r.again("12:19:59")), "FAIL"),
        (rework(done(), r.again("12:20")), "FAIL"),  # at the very second the rework ended
        (rework(done(), r.again("12:20:01")), "PASS"),
        (rework(done(), r.again("12:10"), r.again("12:30", "X-003")), "PASS"),  # the last one counts
        (rework(done(), r.again(previous="X-999")), "NOT YET"),
        (rework(done(), r.again(method="PT")), "NOT YET"),  # another method
    ],
)
def test_d11_re_inspection_about_the_end_of_the_rework_at_12_20(facts: Facts, expected: str) -> None:
    assert verdict("D11", facts) == expected


def test_d11_technique_that_does_not_cover_the_zone_fails() -> None:
    assert verdict("D11", record(more=[ordered("Z3"), done(), r.again()])) == "FAIL"


# --- D12 ------------------------------------------------------------------------------------------

ACCEPT: dict[str, Any] = {"disposition": "ACCEPT"}
PORES = part(limit("any", "0.125 in"))


@pytest.mark.parametrize(
    ("facts", "master", "about", "expected"),
    [
        (NONE_SEEN, PORES, ACCEPT, "PASS"),
        (size("0.125 in"), PORES, ACCEPT, "PASS"),
        (size("0.1251 in"), PORES, ACCEPT, "FAIL"),
        (size("0.12 in", "0.13 in"), PORES, ACCEPT, "FAIL"),  # the larger length counts here too
        (record(called=None), PORES, ACCEPT, "NOT RECORDED"),
        (record(called=called("false")), PORES, ACCEPT, "PASS"),
        (record(called=called("nonrelevant")), PORES, ACCEPT, "PASS"),
        (record(), part(), ACCEPT, "NOT RECORDED"),
        (record(), part(limit("any", None)), ACCEPT, "FAIL"),
        (record(), PORES, {}, "FAIL"),  # nobody decided yet: asked as for acceptance
        (record(), PORES, {"disposition": "REJECT"}, "NOT APPLICABLE"),
        (record(), PORES, {"disposition": "REWORK"}, "NOT APPLICABLE"),
        (record(**PIECE), PORES, SPLIT, "PASS"),  # the bad piece is taken out
        (record(seen=seen(piece="piece 4")), PORES, SPLIT, "FAIL"),
        (record(seen=seen(piece=None)), PORES, SPLIT, "FAIL"),
        (record(**PIECE, called=None), PORES, SPLIT, "NOT RECORDED"),
        (
            record(**PIECE),
            PORES,
            {"disposition": "SPLIT", "children": (f.Child("REJECT", 1), f.Child("ACCEPT", 11, "piece 3"))},
            "FAIL",
        ),
    ],
)
def test_d12_accept_nothing_open_nothing_over_its_limit(
    facts: Facts, master: Any, about: dict[str, Any], expected: str
) -> None:
    assert verdict("D12", facts, master=master, **about) == expected


CONCEDED: dict[str, Any] = {**ACCEPT, "concession": "EC-26-014 rev 2, ENG-K"}


@pytest.mark.parametrize(
    ("type_", "limits", "expected"),
    [
        ("lap", (limit("any", None),), "PASS"),
        ("lap", (), "PASS"),
        ("fatigue crack", (limit("any", None),), "FAIL"),  # nobody concedes an open crack
        ("stress-corrosion", (limit("any", None),), "FAIL"),
        ("fatigue crack", (), "NOT RECORDED"),
    ],
)
def test_d12_engineering_concedes_anything_but_a_crack(
    type_: str, limits: tuple[ZoneLimit, ...], expected: str
) -> None:
    facts = record(called=called(type_=type_))
    assert verdict("D12", facts, master=part(*limits), **CONCEDED) == expected
    assert verdict("D12", facts, master=part(*limits), **ACCEPT) != "PASS"


# --- D13, D14 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("decider", "changed", "expected"),
    [
        (None, {}, "NOT YET"),
        ("L2-A", {}, "PASS"),
        ("L2-B", {}, "FAIL"),
        ("NL3-E", {}, "PASS"),
        ("NL3-E", {"people": person("NL3-E", 2)}, "FAIL"),
        ("NL3-E", {"people": person("NL3-E", 3, date(2026, 3, 10))}, "PASS"),
        ("NL3-E", {"people": person("NL3-E", 3, date(2026, 3, 9))}, "FAIL"),
        ("NL3-E", {"people": [r.certificate("NL3-E", 3, method="PT")]}, "FAIL"),
        ("L2-A", {"more": done(person="L2-A")}, "FAIL"),
        ("NL3-E", {"more": done(person="NL3-E")}, "FAIL"),
        ("L2-A", {"more": b.view("12:30", "12:40", name="V2", person="L2-B")}, "FAIL"),
        ("L2-B", {"more": b.view("12:30", "12:40", name="V2", person="L2-B")}, "PASS"),
        ("L2-A", {"view": None}, "NOT RECORDED"),
    ],
)
def test_d13_decider_is_last_viewer_or_level_iii_and_did_not_rework_it(
    decider: str | None, changed: dict[str, Any], expected: str
) -> None:
    assert verdict("D13", record(**changed), decider=decider) == expected


def test_d13_certificate_counts_on_the_day_of_the_signature() -> None:
    facts = record(people=person("NL3-E", 3, date(2026, 3, 10)))
    later = b.at("08:00", "2027-01-11")
    assert b.ask("D13", "MT", facts, later, decider="NL3-E", decided=b.at("16:00")).verdict == "PASS"
    assert b.ask("D13", "MT", facts, later, decider="NL3-E").verdict == "FAIL"


def decision(word: str, when: str = "13:00", concession: str | None = None) -> Recorded[f.Fact]:
    return b.rec(
        f.DecisionSigned("X-001", r.PART, "L2-A", "c", word, (), False, (), (), "0", concession=concession), when
    )


def concession(when: str) -> Recorded[f.Fact]:
    return b.rec(f.ConcessionGiven("X-001", "EC-26-014", "2", "one more look at 100 h", "ENG-K"), when)


def lot_decision(held: int, when: str) -> Recorded[f.Fact]:
    """Twelve pieces, some of them left to engineering."""
    shares = (f.Child("ACCEPT", 12 - held), f.Child("HOLD-ENG", held)) if held else (f.Child("ACCEPT", 12),)
    word = "SPLIT" if held else "ACCEPT"
    return b.rec(f.DecisionSigned("X-001", r.PART, "L2-A", "c", word, shares, False, (), (), "0"), when)


def split(held: int) -> dict[str, Any]:
    return {"disposition": "SPLIT", "children": (f.Child("ACCEPT", 12 - held), f.Child("HOLD-ENG", held))}


@pytest.mark.parametrize(
    ("facts", "about", "expected"),
    [
        ([decision("HOLD-ENG")], {}, "NOT APPLICABLE"),
        ([decision("HOLD-ENG")], {"disposition": "HOLD-ENG"}, "NOT APPLICABLE"),
        ([decision("HOLD-ENG")], ACCEPT, "NOT RECORDED"),
        ([decision("HOLD-ENG")], {**ACCEPT, "concession": ""}, "NOT RECORDED"),
        ([decision("HOLD-ENG"), concession("13:30")], {**ACCEPT, "concession": "EC-26-014 rev 2, ENG-K"}, "PASS"),
        ([concession("12:30"), decision("HOLD-ENG")], {**ACCEPT, "concession": "EC-26-014 rev 2"}, "NOT RECORDED"),
        ([decision("HOLD-ENG"), decision("ACCEPT", "14:00")], {}, "NOT RECORDED"),
        ([decision("HOLD-ENG"), concession("13:30"), decision("ACCEPT", "14:00", "EC-26-014 rev 2")], {}, "PASS"),
        ([decision("ACCEPT")], ACCEPT, "NOT APPLICABLE"),
        ([], ACCEPT, "NOT APPLICABLE"),
        ([lot_decision(2, "13:00")], split(2), "NOT APPLICABLE"),  # signed again, nothing released
        ([lot_decision(2, "13:00")], split(1), "NOT RECORDED"),
        ([lot_decision(2, "13:00")], ACCEPT, "NOT RECORDED"),
        ([lot_decision(2, "13:00"), concession("13:30")], split(1), "PASS"),
    ],
)
def test_d14_hold_is_released_only_with_an_engineering_reference(
    facts: Facts, about: dict[str, Any], expected: str
) -> None:
    assert verdict("D14", record(more=facts), **about) == expected


# --- D17, D19 -------------------------------------------------------------------------------------


def history() -> Facts:
    return [b.rec(f.PartListed(r.PART, r.ORDER, "PN-1", 1, "S-1"), "07:10")]


def past(clock: str | None, serial: str = "S-1", zone: str | None = "Z1") -> Facts:
    angle = b.num(clock) if clock else None
    return [
        b.rec(f.PastInspection("PN-1", "W23-0087", serial, zone, "fatigue crack", angle), "12:00", day="2023-06-01")
    ]


@pytest.mark.parametrize(
    ("clock", "earlier", "expected"),
    [
        ("165 deg", past("150 deg"), "FAIL"),  # 15 deg apart, exactly
        ("165 deg", past("149.9 deg"), "PASS"),
        ("165 deg", past("180.1 deg"), "PASS"),
        ("5 deg", past("350 deg"), "FAIL"),  # over the top of the clock
        ("5 deg", past("349.9 deg"), "PASS"),
        ("350 deg", past("5 deg"), "FAIL"),
        ("360 deg", past("0 deg"), "FAIL"),
        (None, past("150 deg"), "FAIL"),  # unknown: may be the same place
        ("165 deg", past(None), "FAIL"),
        ("165 deg", past("165 deg", zone="Z2"), "PASS"),
        ("165 deg", past("165 deg", zone=None), "NOT APPLICABLE"),
        ("165 deg", past("165 deg", "S-2"), "NOT APPLICABLE"),
        ("165 deg", [], "NOT APPLICABLE"),
    ],
)
def test_d17_same_place_about_15_deg(clock: str | None, earlier: Facts, expected: str) -> None:
    facts = record(seen=seen(clock=b.num(clock) if clock else None), more=[*history(), *earlier])
    assert verdict("D17", facts) == expected


def test_d17_serial_not_listed_not_applicable() -> None:
    assert verdict("D17", record(more=past("165 deg"))) == "NOT APPLICABLE"


def test_d17_same_place_names_the_earlier_visit() -> None:
    facts = record(seen=seen(clock=b.num("165 deg")), more=[*history(), *past("165 deg")])
    assert ask("D17", facts).says == f"{IND}: same place as on W23-0087 (2023-06-01)"


def crack(
    day: str, zone: str = "Z1", type_: str = "fatigue crack", when: str = "17:00", part_no: str = "PN-1"
) -> Recorded[f.Fact]:
    return b.rec(f.PastInspection(part_no, "W25-1", "S-7", zone, type_), when, day=day)


@pytest.mark.parametrize(
    ("earlier", "expected"),
    [
        ([], "PASS"),
        ([crack("2026-02-01")], "PASS"),
        ([crack("2026-02-01"), crack("2026-01-05")], "FAIL"),
        ([crack("2026-02-01"), crack("2025-12-10")], "FAIL"),  # 90 days before, to the second
        ([crack("2026-02-01"), crack("2025-12-10", when="16:59:59")], "PASS"),
        ([crack("2026-02-01"), crack("2026-01-05", "Z2")], "PASS"),
        ([crack("2026-02-01"), crack("2026-01-05", type_="porosity")], "PASS"),
        ([crack("2026-02-01"), crack("2026-01-05", type_="stress-corrosion")], "FAIL"),
        ([crack("2026-02-01"), crack("2026-01-05", part_no="PN-2")], "PASS"),
    ],
)
def test_d19_third_crack_in_one_zone_within_90_days(earlier: Facts, expected: str) -> None:
    assert verdict("D19", record(more=earlier)) == expected


def test_d19_no_crack_on_this_record_not_applicable() -> None:
    assert (
        verdict("D19", record(called=called(type_="lap"), more=[crack("2026-02-01"), crack("2026-01-05")]))
        == "NOT APPLICABLE"
    )


@pytest.mark.parametrize(("share", "verdict"), [("0 %", "NOT APPLICABLE"), ("100 %", "NOT YET")])
def test_d07_clean_class_1_part_is_drawn_by_the_share_of_the_procedure(share: str, verdict: str) -> None:
    """Common practice, no source: a share of clean parts gets a blind second look."""
    facts = b.view("09:00", "09:30")
    assert b.ask("D07", "MT", facts, parameters={"second_look_on_clean_percent": share}).verdict == verdict


def test_d07_clean_part_without_a_share_in_the_procedure_is_not_recorded() -> None:
    answer = b.ask("D07", "MT", b.view("09:00", "09:30"), parameters={"second_look_on_clean_percent": None})
    assert (answer.verdict, "second_look_on_clean_percent" in answer.says) == ("NOT RECORDED", True)


def test_a_draw_takes_about_its_share_and_always_the_same() -> None:
    drawn = [is_drawn(f"MT-{number:04d}", Fraction(10)) for number in range(5000)]
    # a binomial of 5000 at 0.1 lies within 5 standard deviations (21.2 each) of 500
    assert 394 <= sum(drawn) <= 606
    assert drawn == [is_drawn(f"MT-{number:04d}", Fraction(10)) for number in range(5000)]
