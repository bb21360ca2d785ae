"""The archive keeps bytes as they came, under their hash, durably, and says what is missing or changed."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from pathlib import Path
from typing import Any

import pytest

from ndi.domain.errors import InputError, NotFound, StoreError
from ndi.photo import archive as archives
from ndi.photo.archive import FolderArchive
from ndi.store.host import flush_folder
from tests.photo.picture_files import picture

ONE, TWO = picture("one"), picture("two")


def name(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


@pytest.fixture
def archive(tmp_path: Path) -> FolderArchive:
    return FolderArchive(tmp_path / "photographs", tmp_path / "thumbnails", flush_folder)


def place(archive: FolderArchive, content: bytes) -> Path:
    return archive.folder / name(content)[:2] / name(content)


def put_wrong(archive: FolderArchive, content: bytes, wrong: bytes) -> None:
    """Other bytes under the name of ``content``, as a failing disk or a hand would leave them."""
    path = place(archive, content)
    path.chmod(0o644)
    path.write_bytes(wrong)


def test_bytes_come_back_as_they_were_under_their_hash(archive: FolderArchive) -> None:
    assert archive.keep(ONE) == name(ONE)
    assert place(archive, ONE).read_bytes() == ONE == archive.original(name(ONE))
    assert archive.holds(name(ONE)) and not archive.holds(name(TWO))
    assert not place(archive, ONE).stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
    assert archive.keep(ONE) == name(ONE)  # again: nothing twice
    assert archive.check([name(ONE)]) == archives.ArchiveCheck((name(ONE),), (), (), (), ())


def test_steps_come_in_the_order_that_survives_a_power_cut(
    archive: FolderArchive, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written and flushed under another name, then renamed, then the folder flushed; the new folders before that."""
    steps: list[str] = []
    fsync, replace = os.fsync, os.replace

    def watched_fsync(handle: int) -> None:
        steps.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else f"file {os.fstat(handle).st_size}")
        fsync(handle)

    def watched_replace(source: Any, target: Any) -> None:
        assert Path(source).parent == Path(target).parent
        steps.append("rename")
        replace(source, target)

    monkeypatch.setattr(os, "fsync", watched_fsync)
    monkeypatch.setattr(os, "replace", watched_replace)
    archive.keep(ONE)
    assert steps == ["folder", "folder", f"file {len(ONE)}", "rename", "folder"]
    steps.clear()
    archive.keep(ONE)
    assert steps == ["folder"]  # who put it there may have ended before its folder was flushed


@pytest.mark.parametrize("step", ["mkdir", "open", "fsync", "replace", "flush"])
def test_failure_at_any_step_is_said_and_leaves_no_half_file(
    archive: FolderArchive, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        if step in ("mkdir", "open"):
            patch.setattr(Path, step, fail)
        elif step == "flush":
            patch.setattr(archive, "_flush_folder", fail)
        else:
            patch.setattr(os, step, fail)
        with pytest.raises(StoreError, match=r"No space left.*nothing was attached"):
            archive.keep(ONE)
    found = archive.check([])
    assert not found.unfinished
    assert archive.keep(ONE) == name(ONE)
    assert archive.original(name(ONE)) == ONE


def test_file_that_is_not_what_it_was_is_seen_and_put_right_by_the_same_photograph(archive: FolderArchive) -> None:
    archive.keep(ONE)
    assert archive.holds(name(ONE))
    put_wrong(archive, ONE, ONE[:-1] + b"\0")
    assert not archive.holds(name(ONE))
    with pytest.raises(StoreError, match="not what it was"):
        archive.original(name(ONE))
    assert archive.check([name(ONE)]).changed == (name(ONE),)
    archive.keep(ONE)
    assert archive.original(name(ONE)) == ONE and archive.check([name(ONE)]).ok


def test_change_that_hides_its_time_is_found_when_all_is_read_again(archive: FolderArchive) -> None:
    """A disk that forgets changes no time: what was seen whole is believed until somebody verifies."""
    archive.keep(ONE)
    assert archive.holds(name(ONE))
    path = place(archive, ONE)
    archive._seen_whole[name(ONE)] = _state_after(path, lambda: put_wrong(archive, ONE, ONE[:-1] + b"\0"))
    assert archive.holds(name(ONE))
    assert archive.check([name(ONE)]).changed == (name(ONE),)


def _state_after(path: Path, change: Any) -> tuple[int, ...]:
    change()
    found = path.stat()
    return (found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino)


def test_missing_file_and_file_without_entry_are_told_apart(archive: FolderArchive) -> None:
    archive.keep(ONE)
    found = archive.check([name(TWO)])
    assert (found.missing, found.without_entry, found.ok) == ((name(TWO),), (name(ONE),), False)
    with pytest.raises(NotFound, match="backup"):
        archive.original(name(TWO))
    assert archive.check([]).ok  # a file that no entry names does no harm


def test_only_unfinished_files_of_long_ago_are_swept(archive: FolderArchive) -> None:
    archive.keep(ONE)
    folder = place(archive, ONE).parent
    old, new = folder / f".{name(TWO)}-a.unfinished", folder / f".{name(TWO)}-b.unfinished"
    for path in (old, new):
        path.write_bytes(b"half")
    os.utime(old, (1000, 1000))
    os.utime(place(archive, ONE), (1000, 1000))
    assert archive.check([]).unfinished == (old, new)
    assert archive.sweep(before=2000) == 1
    assert not old.exists() and new.exists() and archive.holds(name(ONE))


@pytest.mark.parametrize("wrong", ["", "ab", "../../etc/passwd", "AB" * 32, "g" * 64, "a" * 65, "a" * 63 + "\n"])
def test_name_that_is_no_hash_reaches_no_file(archive: FolderArchive, wrong: str) -> None:
    assert not archive.holds(wrong)
    with pytest.raises(InputError):
        archive.original(wrong)
    with pytest.raises(InputError):
        archive.thumbnail(wrong, 16)


def test_small_pictures_lie_apart_and_can_be_thrown_away(archive: FolderArchive) -> None:
    archive.keep(ONE)
    made = archive.thumbnail(name(ONE), 16)
    kept = list(archive.thumbnails.rglob("*.jpg"))
    assert len(kept) == 1 and kept[0].read_bytes() == made == archive.thumbnail(name(ONE), 16)
    assert [p for p in archive.folder.rglob("*") if p.is_file()] == [place(archive, ONE)]
    kept[0].unlink()
    assert archive.thumbnail(name(ONE), 16) == made


def test_small_picture_comes_also_where_it_cannot_be_kept(
    archive: FolderArchive, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive.keep(ONE)

    def full(*_: Any, **__: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert archive.thumbnail(name(ONE), 16).startswith(b"\xff\xd8")


def test_file_to_read_is_a_file_of_some_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.jpg"
    for wrong in (path, tmp_path):
        with pytest.raises(InputError, match="is no file"):
            archives.read_file(wrong)
    path.write_bytes(ONE)
    assert archives.read_file(path) == ONE
    monkeypatch.setattr(archives.pictures, "MOST_BYTES", len(ONE) - 1)
    with pytest.raises(InputError, match="more than"):
        archives.read_file(path)
