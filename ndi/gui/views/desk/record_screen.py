"""One record in seven pages: questions, the day, indications, signatures, entries, identity, history."""

from __future__ import annotations

import tkinter as tk
from functools import partial
from tkinter import ttk

from ndi.gui.presenters.desk.listing import Labelled, Listing, Row
from ndi.gui.presenters.desk.record import RecordView
from ndi.gui.views.desk.outline_canvas import OutlineCanvas
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines, wrapped
from ndi.gui.views.desk.virtual_list import VirtualList

PAGES = ("Questions", "The day", "Indications", "Signatures", "Entries", "Identity", "History")


class RecordScreen(Screen):
    """A record as the book has it now; Ctrl+1 to Ctrl+7 turn its pages."""

    name, title = "record", "Record"

    def build(self) -> None:
        unit = self.look.unit
        self._view: RecordView | None = None
        self._only_open = True
        self.mark = ttk.Label(self.head, style="Title.TLabel")
        self.mark.pack(side="left", padx=(unit * 2, 0))
        self.watch_head(self.mark)
        self.headline = wrapped(self.main, style="Desk.TLabel")
        self.headline.pack(fill="x")
        self.standing = wrapped(self.main, style="Desk.TLabel")
        self.standing.pack(fill="x", pady=(0, unit // 2))
        tabs = ttk.Frame(self.main, style="Desk.TFrame")
        tabs.pack(fill="x")
        self._tabs: dict[str, ttk.Button] = {}
        self._pages: dict[str, tk.Misc] = {}
        self._stage = ttk.Frame(self.main, style="Desk.TFrame")
        self._stage.pack(fill="both", expand=True, pady=(unit // 2, 0))
        for number, page in enumerate(PAGES, 1):
            button = ttk.Button(
                tabs, text=f"{number}  {page}", style="Nav.TButton", command=partial(self.turn_to, page)
            )
            button.pack(side="left", padx=(0, unit // 2))
            self._tabs[page] = button
            self.frame.shortcut(self, f"<Control-Key-{number}>", partial(self.turn_to, page))
            self._pages[page] = ttk.Frame(self._stage, style="Desk.TFrame")
        self._build_questions(self._pages["Questions"])
        self._build_rest()
        self._page = PAGES[0]
        self.tool("Correct an entry (Ctrl+E)", self._correct, key="<Control-e>")
        self.tool("Print record (Ctrl+P)", self._print, key="<Control-p>")
        self.tool("Print tags (Ctrl+T)", self._tags, key="<Control-t>")
        self.tool("What an entry recalls (Ctrl+R)", self._recall, key="<Control-r>")
        self.tool("Photographs (Ctrl+H)", lambda: self.go("photographs", self.key), key="<Control-h>")
        self.tool("Evidence", lambda: self.fill(self.desk.reports.record_evidence_form(self.key)))
        self.turn_to(self._page)

    def _build_questions(self, page: tk.Misc) -> None:
        unit = self.look.unit
        line = ttk.Frame(page, style="Desk.TFrame")
        line.pack(fill="x", pady=(0, unit // 2))
        self.asked = ttk.Label(line, style="Desk.TLabel")
        self.asked.pack(side="left")
        self.switch = ttk.Button(line, text="", command=self._turn, style="Plain.TButton")
        self.switch.pack(side="right")
        self.frame.shortcut(self, "<Control-o>", self._turn)
        lower = ttk.Frame(page, style="Desk.TFrame")
        lower.pack(side="bottom", fill="x")
        self.question = wrapped(lower, style="Desk.TLabel", font=self.look.bold)
        self.question.grid(row=0, column=0, columnspan=2, sticky="ew", pady=unit // 4)
        lower.columnconfigure((0, 1), weight=1, uniform="lower")
        lower.rowconfigure(1, minsize=self.look.line * 7)
        self.details = Lines(lower)
        self.details.grid(row=1, column=0, sticky="nsew", padx=(0, unit))
        self.read_from = VirtualList(lower, on_open=self._open_entry)
        self.read_from.grid(row=1, column=1, sticky="nsew")
        self.answers = VirtualList(page, on_select=self._answer)
        self.answers.pack(fill="both", expand=True)

    def _build_rest(self) -> None:
        unit = self.look.unit
        self.day = VirtualList(self._pages["The day"])
        self.day.pack(fill="both", expand=True)
        page = self._pages["Indications"]
        self.indications = VirtualList(page, on_select=self._indication)
        self.indications.pack(side="bottom", fill="x", pady=(unit // 2, 0))
        self.outline = OutlineCanvas(page, height=self.look.line * 6)
        self.outline.pack(fill="both", expand=True)
        page = self._pages["Signatures"]
        self.caption(page, "Second looks")
        self.looks_list = VirtualList(page)
        self.looks_list.pack(fill="both", expand=True)
        self.caption(page, "Signatures")
        self.signed = VirtualList(page)
        self.signed.pack(fill="both", expand=True)
        self.entries = VirtualList(self._pages["Entries"], on_open=self._open_entry)
        self.entries.pack(fill="both", expand=True)
        page = self._pages["History"]
        self.caption(page, "Attempts, recall sets, answers that are other now than signed")
        self.history = wrapped(page, style="Paper.TLabel")
        self.history.configure(padding=unit // 2)
        self.history.pack(fill="both", expand=True)
        self.identity = Lines(self._pages["Identity"], columns=2)
        self.identity.pack(fill="both", expand=True)

    # --- showing ------------------------------------------------------------------------------------

    def show(self, key: str = "") -> None:
        if key and key != self.key:
            self._only_open = True
        super().show(key)

    def refresh(self) -> None:
        key = self.key
        self.ask(lambda: self.desk.records.record(key), self._show)

    def take_focus(self) -> None:
        {
            "Questions": self.answers,
            "The day": self.day,
            "Indications": self.indications,
            "Signatures": self.signed,
            "Entries": self.entries,
        }.get(self._page, self.answers).take_focus()

    def _show(self, view: RecordView) -> None:
        if view.inspection != self.key:
            return
        self._view = view
        self.heading.configure(text=view.inspection)
        self.mark.configure(text=str(view.mark))
        self.headline.configure(text=view.headline)
        self.standing.configure(text="\n".join(view.standing))
        self.asked.configure(text=view.asked)
        self._only_open = bool(view.open_answers.count()) and self._only_open
        self._show_answers()
        self.day.show(view.day)
        self.outline.show(view.drawing)
        self.indications.show(view.indications)
        self.looks_list.show(view.looks)
        self.signed.show(view.signed)
        self.history.configure(text="\n".join(view.history) or "One attempt, nothing else.")
        self.entries.show(view.entries)
        self.identity.show(view.identity)

    def _show_answers(self) -> None:
        if self._view is None:
            return
        shown = self._view.open_answers if self._only_open else self._view.answers
        self.switch.configure(
            text=f"All {self._view.answers.count()} questions (Ctrl+O)"
            if self._only_open
            else f"Only the {self._view.open_answers.count()} open ones (Ctrl+O)"
        )
        self.answers.show(shown)
        if not shown.count():
            self.question.configure(text="")
            self.details.show(())
            self.read_from.show(Listing(()))

    def _turn(self) -> None:
        self._only_open = not self._only_open
        self._show_answers()

    def _answer(self, row: Row) -> None:
        if self._view is None or row.key not in self._view.details:
            return
        answer = self._view.details[row.key]
        self.question.configure(text=f"{answer.rule}  {answer.question}")
        self.details.show(answer.lines or (Labelled("Answer", str(answer.mark)),))
        self.read_from.show(answer.entries)

    def _indication(self, row: Row) -> None:
        if self._view is not None:
            self.outline.show(self._view.drawing, row.key)

    def turn_to(self, page: str) -> None:
        """Another page of the record."""
        for name, frame in self._pages.items():
            frame.pack_forget()  # type: ignore[attr-defined]
            self._tabs[name].configure(style="Here.TButton" if name == page else "Nav.TButton")
        self._pages[page].pack(fill="both", expand=True)  # type: ignore[attr-defined]
        self._page = page
        self.take_focus()

    # --- doing --------------------------------------------------------------------------------------

    def _open_entry(self, row: Row) -> None:
        if row.key:
            self.go("correction", row.key)

    def _correct(self) -> None:
        """The entry under the bar of the list that has one, else the page with all entries."""
        lists = {"Questions": self.read_from, "Entries": self.entries}
        chosen = lists[self._page].current if self._page in lists else None
        if chosen is not None:
            self._open_entry(chosen)
        else:
            self.turn_to("Entries")
            self.say("Choose the entry and press Return.")

    def _recall(self) -> None:
        """Of the entry under the bar: one that an answer was read from, or one of the record's own."""
        shown = {"Questions": self.read_from, "Entries": self.entries}.get(self._page)
        self.recall(shown.current.key if shown is not None and shown.current is not None else "")

    def _print(self) -> None:
        self.fill(self.desk.papers.record_form(self.key))

    def _tags(self) -> None:
        self.fill(self.desk.papers.tags_form(self.key))
