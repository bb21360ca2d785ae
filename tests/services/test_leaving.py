"""A part leaves for assembly, stores or the owner while no acceptance stands: only with a reason, and first on every list."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Draft
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import handover, recording
from ndi.services.leaving import departures, leaves_for, refusal
from ndi.services.recall_contents import contents
from tests.build import num
from tests.services.shop import SUMP, Shop
from tests.services.test_deciding import SPLIT, lot_with_a_crack

PART = f"W26-0148/{SUMP}/SP-1"
WHY = "trial fit on the case, comes back before noon"


@pytest.fixture
def provisional(shop: Shop) -> Shop:
    """Sump PT-001 accepted after a view under LP-3, which was not read again yet."""
    shop.sump()
    shop.sign("PT-001", person="L2-B")
    assert shop.row("PT-001").provisional
    return shop


def move(shop: Shop, place: str, reason: str | None = None, piece: str | None = None) -> None:
    shop.record(f.PartMoved(PART, place, None, piece, reason), by="L1-D")


def out(shop: Shop) -> list[tuple[str, str, str]]:
    with shop.work.book.session(readonly=True) as session:
        return [(each.part, each.place, each.reason) for each in departures(shop.work, session)]


@pytest.mark.parametrize(
    "place", ["assembly", "stores", "shipped", "Assembly bench 2", "SHIPPING", "store room", "sub-assembly/2"]
)
def test_provisional_acceptance_leaves_only_with_a_reason(provisional: Shop, place: str) -> None:
    before = provisional.head()
    with pytest.raises(NotPermitted) as refused:
        move(provisional, place)
    said = str(refused.value)
    assert f"{PART} is scanned to {place} only with a reason: PT-001 ACCEPT - PROVISIONAL" in said and "LP-3" in said
    assert "give the reason" in said and "Leave it where it is" in said
    (kept,) = provisional.since(before)  # the refusal, and no place
    assert isinstance(kept, f.ActionRefused)
    move(provisional, place, WHY)
    assert [reason for _, _, reason in out(provisional)] == [WHY]


@pytest.mark.parametrize(
    "place", ["post-clean", "re-view rack", "quarantine", "PT booth", "rework", "NDI receiving", "dis-assembly"]
)
def test_places_in_the_shops_hands_ask_for_nothing(provisional: Shop, place: str) -> None:
    move(provisional, place)
    assert leaves_for(place) is None and out(provisional) == []


def test_suspended_acceptance_leaves_only_with_a_reason(provisional: Shop) -> None:
    provisional.at("09:10").read_lamp("LP-3", "880")
    with pytest.raises(NotPermitted, match="PT-001 ACCEPT - SUSPENDED"):
        move(provisional, "stores")


def test_acceptance_that_stands_leaves_as_ever(provisional: Shop) -> None:
    provisional.at("09:10").read_lamp("LP-3", "1700")
    assert not provisional.row("PT-001").provisional
    move(provisional, "assembly")
    assert out(provisional) == []
    assert not any(line.kind == "left early" for line in handover.open_lines(provisional.work))


def test_record_without_a_decision_and_a_rejected_one_do_not_leave_unsaid(shop: Shop) -> None:
    shop.gear()
    part = shop.row("MT-001").part
    with pytest.raises(NotPermitted, match="MT-001 NO DECISION"):
        shop.record(f.PartMoved(part, "stores"), by="L1-D")
    with shop.work.book.session(readonly=True) as session:
        assert refusal(shop.work, session, f.PartMoved(part, "stores", reason=WHY)) == ""


def test_part_that_nobody_inspected_does_not_leave_unsaid(shop: Shop) -> None:
    """By penetrant only: a sump; one that is replaced whatever is found is not asked for."""
    part = shop.receive(SUMP, "SP-9")
    with pytest.raises(NotPermitted, match="no PT record"):
        shop.record(f.PartMoved(part, "assembly"), by="L1-D")
    shop.record(f.PartMoved(part, "assembly", reason=WHY), by="L1-D")
    assert (part, "assembly", WHY) in out(shop)
    assert any(line.kind == "left early" and "no PT record" in line.text for line in handover.open_lines(shop.work))


@pytest.mark.parametrize("reason", ["", "   ", None])
def test_empty_reason_is_none(provisional: Shop, reason: str | None) -> None:
    with pytest.raises(NotPermitted):
        move(provisional, "assembly", reason)


def test_reason_says_something(provisional: Shop) -> None:
    with pytest.raises(InputError, match="10 letters or more"):
        move(provisional, "assembly", "urgent")


def test_what_left_with_a_reason_is_first_on_the_recall_list_and_for_whoever_takes_over(provisional: Shop) -> None:
    """PT-001 and PT-002 rest on one lamp; the later record left early, so that it comes first."""
    provisional.sump("PT-002", "SP-2", "B2")
    provisional.sign("PT-002", person="L2-B")
    other = provisional.row("PT-002").part
    provisional.record(f.PartMoved(other, "assembly", None, None, WHY), by="L1-D")
    assert [line.about for line in handover.open_lines(provisional.work) if line.kind == "left early"] == [other]
    provisional.after(600).read_lamp("LP-3", "880")
    found = contents(provisional.work, "CT-01")
    assert [(item.inspection, item.let_go) for item in found.items] == [("PT-002", WHY), ("PT-001", "")]
    assert found.items[0].action == "retrieve"
    first = handover.open_lines(provisional.work)[0]
    assert (first.kind, first.about) == ("left early", other)
    assert WHY in first.text and "PT-002 ACCEPT - SUSPENDED" in first.text


def test_it_goes_off_the_list_when_it_is_back_or_the_acceptance_stands(provisional: Shop) -> None:
    move(provisional, "assembly", WHY)
    assert out(provisional) == [(PART, "assembly", WHY)]
    move(provisional.after(60), "re-view rack")
    assert out(provisional) == []
    move(provisional.after(60), "assembly", WHY)
    provisional.at("09:30").read_lamp("LP-3", "1700")
    assert out(provisional) == []


def test_part_whose_acceptance_fell_after_it_left_is_out_without_a_reason(provisional: Shop) -> None:
    provisional.at("09:10").read_lamp("LP-3", "1700")
    move(provisional, "assembly")
    (last,) = provisional.facts(f.ReadingRecorded, "LP-3")[-1:]
    recording.correct(
        provisional.work,
        last.uid,
        replace(last.fact, value=num("880 uW/cm2")),
        "L1-D",
        when=last.when,
        why="misread the meter by a factor",
    )
    assert out(provisional) == [(PART, "assembly", "")]
    assert not any(line.kind == "left early" for line in handover.open_lines(provisional.work))


def test_no_way_round_by_a_correction_or_a_copy_from_paper(provisional: Shop) -> None:
    (moved,) = provisional.record(f.PartMoved(PART, "post-clean"), by="L1-D")
    to_stores, why = f.PartMoved(PART, "stores"), "scanned at the wrong place"
    with pytest.raises(NotPermitted, match="only with a reason"):
        recording.correct(provisional.work, moved.uid, to_stores, "L1-D", when=moved.when, why=why)
    with pytest.raises(InputError, match="only with a reason"):
        recording.transcribe(provisional.work, [(to_stores, provisional.work.now())], person="L1-D", why=why)
    assert out(provisional) == []


def test_piece_of_a_lot_is_asked_by_its_share(shop: Shop) -> None:
    """Of a split lot neither the rejected piece leaves unsaid nor, until the lamp is read again, the accepted share."""
    lot_with_a_crack(shop)
    shop.sign("MT-002", "SPLIT", children=SPLIT)
    lot, piece = shop.row("MT-002").part, "ID-07"
    with shop.work.book.session(readonly=True) as session:
        assert "MT-002 REJECT" in refusal(shop.work, session, f.PartMoved(lot, "stores", None, piece))
        assert "MT-002 ACCEPT - PROVISIONAL" in refusal(shop.work, session, f.PartMoved(lot, "stores"))
    shop.after(600).read_lamp("LP-1", "1700")
    with shop.work.book.session(readonly=True) as session:
        assert "MT-002 REJECT" in refusal(shop.work, session, f.PartMoved(lot, "stores", None, piece))
        assert refusal(shop.work, session, f.PartMoved(lot, "stores")) == ""


def test_rejected_part_that_was_let_go_is_on_the_list_and_a_returned_one_is_not(shop: Shop) -> None:
    """Back to its owner by signature: nobody has to look for it."""
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    part = shop.row("MT-001").part
    shop.after(30).crack("MT-001", part)
    shop.after(30).second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=num("0.20 in"))
    shop.after(30).sign("MT-001", "REJECT")
    with pytest.raises(NotPermitted, match="MT-001 REJECT"):
        shop.record(f.PartMoved(part, "shipped"), by="L1-D")
    shop.record(f.PartMoved(part, "shipped", reason="to the owner's own metallurgist"), by="L1-D")
    assert [place for _, place, _ in out(shop)] == ["shipped"]
    with shop.work.transaction() as session:
        session.append([Draft(f.ReturnedUnserviceable(part, "CI-G", True), shop.work.now(), "CI-G")])
    assert out(shop) == []
    shop.after(60).record(f.PartMoved(part, "shipped"), by="L1-D")
