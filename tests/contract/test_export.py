"""Out of one engine and into another: the same lines, the same head, whatever the book lies in."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ndi.domain.errors import ExportError, InputError, StoreError
from ndi.services.other_owners import OTHERS
from ndi.store import book as store_book
from ndi.store import postgres as store_postgres
from ndi.store.book import SqlBook
from ndi.store.export import export_book
from ndi.store.keys import StationKey
from ndi.store.order_export import OrderContents, export_order
from ndi.store.places import create_any, open_any, open_to_read
from ndi.store.verify import verify
from tests.contract.conftest import Place
from tests.database_server import OWNER, server_or_skip
from tests.store.conftest import STATION, FakeClock, draft, put
from tests.store.exports import archive_in, changed, edit_lines, exported, filled, took_in
from tests.store.shop_day import opened


@pytest.fixture
def target(engine_name: str, tmp_path: Path) -> dict[str, Any]:
    """An empty place for a book in an engine, as ``where`` and what else a use case asks."""
    if engine_name == "sqlite":
        return {"where": tmp_path / "new.book"}
    server = server_or_skip()
    database = server.database()
    return {"where": server.url(database), "owner_url": server.url(database, OWNER)}


def _open(where: Any, keys: Path) -> SqlBook:
    return open_any(where, station=STATION, key_folder=keys, clock=FakeClock())


def test_book_of_either_engine_comes_into_either_engine(
    book: SqlBook, place: Place, tmp_path: Path, target: dict[str, Any]
) -> None:
    made = exported(book, tmp_path)
    found = took_in(made.path, folder=tmp_path, against=str(made.head), **target)
    assert found.head == made.head
    with _open(target["where"], place.keys) as new:
        assert verify(new, against=made.head).ok
        assert new.rebuild(compare_only=True) == []
        with book.session(readonly=True) as old, new.session(readonly=True) as session:
            assert session.inspections() == old.inspections() and session.parts() == old.parts()
            assert session.seen_client_key("call-1") == old.seen_client_key("call-1")
        again = export_book(new, tmp_path / "again", archive_in(tmp_path / "new-photographs"))
        put(new, draft(opened("I9", "P3")))
        assert verify(new).ok
    for name in ("entries.jsonl", "calls.jsonl", "photographs.sha256"):
        assert (again.path / name).read_bytes() == (made.path / name).read_bytes()


@pytest.fixture
def same_names(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two books that begin with the same name and key, as chance would never have it."""
    private = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
    for module in (store_book, store_postgres):
        monkeypatch.setattr(module, "new_book_id", lambda: "0123456789")
        monkeypatch.setattr(module, "new_key", lambda book, station: StationKey(book, station, private))


def test_same_day_on_both_engines_gives_the_same_lines(same_names: None, tmp_path: Path) -> None:
    server = server_or_skip()
    database = server.database()
    places: dict[str, dict[str, Any]] = {
        "sqlite": {"where": tmp_path / "shop.book"},
        "postgresql": {"where": server.url(database), "owner_url": server.url(database, OWNER)},
    }
    found = {}
    for name, where in places.items():
        folder = tmp_path / name
        folder.mkdir()
        settings = {"shop": "GW", "practice": True, "station": STATION, "key_folder": folder / "keys"}
        with create_any(**where, **settings, clock=FakeClock()) as book:
            found[name] = export_book(book, folder / "out", filled(book, folder))
    lines = {name: (made.path / "entries.jsonl").read_bytes() for name, made in found.items()}
    assert lines["sqlite"] == lines["postgresql"]
    assert lines["sqlite"].count(b"\n") == found["sqlite"].entries
    assert found["sqlite"].manifest_sha256 == found["postgresql"].manifest_sha256


def test_export_that_does_not_hold_leaves_an_empty_place_empty(
    book: SqlBook, tmp_path: Path, target: dict[str, Any]
) -> None:
    made = exported(book, tmp_path)
    broken = changed(made.path, tmp_path / "broken", edit_lines("entries.jsonl", lambda lines: lines[:-1]))
    with pytest.raises(ExportError, match="the entries end with"):
        took_in(broken, folder=tmp_path, **target)
    assert not (tmp_path / "new-photographs").exists()
    assert took_in(made.path, folder=tmp_path, **target).head == made.head  # the place is as empty as before


def test_place_that_holds_a_book_is_refused(book: SqlBook, place: Place, tmp_path: Path, engine_name: str) -> None:
    made = exported(book, tmp_path)
    owner = {} if engine_name == "sqlite" else {"owner_url": place.owner_where}
    with pytest.raises((InputError, StoreError), match=r"there already|in this database already"):
        took_in(made.path, place.where, tmp_path, **owner)
    assert not (tmp_path / "new-photographs").exists()
    assert verify(book, against=made.head).ok


def test_server_needs_the_owners_address(book: SqlBook, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="account that is to own it"):
        took_in(exported(book, tmp_path).path, "postgresql://station@nowhere/book", tmp_path)


def test_book_without_a_key_is_read_and_verified_and_never_written(book: SqlBook, place: Place, tmp_path: Path) -> None:
    archive = filled(book, tmp_path)
    with open_to_read(place.where, clock=FakeClock()) as reader:
        assert reader.book_id == book.book_id
        assert verify(reader, against=book.head()).ok
        assert export_book(reader, tmp_path / "out", archive).head == book.head()
        with pytest.raises(StoreError, match="only be read and verified here"):
            put(reader, draft(opened("I9", "P3")))  # type: ignore[arg-type]


def test_pack_of_a_work_order_sorts_entries_alike_on_every_engine(book: SqlBook, tmp_path: Path) -> None:
    """P1 is ours, P2 and P3 are another's: what names both is cut, what is of the other alone only counted."""
    archive = filled(book, tmp_path)
    theirs = {"P2", "P3", "I2", "I3"}
    last = book.head().position
    contents = OrderContents(
        "WO-1",
        book.head(),
        0,
        range(1, last + 1),
        (),
        "record\r\n",
        lambda text: OTHERS if text in theirs else text,
        OTHERS,
    )
    made = export_order(book, tmp_path / "pack", contents, (), archive)
    whole = [json.loads(line) for line in (made.path / "entries.jsonl").read_text("utf-8").splitlines()]
    cut = [json.loads(line) for line in (made.path / "extracts.jsonl").read_text("utf-8").splitlines()]
    assert made.entries + made.extracts == len(whole) + len(cut) == last
    with book.transaction(reading=True) as tx:
        rows = tx.connection.exec_driver_sql("SELECT position, hash FROM entry").all()
    hashes = {row[0]: row[1] for row in rows}
    assert {each["entry"]["position"]: each["entry_hash"] for each in cut}.items() <= hashes.items()
    assert {entry["position"]: entry["hash"] for entry in whole}.items() <= hashes.items()
    by_kind = {each["entry"]["kind"]: each for each in cut if each["left_out"] != ["everything"]}
    assert by_kind["VerificationSigned"]["entry"]["body"]["inspections"] == ["I1"]
    assert {"InspectionOpened", "DecisionSigned"} <= {
        each["entry"]["kind"] for each in cut if each["left_out"] == ["everything"]
    }
    text = (made.path / "entries.jsonl").read_text("utf-8") + (made.path / "extracts.jsonl").read_text("utf-8")
    assert not re.search(r'"(P2|P3|I2|I3)"', text)


def test_entry_that_does_not_hold_goes_into_no_pack(book: SqlBook, place: Place, tmp_path: Path) -> None:
    filled(book, tmp_path)
    with place.forger() as run:
        run("UPDATE entry SET \"by\" = 'X. Forged' WHERE position = 9")
    contents = OrderContents("WO-1", book.head(), 0, [8, 9, 10], (), "", lambda text: text, OTHERS)
    with pytest.raises(StoreError, match="entry 9 of the book does not hold"):
        export_order(book, tmp_path / "pack.zip", contents, (), None)
    assert not list(tmp_path.glob("*pack*"))
