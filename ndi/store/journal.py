"""Entries: from a draft to a signed row, and from a row to a recorded fact."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Lock
from typing import Any

from ndi.domain.codec import body_of, fact_from_body, utc_from_text, utc_text
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, StoreError
from ndi.domain.facts import KINDS, Fact
from ndi.domain.moment import Boot, Moment, Precision
from ndi.services.ports import Clock
from ndi.store.canonical import canonical, entry_hash_of_text, nfc
from ndi.store.identifiers import entry_uid
from ndi.store.keys import StationKey

_LIVE = (Obtained.TIMER, Obtained.SCANNER, Obtained.INSTRUMENT)
_LIVE_WITHIN = timedelta(seconds=1)  # the boot clock is read at saving: only then does it tell the event's time


@dataclass(frozen=True)
class Stamp:
    """One reading of the station's clocks at saving."""

    recorded: datetime
    boot_ms: int
    boot_id: str

    @classmethod
    def of(cls, clock: Clock) -> Stamp:
        return cls(clock.now(), clock.boot_ms(), clock.boot_id())


@dataclass(frozen=True)
class Place:
    """The next free place in the chain, for one station."""

    position: int
    station_seq: int
    prev_hash: str

    def after(self, row: Mapping[str, Any]) -> Place:
        """The place behind an entry of the same station that was just put here."""
        return Place(self.position + 1, self.station_seq + 1, row["hash"])


def _optional(text: str | None) -> str | None:
    return None if text is None else nfc(text)


def known_fact(draft: Draft) -> Fact:
    """The draft's fact; InputError if it is of no kind that the book knows, or unsigned by a person."""
    fact = draft.fact
    if not isinstance(fact, Fact) or KINDS.get(type(fact).__name__) is not type(fact):
        raise InputError(f"{fact!r} is no fact that the book can hold")
    if not draft.by.strip():
        raise InputError(f"{type(fact).__name__}: nobody is named as having entered it; sign in first")
    return fact


def body_text(draft: Draft) -> str:
    """The canonical body; InputError for a float or anything else that the book does not hold."""
    return canonical(body_of(known_fact(draft)))


def entry_row(draft: Draft, body: str, place: Place, stamp: Stamp, key: StationKey) -> dict[str, Any]:
    """The row of an entry at ``place``, hashed and signed."""
    fact = known_fact(draft)
    row: dict[str, Any] = {
        "position": place.position,
        "uid": entry_uid(stamp.recorded, nfc(key.station), place.station_seq),
        "station": nfc(key.station),
        "station_seq": place.station_seq,
        "kind": type(fact).__name__,
        "kind_version": fact.VERSION,
        "event_time": utc_text(draft.when.at),
        "offset_min": draft.when.offset_min,
        "precision": draft.when.precision.value,
        "how": Obtained(draft.how).value,
        "recorded_time": utc_text(stamp.recorded),
        "boot_ms": stamp.boot_ms,
        "boot_id": nfc(stamp.boot_id),
        "by": nfc(draft.by),
        "on_behalf_of": _optional(draft.on_behalf_of),
        "supersedes": _optional(draft.supersedes),
        "why": _optional(draft.why),
        "body": body,
        "prev_hash": place.prev_hash,
    }
    row["hash"] = entry_hash_of_text(row, body)
    row["signature"] = key.sign(row["hash"])
    return row


def recorded_from_row(row: Mapping[Any, Any]) -> Recorded[Fact]:
    """The recorded fact of a row; StoreError for an entry of a newer program or one that cannot be read."""
    kind = KINDS.get(row["kind"])
    if kind is None or row["kind_version"] > kind.VERSION:
        raise StoreError(
            f"entry {row['position']} ({row['kind']}, version {row['kind_version']}) was written by a newer program: "
            "use that one to read this book"
        )
    try:
        fact = fact_from_body(row["kind"], json.loads(row["body"]))
        at, recorded, how = utc_from_text(row["event_time"]), utc_from_text(row["recorded_time"]), Obtained(row["how"])
        live = how in _LIVE and abs(recorded - at) <= _LIVE_WITHIN
        boot = Boot(row["boot_id"], row["boot_ms"]) if live else None
        when = Moment(at, row["offset_min"], Precision(row["precision"]), boot)
    except (ValueError, TypeError, KeyError, InputError) as error:
        raise StoreError(
            f"entry {row['position']} cannot be read ({error}): verify the book and restore a backup"
        ) from error
    return Recorded(
        fact=fact,
        when=when,
        by=row["by"],
        how=how,
        recorded_at=recorded,
        position=row["position"],
        uid=row["uid"],
        on_behalf_of=row["on_behalf_of"],
        supersedes=row["supersedes"],
        why=row["why"],
    )


class Remembered:
    """Decoded entries by position, the oldest forgotten first.  Only what is committed comes in."""

    def __init__(self, most: int = 50_000) -> None:
        self._entries: dict[int, Recorded[Fact]] = {}
        self._most = most
        self._lock = Lock()

    @property
    def get(self) -> Callable[[int], Recorded[Fact] | None]:
        """Finds an entry by its position; None for one that is not remembered."""
        return self._entries.get

    def put(self, entries: Iterable[Recorded[Fact]]) -> None:
        with self._lock:
            for each in entries:
                self._entries[each.position] = each
            while len(self._entries) > self._most:
                del self._entries[next(iter(self._entries))]
