"""What is gathered for a signed record does not grow with the book, and what closes a lamp's interval is found however late."""

from __future__ import annotations

from datetime import timedelta

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import Condition, Quantity
from ndi.services.assemble import gather
from tests.build import num
from tests.services.shop import Shop

OTHER = "MT-900"


def gathered(shop: Shop, inspection: str = "MT-001") -> FactSet:
    with shop.work.book.session(readonly=True) as session:
        return gather(session, inspection)


def append_later(shop: Shop, days: float, *facts: f.Fact) -> tuple[Recorded[f.Fact], ...]:
    """Facts of a later day, straight into the book: other work that this record does not rest on."""
    now = shop.work.now()
    when = Moment(now.at + timedelta(days=days), now.offset_min)
    with shop.work.book.session() as session:
        recorded = session.append([Draft(fact, when, "L2-A", Obtained.TIMER) for fact in facts])
        session.commit()
    return recorded


def reading(value: str = "1680 uW/cm2") -> f.ReadingRecorded:
    return f.ReadingRecorded("LP-1", Quantity.UV_A, num(value), str(Condition.AS_FOUND), "M-1", num("15 in"))


def a_day(number: int) -> tuple[f.Fact, ...]:
    view = f"LATER-{number}"
    return (
        reading(),
        f.CheckedIn("L2-A", "MT booth", True),
        f.EquipmentSwitched("MT-01", "on"),
        f.BathSampled("MTB-26-07", True),
        f.ViewStarted(view, OTHER, "L2-A", ("LP-1",), "first", station="MT booth"),
        f.ViewEnded(view, OTHER, person="L2-A", station="MT booth"),
    )


def test_a_signed_record_does_not_grow_with_the_days_after_it(accepted: Shop) -> None:
    for number in range(60):
        append_later(accepted, 1 + number, *a_day(number))
    before = gathered(accepted)
    for number in range(60, 400, 10):
        append_later(accepted, 1 + number, *a_day(number))
    assert [r.position for r in gathered(accepted)] == [r.position for r in before]


def test_a_record_that_is_not_signed_takes_all_that_came_since(shop: Shop) -> None:
    shop.gear()
    (late, *_) = append_later(shop, 60, *a_day(1))
    assert late.position in {r.position for r in gathered(shop)}


@pytest.mark.parametrize("days", [1, 31, 33, 500])
def test_the_next_reading_of_a_lamp_is_found_however_late(accepted: Shop, days: int) -> None:
    (late,) = append_later(accepted, days, reading())
    assert late.position in {r.position for r in gathered(accepted).of(f.ReadingRecorded, "LP-1")}


def test_equipment_that_was_entered_years_ago_is_still_equipment(shop: Shop) -> None:
    now = shop.work.now()
    years_ago = Moment(now.at - timedelta(days=1500), now.offset_min)
    with shop.work.book.session() as session:
        (entered,) = session.append(
            [
                Draft(
                    f.EquipmentEntered("LP-1", "lamp", place="MT booth"),
                    years_ago,
                    "L2-A",
                    Obtained.TRANSCRIBED,
                    why="old list",
                )
            ]
        )
        session.commit()
    shop.gear()
    assert entered.position in {r.position for r in gathered(shop).of(f.EquipmentEntered, "LP-1")}
