"""What every screen of the desk has: a title, work in the worker's thread, a panel at the right, the message line."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk
from typing import TYPE_CHECKING, Any, ClassVar

from ndi.gui.presenters.desk.acts import Act, Failure, Form
from ndi.gui.views.desk import look as looks
from ndi.gui.views.desk.panels import FormPanel, Panel, SignPanel
from ndi.gui.views.desk.texts import Flow, wrapped

if TYPE_CHECKING:
    from ndi.gui.views.desk.desk_frame import DeskFrame


class Screen(ttk.Frame):
    """One screen; a subclass builds it in ``build`` and fills it in ``refresh``."""

    name: ClassVar[str]
    title: ClassVar[str]
    beside_panel: ClassVar[int] = 66  # characters that it needs to be read beside a panel

    def __init__(self, parent: tk.Misc, frame: DeskFrame) -> None:
        super().__init__(parent, style="Desk.TFrame")
        self.frame, self.desk = frame, frame.desk
        self.look = looks.dress(parent)
        self.key = ""
        self.panel: Panel | None = None
        self._left_focus: tk.Misc | None = None
        self.head = ttk.Frame(self, style="Desk.TFrame")
        self.head.pack(fill="x", pady=(0, self.look.unit // 2))
        self.heading = ttk.Label(self.head, text=self.title, style="Title.TLabel")
        self.heading.pack(side="left")
        self._tools = Flow(self, self.head)
        self.middle = ttk.Frame(self, style="Desk.TFrame")
        self.middle.pack(fill="both", expand=True)
        self.main = ttk.Frame(self.middle, style="Desk.TFrame")
        self.main.pack(side="left", fill="both", expand=True)
        self.build()

    # --- for subclasses -----------------------------------------------------------------------------

    def build(self) -> None:
        """Make the widgets, once."""

    def refresh(self) -> None:
        """Ask the presenter and show what it says."""

    def take_focus(self) -> None:
        """Put the focus where work begins."""

    def show(self, key: str = "") -> None:
        """Come to the front; ``key`` is what is to be looked at, empty for what was looked at before."""
        if key:
            self.key = key
        self.refresh()
        self.take_focus()

    # --- work ---------------------------------------------------------------------------------------

    def ask(
        self, job: Callable[[], Any], then: Callable[[Any], None], failed: Callable[[Failure], None] | None = None
    ) -> None:
        """Do a job in the worker's thread; what it says is shown only while this screen lives."""
        self.frame.ask(job, lambda result: then(result) if self.winfo_exists() else None, failed)

    def say(self, text: str) -> None:
        self.frame.say(text)

    def go(self, screen: str, key: str = "") -> None:
        self.frame.go(screen, key)

    def recall(self, entry: str) -> None:
        """What an entry recalled, or would recall if it were bad; nothing is written by looking."""
        if not entry:
            self.say("Put the bar on a reading, check, calibration, certificate or batch, then press Ctrl+R.")
        else:
            self.ask(lambda: self.desk.recalls.suspect(int(entry)), lambda key: self.go("recalls", key))

    # --- tools above, panel at the right -------------------------------------------------------------

    def tool(self, text: str, command: Callable[[], None], *, key: str | None = None) -> ttk.Button:
        """A button above the content; ``key`` presses it from anywhere in this screen, e.g. ``<Control-p>``."""
        button = ttk.Button(self._tools, text=text, command=command, style="Plain.TButton")
        self._tools.add(button)
        if key is not None:
            self.frame.shortcut(self, key, command)
        return button

    def fill(self, form: Form) -> None:
        """Open a form; what is typed becomes an act, which is shown before it is done."""

        def done(values: dict[str, str]) -> None:
            self.ask(lambda: form.act(values), self.propose, self._trouble)

        self.open_panel(lambda parent: FormPanel(parent, form, self.close_panel, done))

    def propose(self, act: Act) -> None:
        """Show what is about to be done; nothing is signed without being shown."""
        if act.meaning is None and not act.notes:
            self._carry_out(act)
            return
        asks = self.desk.asks_secret(act)
        self.open_panel(
            lambda parent: SignPanel(
                parent,
                act,
                self.close_panel,
                lambda *typed: self._carry_out(act, *typed),
                practice=self.desk.practice,
                asks_secret=asks,
            )
        )

    def _carry_out(self, act: Act, *typed: str) -> None:
        self.ask(lambda: self.desk.carry_out(act, *typed), self._carried_out, self._trouble)

    def _carried_out(self, said: str) -> None:
        self.close_panel()
        self.after_act()
        self.say(said)

    def after_act(self) -> None:
        """After something was saved."""
        self.refresh()

    def _trouble(self, failure: Failure) -> None:
        if self.panel is not None:
            self.panel.trouble(failure)
        self.say(f"✗ {failure.text}")

    def open_panel(self, make: Callable[[tk.Misc], Panel]) -> None:
        """Open a panel at the right; the one that is open goes."""
        if self.panel is None:
            self._left_focus = self.focus_get()
        else:
            self.panel.destroy()
        self.panel = make(self.middle)
        self.panel.update_idletasks()
        left_over = self.middle.winfo_width() - self.panel.winfo_reqwidth()
        if left_over < self.look.chars(self.beside_panel):  # too narrow to read beside it: the panel takes the place
            self.main.pack_forget()
            self.panel.pack(fill="both", expand=True)
        else:
            self.panel.pack(side="right", fill="y", padx=(self.look.unit, 0), before=self.main)
        take = getattr(self.panel, "take_focus", None)
        if take is not None:
            take()

    def close_panel(self) -> None:
        """Close it; the focus goes back to where it was."""
        if self.panel is None:
            return
        self.panel.destroy()
        self.panel = None
        if not self.main.winfo_manager():
            self.main.pack(side="left", fill="both", expand=True)
        if self._left_focus is not None and self._left_focus.winfo_exists():
            self._left_focus.focus_set()
        else:
            self.take_focus()

    def watch_head(self, widget: tk.Misc) -> None:
        """A widget beside the heading whose text changes: the buttons make room for it."""
        self._tools.watch(widget)

    # --- pieces that many screens have ----------------------------------------------------------------

    def caption(self, parent: tk.Misc, text: str = "") -> ttk.Label:
        """A heading over a list."""
        label = wrapped(parent, text, style="Desk.TLabel", font=self.look.bold)
        label.pack(fill="x", anchor="w", pady=(self.look.unit // 2, self.look.unit // 4))
        return label
