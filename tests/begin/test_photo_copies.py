"""``ndi photo annotate``, ``erase``, ``export`` and ``clock`` at the terminal."""

from __future__ import annotations

import io
import os
import threading
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pydicom
import pytest
from PIL import Image

from ndi.domain import facts as f
from tests.begin.conftest import Run
from tests.begin.test_photo_command import add, book, card, name, taken
from tests.photo.picture_files import picture
from tests.services.shop import STATION, Shop

__all__ = ["book"]
BY = ("--by", "L2-A", "--station", STATION)


@pytest.fixture
def attached(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> str:
    """The hash of a photograph on MT-001."""
    assert add(ndi, book, card(tmp_path, "one"), taken(shop))[0] == 0
    return name(shop)


def test_drawn_listed_exported_and_erased(shop: Shop, book: Path, ndi: Run, tmp_path: Path, attached: str) -> None:
    said = ndi("photo", "annotate", book, attached[:12], "arrow", "10,10", "50,50", "--text", "crack tip", *BY)
    assert said.code == 0 and f'arrow "crack tip" drawn as {attached[:8]}/1' in said.out
    said = ndi("photo", "annotate", book, attached[:12], "scale-bar", "10,90", "60,90", "--length", "10 mm", *BY)
    assert said.code == 0 and "scale bar 10 mm drawn" in said.out
    assert f'{attached[:8]}/1: arrow "crack tip", drawn by L2-A' in ndi("photo", "show", book, attached[:12]).out
    said = ndi("photo", "export", book, attached[:12], tmp_path / "a.png", "--annotated")
    assert said.code == 0 and "2 annotations drawn in" in said.out
    plain = ndi("photo", "export", book, attached[:12], tmp_path / "b.png")
    assert plain.code == 0 and "pixels as in the original" in plain.out
    original = np.asarray(Image.open(io.BytesIO(picture("one"))))
    assert np.array_equal(np.asarray(Image.open(tmp_path / "b.png")), original)
    assert not np.array_equal(np.asarray(Image.open(tmp_path / "a.png")), original)
    assert b"crack tip" in (tmp_path / "a.png").read_bytes()  # also among the facts
    assert ndi("photo", "erase", book, attached[:12], f"{attached[:8]}/1", *BY).code == 0
    assert "crack tip" not in ndi("photo", "show", book, attached[:12]).out


def test_diconde_and_jpeg_by_their_endings_never_over_a_file(
    shop: Shop, book: Path, ndi: Run, tmp_path: Path, attached: str
) -> None:
    for ending in ("dcm", "jpg"):
        said = ndi("photo", "export", book, attached[:12], tmp_path / f"a.{ending}")
        assert (said.code, said.err) == (0, "")
        again = ndi("photo", "export", book, attached[:12], tmp_path / f"a.{ending}")
        assert again.code == 2 and "not overwritten" in again.err
    read = pydicom.dcmread(tmp_path / "a.dcm")
    assert "T6-10501" in read.PatientID and np.array_equal(
        read.pixel_array, np.asarray(Image.open(io.BytesIO(picture("one"))))
    )
    said = ndi("photo", "export", book, attached[:12], tmp_path / "a.gif")
    assert said.code == 2 and ".dcm (DICONDE)" in said.err and not (tmp_path / "a.gif").exists()
    said = ndi("photo", "export", book, attached[:12], tmp_path / "c.jpg", "--annotated")
    assert said.code == 2 and "is written as .png" in said.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("arrow", "10", "50,50"), "type percent"),
        (("arrow", "10,10"), "2 point"),
        (("scale-bar", "10,10", "50,50", "--length", "10"), "no unit"),
        (("scale-bar", "10,10", "50,50", "--length", "10 s"), "stands for a length"),
        (("circle", "x,10", "50,50"), "number"),
    ],
)
def test_what_cannot_be_drawn_is_said(book: Path, ndi: Run, attached: str, words: tuple[str, ...], says: str) -> None:
    said = ndi("photo", "annotate", book, attached[:12], *words, *BY)
    assert said.code == 2 and says in said.err and len(said.err.splitlines()) <= 2


def test_camera_clock_is_compared_at_the_terminal(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    """The command line runs on this machine's own clock."""
    now = datetime.now().astimezone()
    path = tmp_path / "clock.jpg"
    path.write_bytes(picture(taken=f"{now:%Y:%m:%d %H:%M:%S}", offset=f"{now:%z}"[:3] + ":00", camera=("Maker", "M3")))
    said = ndi("photo", "clock", book, path, "--shows", f"{now:%H:%M:%S}", *BY)
    assert said.code == 0 and "clock of Maker M3: right" in said.out
    fact = shop.facts(f.ProcessCheckRecorded, "Maker M3")[-1].fact
    assert fact.ahead is not None and fact.ahead.typed == "0"


def test_folder_stands_for_its_pictures(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    place = tmp_path / "card"
    place.mkdir()
    assert add(ndi, book, [place], taken(shop))[0] == 2
    for seed in ("b", "a"):
        (place / f"{seed}.jpg").write_bytes(picture(seed))
        os.utime(place / f"{seed}.jpg", (1_773_150_000,) * 2)
    (place / "notes.txt").write_text("no picture")
    code, out, _ = add(ndi, book, [place], taken(shop))
    assert code == 0 and [Path(line.partition(":")[0]).name for line in out.splitlines()] == ["a.jpg", "b.jpg"]


def test_watched_folder_attaches_what_arrives_and_says_what_it_refuses(
    shop: Shop, book: Path, ndi: Run, tmp_path: Path
) -> None:
    """While a camera writes one file bit by bit: it is attached whole, once; what is no picture is said and left."""
    place = tmp_path / "tethered"
    place.mkdir()
    at = datetime.fromisoformat(taken(shop)).astimezone(UTC)
    content = picture("arriving", taken=f"{at:%Y:%m:%d %H:%M:%S}", offset="+00:00", size=(400, 300))
    (place / "bad.jpg").write_bytes(b"no picture")

    def write() -> None:
        with (place / "a.jpg").open("wb") as file:
            for start in range(0, len(content), len(content) // 4):
                file.write(content[start : start + len(content) // 4])
                file.flush()
                threading.Event().wait(0.3)

    writer = threading.Thread(target=write)
    writer.start()
    words = ("--inspection", "MT-001", *BY, "--for", "4")
    said = ndi("photo", "watch", book, place, *words)
    writer.join()
    assert said.code == 1 and "a.jpg: attached, entry" in said.out and "1 attached, 1 refused" in said.out
    assert "not attached: bad.jpg is no picture" in said.out and said.out.count("not attached") == 1
    assert shop.facts(f.PhotoAttached)[0].fact.size == len(content)
    again = ndi("photo", "watch", book, place, *words[:-1], "1.5")
    assert "0 attached" in again.out
    assert sorted(path.name for path in place.iterdir()) == ["a.jpg", "bad.jpg"]
    assert ndi("photo", "watch", book, tmp_path / "none", *words).code == 2
