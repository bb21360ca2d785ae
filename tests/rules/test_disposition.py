"""Scrap, tag, lock after signature, verification (D15, D16, D18, D20).

No limit of a standard stands behind these: they are the shop's own order,
common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.ticks import CHANGE_TOLD
from tests import build as b

Facts = list[Recorded[f.Fact]]
PART = "W26-0148/PN-1/S-1"


def ask(rule_id: str, *facts: Recorded[f.Fact] | Facts, opened: Facts | None = None, **changed: Any) -> Answer:
    kept: Facts = opened or [b.opened("MT")]
    for each in facts:
        kept += each if isinstance(each, list) else [each]
    return b.ask(rule_id, "MT", kept, **changed)


def signed(
    when: str = "11:30", word: str = "ACCEPT", person: str = "L2-A", children: tuple[f.Child, ...] = (), **more: Any
) -> Recorded[f.Fact]:
    shares = children or (f.Child(word, 1),)
    fact = f.DecisionSigned("X-001", PART, person, "MT level 2", word, shares, False, (), (), "0" * 64, **more)
    return b.rec(fact, when, person)


# --- D15 ------------------------------------------------------------------------------------------


def listed(serial: str | None = "S-1") -> Recorded[f.Fact]:
    return b.rec(f.PartListed(PART, "W26-0148", "PN-1", 1, serial), "06:50")


def scrapped(
    when: str = "15:00",
    day: str = b.DAY,
    part: str = PART,
    serial: str | None = "S-1",
    witness: str | None = "SUP-F",
    defaced: bool | None = True,
    photo: str | None = "ab12",
    **more: Any,
) -> Recorded[f.Fact]:
    fact = f.PartScrapped(part, "PN-1", serial, "CI-G", witness, defaced, photo, **more)
    return b.rec(fact, when, "CI-G", day=day)


EARLIER = "W25-0301/PN-1/S-1"


def test_d15_scrapped_before_a_witness_pass() -> None:
    answer = ask("D15", listed(), scrapped())
    assert (answer.verdict, answer.found) == ("PASS", "S-1 scrapped 2026-03-10, witness SUP-F")


def test_d15_not_scrapped_not_applicable() -> None:
    assert ask("D15", listed()).says == "the part is not scrapped"


@pytest.mark.parametrize(
    ("missing", "word"), [("witness", "witness"), ("defaced", "defacing"), ("photo", "photograph")]
)
def test_d15_something_missing_not_recorded(missing: str, word: str) -> None:
    blank: dict[str, Any] = {missing: None}
    answer = ask("D15", listed(), scrapped(**blank))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", f"S-1: {word} not recorded")


def test_d15_photograph_lost_not_recorded() -> None:
    answer = ask("D15", listed(), scrapped(), lost_photographs=frozenset({"ab12"}))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "S-1: file of the photograph not recorded")


def test_d15_still_whole_fail() -> None:
    assert ask("D15", listed(), scrapped(defaced=False)).says == "S-1: not made unusable"


def test_d15_witness_of_ones_own_fail() -> None:
    assert ask("D15", listed(), scrapped(witness="CI-G")).says == "S-1: CI-G cannot witness their own work"


def test_d15_serial_scrapped_on_an_earlier_visit_fail() -> None:
    answer = ask("D15", listed(), scrapped(day="2025-11-04", part=EARLIER))
    assert (answer.verdict, answer.says) == ("FAIL", "S-1 was scrapped on 2025-11-04 before SUP-F")


def test_d15_opened_again_after_it_was_scrapped_fail() -> None:
    assert ask("D15", listed(), scrapped("07:00")).verdict == "FAIL"


def test_d15_scrapped_in_the_very_second_of_opening_fail() -> None:
    assert ask("D15", listed(), scrapped("07:30")).verdict == "FAIL"
    assert ask("D15", listed(), scrapped("07:30:01")).verdict == "PASS"


def test_d15_other_serial_of_the_part_number_not_applicable() -> None:
    assert ask("D15", listed(), scrapped(day="2025-11-04", part=EARLIER, serial="S-9")).verdict == "NOT APPLICABLE"


def test_d15_another_visit_scrapped_later_does_not_reach_back_not_applicable() -> None:
    later = scrapped(day="2026-05-04", part="W26-0300/PN-1/S-1")
    assert ask("D15", listed(), later).verdict == "NOT APPLICABLE"


def test_d15_pieces_without_serial_are_not_mixed_up_not_applicable() -> None:
    """Two lots without serial numbers have nothing in common but the part number."""
    lot = scrapped(day="2025-11-04", part="W25-0301/PN-1/LOT-9", serial=None, piece="P2")
    assert ask("D15", listed(None), lot).verdict == "NOT APPLICABLE"


def test_d15_piece_of_this_lot_pass() -> None:
    answer = ask("D15", listed(None), scrapped(serial=None, piece="RA-07"))
    assert (answer.verdict, answer.found) == ("PASS", "RA-07 scrapped 2026-03-10, witness SUP-F")


# --- D16 ------------------------------------------------------------------------------------------


def tag(
    decision: Recorded[f.Fact], number: str = "12", when: str = "11:40", word: str = "ACCEPT", **more: Any
) -> Recorded[f.Fact]:
    base: dict[str, Any] = {"copy": 1, "practice": False, "quantity": 1, "piece": None}
    fact = f.TagPrinted(
        number, "X-001", PART, word, lines=("TAG",), check_code="0" * 8, decision=decision.position, **{**base, **more}
    )
    return b.rec(fact, when)


def scan(number: str = "12", when: str = "11:42") -> Recorded[f.Fact]:
    return b.rec(f.TagScannedBack(number, "X-001", "L2-A"), when)


def voided(number: str = "12", when: str = "12:00") -> Recorded[f.Fact]:
    return b.rec(f.TagVoided(number, "X-001", PART, "record corrected after signature"), when)


def test_d16_printed_and_scanned_pass() -> None:
    decision = signed()
    answer = ask("D16", decision, tag(decision), scan())
    assert (answer.verdict, answer.found) == ("PASS", "tag 12 scanned 11:42 by L2-A")


def test_d16_nothing_signed_not_yet() -> None:
    assert ask("D16").verdict == "NOT YET"


def test_d16_not_scanned_not_recorded() -> None:
    decision = signed()
    answer = ask("D16", decision, tag(decision))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "tag 12 printed 11:40, not scanned on the part since")


def test_d16_not_printed_not_recorded() -> None:
    answer = ask("D16", signed())
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "no tag printed for 1 ACCEPT")


def test_d16_copy_needs_its_own_scan_not_recorded() -> None:
    decision = signed()
    assert ask("D16", decision, tag(decision), scan(), tag(decision, when="12:00", copy=2)).verdict == "NOT RECORDED"


def test_d16_tag_of_an_earlier_decision_hangs_on_the_part_fail() -> None:
    first = signed()
    answer = ask("D16", first, tag(first), scan(), signed("13:00", "REJECT"))
    assert answer.verdict == "FAIL"
    assert answer.says == "on the part hangs tag 12, which shows an earlier decision"


def test_d16_new_tag_in_place_of_the_earlier_pass() -> None:
    first, second = signed(), signed("13:00", "REJECT")
    facts = [first, tag(first), scan(), second, tag(second, "13", "13:05", "REJECT"), scan("13", "13:06")]
    assert ask("D16", facts).verdict == "PASS"


def test_d16_void_tag_counts_for_nothing_not_recorded() -> None:
    decision = signed()
    assert ask("D16", decision, tag(decision), scan(), voided()).says == "no tag printed for 1 ACCEPT"


def test_d16_a_share_of_the_lot_without_its_tag_not_recorded() -> None:
    decision = signed(word="SPLIT", children=(f.Child("ACCEPT", 11), f.Child("REJECT", 1, "RA-07")))
    answer = ask("D16", decision, tag(decision, quantity=11), scan())
    assert answer.says == "no tag printed for 1 REJECT"


def test_d16_both_shares_tagged_pass() -> None:
    decision = signed(word="SPLIT", children=(f.Child("ACCEPT", 11), f.Child("REJECT", 1, "RA-07")))
    reject = tag(decision, "13", "11:41", "REJECT", piece="RA-07")
    assert ask("D16", decision, tag(decision, quantity=11), reject, scan(), scan("13")).verdict == "PASS"


def test_d16_suspended_tag_stands_for_the_share_pass() -> None:
    decision = signed()
    assert ask("D16", decision, tag(decision, word="SUSPENDED"), scan()).verdict == "PASS"


def test_d16_practice_tag_not_applicable() -> None:
    decision = signed()
    assert ask("D16", decision, tag(decision, practice=True)).verdict == "NOT APPLICABLE"


def test_d16_scrapped_part_gets_no_tag_not_applicable() -> None:
    assert ask("D16", signed(word="SCRAP")).verdict == "NOT APPLICABLE"


# --- D18 ------------------------------------------------------------------------------------------


UNCHANGED = "nothing of this record was changed after a signature"


def changed(why: str | None = "end misread", when: str = "10:21", fact: f.Fact | None = None) -> Recorded[f.Fact]:
    new = b.rec(fact or f.ViewEnded("V1", "X-001", ("Z1", "Z2"), True), when, why=why)
    return replace(new, supersedes="test-000001")


def undone(cause: Recorded[f.Fact], when: str = "14:00") -> Recorded[f.Fact]:
    return b.rec(f.DecisionUndone("X-001", PART, cause.position), when)


def told(value: str = "yes", when: str = "14:05") -> Recorded[f.Fact]:
    return b.rec(f.ConfirmationGiven("X-001", CHANGE_TOLD.item, value), when)


def corrected(**more: Any) -> Facts:
    """Signed, changed with a reason, the signature taken back."""
    decision, change = signed(), changed(**more)
    return [decision, change, undone(change)]


def test_d18_not_signed_not_applicable() -> None:
    assert ask("D18", changed()).says == UNCHANGED


def test_d18_no_change_not_applicable() -> None:
    """As before the signature: signing alone changes no answer."""
    answer = ask("D18", signed())
    assert (answer.verdict, answer.says) == ("NOT APPLICABLE", UNCHANGED)


def test_d18_change_before_signature_not_applicable() -> None:
    assert ask("D18", changed(None), signed()).says == UNCHANGED


def test_d18_changed_and_not_signed_again_not_yet() -> None:
    answer = ask("D18", corrected())
    assert (answer.verdict, answer.says) == ("NOT YET", "changed at 10:21, not signed again yet")


def test_d18_changed_and_about_to_be_signed_again_pass() -> None:
    answer = ask("D18", corrected(), decider="L2-A", disposition="ACCEPT")
    assert (answer.verdict, answer.found) == ("PASS", "ViewEnded of 10:21: end misread")


def test_d18_changed_and_signed_again_pass() -> None:
    assert ask("D18", corrected(), signed("14:10")).verdict == "PASS"


@pytest.mark.parametrize("why", [None, "", "  "])
def test_d18_change_without_reason_not_recorded(why: str | None) -> None:
    answer = ask("D18", corrected(why=why), signed("14:10"))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "ViewEnded of 10:21 was changed without a reason")


def test_d18_changed_under_a_standing_signature_fail() -> None:
    answer = ask("D18", signed(), changed())
    assert answer.verdict == "FAIL"
    assert answer.says == "ViewEnded of 10:21 was changed while the signature of 11:30 stands"


def test_d18_a_later_taking_back_does_not_heal_it_fail() -> None:
    decision, first, second = signed(), changed(), changed(when="10:22")
    assert ask("D18", decision, first, second, undone(second), signed("14:10")).verdict == "FAIL"


def test_d18_second_change_while_taken_back_pass() -> None:
    again = [*corrected(), changed("other zone", "10:22"), signed("14:10")]
    assert ask("D18", again).verdict == "PASS"


@pytest.mark.parametrize(
    "fact",
    [
        f.StepEnded("X-001", "demag"),
        f.IndicationEvaluated("IND-01", "within limit"),
        f.ConfirmationGiven("X-001", "clean"),
    ],
    ids=["step", "indication", "tick"],
)
def test_d18_every_fact_of_the_record_is_locked_fail(fact: f.Fact) -> None:
    seen = b.rec(f.IndicationSeen("IND-01", "X-001", "Z1", None, None, None, None), "10:05")
    assert ask("D18", seen, signed(), changed(fact=fact)).verdict == "FAIL"


@pytest.mark.parametrize(
    "fact",
    [
        f.ReadingRecorded("LP-1", "UV-A at 15 in", b.num("1500 uW/cm2")),
        f.ViewEnded("V9", "X-009"),
        f.IndicationEvaluated("IND-99", "within limit"),
    ],
    ids=["lamp", "other record", "other indication"],
)
def test_d18_facts_outside_the_record_do_not_unlock_it_not_applicable(fact: f.Fact) -> None:
    assert ask("D18", signed(), changed(fact=fact)).says == UNCHANGED


def with_tag(*, void: bool = True, tell: str | None = None, practice: bool = False) -> Facts:
    """Signed, tag out, changed, signature taken back; then what is asked for, and signed again."""
    decision = signed()
    out = tag(decision, practice=practice)
    change = changed()
    facts = [decision, out, change, undone(change)]
    facts += [voided()] if void else []
    facts += [told(tell)] if tell else []
    return [*facts, signed("14:10")]


def test_d18_tag_was_out_and_nobody_told_not_recorded() -> None:
    answer = ask("D18", with_tag())
    assert answer.verdict == "NOT RECORDED"
    assert answer.says.endswith("changed after tag 12 was out: nobody said whom they told")


def test_d18_tag_was_out_void_and_told_pass() -> None:
    assert ask("D18", with_tag(tell="yes")).found == "ViewEnded of 10:21: end misread; told 14:05"


def test_d18_told_before_the_change_not_recorded() -> None:
    early = told()
    assert ask("D18", early, with_tag()).verdict == "NOT RECORDED"


def test_d18_ticked_no_fail() -> None:
    assert ask("D18", with_tag(tell="no")).verdict == "FAIL"


def test_d18_tag_not_void_not_recorded() -> None:
    assert ask("D18", with_tag(void=False, tell="yes")).says == "ViewEnded of 10:21 was changed, tag 12 is not void"


def test_d18_practice_tag_was_wired_to_nothing_pass() -> None:
    assert ask("D18", with_tag(void=False, practice=True)).verdict == "PASS"


# --- D20 ------------------------------------------------------------------------------------------


def verified(person: str = "SUP-F") -> Recorded[f.Fact]:
    return b.rec(f.VerificationSigned(person, ("X-001",), ()), "17:10", person)


def looked(person: str) -> Facts:
    return [
        *b.view("11:00", "11:10", ("LP-1",), "SL1", person, kind="second look"),
        b.rec(f.SecondLookSaved("SL1", "X-001", person), "11:10", person),
    ]


def test_d20_verifier_worked_on_nothing_pass() -> None:
    answer = ask("D20", b.view("10:00", "10:20"), signed(), verifier="SUP-F")
    assert (answer.verdict, answer.found) == ("PASS", "SUP-F worked on none of them")


def test_d20_verified_by_another_pass() -> None:
    assert ask("D20", b.view("10:00", "10:20"), verified()).verdict == "PASS"


def test_d20_nobody_verified_not_yet() -> None:
    assert ask("D20", b.view("10:00", "10:20")).verdict == "NOT YET"


def test_d20_nobody_knows_who_worked_not_recorded() -> None:
    assert ask("D20", verifier="SUP-F").says == "not recorded who viewed or decided it"


@pytest.mark.parametrize(
    "work",
    [
        b.view("10:00", "10:20", person="SUP-F"),
        looked("SUP-F"),
        [signed(person="SUP-F")],
        [b.rec(f.ReworkDone("X-001", PART, "SUP-F", "Z1", None), "12:00")],
    ],
    ids=["viewed", "second look", "decided", "reworked"],
)
def test_d20_verifier_worked_on_it_fail(work: Facts) -> None:
    answer = ask("D20", b.view("09:00", "09:20", name="V0"), work, verifier="SUP-F")
    assert (answer.verdict, answer.says) == ("FAIL", "SUP-F worked on X-001")


def test_d20_work_on_another_record_is_no_matter_pass() -> None:
    other = b.rec(f.ViewStarted("V9", "X-009", "SUP-F", ("LP-1",), "first"), "09:00", "SUP-F")
    assert ask("D20", b.view("10:00", "10:20"), other, verifier="SUP-F").verdict == "PASS"


def test_d20_over_several_records_names_those_worked_on_fail() -> None:
    other = b.rec(f.ViewStarted("V9", "X-009", "SUP-F", ("LP-1",), "first"), "09:00", "SUP-F")
    answer = ask("D20", b.view("10:00", "10:20"), other, verifier="SUP-F", inspection="")
    assert answer.says == "SUP-F worked on X-009"
