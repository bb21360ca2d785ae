"""Picture files made here: every form and depth that a camera, scanner or stranger may bring."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib

from PIL import Image

ORIGINAL_TIME, ORIGINAL_OFFSET, MAKE, MODEL, ORIENTATION, EXIF_IFD = 0x9003, 0x9011, 0x010F, 0x0110, 0x0112, 0x8769


def picture(
    seed: str = "one",
    form: str = "JPEG",
    mode: str = "RGB",
    size: tuple[int, int] = (48, 32),
    *,
    taken: str | None = None,
    offset: str | None = None,
    camera: tuple[str, str] | None = None,
    orientation: int | None = None,
) -> bytes:
    """A small picture, another one for every ``seed``, with what its camera may write."""
    noise = Image.frombytes("L", (32, 1), hashlib.sha256(seed.encode()).digest()).resize(size)
    image = (
        noise if mode == "L" else _deep(noise, mode) if mode in ("I;16", "F") else noise.convert("RGB").convert(mode)
    )
    exif = Image.Exif()
    detail = exif.get_ifd(EXIF_IFD)
    for tag, value in ((ORIGINAL_TIME, taken), (ORIGINAL_OFFSET, offset)):
        if value is not None:
            detail[tag] = value
    for tag, name in zip((MAKE, MODEL), camera or (), strict=False):
        exif[tag] = name
    if orientation is not None:
        exif[ORIENTATION] = orientation
    out = io.BytesIO()
    image.save(
        out,
        form,
        **({"exif": exif.tobytes()} if form in ("JPEG", "PNG", "TIFF", "WEBP") and (len(exif) or detail) else {}),
    )
    return out.getvalue()


def _deep(noise: Image.Image, mode: str) -> Image.Image:
    """Grey levels of 12 bits in a picture of 16, as technical cameras write them."""
    levels = [level * 16 for level in noise.tobytes()]
    if mode == "F":
        return noise.convert("F")
    return Image.frombytes("I;16", noise.size, struct.pack(f"<{len(levels)}H", *levels))


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says it has so many pixels (ISO/IEC 15948, 11.2.2)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
