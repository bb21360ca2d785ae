"""What later facts do to an acceptance: undone, suspended, cleared, or nothing at all (law 10)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import deciding, inspecting, recording, tagging
from tests import build as b
from tests.build import num
from tests.services.shop import Shop, calibration, certificate, lamp

WHY = "typed wrongly, seen on the sheet"


def state(shop: Shop, inspection: str = "MT-001") -> tuple[str, bool, bool]:
    row = shop.row(inspection)
    return row.disposition, row.provisional, row.suspended


PROVISIONAL, CLEARED, SUSPENDED, UNDONE = (
    ("ACCEPT", True, False),
    ("ACCEPT", False, False),
    ("ACCEPT", True, True),
    ("NO DECISION", False, False),
)


def test_acceptance_before_the_closing_reading_is_provisional(accepted: Shop) -> None:
    assert state(accepted) == PROVISIONAL


# --- of the inspection ----------------------------------------------------------------------------


def correct_one(shop: Shop, kind: type[f.Fact], subject: str, **changed: Any) -> None:
    recorded = shop.facts(kind, subject)[-1]
    fact = replace(recorded.fact, **changed)  # type: ignore[type-var]
    recording.correct(shop.work, recorded.uid, fact, "L2-A", when=recorded.when, why=WHY)


OF_THE_INSPECTION: list[tuple[type[f.Fact], str, dict[str, Any]]] = [
    (f.ResidualRead, "MT-001", {"value": num("1.5 G")}),
    (f.ShotFired, "MT-001", {"current_type": "FWDC"}),
    (f.ConfirmationGiven, "MT-001", {"value": "yes"}),
    (f.ViewStarted, "MT-001/view", {"lamps": ("LP-2",)}),
    (f.ViewEnded, "MT-001/view", {"background": "none"}),
    (f.Demagnetised, "MT-001", {"method": "coil"}),
    (f.PartReceived, "W26-0148/T6-10501/CG-1", {"scanned": True}),
    (f.PartListed, "W26-0148/T6-10501/CG-1", {"serial": "CG-7"}),
    (f.ConfirmationGiven, "W26-0148/T6-10501/CG-1", {"value": "yes"}),
]


@pytest.mark.parametrize(
    ("kind", "subject", "changed"), OF_THE_INSPECTION, ids=lambda value: getattr(value, "__name__", None)
)
def test_corrected_fact_of_the_inspection_undoes_decision_and_voids_tag(
    accepted: Shop, kind: type[f.Fact], subject: str, changed: dict[str, Any]
) -> None:
    (printed,) = tagging.print_tags(accepted.work, "MT-001", "L2-A")
    accepted.after(60)
    correct_one(accepted, kind, subject, **changed)
    assert state(accepted) == UNDONE
    (undone,) = accepted.facts(f.DecisionUndone, "MT-001")
    assert accepted.facts(kind, subject)[-1].position < undone.position
    (void,) = accepted.facts(f.TagVoided, "MT-001")
    assert void.fact.tag == str(printed.model.tag_no)
    assert tagging.tag_status(accepted.work, printed.model.qr).startswith("void")


@pytest.mark.parametrize(
    ("kind", "changed"),
    [
        (f.IndicationSeen, {"length": num("0.25 in")}),
        (f.IndicationTested, {"outcome": "gone"}),
        (f.IndicationEvaluated, {"evaluation": "within limit"}),
    ],
    ids=lambda value: getattr(value, "__name__", None),
)
def test_corrected_indication_undoes_decision(shop: Shop, kind: type[f.Fact], changed: dict[str, Any]) -> None:
    part = rejected_gear(shop)
    assert state(shop)[0] == "REJECT", part
    correct_one(shop.after(60), kind, "IND-01", **changed)
    assert state(shop) == UNDONE


def rejected_gear(shop: Shop) -> str:
    part = "W26-0148/T6-10501/CG-1"
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    shop.after(30)
    shop.crack("MT-001", part)
    photo = f.PhotoAttached("MT-001", "ab" * 32, b.at("08:01"), "IND-01", True, "read")
    inspecting.attach_photo(shop.work, photo, "L2-A")
    shop.after(30).second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=num("0.20 in"))
    shop.sign("MT-001", "REJECT")
    return part


def test_undone_decision_is_signed_again_by_the_viewer(accepted: Shop) -> None:
    correct_one(accepted.after(60), f.ResidualRead, "MT-001", value=num("1.5 G"))
    accepted.after(60).sign("MT-001")
    assert state(accepted) == PROVISIONAL


def test_correction_that_breaks_a_limit_keeps_the_record_from_being_signed_again(accepted: Shop) -> None:
    correct_one(accepted.after(60), f.ResidualRead, "MT-001", value=num("3.1 G"))
    with pytest.raises(NotPermitted) as refused:
        accepted.after(60).sign("MT-001")
    assert [a.rule for a in refused.value.answers] == ["M30"]


def test_view_moved_to_another_record_by_correction_undoes_both(accepted: Shop) -> None:
    accepted.gear("MT-003", "CG-3")
    accepted.sign("MT-003")
    correct_one(accepted.after(60), f.ViewStarted, "MT-001/view", inspection="MT-003")
    assert state(accepted, "MT-001") == UNDONE
    assert state(accepted, "MT-003") == UNDONE


def test_corrected_view_end_undoes_decision(accepted: Shop) -> None:
    inspecting.correct_view_end(accepted.after(60).work, "MT-001/view", b.at("08:02"), WHY)
    assert state(accepted) == UNDONE


@pytest.mark.parametrize("reason", ["", "too short"])
def test_correction_without_reason_of_ten_letters_is_refused(accepted: Shop, reason: str) -> None:
    recorded = accepted.facts(f.Demagnetised, "MT-001")[-1]
    with pytest.raises(InputError, match="reason"):
        recording.correct(accepted.work, recorded.uid, recorded.fact, "L2-A", when=recorded.when, why=reason)
    assert state(accepted) == PROVISIONAL


def test_correction_with_a_time_to_come_is_refused(accepted: Shop) -> None:
    recorded = accepted.facts(f.Demagnetised, "MT-001")[-1]
    with pytest.raises(InputError, match="later than now"):
        recording.correct(accepted.work, recorded.uid, recorded.fact, "L2-A", when=b.at("23:00"), why=WHY)


def test_new_indication_after_signature_suspends(accepted: Shop) -> None:
    """A new fact (not a correction) of the record leaves the signature, but not the standing."""
    seen = f.IndicationSeen("IND-09", "MT-001", "WEB", "at 90 deg", "linear", num("0.2 in"), num("0.01 in"), "radial")
    accepted.after(60).record(seen)
    assert state(accepted) == SUSPENDED


# --- outside the inspection -----------------------------------------------------------------------


def test_good_closing_reading_clears_provisional_without_signature(accepted: Shop) -> None:
    before = accepted.head()
    accepted.at("12:38").read_lamp("LP-1", "1690")
    assert state(accepted) == CLEARED
    assert [type(fact) for fact in accepted.since(before)] == [f.ReadingRecorded, f.ProvisionalCleared]


def test_reading_that_proves_nothing_does_not_hide_the_record_from_the_next(accepted: Shop) -> None:
    """12 in is no distance to compare at: nothing happens, and the good reading after it still clears."""
    accepted.at("12:38").read_lamp("LP-1", "1690", distance=num("12 in"))
    assert state(accepted) == PROVISIONAL
    accepted.at("12:40").read_lamp("LP-1", "1690")
    assert state(accepted) == CLEARED


@pytest.mark.parametrize(
    "changed",
    [{"condition": "as-left"}, {"distance": num("15.6 in")}, {"distance": None}, {"meter": "RM-2"}, {"meter": None}],
)
def test_reading_that_closes_nothing_leaves_provisional(accepted: Shop, changed: dict[str, Any]) -> None:
    accepted.at("12:38").read_lamp("LP-1", "1690", **changed)
    assert state(accepted) == PROVISIONAL


@pytest.mark.parametrize(("value", "expected"), [("1000", CLEARED), ("999.9", SUSPENDED)])
def test_closing_reading_at_the_minimum_is_within_it(
    accepted: Shop, value: str, expected: tuple[str, bool, bool]
) -> None:
    accepted.at("12:38").read_lamp("LP-1", value)
    assert state(accepted) == expected


def test_reading_of_another_lamp_changes_nothing(accepted: Shop) -> None:
    before = accepted.head()
    accepted.at("12:38").read_lamp("LP-2", "900")
    assert state(accepted) == PROVISIONAL
    assert not [fact for fact in accepted.since(before) if "MT-001" in fact.subjects()]


def test_suspended_acceptance_does_not_come_back_by_itself(accepted: Shop) -> None:
    accepted.at("12:38").read_lamp("LP-1", "900")
    accepted.at("12:50").read_lamp("LP-1", "1700", condition="as-left")
    accepted.at("16:28").read_lamp("LP-1", "1700")
    assert state(accepted) == SUSPENDED


def test_late_bad_reading_before_the_view_suspends(accepted: Shop) -> None:
    """The view lies after the reading, outside its recall set, yet it rests on that lamp."""
    accepted.at("08:20").read_lamp("LP-1", "900", when=b.at("07:51"), why="found on the paper sheet")
    assert state(accepted) == SUSPENDED


OUTSIDE_SUSPENDS: dict[str, tuple[f.Fact, str]] = {
    "lamp is no lamp of the shop": (f.EquipmentEntered("LP-1", "torch", "MT booth", False, "LED"), "L16"),
    "meter was out of calibration": (calibration("RM-1", "UV-A channel", due=date(2026, 3, 9)), "L10"),
    "decider's certificate had expired": (certificate("L2-A", "MT", 2, expires=date(2026, 3, 9)), "G12"),
    "viewer's vision had expired": (f.VisionExamEntered("L2-A", date(2025, 1, 1), date(2026, 3, 9)), "G13"),
}


@pytest.mark.parametrize("name", OUTSIDE_SUSPENDS)
def test_corrected_outside_fact_that_changes_an_answer_suspends(accepted: Shop, name: str) -> None:
    fact, rule = OUTSIDE_SUSPENDS[name]
    subject = fact.subjects()[0]
    old = [r for r in accepted.facts(type(fact), subject) if getattr(r.fact, "method", "MT") == "MT"][-1]
    recording.record_outside_fact(accepted.after(60).work, fact, "SUP-F", when=old.when, why=WHY, supersedes=old.uid)
    assert state(accepted) == SUSPENDED
    (suspended,) = accepted.facts(f.AcceptanceSuspended, "MT-001")
    assert rule in suspended.fact.rules


def test_calibration_that_found_the_meter_high_suspends(accepted: Shop) -> None:
    """1700 read with a meter 80 % high was 944: under the minimum (calibration of the day after)."""
    fact = calibration("RM-1", "UV-A channel", date(2026, 3, 11), date(2026, 9, 11), as_found_error_percent=num("80 %"))
    recording.record_outside_fact(accepted.at("10:00", "2026-03-11").work, fact, "SUP-F")
    assert state(accepted) == SUSPENDED


def test_certificate_of_an_operator_of_the_line_counts_too(shop: Shop) -> None:
    shop.sump()
    shop.sign("PT-001", person="L2-B")
    old = [r for r in shop.facts(f.CertificateEntered, "L1-D") if r.fact.method == "PT"][-1]
    fact = certificate("L1-D", "PT", 1, expires=date(2026, 3, 9))
    recording.record_outside_fact(shop.after(60).work, fact, "SUP-F", when=old.when, why=WHY, supersedes=old.uid)
    assert state(shop, "PT-001")[2]


@pytest.mark.parametrize(
    "fact",
    [
        f.EquipmentSwitched("LP-1", "off"),
        f.EquipmentSwitched("MT-01", "off"),
        f.DirectivesConfirmed("W26-0148", ("look at the gear",)),
    ],
    ids=lambda fact: type(fact).__name__,
)
def test_late_shop_fact_that_changes_an_answer_suspends(accepted: Shop, fact: f.Fact) -> None:
    when = b.at("06:30") if isinstance(fact, f.EquipmentSwitched) else b.at("07:50")
    accepted.after(60).record(fact, when=when, why="found on the paper sheet")
    assert state(accepted) == SUSPENDED


def test_late_reading_of_the_wash_station_suspends_what_was_washed_there(shop: Shop) -> None:
    shop.sump()
    shop.sign("PT-001", person="L2-B")
    dim = f.ReadingRecorded("wash station", "UV-A at part", num("90 uW/cm2"), meter="RM-1")
    recording.record_reading(shop.after(60).work, dim, "L1-D", when=b.at("08:00"), why="found on the paper sheet")
    assert state(shop, "PT-001")[2]


def test_check_entered_late_as_failed_suspends_later_views(accepted: Shop) -> None:
    check = f.ProcessCheckRecorded("lamp integrity", "LP-1", False)
    recording.record_check(accepted.after(60).work, check, "L1-D", when=b.at("07:51"), why="found on the paper sheet")
    assert state(accepted) == SUSPENDED


@pytest.mark.parametrize(
    "fact",
    [
        calibration("RM-1", "UV-A channel", date(2026, 3, 10), date(2026, 9, 10), as_found_error_percent=num("1 %")),
        certificate("L2-A", "MT", 2, expires=date(2029, 3, 5)),
        lamp("LP-9"),
        f.PersonEntered("L2-Z", ("inspector",)),
        f.VisionExamEntered("L2-A", date(2026, 3, 10), date(2027, 3, 10)),
    ],
    ids=lambda fact: type(fact).__name__,
)
def test_outside_fact_that_changes_no_answer_changes_nothing(accepted: Shop, fact: f.Fact) -> None:
    before = accepted.head()
    recording.record_outside_fact(accepted.after(60).work, fact, "SUP-F")
    assert state(accepted) == PROVISIONAL
    assert accepted.since(before) == [fact]


def test_closing_reading_corrected_away_suspends_what_it_had_cleared(accepted: Shop) -> None:
    """L11 left PASS: an acceptance that was cleared is not provisional again, it is suspended."""
    reading = accepted.at("12:38").read_lamp("LP-1", "1690")
    assert state(accepted) == CLEARED
    fact = replace(reading.fact, distance=num("12 in"))  # type: ignore[type-var]
    recording.correct(accepted.after(60).work, reading.uid, fact, "L1-D", when=reading.when, why=WHY)
    assert state(accepted) == ("ACCEPT", False, True)


def test_reason_given_beforehand_does_not_carry_a_warning_that_comes_later(accepted: Shop) -> None:
    """L08 (a warning) leaves PASS by a late fact; the reason in the book spoke of another state."""
    accepted.after(60).record(f.ReasonGiven("MT-001", "L08", "checked by eye this morning", "L2-A"))
    check = f.ProcessCheckRecorded("lamp integrity", "LP-1", False)
    recording.record_check(accepted.after(60).work, check, "L1-D", when=b.at("07:51"), why="found on the paper sheet")
    assert state(accepted)[2]


def test_reading_corrected_to_a_bad_one_withdraws_the_lamp_and_opens_the_recall(accepted: Shop) -> None:
    reading = accepted.at("12:38").read_lamp("LP-1", "1690")
    fact = replace(reading.fact, value=num("690 uW/cm2"))  # type: ignore[type-var]
    recording.correct(accepted.after(60).work, reading.uid, fact, "L1-D", when=reading.when, why=WHY)
    (opened,) = accepted.facts(f.ContainmentOpened)
    assert opened.fact.inspections == ("MT-001",)
    assert accepted.facts(f.EquipmentStatusSet, "LP-1")[-1].fact.state == "withdrawn"
    # once more to another bad value: the containment that is open is enough
    recorded = accepted.facts(f.ReadingRecorded, "LP-1")[-1]
    worse = replace(recorded.fact, value=num("680 uW/cm2"))
    recording.correct(accepted.after(60).work, recorded.uid, worse, "L1-D", when=recorded.when, why=WHY)
    assert len(accepted.facts(f.ContainmentOpened)) == 1


# --- no way around a signature --------------------------------------------------------------------


def test_signatures_are_neither_corrected_nor_copied_in_nor_recorded(accepted: Shop) -> None:
    signed = accepted.facts(f.DecisionSigned, "MT-001")[-1]
    with pytest.raises(InputError, match="DecisionSigned"):
        recording.correct(accepted.work, signed.uid, signed.fact, "L2-A", when=signed.when, why=WHY)
    with pytest.raises(InputError, match="DecisionSigned"):
        recording.transcribe(accepted.work, [(signed.fact, signed.when)], person="SUP-F", why=WHY)
    with pytest.raises(InputError, match="DecisionSigned"):
        recording.record_outside_fact(accepted.work, signed.fact, "SUP-F")
    with pytest.raises(InputError, match="DecisionSigned"):
        accepted.record(signed.fact)


def test_a_standing_acceptance_is_not_signed_over(accepted: Shop) -> None:
    with pytest.raises(NotPermitted):
        accepted.sign("MT-001", "HOLD-ENG")
    with pytest.raises(InputError):
        deciding.sign_decision(accepted.work, "MT-001", "CLN-J", "NO DECISION")
    assert state(accepted) == PROVISIONAL
