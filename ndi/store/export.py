"""The whole book as plain files: entries in order, photographs, and what a stranger needs to check the chain.

The format stands in ``export_text``; a file of it goes along with every export.
Entries are read and written one after the other, so memory stays flat.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import bindparam, select

from ndi import __version__
from ndi.domain.codec import utc_text
from ndi.domain.errors import NotFound, StoreError
from ndi.domain.facts import FormTranscribed, PhotoAttached
from ndi.services.ports import Head, PhotoArchive
from ndi.store.book import SqlBook
from ndi.store.canonical import ENVELOPE, canonical, parse_canonical
from ndi.store.chain_walk import ChainWalk, DoesNotFollow
from ndi.store.export_text import FORMAT, FORMAT_VERSION, book_readme
from ndi.store.package import ENTRIES, MANIFEST, README, Package, Tell, Written, new_package, unheard
from ndi.store.schema import client_key, entry
from ndi.store.transaction import Tx

CALLS = "calls.jsonl"
PHOTOGRAPHS = "photographs.sha256"
TOLD_EVERY = 1000
_BATCH = 250

_NEXT = select(entry).where(entry.c.position > bindparam("after")).order_by(entry.c.position).limit(_BATCH)
_CALLS = select(client_key).where(client_key.c.key > bindparam("after")).order_by(client_key.c.key).limit(_BATCH)
_REST = (*(name for name in ENVELOPE if name != "body"), "hash", "signature")


@dataclass(frozen=True)
class Exported:
    """What went out: where to, up to which entry, how many photographs, and which of them were not there."""

    path: Path
    head: Head
    entries: int
    photographs: int
    missing: tuple[str, ...]
    manifest_sha256: str


@dataclass
class Pictures:
    """Photographs on their way out: wanted, written, and those that were not there or not what they were."""

    wanted: dict[bytes, None] = field(default_factory=dict)
    written: int = 0
    bytes: int = 0
    missing: list[str] = field(default_factory=list)


def export_book(book: SqlBook, target: Path, photographs: PhotoArchive | None, tell: Tell = unheard) -> Exported:
    """Write the whole book to a new folder or ZIP file; it may be in use meanwhile.

    StoreError, and nothing is left, if an entry does not hold or the place
    cannot be written; InputError if the name is taken.
    """
    made = book.clock.now()
    with new_package(target, made) as package, book.transaction(reading=True) as tx:
        walk, pictures, calls = ChainWalk(), Pictures(), _Calls()
        files = [
            package.add(ENTRIES, _entries(tx, walk, pictures, tell), "every entry of the book, one a line, in order"),
            package.add(CALLS, calls.lines(tx), "calls that were done once under a key of the caller's, with what they wrote"),
            package.add(PHOTOGRAPHS, add_photographs(package, photographs, pictures), "SHA-256 and path of each photograph"),
        ]  # fmt: skip
        files.insert(
            0,
            package.add(
                README, [book_readme(walk.head, practice=walk.practice).encode()], "what this is and how to check it"
            ),
        )
        content = manifest(walk, made, "book", files, calls=calls.count, entries=walk.position, photographs=pictures)
        written = package.add(MANIFEST, [content], "")
    return Exported(target, walk.head, walk.position, pictures.written, tuple(pictures.missing), written.sha256)


def manifest(
    walk: ChainWalk, made: datetime, what: str, files: Sequence[Written], *, photographs: Pictures, **counts: int
) -> bytes:
    """The manifest as JSON for people and programs."""
    content = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "what": what,
        "book": walk.book,
        "shop": walk.shop,
        "practice": walk.practice,
        "made": utc_text(made),
        "program": f"ndi {__version__}",
        "head": {"position": walk.position, "hash": walk.hash},
        "counts": {**counts, "photographs": photographs.written, "photograph_bytes": photographs.bytes},
        "stations": walk.stations,
        "files": [asdict(each) for each in files],
        "missing_photographs": photographs.missing,
    }
    return (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode()


# --- entries ------------------------------------------------------------------------------------------


def entry_line(row: Mapping[str, Any]) -> bytes:
    """One entry as a line: its canonical form with hash and signature among the keys."""
    rest = canonical({name: row[name] for name in _REST})
    return f'{{"body":{row["body"]},{rest[1:]}\n'.encode()


def rows_in_order(tx: Tx) -> Iterator[dict[str, Any]]:
    """Every row of the journal, a few hundred in memory at most."""
    after = 0
    while rows := tx.rows(_NEXT, {"after": after}):
        for row in rows:
            yield dict(row._mapping)
        after = rows[-1].position


def _entries(tx: Tx, walk: ChainWalk, pictures: Pictures, tell: Tell) -> Iterator[bytes]:
    last = tx.head().position
    try:
        for row in rows_in_order(tx):
            walk.step(row)
            name = archived_photograph(row)
            if name is not None:
                pictures.wanted.setdefault(bytes.fromhex(name[0]))
            if walk.position % TOLD_EVERY == 0:
                tell("entries", walk.position, last)
            yield entry_line(row)
        walk.finish()
    except DoesNotFollow as problem:
        raise StoreError(
            f"entry {walk.position + 1} of the book does not hold ({problem}): nothing was exported; run `ndi verify`, and "
            "keep a copy of the book as it is"
        ) from None


def archived_photograph(row: Mapping[str, Any]) -> tuple[str, int] | None:
    """SHA-256 and size of the photograph, or picture of a paper form, that an entry put into the archive."""
    if row["kind"] not in (PhotoAttached.__name__, FormTranscribed.__name__):
        return None
    body = parse_canonical(row["body"])
    size, sha256 = body.get("size"), body.get("sha256")
    return None if size is None else (str(sha256), int(size))


class _Calls:
    def __init__(self) -> None:
        self.count = 0

    def lines(self, tx: Tx) -> Iterator[bytes]:
        after = ""
        while rows := tx.rows(_CALLS, {"after": after}):
            for row in rows:
                self.count += 1
                positions = [int(each) for each in row.positions.split()]
                yield (canonical({"key": row.key, "positions": positions}) + "\n").encode()
            after = rows[-1].key


# --- photographs --------------------------------------------------------------------------------------


def photograph_path(sha256: str) -> str:
    """Where a photograph lies in an export."""
    return f"photographs/{sha256[:2]}/{sha256}"


def add_photographs(package: Package, archive: PhotoArchive | None, pictures: Pictures) -> Iterable[bytes]:
    """Put the photographs into the package; the lines of their list, kept until then, for a ZIP file takes one at a time."""
    lines = []
    for raw in pictures.wanted:
        sha256 = raw.hex()
        try:
            if archive is None:
                raise NotFound(f"no photographs are at hand for {sha256}")
            content = archive.original(sha256)
        except StoreError:  # not there, not readable, or not what it was: said in the manifest
            pictures.missing.append(sha256)
            continue
        package.add(photograph_path(sha256), [content], packed=False)
        pictures.written += 1
        pictures.bytes += len(content)
        lines.append(f"{sha256}  {photograph_path(sha256)}\n".encode())
    return lines
