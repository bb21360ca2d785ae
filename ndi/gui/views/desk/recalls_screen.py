"""Recall sets with their records, what is to be done with each, what is done; or what an entry would recall."""

from __future__ import annotations

from collections.abc import Callable

from ndi.gui.presenters.desk.acts import Form
from ndi.gui.presenters.desk.listing import Row
from ndi.gui.presenters.desk.recalls import ENTRY, RecallView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines, wrapped
from ndi.gui.views.desk.virtual_list import VirtualList


class RecallsScreen(Screen):
    """Return on a record opens it; with the key of an entry the screen shows what that entry would recall."""

    name, title = "recalls", "Recall sets"
    beside_panel = 80

    def build(self) -> None:
        unit = self.look.unit
        self.left = wrapped(self.main, style="Bold.TLabel")
        self.sets = VirtualList(
            self.main, on_select=self._choose, on_open=lambda _row: self.items.take_focus(), height=3
        )
        self.sets.pack(fill="x")
        self.lines = Lines(self.main)
        self.lines.pack(fill="x", pady=(unit // 2, unit // 2))
        self.detail = Lines(self.main)
        self.detail.pack(side="bottom", fill="x", pady=(unit // 2, 0))
        self.items = VirtualList(
            self.main, on_select=self._tell, on_open=lambda row: self.go("record", row.key), height=5
        )
        self.items.pack(fill="both", expand=True)
        self._name = ""
        self._view: RecallView | None = None
        presenter = self.desk.recalls
        self.tool("Give out (Ctrl+K)", lambda: self._of_record(presenter.assign_form), key="<Control-k>")
        self.tool("Done (Ctrl+D)", lambda: self._of_record(presenter.done_form), key="<Control-d>")
        self.tool("Close (Ctrl+S)", self._close, key="<Control-s>")
        self.tool("Open this set (Ctrl+O)", self._open, key="<Control-o>")
        self.tool("Actions anew (Ctrl+N)", self._propose, key="<Control-n>")
        self.tool("Recall list (Ctrl+P)", self._list_on_paper, key="<Control-p>")
        self.tool("Letters to the owners", self._letters)

    def show(self, key: str = "") -> None:
        if not key and self.key.startswith(ENTRY):
            self.key = ""  # called for by its own key: the sets that were opened
        super().show(key)

    def refresh(self) -> None:
        self._name = ""
        if self.key.startswith(ENTRY):
            self.sets.pack_forget()
            self._name = key = self.key
            self.ask(lambda: self.desk.recalls.recall(key), self._show)
        else:
            self.sets.pack(fill="x", before=self.lines)
            self.ask(self.desk.places.left_early, self._show_left)
            self.ask(self.desk.recalls.listing, lambda listing: self.sets.show(listing, key=self.key or None))

    def take_focus(self) -> None:
        self.items.take_focus()

    def _show_left(self, said: str) -> None:
        """What left although no acceptance stands, above every set."""
        self.left.configure(text=said, padding=self.look.unit // 2)
        if said:
            self.left.pack(fill="x", before=self.sets)
        else:
            self.left.pack_forget()

    def _choose(self, row: Row) -> None:
        if row.key != self._name and not self.key.startswith(ENTRY):
            self._name = self.key = row.key
            self.ask(lambda: self.desk.recalls.recall(row.key), self._show)

    def _show(self, view: RecallView) -> None:
        if view.name == self._name:
            self._view = view
            self.heading.configure(text=view.heading if view.is_supposed else self.title)
            self.lines.show(view.lines)
            self.detail.show(())
            self.items.show(view.items)

    def _tell(self, row: Row) -> None:
        if self._view is not None:
            self.detail.show(self._view.details.get(row.key, ()))

    # --- doing --------------------------------------------------------------------------------------

    def _frozen(self) -> str:
        """The set in front; empty, and said, while it is only supposed."""
        if self._view is None:
            return ""
        if self._view.is_supposed:
            self.say("This set is only supposed: nothing is to be done in it. Ctrl+O opens it.")
            return ""
        return self._view.name

    def _of_record(self, form: Callable[[str, str], Form]) -> None:
        name = self._frozen()
        record = self.items.current.key if self.items.current else ""
        if name:
            self.ask(lambda: form(name, record), self.fill)

    def _close(self) -> None:
        name = self._frozen()
        if name:
            self.ask(lambda: self.desk.recalls.close_form(name), self.fill)

    def _open(self) -> None:
        view = self._view
        if view is None:
            return
        if not view.is_supposed:
            self.say(f"{view.name} is open already. Ctrl+R on a reading shows what that one would recall.")
            return
        self.ask(lambda: self.desk.recalls.open_form(view.entry), self.fill)

    def after_act(self) -> None:
        view = self._view
        if view is not None and view.is_supposed:  # opened now: show the set that was frozen
            self.ask(lambda: self.desk.recalls.suspect(view.entry), self.show)
        else:
            self.refresh()

    def _propose(self) -> None:
        name = self._frozen()
        if name:
            self.propose(self.desk.recalls.propose(name))

    def _list_on_paper(self) -> None:
        name = self._frozen()
        if name:
            self.ask(lambda: self.desk.reports.recall_form(name), self.fill)

    def _letters(self) -> None:
        name = self._frozen()
        if name:
            self.ask(lambda: self.desk.reports.letters_form(name), self.fill)
