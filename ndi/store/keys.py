"""The station key: Ed25519, its private half in a file outside the book.

The file also pins where the book took up the key (position and hash of that
entry), so that a book whose first entries were rewritten is recognised.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from urllib.parse import quote

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from ndi.domain.errors import InputError
from ndi.store.errors import KeyMismatch
from ndi.store.host import write_private


@dataclass(frozen=True)
class StationKey:
    """The private key of one station for one book, and the entry that made it known there."""

    book: str
    station: str
    private: Ed25519PrivateKey
    pin_position: int = 0
    pin_hash: str = ""

    @property
    def public_hex(self) -> str:
        return self.private.public_key().public_bytes_raw().hex()

    def sign(self, entry_hash: str) -> str:
        """The signature (hex) over the 32 bytes of an entry's hash."""
        return self.private.sign(bytes.fromhex(entry_hash)).hex()


def check_station_code(station: str) -> str:
    """The code itself; InputError if it cannot name a station."""
    if not station.strip() or station != station.strip() or len(station) > 40 or not station.isprintable():
        raise InputError(
            f"station code {station!r} cannot be used: 1 to 40 printable characters, no blanks at the ends"
        )
    return station


def key_file(folder: Path, book: str, station: str) -> Path:
    """Where a station keeps its key for a book."""
    return folder / f"{book}-{quote(station, safe='')}.key"


def new_key(book: str, station: str) -> StationKey:
    """A fresh random key."""
    return StationKey(book, check_station_code(station), Ed25519PrivateKey.generate())


def nobody(book: str = "") -> StationKey:
    """Reads where no station's key is at hand: the public keys are then taken from the chain alone."""
    return StationKey(book, "", Ed25519PrivateKey.generate())


def save_key(folder: Path, key: StationKey) -> Path:
    """Write the key file (mode 0600); StoreError if there is one already."""
    path = key_file(folder, key.book, key.station)
    content = {
        "book": key.book,
        "station": key.station,
        "private_key": key.private.private_bytes_raw().hex(),
        "known_since": {"position": key.pin_position, "hash": key.pin_hash},
    }
    write_private(path, json.dumps(content, indent=1) + "\n")
    return path


def load_key(folder: Path, book: str, station: str) -> StationKey:
    """The key of this station for this book; KeyMismatch if it is missing or unreadable."""
    path = key_file(folder, book, station)
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        private = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(content["private_key"]))
        pin = content["known_since"]
        return StationKey(content["book"], content["station"], private, int(pin["position"]), str(pin["hash"]))
    except FileNotFoundError:
        raise KeyMismatch(
            f"no key of station {station} for book {book}: {path} does not exist. Choose the folder that holds this "
            "station's keys, or restore it from its own backup."
        ) from None
    except OSError as error:
        raise KeyMismatch(f"the key file {path} cannot be read ({error.strerror}): check its rights") from error
    except (ValueError, KeyError, TypeError) as error:
        raise KeyMismatch(f"{path} is not a station key file: restore it from its own backup") from error


def check_key(key: StationKey, book: str, station: str, public_hex: str | None) -> None:
    """KeyMismatch unless ``key`` is what the book knows as this station's key."""
    if public_hex is None:
        raise KeyMismatch(f"book {book} knows no station {station}: enter its key from a station that the book knows")
    if (key.book, key.station, key.public_hex) != (book, station, public_hex):
        raise KeyMismatch(
            f"the key of station {station} does not match book {book}: the book knows {public_hex[:16]}..., the key file "
            f"holds {key.public_hex[:16]}... of station {key.station} for book {key.book}. Choose the right key folder; if it "
            "is the right one, the beginning of the book was altered: compare it with a backup."
        )


@lru_cache(maxsize=64)
def _public_key(public_hex: str) -> Ed25519PublicKey:
    return Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_hex))


def is_signed(public_hex: str, entry_hash: str, signature: str) -> bool:
    """Whether ``signature`` over ``entry_hash`` was made with the private half of ``public_hex``."""
    try:
        _public_key(public_hex).verify(bytes.fromhex(signature), bytes.fromhex(entry_hash))
    except (InvalidSignature, ValueError):
        return False
    return True
