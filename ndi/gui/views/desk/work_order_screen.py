"""Work orders and the engine view: counts of pieces by state, every part with its methods, records and place."""

from __future__ import annotations

from functools import partial
from tkinter import ttk

from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.presenters.desk.work_orders import EngineView, PartView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class WorkOrderScreen(Screen):
    """A list of work orders, the engine, its parts, the records of the part under the bar."""

    name, title = "work orders", "Work orders"

    def build(self) -> None:
        unit = self.look.unit
        upper = ttk.Frame(self.main, style="Desk.TFrame")
        upper.pack(fill="x")
        upper.columnconfigure(0, weight=2, uniform="upper")
        upper.columnconfigure(1, weight=3, uniform="upper")
        self.orders = VirtualList(upper, on_select=self._choose, on_open=lambda _row: self.parts.take_focus(), height=4)
        self.orders.grid(row=0, column=0, sticky="nsew", padx=(0, unit))
        self.identity = Lines(upper)
        self.identity.grid(row=0, column=1, sticky="nsew")
        self.counts = ttk.Frame(self.main, style="Desk.TFrame")
        self.counts.pack(fill="x", pady=(unit // 2, 0))
        self.records = VirtualList(self.main, on_open=self._open)
        self.records.pack(side="bottom", fill="x")
        self.part_title = self.caption(self.main)
        self.part_title.pack(side="bottom")
        self.parts = VirtualList(self.main, on_select=self._choose_part, on_open=lambda _row: self.records.take_focus())
        self.parts.pack(fill="both", expand=True, pady=(unit // 2, 0))
        self._order, self._part, self._wanted = "", "", ""
        self.tool("Print lines for parts", self._travellers)
        self.tool("Report to the owner (Ctrl+P)", self._report, key="<Control-p>")
        self.tool("Evidence of this part", self._evidence)
        self.tool("Goes to a place (Ctrl+G)", self._moved, key="<Control-g>")

    def refresh(self) -> None:
        key = self.key
        if "/" in key:  # a part
            self._wanted = key
            self.ask(lambda: self.desk.work_orders.order_of(key), lambda order: self._list(order))
        else:
            self._list(key)

    def _list(self, order: str) -> None:
        self._order = ""
        self.ask(self.desk.work_orders.listing, partial(self._listed, order))

    def _listed(self, order: str, listing: Listing) -> None:
        self.orders.show(listing, key=order or None)

    def take_focus(self) -> None:
        self.parts.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key != self._order:
            self._order = row.key
            self.key = self.key if "/" in self.key and self.key.startswith(row.key) else row.key
            self.ask(lambda: self.desk.work_orders.engine(row.key), self._show)

    def _show(self, view: EngineView) -> None:
        if view.work_order != self._order:
            return
        self.identity.show(view.identity)
        for label in self.counts.winfo_children():
            label.destroy()
        unit = self.look.unit
        ttk.Label(self.counts, text=str(view.balance), style="Bold.TLabel", padding=(unit, unit // 2)).pack(
            side="left", padx=(0, unit)
        )
        for count in view.counts:
            if count.pieces:
                ttk.Label(
                    self.counts,
                    text=f"{count.mark.shape} {count.pieces} {count.mark.word}",
                    style="Paper.TLabel",
                    padding=(unit, unit // 2),
                ).pack(side="left", padx=(0, unit // 2))
        self._part = ""
        self.parts.show(view.parts, key=self._wanted or None)
        self._wanted = ""

    def _choose_part(self, row: Row) -> None:
        if row.key != self._part:
            self._part = row.key
            self.ask(lambda: self.desk.work_orders.part(row.key), self._show_part)

    def _show_part(self, view: PartView) -> None:
        if view.part == self._part:
            self.part_title.configure(text=view.title)
            self.records.show(view.records)

    def _open(self, row: Row) -> None:
        if row.key:
            self.go("record", row.key)
        else:
            self.say("Not begun: the record is opened at the bench or line.")

    def _report(self) -> None:
        self.ask(lambda: self.desk.reports.engine_form(self._order), self.fill)

    def _evidence(self) -> None:
        self.ask(lambda: self.desk.reports.part_form(self._part), self.fill)

    def _moved(self) -> None:
        part = self._part
        self.ask(lambda: self.desk.places.form(part), self.fill)

    def _travellers(self) -> None:
        self.fill(self.desk.papers.traveller_form(self._order))
