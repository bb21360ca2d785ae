"""Puts the desk together for the window: its presenter on the book, its frame on the root."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable

from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.presenters.desk.papers import PaperTools
from ndi.gui.worker import Worker
from ndi.services.workplace import Workplace

MakeDesk = Callable[[tk.Misc, Worker], tk.Widget]


def desk_maker(work: Workplace, papers: PaperTools, person: str, keep: Callable[[str], None]) -> MakeDesk:
    """What makes the desk when it is first shown; its libraries are loaded then, not before."""

    def make(parent: tk.Misc, worker: Worker) -> tk.Widget:
        from ndi.gui.views.desk.desk_frame import DeskFrame

        return DeskFrame(parent, Desk(work, person, papers=papers, keep=keep), worker, lambda _words: None)

    return make
