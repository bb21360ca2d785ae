"""A window with a camera's folder in a program of its own: ``python -m tests.gui.booth.photo_child BOOK CLOCK FOLDER``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import Any

from ndi.cli.inbox import Inbox
from ndi.gui.presenters.booth.outside import Outside
from tests.gui import child
from tests.gui.window import Window

if __name__ == "__main__":
    book, clock, folder = sys.argv[1:]
    made: Any = partial(Window, outside=Outside(photo_files=Inbox(Path(folder)).files))
    child.Window = made  # type: ignore[misc]
    child.main(book, clock)
