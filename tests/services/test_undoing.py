"""Undo: each kind that may be taken away is, and the book's tables are then as they were; what was signed stays."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Draft
from ndi.domain.errors import NotPermitted
from ndi.domain.ticks import DRY
from ndi.services import inspecting, recording
from ndi.services.annotating import annotate
from ndi.services.measured_photographs import record_measured
from ndi.services.photographs import attach_photograph
from ndi.services.undoing import UNDOABLE, last_of, undo_last
from tests.build import num
from tests.photo.picture_files import picture
from tests.services.shop import GEAR, GEAR_SHEET, LINE, SUMP, Shop, begin, open_copy

WHO = "L2-A"
VIEW = "MT-001/view"
PART = "W26-0148/T6-10501/CG-1"
PHOTO = "ab" * 32


@pytest.fixture(scope="module")
def at_work(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Gear MT-001 under view with a crack on it, sump PT-001 wetted in B1; to be copied, never opened."""
    folder = tmp_path_factory.mktemp("at work")
    begin(folder)
    made = open_copy(folder, folder / "copy")
    made.play(step for step in made.sump_steps("PT-001", made.receive(SUMP, "SP-1"), "B1") if step.seconds <= 60)
    steps = made.magnetic_steps("MT-001", made.receive(GEAR, "CG-1"), GEAR_SHEET, nothing_seen=False)
    made.play(step for step in steps if step.seconds < 780)
    made.after(60).crack("MT-001", PART)
    with made.work.transaction() as session:
        now = made.work.now()
        session.append([Draft(f.PhotoAttached("MT-001", PHOTO, now, "IND-01"), now, WHO)])
    made.close()
    return folder / "copy"


@pytest.fixture
def busy(at_work: Path, tmp_path: Path) -> Iterator[Shop]:
    """A quarter of an hour after all that, so that nothing of it can be undone any more."""
    opened = open_copy(at_work, tmp_path / "busy").at("08:25")
    yield opened
    opened.close()


def tables(shop: Shop) -> dict[str, set[tuple[Any, ...]]]:
    """What the read tables say is in force; which entry last touched a record is left out."""
    path = shop.work.book.path  # type: ignore[attr-defined]
    found: dict[str, set[tuple[Any, ...]]] = {}
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    connection.row_factory = sqlite3.Row
    for name in ("fact", "inspection", "part", "object_use"):
        rows = [dict(row) for row in connection.execute(f"SELECT * FROM {name}")]
        found[name] = {
            tuple((key, value) for key, value in row.items() if key != "version")
            for row in rows
            if not row.get("superseded") and row.get("kind") not in ("EntryWithdrawn", "ActionRefused")
        }
    connection.close()
    return found


def is_rebuilt_equal(shop: Shop) -> bool:
    return bool(shop.work.book.rebuild(compare_only=True) == [])  # type: ignore[attr-defined]


def withdrawals(shop: Shop) -> list[f.EntryWithdrawn]:
    return [recorded.fact for recorded in shop.facts(f.EntryWithdrawn)]


def seen(name: str = "IND-09") -> f.IndicationSeen:
    return f.IndicationSeen(name, "MT-001", "WEB", "at 10 deg", "linear", num("0.1 in"), num("0.01 in"))


def tick(shop: Shop, by: str = WHO, about: str = "PT-001") -> int:
    (recorded,) = shop.record(f.ConfirmationGiven(about, DRY.item, "no"), by=by)
    return recorded.position


def _plain(fact: f.Fact) -> Callable[[Shop], object]:
    return lambda shop: shop.record(fact, by=WHO)


MAKERS: dict[type[f.Fact], Callable[[Shop], object]] = {
    f.BasketLoaded: _plain(f.BasketLoaded("B7", "A", LINE, ("PT-001",), 2)),
    f.BathSampled: _plain(f.BathSampled("MTB-1", True)),
    f.BoothClosed: _plain(f.BoothClosed("MT booth", WHO)),
    f.ConfirmationGiven: _plain(f.ConfirmationGiven("MT-001", DRY.item, "no")),
    f.Demagnetised: _plain(f.Demagnetised("MT-001", "reversing step-down")),
    f.EquipmentSwitched: _plain(f.EquipmentSwitched("LP-1", "off")),
    f.IndicationEvaluated: _plain(f.IndicationEvaluated("IND-01", "within limit", "0.25 in")),
    f.IndicationInterpreted: lambda shop: inspecting.interpret(
        shop.work, f.IndicationInterpreted("IND-01", "relevant", "seen by two methods", "fatigue crack"), WHO
    ),
    f.IndicationSeen: _plain(seen()),
    f.IndicationTested: _plain(f.IndicationTested("IND-01", "re-shot", "gone")),
    f.PartMoved: _plain(f.PartMoved(PART, "MT booth")),
    f.PhotographAnnotated: lambda shop: annotate(
        shop.work,
        f.PhotographAnnotated("MT-001", PHOTO, "", "text", (f.PicturePoint(num("10 %"), num("10 %")),), "tip"),
        WHO,
    ),
    f.PhotographMeasured: lambda shop: record_measured(
        shop.work, f.PhotographMeasured("MT-001", "IND-01", PHOTO, num("9 mm"), num("0.1 mm"), "card"), WHO
    ),
    f.PieceTimed: lambda shop: shop.record(
        f.PieceTimed("B1", "wash", "W26-0148/T6-11020/SP-1", shop.work.now()), by=WHO
    ),
    f.PlugsCounted: _plain(f.PlugsCounted("MT-001", "in", 3)),
    f.ReasonGiven: _plain(f.ReasonGiven("MT-001", "G03", "bench was occupied", WHO)),
    f.ResidualRead: _plain(f.ResidualRead("MT-001", "tooth rim", num("2 G"), "GM-1", True)),
    f.ShotFired: _plain(
        f.ShotFired("MT-001", "MT-01", 1, (f.Pulse(num("900 A"), num("0.7 s")),), "FWDC", "continuous")
    ),
    f.StepEnded: _plain(f.StepEnded("B1", "wet")),
    f.StepObserved: _plain(f.StepObserved("B1", "wet", "part temperature", num("71 degF"))),
    f.StepStarted: _plain(f.StepStarted("B1", "wash", 1)),
    f.ViewEnded: lambda shop: inspecting.end_view(shop.work, VIEW, zones=["WEB"], nothing_seen=False),
    f.ViewStarted: lambda shop: inspecting.start_view(
        shop.work, "PT-001/view", "PT-001", WHO, ["LP-3"], station="PT booth"
    ),
}


def test_every_kind_that_may_be_undone_is_tried() -> None:
    assert set(MAKERS) == set(UNDOABLE)


@pytest.mark.parametrize("kind", UNDOABLE, ids=lambda kind: kind.__name__)
def test_an_entry_is_taken_away_and_the_tables_are_as_before(busy: Shop, kind: type[f.Fact]) -> None:
    before, head = tables(busy), busy.head()
    MAKERS[kind](busy)
    (made,) = [fact for fact in busy.since(head) if isinstance(fact, kind)]
    assert tables(busy) != before
    old = undo_last(busy.after(30).work, WHO)
    assert old.fact == made and old.position > head
    assert tables(busy) == before
    assert is_rebuilt_equal(busy)
    (withdrawn,) = withdrawals(busy)
    assert (withdrawn.kind, withdrawn.position, withdrawn.about) == (kind.__name__, old.position, made.subjects())
    with busy.work.book.session(readonly=True) as session:
        assert session.is_superseded(old.position)
        assert session.entry(old.position).fact == made  # taken away, never deleted
        entry = session.entry(session.head().position)
    assert (entry.fact, entry.by, entry.supersedes) == (withdrawn, WHO, old.uid)


def test_undone_step_by_step_backwards(busy: Shop) -> None:
    """Latest first; what was undone is not undone again; then there is nothing more."""
    before = tables(busy)
    makers = (f.PlugsCounted, f.Demagnetised, f.ResidualRead, f.PartMoved)
    for kind in makers:
        MAKERS[kind](busy.after(10))
    assert [type(undo_last(busy.work, WHO).fact) for _ in makers] == list(reversed(makers))
    assert tables(busy) == before and is_rebuilt_equal(busy)
    with pytest.raises(NotPermitted, match="nothing in the last 10 min"):
        undo_last(busy.work, WHO)
    assert len(withdrawals(busy)) == len(makers)


def test_done_again_after_undo_counts_and_can_be_undone_again(busy: Shop) -> None:
    before = tables(busy)
    first = tick(busy)
    undo_last(busy.after(5).work, WHO)
    second = tick(busy.after(5))
    held = [r.position for r in busy.facts(f.ConfirmationGiven, "PT-001")]
    assert second in held and first not in held
    assert undo_last(busy.after(5).work, WHO).position == second
    assert tables(busy) == before and is_rebuilt_equal(busy)


# --- what is not undone -------------------------------------------------------------------------------


@pytest.mark.parametrize(("seconds", "is_undone"), [(0, True), (599, True), (600, True), (601, False), (7200, False)])
def test_ten_minutes_and_no_longer(busy: Shop, seconds: int, is_undone: bool) -> None:
    position = tick(busy)
    busy.after(seconds)
    if is_undone:
        assert undo_last(busy.work, WHO).position == position
        return
    head = tables(busy)
    with pytest.raises(NotPermitted, match="correct it with a reason"):
        undo_last(busy.work, WHO)
    assert tables(busy) == head and withdrawals(busy) == []


def test_a_late_entry_counts_from_when_it_was_entered(busy: Shop) -> None:
    """Typed half an hour late and taken away at once: the ten minutes are those of the mistake."""
    before, then = tables(busy), busy.work.now()
    busy.after(1800).record(f.ConfirmationGiven("PT-001", DRY.item, "no"), by=WHO, when=then, why="forgotten")
    assert undo_last(busy.after(60).work, WHO).when == then
    assert tables(busy) == before and is_rebuilt_equal(busy)


def test_entries_of_others_are_not_touched(busy: Shop) -> None:
    """Each takes away the own; the other's stays, earlier or later."""
    earlier = tick(busy, "L1-D")
    own = tick(busy.after(5))
    later = tick(busy.after(5), "L2-B")
    assert undo_last(busy.after(5).work, WHO).position == own
    held = [r.position for r in busy.facts(f.ConfirmationGiven, "PT-001")]
    assert {earlier, later} <= set(held) and own not in held
    with pytest.raises(NotPermitted, match="L2-C entered nothing"):
        undo_last(busy.work, "L2-C")
    with pytest.raises(NotPermitted, match="L2-A entered nothing"):
        undo_last(busy.work, WHO)
    assert undo_last(busy.work, "L1-D").position == earlier
    assert undo_last(busy.work, "L2-B").position == later
    assert is_rebuilt_equal(busy)


def test_a_refusal_to_undo_is_kept_and_takes_nothing_away(busy: Shop) -> None:
    with pytest.raises(NotPermitted):
        undo_last(busy.work, "L2-C")
    (refused,) = [r.fact for r in busy.facts(f.ActionRefused) if r.fact.person == "L2-C"]
    assert refused.action == "undo" and withdrawals(busy) == []


def test_what_a_signature_rests_on_is_refused(shop: Shop) -> None:
    """The last ticks of a gear that is signed within the ten minutes: the signed record is named, and stays accepted."""
    shop.gear()
    shop.sign("MT-001")
    before = tables(shop)
    with pytest.raises(NotPermitted, match="MT-001 is signed ACCEPT"):
        undo_last(shop.after(20).work, WHO)
    assert tables(shop) == before and withdrawals(shop) == []
    assert (shop.row("MT-001").disposition, shop.row("MT-001").suspended) == ("ACCEPT", False)


def test_the_basket_of_a_signed_record_is_refused(shop: Shop) -> None:
    """A tick of the basket, entered after the record in it was signed, is a fact of that record."""
    shop.sump()
    shop.sign("PT-001", person="L2-B")
    shop.record(f.ConfirmationGiven("B1", "rinse checked under UV-A"), by="L1-D")
    with pytest.raises(NotPermitted, match="PT-001 is signed ACCEPT"):
        undo_last(shop.after(5).work, "L1-D")
    assert withdrawals(shop) == []


def test_a_signature_itself_is_no_entry_to_undo(shop: Shop) -> None:
    """Later than ten minutes after all else: only the signature is near, and it is not taken away so."""
    shop.gear()
    shop.after(700)
    shop.sign("MT-001")
    with shop.work.book.session(readonly=True) as session:
        assert last_of(shop.work, session, WHO) is None
    with pytest.raises(NotPermitted, match="nothing in the last 10 min"):
        undo_last(shop.work, WHO)
    assert shop.row("MT-001").disposition == "ACCEPT"


@pytest.mark.parametrize("later", ["IndicationTested", "PhotoAttached"])
def test_an_indication_that_something_rests_on_is_refused(busy: Shop, later: str) -> None:
    """Tested by a colleague, or photographed: that goes first, or is corrected."""
    busy.record(seen(), by=WHO)
    busy.after(20)
    if later == "IndicationTested":
        busy.record(f.IndicationTested("IND-09", "wiped", "returned"), by="L2-B")
    else:
        content = picture(taken=f"{busy.work.now().local:%Y:%m:%d %H:%M:%S}")
        attach_photograph(busy.work, "MT-001", content, "a.jpg", WHO, indication="IND-09")
    with pytest.raises(NotPermitted, match=f"{later} of .* goes on from it"):
        undo_last(busy.after(5).work, WHO)
    assert withdrawals(busy) == []


def test_own_evidence_is_undone_before_the_indication(busy: Shop) -> None:
    before = tables(busy)
    busy.record(seen(), by=WHO)
    busy.after(5).record(f.IndicationTested("IND-09", "wiped", "returned"), by=WHO)
    for kind in (f.IndicationTested, f.IndicationSeen):
        assert isinstance(undo_last(busy.after(5).work, WHO).fact, kind)
    assert tables(busy) == before and is_rebuilt_equal(busy)


def test_readings_and_checks_are_not_among_what_is_undone(busy: Shop) -> None:
    """Others draw from them at once: they are corrected with a reason."""
    busy.at("08:26")
    recording.record_reading(busy.work, f.ReadingRecorded("PT line", "water pressure", num("29 psi")), "L1-D")
    with pytest.raises(NotPermitted, match="L1-D entered nothing"):
        undo_last(busy.after(5).work, "L1-D")


def _load_then_wet(shop: Shop) -> None:
    shop.record(f.BasketLoaded("B7", "A", LINE, ("PT-001",), 2), by=WHO)
    shop.after(5).record(f.StepStarted("B7", "wet", 1), by="L2-B")


def _start_then_end(shop: Shop) -> None:
    shop.record(f.StepStarted("B1", "wash", 1), by=WHO)
    shop.after(5).record(f.StepEnded("B1", "wash", "clean"), by="L2-B")


def _view_then_see(shop: Shop) -> None:
    inspecting.start_view(shop.work, "PT-001/view", "PT-001", WHO, ["LP-3"], station="PT booth")
    size = num("0.1 in"), num("0.01 in")
    shop.after(5).record(f.IndicationSeen("IND-10", "PT-001", "WALLS", "at the lip", "linear", *size), by="L2-B")


@pytest.mark.parametrize("work_on", [_load_then_wet, _start_then_end, _view_then_see])
def test_what_a_colleague_has_gone_on_from_is_refused(busy: Shop, work_on: Callable[[Shop], None]) -> None:
    """A basket that was wetted since, a step that was ended, a view in which something was seen."""
    work_on(busy)
    with pytest.raises(NotPermitted):
        undo_last(busy.after(5).work, WHO)
