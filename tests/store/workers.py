"""What other processes do in the tests of several processes on one book."""

from __future__ import annotations

import os
from pathlib import Path

from ndi.domain import facts as f
from ndi.store.book import open_book
from tests.store.conftest import STATION, FakeClock, draft


def append_many(path: str, folder: str, name: str, times: int) -> None:
    """Append ``times`` pairs of entries, each pair in its own transaction."""
    with open_book(Path(path), station=STATION, key_folder=Path(folder), clock=FakeClock()) as book:
        for n in range(times):
            with book.session() as session:
                session.append([draft(f.ConfirmationGiven(name, f"{n} {half}")) for half in "ab"])
                session.commit()


def die_before_commit(path: str, folder: str) -> None:
    """One committed entry, then a thousand that are not, then the power goes."""
    with open_book(Path(path), station=STATION, key_folder=Path(folder), clock=FakeClock()) as book:
        with book.session() as session:
            session.append([draft(f.ConfirmationGiven("kept", "x"))])
            session.commit()
        with book.session() as session:
            for n in range(20):
                session.append([draft(f.ConfirmationGiven("lost", f"{n} {k}" + "x" * 2000)) for k in range(50)])
            os._exit(9)
