"""Heads kept outside of the book: a line at each shift's close, on disk, and proved against the chain."""

from __future__ import annotations

import errno
import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, StoreError
from ndi.services import recording
from ndi.services.ports import Head, KeptHead
from ndi.services.workplace import Workplace
from ndi.store.heads import FolderHeads, compare_heads, read_heads
from tests.begin.conftest import Run, empty, head, ndi, put  # noqa: F401  fixtures

AT = datetime(2026, 3, 10, 19, 30, tzinfo=UTC)
KEPT = KeptHead(Head(812, "3f9a07c13f9a07c1" + "0" * 48), AT, "MT booth")
LINE = "2026-03-10T19:30:00.000000Z 812:3f9a07c13f9a07c1 MT booth"


@pytest.fixture
def where(tmp_path: Path) -> Path:
    return tmp_path / "a.heads"


def close(work: Workplace, station: str = "MT booth", mark: str = "closed") -> None:
    recording.record(work, [f.ShiftMarked(station, mark)], "CLERK")


def kept_of(work: Workplace) -> Path:
    return bootstrap.heads_file(work.book)


# --- the file -----------------------------------------------------------------------------------------


def test_line_holds_time_head_and_shift_and_is_read_again(where: Path) -> None:
    heads = FolderHeads(where)
    heads.keep(KEPT)
    heads.keep(KeptHead(Head(9, "a" * 64), AT, ""))
    assert where.read_text() == f"{LINE}\n2026-03-10T19:30:00.000000Z 9:aaaaaaaaaaaaaaaa\n"
    found, is_cut = read_heads(where)
    assert found == [
        (1, KeptHead(Head(812, "3f9a07c13f9a07c1"), AT, "MT booth")),
        (2, KeptHead(Head(9, "a" * 16), AT, "")),
    ]
    assert not is_cut


def test_line_is_flushed_before_the_shift_counts_as_kept(where: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sizes: list[int] = []
    fsync = os.fsync

    def watched(handle: int) -> None:
        sizes.append(os.fstat(handle).st_size)
        fsync(handle)

    monkeypatch.setattr(os, "fsync", watched)
    FolderHeads(where).keep(KEPT)
    assert sizes[0] == len(LINE) + 1 and len(sizes) == 2  # the line, then the folder of the new file
    FolderHeads(where).keep(KEPT)
    assert sizes[2:] == [2 * (len(LINE) + 1)]


def test_line_that_was_cut_off_is_left_out_and_the_next_one_stands_alone(where: Path) -> None:
    heads = FolderHeads(where)
    heads.keep(KEPT)
    with where.open("a") as file:
        file.write(LINE[:30])
    assert read_heads(where) == ([(1, KeptHead(Head(812, "3f9a07c13f9a07c1"), AT, "MT booth"))], True)
    heads.keep(KEPT)
    assert where.read_text().splitlines() == [LINE, LINE[:30], LINE]
    with pytest.raises(InputError, match="line 2: is no kept head"):
        read_heads(where)  # a person looks at it and takes the half line out


@pytest.mark.parametrize(
    "wrong",
    ["812:3f9a07c13f9a07c1", "now 812:3f9a07c13f9a07c1 x", LINE.replace("812", "0"), LINE.replace("7c1 ", "7 "), "\0",
     LINE.replace("03-10", "13-10"), LINE.replace("812", "9" * 19)],
)  # fmt: skip
def test_line_that_is_no_head_is_named(where: Path, wrong: str) -> None:
    where.write_text(f"{LINE}\n{wrong}\n")
    with pytest.raises(InputError, match="line 2: is no kept head"):
        read_heads(where)


@settings(derandomize=True, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.binary(max_size=200)
    | st.from_regex(rb"2026-0\d-3\dT\d\d:\d\d:\d\d[.]000000Z \d{1,25}:[0-9a-g]{16} ?\n", fullmatch=True)
)
def test_hostile_file_gives_heads_or_one_line(where: Path, content: bytes) -> None:
    where.write_bytes(content)
    try:
        heads, _ = read_heads(where)
    except InputError as refused:
        assert len(str(refused).splitlines()) == 1
    else:
        assert all(kept.head.position > 0 for _, kept in heads)


def test_file_that_is_not_there_is_said_so(where: Path) -> None:
    with pytest.raises(NotFound, match="no heads file"):
        read_heads(where)


def test_name_of_a_shift_cannot_make_a_second_line(where: Path) -> None:
    FolderHeads(where).keep(KeptHead(KEPT.head, AT, "MT\nbooth\r"))
    assert where.read_text() == LINE.replace("MT booth", "MTbooth") + "\n"


# --- at the close of a shift --------------------------------------------------------------------------


def test_close_of_a_shift_keeps_the_head_with_its_own_entry_in_it(empty: Workplace) -> None:  # noqa: F811
    close(empty, mark="opened")
    assert not kept_of(empty).exists()
    close(empty)
    first = head(empty)
    put(empty, f.EquipmentEntered("E-1", "lamp"))
    close(empty, "PT line")
    found, _ = read_heads(kept_of(empty))
    assert [(str(kept.head), kept.shift) for _, kept in found] == [(first, "MT booth"), (head(empty), "PT line")]
    compared = compare_heads(empty.book, kept_of(empty))  # type: ignore[arg-type]
    assert compared.ok and compared.message == "2 kept heads are in the chain."


def test_shift_that_is_closed_from_the_command_line_keeps_its_head(empty: Workplace, ndi: Run) -> None:  # noqa: F811
    book = empty.book.path  # type: ignore[attr-defined]
    said = ndi("record", book, "shift", "station=MT booth", "mark=closed", "--by", "CLERK")
    assert said.code == 0, said.err
    assert [str(kept.head) for _, kept in read_heads(kept_of(empty))[0]] == [head(empty)]


def test_head_that_cannot_be_kept_is_said_and_the_shift_is_closed(
    empty: Workplace,  # noqa: F811
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The message is true: the entry is in the book."""

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch, pytest.raises(StoreError, match="closed and saved, but its head") as said:
        patch.setattr("ndi.store.heads.os.fsync", full)
        close(empty)
    assert head(empty) in str(said.value)
    with empty.book.session(readonly=True) as session:
        assert [r.fact.mark for r in session.of_kind(f.ShiftMarked)] == ["closed"]  # type: ignore[attr-defined]


def test_nothing_is_kept_when_the_close_was_not_saved(empty: Workplace) -> None:  # noqa: F811
    with pytest.raises(InputError):
        recording.record(empty, [f.ShiftMarked("MT booth", "closed")], "nobody")
    assert not kept_of(empty).exists()


# --- the proof ----------------------------------------------------------------------------------------


def _cut_off(book: Path, keep: int) -> None:
    """Take entries off the end, with everything that the read tables and triggers would show."""
    with closing(sqlite3.connect(book)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("DELETE FROM entry WHERE position > ?", (keep,))
        connection.commit()
    work = bootstrap.open_book(book)
    work.book.rebuild()  # type: ignore[attr-defined]
    bootstrap.close(work.book)


def test_cut_at_the_end_shows_against_the_kept_heads_and_only_there(
    empty: Workplace,  # noqa: F811
    ndi: Run,  # noqa: F811
) -> None:
    book = empty.book.path  # type: ignore[attr-defined]
    close(empty)
    first = int(head(empty).split(":")[0])
    put(empty, f.EquipmentEntered("E-1", "lamp"))
    close(empty)
    said = ndi("verify", book, "--against-heads", kept_of(empty))
    assert said.code == 0 and "2 kept heads are in the chain." in said.out
    bootstrap.close(empty.book)
    _cut_off(book, first)
    assert ndi("verify", book).code == 0  # the chain itself cannot show it
    said = ndi("verify", book, "--against-heads", kept_of(empty))
    assert said.code == 3
    assert f"Entry {first + 2}: empty.ndibook.heads, line 2" in said.out and "the book ends before it" in said.out


def test_head_of_another_chain_is_named_and_an_empty_file_proves_nothing(
    empty: Workplace,  # noqa: F811
    where: Path,
    ndi: Run,  # noqa: F811
) -> None:
    FolderHeads(where).keep(KeptHead(Head(1, "f" * 64), AT, "MT booth"))
    said = ndi("verify", empty.book.path, "--against-heads", where)  # type: ignore[attr-defined]
    assert said.code == 3 and "Entry 1: a.heads, line 1" in said.out and "its hash begins with" in said.out
    where.write_text("")
    said = ndi("verify", empty.book.path, "--against-heads", where)  # type: ignore[attr-defined]
    assert said.code == 0 and "nothing was proved by it" in said.out
    said = ndi("verify", empty.book.path, "--against-heads", where.with_name("none"))  # type: ignore[attr-defined]
    assert said.code == 3 and "no heads file" in said.err


def test_heads_of_a_book_on_a_server_lie_among_its_keys(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class OnServer:
        book_id = "BOOK1"

    monkeypatch.setenv("NDI_KEYS", str(tmp_path))
    assert bootstrap.heads_file(OnServer()) == tmp_path / "BOOK1.heads"  # type: ignore[arg-type]
