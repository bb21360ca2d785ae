"""Entries one by one as a chain: each in its place, following from the one before, signed by a station of the book.

For books on their way out and in, which are read once from the beginning; what
is wrong with a book in a database, ``verify`` says in more words.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ndi.domain.facts import BookBegun, StationKeyEntered
from ndi.services.ports import Head
from ndi.store.canonical import GENESIS, entry_hash_of_text, parse_canonical
from ndi.store.keys import is_signed


class DoesNotFollow(Exception):
    """The next entry is not the one that follows; says why."""


class ChainWalk:
    """Where a walk from the first entry stands: the last entry, the book it is of, and every station's public key."""

    def __init__(self) -> None:
        self.position, self.hash, self.book = 0, GENESIS, ""
        self.shop, self.practice = "", False
        self.stations: dict[str, str] = {}  # code -> public key (hex)
        self._sequence: dict[str, int] = {}
        self._first: tuple[str, str, str] | None = None  # station, hash, signature: proved by the key in entry 2

    @property
    def head(self) -> Head:
        return Head(self.position, self.hash)

    def step(self, row: Mapping[str, Any]) -> None:
        """Take the next entry; DoesNotFollow leaves the walk where it was.

        ``row`` has every column of an entry, its body as canonical text.
        """
        if row["position"] != self.position + 1:
            raise DoesNotFollow(f"entry {self.position + 1} belongs here, found is entry {row['position']}")
        if row["prev_hash"] != self.hash:
            raise DoesNotFollow("it does not follow from the entry before it: an entry was changed, left out or moved")
        if entry_hash_of_text(row, row["body"]) != row["hash"]:
            raise DoesNotFollow("its hash does not fit its content: it was changed")
        expected = self._sequence.get(row["station"], 0) + 1
        if row["station_seq"] != expected:
            raise DoesNotFollow(
                f"station {row['station']} wrote number {expected} next, found is number {row['station_seq']}"
            )
        self._check_kind(row)
        self._check_signature(row)
        self.position, self.hash = row["position"], row["hash"]
        self._sequence[row["station"]] = expected

    def finish(self) -> None:
        """DoesNotFollow unless at least the two entries with which a book begins were there."""
        if self.position < 2:
            raise DoesNotFollow("a book has at least two entries: its beginning and the key of its first station")

    def _check_kind(self, row: Mapping[str, Any]) -> None:
        begins = row["kind"] == BookBegun.__name__
        if begins is not (row["position"] == 1):
            raise DoesNotFollow("a book begins with entry 1 and with no other")
        if row["position"] == 2 and row["kind"] != StationKeyEntered.__name__:
            raise DoesNotFollow("entry 2 has to bring the key of the first station")
        if begins:
            content = parse_canonical(row["body"])
            self.book, self.shop = str(content.get("book", "")), str(content.get("shop", ""))
            self.practice = content.get("practice") is True

    def _check_signature(self, row: Mapping[str, Any]) -> None:
        station, entry_hash, signature = row["station"], row["hash"], row["signature"]
        if row["position"] == 1:
            self._first = station, entry_hash, signature
            return
        new = _key_in(row)
        if new is not None and self.stations.get(new[0], new[1]) != new[1]:
            raise DoesNotFollow(f"it gives a second key to station {new[0]}")
        public = dict([new] if new is not None and row["position"] == 2 else [], **self.stations).get(station)
        if public is None:
            raise DoesNotFollow(f"no key of station {station} was entered before it")
        if not is_signed(public, entry_hash, signature):
            raise DoesNotFollow(f"station {station} did not sign it")
        if row["position"] == 2 and self._first is not None:
            first_station, first_hash, first_signature = self._first
            if first_station != station or not is_signed(public, first_hash, first_signature):
                raise DoesNotFollow("the key that it brings did not sign entry 1")
        if new is not None:
            self.stations[new[0]] = new[1]


def _key_in(row: Mapping[str, Any]) -> tuple[str, str] | None:
    """The station and public key that an entry brings."""
    if row["kind"] != StationKeyEntered.__name__:
        return None
    content = parse_canonical(row["body"])
    return str(content.get("station")), str(content.get("public_key"))
