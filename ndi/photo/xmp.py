"""The record facts of a photograph as XMP (ISO 16684-1), put into a copy of its file; not one byte of its picture changes.

JPEG: an APP1 segment behind the first ones (XMP specification, part 3, 1.1.3);
PNG: an iTXt chunk before the picture (1.1.5).  Other forms are written as PNG
with the same pixels, where PNG has them.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from xml.sax.saxutils import escape

from ndi.domain.errors import InputError
from ndi.domain.image_facts import ImageFacts
from ndi.photo.pictures import decoded

NAMESPACE = "urn:ndi-record-book:photograph:1"  # ours; the other names are those of XMP and Dublin Core
_SIGN = b"http://ns.adobe.com/xap/1.0/\0"  # the standard's own sign of the segment
_START, _APP0, _APP1, _PNG = b"\xff\xd8", 0xE0, 0xE1, b"\x89PNG\r\n\x1a\n"
_KEYWORD = b"XML:com.adobe.xmp"
_MOST = 65_535 - 2
_PNG_MODES = ("1", "L", "LA", "I", "I;16", "P", "RGB", "RGBA")


def with_xmp(content: bytes, facts: ImageFacts, media_type: str, form: str) -> bytes:
    """A copy as ``JPEG`` or ``PNG`` with the facts in it; InputError where that form cannot hold the same pixels."""
    packet = xmp_packet(facts)
    if form == "JPEG":
        if media_type != "image/jpeg":
            raise InputError(f"{facts.original_name} is no JPEG: write it as .png, which keeps every pixel as it is")
        return _in_jpeg(content, packet)
    return _in_png(content if media_type == "image/png" else _as_png(content, facts.original_name), packet)


def xmp_packet(facts: ImageFacts) -> bytes:
    """The packet, read-only."""
    about = f"{facts.component}: {facts.inspection}"
    simple = {
        "xmp:CreateDate": facts.taken_at.local.isoformat(),
        "dc:identifier": f"sha256:{facts.sha256}",
        "dc:source": facts.original_name,
    }
    ours = {
        name: getattr(facts, name)
        for name in (
            *("book", "shop", "head", "inspection", "work_order", "engine", "part_no", "item", "description"),
            *("materials", "alloy", "method", "procedure", "technique", "inspector", "certificate", "attached_by"),
            *("station", "camera", "light"),
        )
    }
    ours["entry"] = str(facts.entry)
    if facts.camera_ahead_s is not None:
        ours["camera_ahead_s"] = str(facts.camera_ahead_s)
    lists = {"measured": facts.measured, "drawn": facts.drawn, "second_looks": facts.second_looks}
    lists["indications"] = tuple(
        ", ".join(filter(None, (i.name, i.description, i.type, i.disposition))) for i in facts.indications
    )
    lines = [
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>',
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">',
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"'
        f' xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:ndi="{NAMESPACE}">',
        f'<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{_safe(about)}</rdf:li></rdf:Alt></dc:description>',
        *(f"<{name}>{_safe(text)}</{name}>" for name, text in simple.items() if text),
        *(f"<ndi:{name}>{_safe(text)}</ndi:{name}>" for name, text in ours.items() if text),
    ]
    for name, texts in lists.items():
        if texts:
            items = "".join(f"<rdf:li>{_safe(text)}</rdf:li>" for text in texts)
            lines.append(f"<ndi:{name}><rdf:Seq>{items}</rdf:Seq></ndi:{name}>")
    lines += ["</rdf:Description></rdf:RDF></x:xmpmeta>", '<?xpacket end="r"?>']
    return "\n".join(lines).encode()


def _safe(text: str) -> str:
    return escape("".join(c for c in text if c.isprintable() or c == "\n"))


def _in_jpeg(content: bytes, packet: bytes) -> bytes:
    """Behind JFIF and Exif; an XMP packet that was there is left out of the copy, since there may be only one."""
    body = _SIGN + packet
    if len(body) > _MOST:
        raise InputError("the facts of this photograph are too long for a JPEG: write it as .png")
    segment = b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body
    first: list[bytes] = []
    others: list[bytes] = []
    picture = len(_START)
    for marker, start, end in _segments(content):
        piece, picture = content[start:end], end
        if marker == _APP1 and piece[4:].startswith(_SIGN):
            continue
        is_first = marker == _APP0 or (marker == _APP1 and piece[4:].startswith(b"Exif\0"))
        (first if is_first and not others else others).append(piece)
    return b"".join([_START, *first, segment, *others, content[picture:]])


def _segments(content: bytes) -> Iterator[tuple[int, int, int]]:
    """The marker segments before the picture begins: marker, start, end (ITU-T T.81, B.1.1.4)."""
    at = 2
    while at + 4 <= len(content) and content[at] == 0xFF and content[at + 1] in range(_APP0, 0xF0):
        end = at + 2 + int.from_bytes(content[at + 2 : at + 4], "big")
        yield content[at + 1], at, end
        at = end


def _in_png(content: bytes, packet: bytes) -> bytes:
    """Behind the header chunk; an XMP packet that was there is left out of the copy."""
    chunks, at = [], len(_PNG)
    while at + 8 <= len(content):
        size, kind = int.from_bytes(content[at : at + 4], "big"), content[at + 4 : at + 8]
        chunk, at = content[at : at + 12 + size], at + 12 + size
        if not (kind == b"iTXt" and chunk[8:].startswith(_KEYWORD + b"\0")):
            chunks.append(chunk)
        if kind == b"IEND":
            break
    body = b"iTXt" + _KEYWORD + b"\0\0\0\0\0" + packet
    ours = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    return b"".join([_PNG, chunks[0], ours, *chunks[1:], content[at:]])


def _as_png(content: bytes, name: str) -> bytes:
    image = decoded(content)
    if image.mode not in _PNG_MODES:
        raise InputError(
            f"{name} has pixels ({image.mode}) that PNG cannot hold as they are: write the original with ndi photo show --out"
        )
    out = io.BytesIO()
    exif = image.getexif().tobytes() if len(image.getexif()) else None
    image.save(out, "PNG", **({"exif": exif} if exif else {}))
    return out.getvalue()
