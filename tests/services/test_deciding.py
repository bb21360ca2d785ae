"""Who may sign what, on which answers, and how a lot is split."""

from __future__ import annotations

import hashlib
import json
from datetime import date

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import inspecting, recording
from ndi.services.state import piece_states
from tests import build as b
from tests.build import num
from tests.services.shop import Shop, certificate
from tests.services.test_law_10 import rejected_gear


def refused_rules(shop: Shop, *args: str, **more: object) -> list[str]:
    with pytest.raises(NotPermitted) as refused:
        shop.sign(*args, **more)  # type: ignore[arg-type]
    return [a.rule for a in refused.value.answers]


# --- the snapshot ---------------------------------------------------------------------------------


def test_snapshot_kept_is_what_the_rules_answered(shop: Shop) -> None:
    shop.gear()
    judgement = shop.sign("MT-001")
    signed = shop.facts(f.DecisionSigned, "MT-001")[-1].fact
    asked = [(a.rule, a.version, str(a.verdict), str(a.severity), a.found, a.limit, a.facts) for a in judgement.answers]
    kept = [(a.rule, a.version, a.verdict, a.severity, a.found, a.limit, a.facts) for a in signed.answers]
    assert kept == asked
    # every inspection rule that the pinned revision lists was asked, once
    listed = [rule for rule in judgement.inquiry.procedure.rules if rule in {a.rule for a in judgement.answers}]
    assert [a.rule for a in signed.answers] == listed
    # the hash, worked out here from the entry alone
    rows = [[a.rule, a.version, a.verdict, a.severity, a.found, a.limit, list(a.facts)] for a in signed.answers]
    assert (
        signed.snapshot
        == hashlib.sha256(json.dumps(rows, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()
    )
    # each answer names facts that are in the book, none of them later than the signature
    position = shop.facts(f.DecisionSigned, "MT-001")[-1].position
    assert all(0 < used < position for a in signed.answers for used in a.facts)


def test_answers_after_the_signature_are_those_that_were_signed(shop: Shop) -> None:
    """Nothing happened in between, so asking again changes no verdict."""
    shop.gear()
    signed = shop.sign("MT-001")
    again = shop.after(3600).judge("MT-001")
    assert {a.rule: a.verdict for a in signed.answers} == {a.rule: a.verdict for a in again.answers}


def test_decision_names_certificate_and_what_it_waits_for(accepted: Shop) -> None:
    signed = accepted.facts(f.DecisionSigned, "MT-001")[-1].fact
    assert signed.certificate == "MT level 2"
    assert signed.provisional
    assert signed.waits_for is not None and "LP-1" in signed.waits_for


# --- who may: person x method x level x date ------------------------------------------------------

YEARS = {
    "ended the day before": (date(2020, 1, 1), date(2026, 3, 9)),
    "last day": (date(2020, 1, 1), date(2026, 3, 10)),
}
YEARS |= {
    "first day": (date(2026, 3, 10), date(2028, 1, 1)),
    "begins the day after": (date(2026, 3, 11), date(2028, 1, 1)),
}
COVERS = {"last day", "first day"}


@pytest.mark.parametrize("years", YEARS)
@pytest.mark.parametrize("level", [1, 2, 3])
@pytest.mark.parametrize("method", ["MT", "PT"])
def test_who_may_accept(shop: Shop, method: str, level: int, years: str) -> None:
    """The viewer's only certificate on the day decides: its method, its level, its days."""
    old = shop.facts(f.CertificateEntered, "L2-A")
    issued, expires = YEARS[years]
    for recorded in old:  # every other certificate of the person is taken away: it ended long ago
        ended = certificate("L2-A", recorded.fact.method, 2, expires=date(2024, 1, 1))
        why = "the certificate was typed wrongly"
        recording.record_outside_fact(shop.work, ended, "SUP-F", when=recorded.when, why=why, supersedes=recorded.uid)
    recording.record_outside_fact(
        shop.work, certificate("L2-A", method, level, issued=issued, expires=expires), "SUP-F"
    )
    shop.gear()
    may = method == "MT" and level >= 2 and years in COVERS
    if may:
        shop.sign("MT-001")
        assert shop.row("MT-001").disposition == "ACCEPT"
    else:
        assert refused_rules(shop, "MT-001") == ["G12"]


def test_level_three_who_did_not_view_may_decide_and_another_level_two_may_not(shop: Shop) -> None:
    shop.gear()
    assert refused_rules(shop, "MT-001", "ACCEPT", "L2-C") == ["D13"]
    shop.sign("MT-001", "ACCEPT", "NL3-E")
    assert shop.row("MT-001").disposition == "ACCEPT"


@pytest.mark.parametrize("person", ["CLN-J", "RCV-H", "nobody"])
def test_person_without_certificate_signs_nothing(shop: Shop, person: str) -> None:
    shop.gear()
    for word in ("ACCEPT", "REJECT", "REWORK", "HOLD-ENG"):
        assert {"G12", "D13"} <= set(refused_rules(shop, "MT-001", word, person)), word


@pytest.mark.parametrize("word", ["NO DECISION", "SCRAP", "RETURN UNSERVICEABLE", "accept", "AIRWORTHY", ""])
def test_words_that_no_inspector_signs(shop: Shop, word: str) -> None:
    shop.gear()
    with pytest.raises(InputError):
        shop.sign("MT-001", word)


# --- guards of the other dispositions -------------------------------------------------------------


def test_reject_needs_an_indication_and_the_cage(shop: Shop) -> None:
    shop.gear()
    assert refused_rules(shop, "MT-001", "REJECT") == ["D09"]


def test_reject_needs_the_second_look(shop: Shop) -> None:
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    shop.after(30).crack("MT-001", "W26-0148/T6-10501/CG-1")
    assert set(refused_rules(shop.after(30), "MT-001", "REJECT")) == {"D07", "D09"}


def test_reject_with_indication_second_look_and_cage_is_signed(shop: Shop) -> None:
    rejected_gear(shop)
    assert shop.row("MT-001").disposition == "REJECT"
    assert not shop.row("MT-001").provisional


@pytest.mark.parametrize("word", ["REWORK", "HOLD-ENG"])
def test_rework_needs_the_second_look_hold_does_not(shop: Shop, word: str) -> None:
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    shop.after(30).crack("MT-001", "W26-0148/T6-10501/CG-1")
    if word == "REWORK":
        assert refused_rules(shop.after(30), "MT-001", word) == ["D07"]
    else:
        shop.after(30).sign("MT-001", word)
        assert shop.row("MT-001").disposition == "HOLD-ENG"


def test_hold_still_needs_a_described_indication(shop: Shop) -> None:
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    shop.after(30).record(f.IndicationSeen("IND-01", "MT-001", "WEB", None, "linear", num("0.2 in"), None))
    assert set(refused_rules(shop.after(30), "MT-001", "HOLD-ENG")) == {"D01", "D02"}


def test_a_crack_is_never_accepted(shop: Shop) -> None:
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    shop.after(30).crack("MT-001", "W26-0148/T6-10501/CG-1")
    shop.after(30).second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=num("0.20 in"))
    assert "D12" in refused_rules(shop, "MT-001", "ACCEPT")


# --- lots -----------------------------------------------------------------------------------------


def lot_with_a_crack(shop: Shop) -> None:
    shop.idlers(nothing_seen=False)
    part = "W26-0148/T6-10503/LOT-1"
    shop.crack("MT-002", part, piece="ID-07")
    shop.after(30).second_look("MT-002", "IND-01", interpretation="relevant", form="linear", length=num("0.20 in"))


def children(*shares: tuple[str, int] | tuple[str, int, str]) -> tuple[f.Child, ...]:
    return tuple(f.Child(*share) for share in shares)


SPLIT = children(("ACCEPT", 11), ("REJECT", 1, "ID-07"))


def test_split_is_signed_with_all_its_pieces(shop: Shop) -> None:
    lot_with_a_crack(shop)
    shop.sign("MT-002", "SPLIT", children=SPLIT)
    row = shop.row("MT-002")
    assert (row.disposition, row.provisional) == ("SPLIT", True)
    with shop.work.book.session(readonly=True) as session:
        states = piece_states(shop.work, session, session.part(row.part))
    assert states == {"ACCEPT": 11, "REJECT": 1}


@pytest.mark.parametrize(
    "shares",
    [
        children(("ACCEPT", 10), ("REJECT", 1, "ID-07")),
        children(("ACCEPT", 12), ("REJECT", 1, "ID-07")),
        children(("ACCEPT", 13), ("REJECT", -1)),
        children(("ACCEPT", 12), ("REJECT", 0)),
        children(("ACCEPT", 11), ("ACCEPT", 1)),
        children(("ACCEPT", 11), ("NO DECISION", 1)),
        children(("ACCEPT", 11), ("good", 1)),
        children(("ACCEPT", 10), ("REJECT", 2, "ID-07")),
        children(("ACCEPT", 10), ("REJECT", 1, "ID-07"), ("HOLD-ENG", 1, "ID-07")),
        (),
    ],
)
def test_split_that_does_not_add_up_is_refused(shop: Shop, shares: tuple[f.Child, ...]) -> None:
    lot_with_a_crack(shop)
    head = shop.head()
    with pytest.raises(InputError):
        shop.sign("MT-002", "SPLIT", children=shares)
    assert shop.head() == head


def test_one_word_over_children_of_another_is_refused(shop: Shop) -> None:
    lot_with_a_crack(shop)
    with pytest.raises(InputError):
        shop.sign("MT-002", "ACCEPT", children=children(("REJECT", 12)))


def test_split_that_leaves_the_cracked_piece_among_the_accepted_is_refused(shop: Shop) -> None:
    lot_with_a_crack(shop)
    assert "D12" in refused_rules(shop, "MT-002", "SPLIT", children=children(("ACCEPT", 11), ("HOLD-ENG", 1, "ID-08")))


def test_lot_missing_a_piece_is_not_accepted(shop: Shop) -> None:
    part = shop.receive("T6-10503", "LOT-1", 12, lot=True)
    shop.play(shop.magnetic_steps("MT-002", part, "MT-T-6052", 11))
    assert "G03" in refused_rules(shop.after(900), "MT-002")


# --- opening --------------------------------------------------------------------------------------


def test_technique_of_another_part_is_refused(shop: Shop) -> None:
    part = shop.receive("T6-10501", "CG-1")
    with pytest.raises(NotPermitted) as refused:
        inspecting.open_inspection(shop.work, "MT-001", part, "MT-T-6052", "L2-A", quantity=1)
    assert [a.rule for a in refused.value.answers] == ["G01"]


def test_number_that_is_taken_is_not_opened_again(accepted: Shop) -> None:
    part = accepted.receive("T6-10501", "CG-2")
    with pytest.raises(InputError, match="MT-001"):
        inspecting.open_inspection(accepted.work, "MT-001", part, "MT-T-6050", "L2-A", quantity=1)


def test_record_pins_the_revisions_in_force(accepted: Shop) -> None:
    opened = accepted.facts(f.InspectionOpened, "MT-001")[-1].fact
    assert (opened.procedure, opened.procedure_revision, opened.technique_revision) == ("MT-P-01", "F", "2")


@pytest.mark.parametrize(("end", "message"), [("07:52", "cannot end"), ("08:04", "ended already")])
def test_view_ends_once_and_after_it_began(accepted: Shop, end: str, message: str) -> None:
    if end == "07:52":
        accepted.after(60)
        inspecting.start_view(accepted.work, "V2", "MT-001", "L2-A", ["LP-1"], station="MT booth")
    with pytest.raises(InputError, match=message):
        inspecting.end_view(
            accepted.work, "V2" if end == "07:52" else "MT-001/view", when=b.at(end), why="from the paper sheet"
        )


def test_view_name_is_used_once(accepted: Shop) -> None:
    with pytest.raises(InputError, match="started already"):
        inspecting.start_view(accepted.after(60).work, "MT-001/view", "MT-001", "L2-A", ["LP-2"], station="MT booth")


def test_view_end_to_come_is_refused_by_rule(shop: Shop) -> None:
    steps = shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050")
    shop.play(s for s in steps if s.seconds < 780)
    with pytest.raises(NotPermitted) as refused:
        inspecting.end_view(shop.work, "MT-001/view", when=b.at("09:00"))
    assert [a.rule for a in refused.value.answers] == ["G18"]


def test_view_without_a_lamp_leaves_the_light_unanswered(shop: Shop) -> None:
    steps = shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050")
    unlit = lambda: inspecting.start_view(shop.work, "MT-001/view", "MT-001", "L2-A", [], station="MT booth")  # noqa: E731
    shop.play(type(s)(s.name, s.seconds, unlit) if s.name == "view" else s for s in steps)
    verdicts = {a.rule: a.verdict for a in shop.after(30).judge("MT-001").answers}
    assert {verdicts[rule] for rule in ("L01", "L02", "L03", "L10", "L11", "L12", "L13", "L16")} == {"NOT RECORDED"}
    assert "L02" in refused_rules(shop, "MT-001")
