"""Nobody overwrites anybody, and nothing is done twice (law 13)."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import NotPermitted, VersionConflict
from ndi.services import deciding, exceptions, inspecting, recording
from tests.services.shop import Shop

Late = Callable[[Shop, int], object]

LATE: dict[str, Late] = {
    "sign": lambda shop, seen: deciding.sign_decision(shop.work, "MT-001", "L2-A", "ACCEPT", seen=seen),
    "start view": lambda shop, seen: inspecting.start_view(
        shop.work, "V2", "MT-001", "L2-A", ["LP-1"], station="MT booth", seen=seen
    ),
    "order rework": lambda shop, seen: inspecting.order_rework(
        shop.work, f.ReworkOrdered("MT-001", "W26-0148/T6-10501/CG-1", "IND-01", "WEB", "blend", "L2-A"), seen=seen
    ),
    "attach photo": lambda shop, seen: inspecting.attach_photo(
        shop.work, f.PhotoAttached("MT-001", "ab" * 32, shop.work.now()), "L2-A", seen=seen
    ),
}


@pytest.mark.parametrize("late", LATE.values(), ids=LATE)
def test_change_on_an_old_view_is_refused_and_says_who_and_when(shop: Shop, late: Late) -> None:
    shop.gear()
    seen = shop.row("MT-001").version
    shop.after(60).record(f.ConfirmationGiven("MT-001", "dry"), by="L2-C")
    when = shop.work.now().clock()
    head = shop.head()
    with pytest.raises(VersionConflict, match=rf"changed by L2-C at .*{when}.*look again"):
        late(shop.after(60), seen)
    assert shop.head() == head


def test_change_on_the_present_view_is_done(shop: Shop) -> None:
    shop.gear()
    shop.sign("MT-001", seen=shop.row("MT-001").version)
    assert shop.row("MT-001").disposition == "ACCEPT"


def test_a_lamp_reading_changes_the_version_only_of_what_it_changed(accepted: Shop) -> None:
    """Somebody who looked before the closing reading looks again: the record is not provisional any more."""
    seen = accepted.row("MT-001").version
    accepted.at("10:00").read_lamp("LP-2", "1700")
    assert accepted.row("MT-001").version == seen
    accepted.at("12:38").read_lamp("LP-1", "1700")
    assert accepted.row("MT-001").version > seen


def test_repeated_client_key_does_nothing_twice(shop: Shop) -> None:
    shop.gear()
    first = shop.work.once("key-1", lambda: shop.sign("MT-001"))
    head = shop.head()
    again = shop.after(60).work.once("key-1", lambda: shop.sign("MT-001"))
    assert first == again == tuple(r.position for r in shop.facts(f.DecisionSigned, "MT-001"))
    assert shop.head() == head


def test_repeated_client_key_of_another_call_does_not_hide_a_new_one(shop: Shop) -> None:
    shop.work.once("key-1", lambda: shop.record(f.EquipmentSwitched("LP-2", "off")))
    shop.work.once("key-2", lambda: shop.record(f.EquipmentSwitched("LP-2", "on")))
    assert [r.fact.state for r in shop.facts(f.EquipmentSwitched, "LP-2")][-2:] == ["off", "on"]


def test_refused_call_is_done_when_asked_for_again_under_its_key(shop: Shop) -> None:
    """Only what was done is done once: a refusal does not use the key up."""
    shop.gear()
    wrong = f.ConfirmationGiven("MT-001", "post-process: dry", "no")
    shop.record(wrong)
    with pytest.raises(NotPermitted):
        shop.after(10).work.once("key-1", lambda: shop.sign("MT-001"))
    shop.record(f.ConfirmationGiven("MT-001", "post-process: dry"))
    shop.after(10).work.once("key-1", lambda: shop.sign("MT-001"))
    assert shop.row("MT-001").disposition == "ACCEPT"


def test_refusal_is_kept_in_the_book_and_nothing_else_of_the_call(shop: Shop) -> None:
    shop.gear()
    head = shop.head()
    with pytest.raises(NotPermitted) as refused:
        shop.sign("MT-001", person="L2-B")
    (kept,) = shop.since(head)
    assert isinstance(kept, f.ActionRefused)
    assert (kept.action, kept.person, kept.subject, kept.rules) == ("sign ACCEPT", "L2-B", "MT-001", ("D13",))
    assert kept.message in str(refused.value)
    assert [a.rule for a in refused.value.answers] == ["D13"]
    assert shop.row("MT-001").disposition == "NO DECISION"


@pytest.mark.parametrize(
    ("call", "action"),
    [
        (lambda shop: recording.select_meter(shop.work, "RM-2", "L1-D"), "select meter"),
        (lambda shop: inspecting.scan_into(shop.work, "T6-11020", "MT", (), "L2-A"), "scan into MT"),
        (
            lambda shop: recording.check_in(
                shop.at("07:50", "2026-12-01").work, "L2-A", station=None, clear_glasses=True, viewing=True
            ),
            "check in",
        ),
        (
            lambda shop: exceptions.sign_deviation(
                shop.work, shop.gear(), "G13", "NL3-E", role="L3", justification="x", expires=shop.clock.at.date()
            ),
            "sign deviation",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_refusals_of_other_use_cases_are_kept_too(shop: Shop, call: Callable[[Shop], object], action: str) -> None:
    before = len(shop.facts(f.ActionRefused))
    with pytest.raises(NotPermitted):
        call(shop)
    kept = shop.facts(f.ActionRefused)
    assert len(kept) == before + 1
    assert kept[-1].fact.action == action
