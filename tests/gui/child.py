"""A window in a program of its own, for tests that kill it: ``python -m tests.gui.child BOOK CLOCK``."""

from __future__ import annotations

import sys
from pathlib import Path

from tests.gui.window import Window


def main(book: str, clock: str) -> None:
    """Lines in: ``key K`` or ``scan TEXT``; after each, the scene as one line."""
    window = Window(Path(book), clock)
    print(repr(window.scene), flush=True)
    for line in sys.stdin:
        what, _, rest = line.rstrip("\n").partition(" ")
        if what == "key":
            window.key(rest)
        else:
            window.type(rest)
        print(repr(window.scene), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
