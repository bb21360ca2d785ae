"""Serious findings with the clock of their report above, releases that others signed below."""

from __future__ import annotations

from ndi.gui.presenters.desk.listing import Row
from ndi.gui.presenters.desk.serious_findings import FindingView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class SeriousScreen(Screen):
    """Return on a finding opens the record or recall set that it was found on."""

    name, title = "serious", "Serious, release"
    beside_panel = 80

    def build(self) -> None:
        unit = self.look.unit
        self.findings = VirtualList(self.main, on_select=self._choose, on_open=lambda _row: self._follow(), height=5)
        self.findings.pack(fill="both", expand=True)
        self.lines = Lines(self.main, columns=2)
        self.lines.pack(fill="x", pady=(unit // 2, 0))
        self.caption(self.main, "Released to service elsewhere; records are kept from there on, and nothing is deleted")
        self.orders = VirtualList(self.main, height=3)
        self.orders.pack(fill="x")
        self._view: FindingView | None = None
        self._name = ""
        presenter = self.desk.serious
        self.tool(
            "Judge (Ctrl+K)", lambda: self.ask(lambda: presenter.judge_form(self._name), self.fill), key="<Control-k>"
        )
        self.tool(
            "Report sent (Ctrl+S)",
            lambda: self.ask(lambda: presenter.sent_form(self._name), self.fill),
            key="<Control-s>",
        )
        self.tool("Note a release (Ctrl+N)", self._release, key="<Control-n>")

    def refresh(self) -> None:
        self._name = ""
        self.ask(self.desk.serious.listing, lambda listing: self.findings.show(listing, key=self.key or None))
        self.ask(self.desk.serious.releases, self.orders.show)
        self.ask(self.desk.serious.red, self.frame.alarm)

    def take_focus(self) -> None:
        self.findings.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key != self._name:
            self._name = self.key = row.key
            self.ask(lambda: self.desk.serious.finding(row.key), self._show)

    def _show(self, view: FindingView) -> None:
        if view.name == self._name:
            self._view = view
            self.lines.show(view.lines)

    def _follow(self) -> None:
        if self._view is not None and self._view.name == self._name:
            self.go(*self._view.goes_to)

    def _release(self) -> None:
        order = self.orders.current.key if self.orders.current else ""
        self.ask(lambda: self.desk.serious.release_form(order), self.fill)
