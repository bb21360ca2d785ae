"""What a station has in hand and has not said yet: kept on every key, so that a killed window comes back as it was.

Nothing in it is a fact; what it holds is a half-typed number, a marker, the
screen, who stands there and which lamps are in use.
"""

from __future__ import annotations

from typing import Any, Protocol

Kept = dict[str, Any]


class Memory(Protocol):
    """One small document for each station."""

    def load(self) -> Kept:
        """What was kept last; empty when there is nothing (or nothing readable)."""

    def save(self, kept: Kept) -> None:
        """Keep it; returns when it is on disk."""


class NoMemory:
    """Keeps for as long as the program runs; for tests."""

    def __init__(self) -> None:
        self.kept: Kept = {}

    def load(self) -> Kept:
        return dict(self.kept)

    def save(self, kept: Kept) -> None:
        self.kept = dict(kept)
