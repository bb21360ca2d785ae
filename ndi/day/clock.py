"""A clock that is set, for replays: wall time and boot clock move together."""

from __future__ import annotations

from datetime import UTC, datetime

_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


class SetClock:
    """Shows the time it was last set to."""

    def __init__(self, at: datetime, offset_min: int = 0) -> None:
        self._at, self._offset = at, offset_min

    def set(self, at: datetime, offset_min: int) -> None:
        """Set the clock; it may stand still, never go back."""
        self._at, self._offset = max(at, self._at), offset_min

    def now(self) -> datetime:
        return self._at

    def offset_min(self) -> int:
        return self._offset

    def boot_ms(self) -> int:
        return int((self._at - _EPOCH).total_seconds() * 1000)

    def boot_id(self) -> str:
        return "replay"
