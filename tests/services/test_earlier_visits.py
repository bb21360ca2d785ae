"""What the book itself found at earlier visits counts like a line of the shop's old papers (D17, D19)."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.rules.history import d17_same_place, d19_alert
from ndi.rules.inquiry import Inquiry
from ndi.services import inspecting, receiving
from ndi.services.assemble import inquiry_for
from ndi.services.crack_alerts import crack_alerts
from ndi.services.handover import open_lines
from tests.services.shop import GEAR, GEAR_SHEET, ORDER, PART_TICKS, Shop


def inspected(shop: Shop, number: int, zone: str = "WEB") -> str:
    """A gear with a crack, on its record; the clock goes on by half an hour."""
    inspection = f"MT-{number:03}"
    part = shop.receive(GEAR, f"CG-{number}")
    steps = shop.magnetic_steps(inspection, part, GEAR_SHEET, nothing_seen=False)
    shop.play(step for step in steps if step.seconds <= 780)
    shop.crack(inspection, part, f"IND-{number:02}", zone=zone)
    shop.after(600)
    return inspection


def inquiry(shop: Shop, inspection: str) -> Inquiry:
    with shop.work.book.session(readonly=True) as session:
        return inquiry_for(shop.work, session, inspection)


def past(q: Inquiry) -> list[Recorded[f.PastInspection]]:
    return list(q.facts.of(f.PastInspection))


def test_third_crack_in_one_zone_raises_the_alert_and_stands_on_the_handover(shop: Shop) -> None:
    """Common practice, no source: three in 90 days, as the procedure says."""
    inspected(shop, 1)
    inspected(shop, 2, "TOOTH-RIM")
    second = inspected(shop, 3)
    assert d19_alert(inquiry(shop, second)).verdict is Verdict.PASS
    assert not any(line.kind == "cracks gather" for line in open_lines(shop.work))
    third = inspected(shop, 4)
    q = inquiry(shop, third)
    outcome = d19_alert(q)
    assert outcome.verdict is Verdict.FAIL and outcome.found.startswith("3 crack-type finding(s) at WEB in 90")
    interpreted = {r.position for r in shop.facts(f.IndicationInterpreted)}
    assert set(outcome.facts) <= interpreted, "the evidence is the entries that called them cracks"
    (line,) = [line for line in open_lines(shop.work) if line.kind == "cracks gather"]
    assert line.about == GEAR and "tell engineering" in line.text
    with shop.work.book.session(readonly=True) as session:
        tomorrow = shop.work.now().local.date() + timedelta(days=1)
        assert list(crack_alerts(shop.work, session, tomorrow)) == []


def test_a_crack_called_otherwise_later_counts_no_more(shop: Shop) -> None:
    for number in (1, 2):
        inspected(shop, number)
    third = inspected(shop, 3)
    assert d19_alert(inquiry(shop, third)).verdict is Verdict.FAIL
    again = f.IndicationInterpreted("IND-01", "nonrelevant", "gone after cleaning, a scratch", None)
    shop.record(f.IndicationTested("IND-01", "described", "a press-fit mark"))
    again = f.IndicationInterpreted("IND-01", "nonrelevant", "the edge of a press fit")
    inspecting.interpret(shop.work, again, "L2-A")
    assert d19_alert(inquiry(shop, third)).verdict is Verdict.PASS


def test_only_what_was_found_before_counts(shop: Shop) -> None:
    first = inspected(shop, 1)
    inspected(shop, 2)
    inspected(shop, 3)
    assert past(inquiry(shop, first)) == []
    assert d19_alert(inquiry(shop, first)).verdict is Verdict.PASS


def test_same_serial_in_the_same_work_order_is_no_earlier_visit(shop: Shop) -> None:
    first = inspected(shop, 1)
    assert d17_same_place(inquiry(shop, first)).verdict is Verdict.NOT_APPLICABLE


def test_same_place_on_the_same_serial_of_an_earlier_work_order(shop: Shop) -> None:
    """The earlier stay was recorded in this book, not entered from papers."""
    inspected(shop, 1)
    (opened,) = shop.facts(f.WorkOrderOpened)
    later = replace(opened.fact, work_order="W28-0007")
    shop.after(3600)
    shop.record(later, by="RCV-H")
    key = receiving.part_key(later.work_order, GEAR, "CG-1")
    shop.record(f.PartListed(key, later.work_order, GEAR, 1, "CG-1", None), by="RCV-H")
    receiving.receive(shop.work, key, "RCV-H", quantity=1, typed_twice=True, scanned=None)
    shop.record(*(f.ConfirmationGiven(key, item, value) for item, value in PART_TICKS), by="CLN-J")
    steps = shop.magnetic_steps("MT-009", key, GEAR_SHEET, nothing_seen=False)
    shop.play(step for step in steps if step.seconds <= 780)
    shop.crack("MT-009", key, "IND-09")
    outcome = d17_same_place(inquiry(shop, "MT-009"))
    assert outcome.verdict is Verdict.FAIL and f"same place as on {ORDER}" in outcome.says
