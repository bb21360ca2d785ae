"""``ndi photo``, and photographs in ``ndi verify``, ``ndi backup`` and ``ndi restore``."""

from __future__ import annotations

from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.photo.archive import FolderArchive
from tests.begin.conftest import Run
from tests.photo.picture_files import picture
from tests.services.shop import GEAR, GEAR_SHEET, STATION, Shop


@pytest.fixture
def book(shop: Shop, tmp_path: Path) -> Path:
    """Gear MT-001, its view from 07:53 to 08:03 over."""
    shop.play(s for s in shop.magnetic_steps("MT-001", shop.receive(GEAR, "CG-1"), GEAR_SHEET) if s.seconds <= 780)
    return tmp_path / "book" / "shop.book"


def taken(shop: Shop) -> str:
    """With its zone: the command line runs on this machine's own clock."""
    return shop.facts(f.ViewEnded, "MT-001/view")[0].at.isoformat()


def card(tmp_path: Path, *seeds: str) -> list[Path]:
    found = []
    for seed in seeds:
        path = tmp_path / f"{seed}.jpg"
        path.write_bytes(picture(seed))
        found.append(path)
    return found


def add(ndi: Run, book: Path, files: list[Path], when: str) -> tuple[int, str, str]:
    said = ndi(
        "photo", "add", book, *files, "--inspection", "MT-001", "--by", "L2-A", "--taken", when, "--station", STATION
    )
    return said.code, said.out, said.err


def name(shop: Shop, number: int = -1) -> str:
    return shop.facts(f.PhotoAttached)[number].fact.sha256


def archive(shop: Shop) -> FolderArchive:
    assert isinstance(shop.work.photographs, FolderArchive)
    return shop.work.photographs


def original(shop: Shop, sha256: str) -> Path:
    path = archive(shop).folder / sha256[:2] / sha256
    path.chmod(0o644)
    return path


def test_files_are_attached_shown_and_written_out_again(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    files = card(tmp_path, "one", "two")
    code, out, err = add(ndi, book, files, taken(shop))
    assert (code, err) == (0, "") and out.count("attached to MT-001") == 2
    sha256 = name(shop, 0)
    said = ndi("photo", "show", book, sha256[:12], "--out", tmp_path / "again.jpg")
    assert said.code == 0 and "48 x 32 pixels" in said.out and "of MT-001" in said.out
    assert (tmp_path / "again.jpg").read_bytes() in [path.read_bytes() for path in files]
    said = ndi("photo", "show", book, sha256[:12], "--out", tmp_path / "again.jpg")
    assert said.code == 2 and "not overwritten" in said.err
    said = ndi("photo", "verify", book)
    assert (said.code, said.out) == (0, "2 photographs whole, 0 missing, 0 changed.\n")


def test_one_file_that_is_no_picture_attaches_none_of_them(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    files = card(tmp_path, "one", "two")
    files[1].write_bytes(b"no picture")
    code, out, err = add(ndi, book, files, taken(shop))
    assert (code, out) == (2, "") and "two.jpg is no picture" in err and len(err.splitlines()) == 1
    assert shop.facts(f.PhotoAttached) == [] and not archive(shop).folder.exists()


@pytest.mark.parametrize("when", ["yesterday", "9999-12-31T23:59:59", "0001-01-01T00:00:00", "2026-03-09T08:00:00"])
def test_time_that_cannot_be_is_refused(shop: Shop, book: Path, ndi: Run, tmp_path: Path, when: str) -> None:
    code, out, err = add(ndi, book, card(tmp_path, "one"), when)
    assert code in (1, 2) and out == "" and err.startswith("ndi: ")
    assert shop.facts(f.PhotoAttached) == []


@pytest.mark.parametrize("loss", ["missing", "changed"])
def test_lost_photograph_is_named_by_verify_and_comes_back_from_the_backup(
    shop: Shop, book: Path, ndi: Run, tmp_path: Path, loss: str
) -> None:
    add(ndi, book, card(tmp_path, "one"), taken(shop))
    sha256 = name(shop)
    said = ndi("backup", book, tmp_path / "away", "--station", STATION)
    assert said.code == 0 and "photographs: 1 copied" in said.out
    path = original(shop, sha256)
    content = path.read_bytes()
    if loss == "missing":
        path.unlink()
    else:
        path.write_bytes(b"rot" + content[3:])
    for command in (("verify", book), ("photo", "verify", book)):
        said = ndi(*command)
        assert said.code == 3 and f"{loss}: {sha256}" in said.out and "NOT RECORDED" in said.out
    said = ndi("photo", "show", book, sha256)
    assert said.code == 3 and "backup" in said.err
    (copy,) = (tmp_path / "away").glob("*.book")
    said = ndi("restore", copy, tmp_path / "new" / "shop.book", "--keys", bootstrap.key_folder(book))
    assert said.code == 0 and "photographs: 1 whole, 0 missing" in said.out
    restored = tmp_path / "new" / "shop-photographs" / sha256[:2] / sha256
    assert restored.read_bytes() == content
    said = ndi("verify", tmp_path / "new" / "shop.book")
    assert said.code == 0 and "1 photographs whole" in said.out


def test_photograph_that_the_backup_disk_spoils_is_not_called_copied(
    shop: Shop, book: Path, ndi: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is written is read again before it gets its name."""
    from ndi.store import backup

    add(ndi, book, card(tmp_path, "one"), taken(shop))
    monkeypatch.setattr(backup.shutil, "copyfileobj", lambda source, target: target.write(b"something else"))
    said = ndi("backup", book, tmp_path / "away", "--station", STATION)
    assert said.code == 3 and "is not what was copied" in said.err
    assert not [path for path in (tmp_path / "away").rglob("*") if path.is_file()]


def test_files_without_an_entry_are_kept_and_said(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    """A program that ended between file and entry: lawful, and the same photograph can be attached."""
    sha256 = archive(shop).keep(picture("one"))
    unfinished = archive(shop).folder / sha256[:2] / ".half.unfinished"
    unfinished.write_bytes(b"half")
    said = ndi("verify", book)
    assert said.code == 0 and "1 files that no entry names: kept" in said.out and "1 files that were never" in said.out
    said = ndi("photo", "verify", book, "--sweep")
    assert said.code == 0 and "0 unfinished files thrown away" in said.out and unfinished.exists()
    code, _, _ = add(ndi, book, card(tmp_path, "one"), taken(shop))
    assert code == 0 and name(shop) == sha256


def test_photograph_that_was_only_described_is_said_so(shop: Shop, book: Path, ndi: Run) -> None:
    with shop.work.transaction() as session:
        from ndi.domain.entry import Draft

        session.append([Draft(f.PhotoAttached("MT-001", "ab" * 32, shop.work.now()), shop.work.now(), "L2-A")])
    said = ndi("photo", "show", book, "abab")
    assert said.code == 0 and "never put into the archive" in said.out
    assert ndi("verify", book).code == 0
