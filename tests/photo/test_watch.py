"""The folder of a camera: whole pictures only, whatever writes them, with clocks that the test sets."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from ndi.domain.errors import InputError
from ndi.photo import watch
from ndi.photo.watch import MOST_FILES, SETTLED_S, WatchedFolder, keep_in
from ndi.store.host import flush_folder
from tests.photo.picture_files import picture

NOW = 1_773_150_000.0  # seconds since 1970, on the day of the demonstration


class Clocks:
    def __init__(self) -> None:
        self.steady, self.wall = 100.0, NOW

    def on(self, seconds: float) -> None:
        self.steady += seconds
        self.wall += seconds


@pytest.fixture
def clocks() -> Clocks:
    return Clocks()


@pytest.fixture
def folder(tmp_path: Path, clocks: Clocks) -> WatchedFolder:
    (tmp_path / "in").mkdir()
    return WatchedFolder(tmp_path / "in", lambda: clocks.steady, lambda: clocks.wall)


def written(folder: WatchedFolder, clocks: Clocks, name: str, content: bytes) -> None:
    path = folder.folder / name
    path.write_bytes(content)
    os.utime(path, (clocks.wall, clocks.wall))


def names(folder: WatchedFolder) -> list[str]:
    return [file.name for file in folder.files()]


def test_file_is_offered_when_it_stands_still_and_not_before(folder: WatchedFolder, clocks: Clocks) -> None:
    """Just inside, exactly on and just outside the time that a file stands still."""
    content = picture()
    for end in (0, 10, 200, len(content)):
        written(folder, clocks, "a.jpg", content[:end])
        assert names(folder) == [] and folder.arriving == 1
        clocks.on(SETTLED_S * 0.9)
        assert names(folder) == []
    clocks.on(SETTLED_S * 0.1 - 0.001)
    assert names(folder) == []
    clocks.on(0.001)
    assert names(folder) == ["a.jpg"] and folder.arriving == 0
    (file,) = folder.files()
    assert (file.size, file.path) == (len(content), folder.folder / "a.jpg")
    assert file.changed.timestamp() == pytest.approx(clocks.wall - SETTLED_S, abs=0.2)


def test_picture_that_lay_there_before_is_offered_at_once(folder: WatchedFolder, clocks: Clocks) -> None:
    written(folder, clocks, "old.png", picture(form="PNG"))
    clocks.on(watch.LEFT_ALONE_S)
    assert names(folder) == ["old.png"]


def test_same_size_written_anew_is_seen_by_its_time(folder: WatchedFolder, clocks: Clocks) -> None:
    written(folder, clocks, "a.jpg", b"x" * 100)
    clocks.on(10)
    assert names(folder) == ["a.jpg"]
    written(folder, clocks, "a.jpg", b"y" * 100)
    assert names(folder) == []
    clocks.on(SETTLED_S)
    names(folder)
    assert names(folder) == ["a.jpg"] or (clocks.on(SETTLED_S) or names(folder) == ["a.jpg"])


def test_empty_file_is_never_offered(folder: WatchedFolder, clocks: Clocks) -> None:
    written(folder, clocks, "a.jpg", b"")
    clocks.on(1000)
    assert names(folder) == [] and folder.arriving == 1


def test_what_is_no_picture_by_its_name_is_passed_over(folder: WatchedFolder, clocks: Clocks) -> None:
    for name in ("a.txt", "a.jpg.part", ".a.jpg", "~a.jpg", "a"):
        written(folder, clocks, name, b"x")
    (folder.folder / "sub.jpg").mkdir()
    os.symlink(folder.folder / "nowhere", folder.folder / "b.jpg")
    clocks.on(1000)
    assert names(folder) == [] and folder.arriving == 0


def test_newest_first_and_no_more_than_a_person_looks_through(folder: WatchedFolder, clocks: Clocks) -> None:
    for n in range(MOST_FILES + 5):
        written(folder, clocks, f"{n:03}.jpg", b"x")
        clocks.on(1)
    clocks.on(10)
    found = names(folder)
    assert found[0] == f"{MOST_FILES + 4:03}.jpg" and len(found) == MOST_FILES


def test_folder_that_comes_goes_and_is_none(tmp_path: Path, clocks: Clocks) -> None:
    """A card that is pulled out, a folder that is made later, a file of that name."""
    place = tmp_path / "card"
    folder = WatchedFolder(place, lambda: clocks.steady, lambda: clocks.wall)
    assert names(folder) == []
    place.mkdir()
    written(folder, clocks, "a.jpg", b"x")
    clocks.on(10)
    assert names(folder) == ["a.jpg"]
    (place / "a.jpg").unlink()
    assert names(folder) == []
    place.rmdir()
    assert names(folder) == []
    place.write_bytes(b"")
    assert names(folder) == []


def test_clock_of_the_station_set_back_offers_nothing_early(folder: WatchedFolder, clocks: Clocks) -> None:
    written(folder, clocks, "a.jpg", b"x")
    clocks.wall -= 3600
    assert names(folder) == []
    clocks.steady += SETTLED_S
    assert names(folder) == ["a.jpg"]


# --- frames that are kept -------------------------------------------------------------------------


def test_frame_is_kept_whole_and_never_over_another(tmp_path: Path) -> None:
    place = tmp_path / "new" / "in"
    found = [keep_in(place, "frame-1", content, flush_folder) for content in (b"one", b"two", b"three")]
    assert [path.read_bytes() for path in found] == [b"one", b"two", b"three"]
    assert sorted(path.name for path in place.iterdir()) == ["frame-1-2.png", "frame-1-3.png", "frame-1.png"]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_frame_that_cannot_be_kept_leaves_nothing_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, step, fail)
    with pytest.raises(InputError, match=r"No space left.*take it again"):
        keep_in(tmp_path, "frame-1", b"one", flush_folder)
    assert list(tmp_path.iterdir()) == []
