"""Forty questions: one click answers; parameters and filter are typed above the rows."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk

from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.presenters.desk.questions import AnswerView, Begun, Lead, Shown
from ndi.gui.views.desk.panels import put
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class QuestionsScreen(Screen):
    """A question is asked as it is chosen; Return in the parameters asks it again.

    Return on a row opens its record, Shift+Return one after the other the entries that it follows from.
    """

    name, title = "questions", "Questions"
    rows: VirtualList

    def build(self) -> None:
        self.list = VirtualList(
            self.main, on_select=self._choose, on_open=lambda _row: self.rows.take_focus(), height=6
        )
        self.list.pack(fill="x")
        self.lines = Lines(self.main)
        self.lines.pack(fill="x", pady=self.look.unit // 2)
        line = ttk.Frame(self.main, style="Desk.TFrame")
        line.pack(fill="x", pady=(0, self.look.unit // 2))
        self.typed = self._entry(line, "With (Ctrl+W)")
        self.typed.bind("<Return>", lambda _event: self._ask())
        self.filter = self._entry(line, "Filter (Ctrl+G)")
        for typed in ("<Key>", "<<Paste>>", "<<Cut>>"):
            self.filter.bind(typed, lambda _event: self._soon_filtered())
        self.filter.bind("<Return>", lambda _event: self.rows.take_focus())
        self.rows = VirtualList(self.main, on_open=self._open)
        self.rows.tree.bind("<Shift-Return>", self._entry_of)
        self.rows.pack(fill="both", expand=True)
        self._id = self._filtered = ""
        self._view: AnswerView | None = None
        self._shown: Shown | None = None
        self._nth: dict[int, int] = {}  # by row, which of its entries comes next
        self._left = False  # by a row, to its record or entry
        self.tool("Freeze (Ctrl+Z)", self._freeze, key="<Control-z>")
        self.tool("Write to a file (Ctrl+E)", self._export, key="<Control-e>")
        self.frame.shortcut(self, "<Control-w>", self.typed.focus_set)
        self.frame.shortcut(self, "<Control-g>", self.filter.focus_set)

    def _entry(self, line: ttk.Frame, text: str) -> ttk.Entry:
        ttk.Label(line, text=text, style="Desk.TLabel").pack(side="left", padx=(0, self.look.unit // 2))
        made = ttk.Entry(line)
        made.pack(side="left", fill="x", expand=True, padx=(0, self.look.unit))
        return made

    def refresh(self) -> None:
        self.ask(self.desk.questions.listing, lambda listing: self.list.show(listing, key=self.key or None))

    def take_focus(self) -> None:
        """Back from a row's record the bar stands on that row again."""
        (self.rows if self._left else self.list).take_focus()
        self._left = False

    def _choose(self, row: Row) -> None:
        if row.key == self._id:
            return
        self._id = self.key = row.key
        self._view = self._shown = None
        self._nth.clear()
        put(self.filter, "")
        put(self.typed, "")
        self.rows.show(Listing((), (), ""))  # the rows of another question never stand under this one
        self.heading.configure(text=f"Questions: {self._id}")
        asked = row.key
        self.ask(lambda: self.desk.questions.begin(asked), self._begun)

    def _begun(self, begun: Begun) -> None:
        if begun.id != self._id:
            return
        put(self.typed, begun.typed)
        self.lines.show(begun.lines)
        if begun.is_ready:
            self._ask()

    def _ask(self) -> None:
        asked, typed = self._id, self.typed.get()
        if asked:
            self.ask(lambda: self.desk.questions.ask(asked, typed), self._show)

    def _show(self, view: AnswerView) -> None:
        if view.answered.question.id == self._id:
            self._view, self._filtered = view, ""
            self._nth.clear()
            self.lines.show(view.lines)
            self._filter(anew=True)

    def _soon_filtered(self) -> None:
        """Once the key has done its work in the field."""
        self.after_idle(self._filter)

    def _filter(self, *, anew: bool = False) -> None:
        text = self.filter.get()
        if self._view is not None and (anew or text != self._filtered):
            self._filtered = text
            self._nth.clear()
            self._shown = self.desk.questions.rows(self._view.answered, text)
            self.rows.show(self._shown.listing)
            of = self._view.answered.count
            count = f"{len(self._shown.rows)} of {of}" if text.strip() else str(of)
            self.heading.configure(text=f"Questions: {self._id}, {count} rows")

    # --- evidence -----------------------------------------------------------------------------------

    def _open(self, _row: Row) -> None:
        index = self.rows.index
        if self._shown is not None and index is not None:
            row = self._shown.rows[index]
            self.ask(lambda: self.desk.questions.leads_to(row), self._go)

    def _entry_of(self, _event: tk.Event[tk.Misc]) -> str:
        index = self.rows.index
        if self._shown is not None and index is not None:
            row, nth = self._shown.rows[index], self._nth.get(index, 0)
            self._nth[index] = nth + 1
            self._go(self.desk.questions.entry_of(row, nth))
        return "break"

    def _go(self, lead: Lead) -> None:
        if lead.screen:
            self._left = True
            self.go(lead.screen, lead.key)
        if lead.says:
            self.say(lead.says)

    # --- keeping ------------------------------------------------------------------------------------

    def _freeze(self) -> None:
        if self._view is None:
            self.say("Ask first: there is no answer to freeze yet.")
        else:
            self.propose(self.desk.questions.freeze(self._view.answered))

    def _export(self) -> None:
        if self._view is None or self._shown is None:
            self.say("Ask first: there is no answer to write yet.")
        else:
            self.fill(self.desk.questions.export_form(self._view.answered, self._shown.rows))

    def after_act(self) -> None:
        """What was frozen stands below the definition at once."""
        self._ask()
