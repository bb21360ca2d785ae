"""Engineering's hold and its release under a concession, the tag that says so; a rejected piece on its way back."""

from __future__ import annotations

from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import exceptions, inspecting, recording, rejected, second_person, tagging
from ndi.services.state import piece_states
from ndi.services.tag_checks import scanned_status
from tests.build import num
from tests.services.shop import Shop
from tests.services.test_deciding import children, lot_with_a_crack
from tests.services.test_law_10 import correct_one, rejected_gear

GEAR_PART = "W26-0148/T6-10501/CG-1"
LOT = "W26-0148/T6-10503/LOT-1"


@pytest.fixture
def staffed(shop: Shop) -> Shop:
    for name, role in (("CI-G", "quality"), ("ENG-K", "engineering")):
        recording.record_outside_fact(shop.work, f.PersonEntered(name, (role,)), "SUP-F")
    return shop


@pytest.fixture
def held(staffed: Shop) -> Shop:
    """A gear with a relevant inclusion for which the data have no limit, on hold."""
    shop = staffed
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    shop.after(30).crack("MT-001", GEAR_PART)
    inspecting.interpret(
        shop.work, f.IndicationInterpreted("IND-01", "relevant", "returned, soft", "inclusion stringer"), "L2-A"
    )
    shop.record(f.IndicationEvaluated("IND-01", "no limit", None))
    photo = f.PhotoAttached("MT-001", "ab" * 32, shop.work.now(), "IND-01", True, "read")
    inspecting.attach_photo(shop.work, photo, "L2-A")
    shop.after(30).second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=num("0.20 in"))
    shop.after(30).sign("MT-001", "HOLD-ENG")
    return shop


def concede(shop: Shop, inspection: str = "MT-001") -> None:
    exceptions.give_concession(
        shop.work, inspection, "ENG-K", reference="EC-26-014", revision="2", conditions="look again at 100 h"
    )


def refused_by(shop: Shop, inspection: str, word: str, **more: Any) -> set[str]:
    with pytest.raises(NotPermitted) as refused:
        shop.sign(inspection, word, **more)
    return {answer.rule for answer in refused.value.answers}


def test_hold_is_left_only_with_engineering_s_answer_and_a_second_person(held: Shop) -> None:
    assert "D14" in refused_by(held.after(30), "MT-001", "ACCEPT")
    assert "D14" in refused_by(held.after(30), "MT-001", "REJECT")
    concede(held)
    with pytest.raises(NotPermitted, match="hold release"):
        held.after(30).sign("MT-001")
    second_person.countersign(held.work, "MT-001", "L2-C", "ACCEPT")
    held.after(30).sign("MT-001")
    assert held.row("MT-001").disposition == "ACCEPT"


def test_correction_under_a_hold_does_not_lead_around_engineering(held: Shop) -> None:
    correct_one(held.after(30), f.ResidualRead, "MT-001", value=num("1.1 G"))
    assert held.row("MT-001").disposition == "NO DECISION"
    assert "D14" in refused_by(held.after(30), "MT-001", "ACCEPT")


def test_concession_is_printed_on_the_tag(held: Shop) -> None:
    concede(held)
    second_person.countersign(held.work, "MT-001", "L2-C", "ACCEPT")
    held.after(30).sign("MT-001")
    (printed,) = tagging.print_tags(held.work, "MT-001", "L2-A")
    assert printed.model.conditions == "EC-26-014 rev 2: look again at 100 h"
    assert "EC-26-014" in " ".join(printed.model.lines) and "100 h" in " ".join(printed.model.lines)


def test_held_share_of_a_lot_is_released_without_touching_the_others(staffed: Shop) -> None:
    shop = staffed
    lot_with_a_crack(shop)
    shop.sign("MT-002", "SPLIT", children=children(("ACCEPT", 11), ("HOLD-ENG", 1, "ID-07")))
    rejected_now = children(("ACCEPT", 11), ("REJECT", 1, "ID-07"))
    assert "D14" in refused_by(shop.after(30), "MT-002", "SPLIT", children=rejected_now)
    concede(shop, "MT-002")
    second_person.countersign(shop.work, "MT-002", "L2-C", "SPLIT")
    with pytest.raises(NotPermitted, match="11 pcs ACCEPT stand"):
        shop.after(30).sign("MT-002", "SPLIT", children=children(("ACCEPT", 10), ("REJECT", 2)))
    shop.sign("MT-002", "SPLIT", children=rejected_now)
    with shop.work.book.session(readonly=True) as session:
        assert piece_states(shop.work, session, session.part(LOT)) == {"ACCEPT": 11, "REJECT": 1}
    with pytest.raises(NotPermitted, match="is signed SPLIT"):  # nothing waits for engineering now
        shop.after(30).sign("MT-002", "SPLIT", children=rejected_now)


# --- a rejection that was corrected -----------------------------------------------------------------------


def test_rejection_is_not_turned_by_correcting_the_measurement(staffed: Shop) -> None:
    """The length corrected to nothing much: the same inspector still cannot accept the piece."""
    rejected_gear(staffed)
    correct_one(staffed.after(30), f.IndicationEvaluated, "IND-01", evaluation="within limit")
    assert staffed.row("MT-001").disposition == "NO DECISION"
    with pytest.raises(NotPermitted, match="take the rejection back first"):
        staffed.after(30).sign("MT-001")
    rejected.reopen(
        staffed.work, "MT-001", "NL3-E", "CI-G", reason="wrong measurement", evidence="photo ab12 with scale"
    )
    with pytest.raises(NotPermitted) as refused:
        staffed.after(30).sign("MT-001")
    assert "take the rejection back" not in str(refused.value)  # only the rules decide now


def test_corrected_rejection_is_signed_again(staffed: Shop) -> None:
    rejected_gear(staffed)
    correct_one(staffed.after(30), f.ResidualRead, "MT-001", value=num("1.1 G"))
    staffed.after(30).sign("MT-001", "REJECT")
    assert staffed.row("MT-001").disposition == "REJECT"


# --- back to the owner -----------------------------------------------------------------------------------


def test_returned_piece_gets_a_tag_of_its_own_and_the_old_one_is_void(staffed: Shop) -> None:
    rejected_gear(staffed)
    (before,) = tagging.print_tags(staffed.work, "MT-001", "L2-A")
    assert before.model.tag_word == "REJECT"
    staffed.record(f.OwnerAnswered(GEAR_PART, "return", "letter 3"))
    rejected.return_unserviceable(staffed.work, GEAR_PART, "CI-G", marked=True)
    assert scanned_status(staffed.work, before.model.qr).word == "void"
    (after,) = tagging.print_tags(staffed.after(30).work, "MT-001", "L2-A")
    assert (after.model.tag_word, after.model.disposition) == ("UNSERVICEABLE", "RETURN UNSERVICEABLE")
    assert after.model.tag_no != before.model.tag_no
    assert scanned_status(staffed.work, after.model.qr).is_current
    with staffed.work.book.session(readonly=True) as session:
        assert tagging.printed_model(staffed.work, session, after.recorded).lines == after.model.lines  # type: ignore[arg-type]


def test_no_more_pieces_leave_than_were_rejected(staffed: Shop) -> None:
    lot_with_a_crack(staffed)
    staffed.sign("MT-002", "SPLIT", children=children(("ACCEPT", 10), ("REJECT", 1, "ID-07"), ("REJECT", 1)))
    staffed.record(f.OwnerAnswered(LOT, "return", "letter 3"))
    for piece in ("ID-07", "ID-08"):  # the marked one, and whichever is taken for the other
        rejected.return_unserviceable(staffed.work, LOT, "CI-G", marked=True, piece=piece)
    with pytest.raises(NotPermitted, match="not rejected"):
        rejected.return_unserviceable(staffed.work, LOT, "CI-G", marked=True, piece="ID-09")
    with pytest.raises(InputError, match="already"):
        rejected.return_unserviceable(staffed.work, LOT, "CI-G", marked=True, piece="ID-07")
    with staffed.work.book.session(readonly=True) as session:
        assert piece_states(staffed.work, session, session.part(LOT)) == {"ACCEPT": 10, "RETURN UNSERVICEABLE": 2}
