"""Materials: batches, what each line draws on, the readings of a batch."""

from __future__ import annotations

from ndi.gui.presenters.desk.listing import Row
from ndi.gui.presenters.desk.materials import BatchView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class MaterialsScreen(Screen):
    """Return on a line or bench fills its tank."""

    name, title = "materials", "Materials"

    def build(self) -> None:
        self.caption(self.main, "Batches")
        self.batches = VirtualList(self.main, on_select=self._choose)
        self.batches.pack(fill="both", expand=True)
        self.lines = Lines(self.main, columns=2)
        self.lines.pack(fill="x", pady=(self.look.unit // 2, 0))
        self.readings = VirtualList(self.main, on_open=lambda row: self.go("correction", row.key))
        self.readings.pack(fill="both", expand=True)
        self.caption(self.main, "What each line and bench draws on")
        self.tanks = VirtualList(self.main, on_open=lambda row: self._fill(row.key))
        self.tanks.pack(fill="both", expand=True)
        self._batch = self._entry = ""
        self.tool("Enter a batch (Ctrl+N)", lambda: self.fill(self.desk.materials.batch_form()), key="<Control-n>")
        self.tool(
            "Fill a tank (Ctrl+K)",
            lambda: self._fill(self.tanks.current.key if self.tanks.current else ""),
            key="<Control-k>",
        )

        self.tool("What it recalls (Ctrl+R)", self._recall, key="<Control-r>")

    def _recall(self) -> None:
        """Of the reading or check under the bar, else of the batch itself."""
        of_reading = self.readings.current if self.readings.has_focus else None
        self.recall(of_reading.key if of_reading else self._entry)

    def refresh(self) -> None:
        self._batch = ""
        self.ask(self.desk.materials.batches, lambda listing: self.batches.show(listing, key=self.key or None))
        self.ask(self.desk.materials.tanks, self.tanks.show)

    def take_focus(self) -> None:
        self.batches.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key != self._batch:
            self._batch = self.key = row.key
            self.ask(lambda: self.desk.materials.batch(row.key), self._show)

    def _show(self, view: BatchView) -> None:
        if view.batch == self._batch:
            self._entry = view.entry
            self.lines.show(view.lines)
            self.readings.show(view.readings)

    def _fill(self, line: str) -> None:
        self.ask(lambda: self.desk.materials.tank_form(line), self.fill)
