"""Rejected pieces above, the scrap register below."""

from __future__ import annotations

from collections.abc import Callable

from ndi.gui.presenters.desk.acts import Form
from ndi.gui.presenters.desk.listing import Row
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.virtual_list import VirtualList


class RejectedScreen(Screen):
    """Return on a piece opens its record."""

    name, title = "rejected", "Rejected pieces"
    beside_panel = 80

    def build(self) -> None:
        self.pieces = VirtualList(self.main, on_open=self._follow)
        self.pieces.pack(fill="both", expand=True)
        self.caption(self.main, "Scrap register")
        self.scrapped = VirtualList(self.main, on_open=lambda row: self.go("correction", row.key))
        self.scrapped.pack(fill="both", expand=True)
        presenter = self.desk.rejected
        self.tool("Owner's answer (Ctrl+N)", lambda: self._open(presenter.owner_form), key="<Control-n>")
        self.tool("Scrap (Ctrl+K)", lambda: self._open(presenter.scrap_form), key="<Control-k>")
        self.tool("Return (Ctrl+U)", lambda: self._open(presenter.return_form), key="<Control-u>")
        self.tool("Take it back (Ctrl+D)", lambda: self._open(presenter.reopen_form), key="<Control-d>")

    def refresh(self) -> None:
        self.ask(self.desk.rejected.listing, lambda listing: self.pieces.show(listing, key=self.key or None))
        self.ask(self.desk.rejected.register, self.scrapped.show)

    def take_focus(self) -> None:
        self.pieces.take_focus()

    def _follow(self, row: Row) -> None:
        self.go("record", row.key.partition("|")[0])

    def _open(self, form: Callable[[str], Form]) -> None:
        key = self.pieces.current.key if self.pieces.current else ""
        self.ask(lambda: form(key), self.fill)
