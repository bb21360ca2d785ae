"""A large photograph taken in: ours against the general picture library alone doing the same reads; memory; lengths known to be true."""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from ndi.photo.archive import FolderArchive
from ndi.photo.reader import Reader
from tests.bench.measures import Line, turns
from tests.photo import scene, test_card

WIDTH, HEIGHT = 6000, 4000
EDGE = 512
MANY = 100
CASES = 400


@cache
def large() -> bytes:
    """24 million pixels from a camera over a card; enlarged from a quarter, with the scatter of a camera at full size."""
    chance = np.random.default_rng(24)
    size = (WIDTH // 4, HEIGHT // 4)
    grey = scene.photograph("M", scene.over("M", chance, size, tilt=20), chance, blur=0.6, noise=0)
    full = cv2.resize(grey, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC).astype(np.int16)
    full += np.round(chance.standard_normal((HEIGHT, WIDTH), dtype=np.float32) * 2).astype(np.int16)
    out = io.BytesIO()
    Image.fromarray(np.clip(full, 0, 255).astype(np.uint8)).convert("RGB").save(out, "JPEG", quality=92)
    return out.getvalue()


def taken_in(archive: FolderArchive, content: bytes) -> Any:
    """What attaching does with a file: looked at whole, kept, made small, card and code read."""
    archive.examine(content, "a.jpg")
    sha256 = archive.keep(content)
    read = Reader().read(content)
    archive.thumbnail(sha256, EDGE)
    return read


def bare(content: bytes, target: Path) -> Any:
    """The same reads by the library alone: decoded once, made small, marks, code; the file written and flushed by nobody."""
    colour = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)
    grey = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY)
    small = cv2.resize(colour, (EDGE, EDGE * HEIGHT // WIDTH), interpolation=cv2.INTER_AREA)
    target.write_bytes(cv2.imencode(".jpg", small)[1].tobytes())
    target.with_suffix(".kept").write_bytes(content)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    marks = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    return marks[1], cv2.QRCodeDetector().detectAndDecode(grey)[0]


def photographs() -> list[Line]:
    """One large photograph, a hundred of them, and many small ones of known lengths."""
    content = large()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)

        def ours() -> Any:
            archive = FolderArchive(place / "a", place / "t", lambda _: None)
            read = taken_in(archive, content)
            for path in [*place.rglob("*")]:
                if path.is_file():
                    path.chmod(0o644)
                    path.unlink()
            return read

        read, (marks, text) = ours(), bare(content, place / "small.jpg")
        found = f"{len(read.cards[0].marks) if read.cards else 0} marks and {len(read.codes)} code"
        theirs = f"{0 if marks is None else len(marks)} marks and {1 if text else 0} code"
        one, floor = turns(5, ours, lambda: bare(content, place / "small.jpg"))
    return [
        Line(
            f"photograph of {WIDTH * HEIGHT // 10**6} MP in, small one made, card and code read",
            "photograph",
            one,
            floor,
            1.5,
            f"{found}, file kept and read whole; the floor: OpenCV alone, {theirs}",
        ),
        _memory(),
        _lengths(),
    ]


def _memory() -> Line:
    run = subprocess.run([sys.executable, "-m", "tests.bench.photographs"], capture_output=True, text=True, check=True)
    warm, after = (int(word) for word in run.stdout.split())
    note = f"{warm / 2**20:.0f} MB after 5, {after / 2**20:.0f} MB after {MANY + 5}"
    return Line(f"memory grown by {MANY} such photographs, for each", "bytes", max(0, after - warm) / MANY, note=note)


def _lengths() -> Line:
    import time

    begun = time.perf_counter()
    cases = [test_card.one(number) for number in range(10_000, 10_000 + CASES)]
    spent = (time.perf_counter() - begun) / CASES
    found = [case for case in cases if case is not None]
    inside = sum(abs(value - true) <= half for true, value, half in found)
    wide = float(np.median([half / true for true, _, half in found]))
    note = (
        f"made and measured; {inside} of {len(found)} true lengths within the stated uncertainty "
        f"({100 * inside / len(found):.1f} %), which is {100 * wide:.1f} % of the length at the median; "
        f"{CASES - len(found)} of {CASES} without a card or with the line outside the picture"
    )
    return Line("length off a photograph of known geometry", "photograph", spent, note=note)


def _resident() -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) * 1024
    raise OSError("this system does not tell what a program holds")


def grown(many: int, content: bytes) -> tuple[int, int]:
    """Memory held after five photographs, and after ``many`` more."""
    with tempfile.TemporaryDirectory() as folder:
        archive = FolderArchive(Path(folder) / "a", Path(folder) / "t", lambda _: None)
        held = []
        for number in range(5 + many):
            # a byte behind the end of the picture makes it another file
            taken_in(archive, content + bytes([number % 256, number // 256]))
            if number in (4, 4 + many):
                held.append(_resident())
    return held[0], held[-1]


if __name__ == "__main__":
    print(*grown(MANY, large()))
