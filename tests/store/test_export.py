"""A book goes out whole and comes in whole, or not at all; a stranger can check it with the text that lies in it."""

from __future__ import annotations

import errno
import json
import shutil
import subprocess
import sys
import tracemalloc
import zipfile
from pathlib import Path
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import ExportError, InputError, NotFound, StoreError
from ndi.store import export as store_export
from ndi.store import import_book as store_import
from ndi.store.book import SqliteBook, open_book
from ndi.store.export import Exported, export_book
from ndi.store.verify import verify
from tests.store.conftest import STATION, FakeClock, draft, forger, put
from tests.store.exports import (
    PICTURES,
    archive_in,
    attach,
    changed,
    edit_lines,
    edit_manifest,
    exported,
    filled,
    took_in,
    zipped,
)


@pytest.fixture(scope="module")
def whole(new_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Exported:
    """One export that is only read and copied."""
    folder = tmp_path_factory.mktemp("export")
    shutil.copytree(new_book, folder, dirs_exist_ok=True)
    with opened(folder / "shop.book", folder) as book:
        return exported(book, folder)


CHECKER = Path(__file__).resolve().parents[1] / "data" / "check_export.py"


def stranger(*words: object) -> tuple[int, str]:
    """The independent checker in a process that cannot reach the project."""
    done = subprocess.run(
        [sys.executable, "-I", str(CHECKER), *map(str, words)], capture_output=True, text=True, check=False, cwd="/"
    )
    assert done.stderr == ""
    return done.returncode, done.stdout


def entry_rows(book: SqliteBook) -> list[tuple[Any, ...]]:
    with book.transaction(reading=True) as tx:
        return [tuple(row) for row in tx.connection.exec_driver_sql("SELECT * FROM entry ORDER BY position")]


def opened(path: Path, tmp_path: Path) -> SqliteBook:
    return open_book(path, station=STATION, key_folder=tmp_path / "keys", clock=FakeClock())


# --- out ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_stranger_checks_an_export_by_the_text_in_it(book: SqliteBook, tmp_path: Path, name: str) -> None:
    made = exported(book, tmp_path, name)
    assert stranger(made.path, made.head) == (0, f"{made.entries} entries hold, up to {made.head}\n")
    assert (made.photographs, made.missing) == (2, ())


def test_checker_of_the_stranger_finds_a_changed_book(whole: Exported, tmp_path: Path) -> None:
    """The checker itself is shown changes, or its silence would prove nothing."""
    cut = changed(whole.path, tmp_path / "cut", edit_lines("entries.jsonl", lambda lines: lines[:-1]))
    word = changed(
        whole.path,
        tmp_path / "word",
        edit_lines("entries.jsonl", lambda lines: [line.replace(b"rack A", b"rack C") for line in lines]),
    )
    for export in (cut, word):
        code, said = stranger(export)
        assert code == 1 and said.startswith("WRONG")
    assert stranger(whole.path, f"{whole.head.position}:{'0' * 16}")[0] == 1


def test_lines_hold_every_column_of_every_entry(book: SqliteBook, tmp_path: Path) -> None:
    made = exported(book, tmp_path)
    lines = [json.loads(line) for line in (made.path / "entries.jsonl").read_text("utf-8").split("\n")[:-1]]
    with book.transaction(reading=True) as tx:
        rows = [dict(row._mapping) for row in tx.connection.exec_driver_sql("SELECT * FROM entry ORDER BY position")]
    assert [{**line, "body": None} for line in lines] == [
        {name: value if name != "body" else None for name, value in row.items() if value is not None} for row in rows
    ]
    assert [line["body"] for line in lines] == [json.loads(row["body"]) for row in rows]


def test_general_tool_reads_the_list_of_photographs(whole: Exported, tmp_path: Path) -> None:
    """``sha256sum`` of the GNU coreutils."""
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", "photographs.sha256"], cwd=whole.path, capture_output=True, check=False
    )
    assert (done.returncode, done.stdout.count(b": OK")) == (0, 2)


def test_photograph_that_is_lost_or_changed_is_named_and_the_rest_goes_out(book: SqliteBook, tmp_path: Path) -> None:
    archive = filled(book, tmp_path)
    lost, changed_one = attach(book, archive, b"lost"), attach(book, archive, b"changed")
    (archive.folder / lost[:2] / lost).unlink()
    broken = archive.folder / changed_one[:2] / changed_one
    broken.chmod(0o644)
    broken.write_bytes(b"other")
    made = export_book(book, tmp_path / "out.zip", archive)
    assert (made.photographs, set(made.missing)) == (2, {lost, changed_one})
    assert set(took_in(made.path, tmp_path / "new.book", tmp_path).missing) == {lost, changed_one}


@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_what_is_there_is_never_overwritten(book: SqliteBook, tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"kept")
    with pytest.raises(InputError, match="is not overwritten"):
        export_book(book, tmp_path / name, None)
    assert (tmp_path / name).read_bytes() == b"kept"
    with pytest.raises(InputError, match="does not exist: make it first"):
        export_book(book, tmp_path / "nowhere" / name, None)


@pytest.mark.parametrize("name", ["out", "out.zip"])
@pytest.mark.parametrize("step", ["entry_line", "add_photographs", "manifest"])
def test_failure_while_writing_leaves_nothing(
    book: SqliteBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, name: str
) -> None:
    archive = filled(book, tmp_path)
    before = sorted(tmp_path.iterdir())

    def fail(*_: object, **__: object) -> bytes:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(store_export, step, fail)
    with pytest.raises(StoreError, match="No space left on device"):
        export_book(book, tmp_path / name, archive)
    assert sorted(tmp_path.iterdir()) == before


def test_book_that_does_not_hold_is_not_exported(book: SqliteBook, tmp_path: Path) -> None:
    archive = filled(book, tmp_path)
    with forger(tmp_path / "shop.book") as connection:
        connection.execute("UPDATE entry SET \"by\" = 'X. Forged' WHERE position = 9")
    with pytest.raises(StoreError, match=r"entry 9 of the book does not hold .*run `ndi verify`"):
        export_book(book, tmp_path / "out.zip", archive)
    assert not (tmp_path / "out.zip").exists()


def test_book_in_use_goes_out_as_one_state_of_it(
    book: SqliteBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive, written = filled(book, tmp_path), store_export.entry_line
    other = opened(tmp_path / "shop.book", tmp_path)
    before = book.head()

    def meanwhile(row: Any) -> bytes:
        if row["position"] == 5:
            put(other, draft(f.PartMoved("P2", "rack Z")))
        return written(row)

    monkeypatch.setattr(store_export, "entry_line", meanwhile)
    made = export_book(book, tmp_path / "out", archive)
    other.close()
    assert made.head == before and stranger(made.path)[0] == 0


def test_memory_does_not_grow_with_the_book(book: SqliteBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Peak of what the program allocates while a book of 600 and one of 1,800 entries go out and in.

    The verification at the end is left out: it has batches of its own, larger than the small book.
    """
    monkeypatch.setattr(store_import, "_compare", lambda *_: None)

    def peak(target: str) -> int:
        tracemalloc.start()
        made = export_book(book, tmp_path / f"{target}.zip", None)
        took_in(made.path, tmp_path / f"{target}.book", tmp_path)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    def more(count: int) -> None:
        put(book, *(draft(f.EquipmentSwitched(f"E-{number}", "on")) for number in range(count)))

    more(600)
    peak("warm")
    small = peak("small")
    more(1200)
    assert peak("large") < 1.3 * small


# --- in -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_book_comes_back_equal_and_goes_on(book: SqliteBook, tmp_path: Path, name: str) -> None:
    made = exported(book, tmp_path, name)
    found = took_in(made.path, tmp_path / "new.book", tmp_path, against=str(made.head))
    assert (found.head, found.entries, found.photographs, found.book) == (made.head, made.entries, 2, book.book_id)
    with opened(tmp_path / "new.book", tmp_path) as new:
        assert entry_rows(new) == entry_rows(book)
        assert verify(new, against=made.head).ok
        with new.session() as session:
            assert session.seen_client_key("call-1") is not None
        put(new, draft(f.PartMoved("P2", "rack Z")))
        assert verify(new).ok
    archive = archive_in(tmp_path / "new-photographs")
    assert archive.check(store_names(made.path)).ok
    assert len(list(archive.folder.rglob("*"))) == 4  # two folders, two files


def store_names(export: Path) -> list[str]:
    if export.is_dir():
        text = (export / "photographs.sha256").read_text("ascii")
    else:
        text = zipfile.ZipFile(export).read("photographs.sha256").decode("ascii")
    return [line[:64] for line in text.splitlines()]


def test_export_of_the_imported_book_is_the_same_to_the_byte(book: SqliteBook, tmp_path: Path) -> None:
    made = exported(book, tmp_path)
    took_in(made.path, tmp_path / "new.book", tmp_path)
    with opened(tmp_path / "new.book", tmp_path) as new:
        again = export_book(new, tmp_path / "again", archive_in(tmp_path / "new-photographs"))
    files = sorted(path.relative_to(made.path) for path in made.path.rglob("*") if path.is_file())
    assert files == sorted(path.relative_to(again.path) for path in again.path.rglob("*") if path.is_file())
    assert all((made.path / path).read_bytes() == (again.path / path).read_bytes() for path in files)


def test_names_that_are_taken_are_refused(whole: Exported, tmp_path: Path) -> None:
    (tmp_path / "taken.book").write_bytes(b"kept")
    with pytest.raises(InputError, match="is not overwritten"):
        took_in(whole.path, tmp_path / "taken.book", tmp_path)
    (tmp_path / "new-photographs").mkdir()
    (tmp_path / "new-photographs" / "x").write_bytes(b"kept")
    with pytest.raises(InputError, match="where the photographs would go"):
        took_in(whole.path, tmp_path / "new.book", tmp_path)
    assert (tmp_path / "taken.book").read_bytes() == (tmp_path / "new-photographs" / "x").read_bytes() == b"kept"
    assert not (tmp_path / "new.book").exists()
    with pytest.raises(NotFound, match="there is no export"):
        took_in(tmp_path / "nothing", tmp_path / "new.book", tmp_path)


@pytest.mark.parametrize("step", ["_fill", "_compare", "settle", "publish", "flush_folder"])
def test_failure_while_coming_in_leaves_nothing(
    whole: Exported, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    before = sorted(tmp_path.rglob("*"))

    def fail(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(store_import, step, fail)
    with pytest.raises(StoreError, match="No space left on device"):
        took_in(whole.path, tmp_path / "new.book", tmp_path)
    if step != "flush_folder":
        assert sorted(tmp_path.rglob("*")) == before
    assert not (tmp_path / "new.book").exists()


def _swap(lines: list[bytes]) -> list[bytes]:
    return [*lines[:5], lines[6], lines[5], *lines[7:]]


def _without_signature(lines: list[bytes]) -> list[bytes]:
    entry = json.loads(lines[8])
    entry["signature"] = json.loads(lines[7])["signature"]
    return [
        *lines[:8],
        json.dumps(entry, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode(),
        *lines[9:],
    ]


WRONG = {
    "one letter changed": (edit_lines("entries.jsonl", lambda lines: [x.replace(b"rack A", b"rack C") for x in lines]), "entries.jsonl, line 11", "its hash does not fit"),
    "one entry left out": (edit_lines("entries.jsonl", lambda lines: lines[:6] + lines[7:]), "line 7", "entry 7 belongs here"),
    "two entries swapped": (edit_lines("entries.jsonl", _swap), "line 6", "entry 6 belongs here"),
    "an entry twice": (edit_lines("entries.jsonl", lambda lines: [*lines[:6], lines[5], *lines[6:]]), "line 7", "entry 7 belongs here"),
    "another's signature": (edit_lines("entries.jsonl", _without_signature), "line 9", "did not sign it"),
    "cut at the end": (edit_lines("entries.jsonl", lambda lines: lines[:-1]), "manifest.json", "the entries end with"),
    "cut to its beginning": (edit_lines("entries.jsonl", lambda lines: lines[:1]), "line 2", "at least two entries"),
    "an empty line": (edit_lines("entries.jsonl", lambda lines: [*lines, b""]), "is no entry", "Nothing was taken over"),
    "a blank more": (edit_lines("entries.jsonl", lambda lines: [lines[0].replace(b",", b", ", 1), *lines[1:]]), "line 1", "not in canonical form"),
    "another encoding": (edit_lines("entries.jsonl", lambda lines: [x.decode().encode("utf-16") for x in lines]), "line 1", "is no entry"),
    "a huge number": (edit_lines("entries.jsonl", lambda lines: [lines[0].replace(b'"position":1', b'"position":1' + b"0" * 5000), *lines[1:]]), "line 1", "is no entry"),
    "a large number": (edit_lines("entries.jsonl", lambda lines: [lines[0].replace(b'"boot_ms":', b'"boot_ms":' + b"9" * 30), *lines[1:]]), "line 1", "is no whole number that a book holds"),
    "nested deeply": (edit_lines("entries.jsonl", lambda lines: [b"[" * 200_000, *lines]), "line 1", "is no entry"),
    "a key more": (edit_lines("entries.jsonl", lambda lines: [lines[0].replace(b'"by":', b'"bz":'), *lines[1:]]), "line 1", "has not the keys of an entry"),
    "call of an entry that is not there": (edit_lines("calls.jsonl", lambda _: [b'{"key":"k","positions":[9999]}']), "calls.jsonl, line 1", "does not have"),
    "a call twice": (edit_lines("calls.jsonl", lambda lines: lines * 2), "calls.jsonl, line 2", "each once"),
    "no photographs": (edit_lines("photographs.sha256", lambda _: []), "photographs.sha256", "not what the entries name"),
    "a path outside": (edit_lines("photographs.sha256", lambda lines: [lines[0][:66] + b"../../etc/passwd"]), "photographs.sha256, line 1", "is no line"),
    "another count": (edit_manifest(lambda content: content["counts"].update(entries=3)), "manifest.json", "names 3 entries"),
    "another format": (edit_manifest(lambda content: content.update(format="x")), "manifest.json", "is no manifest"),
    "a newer format": (edit_manifest(lambda content: content.update(format_version=2)), "manifest.json", "this program reads 1"),
    "a pack": (edit_manifest(lambda content: content.update(what="work order W-1")), "manifest.json", "cannot become a book"),
    "a negative size": (edit_manifest(lambda content: content["counts"].update(photographs=-1)), "manifest.json", "cannot be read"),
    "no head": (edit_manifest(lambda content: content.update(head=7)), "manifest.json", "cannot be read"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
@pytest.mark.parametrize("packed", [False, True])
def test_changed_export_is_refused_whoever_hid_the_change(
    whole: Exported, tmp_path: Path, case: str, packed: bool
) -> None:
    change, where, says = WRONG[case]
    export = changed(whole.path, tmp_path / "changed", change)
    if packed:
        export = zipped(export, tmp_path / "changed.zip")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(ExportError) as refused:
        took_in(export, tmp_path / "new.book", tmp_path)
    assert where in str(refused.value) and says in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("name", ["README.txt", "entries.jsonl", "calls.jsonl", "photographs.sha256"])
def test_file_that_does_not_fit_the_manifest_is_refused(whole: Exported, tmp_path: Path, name: str) -> None:

    def add(folder: Path) -> None:
        with (folder / name).open("ab") as file:
            file.write(b"\n")

    with pytest.raises(ExportError, match="not as long as the manifest says"):
        took_in(changed(whole.path, tmp_path / "more", add, honest=False), tmp_path / "new.book", tmp_path)
    with pytest.raises(ExportError, match=f"{name}: is missing"):
        took_in(
            changed(whole.path, tmp_path / "gone", lambda folder: (folder / name).unlink(), honest=False),
            tmp_path / "new.book",
            tmp_path,
        )


def test_changed_lost_and_strange_photographs_are_refused(book: SqliteBook, tmp_path: Path) -> None:
    made = exported(book, tmp_path)
    one = next(path for path in made.path.glob("photographs/*/*") if path.stat().st_size == len(PICTURES[0]))
    inside = one.relative_to(made.path)
    same_size = bytes(len(PICTURES[0]))
    cases = {
        "is not what its name says": lambda folder: (folder / inside).write_bytes(same_size),
        "does not have the 16 bytes": lambda folder: (folder / inside).write_bytes(b"short"),
        str(inside): lambda folder: (folder / inside).unlink(),
        "is no part of the export": lambda folder: (folder / "photographs/extra").write_bytes(b"x"),
    }
    for number, (says, change) in enumerate(cases.items()):
        export = changed(made.path, tmp_path / f"changed{number}", change)  # type: ignore[arg-type]
        for each in (export, zipped(export, tmp_path / f"changed{number}.zip")):
            with pytest.raises(ExportError, match=says):
                took_in(each, tmp_path / "new.book", tmp_path)
    (made.path / ".DS_Store").write_bytes(b"a system's own")
    assert took_in(made.path, tmp_path / "new.book", tmp_path).photographs == 2


def test_head_from_paper_finds_a_cut_that_nothing_else_shows(book: SqliteBook, tmp_path: Path) -> None:
    archive = filled(book, tmp_path)
    short = export_book(book, tmp_path / "short", archive)
    put(book, draft(f.PartMoved("P2", "rack Z")))
    printed = str(book.head())
    with pytest.raises(ExportError, match="cut off"):
        took_in(short.path, tmp_path / "new.book", tmp_path, against=printed)
    with pytest.raises(ExportError, match="printed was"):
        took_in(short.path, tmp_path / "new.book", tmp_path, against=f"{short.head.position}:{'0' * 16}")
    with pytest.raises(InputError, match="is no printed head"):
        took_in(short.path, tmp_path / "new.book", tmp_path, against="12")
    assert took_in(short.path, tmp_path / "new.book", tmp_path).head == short.head


def test_entry_of_a_newer_program_is_refused_by_name(
    book: SqliteBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(f.PartMoved, "VERSION", 2)
    made = exported(book, tmp_path)
    monkeypatch.setattr(f.PartMoved, "VERSION", 1)
    with pytest.raises(ExportError, match=r"line 11: entry 11 \(PartMoved, version 2\) was written by a newer program"):
        took_in(made.path, tmp_path / "new.book", tmp_path)
