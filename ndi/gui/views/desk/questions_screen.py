"""Forty questions: one click answers; parameters and filter are typed above the rows."""

from __future__ import annotations

from tkinter import ttk

from ndi.gui.presenters.desk.listing import Row
from ndi.gui.presenters.desk.questions import AnswerView
from ndi.gui.views.desk.panels import put
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class QuestionsScreen(Screen):
    """A question is asked as it is chosen; Return in the parameters asks it again, Return on a row opens its record."""

    name, title = "questions", "Questions"

    def build(self) -> None:
        self.list = VirtualList(
            self.main, on_select=self._choose, on_open=lambda _row: self.rows.take_focus(), height=6
        )
        self.list.pack(fill="x")
        self.lines = Lines(self.main)
        self.lines.pack(fill="x", pady=self.look.unit // 2)
        line = ttk.Frame(self.main, style="Desk.TFrame")
        line.pack(fill="x", pady=(0, self.look.unit // 2))
        self.typed = self._entry(line, "With", self._ask)
        self.filter = self._entry(line, "Filter", self._filter)
        self.rows = VirtualList(self.main, on_open=self._open)
        self.rows.pack(fill="both", expand=True)
        self._id = ""
        self._view: AnswerView | None = None
        self.tool("Freeze (Ctrl+Z)", self._freeze, key="<Control-z>")
        self.tool("Write to a file (Ctrl+E)", self._export, key="<Control-e>")

    def _entry(self, line: ttk.Frame, text: str, command: object) -> ttk.Entry:
        ttk.Label(line, text=text, style="Desk.TLabel").pack(side="left", padx=(0, self.look.unit // 2))
        made = ttk.Entry(line)
        made.pack(side="left", fill="x", expand=True, padx=(0, self.look.unit))
        made.bind("<Return>", lambda _event: command())  # type: ignore[operator]
        return made

    def refresh(self) -> None:
        self.ask(self.desk.questions.listing, lambda listing: self.list.show(listing, key=self.key or None))

    def take_focus(self) -> None:
        self.list.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key == self._id:
            return
        self._id = self.key = row.key
        self._view = None
        put(self.typed, self.desk.questions.parameters(row.key))
        put(self.filter, "")
        self.lines.show(self.desk.questions.about(row.key))
        if self.desk.questions.is_ready(row.key):
            self._ask()

    def _ask(self) -> None:
        asked, typed = self._id, self.typed.get()
        if asked:
            self.ask(lambda: self.desk.questions.ask(asked, typed), self._show)

    def _show(self, view: AnswerView) -> None:
        if view.answered.question.id == self._id:
            self._view = view
            self.lines.show(view.lines)
            self._filter()

    def _filter(self) -> None:
        if self._view is not None:
            shown = self.desk.questions.rows(self._view.answered, self.filter.get())
            self.rows.show(shown)
            self.heading.configure(text=f"Questions: {self._id}, {shown.count()} of {self._view.answered.count}")

    def _open(self, row: Row) -> None:
        self.ask(lambda: self.desk.questions.leads_to(row.key), self._go)

    def _go(self, record: str) -> None:
        if record:
            self.go("record", record)
        else:
            self.say("This row is about no single record; its entries stand in the last column.")

    def _freeze(self) -> None:
        if self._view is not None:
            self.propose(self.desk.questions.freeze(self._view.answered))

    def _export(self) -> None:
        if self._view is not None:
            self.fill(self.desk.questions.export_form(self._view.answered))
