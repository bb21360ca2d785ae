"""One thread that does what may take long, so that the window never waits for the book.

Jobs run one after another in the order in which they were asked.  Their
results are handed over on the window's own thread, inside :meth:`Worker.pump`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from queue import Empty, SimpleQueue
from threading import Thread
from typing import Any

Job = Callable[[], Any]
Then = Callable[[Any], None]
Failed = Callable[[Exception], None]


class Worker:
    """``ask`` from the window's thread, ``pump`` often on the same thread; ``stop`` lets the last job end."""

    def __init__(self, name: str) -> None:
        self._jobs: SimpleQueue[tuple[Job, Then | None, Failed | None] | None] = SimpleQueue()
        self._done: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._open = 0
        self._since = 0.0
        self._thread = Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def ask(self, job: Job, then: Then | None = None, failed: Failed | None = None) -> None:
        """Do ``job`` in the thread; ``then`` gets its result, ``failed`` its error."""
        if self._open == 0:
            self._since = time.monotonic()
        self._open += 1
        self._jobs.put((job, then, failed))

    def pump(self) -> None:
        """Hand over what is done."""
        while True:
            try:
                hand_over = self._done.get_nowait()
            except Empty:
                return
            self._open -= 1
            self._since = time.monotonic()
            hand_over()

    @property
    def is_busy(self) -> bool:
        return self._open > 0

    @property
    def busy_for(self) -> float:
        """Seconds since the job that is running was begun; 0 when nothing runs."""
        return time.monotonic() - self._since if self._open else 0.0

    def stop(self, seconds: float = 10.0) -> None:
        """No job after those asked so far."""
        self._jobs.put(None)
        self._thread.join(seconds)

    def _run(self) -> None:
        while True:
            item = self._jobs.get()
            if item is None:
                return
            job, then, failed = item
            try:
                result = job()
            except Exception as error:
                self._done.put(_told(failed, error))
            else:
                self._done.put(_told(then, result))


def _told(whom: Callable[[Any], None] | None, what: Any) -> Callable[[], None]:
    if whom is None and isinstance(what, Exception):
        return _raised(what)
    return (lambda: whom(what)) if whom is not None else (lambda: None)


def _raised(error: Exception) -> Callable[[], None]:
    def again() -> None:
        raise error

    return again
