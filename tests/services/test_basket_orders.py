"""Two engines overhauled side by side: a part of the other one gets into a basket only when somebody says that it is meant to."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import NotPermitted
from ndi.gui.presenters.scene import Row, Rows, Shape
from ndi.services import inspecting, loading, receiving
from tests.gui.booth.line_day import B1, Hands, begin
from tests.services import shop as s

OTHER = "W26-0151"


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The line's morning, and a crankcase half of another engine with an open record PT-101."""
    folder = tmp_path_factory.mktemp("two engines")
    begin(folder)
    clock = s.SetClock()
    here = s.Shop(s.bootstrap.open_book(folder / "shop.book", station=s.STATION, clock=clock), clock).at("07:55")
    order = f.WorkOrderOpened(OTHER, "Tavelin 6H-515", "6H-0300", "overhaul", "service limits")
    here.record(order, f.DirectivesConfirmed(OTHER, ()), by="NL3-E")
    key = receiving.part_key(OTHER, "T6-11001", "CC-L-0900")
    here.record(f.PartListed(key, OTHER, "T6-11001", 1, "CC-L-0900"), by="RCV-H")
    receiving.receive(here.work, key, "RCV-H", quantity=1, typed_twice=True, scanned=None)
    inspecting.open_inspection(here.work, "PT-101", key, "PT-T-6101", "L2-B", quantity=1, station="PT booth")
    here.close()
    return folder


@pytest.fixture
def shop(morning: Path, tmp_path: Path) -> Iterator[s.Shop]:
    one = s.open_copy(morning, tmp_path / "book").at("08:00")
    yield one
    one.close()


def test_part_of_another_engine_is_refused_until_it_is_said_to_belong_there(shop: s.Shop) -> None:
    with pytest.raises(NotPermitted, match=r"more than one engine \(W26-0148: PT-001; W26-0151: PT-101\)"):
        loading.load_basket(shop.work, "B1", ("PT-001", "PT-101"), "L1-D")
    assert not shop.facts(f.BasketLoaded, "B1")
    assert shop.facts(f.ActionRefused, "B1")  # what was refused is kept
    loading.load_basket(shop.work, "B1", ("PT-001", "PT-101"), "L1-D", mixed_orders=True)
    assert shop.facts(f.BasketLoaded, "B1")[0].fact.mixed_orders is True


def test_the_same_by_the_command_that_records_a_load_as_it_is(shop: s.Shop) -> None:
    load = ("B1", "A", s.LINE, ("PT-001", "PT-101"), 1)
    for said in (None, False):
        with pytest.raises(NotPermitted, match="more than one engine"):
            shop.record(f.BasketLoaded(*load, said), by="L1-D")
    shop.record(f.BasketLoaded(*load, True), by="L1-D")
    assert len(shop.facts(f.BasketLoaded, "B1")) == 1


def test_one_engine_needs_no_word(shop: s.Shop) -> None:
    loading.load_basket(shop.work, "B1", B1, "L1-D")
    assert shop.facts(f.BasketLoaded, "B1")[0].fact.mixed_orders is None


def rows(hands: Hands) -> dict[str, Row]:
    (table,) = [part for part in hands.scene.parts if isinstance(part, Rows)]
    return {row.text.split()[-1]: row for row in table.rows}


def test_booth_shows_the_other_engine_in_another_shape_and_loads_on_zero_only(morning: Path, tmp_path: Path) -> None:
    hands = Hands(morning, tmp_path / "booth")
    try:
        hands.at("08:33").scan("command:CANCEL", "basket:B1")
        for part in ("W26-0148/T6-11001/CC-L-0871", f"{OTHER}/T6-11001/CC-L-0900"):
            hands.scan(f"part:{part}")
        assert rows(hands)["PT-001"].shape is Shape.DONE
        assert rows(hands)["PT-101"].shape is Shape.CROSS
        assert hands.shows("Two engines", "0: they are meant to go together", OTHER)
        assert "more than one engine" in hands.refused("enter")
        hands.key("0")
        assert hands.facts(f.BasketLoaded, "B1")[0].fact.mixed_orders is True
    finally:
        hands.close()
