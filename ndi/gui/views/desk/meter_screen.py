"""A meter found wrong: endangered readings by the worst case and by even drift; Ctrl+R on one shows what it recalls."""

from __future__ import annotations

from ndi.gui.presenters.desk.meters import MeterView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class MeterScreen(Screen):
    """Reached from the equipment; Alt+Left goes back."""

    name, title = "meter", "Meter found wrong"
    beside_panel = 80

    def build(self) -> None:
        self._view: MeterView | None = None
        self._only_endangered = True
        self._lines = Lines(self.main)
        self._lines.pack(fill="x", pady=(0, self.look.unit // 2))
        self.list = VirtualList(self.main, on_open=lambda row: self.go("correction", row.key))
        self.list.pack(fill="both", expand=True)
        self.tool("Suppose an error (Ctrl+N)", self._suppose, key="<Control-n>")
        self.switch = self.tool("All readings (Ctrl+O)", self._turn, key="<Control-o>")
        self.tool("What this one recalls (Ctrl+R)", self._recall, key="<Control-r>")
        self.tool("Back (Alt+Left)", self.frame.back)

    @property
    def _meter(self) -> str:
        return self.key.partition("|")[0]

    def show(self, key: str = "") -> None:
        super().show(key)
        if "|" not in self.key:
            meter = self._meter
            self.ask(lambda: self.desk.meters.needs_error(meter), lambda unknown: self._suppose() if unknown else None)

    def refresh(self) -> None:
        key = self.key
        self.heading.configure(text=f"{self._meter} found wrong")
        self.ask(
            lambda: None if "|" not in key and self.desk.meters.needs_error(key) else self.desk.meters.view(key),
            self._show,
        )

    def take_focus(self) -> None:
        self.list.take_focus()

    def _show(self, view: MeterView | None) -> None:
        self._view = view
        if view is None:  # nothing is known yet: the form asks for it
            self._lines.show(())
            return
        self._lines.show(view.lines)
        self._fill()

    def _fill(self) -> None:
        if self._view is not None:
            self.list.show(self._view.endangered if self._only_endangered else self._view.every)
            other = f"All {self._view.every.count()} readings" if self._only_endangered else "Only endangered ones"
            self.switch.configure(text=f"{other} (Ctrl+O)")

    def _turn(self) -> None:
        self._only_endangered = not self._only_endangered
        self._fill()

    def _suppose(self) -> None:
        meter = self._meter
        self.ask(lambda: self.desk.meters.error_form(meter, self._wanted), self.fill)

    def _wanted(self, key: str) -> None:
        """Called in the worker's thread: only the name is kept, the screen is filled after the act."""
        self.key = key

    def _recall(self) -> None:
        self.recall(self.list.current.key if self.list.current else "")
