"""``ndi`` for the tests that follow the page: the same program, its clock set where the page says what time it is.

A line ``<!-- clock YYYY-MM-DD HH:MM -->`` of the page sets it; from there it goes on by itself.
"""

from __future__ import annotations

import os
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from ndi import bootstrap
from ndi.cli.main import main

FILE = "NDI_TEST_CLOCK"  # names a file that holds how many seconds the page's clock is ahead of the machine's


def set_to(file: Path, at: datetime) -> None:
    """Let the page's clock stand at a time now."""
    file.write_text(str(at.timestamp() - time.time()))


class PageClock(bootstrap.SystemClock):
    """The machine's clock, moved; both of its clocks move together."""

    def __init__(self) -> None:
        self._ahead = timedelta(seconds=float(Path(os.environ[FILE]).read_text()))

    def now(self) -> datetime:
        return datetime.now(UTC) + self._ahead

    def boot_ms(self) -> int:
        return super().boot_ms() + self._ahead // timedelta(milliseconds=1)


if __name__ == "__main__":
    bootstrap.SystemClock = PageClock  # type: ignore[misc]
    sys.exit(main())
