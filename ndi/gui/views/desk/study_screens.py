"""Three screens of one kind: what can be looked at on the left, its answer, chart and table on the right."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk
from typing import TYPE_CHECKING, ClassVar

from ndi.gui.presenters.desk.acts import Failure
from ndi.gui.presenters.desk.listing import Labelled, Listing, Row
from ndi.gui.presenters.desk.studies import Studies, StudyView
from ndi.gui.views.desk.chart_view import ChartView
from ndi.gui.views.desk.panels import Panel
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines, wrapped
from ndi.gui.views.desk.virtual_list import VirtualList

if TYPE_CHECKING:
    from ndi.gui.presenters.desk.studies import Gathering, HowGood, Trends

_LIST_CHARS, _NARROW_CHARS = 42, 30  # the list, also in a window that has few characters across
_WIDE_CHARS = 105
_HIGH_LINES = 32  # lines of text; a lower window shows the answer, and the figures in a panel


class FiguresPanel(Panel):
    """The figures of a study, what was left out, and where its limits and methods come from."""

    def __init__(self, parent: tk.Misc, view: StudyView, close: Callable[[], None]) -> None:
        super().__init__(parent, view.title, close)
        for line in view.lines:
            self.text(line.label, "Quiet.TLabel")
            self.text(line.value)
        self.text("Sources of limits and methods", "Quiet.TLabel", top=self.look.unit)
        for source in view.study.sources:
            self.text(f"•  {source}")
        self.buttons()
        self.escapes()

    def take_focus(self) -> None:
        """Escape closes it from here."""
        self.body.focus_set()


class StudyScreen(Screen):
    """A row is shown as the bar comes to it; Ctrl+1 to Ctrl+9 its charts, Ctrl+T its tables."""

    beside_panel: ClassVar[int] = 90

    @property
    def studies(self) -> Studies:
        """The presenter of this screen."""
        raise NotImplementedError

    def build(self) -> None:
        unit = self.look.unit
        self.main.columnconfigure(1, weight=1)
        self.main.rowconfigure(1, weight=1)
        self.left = ttk.Frame(self.main, style="Desk.TFrame", width=self.look.chars(_LIST_CHARS))
        self.left.grid(row=0, column=0, rowspan=4, sticky="nsew", padx=(0, unit))
        self.left.pack_propagate(False)  # a list asks for all the width that there is
        self.list = VirtualList(self.left, on_select=self._choose, on_open=lambda _row: self.table.take_focus())
        self.list.pack(fill="both", expand=True)
        self.lines = Lines(self.main)
        self.lines.grid(row=0, column=1, sticky="ew")
        self.chart = ChartView(self.main, self.ask)
        self.chart.grid(row=1, column=1, sticky="nsew", pady=(unit // 2, 0))
        self.table_title = wrapped(self.main, style="Desk.TLabel", font=self.look.bold)
        self.table_title.grid(row=2, column=1, sticky="ew", pady=(unit // 2, unit // 4))
        self.table = VirtualList(self.main, height=5)
        self.table.grid(row=3, column=1, sticky="ew")
        self._key = ""
        self._view: StudyView | None = None
        self._chart = self._table = 0
        self._is_low = self._has_gone_on = False
        self.middle.bind("<Configure>", lambda event: self._fit(event.width, event.height), add="+")
        self.tool("Figures (Ctrl+O)", self._figures, key="<Control-o>")
        self.tool("Next chart (Ctrl+G)", self._next_chart, key="<Control-g>")
        self.tool("Next table (Ctrl+T)", self._next_table, key="<Control-t>")
        self.tool("Anew (Ctrl+R)", self._anew, key="<Control-r>")
        self.tool("Print (Ctrl+P)", self._print, key="<Control-p>")
        for number in range(1, 10):
            self.frame.shortcut(self, f"<Control-Key-{number}>", lambda n=number: self._to_chart(n - 1))  # type: ignore[misc]

    def show(self, key: str = "") -> None:
        if key:
            self.key = key
        self._anew()
        self.take_focus()

    def refresh(self) -> None:
        """The book has gone on.  A study reads years of it: it is asked for again by a key, not with every entry."""
        self._has_gone_on = True
        self._show_heading()

    def after_act(self) -> None:
        self._anew()

    def _anew(self) -> None:
        self._key, self._has_gone_on = "", False
        self.ask(self.studies.listing, lambda listing: self.list.show(listing, key=self.key or None))

    def take_focus(self) -> None:
        self.list.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key == self._key:
            return
        if row.key != self.key:
            self._chart = self._table = 0
        self._key = self.key = row.key
        self.ask(lambda: self.studies.view(row.key), self._show, lambda failure: self._show_failure(row, failure))

    def _show(self, view: StudyView) -> None:
        if view.key != self._key:
            return
        self._view = view
        self._show_lines()
        self._show_chart()
        self._show_table()

    def _show_failure(self, row: Row, failure: Failure) -> None:
        """Why there is no study of this row; nothing of another one stays beside it."""
        if row.key != self._key:
            return
        self._view = None
        self.heading.configure(text=self.title)
        self.lines.show((Labelled("No answer", failure.text),))
        self.chart.show(None, "")
        self.table_title.configure(text="")
        self.table.show(Listing((), (), ""))
        self.say(f"✗ {failure.text}")

    def _fit(self, width: int, height: int) -> None:
        """What a small window leaves out: half of the list's width, the figures beside the answer, rows of the table."""
        chars = _LIST_CHARS if width > self.look.chars(_WIDE_CHARS) else _NARROW_CHARS
        self.left.configure(width=self.look.chars(chars))
        is_low = height < _HIGH_LINES * self.look.line
        if is_low != self._is_low:
            self._is_low = is_low
            self.table.tree.configure(height=3 if is_low else 5)
            self._show_lines()

    def _show_lines(self) -> None:
        if self._view is not None:
            self.lines.show(self._view.lines[:1] if self._is_low else self._view.lines)

    def _figures(self) -> None:
        """Every figure with its source, in a panel."""
        view = self._view
        if view is not None:
            self.open_panel(lambda parent: FiguresPanel(parent, view, self.close_panel))

    def _show_chart(self) -> None:
        view = self._view
        if view is None:
            return
        self._chart = min(self._chart, max(len(view.charts) - 1, 0))
        self._show_heading()
        if not view.charts:
            self.chart.show(None, "Nothing to draw.")
            return
        picture, studies = view.charts[self._chart], self.studies
        self.chart.show(lambda width, height, dpi: studies.png(picture, width, height, dpi))

    def _show_heading(self) -> None:
        view = self._view
        if view is None:
            return
        of = f", chart {self._chart + 1} of {len(view.charts)}" if len(view.charts) > 1 else ""
        old = "  (the book has gone on: Ctrl+R)" if self._has_gone_on else ""
        self.heading.configure(text=f"{view.title}{of}{old}")

    def _show_table(self) -> None:
        view = self._view
        if view is None or not view.tables:
            return
        self._table %= len(view.tables)
        heading, listing = view.tables[self._table]
        self.table.show(listing)
        of = f", table {self._table + 1} of {len(view.tables)}" if len(view.tables) > 1 else ""
        self.table_title.configure(text=f"{heading}{of}")

    def _next_chart(self) -> None:
        if self._view is not None and self._view.charts:
            self._to_chart((self._chart + 1) % len(self._view.charts))

    def _to_chart(self, number: int) -> None:
        if self._view is not None and number < len(self._view.charts):
            self._chart = number
            self._show_chart()

    def _next_table(self) -> None:
        self._table += 1
        self._show_table()

    def _print(self) -> None:
        if self._view is not None:
            self.fill(self.studies.paper_form(self._view))


class TrendsScreen(StudyScreen):
    """Lamps, baths, meters, residual fields, the penetrant line, any repeated reading."""

    name, title = "trends", "Trends"

    @property
    def studies(self) -> Trends:
        return self.desk.trends

    def build(self) -> None:
        super().build()
        self.tool("From a day, dose (Ctrl+D)", self._settings, key="<Control-d>")

    def _settings(self) -> None:
        key = self._key
        if key:
            self.ask(lambda: self.studies.settings_form(key), self.fill)


class GatheringScreen(StudyScreen):
    """Every relevant find of a part number on its outline, round the clock, and how often it cracks."""

    name, title = "gathering", "Where cracks gather"

    @property
    def studies(self) -> Gathering:
        return self.desk.gathering


class HowGoodScreen(StudyScreen):
    """Second looks of each method, and the probability of detection of a qualification set."""

    name, title = "how good", "How good are we"

    @property
    def studies(self) -> HowGood:
        return self.desk.how_good

    def build(self) -> None:
        super().build()
        self.tool("Qualification set (Ctrl+N)", lambda: self.fill(self.studies.set_form()), key="<Control-n>")
