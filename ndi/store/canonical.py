"""The one way to write an entry as bytes, and its hash.

UTF-8, NFC, keys sorted by code point, no spaces, no floats, null keys left out.
Times are text already when they come here.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any
from unicodedata import normalize

from ndi.domain.errors import InputError

GENESIS = "0" * 64  # what the first entry names as the hash before it

# every column of an entry but hash and signature
ENVELOPE = (
    "position", "uid", "station", "station_seq", "kind", "kind_version", "event_time", "offset_min", "precision",
    "how", "recorded_time", "boot_ms", "boot_id", "by", "on_behalf_of", "supersedes", "why", "body", "prev_hash",
)  # fmt: skip

_AFTER_BODY = tuple(name for name in ENVELOPE if name != "body")
assert min(ENVELOPE) == "body"  # so that it stands first in the canonical form


_encode = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False).encode


def nfc(text: str) -> str:
    """``text`` in NFC; InputError for half a surrogate pair, which UTF-8 cannot hold."""
    if text.isascii():
        return str(text)
    try:
        text.encode()
    except UnicodeEncodeError:
        raise InputError(f"{text!r} holds a character that cannot be written as UTF-8; type it again") from None
    return normalize("NFC", text)


def _clean(value: Any) -> Any:
    kind = type(value)  # nearly everything is one of these: asked first, because bodies are long
    if (kind is str and value.isascii()) or kind is int or kind is bool:
        return value
    if isinstance(value, str):
        return nfc(value)
    if isinstance(value, bool) or (isinstance(value, int) and type(value) is int):
        return value
    if isinstance(value, Mapping):
        return _clean_keys(value)
    if isinstance(value, (list, tuple)):
        return [_clean(item) for item in value]
    raise InputError(
        f"{value!r} cannot be kept in the book: use text, whole numbers, yes/no or lists; numbers as typed text"
    )


def _clean_keys(value: Mapping[Any, Any]) -> dict[str, Any]:
    cleaned: dict[str, Any] = {}
    for key, item in value.items():
        if not isinstance(key, str):
            raise InputError(f"key {key!r} is not text")
        name = key if type(key) is str and key.isascii() else nfc(key)
        if name in cleaned:
            raise InputError(f"key {name!r} is there twice")
        if item is not None:
            cleaned[name] = _clean(item)
    return cleaned


def canonical(value: Any) -> str:
    """``value`` in canonical form; InputError for floats and whatever else has no canonical form."""
    return _encode(_clean(value))


def parse_canonical(text: str) -> Any:
    """The value behind a canonical text; InputError if the text is not exactly the canonical one."""
    try:
        value = json.loads(text)
    except ValueError as error:
        raise InputError(f"the body cannot be read: {error}") from error
    if canonical(value) != text:
        raise InputError("the body is not in canonical form")
    return value


def entry_hash(envelope: Mapping[str, Any], body: Mapping[str, Any]) -> str:
    """SHA-256 (hex) of an entry's envelope with its body as an object inside."""
    return entry_hash_of_text(envelope, canonical(body))


def entry_hash_of_text(envelope: Mapping[str, Any], body: str) -> str:
    """The same for a body that is canonical text already: it is set in as it stands, not read and written again."""
    return hashlib.sha256(entry_text(envelope, body).encode()).hexdigest()


def entry_text(envelope: Mapping[str, Any], body: str) -> str:
    """The canonical form of an entry, whose SHA-256 in UTF-8 is its hash; ``body`` is canonical text already."""
    rest = canonical({name: envelope[name] for name in _AFTER_BODY})
    return f'{{"body":{body},{rest[1:]}'
