"""Another part's photograph, one used twice, and a wrong camera clock: refused with the reason, and let in with a reason (G25, K19)."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from PIL import Image

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.errors import InputError, NotPermitted
from ndi.domain.quantity import Number
from ndi.services import camera_clock, photographs
from ndi.services.photographs import attach_photograph
from tests.photo.picture_files import picture
from tests.services.shop import GEAR, GEAR_SHEET, Shop
from tests.services.test_photographs import GOOD, attach, files, seen_at, viewed

__all__ = ["viewed"]
CAMERA = ("Maker", "Model 3")


def saved_anew(content: bytes, **exif: Any) -> bytes:
    """The same exposure at another size and quality, without what the camera wrote."""
    out = io.BytesIO()
    image = Image.open(io.BytesIO(content))
    image.resize((image.width // 2, image.height // 2)).save(out, "JPEG", quality=60)
    return out.getvalue()


def other_part(shop: Shop) -> None:
    part = shop.receive(GEAR, "CG-2")
    steps = shop.magnetic_steps("MT-012", part, GEAR_SHEET)
    shop.play(step for step in steps if step.seconds <= 780)


def big(shop: Shop, seed: str = "one") -> bytes:
    return picture(seed, size=(320, 240), taken=seen_at(shop))


# --- the same exposure twice ----------------------------------------------------------------------


def test_copy_saved_anew_is_refused_on_another_record_and_names_the_first(viewed: Shop) -> None:
    content = big(viewed)
    first = attach(viewed, content)
    assert first.perceptual_hash and first.alike is None
    other_part(viewed)
    said = replace(GOOD, taken_at=viewed.work.now())
    with pytest.raises(NotPermitted, match="looks like the one on MT-001") as refused:
        attach(viewed, saved_anew(content), inspection="MT-012", indication=None, shown=said)
    (answer,) = refused.value.answers
    assert answer.rule == "G25" and "another picture of the same place" in " ".join(answer.ways_out)
    assert len(files(viewed)) == 1


def test_reason_lets_a_look_alike_in_and_stays_with_it(viewed: Shop) -> None:
    content = big(viewed)
    first = attach(viewed, content)
    other_part(viewed)
    reason = "camera on its stand, the next gear in the same fixture"
    said = replace(GOOD, taken_at=viewed.work.now(), reuse_reason=reason)
    fact = attach(viewed, saved_anew(content), inspection="MT-012", indication=None, shown=said)
    assert (fact.reuse_reason, fact.alike) == (reason, (first.sha256,))
    found = next(a for a in viewed.judge("MT-012").answers if a.rule == "G25")
    assert found.verdict is Verdict.PASS


def test_another_picture_of_the_same_record_may_look_the_same(viewed: Shop) -> None:
    content = big(viewed)
    attach(viewed, content)
    fact = attach(viewed, saved_anew(content), shown=replace(GOOD, taken_at=viewed.work.now()))
    assert fact.alike is None


def test_picture_of_something_else_is_welcome(viewed: Shop) -> None:
    attach(viewed, big(viewed))
    other_part(viewed)
    assert attach(viewed, big(viewed, "two"), inspection="MT-012", indication=None).alike is None


# --- the camera's clock ---------------------------------------------------------------------------


def clock_picture(shop: Shop, ahead: timedelta) -> bytes:
    at = shop.work.now().local + ahead
    return picture("clock", taken=f"{at:%Y:%m:%d %H:%M:%S}", camera=CAMERA)


@pytest.mark.parametrize("ahead_s", [0, 7, -7, 3600, -3600, 86400 - 30, -86400])
def test_clock_compared_once_corrects_every_photograph_of_that_camera(viewed: Shop, ahead_s: int) -> None:
    ahead = timedelta(seconds=ahead_s)
    examined = photographs.archive_of(viewed.work).examine(clock_picture(viewed, ahead), "clock.jpg")
    recorded = camera_clock.compare_clocks(viewed.work, examined, f"{viewed.work.now().local:%H:%M:%S}", "L2-A")
    check = recorded.fact
    assert isinstance(check, f.ProcessCheckRecorded)
    assert (check.object, check.check, check.ahead) == ("Maker Model 3", "clock offsets", Number(str(ahead_s), "s"))
    viewed.after(5)
    taken = viewed.work.now().local - timedelta(seconds=2) + ahead
    fact = attach(viewed, picture(taken=f"{taken:%Y:%m:%d %H:%M:%S}", camera=CAMERA))
    assert fact.camera_ahead_s == ahead_s
    assert fact.taken_at.at == viewed.work.clock.now() - timedelta(seconds=2)


@pytest.mark.parametrize("ahead_s", [86401, -86401])
def test_a_picture_more_than_a_day_away_compares_no_clocks(viewed: Shop, ahead_s: int) -> None:
    """An old picture must not be made to fit by calling its camera slow."""
    examined = photographs.archive_of(viewed.work).examine(
        clock_picture(viewed, timedelta(seconds=ahead_s)), "clock.jpg"
    )
    with pytest.raises(InputError, match="more than a day away"):
        camera_clock.compare_clocks(viewed.work, examined, f"{viewed.work.now().local:%H:%M:%S}", "L2-A")
    assert not [r for r in viewed.facts(f.ProcessCheckRecorded) if r.fact.ahead is not None]


def test_last_comparison_counts_and_another_camera_is_not_touched(viewed: Shop) -> None:
    archive = photographs.archive_of(viewed.work)
    for seconds in (3600, 10):
        examined = archive.examine(clock_picture(viewed, timedelta(seconds=seconds)), "clock.jpg")
        camera_clock.compare_clocks(viewed.work, examined, f"{viewed.work.now().local:%H%M%S}", "L2-A")
        viewed.after(1)
    with viewed.work.look() as session:
        assert camera_clock.seconds_ahead(session, "Maker Model 3") == 10
        assert camera_clock.seconds_ahead(session, "Other") is None
        assert camera_clock.seconds_ahead(session, None) is None


def test_what_is_said_at_attaching_goes_before_the_book(viewed: Shop) -> None:
    examined = photographs.archive_of(viewed.work).examine(clock_picture(viewed, timedelta(seconds=9)), "clock.jpg")
    camera_clock.compare_clocks(viewed.work, examined, f"{viewed.work.now().local:%H:%M:%S}", "L2-A")
    viewed.after(5)
    fact = attach(viewed, picture(taken=seen_at(viewed), camera=CAMERA), shown=replace(GOOD, camera_ahead_s=2))
    assert fact.camera_ahead_s == 2


@pytest.mark.parametrize("typed", ["", "8:05:30", "24:00:00", "08:60:00", "0805", "ab:cd:ef", "080530 "])
def test_time_that_is_none_is_refused(viewed: Shop, typed: str) -> None:
    examined = photographs.archive_of(viewed.work).examine(clock_picture(viewed, timedelta()), "clock.jpg")
    with pytest.raises(InputError, match="HH:MM:SS"):
        camera_clock.compare_clocks(viewed.work, examined, typed, "L2-A")


def test_picture_without_camera_or_time_compares_nothing(viewed: Shop) -> None:
    archive = photographs.archive_of(viewed.work)
    for content in (picture(taken=seen_at(viewed)), picture(camera=CAMERA)):
        with pytest.raises(InputError, match="names no camera, or no time"):
            camera_clock.compare_clocks(viewed.work, archive.examine(content, "a"), "08:00:00", "L2-A")


def test_hour_of_summer_time_is_named_among_the_ways_out(viewed: Shop) -> None:
    early = viewed.work.now().local - timedelta(hours=1)
    with pytest.raises(NotPermitted, match="not during the inspection") as refused:
        attach(viewed, picture(taken=f"{early:%Y:%m:%d %H:%M:%S}", camera=CAMERA))
    assert "1 h behind (summer time)" in " ".join(refused.value.answers[0].ways_out)
    with pytest.raises(NotPermitted) as refused:
        attach_photograph(viewed.work, "MT-001", picture("x", taken="2026:03:09 08:05:30"), "a.jpg", "L2-A")
    assert "summer time" not in " ".join(refused.value.answers[0].ways_out)


@pytest.mark.parametrize(
    ("seconds", "said"), [(0, "right"), (3, "3 s ahead"), (-3, "3 s behind"), (3600, "1:00:00 ahead")]
)
def test_difference_in_words(seconds: int, said: str) -> None:
    assert camera_clock.in_words(seconds) == said


def test_one_frame_that_shows_two_parts_stands_on_both_records_with_its_reason(viewed: Shop) -> None:
    content = big(viewed)
    attach(viewed, content)
    other_part(viewed)
    reason = "one frame shows both parts"
    said = replace(GOOD, taken_at=viewed.work.now(), reuse_reason=reason)
    fact = attach(viewed, content, inspection="MT-012", indication=None, shown=said)
    assert fact.reuse_reason == reason and len(files(viewed)) == 1
    for inspection in ("MT-001", "MT-012"):
        found = next(a for a in viewed.judge(inspection).answers if a.rule == "G25")
        assert found.verdict is Verdict.PASS, inspection
