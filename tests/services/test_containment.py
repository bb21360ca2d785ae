"""From a bad reading to what is done with each record (recall, re-view, processing again)."""

from __future__ import annotations

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.services import containment, inspecting, recording
from tests.build import num
from tests.services.shop import Shop

ZONES = ("FLANGE", "WALLS", "DRAIN-BOSS", "INDUCTION-BOSS", "PICKUP-BOSS")


@pytest.fixture
def recalled(shop: Shop) -> Shop:
    """Sump PT-001 accepted 09:01 after a view under LP-3, which is found bad at 09:10; the developer is fresh."""
    shop.sump()
    shop.sign("PT-001", person="L2-B")
    shop.at("09:10").read_lamp("LP-3", "880")
    return shop


def re_view(
    shop: Shop, lamp: str = "LP-4", name: str = "V2", containment_name: str | None = "CT-01", inspection: str = "PT-001"
) -> None:
    inspecting.start_view(
        shop.work,
        name,
        inspection,
        "L2-B",
        [lamp],
        kind="re-view",
        station="PT booth",
        containment_name=containment_name,
    )


def test_bad_reading_freezes_what_relied_on_the_lamp_and_suspends_it(recalled: Shop) -> None:
    (opened,) = recalled.facts(f.ContainmentOpened)
    assert (opened.fact.object, opened.fact.inspections, opened.fact.pieces) == ("LP-3", ("PT-001",), 1)
    assert opened.fact.last_good is not None and opened.fact.last_good.clock() == "06:40"
    row = recalled.row("PT-001")
    assert (row.disposition, row.suspended) == ("ACCEPT", True)


def test_re_view_only_under_a_containment_that_holds_the_record(recalled: Shop) -> None:
    with pytest.raises(InputError, match="names the containment"):
        re_view(recalled, containment_name=None)
    with pytest.raises(NotFound):
        re_view(recalled, containment_name="CT-99")
    recalled.gear("MT-001")
    with pytest.raises(NotPermitted, match="not in CT-01"):
        re_view(recalled, inspection="MT-001")


def test_re_view_under_a_good_lamp_is_signed_anew_and_does_the_item(recalled: Shop) -> None:
    recalled.at("09:20").record(f.BoothClosed("PT booth", "L2-B"), by="L2-B")
    re_view(recalled.after(120))
    inspecting.end_view(recalled.after(420).work, "V2", zones=ZONES, nothing_seen=True)
    recalled.after(30).sign("PT-001", person="L2-B")
    row = recalled.row("PT-001")
    assert (row.disposition, row.suspended, row.provisional) == ("ACCEPT", False, True)
    (done,) = recalled.facts(f.ContainmentItemDone, "PT-001")
    assert done.fact.how == "re-view"
    assert not containment.propose_actions(recalled.work, "CT-01").actions


def test_suspended_acceptance_is_not_signed_again_on_the_old_view(recalled: Shop) -> None:
    with pytest.raises(NotPermitted) as refused:
        recalled.after(60).sign("PT-001", person="L2-B")
    assert {"L11", "G30"} <= {a.rule for a in refused.value.answers}


def test_part_processed_again_does_the_item_too(recalled: Shop) -> None:
    recalled.at("09:15").record(f.PartMoved("W26-0148/T6-11020/SP-1", "post-clean"), by="L1-D")
    (action,) = containment.propose_actions(recalled.work, "CT-01").actions
    assert action.action == "reprocess"
    preclean = [f.StepStarted("B2", "preclean", 1), f.StepEnded("B2", "preclean")]
    recalled.at("09:16").record(
        f.AttemptVoided("PT-001", "B1", 1, "lamp LP-3"),
        f.BasketLoaded("B2", "A", "Method A line", ("PT-001",), 2),
        by="L1-D",
    )
    for fact in preclean:
        recalled.after(300).record(fact, by="L1-D")
    recalled.play(recalled.sump_steps("PT-001", "W26-0148/T6-11020/SP-1", "B2", "LP-4", attempt=2))
    recalled.after(30).sign("PT-001", person="L2-B")
    assert not recalled.row("PT-001").suspended
    (done,) = recalled.facts(f.ContainmentItemDone, "PT-001")
    assert done.fact.how == "reprocess"
    assert not containment.propose_actions(recalled.work, "CT-01").actions


def test_cheapest_action_follows_where_the_part_is(recalled: Shop) -> None:
    def action() -> str:
        (only,) = containment.propose_actions(recalled.work, "CT-01").actions
        return only.action

    assert action() == "re-view"
    recalled.record(f.PartMoved("W26-0148/T6-11020/SP-1", "assembly", reason="needed for a trial fit"), by="L1-D")
    assert action() == "retrieve"


def test_magnetic_indications_are_shot_again(accepted: Shop) -> None:
    accepted.at("12:38").read_lamp("LP-1", "900")
    (only,) = containment.propose_actions(accepted.work, "CT-01").actions
    assert only.action == "reprocess"


def test_rejected_record_keeps_its_word_and_loses_only_its_claim(shop: Shop) -> None:
    from tests.services.test_law_10 import rejected_gear

    rejected_gear(shop)
    shop.at("12:38").read_lamp("LP-1", "900")
    (suspended,) = shop.facts(f.AcceptanceSuspended, "MT-001")
    assert suspended.fact.claim_only
    assert shop.row("MT-001").disposition == "REJECT"


def test_bath_result_out_of_range_recalls_what_was_shot_since_the_last_good_one(accepted: Shop) -> None:
    thin = f.ReadingRecorded("MTB-1", "bath concentration", num("0.0999 mL"), contamination=num("0.01 mL"))
    recording.record_reading(accepted.at("11:00").work, thin, "L2-A")
    (opened,) = accepted.facts(f.ContainmentOpened)
    assert (opened.fact.object, opened.fact.inspections) == ("MTB-1", ("MT-001",))
    assert accepted.row("MT-001").suspended


def test_looking_again_does_not_do_what_a_bad_bath_asks_for(accepted: Shop) -> None:
    """The shots are in doubt, not the look: a new view leaves G30 open, and signing a hold does not close the item."""
    thin = f.ReadingRecorded("MTB-1", "bath concentration", num("0.05 mL"), contamination=num("0.01 mL"))
    recording.record_reading(accepted.at("11:00").work, thin, "L2-A")
    accepted.record(f.BoothClosed("MT booth", "L2-A"))
    inspecting.start_view(
        accepted.after(90).work,
        "V2",
        "MT-001",
        "L2-A",
        ["LP-1"],
        kind="re-view",
        station="MT booth",
        containment_name="CT-01",
    )
    inspecting.end_view(accepted.after(600).work, "V2", zones=("TOOTH-RIM", "WEB", "BORE", "KEYWAY"), nothing_seen=True)
    with pytest.raises(NotPermitted) as refused:
        accepted.after(30).sign("MT-001")
    assert "G30" in {a.rule for a in refused.value.answers}
    accepted.sign("MT-001", "HOLD-ENG")
    assert not accepted.facts(f.ContainmentItemDone, "MT-001")


def test_ring_with_too_few_holes_is_a_failed_check_whoever_says_passed(accepted: Shop) -> None:
    check = f.ProcessCheckRecorded("tool-steel ring", "MT-01", True, holes=4, amps=num("2500 A"))
    recorded = recording.record_check(accepted.at("11:00").work, check, "L2-A")
    assert not recorded.fact.passed  # type: ignore[attr-defined]
    (opened,) = accepted.facts(f.ContainmentOpened)
    assert opened.fact.inspections == ("MT-001",)


def test_failed_panel_recalls_what_went_through_its_line(shop: Shop) -> None:
    shop.sump()
    shop.sign("PT-001", person="L2-B")
    panel = f.ProcessCheckRecorded(
        "known-defect panel", "KP-2", False, "Method A line", ("PEN-1",), compared_with_reference=True
    )
    recording.record_check(shop.at("12:00").work, panel, "L2-B")
    (opened,) = shop.facts(f.ContainmentOpened)
    assert (opened.fact.object, opened.fact.inspections) == ("Method A line", ("PT-001",))
    assert shop.row("PT-001").suspended
