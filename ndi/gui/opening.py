"""What the window is opened on: a book, or the practice copy of the demonstration day, and what surrounds them."""

from __future__ import annotations

from collections.abc import Callable


def has_screen() -> bool:
    """Whether a window can be opened on this machine now."""
    import tkinter as tk

    try:
        root = tk.Tk()
    except tk.TclError:
        return False
    root.destroy()
    return True


Said = Callable[[str], None]
