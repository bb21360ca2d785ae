"""Is the book still what was written?  Names the first entry that was changed, removed, inserted or moved.

What this proves: every entry follows from the one before it and was signed by a
station of this book, so nobody without a station key changed anything.  What it
cannot prove: that nobody who holds a station key forged, and, without a head
that was printed or saved earlier, that no entries were cut off at the end.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from sqlalchemy import Row, bindparam, select

from ndi.domain.errors import InputError
from ndi.domain.facts import StationKeyEntered
from ndi.services.ports import Head
from ndi.store.book import SqlBook
from ndi.store.canonical import GENESIS, entry_hash_of_text, parse_canonical
from ndi.store.keys import StationKey, is_signed
from ndi.store.rebuild import Difference, rebuild
from ndi.store.schema import entry
from ndi.store.transaction import Tx

_BATCH = 1000
_BEFORE_ALL = -(2**62)  # also finds entries with positions that no book gives
_HEAD_TEXT = re.compile(r"(\d+):([0-9a-f]{16,64})", re.ASCII)

_FOLLOWING = select(entry).where(entry.c.position > bindparam("after")).order_by(entry.c.position).limit(_BATCH)
_AT = select(entry).where(entry.c.position == bindparam("at"))
_AFTER_HASH = select(entry.c.position).where(
    entry.c.prev_hash == bindparam("before"), entry.c.position != bindparam("at")
)
_KEYS_UNTIL = select(entry.c.body).where(
    entry.c.kind == StationKeyEntered.__name__, entry.c.position <= bindparam("until")
)


class Fault(StrEnum):
    """What is wrong with the first entry that does not hold."""

    CHANGED = "changed"
    REMOVED = "removed"
    INSERTED = "inserted"
    REORDERED = "reordered"
    BAD_SIGNATURE = "bad signature"
    UNKNOWN_STATION = "unknown station"
    READ_TABLES_DIFFER = "read tables differ"


@dataclass(frozen=True)
class Problem:
    """The first thing found wrong; ``position`` is None where only read tables differ."""

    position: int | None
    what: Fault
    detail: str = ""


@dataclass(frozen=True)
class Verified:
    """What a verification found.  ``checked`` entries hold; ``head`` is the last of them."""

    checked: int
    head: Head
    problem: Problem | None
    message: str
    differences: tuple[Difference, ...] = ()

    @property
    def ok(self) -> bool:
        return self.problem is None


@dataclass
class _Walk:
    """Where the walk along the chain stands: what the next entry must follow from."""

    key: StationKey
    keys: dict[str, str] = field(default_factory=dict)  # station -> public key
    position: int = 0
    hash: str = GENESIS
    checked: int = 0
    last: int = 0  # position of the last entry in the book


def verify(
    book: SqlBook, against: Head | str | None = None, since: int | None = None, *, read_tables: bool = True
) -> Verified:
    """Check the chain, its signatures and (``read_tables``) that the read tables follow from it.

    ``against``: a head from paper (``position:16 characters``) that must still be
    in the chain; without it a cut at the end is undetectable.  ``since``: the
    position of a head that was verified before; only what follows is checked.
    InputError if ``against`` or ``since`` cannot be read.
    """
    wanted = None if against is None else _head_parts(against)
    if since is not None and since < 1:
        raise InputError(f"position {since} is no entry: positions begin with 1")
    with book.transaction(reading=True) as tx:
        walk = _Walk(book.key, {book.station: book.key.public_hex}, last=tx.head().position)
        problem = _chain(tx, walk, since)
        if problem is None and wanted is not None:
            problem = _compare_head(tx, *wanted)
    differences: tuple[Difference, ...] = ()
    if problem is None and read_tables:
        differences = tuple(rebuild(book, compare_only=True))
        if differences:
            problem = Problem(None, Fault.READ_TABLES_DIFFER, f"first {differences[0]}, {len(differences)} in all")
    head = Head(walk.position, walk.hash)
    return Verified(walk.checked, head, problem, _message(walk, problem, against, since, read_tables), differences)


def _head_parts(against: Head | str) -> tuple[int, str]:
    text = f"{against.position}:{against.hash}" if isinstance(against, Head) else against.strip().lower()
    match = _HEAD_TEXT.fullmatch(text)
    if match is None or int(match[1]) < 1:
        raise InputError(f"{against} is no printed head: type the position, a colon and the 16 characters behind it")
    return int(match[1]), match[2]


def _chain(tx: Tx, walk: _Walk, since: int | None) -> Problem | None:
    after = _BEFORE_ALL
    if since is not None:
        problem = _begin_at(tx, walk, since)
        if problem is not None:
            return problem
        after = since
    while rows := tx.rows(_FOLLOWING, {"after": after}):
        for row in rows:
            problem = _examine(tx, walk, row)
            if problem is not None:
                return problem
            walk.position, walk.hash = row.position, row.hash
            walk.checked += 1
        after = walk.position
    if walk.position < walk.key.pin_position:
        return Problem(
            walk.position + 1, Fault.REMOVED, f"this station joined the book at entry {walk.key.pin_position}"
        )
    return None


def _begin_at(tx: Tx, walk: _Walk, since: int) -> Problem | None:
    rows = tx.rows(_AT, {"at": since})
    if not rows:
        return Problem(walk.last + 1, Fault.REMOVED, f"entry {since} was verified before and is gone")
    if _hash_of(rows[0]) != rows[0].hash:
        return Problem(since, Fault.CHANGED, "its hash does not fit its content")
    for row in tx.rows(_KEYS_UNTIL, {"until": since}):
        _learn_key(walk, row.body)
    walk.position, walk.hash = since, rows[0].hash
    return None


def _learn_key(walk: _Walk, body: str) -> bool:
    """Take up a station's key; False if the book gives a known station another key."""
    content = parse_canonical(body)
    public = str(content.get("public_key"))
    return walk.keys.setdefault(str(content.get("station")), public) == public


def _hash_of(row: Row[Any], position: int | None = None) -> str | None:
    """The hash that the row's content has, were it at ``position``; None if the content is not canonical."""
    envelope = dict(row._mapping)
    if position is not None:
        envelope["position"] = position
    try:
        parse_canonical(row.body)
        return entry_hash_of_text(envelope, row.body)
    except (InputError, RecursionError):
        return None


def _examine(tx: Tx, walk: _Walk, row: Row[Any]) -> Problem | None:
    """None if the row is the entry that follows; then the walk may step onto it."""
    position = walk.position + 1
    if row.position < position:
        return Problem(row.position, Fault.INSERTED, "no entry has such a position")
    if row.position > position:
        rivals = _rivals(tx, walk, position)
        if rivals:
            return Problem(position, Fault.REORDERED, f"it stands at {rivals[0]} now")
        return Problem(position, Fault.REMOVED, f"the next entry there is has position {row.position}")
    follows, genuine = row.prev_hash == walk.hash, _hash_of(row) == row.hash
    if follows and genuine:
        return _signature(tx, walk, row)
    return _misfit(tx, walk, row, follows=follows, genuine=genuine)


def _misfit(tx: Tx, walk: _Walk, row: Row[Any], *, follows: bool, genuine: bool) -> Problem:
    """What happened to an entry that does not follow, or whose hash does not fit."""
    position = row.position
    rivals = _rivals(tx, walk, position)
    home = None if genuine else _home(walk, row)
    if rivals and home is not None:
        return Problem(position, Fault.REORDERED, f"the entry there was written as entry {home}")
    if rivals:
        return Problem(position, Fault.INSERTED, f"the entry that belongs there stands at {rivals[0]} now")
    if not follows and home is not None and home > position:
        return Problem(position, Fault.REMOVED, f"the entry there was written as entry {home}")
    return Problem(position, Fault.CHANGED, "its hash does not fit its content or the entry before it")


def _rivals(tx: Tx, walk: _Walk, position: int) -> list[int]:
    """Where else there are entries that follow from the last good one."""
    return [each.position for each in tx.rows(_AFTER_HASH, {"before": walk.hash, "at": position})]


def _home(walk: _Walk, row: Row[Any]) -> int | None:
    """The position for which the row's hash was made."""
    candidates = (each for each in range(1, walk.last + 2) if each != row.position)
    return next((each for each in candidates if _hash_of(row, each) == row.hash), None)


def _signature(tx: Tx, walk: _Walk, row: Row[Any]) -> Problem | None:
    """The signature of an entry whose hash holds; a station's key is taken up from the entry that brings it."""
    if row.position == 1 and row.station not in walk.keys:
        second = tx.rows(_AT, {"at": 2})
        if not second or _hash_of(second[0]) != second[0].hash:
            return None  # the walk names entry 2 next
        if second[0].kind == StationKeyEntered.__name__:
            _learn_key(walk, second[0].body)
    public = walk.keys.get(row.station)
    if public is None or not is_signed(public, row.hash, row.signature):
        if _rivals(tx, walk, row.position):
            return Problem(
                row.position, Fault.INSERTED, "no station of this book signed it; another entry belongs there"
            )
        if public is None:
            return Problem(
                row.position, Fault.UNKNOWN_STATION, f"no key of station {row.station} was entered before it"
            )
        return Problem(row.position, Fault.BAD_SIGNATURE, f"station {row.station} did not sign it: changed or inserted")
    if row.position == walk.key.pin_position and row.hash != walk.key.pin_hash:
        return Problem(row.position, Fault.CHANGED, "it is not the entry with which this station joined the book")
    if row.kind == StationKeyEntered.__name__ and not _learn_key(walk, row.body):
        return Problem(row.position, Fault.INSERTED, "it gives a second key to a station of this book")
    return None


def _compare_head(tx: Tx, position: int, start_of_hash: str) -> Problem | None:
    rows = tx.rows(_AT, {"at": position})
    if not rows:
        return Problem(tx.head().position + 1, Fault.REMOVED, f"a head was printed at entry {position}")
    if not rows[0].hash.startswith(start_of_hash):
        return Problem(
            position, Fault.CHANGED, f"its hash begins with {rows[0].hash[:16]}, printed was {start_of_hash[:16]}"
        )
    return None


def _message(walk: _Walk, problem: Problem | None, against: Head | str | None, since: int | None, tables: bool) -> str:
    way_out = "Stop working on this book, keep a copy of the file as it is, and compare it with the last backup."
    if problem is not None and problem.position is None:
        return f"Read tables differ from the journal ({problem.detail}). The journal holds: rebuild the read tables from it."
    if problem is not None:
        return f"Entry {problem.position}: {problem.what} ({problem.detail}). {way_out}"
    text = f"{walk.checked} entries{'' if since is None else f' after {since}'} hold, up to {walk.position}:{walk.hash[:16]}."
    if tables:
        text += " The read tables follow from the journal."
    if against is None:
        return text + " A cut at the end shows only against a head that was printed or saved: give one to compare with."
    return text + f" The head {against} is in the chain."
