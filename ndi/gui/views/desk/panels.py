"""What opens inside the window instead of a box over it: a form, a signature, the reason of a refusal."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from tkinter import ttk

from ndi.gui.presenters.desk.acts import PRACTICE_TEXT, Act, Failure, Field, Form
from ndi.gui.views.desk import look as looks
from ndi.gui.views.desk.texts import wrapped

PANEL_CHARS = 52  # the width of a panel
SHORT_LIST, SHORT_NAME = 8, 16  # lines, characters


class Panel(tk.Frame):
    """The frame of everything that opens at the right; Escape closes it."""

    def __init__(self, parent: tk.Misc, title: str, close: Callable[[], None]) -> None:
        super().__init__(
            parent,
            background=looks.PAPER,
            highlightthickness=2,
            highlightbackground=looks.ACCENT,
            highlightcolor=looks.ACCENT,
        )
        self.look = looks.dress(parent)
        self._close = close
        unit = self.look.unit
        self.width = self.look.chars(PANEL_CHARS)
        self._canvas = tk.Canvas(self, background=looks.PAPER, highlightthickness=0, takefocus=False)
        self._bar = ttk.Scrollbar(self, orient="vertical", command=self._canvas.yview, style="Desk.Vertical.TScrollbar")
        self._canvas.pack(side="left", fill="both", expand=True)
        self.body = ttk.Frame(self._canvas, style="Paper.TFrame", padding=unit)
        self._inside = self._canvas.create_window(0, 0, anchor="nw", window=self.body)
        self._canvas.configure(yscrollcommand=self._bar.set, width=self.width + 2 * unit)
        self._canvas.bind("<Configure>", lambda _event: self._fit())
        self.body.bind("<Configure>", lambda _event: self._fit())
        ttk.Frame(self.body, style="Paper.TFrame", width=self.width, height=1).pack()
        self.text(title, "Bold.TLabel")
        self.bind_class(str(self), "<Escape>", lambda _event: close())
        self._trouble: ttk.Label | None = None

    def _fit(self) -> None:
        """The body is as wide as the panel; a scrollbar stands beside it where it is longer."""
        height, needed = self._canvas.winfo_height(), self.body.winfo_reqheight()
        self._canvas.itemconfigure(self._inside, width=self._canvas.winfo_width())
        self._canvas.configure(scrollregion=(0, 0, 1, max(needed, height)))
        if needed > height > 1:
            self._bar.pack(side="right", fill="y", before=self._canvas)
        else:
            self._bar.pack_forget()

    def _into_sight(self, event: tk.Event[tk.Misc]) -> None:
        """Scroll so that the widget that has the focus is seen."""
        widget, height, whole = event.widget, self._canvas.winfo_height(), self.body.winfo_reqheight()
        top = widget.winfo_rooty() - self.body.winfo_rooty()
        seen = self._canvas.canvasy(0)
        if whole > height and not seen <= top <= seen + height - 3 * self.look.line:
            self._canvas.yview_moveto(max(top - 2 * self.look.line, 0) / whole)

    def text(self, text: str, style: str = "Paper.TLabel", *, top: int = 0) -> ttk.Label:
        """A paragraph over the whole width."""
        label = wrapped(self.body, text, style=style)
        label.pack(fill="x", anchor="w", pady=(top, self.look.unit // 2))
        return label

    def buttons(self, *named: tuple[str, Callable[[], None]]) -> list[ttk.Button]:
        """Buttons beside each other, the first one the one that is meant; then Close."""
        line = ttk.Frame(self.body, style="Paper.TFrame")
        line.pack(fill="x", pady=(self.look.unit, 0))
        made = []
        for number, (text, command) in enumerate(named):
            button = ttk.Button(
                line, text=text, command=command, style="Go.TButton" if number == 0 else "Plain.TButton"
            )
            button.pack(side="left", padx=(0, self.look.unit))
            made.append(button)
        ttk.Button(line, text="Close (Esc)", command=self._close, style="Plain.TButton").pack(side="left")
        return made

    def trouble(self, failure: Failure) -> None:
        """Say inside the panel why it was not done."""
        if self._trouble is None:
            self._trouble = ttk.Label(
                self.body,
                style="Trouble.TLabel",
                wraplength=self.width - self.look.unit,
                justify="left",
                padding=self.look.unit // 2,
            )
        text = "\n".join((f"✗ {failure.text}", *failure.lines[:12]))
        self._trouble.configure(text=text)
        self._trouble.pack(fill="x", pady=(self.look.unit, 0))
        self.update_idletasks()
        self._fit()
        self._canvas.yview_moveto(1)  # it stands below the button

    def escapes(self) -> None:
        """Let Escape close it from every widget inside."""
        for widget in _all_inside(self):
            widget.bindtags((*widget.bindtags(), str(self)))
            if isinstance(widget, (ttk.Entry, ttk.Button)):
                widget.bind("<FocusIn>", self._into_sight, add="+")


def put(widget: ttk.Entry, text: str) -> None:
    """Put a text into a field, its end in sight.

    The desk has no variables of the toolkit: they are deleted by whichever
    thread collects them, and the worker's may not touch the window.
    """
    held = str(widget.cget("state"))
    widget.configure(state="normal")
    widget.delete(0, "end")
    widget.insert(0, text)
    widget.xview_moveto(1)
    widget.configure(state=held)


def _in_few_lines(covers: Sequence[str]) -> Sequence[str]:
    """Many short names (a shift's records) as running text, so that the whole cover is in sight at once."""
    if len(covers) > SHORT_LIST and all(len(line) <= SHORT_NAME for line in covers):
        return (f"{len(covers)}: {', '.join(covers)}",)
    return covers


def _all_inside(widget: tk.Misc) -> list[tk.Misc]:
    return [widget, *(deep for child in widget.winfo_children() for deep in _all_inside(child))]


class FormPanel(Panel):
    """A form; Return in a field goes on to the next, the button hands the values over."""

    def __init__(
        self, parent: tk.Misc, form: Form, close: Callable[[], None], done: Callable[[dict[str, str]], None]
    ) -> None:
        super().__init__(parent, form.title, close)
        self._done = done
        self.inputs: dict[str, ttk.Entry] = {}
        for line in form.lines:
            self.text(line, "Quiet.TLabel")
        grid = ttk.Frame(self.body, style="Paper.TFrame")
        grid.pack(fill="x")
        grid.columnconfigure(1, weight=1)
        for number, field in enumerate(form.fields):
            self._field(grid, number * 2, field)
        (self.go,) = self.buttons((form.button, self.hand_over))
        self._next_by_return(form.fields)
        self.escapes()

    def _field(self, grid: tk.Misc, row: int, field: Field) -> None:
        unit = self.look.unit
        name = f"{field.label} *" if field.needed else field.label
        ttk.Label(grid, text=name, style="Paper.TLabel", wraplength=self.look.chars(20), justify="left").grid(
            row=row, column=0, sticky="w", padx=(0, unit), pady=(unit // 2, 0)
        )
        if field.choices:
            state = "normal" if field.free else "readonly"
            widget: ttk.Entry = ttk.Combobox(grid, values=list(field.choices), state=state)
        else:
            widget = ttk.Entry(grid)
        put(widget, field.value)
        widget.grid(row=row, column=1, sticky="ew", pady=(unit // 2, 0))
        self.inputs[field.name] = widget
        hint = field.hint or ("YYYY-MM-DD" if field.day else "")
        if hint:
            wrapped(grid, hint, style="Quiet.TLabel", font=self.look.small).grid(row=row + 1, column=1, sticky="ew")

    def _next_by_return(self, fields: Sequence[Field]) -> None:
        order = [self.inputs[field.name] for field in fields]
        for here, there in zip(order, [*order[1:], self.go], strict=True):
            here.bind("<Return>", lambda _event, there=there: there.focus_set())  # type: ignore[misc]

    def hand_over(self) -> None:
        self._done(self.values())

    def values(self) -> dict[str, str]:
        return {name: widget.get().strip() for name, widget in self.inputs.items()}

    def set(self, name: str, text: str) -> None:
        put(self.inputs[name], text)

    def take_focus(self) -> None:
        first = next(iter(self.inputs.values()), self.go)
        first.focus_set()


class SignPanel(Panel):
    """What is about to be done, its meaning and what it covers; the secret where one is asked for."""

    def __init__(
        self,
        parent: tk.Misc,
        act: Act,
        close: Callable[[], None],
        sign: Callable[..., None],
        *,
        practice: bool,
        asks_secret: bool,
    ) -> None:
        super().__init__(parent, act.title, close)
        self._sign = sign
        self.text(act.meaning_text)
        for line in _in_few_lines(act.covers):
            self.text(f"•  {line}")
        for line in act.notes:
            self.text(line, "Quiet.TLabel")
        self._secrets: list[tuple[ttk.Entry, ttk.Entry]] = []  # one pair for each person who signs
        if asks_secret:
            for person in (act.person, *([act.second.person] if act.second else [])):
                self._secret_fields(person)
        elif practice and act.meaning is not None:
            self.text(PRACTICE_TEXT, "Quiet.TLabel", top=self.look.unit)
        (self.go,) = self.buttons(("Sign" if act.meaning else "Save", self.hand_over))
        self.escapes()

    def _secret_fields(self, person: str) -> None:
        self.text(f"Password of {person} (or PIN, with the badge)", top=self.look.unit)
        secret = ttk.Entry(self.body, show="•")
        secret.pack(fill="x")
        self.text("Badge, only with a PIN", "Quiet.TLabel", top=self.look.unit // 2)
        badge = ttk.Entry(self.body)
        badge.pack(fill="x")
        for widget in (secret, badge):
            widget.bind("<Return>", lambda _event: self._next_or_sign())
        self._secrets.append((secret, badge))

    @property
    def entry(self) -> ttk.Entry | None:
        """Where the (first) secret is typed."""
        return self._secrets[0][0] if self._secrets else None

    def _next_or_sign(self) -> None:
        """Return goes on to the first secret that is still empty, then signs."""
        empty = [secret for secret, _ in self._secrets if not secret.get()]
        if empty and self.focus_get() is not empty[0]:
            empty[0].focus_set()
        else:
            self.hand_over()

    def hand_over(self) -> None:
        typed: list[str] = []
        for secret, badge in self._secrets:
            typed += [secret.get(), badge.get().strip()]
            secret.delete(0, "end")  # what was typed is not left standing in a widget
        if len(typed) > 2:
            self._secrets[0][0].focus_set()
        self._sign(*(typed or ("", "")))

    def take_focus(self) -> None:
        (self.entry or self.go).focus_set()
