"""Equipment and lamps: the list, the lamp calendar, readings, calibrations, the recall list by one key."""

from __future__ import annotations

from tkinter import ttk

from ndi.gui.presenters.desk.equipment import RelianceView, ThingView
from ndi.gui.presenters.desk.listing import Row
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class EquipmentScreen(Screen):
    """Ctrl+R lists what relied on the thing under the bar; on a reading or calibration, what that one recalls."""

    name, title = "equipment", "Equipment"
    beside_panel = 110

    def build(self) -> None:
        unit = self.look.unit
        self.main.columnconfigure(0, weight=1, uniform="halves")
        self.main.columnconfigure(1, weight=1, uniform="halves")
        self.main.rowconfigure(0, weight=1)
        self.list = VirtualList(self.main, on_select=self._choose)
        self.list.grid(row=0, column=0, sticky="nsew", padx=(0, unit))
        self.right = ttk.Frame(self.main, style="Desk.TFrame")
        self.right.grid(row=0, column=1, sticky="nsew")
        self.lines = Lines(self.right)
        self.lines.pack(fill="x")
        self.calendar = VirtualList(self.right)
        self.readings, self.calibrations = (
            VirtualList(self.right, on_open=lambda row: self.go("correction", row.key)) for _ in range(2)
        )
        for title, shown in (
            ("Calendar of the lamp", self.calendar),
            ("Readings", self.readings),
            ("Calibrations", self.calibrations),
        ):
            self.caption(self.right, title)
            shown.pack(fill="both", expand=True)
        self.relied = ttk.Frame(self.main, style="Desk.TFrame")
        self.relied_title = self.caption(self.relied)
        self.records = VirtualList(self.relied, on_open=lambda row: self.go("record", row.key))
        self.records.pack(fill="both", expand=True)
        self._name = ""
        self.tool("Reading (Ctrl+N)", lambda: self._open("reading"), key="<Control-n>")
        self.tool("Calibration (Ctrl+K)", lambda: self._open("calibration"), key="<Control-k>")
        self.tool("In or out of use (Ctrl+U)", lambda: self._open("status"), key="<Control-u>")
        self.tool("New", lambda: self.fill(self.desk.equipment.new_form()))
        self.tool("What relied on it (Ctrl+R)", self._relied, key="<Control-r>")
        self.tool("Trend (Ctrl+T)", self._trend, key="<Control-t>")
        self.tool("Found wrong (Ctrl+M)", self._found_wrong, key="<Control-m>")

    def refresh(self) -> None:
        self._name = ""
        self.ask(self.desk.equipment.listing, lambda listing: self.list.show(listing, key=self.key or None))

    def take_focus(self) -> None:
        self.list.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key == self._name:
            return
        self._name = self.key = row.key
        self.relied.grid_forget()
        self.right.grid(row=0, column=1, sticky="nsew")
        self.ask(lambda: self.desk.equipment.thing(row.key), self._show)

    def _show(self, view: ThingView) -> None:
        if view.equipment != self._name:
            return
        self.lines.show(view.lines)
        self.calendar.show(view.calendar)
        self.readings.show(view.readings)
        self.calibrations.show(view.calibrations)

    def _trend(self) -> None:
        name = self._name
        if name:
            self.ask(lambda: self.desk.trends.key_of(name), lambda key: self._to_trend(name, key))

    def _to_trend(self, name: str, key: str) -> None:
        if key:
            self.go("trends", key)
        else:
            self.say(f"{name} was neither read nor calibrated: there is no trend of it.")

    def _relied(self) -> None:
        name = self._name
        for shown in (self.readings, self.calibrations):
            if shown.has_focus and shown.current is not None:
                self.recall(shown.current.key)
                return
        if name:
            self.ask(lambda: self.desk.equipment.relied(name), self._show_relied)

    def _found_wrong(self) -> None:
        if self._name:
            self.go("meter", self._name)

    def _show_relied(self, view: RelianceView) -> None:
        self.right.grid_forget()
        self.relied.grid(row=0, column=1, sticky="nsew")
        self.relied_title.configure(text=view.title)
        self.records.show(view.records)
        self.records.take_focus()
        self.say(view.title)

    def _open(self, what: str) -> None:
        name, forms = self._name, self.desk.equipment
        make = {"reading": forms.reading_form, "calibration": forms.calibration_form, "status": forms.status_form}[what]
        if name:
            self.ask(lambda: make(name), self.fill)
