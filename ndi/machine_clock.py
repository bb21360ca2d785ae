"""The clocks of this machine: the only place, with bootstrap, that asks what time it is.

It imports nothing of the project, so that a window has its clock before a book is loaded.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path


class SystemClock:
    """The clocks of this machine."""

    def now(self) -> datetime:
        return datetime.fromtimestamp(time.time(), UTC)

    def offset_min(self) -> int:
        offset = self.now().astimezone().utcoffset()
        return 0 if offset is None else int(offset.total_seconds()) // 60

    def boot_ms(self) -> int:
        clock = getattr(time, "CLOCK_BOOTTIME", None)
        return int((time.clock_gettime(clock) if clock is not None else time.monotonic()) * 1000)

    def boot_id(self) -> str:
        return _boot_id()


@cache
def _boot_id() -> str:
    """No process outlives the start of its machine: asked once."""
    place = Path("/proc/sys/kernel/random/boot_id")
    return place.read_text().strip() if place.exists() else f"boot-{int(time.time() - time.monotonic())}"


class MovedClock(SystemClock):
    """The clocks of this machine, moved by an offset: a practice book goes on where its day stands."""

    def __init__(self, offset: timedelta = timedelta(0), offset_min: int | None = None) -> None:
        self.offset, self._offset_min = offset, offset_min

    def now(self) -> datetime:
        return super().now() + self.offset

    def offset_min(self) -> int:
        return super().offset_min() if self._offset_min is None else self._offset_min

    def go_on_from(self, at: datetime, offset_min: int) -> None:
        """From now on it is ``at``, and time runs."""
        self.offset = at - super().now()
        self._offset_min = offset_min

    def boot_id(self) -> str:
        return f"{super().boot_id()}{self.offset // timedelta(seconds=1):+d}"
