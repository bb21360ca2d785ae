"""Reads an exported book again and believes nothing: every size, hash, link and signature, before anybody uses it."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Integer

from ndi.domain.errors import ExportError, InputError, StoreError
from ndi.store.canonical import canonical, parse_canonical
from ndi.store.chain_walk import ChainWalk, DoesNotFollow
from ndi.store.export import CALLS, PHOTOGRAPHS, TOLD_EVERY, archived_photograph, photograph_path
from ndi.store.export_manifest import CHANGED, MOST, SHA256, Stated, compare_count, read_manifest, sha256_text, whole
from ndi.store.journal import recorded_from_row
from ndi.store.package import ENTRIES, MANIFEST, README, Tell, unheard
from ndi.store.package_reader import Source, lines, pieces
from ndi.store.schema import entry

LONGEST_LINE = 64 << 20  # no entry comes near it: a procedure with all its text has some 100 kB

_HEAD_TEXT = re.compile(r"([1-9]\d{0,17}):([0-9a-f]{16,64})\Z", re.ASCII)
_OPTIONAL = frozenset(column.name for column in entry.columns if column.nullable)
_WHOLE = frozenset(column.name for column in entry.columns if isinstance(column.type, Integer))
_NAMES = frozenset(column.name for column in entry.columns)


@dataclass
class Checked:
    """An export in which everything holds; ``photographs`` by SHA-256 with their size, those that are in it."""

    source: Source
    stated: Stated
    walk: ChainWalk
    calls: int = 0
    photographs: dict[bytes, int] = field(default_factory=dict)

    @property
    def missing(self) -> tuple[str, ...]:
        """Photographs that were lost before the export was made."""
        return self.stated.missing

    def rows(self) -> Iterator[dict[str, Any]]:
        """The entries again, byte for byte those that were checked; ExportError at the end if they are not."""
        for _, row in _rows(self.source, self.stated):
            yield row

    def call_rows(self) -> Iterator[dict[str, str]]:
        """Keys of calls that were done once, with the positions that they wrote."""
        return _calls(self.source, self.stated)

    def photograph(self, sha256: str) -> bytes:
        """The bytes of one photograph."""
        size = self.photographs[bytes.fromhex(sha256)]
        content = b"".join(pieces(self.source, photograph_path(sha256), size))
        if hashlib.sha256(content).hexdigest() != sha256:
            raise ExportError(self.source.name, photograph_path(sha256), None, f"is not what its name says: {CHANGED}")
        return content


def check(source: Source, against: str | None = None, tell: Tell = unheard) -> Checked:
    """Read the whole export once; ExportError for the first thing that does not hold.

    ``against``: a head from paper (``position:16 characters``) that must be in
    the chain; without it a cut at the end is undetectable.
    """
    wanted = None if against is None else _head_parts(against)
    sizes = source.sizes()
    stated = read_manifest(source, sizes)
    checked = Checked(source, stated, ChainWalk())
    named = _chain(checked, wanted, tell)
    _compare(source, stated, checked.walk)
    for row in _calls(source, stated):
        checked.calls += 1
        if any(int(position) > checked.walk.position for position in row["positions"].split()):
            raise ExportError(source.name, CALLS, checked.calls, "names an entry that the book does not have")
    compare_count(source, stated, "calls", checked.calls)
    for _ in _hashed(source, stated, README, pieces(source, README, stated.sizes[README])):
        pass
    _photographs(checked, named)
    _no_others(checked, sizes)
    return checked


# --- entries and calls --------------------------------------------------------------------------------


def _chain(checked: Checked, wanted: tuple[int, str] | None, tell: Tell) -> dict[bytes, int]:
    """Walk along the chain; the photographs that entries name, with their sizes."""
    source, walk, named = checked.source, checked.walk, dict[bytes, int]()
    try:
        for _, row in _rows(source, checked.stated):
            walk.step(row)
            recorded_from_row(row)
            picture = archived_photograph(row)
            if picture is not None:
                named[bytes.fromhex(sha256_text(picture[0]))] = whole(picture[1])
            if wanted is not None and walk.position == wanted[0] and not walk.hash.startswith(wanted[1]):
                raise DoesNotFollow(f"its hash begins with {walk.hash[:16]}, printed was {wanted[1][:16]}")
            if walk.position % TOLD_EVERY == 0:
                tell("entries checked", walk.position, checked.stated.head.position)
        walk.finish()
    except DoesNotFollow as problem:
        raise ExportError(source.name, ENTRIES, walk.position + 1, f"{problem}. {_WAY_OUT}") from None
    except StoreError as error:
        raise ExportError(source.name, ENTRIES, walk.position, str(error)) from None
    except (ValueError, TypeError, AttributeError, RecursionError) as error:
        if isinstance(error, ExportError):
            raise
        raise ExportError(source.name, ENTRIES, walk.position, f"cannot be read. {_WAY_OUT}") from error
    if wanted is not None and walk.position < wanted[0]:
        raise ExportError(
            source.name,
            ENTRIES,
            None,
            f"ends with entry {walk.position}; a head was printed at entry {wanted[0]}: cut off",
        )
    return named


_WAY_OUT = "Nothing was taken over. Bring the export again from where it was made, or have it made anew"


def _compare(source: Source, stated: Stated, walk: ChainWalk) -> None:
    if walk.head != stated.head:
        raise ExportError(
            source.name, MANIFEST, None, f"names the head {stated.head}, the entries end with {walk.head}: {CHANGED}"
        )
    if walk.book != stated.book:
        raise ExportError(source.name, MANIFEST, None, "names another book than its entries")
    compare_count(source, stated, "entries", walk.position)


def _rows(source: Source, stated: Stated) -> Iterator[tuple[int, dict[str, Any]]]:
    """Rows of the journal from their lines; each line has to be exactly the canonical one."""
    numbered = lines(source, ENTRIES, stated.sizes[ENTRIES], LONGEST_LINE)
    for number, line in _hashed_lines(source, stated, ENTRIES, numbered):
        try:
            found = parse_canonical(line.decode("utf-8"))
            yield number, _row(found)
        except (InputError, UnicodeDecodeError, RecursionError) as error:
            raise ExportError(source.name, ENTRIES, number, f"is no entry: {_said(error)}. {_WAY_OUT}") from None


def _said(error: Exception) -> str:
    if isinstance(error, InputError):
        return str(error)[:200]
    return "is not UTF-8" if isinstance(error, UnicodeDecodeError) else "is nested too deeply"


def _row(found: Any) -> dict[str, Any]:
    if not isinstance(found, dict) or not isinstance(found.get("body"), dict):
        raise InputError("an entry is one object with a body")
    if not (_NAMES - _OPTIONAL) <= set(found) <= _NAMES:
        raise InputError("it has not the keys of an entry")
    row = {name: found.get(name) for name in _NAMES}
    row["body"] = canonical(found["body"])
    for name, value in row.items():
        if value is None:
            continue
        if name in _WHOLE:
            if type(value) is not int or abs(value) >= MOST:
                raise InputError(f"{name} is no whole number that a book holds")
        elif not isinstance(value, str):
            raise InputError(f"{name} is no text")
    for name in ("prev_hash", "hash"):
        if not SHA256.match(str(row[name])):
            raise InputError(f"{name} is no SHA-256")
    return row


def _calls(source: Source, stated: Stated) -> Iterator[dict[str, str]]:
    before = ""
    numbered = lines(source, CALLS, stated.sizes[CALLS], LONGEST_LINE)
    for number, line in _hashed_lines(source, stated, CALLS, numbered):
        try:
            found = parse_canonical(line.decode("utf-8"))
            if not isinstance(found, dict) or set(found) != {"key", "positions"} or not isinstance(found["key"], str):
                raise InputError("a call has a key and positions")
            positions = [whole(each) for each in found["positions"]]
            if found["key"] <= before:
                raise InputError("calls stand in the order of their keys, each once")
        except (ValueError, TypeError, RecursionError) as error:
            raise ExportError(source.name, CALLS, number, f"is no call: {str(error)[:100]}") from None
        before = found["key"]
        yield {"key": before, "positions": " ".join(str(each) for each in positions)}


def _hashed(source: Source, stated: Stated, name: str, found: Iterable[bytes]) -> Iterator[bytes]:
    """The same pieces; ExportError behind the last one if they are not those of the manifest."""
    digest = hashlib.sha256()
    for piece in found:
        digest.update(piece)
        yield piece
    if digest.hexdigest() != stated.hashes[name]:
        raise ExportError(source.name, name, None, f"has not the hash that the manifest names: {CHANGED}")


def _hashed_lines(
    source: Source, stated: Stated, name: str, numbered: Iterable[tuple[int, bytes]]
) -> Iterator[tuple[int, bytes]]:
    digest = hashlib.sha256()
    for number, line in numbered:
        digest.update(line + b"\n")
        yield number, line
    if digest.hexdigest() != stated.hashes[name]:
        raise ExportError(source.name, name, None, f"has not the hash that the manifest names: {CHANGED}")


# --- photographs --------------------------------------------------------------------------------------


def _photographs(checked: Checked, named: dict[bytes, int]) -> None:
    """Each photograph that an entry names is in it and whole, or was said to be missing."""
    source, stated = checked.source, checked.stated
    numbered = lines(source, PHOTOGRAPHS, stated.sizes[PHOTOGRAPHS], 1000)
    for number, line in _hashed_lines(source, stated, PHOTOGRAPHS, numbered):
        sha256 = line[:64].decode("ascii", "replace")
        if not SHA256.match(sha256) or line != f"{sha256}  {photograph_path(sha256)}".encode():
            raise ExportError(source.name, PHOTOGRAPHS, number, "is no line of a SHA-256 and a path")
        raw = bytes.fromhex(sha256)
        if raw not in named or raw in checked.photographs:
            raise ExportError(
                source.name, PHOTOGRAPHS, number, "is of a photograph that no entry names, or there twice"
            )
        checked.photographs[raw] = named[raw]
        _check_photograph(source, sha256, named[raw])
    if {raw.hex() for raw in set(named) - set(checked.photographs)} != set(stated.missing):
        raise ExportError(
            source.name, PHOTOGRAPHS, None, f"and the missing ones are not what the entries name: {CHANGED}"
        )
    compare_count(source, stated, "photographs", len(checked.photographs))
    compare_count(source, stated, "photograph_bytes", sum(checked.photographs.values()))


def _check_photograph(source: Source, sha256: str, size: int) -> None:
    path, digest = photograph_path(sha256), hashlib.sha256()
    try:
        for piece in pieces(source, path, size):
            digest.update(piece)
    except KeyError:
        raise ExportError(source.name, path, None, f"is missing: {CHANGED}") from None
    if digest.hexdigest() != sha256:
        raise ExportError(source.name, path, None, f"is not what its name says: {CHANGED}")


def _no_others(checked: Checked, sizes: Mapping[str, int]) -> None:
    """What the manifest does not speak of has no business in an export."""
    known = {MANIFEST, README, ENTRIES, CALLS, PHOTOGRAPHS}
    known.update(photograph_path(raw.hex()) for raw in checked.photographs)
    others = sorted(set(sizes) - known)
    if others:
        raise ExportError(checked.source.name, others[0], None, f"is no part of the export: {CHANGED}")


def _head_parts(against: str) -> tuple[int, str]:
    match = _HEAD_TEXT.match(against.strip().lower())
    if match is None:
        raise InputError(f"{against} is no printed head: type the position, a colon and the 16 characters behind it")
    return int(match[1]), match[2]
