"""The last five photographs of the same zone of the same part number: which ones, in which order, with what became of them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.photo.archive import FolderArchive
from ndi.services import inspecting
from ndi.services.photographs import Shown, attach_photograph
from ndi.services.zone_photographs import ZonePhotograph, zone_photographs
from tests.build import num
from tests.photo.picture_files import picture
from tests.services.shop import GEAR, GEAR_SHEET, IDLERS, IDLERS_SHEET, Shop


def seen(shop: Shop, inspection: str, name: str, zone: str | None = "WEB") -> str:
    """An indication on a record whose view is on."""
    size = num("0.1 in"), num("0.01 in")
    shop.record(f.IndicationSeen(name, inspection, zone, "at 10 deg", "linear", *size))
    return name


def view(shop: Shop, number: int, part_no: str = GEAR, sheet: str = GEAR_SHEET, **lot: bool) -> str:
    """A record under view, number 1 to 9."""
    inspection = f"MT-00{number}"
    part = shop.receive(part_no, f"CG-{number}", **lot)
    steps = shop.magnetic_steps(inspection, part, sheet, nothing_seen=False)
    shop.play(step for step in steps if step.seconds < 780)
    return inspection


def photograph(shop: Shop, inspection: str, indication: str | None, seed: str, minutes_ago: int = 0) -> str:
    taken = shop.work.now()
    content = picture(seed)
    shown = Shown(True, "read", taken_at=Moment(taken.at - timedelta(minutes=minutes_ago), taken.offset_min))
    made = attach_photograph(shop.work, inspection, content, f"{seed}.jpg", "L2-A", indication=indication, shown=shown)
    assert isinstance(made.fact, f.PhotoAttached)
    return made.fact.sha256


def others(shop: Shop, indication: str) -> tuple[ZonePhotograph, ...]:
    with shop.work.book.session(readonly=True) as session:
        return zone_photographs(shop.work, session, indication)


@pytest.fixture
def two(shop: Shop) -> Shop:
    """Gears MT-001 and MT-002, each with an indication on its web, I-1 and I-2."""
    for number in (1, 2):
        seen(shop, view(shop, number), f"I-{number}")
    return shop


def test_photograph_of_another_gear_is_offered_with_what_it_was_called(two: Shop) -> None:
    first = photograph(two, "MT-001", "I-1", "one")
    (found,) = others(two, "I-2")
    assert (found.sha256, found.inspection, found.indication) == (first, "MT-001", "I-1")
    assert (found.word, found.disposition, found.is_there) == ("not interpreted", "NO DECISION", True)
    two.record(f.IndicationTested("I-1", "wiped", "returned"), f.IndicationTested("I-1", "re-shot", "returned"))
    inspecting.interpret(
        two.work, f.IndicationInterpreted("I-1", "relevant", "returned, sharp", "grinding crack"), "L2-A"
    )
    assert others(two, "I-2")[0].word == "relevant grinding crack"


def test_own_record_other_zone_and_whole_part_are_left_out(two: Shop) -> None:
    photograph(two, "MT-002", "I-2", "own")
    photograph(two, "MT-001", seen(two, "MT-001", "I-9", "BORE"), "bore")
    photograph(two, "MT-001", None, "whole")
    photograph(two, "MT-001", seen(two, "MT-001", "I-8", None), "nowhere")
    assert others(two, "I-2") == ()
    assert others(two, seen(two, "MT-002", "I-7", None)) == ()  # no zone, no other photographs of it


def test_other_part_number_is_left_out(two: Shop) -> None:
    """The idlers have a web too, and it is another web."""
    lot = view(two, 3, IDLERS, IDLERS_SHEET)
    photograph(two, lot, seen(two, lot, "I-3"), "idler")
    assert others(two, "I-2") == ()
    photograph(two, "MT-001", "I-1", "gear")
    assert [found.indication for found in others(two, "I-2")] == ["I-1"]


def test_the_last_five_newest_first_each_once(two: Shop) -> None:
    """By the time when they were taken, not when they were attached; one frame of two indications counts once."""
    ages = (3, 1, 6, 2, 5, 4, 7)
    hashes = {age: photograph(two, "MT-001", "I-1", f"p{age}", age) for age in ages}
    photograph(two, "MT-001", seen(two, "MT-001", "I-5"), "p1", 1)
    assert [found.sha256 for found in others(two, "I-2")] == [hashes[age] for age in (1, 2, 3, 4, 5)]


def test_only_described_photographs_have_nothing_to_show(two: Shop) -> None:
    """An entry without size never had its bytes in the archive."""
    inspecting.attach_photo(two.work, f.PhotoAttached("MT-001", "ab" * 32, two.work.now(), "I-1", True, "read"), "L2-A")
    assert others(two, "I-2") == ()


def test_a_file_that_is_gone_is_said(two: Shop) -> None:
    sha256 = photograph(two, "MT-001", "I-1", "one")
    archive = two.work.photographs
    assert isinstance(archive, FolderArchive)
    (archive.folder / sha256[:2] / sha256).unlink()
    assert [found.is_there for found in others(two, "I-2")] == [False]
    two.work.photographs = None
    assert [found.is_there for found in others(two, "I-2")] == [False]


def test_unknown_indication(shop: Shop) -> None:
    with pytest.raises(NotFound, match="no indication I-77"):
        others(shop, "I-77")
