"""Parts that look like one another are told apart by a feature when they come in; which ones do is said by their part masters."""

from __future__ import annotations

import pytest

from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.gui.presenters.desk.receiving import Guard, Receiving
from ndi.gui.presenters.desk.recording_forms import RecordingForms
from ndi.services import receiving
from tests.services.shop import IDLERS, ORDER, Shop

MAGNETO = "T6-10504"  # a gear that the master of the idlers names as similar


def listed(shop: Shop, part_no: str, lot: str, order: str = ORDER) -> str:
    key = receiving.part_key(order, part_no, lot)
    shop.record(f.PartListed(key, order, part_no, 2, None, lot), by="RCV-H")
    return key


def receive(shop: Shop, key: str, told_apart: str | None = None) -> None:
    receiving.receive(shop.work, key, "RCV-H", quantity=2, typed_twice=True, scanned=None, told_apart=told_apart)


def test_look_alike_on_the_work_order_is_refused_until_it_is_told_apart(shop: Shop) -> None:
    idlers, magneto = listed(shop, IDLERS, "LOT-7"), listed(shop, MAGNETO, "LOT-8")
    for key, other in ((idlers, MAGNETO), (magneto, IDLERS)):
        for nothing in (None, "", "  "):
            with pytest.raises(NotPermitted, match=f"looks like {other} LOT-. .*look at the part, not at its tag"):
                receive(shop, key, nothing)
    assert not shop.facts(f.PartReceived, idlers)
    receive(shop, idlers, "14 teeth")
    assert shop.facts(f.PartReceived, idlers)[0].fact.told_apart == "14 teeth"


def test_near_numbers_of_look_alikes_are_named(shop: Shop) -> None:
    """LOT-7 and LOT-8 differ by one character (Damerau 1964)."""
    idlers = listed(shop, IDLERS, "LOT-7")
    listed(shop, MAGNETO, "LOT-8")
    with pytest.raises(NotPermitted, match="numbers differ little: one character differs"):
        receive(shop, idlers)


def test_alone_or_on_another_engine_it_needs_no_word(shop: Shop) -> None:
    shop.record(f.WorkOrderOpened("W26-0199", "Tavelin 6H-515", "6H-0299", "overhaul", "service limits"), by="NL3-E")
    idlers = listed(shop, IDLERS, "LOT-7")
    listed(shop, MAGNETO, "LOT-8", "W26-0199")
    receive(shop, idlers)
    assert shop.facts(f.PartReceived, idlers)[0].fact.told_apart is None


def test_by_the_command_line(shop: Shop, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    listed(shop, IDLERS, "LOT-7")
    listed(shop, MAGNETO, "LOT-8")
    book = str(shop.work.book.path)  # type: ignore[attr-defined]
    command = ["receive", book, ORDER, "LOT-7", "--scanned", "--quantity", "2", "--by", "RCV-H"]
    assert main(command) == 1
    assert "looks like T6-10504 LOT-8" in capsys.readouterr().err
    assert main([*command, "--told-apart", "14 teeth"]) == 0
    assert shop.facts(f.PartReceived, f"{ORDER}/{IDLERS}/LOT-7")[0].fact.told_apart == "14 teeth"


def test_at_the_desk_the_form_asks_for_the_feature(shop: Shop) -> None:
    listed(shop, IDLERS, "LOT-7")
    listed(shop, MAGNETO, "LOT-8")
    desk = Receiving(shop.work, lambda: "RCV-H", RecordingForms(shop.work, lambda: "RCV-H"))
    guard = desk.guard(ORDER, "LOT-7", "LOT-7")
    assert any("looks like T6-10504 LOT-8" in line for line in guard.lines)
    form = desk.floor_form(guard, typed_twice=True)
    assert [field.name for field in form.fields] == ["quantity", "visual", "told_apart"]
    counted = {"quantity": "2", "visual": "yes"}
    with pytest.raises(InputError, match="say by which feature"):
        form.act({**counted, "told_apart": " "})
    form.act({**counted, "told_apart": "14 teeth"}).make(None)
    assert shop.facts(f.PartReceived, f"{ORDER}/{IDLERS}/LOT-7")[0].fact.told_apart == "14 teeth"
    alone = desk.floor_form(Guard(guard.mark, (), guard.part, 2), typed_twice=True)
    assert [field.name for field in alone.fields] == ["quantity", "visual"]
