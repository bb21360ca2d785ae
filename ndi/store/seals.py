"""Entries in the form that their hashes are taken over, for whoever checks a few of them outside the book."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import bindparam, select

from ndi.domain.errors import NotFound
from ndi.services.ports import Seal
from ndi.store.canonical import entry_text
from ndi.store.schema import entry
from ndi.store.transaction import Tx

_BATCH = 500  # positions in one question
_SOME = select(entry).where(entry.c.position.in_(bindparam("positions", expanding=True))).order_by(entry.c.position)


def seals(tx: Tx, positions: Iterable[int]) -> list[Seal]:
    """By position, each once; NotFound names the first that is not in the book."""
    wanted = sorted(set(positions))
    found = []
    for start in range(0, len(wanted), _BATCH):
        batch = wanted[start : start + _BATCH]
        rows = [dict(row._mapping) for row in tx.rows(_SOME, {"positions": batch})]
        missing = set(batch) - {row["position"] for row in rows}
        if missing:
            raise NotFound(f"entry {min(missing)} is not in this book")
        found += [
            Seal(row["position"], entry_text(row, row["body"]), row["hash"], row["station"], row["signature"])
            for row in rows
        ]
    return found
