"""Several processes on one book, and one that is killed."""

from __future__ import annotations

import multiprocessing
from pathlib import Path

from ndi.domain import facts as f
from ndi.store.book import SqliteBook
from ndi.store.verify import verify
from tests.store import workers


def test_two_processes_append_without_gap(book: SqliteBook, tmp_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    arguments = [(str(book.path), str(tmp_path / "keys"), name, 30) for name in ("one", "two")]
    processes = [context.Process(target=workers.append_many, args=each) for each in arguments]
    for process in processes:
        process.start()
    for process in processes:
        process.join(60)
    assert [process.exitcode for process in processes] == [0, 0]
    with book.session(readonly=True) as session:
        assert session.head().position == 2 + 2 * 2 * 30
        for name in ("one", "two"):
            entries = session.facts(name, [f.ConfirmationGiven])
            assert [e.fact.item for e in entries] == [f"{n} {half}" for n in range(30) for half in "ab"]  # type: ignore[attr-defined]
            positions = [entry.position for entry in entries]
            assert all(b == a + 1 for a, b in zip(positions[::2], positions[1::2], strict=True))  # pairs stay together
    result = verify(book)
    assert (result.ok, result.checked) == (True, 122), result.message


def test_killed_process_leaves_what_was_committed_and_nothing_else(book: SqliteBook, tmp_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    process = context.Process(target=workers.die_before_commit, args=(str(book.path), str(tmp_path / "keys")))
    process.start()
    process.join(60)
    assert process.exitcode == 9
    with book.session() as session:
        assert session.head().position == 3
        assert len(session.facts("kept")) == 1
        assert session.facts("lost") == []
    assert verify(book).ok
