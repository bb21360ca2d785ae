"""Several use cases in one transaction: all or none, refusals kept, what follows outside only after the commit."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import inspecting, recording
from ndi.services.ports import KeptHead
from tests.services.shop import GEAR, GEAR_SHEET, Shop, begin, open_copy


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("together")
    begin(folder)
    return folder


@pytest.fixture
def shop(morning: Path, tmp_path: Path) -> Iterator[Shop]:
    opened = open_copy(morning, tmp_path / "book")
    opened.work.heads = None
    yield opened
    opened.close()


class Heads:
    """Remembers what it was asked to keep, and where the book then ended for everybody else."""

    def __init__(self, shop: Shop) -> None:
        self.shop, self.kept = shop, []  # type: ignore[var-annotated]

    def keep(self, kept: KeptHead) -> None:
        self.kept.append((kept.head.position, self.shop.head()))


def off(lamp: str) -> f.EquipmentSwitched:
    return f.EquipmentSwitched(lamp, "off")


def test_one_call_sees_what_the_one_before_it_did(shop: Shop) -> None:
    part = shop.receive(GEAR, "CG-1")
    inspecting.open_inspection(shop.work, "MT-001", part, GEAR_SHEET, "L2-A", quantity=1)
    before = shop.head()
    with shop.work.together():
        inspecting.start_view(shop.work, "V", "MT-001", "L2-A", ["LP-1"], station="MT booth")
        inspecting.end_view(shop.work, "V", zones=("WEB",))
        assert shop.head() == before  # for everybody else nothing has happened
    assert [type(fact) for fact in shop.since(before)] == [f.ViewStarted, f.ViewEnded]


@pytest.mark.parametrize("wrong", [InputError("x"), KeyError("x")])
def test_an_error_takes_everything_back(shop: Shop, wrong: Exception) -> None:
    before = shop.head()
    with pytest.raises(type(wrong)), shop.work.together():
        shop.record(off("LP-1"))
        raise wrong
    assert shop.head() == before
    shop.record(off("LP-1"))  # and calls alone are transactions of their own again
    assert shop.head() == before + 1


def test_a_refusal_takes_everything_back_and_is_kept_alone(shop: Shop) -> None:
    before = shop.head()
    with pytest.raises(NotPermitted, match="select meter refused") as refused, shop.work.together():
        shop.record(off("LP-1"))
        recording.select_meter(shop.work, "RM-2", "L2-A")
    assert [answer.rule for answer in refused.value.answers] == ["L10"]
    (kept,) = shop.since(before)
    assert isinstance(kept, f.ActionRefused) and (kept.person, kept.subject, kept.rules) == ("L2-A", "RM-2", ("L10",))


def test_a_key_is_for_all_of_it_once(shop: Shop) -> None:
    def make() -> None:
        with shop.work.together():
            shop.record(off("LP-1"))
            shop.record(off("LP-2"))

    first = shop.work.once("k", make)
    assert len(first) == 2 and shop.work.once("k", make) == first
    assert shop.head() == first[-1]


def test_a_head_is_kept_after_the_commit_and_never_of_what_was_taken_back(shop: Shop) -> None:
    shop.work.heads = heads = Heads(shop)
    closed = f.ShiftMarked("MT booth", "closed")
    with pytest.raises(InputError), shop.work.together():
        shop.record(closed)
        raise InputError("x")
    assert heads.kept == []
    with shop.work.together():
        shop.record(closed)
        shop.record(off("LP-1"))
        assert heads.kept == []
    ((position, end),) = heads.kept
    assert (position + 1, end) == (shop.head(), shop.head())
    shop.record(closed)
    assert heads.kept[-1] == (shop.head(), shop.head())
