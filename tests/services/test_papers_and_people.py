"""Adoption, receiving, tags, verification, parts by all their methods: who may, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.services import questions, receiving, recording, tagging, verifying
from tests.services.shop import Shop, certificate

# --- adoption -------------------------------------------------------------------------------------


def document(shop: Shop, kind: str, number: str, revision: str) -> receiving.Document:
    fact = next(
        r.fact
        for r in shop.facts(f.DocumentAdopted)
        if (r.fact.document, r.fact.number, r.fact.revision) == (kind, number, revision)
    )
    return receiving.Document(fact.document, fact.number, fact.revision, fact.method, fact.content, fact.sha256)


def test_documents_that_are_in_the_book_are_not_adopted_twice(shop: Shop) -> None:
    head = shop.head()
    assert receiving.adopt(shop.work, [document(shop, "procedure", "MT-P-01", "F")], "NL3-E") == 0
    assert shop.head() == head


def test_same_revision_with_other_content_is_refused_and_nothing_of_the_bundle_is_taken(shop: Shop) -> None:
    changed = document(shop, "technique", "MT-T-6050", "2")
    changed = replace(changed, content=changed.content.replace("1200 A", "1300 A"), sha256="0" * 64)
    new = replace(document(shop, "technique", "MT-T-6052", "2"), revision="3", sha256="1" * 64)
    before = shop.facts(f.DocumentAdopted)
    with pytest.raises(NotPermitted, match="other content: give the change a new revision"):
        receiving.adopt(shop.work, [new, changed], "NL3-E")
    assert shop.facts(f.DocumentAdopted) == before


HELD: dict[str, tuple[str, int, date, bool]] = {
    "level 3 of the method": ("MT", 3, date(2028, 1, 1), True),
    "last day of level 3": ("MT", 3, date(2026, 3, 10), True),
    "level 3 that ended yesterday": ("MT", 3, date(2026, 3, 9), False),
    "level 2": ("MT", 2, date(2028, 1, 1), False),
    "level 3 of the other method": ("PT", 3, date(2028, 1, 1), False),
}


@pytest.mark.parametrize("held", HELD)
def test_only_a_level_three_of_the_method_adopts(shop: Shop, held: str) -> None:
    method, level, expires, may = HELD[held]
    recording.record_outside_fact(shop.work, certificate("L3-X", method, level, expires=expires), "SUP-F")
    new = replace(document(shop, "procedure", "MT-P-01", "F"), revision="G", sha256="1" * 64)
    if may:
        assert receiving.adopt(shop.work, [new], "L3-X") == 1
        return
    with pytest.raises(NotPermitted, match="is no Level III of MT"):
        receiving.adopt(shop.work, [new], "L3-X")


def test_part_master_is_adopted_by_a_level_three_of_any_method(shop: Shop) -> None:
    recording.record_outside_fact(shop.work, certificate("L3-X", "PT", 3), "SUP-F")
    new = replace(document(shop, "part", "T6-10501", "3"), revision="4", sha256="1" * 64)
    assert receiving.adopt(shop.work, [new], "L3-X") == 1
    with pytest.raises(NotPermitted):
        receiving.adopt(shop.work, [replace(new, revision="5", sha256="2" * 64)], "L2-A")


# --- identity -------------------------------------------------------------------------------------


def test_serial_that_is_not_on_the_work_order_is_refused_with_the_nearest(shop: Shop) -> None:
    shop.receive("T6-10501", "CG-221")
    assert receiving.identify(shop.work, "W26-0148", "CG-221", "RCV-H").settled
    with pytest.raises(NotPermitted, match="CG-221") as refused:
        receiving.identify(shop.work, "W26-0148", "CG-212", "RCV-H")
    assert [a.rule for a in refused.value.answers] == ["G02"]


# --- tags -----------------------------------------------------------------------------------------


def test_tag_of_an_unsigned_record_is_refused(shop: Shop) -> None:
    shop.gear()
    with pytest.raises(NotPermitted, match="not signed"):
        tagging.print_tags(shop.work, "MT-001", "L2-A")


@pytest.mark.parametrize(
    ("person", "may"),
    [
        ("L2-A", True),
        ("L2-C", True),
        ("NL3-E", True),
        ("L1-D", False),
        ("CLN-J", False),
        ("PT-ONLY", False),
        ("EXPIRED", False),
    ],
)
def test_tag_is_printed_by_an_inspector_of_the_method(accepted: Shop, person: str, may: bool) -> None:
    for fact in (certificate("PT-ONLY", "PT", 2), certificate("EXPIRED", "MT", 2, expires=date(2026, 3, 9))):
        recording.record_outside_fact(accepted.work, fact, "SUP-F")
    if may:
        (printed,) = tagging.print_tags(accepted.work, "MT-001", person)
        assert printed.model.quantity == 1
        return
    with pytest.raises(NotPermitted, match="an inspector of the method"):
        tagging.print_tags(accepted.work, "MT-001", person)
    assert not accepted.facts(f.TagPrinted)


def test_what_a_scanned_tag_says_follows_the_record(accepted: Shop) -> None:
    (printed,) = tagging.print_tags(accepted.work, "MT-001", "L2-A")
    qr = printed.model.qr

    def says() -> str:
        return tagging.tag_status(accepted.work, qr)

    assert says() == "provisional"
    assert "PROVISIONAL" in printed.model.tag_word
    accepted.at("12:38").read_lamp("LP-1", "1700")
    assert says() == "current"
    (again,) = tagging.print_tags(accepted.work, "MT-001", "L2-A")
    assert (again.model.tag_no, again.model.copy) == (printed.model.tag_no, 2)
    assert says() == "current, copy 2"
    accepted.at("16:00").read_lamp("LP-1", "900")
    assert says() == "current, copy 2"  # the view lay between two good readings
    recorded = accepted.facts(f.ResidualRead, "MT-001")[-1]
    recording.correct(
        accepted.work, recorded.uid, recorded.fact, "L2-A", when=recorded.when, why="read from another part"
    )
    assert says().startswith("void")


def test_tag_of_a_suspended_acceptance_says_so(accepted: Shop) -> None:
    (printed,) = tagging.print_tags(accepted.work, "MT-001", "L2-A")
    accepted.at("12:38").read_lamp("LP-1", "900")
    assert tagging.tag_status(accepted.work, printed.model.qr) == "suspended"
    (again,) = tagging.print_tags(accepted.work, "MT-001", "L2-A")
    assert "SUSPENDED" in again.model.disposition
    assert "ACCEPT" not in again.model.disposition


def test_tag_is_scanned_back_only_if_it_was_printed(accepted: Shop) -> None:
    with pytest.raises(NotFound):
        tagging.scan_back(accepted.work, "77", "L2-A")
    (practice,) = tagging.print_tags(accepted.work, "MT-001", "L2-A")
    with pytest.raises(InputError, match="practice"):
        tagging.scan_back(accepted.work, str(practice.model.tag_no), "L2-A")
    accepted.work.practice = False  # as in a book that is none
    (printed,) = tagging.print_tags(accepted.work, "MT-001", "L2-A")
    tagging.scan_back(accepted.work, str(printed.model.tag_no), "L2-A")
    assert accepted.facts(f.TagScannedBack, "MT-001")


# --- verification ---------------------------------------------------------------------------------


def test_verification_by_somebody_who_worked_on_a_record_is_refused(shop: Shop) -> None:
    from tests.services.test_law_10 import rejected_gear

    rejected_gear(shop)
    for person in ("L2-A", "L2-C"):  # viewed and decided; second look
        with pytest.raises(NotPermitted) as refused:
            verifying.verify_records(shop.work, person)
        assert [a.rule for a in refused.value.answers] == ["D20"]
    assert not shop.facts(f.VerificationSigned)


def test_verification_covers_what_is_complete_and_names_the_rest(accepted: Shop) -> None:
    accepted.gear("MT-003", "CG-3")
    done = verifying.verify_records(accepted.at("12:38").work, "SUP-F")
    assert [s.row.inspection for s in done.left_out] == ["MT-001", "MT-003"]  # L11 is open until the lamp is read
    accepted.read_lamp("LP-1", "1700")
    done = verifying.verify_records(accepted.after(60).work, "SUP-F")
    assert [s.row.inspection for s in done.covered] == ["MT-001"]
    assert [s.row.inspection for s in done.left_out] == ["MT-003"]
    assert accepted.row("MT-001").verified and not accepted.row("MT-003").verified


def test_one_may_verify_the_records_one_did_not_touch(accepted: Shop) -> None:
    recording.record_outside_fact(accepted.work, f.PersonEntered("L2-B", ("inspector", "supervisor")), "SUP-F")
    accepted.sump()
    accepted.sign("PT-001", person="L2-B")
    with pytest.raises(NotPermitted, match="PT-001"):
        verifying.verify_records(accepted.work, "L2-B")
    assert verifying.verify_records(accepted.work, "L2-B", inspections=["MT-001"]).answer.settled


# --- the part -------------------------------------------------------------------------------------


def test_part_is_accepted_when_every_method_is(shop: Shop) -> None:
    part = shop.receive("T6-10501", "CG-1")
    with pytest.raises(NotPermitted) as refused:
        questions.accept_part(shop.work, part, "SUP-F")
    assert [(a.rule, a.verdict) for a in refused.value.answers] == [("G05", "NOT RECORDED")]
    shop.play(shop.magnetic_steps("MT-001", part, "MT-T-6050"))
    with pytest.raises(NotPermitted):
        questions.accept_part(shop.after(30).work, part, "SUP-F")
    shop.sign("MT-001")
    assert questions.accept_part(shop.work, part, "SUP-F").verdict == "PASS"


Change = Callable[[Shop], object]


def suspend(shop: Shop) -> None:
    shop.at("12:38").read_lamp("LP-1", "900")


def undo(shop: Shop) -> None:
    recorded = shop.facts(f.ResidualRead, "MT-001")[-1]
    recording.correct(shop.work, recorded.uid, recorded.fact, "L2-A", when=recorded.when, why="read from another part")


@pytest.mark.parametrize(("change", "verdict"), [(suspend, "FAIL"), (undo, "NOT RECORDED")])
def test_part_whose_acceptance_does_not_stand_is_not_accepted(accepted: Shop, change: Change, verdict: str) -> None:
    part = "W26-0148/T6-10501/CG-1"
    assert questions.accept_part(accepted.work, part, "SUP-F").settled
    change(accepted)
    with pytest.raises(NotPermitted) as refused:
        questions.accept_part(accepted.work, part, "SUP-F")
    assert [(a.rule, a.verdict) for a in refused.value.answers] == [("G05", verdict)]


def test_part_with_two_methods_needs_both(shop: Shop) -> None:
    part = shop.receive("T6-12001", "CY-1")
    with pytest.raises(NotPermitted) as refused:
        questions.accept_part(shop.work, part, "SUP-F")
    (answer,) = refused.value.answers
    assert answer.verdict == "NOT RECORDED"


def test_unknown_part_is_not_found(shop: Shop) -> None:
    with pytest.raises(NotFound):
        questions.accept_part(shop.work, "nowhere", "SUP-F")


# --- rework ---------------------------------------------------------------------------------------


def test_rework_is_completed_only_after_it_was_ordered(accepted: Shop) -> None:
    from ndi.services import inspecting

    part = "W26-0148/T6-10501/CG-1"
    with pytest.raises(NotPermitted, match="have it ordered first"):
        inspecting.complete_rework(accepted.work, f.ReworkDone("MT-001", part, "RWK-N", "WEB", None))
    with pytest.raises(InputError):
        inspecting.order_rework(
            accepted.work, f.ReworkOrdered("MT-001", "another part", "IND-01", "WEB", "blend", "L2-A")
        )
