"""Records that wait for somebody else's word, what stands in their way, and the forms for it."""

from __future__ import annotations

from collections.abc import Callable

from ndi.gui.presenters.desk.acts import Form
from ndi.gui.presenters.desk.level_three import Case
from ndi.gui.presenters.desk.listing import Row
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.virtual_list import VirtualList


class LevelThreeScreen(Screen):
    """Return on a record opens it; Return on a rule opens the deviation."""

    name, title = "level three", "Level III, verifying"

    def build(self) -> None:
        self.records = VirtualList(self.main, on_select=self._choose, on_open=lambda row: self.go("record", row.key))
        self.records.pack(fill="both", expand=True)
        self.case_title = self.caption(self.main)
        self.answers = VirtualList(self.main, on_open=lambda _row: self._deviate())
        self.answers.pack(fill="both", expand=True)
        self._case: Case | None = None
        self._name = ""
        presenter = self.desk.level_three
        self.tool("Deviation (Ctrl+D)", self._deviate, key="<Control-d>")
        self.tool("Concession", lambda: self._open(presenter.concession_form))
        self.tool("Disagreement", lambda: self._open(presenter.disagreement_form))
        self.tool("Second signature", lambda: self._open(presenter.second_form))
        self.tool("Verify what is complete", lambda: self.ask(presenter.verification, self.propose))

    def refresh(self) -> None:
        self._name = ""
        self.ask(self.desk.level_three.listing, lambda listing: self.records.show(listing, key=self.key or None))

    def take_focus(self) -> None:
        self.records.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key != self._name:
            self._name = self.key = row.key
            self.ask(lambda: self.desk.level_three.case(row.key), self._show)

    def _show(self, case: Case) -> None:
        if case.inspection == self._name:
            self._case = case
            self.case_title.configure(text=case.title)
            self.answers.show(case.answers)

    def _open(self, form: Callable[[Case], Form]) -> None:
        case = self._case
        if case is not None:
            self.ask(lambda: form(case), self.fill)

    def _deviate(self) -> None:
        rule = self.answers.current.key if self.answers.current else ""
        self._open(lambda case: self.desk.level_three.deviation_form(case, rule))
