"""Scrap and the scrap register: who may, what is refused, and that a scrapped number never comes back."""

from __future__ import annotations

from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import inspecting, questions, receiving, recording, scrapping, tagging
from ndi.services import rejected as returning
from ndi.services.state import piece_states
from tests.services.shop import GEAR, GEAR_SHEET, Shop
from tests.services.test_law_10 import rejected_gear

PART = "W26-0148/T6-10501/CG-1"


@pytest.fixture
def rejected(shop: Shop) -> Shop:
    """The gear of MT-001 is rejected, its owner lets it be scrapped; CI-G is of quality."""
    recording.record_outside_fact(shop.work, f.PersonEntered("CI-G", ("quality",)), "SUP-F")
    rejected_gear(shop)
    shop.record(f.OwnerAnswered(PART, "scrap", "letter 3"))
    return shop


def scrap(shop: Shop, **changed: Any) -> Recorded[f.Fact]:
    given: dict[str, Any] = {"part": PART, "person": "CI-G", "witness": "SUP-F", "photo": "ab12", "defaced": True}
    return scrapping.scrap_part(shop.work, **{**given, **changed})


def refused_by(refused: pytest.ExceptionInfo[NotPermitted]) -> list[tuple[str, str]]:
    return [(answer.rule, str(answer.verdict)) for answer in refused.value.answers]


def test_rejected_piece_is_scrapped_before_a_witness(rejected: Shop) -> None:
    scrap(rejected)
    (entry,) = rejected.facts(f.PartScrapped, GEAR)
    assert (entry.fact.serial, entry.fact.person, entry.fact.witness) == ("CG-1", "CI-G", "SUP-F")
    with rejected.work.book.session(readonly=True) as session:
        assert piece_states(rejected.work, session, session.part(PART)) == {"SCRAP": 1}
    assert [(a.rule, a.verdict) for a in rejected.judge("MT-001").answers if a.rule == "D15"] == [("D15", "PASS")]


@pytest.mark.parametrize(
    ("changed", "verdict"),
    [({"witness": "CI-G"}, "FAIL"), ({"defaced": False}, "FAIL"), ({"photo": None}, "NOT RECORDED")],
    ids=["witness of their own", "still whole", "no photograph"],
)
def test_scrap_that_is_not_final_is_refused(rejected: Shop, changed: dict[str, Any], verdict: str) -> None:
    with pytest.raises(NotPermitted) as refused:
        scrap(rejected, **changed)
    assert refused_by(refused) == [("D15", verdict)]
    assert not rejected.facts(f.PartScrapped)


def test_scrap_is_signed_by_quality(rejected: Shop) -> None:
    with pytest.raises(NotPermitted, match="L2-A is not of quality"):
        scrap(rejected, person="L2-A")


def test_only_a_rejected_piece_is_scrapped(accepted: Shop) -> None:
    recording.record_outside_fact(accepted.work, f.PersonEntered("CI-G", ("quality",)), "SUP-F")
    with pytest.raises(NotPermitted, match="is not rejected"):
        scrap(accepted)


def test_owner_is_asked_before_a_piece_is_scrapped(shop: Shop) -> None:
    recording.record_outside_fact(shop.work, f.PersonEntered("CI-G", ("quality",)), "SUP-F")
    rejected_gear(shop)
    with pytest.raises(NotPermitted, match="has not answered"):
        scrap(shop)
    shop.record(f.OwnerAnswered(PART, "return", "letter 3"))
    with pytest.raises(NotPermitted, match=r"answered 'return' .*\(letter 3\), not 'scrap'"):
        scrap(shop)
    assert not shop.facts(f.PartScrapped)
    shop.after(1).record(f.OwnerAnswered(PART, "scrap", "letter 4"))
    scrap(shop)


def test_returned_piece_is_not_scrapped_and_nothing_is_signed_on_it(rejected: Shop) -> None:
    rejected.after(1).record(f.OwnerAnswered(PART, "return", "letter 4"))
    returning.return_unserviceable(rejected.work, PART, "CI-G", marked=True)
    rejected.after(1).record(f.OwnerAnswered(PART, "scrap", "letter 5"))
    with pytest.raises(InputError, match="is RETURN UNSERVICEABLE already"):
        scrap(rejected)
    with rejected.work.book.session(readonly=True) as session:
        assert piece_states(rejected.work, session, session.part(PART)) == {"RETURN UNSERVICEABLE": 1}
    for word in ("ACCEPT", "REJECT", "REWORK", "HOLD-ENG"):
        with pytest.raises(NotPermitted, match="that is final"):
            rejected.sign("MT-001", word)


def test_piece_is_scrapped_once(rejected: Shop) -> None:
    scrap(rejected)
    with pytest.raises(InputError, match="stands in the scrap register already"):
        scrap(rejected)


def test_scrapped_part_is_not_opened_again(rejected: Shop) -> None:
    scrap(rejected)
    rejected.after(60)
    with pytest.raises(NotPermitted) as refused:
        inspecting.open_inspection(rejected.work, "MT-009", PART, GEAR_SHEET, "L2-A", quantity=1)
    assert refused_by(refused) == [("D15", "FAIL")]


def test_scrapped_number_is_not_received_under_another_work_order(rejected: Shop) -> None:
    scrap(rejected)
    rejected.after(60)
    again = "W26-0199/T6-10501/CG-1"
    rejected.record(
        f.WorkOrderOpened("W26-0199", "Tavelin 6H-515", "6H-0300", "overhaul", "service limits"),
        f.PartListed(again, "W26-0199", GEAR, 1, "CG-1"),
        f.PartListed("W26-0199/T6-10501/CG-2", "W26-0199", GEAR, 1, "CG-2"),
        by="RCV-H",
    )
    with pytest.raises(NotPermitted, match="was scrapped on 2026-03-10 before SUP-F") as refused:
        receiving.receive(rejected.work, again, "RCV-H", quantity=1, typed_twice=True, scanned=None)
    assert refused_by(refused) == [("D15", "FAIL")]
    receiving.receive(rejected.work, "W26-0199/T6-10501/CG-2", "RCV-H", quantity=1, typed_twice=True, scanned=None)


def test_scrap_is_neither_copied_in_nor_corrected(rejected: Shop) -> None:
    fact = scrap(rejected).fact
    with pytest.raises(InputError, match="signed or worked out here"):
        recording.transcribe(rejected.work, [(fact, rejected.work.now())], person="CI-G", why="from paper")  # type: ignore[list-item]


# --- the tag on the part --------------------------------------------------------------------------


def test_part_of_a_real_book_is_accepted_with_its_tag_on(accepted: Shop) -> None:
    accepted.work.practice = False  # as in a book that is none
    with pytest.raises(NotPermitted) as refused:
        questions.accept_part(accepted.work, PART, "SUP-F")
    assert refused_by(refused) == [("D16", "NOT RECORDED")]
    (printed,) = tagging.print_tags(accepted.work, "MT-001", "L2-A")
    with pytest.raises(NotPermitted, match="not scanned on the part"):
        questions.accept_part(accepted.work, PART, "SUP-F")
    answer = tagging.scan_back(accepted.work, str(printed.model.tag_no), "L2-A")
    assert (answer.rule, answer.verdict) == ("D16", "PASS")
    assert questions.accept_part(accepted.work, PART, "SUP-F").verdict == "PASS"


# --- a signed record that is changed --------------------------------------------------------------


def d18(shop: Shop, **about: Any) -> str:
    return next(str(a.verdict) for a in shop.judge("MT-001", **about).answers if a.rule == "D18")


def test_changed_record_is_signed_again(accepted: Shop) -> None:
    assert d18(accepted) == "NOT APPLICABLE"
    recorded = accepted.facts(f.ResidualRead, "MT-001")[-1]
    recording.correct(accepted.work, recorded.uid, recorded.fact, "L2-A", when=recorded.when, why="wrong point")
    assert d18(accepted) == "NOT YET"
    accepted.after(30).sign("MT-001")
    assert d18(accepted) == "PASS"


def test_changed_after_the_tag_was_out_somebody_is_told_first(accepted: Shop) -> None:
    accepted.work.practice = False
    tagging.print_tags(accepted.work, "MT-001", "L2-A")
    accepted.work.practice = True
    recorded = accepted.facts(f.ResidualRead, "MT-001")[-1]
    recording.correct(accepted.work, recorded.uid, recorded.fact, "L2-A", when=recorded.when, why="wrong point")
    accepted.after(30)
    with pytest.raises(NotPermitted) as refused:
        accepted.sign("MT-001")
    assert ("D18", "NOT RECORDED") in refused_by(refused)
    accepted.record(f.ConfirmationGiven("MT-001", "change after a tag was out told to Level III or quality"))
    accepted.after(30).sign("MT-001")
    assert d18(accepted) == "PASS"
