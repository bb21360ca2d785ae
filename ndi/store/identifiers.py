"""Names that the store gives: book ids and entry uids."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime, timedelta

_CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O, U: safe to read aloud
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def crockford(number: int, width: int) -> str:
    """``number`` in Crockford base 32, zero-filled so that text order is number order."""
    digits = ""
    while number or len(digits) < width:
        number, rest = divmod(number, 32)
        digits = _CROCKFORD[rest] + digits
    return digits


def new_book_id() -> str:
    """Ten random characters (50 bits)."""
    return crockford(secrets.randbits(50), 10)


def entry_uid(recorded: datetime, station: str, station_seq: int) -> str:
    """Sorts by recorded time, then station, then sequence; unique because the sequence never repeats."""
    microseconds = (recorded - _EPOCH) // timedelta(microseconds=1)
    return f"{crockford(microseconds, 11)}-{station}-{station_seq:08d}"
