"""One entry in full, and its form beside it: fields, reason, what would happen."""

from __future__ import annotations

from ndi.gui.presenters.desk.corrections import EntryView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines


class CorrectionScreen(Screen):
    """An entry by its number; Ctrl+E opens the form, Alt+Left goes back."""

    name, title = "correction", "Entry"

    def build(self) -> None:
        self._view: EntryView | None = None
        self.lines = Lines(self.main)
        self.lines.pack(fill="both", expand=True)
        self.edit = self.tool("Correct it (Ctrl+E)", self._edit, key="<Control-e>")
        self.tool("What it recalls (Ctrl+R)", lambda: self.recall(self.key), key="<Control-r>")
        self.tool("Back (Alt+Left)", self.frame.back)

    def refresh(self) -> None:
        position = int(self.key)
        self.ask(lambda: self.desk.corrections.entry(position), self._show)

    def take_focus(self) -> None:
        self.edit.focus_set()

    def _show(self, view: EntryView) -> None:
        self._view = view
        self.heading.configure(text=view.title)
        self.lines.show(view.lines)
        self.edit.state(["!disabled"] if view.form else ["disabled"])
        if view.why_not:
            self.say(view.why_not)

    def _edit(self) -> None:
        if self._view is None:
            return
        if self._view.form is None:
            self.say(self._view.why_not)
        else:
            self.fill(self._view.form)

    def after_act(self) -> None:
        self.frame.back()
