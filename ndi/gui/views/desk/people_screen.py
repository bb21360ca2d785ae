"""People: the list, one person, what waits for a second person."""

from __future__ import annotations

from collections.abc import Callable
from tkinter import ttk

from ndi.gui.presenters.desk.acts import Form
from ndi.gui.presenters.desk.listing import Row
from ndi.gui.presenters.desk.people import PersonView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class PeopleScreen(Screen):
    """Return on what waits confirms it, after it was shown."""

    name, title = "people", "People"

    def build(self) -> None:
        unit = self.look.unit
        self.list = VirtualList(self.main, on_select=self._choose)
        self.list.pack(fill="both", expand=True)
        self.caption(self.main, "Waits for a second person (Return confirms)")
        self.waiting = VirtualList(self.main, on_open=self._confirm, height=2)
        self.waiting.pack(fill="x")
        self.person_title = self.caption(self.main)
        lower = ttk.Frame(self.main, style="Desk.TFrame")
        lower.pack(fill="both", expand=True)
        lower.columnconfigure((0, 1), weight=1, uniform="halves")
        lower.rowconfigure(1, weight=1)
        self.lines = Lines(lower)
        self.lines.grid(row=0, column=0, columnspan=2, sticky="ew", pady=(0, unit // 2))
        self.held = VirtualList(lower, on_open=lambda row: self.go("correction", row.key))
        self.held.grid(row=1, column=0, sticky="nsew", padx=(0, unit))
        self.work = VirtualList(lower, on_open=lambda row: self.go("correction", row.key))
        self.work.grid(row=1, column=1, sticky="nsew")
        self._name = ""
        persons = self.desk.persons
        self._action("Certificate", lambda: persons.certificate_form(self._name))
        self._action("Vision", lambda: persons.vision_form(self._name))
        self._action("Authorise", lambda: persons.authorisation_form(self._name))
        self._action("Read", persons.read_form)
        self._action("New", persons.enter_form)
        self._action("Badge", lambda: persons.badge_form(self._name))
        self._action("Code", lambda: persons.code_form(self._name))
        self._action("End rights", lambda: persons.remove_form(self._name))
        self.tool(
            "Recall (Ctrl+R)",
            lambda: self.recall(self.held.current.key if self.held.current else ""),
            key="<Control-r>",
        )

    def _action(self, text: str, form: Callable[[], Form]) -> None:
        self.tool(text, lambda: self.ask(form, self.fill))

    def refresh(self) -> None:
        self._name = ""
        self.ask(self.desk.persons.listing, lambda listing: self.list.show(listing, key=self.key or None))
        self.ask(self.desk.persons.waiting, self.waiting.show)

    def take_focus(self) -> None:
        self.list.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key != self._name:
            self._name = self.key = row.key
            self.ask(lambda: self.desk.persons.person(row.key), self._show)

    def _show(self, view: PersonView) -> None:
        if view.person == self._name:
            self.person_title.configure(text=view.person)
            self.lines.show(view.lines)
            self.held.show(view.held)
            self.work.show(view.entries)

    def _confirm(self, row: Row) -> None:
        self.ask(lambda: self.desk.persons.confirm(row.key), self.propose)
