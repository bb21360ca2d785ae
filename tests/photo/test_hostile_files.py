"""Files made to hurt: two kinds in one, Exif that is huge or goes round, text that unpacks without end; taken as they are, or refused."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Callable

import pytest
from PIL import Image

from ndi.domain.errors import InputError
from ndi.photo import drawn, pictures
from ndi.photo.archive import FolderArchive
from tests.photo.picture_files import picture

PNG_SIGN = 8 + 25  # the sign and the header chunk of a PNG


def zipped() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("run.sh", "echo hurt")
    return out.getvalue()


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
@pytest.mark.parametrize("tail", [zipped(), b"<script>alert(1)</script>", b"%PDF-1.7\n", bytes(100_000)])
def test_file_that_is_also_something_else_is_kept_as_it_is_and_is_only_a_picture(form: str, tail: bytes) -> None:
    """Cameras put previews and maker's data behind the end mark, so that bytes behind it are no fault."""
    content = picture(form=form) + tail
    found = pictures.examine(content, "a.jpg")
    assert (found.media_type, found.size) == (f"image/{form.lower()}", len(content))
    assert Image.open(io.BytesIO(pictures.small(content, 24))).size == (24, 16)


def test_picture_behind_something_else_is_refused() -> None:
    with pytest.raises(InputError, match="no picture that can be read"):
        pictures.examine(zipped() + picture(), "a.jpg")


def huge_exif() -> bytes:
    """A user comment of as many bytes as an APP1 segment holds."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9286] = b"A" * 64_000
    exif.get_ifd(0x8769)[0x9003] = "2026:03:10 08:05:30"
    out = io.BytesIO()
    Image.new("RGB", (48, 32), "grey").save(out, "JPEG", exif=exif.tobytes())
    return out.getvalue()


def exif_that_goes_round() -> bytes:
    """An IFD whose next IFD, and whose Exif IFD, is itself (TIFF 6.0, section 2)."""
    ifd = struct.pack("<H", 1) + struct.pack("<HHII", 0x8769, 4, 1, 8) + struct.pack("<I", 8)
    body = b"Exif\0\0" + b"II*\0" + struct.pack("<I", 8) + ifd
    content = picture()
    return content[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + content[2:]


def exif_that_points_out() -> bytes:
    """Values that lie beyond the end of the file, and more of them than there are bytes."""
    entries = b"".join(struct.pack("<HHII", tag, 2, 0xFFFFFFF0, 0xFFFFFF00) for tag in (0x010F, 0x0110, 0x0132))
    body = b"Exif\0\0" + b"II*\0" + struct.pack("<I", 8) + struct.pack("<H", 0xFFFF) + entries
    content = picture()
    return content[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + content[2:]


@pytest.mark.parametrize("make", [huge_exif, exif_that_goes_round, exif_that_points_out])
def test_exif_that_is_made_to_hurt_says_nothing_and_hides_nothing(make: Callable[[], bytes]) -> None:
    content = make()
    found = pictures.examine(content, "a.jpg")
    assert (found.width, found.height) == (48, 32)
    assert found.camera_time in (None, "2026-03-10T08:05:30")
    assert pictures.small(content, 16) and drawn.drawn(content, (), 16)


def text_bomb() -> bytes:
    """A hundred megabytes of text in a PNG of a hundred kilobytes (ISO/IEC 15948, 11.3.4.3)."""
    content = picture(form="PNG")
    body = b"Comment\0\0" + zlib.compress(bytes(100_000_000), 9)
    return content[:PNG_SIGN] + chunk(b"zTXt", body) + content[PNG_SIGN:]


def profile_bomb() -> bytes:
    content = picture(form="PNG")
    body = b"icc\0\0" + zlib.compress(bytes(100_000_000), 9)
    return content[:PNG_SIGN] + chunk(b"iCCP", body) + content[PNG_SIGN:]


@pytest.mark.parametrize("make", [text_bomb, profile_bomb])
def test_text_that_unpacks_without_end_is_refused_or_left_packed(make: Callable[[], bytes]) -> None:
    content = make()
    assert len(content) < 200_000
    try:
        found = pictures.examine(content, "a.png")
    except InputError as error:
        assert str(error).startswith("a.png ") and len(str(error).splitlines()) == 1
    else:
        assert (found.width, found.height) == (48, 32)


def test_hostile_bytes_are_kept_untouched_and_never_run(tmp_path: object) -> None:
    from pathlib import Path

    assert isinstance(tmp_path, Path)
    archive = FolderArchive(tmp_path / "photos", tmp_path / "small", lambda _: None)
    content = picture() + zipped()
    sha256 = archive.keep(content)
    assert archive.original(sha256) == content
    (place,) = [path for path in (tmp_path / "photos").rglob("*") if path.is_file()]
    assert place.suffix == "" and not place.stat().st_mode & 0o111
