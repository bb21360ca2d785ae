"""The viewing queue of a booth against the developer: said before the developer goes on, and when the queue must begin.

Usual viewing times are those of the techniques: two crankcase halves of 16.8 min
each in B1, two of 9.6 min, a housing of 5.6 and a sump of 4.8 min in B4a.  That
one booth views one part at a time is G20.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.procedure import Procedure
from ndi.domain.quantity import Number
from ndi.services import handover
from ndi.services.line_basket import BasketState, Level, Where
from ndi.services.line_state import line_now
from ndi.services.viewing_queue import with_queues
from ndi.services.workplace import Workplace
from tests.build import at, num
from tests.gui.booth.line_day import B1, B4, B5, begin
from tests.services import shop as s
from tests.services.test_line_state import load, step


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("queue")
    begin(folder)
    return folder


@pytest.fixture
def shop(morning: Path, tmp_path: Path) -> Iterator[s.Shop]:
    one = s.open_copy(morning, tmp_path / "book").at("08:00")
    yield one
    one.close()


def limited(monkeypatch: pytest.MonkeyPatch, longest: str) -> None:
    """The procedures with another longest developing time."""
    full = Workplace.procedure

    def procedure(work: Workplace, session: Any, number: str, revision: str) -> Procedure:
        found = full(work, session, number, revision)
        value: Number = num(longest)
        changed = replace(found.parameters["develop_max"], value=value)
        return replace(found, parameters={**found.parameters, "develop_max": changed})

    monkeypatch.setattr(Workplace, "procedure", procedure)


def on_the_line(shop: s.Shop) -> dict[str, BasketState]:
    with shop.work.book.session(readonly=True) as session:
        return {state.basket: state for state in line_now(shop.work, session)}


def b1_developed(shop: s.Shop) -> None:
    load(shop, "B1", B1, "08:33")
    step(shop, "B1", "wet", "08:35", "08:38", pieces=2)
    step(shop, "B1", "wash", "09:10", "09:14", outcome="clean")
    step(shop, "B1", "dry", "09:16", "09:34")
    step(shop, "B1", "develop", "09:36", "09:37")


def b4_washed(shop: s.Shop) -> None:
    load(shop, "B4a", B4, "09:38")
    step(shop, "B4a", "wet", "09:40", "09:43", pieces=4)
    step(shop, "B4a", "wash", "10:20", "10:30", outcome="clean")


@pytest.mark.parametrize(("longest", "warned"), [("63.2 min", False), ("63.1 min", True)])
def test_booth_too_full_is_said_before_the_developer_goes_on(
    shop: s.Shop, monkeypatch: pytest.MonkeyPatch, longest: str, warned: bool
) -> None:
    """33.6 and 29.6 min of looks, 63.2 in all, against the longest developing time: exactly as long is within it."""
    limited(monkeypatch, longest)
    b1_developed(shop)
    b4_washed(shop)
    one, now = on_the_line(shop)["B4a"], at("10:30")
    assert one.stage is Where.WASHED
    assert bool(one.queue_says(now)) is warned
    assert one.level(now) is (Level.AMBER if warned else Level.CALM)
    if warned:
        assert one.queue_says(now) == (
            "B1 first (34 min), then this (30 min): over 64 min after developing, at most 63 min 6 s. "
            "Wait with the developer"
        )
    lines = [line.about for line in handover.open_lines(shop.work) if line.kind == "viewing queue"]
    assert ("B4a" in lines) is warned


def test_own_look_longer_than_the_developer_is_said_without_a_queue(
    shop: s.Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """29.6 min of looks after the least developing time of 10 min do not fit into 39.5."""
    limited(monkeypatch, "39.5 min")
    b4_washed(shop)
    assert on_the_line(shop)["B4a"].queue_says(at("10:30")).startswith("this look (30 min)")
    limited(monkeypatch, "39.6 min")
    assert not on_the_line(shop)["B4a"].queue_says(at("10:30"))


def test_queue_must_begin_early_enough_for_who_comes_after_it(shop: s.Shop) -> None:
    """B4a developed from 11:00 may wait to 15:00; its look of 29.6 min and the 33.6 of B1 before it begin by 13:56."""
    b1_developed(shop)
    b4_washed(shop)
    step(shop, "B4a", "dry", "10:35", "10:50")
    step(shop, "B4a", "develop", "11:00", "11:01")
    one = on_the_line(shop)["B4a"]
    assert one.queue_latest is not None and one.queue_latest.local.strftime("%H:%M:%S") == "13:56:48"
    assert one.margin == timedelta(minutes=15)
    assert not one.queue_says(at("13:41:47")) and one.level(at("13:41:47")) is Level.CALM
    assert one.queue_says(at("13:41:48")) == "B1 first (34 min): begin by 13:56"
    assert one.level(at("13:41:48")) is Level.AMBER


def test_who_was_viewed_is_not_waited_for(shop: s.Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    limited(monkeypatch, "63.1 min")
    b1_developed(shop)
    b4_washed(shop)
    for name in B1:
        shop.after(60).record(f.BoothClosed("PT booth", "L2-B"), by="L2-B")
        s.inspecting.start_view(shop.after(90).work, f"{name}/v", name, "L2-B", ["LP-3"], station="PT booth")
        s.inspecting.end_view(shop.after(600).work, f"{name}/v", zones=(), nothing_seen=True)
    assert not on_the_line(shop)["B4a"].queue_says(shop.work.now())


def test_another_booth_is_another_queue(shop: s.Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    limited(monkeypatch, "63.1 min")
    b1_developed(shop)
    b4_washed(shop)
    states = on_the_line(shop)
    plain = replace(states["B4a"], queue_text="", queue_latest=None)
    (alone,) = [one for one in with_queues([replace(states["B1"], booths=("booth 2",)), plain]) if one.basket == "B4a"]
    assert not alone.queue_text


def test_pistons_of_the_other_line_queue_at_the_same_booth(shop: s.Shop) -> None:
    """Six pistons of 2 min: 12 min at the booth of B1 and B4a."""
    load(shop, "B5", B5, "08:33")
    assert on_the_line(shop)["B5"].viewing == timedelta(minutes=12)
    assert on_the_line(shop)["B5"].booths == ("PT booth",)
