"""Every record of the book, the latest first."""

from __future__ import annotations

from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.virtual_list import VirtualList


class RecordsScreen(Screen):
    """A list; Return opens the record, Ctrl+O shows the open ones only."""

    name, title = "records", "Records"

    def build(self) -> None:
        self._only_open = False
        self._listing: Listing | None = None
        self.switch = self.tool("Only what is open (Ctrl+O)", self._turn, key="<Control-o>")
        self.list = VirtualList(self.main, on_open=self._open)
        self.list.pack(fill="both", expand=True)

    def refresh(self) -> None:
        self.ask(self.desk.records.listing, self._show)

    def take_focus(self) -> None:
        self.list.take_focus()

    def _show(self, listing: Listing) -> None:
        self._listing = listing
        shown = listing.only_act() if self._only_open else listing
        self.list.show(shown)
        self.heading.configure(
            text=f"Records: {shown.count()} of {listing.count()}" if self._only_open else f"Records: {listing.count()}"
        )

    def _turn(self) -> None:
        self._only_open = not self._only_open
        self.switch.configure(text="All records (Ctrl+O)" if self._only_open else "Only what is open (Ctrl+O)")
        if self._listing is not None:
            self._show(self._listing)

    def _open(self, row: Row) -> None:
        self.go("record", row.key)
