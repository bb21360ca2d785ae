"""Shift verification: what must be dealt with first, then one signature over exactly what is green."""

from __future__ import annotations

from collections.abc import Mapping

from ndi.gui.presenters.desk.listing import Row
from ndi.gui.presenters.desk.verification import ReviewView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class VerificationScreen(Screen):
    """Return on a line opens what it is about; Ctrl+R on a lamp shows what its last reading recalls."""

    name, title = "verification", "Verification"

    def build(self) -> None:
        self._entries: Mapping[str, str] = {}
        self.lines = Lines(self.main)
        self.lines.pack(fill="x", pady=(0, self.look.unit // 2))
        self.list = VirtualList(self.main, on_open=self._open)
        self.list.pack(fill="both", expand=True)
        self.tool("Sign what is green (Ctrl+S)", self._sign, key="<Control-s>")
        self.tool("Another day (Ctrl+D)", lambda: self.fill(self.desk.verification.day_form()), key="<Control-d>")
        self.tool("What it recalls (Ctrl+R)", self._recall, key="<Control-r>")
        self.tool("Sheet (Ctrl+P)", lambda: self.fill(self.desk.verification.sheet_form()), key="<Control-p>")
        self.tool("Evidence of a sample", lambda: self.fill(self.desk.reports.sample_form()))

    def refresh(self) -> None:
        self.ask(self.desk.verification.review, self._show)

    def take_focus(self) -> None:
        self.list.take_focus()

    def _show(self, view: ReviewView) -> None:
        self._entries = view.entries
        self.lines.show(view.lines)
        self.list.show(view.items)

    def _open(self, row: Row) -> None:
        screen, _, key = row.key.partition("|")
        if key:
            self.go(screen, key)

    def _recall(self) -> None:
        row = self.list.current
        self.recall(self._entries.get(row.key, "") if row else "")

    def _sign(self) -> None:
        self.ask(self.desk.verification.sign, self.propose)
