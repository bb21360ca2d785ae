"""B4a in the real window with real keys: over-dwelled, washed by the cleaner, given up, loaded again, killed in between."""

from __future__ import annotations

from collections.abc import Callable

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.scan_codes import ScanKind
from tests.gui.window import Window

PARTS = ("T4-21001/CC-L-0644", "T4-21002/CC-R-0644", "T4-21010/AH-0290", "T4-21020/SP-0217")


def test_b4a_from_dwell_to_its_second_attempt(window: Callable[..., Window], tmp_path: object) -> None:
    w = window("11:25", place="PT line")
    w.scan(ScanKind.PERSON, "L1-D").key("7")
    assert w.says("B4a", "Wash from 11:51 to 13:06", "dwelling")
    w.shot("booth/line")
    w.key("9")
    assert w.says("Yes, back by 12:51", "Wash B4a from 11:51, start at the latest 13:06")
    w.shot("booth/lunch")
    w.key(".").scan(ScanKind.BASKET, "B4a").at("13:18:01").key(".").key("1")
    assert w.says("B4a, attempt 1: ready to wash: stop", "Wash limit 13:18 is past")
    w.shot("booth/line basket stopped")
    w.scan(ScanKind.PERSON, "CLN-J").at("13:34").key("0", "enter")
    w.key("1").number("14")
    w.at("13:36").key("enter")  # the end is marked, the background not stated yet
    w.shot("booth/line background")
    assert w.work is not None
    book = w.work.book.path  # type: ignore[attr-defined]
    w.close()
    again = window("13:36", book=book, place="PT line")
    again.key("1")
    assert again.says("138 min", "Stop")
    again.key("enter")
    again.shot("booth/line give up")
    again.key("1").scan(ScanKind.BASKET, "B4b")
    for part in PARTS:
        again.scan(ScanKind.PART, f"W26-0151/{part}")
    again.shot("booth/line load")
    again.key("enter")
    assert again.says("B4b, attempt 2: loaded"), again.scene
    again.key("0", "enter").at("14:15").key("enter")
    assert again.says("pre-clean  13:36 – 14:15")
    assert again.work is not None
    with again.work.book.session(readonly=True) as session:
        voided = session.facts("B4a", (f.AttemptVoided,))
        wash = [r for r in session.facts("B4a", (f.StepEnded,)) if r.fact.step == "wash"]  # type: ignore[attr-defined]
    assert len(voided) == 4 and "138 min" in voided[0].fact.reason  # type: ignore[attr-defined]
    assert (wash[0].when.clock(), wash[0].fact.outcome) == ("13:36", "clean")  # type: ignore[attr-defined]
    assert bootstrap.key_folder(book).is_dir()
