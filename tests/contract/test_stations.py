"""Several stations work on one book at once, each in a process of its own."""

from __future__ import annotations

import multiprocessing
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from ndi.day.clock import SetClock
from ndi.domain import facts as f
from ndi.store.book import SqlBook, add_station
from ndi.store.verify import verify
from tests.contract import stations
from tests.contract.conftest import Place
from tests.database_server import OWNER, server_or_skip
from tests.power import replaying


def _begun(place: Place, tmp_path: Path) -> replaying.Place:
    """A book with people, procedures and history, in the place of the one that the fixture began."""
    if isinstance(place.where, Path):
        return replaying.Place(tmp_path / "day.book", tmp_path / "day keys", tmp_path / "said")
    server = server_or_skip()
    database = server.database()
    return replaying.Place(server.url(database), tmp_path / "day keys", tmp_path / "said", server.url(database, OWNER))


@pytest.mark.parametrize("engine_name", ["sqlite", "postgresql"], indirect=True)
def test_four_stations_play_parts_of_a_day_at_once(place: Place, tmp_path: Path) -> None:
    """Each call is tried by two stations under one key: no gap, nothing lost, nothing done twice, rebuild equal."""
    day = _begun(place, tmp_path)
    replaying.begin(day)
    names = ["BOOTH 1", "BOOTH 2", "BENCH", "DESK"]
    plan = replaying.the_plan()
    with day.open(SetClock(plan.begins.at, plan.begins.offset_min)) as book:
        begun = book.head().position
        for name in names[1:]:
            add_station(book, name, key_folder=day.keys, by="A. Example")
    context = multiprocessing.get_context("spawn")
    processes = [
        context.Process(
            target=stations.work, args=(day.where, str(day.keys), name, me, len(names), str(tmp_path / f"said {me}"))
        )
        for me, name in enumerate(names)
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join(240)
    assert [process.exitcode for process in processes] == [0] * 4
    acknowledged = [line.split() for me in range(4) for line in (tmp_path / f"said {me}").read_text().splitlines()]
    with day.open(SetClock(plan.begins.at, 0)) as book:
        _check(book, begun, acknowledged, names)


def _check(book: SqlBook, begun: int, acknowledged: list[list[str]], names: list[str]) -> None:
    result = verify(book)  # the chain has no gap, and the read tables follow from it
    assert result.ok, result.message
    with book.session(readonly=True) as session:
        entries = [session.entry(position) for position in range(1, session.head().position + 1)]
    assert {e.uid.split("-", 1)[1].rsplit("-", 1)[0] for e in entries[begun + 3 :]} == set(names)  # all four wrote
    written: dict[str, set[int]] = {}
    for number, position in acknowledged:
        written.setdefault(number, set()).add(int(position))
    positions = [position for each in written.values() for position in each]
    assert len(positions) == len(set(positions))  # no entry belongs to two calls
    assert max(positions) <= len(entries)
    # what stands in the book is what was acknowledged, but for what was refused and kept as such
    rest = [e for e in entries[begun + 3 :] if e.position not in positions]
    assert {type(e.fact) for e in rest} <= {f.ActionRefused}
    assert len(written) >= stations.CALLS // 2
    for kind, name in ((f.PartListed, "part"), (f.InspectionOpened, "inspection"), (f.WorkOrderOpened, "work_order")):
        counted: Counter[Any] = Counter(getattr(e.fact, name) for e in entries if isinstance(e.fact, kind))
        assert max(counted.values(), default=1) == 1  # nothing was entered twice
    signed = Counter(e.fact.inspection for e in entries if isinstance(e.fact, f.DecisionSigned))
    undone = Counter(e.fact.inspection for e in entries if isinstance(e.fact, f.DecisionUndone | f.AcceptanceSuspended))
    assert signed
    assert all(count <= 1 + undone[inspection] for inspection, count in signed.items())  # nothing was decided twice


def test_every_call_belongs_to_one_share() -> None:
    counted = Counter(stations.share(number, 4) for number in range(stations.CALLS))
    assert set(counted) == {0, 1, 2, 3}
