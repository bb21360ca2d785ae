"""Check code and QR text of a printed tag.

Both guard against copying errors, not against forgery: whoever can print a tag
can print a fitting code.  What the code is taken over is said by the paper's
own lines; nothing here knows what a tag looks like.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Sequence
from typing import NamedTuple

from ndi.domain.errors import InputError

# Douglas Crockford, "Base 32": digits, then letters without I, L, O and U
CROCKFORD_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

# the same source: what a person may have taken for a digit
_MISREAD = str.maketrans("OIL", "011")

CODE_LENGTH = 8
HASH_LENGTH = 64
QR_HASH_LENGTH = 16

_BITS_PER_CHARACTER = 5
_QR = re.compile(rf"ndi:([^:\s]+):([1-9][0-9]*):([0-9a-f]{{{QR_HASH_LENGTH}}})")
_HASH = re.compile(rf"[0-9a-f]{{{HASH_LENGTH}}}")


class QrContent(NamedTuple):
    """What the QR code of a tag says: book, tag number, first 16 of the record's hash."""

    book_id: str
    tag_no: int
    hash16: str


def check_code(lines: Sequence[str]) -> str:
    """Eight characters over the printed lines in printed order.

    Each line is trimmed, the lines are joined by line feeds, normalised to NFC
    and encoded as UTF-8; the code is the first 40 bits of the SHA-256.
    """
    text = unicodedata.normalize("NFC", "\n".join(line.strip() for line in lines))
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    bits = int.from_bytes(digest[: CODE_LENGTH * _BITS_PER_CHARACTER // 8], "big")
    shifts = range((CODE_LENGTH - 1) * _BITS_PER_CHARACTER, -1, -_BITS_PER_CHARACTER)
    return "".join(CROCKFORD_ALPHABET[bits >> shift & 31] for shift in shifts)


def typed_code(text: str) -> str:
    """A check code as typed by hand: case does not count, O reads as 0, I and L as 1; InputError if it is none."""
    code = text.strip().upper().translate(_MISREAD)
    if len(code) != CODE_LENGTH or any(char not in CROCKFORD_ALPHABET for char in code):
        raise InputError(
            f"{text[:60]!r} is not a check code ({CODE_LENGTH} digits and letters): copy it from the tag again"
        )
    return code


def qr_text(book_id: str, tag_no: int, record_hash: str) -> str:
    """``ndi:book:tag:hash16``; InputError if a part would not survive being read back."""
    if not _HASH.fullmatch(record_hash):
        raise InputError(f"record hash {record_hash!r} is not {HASH_LENGTH} hex digits; take it from the signed record")
    text = f"ndi:{book_id}:{tag_no}:{record_hash[:QR_HASH_LENGTH]}"
    parse_qr(text)
    return text


def parse_qr(text: str) -> QrContent:
    """Book, tag number and hash of a scanned code; InputError says what was scanned and what to do."""
    found = _QR.fullmatch(text.strip())
    if found is None:
        raise InputError(
            f"{text[:60]!r} is not the code of a tag (ndi:book:tag number:{QR_HASH_LENGTH} hex digits); "
            "scan the square code of the tag again or type the tag number"
        )
    return QrContent(found[1], int(found[2]), found[3])
