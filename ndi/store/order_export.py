"""The pack of one work order: entries as they are signed, extracts of those that also name other owners, papers, photographs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import bindparam, select

from ndi.domain.errors import StoreError
from ndi.domain.facts import BookBegun, StationKeyEntered
from ndi.services.ports import Head, PhotoArchive
from ndi.store.book import SqlBook
from ndi.store.canonical import canonical, entry_hash_of_text, parse_canonical
from ndi.store.chain_walk import ChainWalk
from ndi.store.export import Pictures, add_photographs, entry_line, manifest
from ndi.store.export_text import order_readme
from ndi.store.package import ENTRIES, MANIFEST, README, Tell, new_package, unheard
from ndi.store.schema import entry
from ndi.store.transaction import Tx

EXTRACTS = "extracts.jsonl"
RECORDS = "records.csv"
PHOTOGRAPHS = "photographs.sha256"
_BATCH = 250
_OF_ONE = ("work_order", "part", "inspection", "indication", "tag")  # what names the one thing that an entry is of

_OF_KIND = select(entry.c.body).where(entry.c.kind.in_(bindparam("kinds", expanding=True))).order_by(entry.c.position)
_SOME = select(entry).where(entry.c.position.in_(bindparam("positions", expanding=True))).order_by(entry.c.position)


@dataclass(frozen=True)
class OrderContents:
    """What goes into the pack; ``without`` takes other owners' names out of a text, ``others`` is what stands for one."""

    work_order: str
    head: Head
    records: int  # how many papers there will be
    positions: Sequence[int]
    photographs: Sequence[tuple[str, int]]
    table: str
    without: Callable[[str], str]
    others: str


@dataclass(frozen=True)
class OrderExported:
    """What went out of one work order."""

    path: Path
    head: Head
    entries: int
    extracts: int
    records: int
    photographs: int
    missing: tuple[str, ...]
    manifest_sha256: str


def export_order(
    book: SqlBook,
    target: Path,
    contents: OrderContents,
    papers: Iterable[tuple[str, bytes]],
    photographs: PhotoArchive | None,
    tell: Tell = unheard,
) -> OrderExported:
    """Write the pack to a new folder or ZIP file; ``papers`` are made one after the other as they are written.

    StoreError, and nothing is left, if an entry of it does not hold or the place cannot be written.
    """
    made = book.clock.now()
    with new_package(target, made) as package, book.transaction(reading=True) as tx:
        sorted_out = _Sorted(contents)
        files = [package.add(ENTRIES, sorted_out.whole(tx), "entries as they were signed, one a line")]
        files.append(
            package.add(EXTRACTS, sorted_out.extracts(tx), "entries from which other owners' names were taken")
        )
        files.append(package.add(RECORDS, [contents.table.encode()], "the records of the work order as a table"))
        for number, (name, content) in enumerate(papers, 1):
            tell("records", number, contents.records)
            files.append(package.add(name, [content], "inspection record", packed=False))
        pictures = Pictures({bytes.fromhex(name): None for name, _ in contents.photographs})
        listed = add_photographs(package, photographs, pictures)
        files.append(package.add(PHOTOGRAPHS, listed, "SHA-256 and path of each photograph"))
        walk = _where_the_book_stands(book, tx, contents.head)
        text = order_readme(contents.work_order, contents.head, contents.others, practice=walk.practice)
        files.insert(0, package.add(README, [text.encode()], "what this is and what is left out"))
        records = sum(each.path.endswith(".pdf") for each in files)
        counts = {"entries": len(sorted_out.signed), "extracts": len(sorted_out.changed), "records": records}
        what = f"work order {contents.work_order}"
        written = manifest(walk, made, what, files, photographs=pictures, **counts)
        last = package.add(MANIFEST, [written])
    return OrderExported(
        target,
        contents.head,
        counts["entries"],
        counts["extracts"],
        records,
        pictures.written,
        tuple(pictures.missing),
        last.sha256,
    )


def _where_the_book_stands(book: SqlBook, tx: Tx, head: Head) -> ChainWalk:
    """What a manifest says of the book, without a walk along the chain."""
    walk = ChainWalk()
    walk.position, walk.hash, walk.book = head.position, head.hash, book.book_id
    for row in tx.rows(_OF_KIND, {"kinds": [BookBegun.__name__]}):
        begun = parse_canonical(row.body)
        walk.shop, walk.practice = str(begun["shop"]), begun["practice"]
    for row in tx.rows(_OF_KIND, {"kinds": [StationKeyEntered.__name__]}):
        key = parse_canonical(row.body)
        walk.stations[str(key["station"])] = str(key["public_key"])
    return walk


class _Sorted:
    """Entries by whether they name something of another owner."""

    def __init__(self, contents: OrderContents) -> None:
        self._contents = contents
        self.signed: list[int] = []
        self.changed: list[int] = []

    def whole(self, tx: Tx) -> Iterator[bytes]:
        for row in self._rows(tx, self._contents.positions):
            if entry_hash_of_text(row, row["body"]) != row["hash"]:
                raise StoreError(
                    f"entry {row['position']} of the book does not hold: nothing was exported; run `ndi verify`, and keep a "
                    "copy of the book as it is"
                )
            if self._left_out(row)[1]:
                self.changed.append(row["position"])
            else:
                self.signed.append(row["position"])
                yield entry_line(row)

    def extracts(self, tx: Tx) -> Iterator[bytes]:
        for row in self._rows(tx, self.changed):
            found, left_out = self._left_out(row)
            if self._is_theirs(found["body"]):
                found, left_out = {name: row[name] for name in ("position", "kind")}, {"everything"}
            extract = {"entry": found, "entry_hash": row["hash"], "left_out": sorted(left_out)}
            yield (canonical(extract) + "\n").encode()

    def _rows(self, tx: Tx, positions: Sequence[int]) -> Iterator[dict[str, Any]]:
        for start in range(0, len(positions), _BATCH):
            for row in tx.rows(_SOME, {"positions": list(positions[start : start + _BATCH])}):
                yield dict(row._mapping)

    def _left_out(self, row: dict[str, Any]) -> tuple[dict[str, Any], set[str]]:
        """The entry without hash and signature and without other owners' names, and the keys where some stood."""
        rest = {name: value for name, value in row.items() if name not in ("hash", "signature", "prev_hash")}
        found = {**rest, "body": parse_canonical(row["body"])}
        left_out: set[str] = set()
        return self._clean(found, "", left_out), left_out

    def _is_theirs(self, cleaned: Any) -> bool:
        """Whether something is about another owner's work alone, so that nothing of it is given."""
        return isinstance(cleaned, dict) and any(cleaned.get(name) == self._contents.others for name in _OF_ONE)

    def _clean(self, value: Any, key: str, left_out: set[str]) -> Any:
        if isinstance(value, str):
            text = self._contents.without(value)
            if text != value:
                left_out.add(key)
            return text
        if isinstance(value, list):
            items = [self._clean(item, key, left_out) for item in value]
            return [item for item in items if item != self._contents.others and not self._is_theirs(item)]
        if isinstance(value, dict):
            if set(value) == {"typed", "unit"}:
                return value  # a reading is nobody's name
            return {name: self._clean(item, f"{key}.{name}".lstrip("."), left_out) for name, item in value.items()}
        return value
