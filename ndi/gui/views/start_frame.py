"""The first screen while no book is named: three choices at the left, what belongs to the chosen one at the right."""

from __future__ import annotations

import os
import tkinter as tk
from collections.abc import Callable
from functools import partial
from itertools import islice, pairwise
from tkinter import ttk

from ndi.domain.errors import InputError, NdiError, WrongAnswers
from ndi.gui.presenters.desk import files
from ndi.gui.presenters.set_up import (
    PRACTICE_LINES,
    Asked,
    Opening,
    Ways,
    new_book_form,
    repeated_wrongly,
    to_hand_over,
)
from ndi.gui.views.desk import look as looks
from ndi.gui.views.desk.texts import wrapped
from ndi.gui.worker import Worker

ENDING = ".ndibook"
COLUMNS = (1, 2, 2)  # groups of the form of a new book that stand under each other
CHOICES = ("Practice copy of the demonstration day", "Open a book", "Make a new book")


class StartFrame(ttk.Frame):
    """``chosen`` is given what opens the book; :meth:`progress` and :meth:`failed` say how that goes on."""

    def __init__(self, parent: tk.Misc, ways: Ways, worker: Worker, chosen: Callable[[Opening], None]) -> None:
        super().__init__(parent, style="Desk.TFrame")
        self.look = looks.dress(parent)
        self.ways, self._worker, self._chosen = ways, worker, chosen
        self.is_busy = False
        self._progress = ""
        unit = self.look.unit
        self.columnconfigure(1, weight=1)
        self.rowconfigure(1, weight=1)
        self._build_head()
        nav = ttk.Frame(self, style="Nav.TFrame", padding=unit)
        nav.grid(row=1, column=0, sticky="ns")
        self.buttons = [
            ttk.Button(nav, text=f"{number}  {text}", style="Nav.TButton", command=partial(self.choose, number))
            for number, text in enumerate(CHOICES, 1)
        ]
        for button in self.buttons:
            button.pack(fill="x", pady=(0, unit // 2))
        self._stage = ttk.Frame(self, style="Desk.TFrame", padding=(unit, unit))
        self._stage.grid(row=1, column=1, sticky="nsew")
        self.pages: list[ttk.Frame] = [PracticePage(self), OpenPage(self), NewPage(self)]
        line = tk.Frame(self, background=looks.PAPER, highlightthickness=1, highlightbackground=looks.LINE)
        line.grid(row=2, column=0, columnspan=2, sticky="ew")
        self.message = wrapped(line, style="Bold.TLabel")
        self.message.pack(fill="x", padx=unit, pady=unit // 2)
        self.here = 0
        self._keys()
        self.choose(1, focus=False)

    def _build_head(self) -> None:
        unit = self.look.unit
        head = ttk.Frame(self, style="Desk.TFrame", padding=(unit, unit, unit, 0))
        head.grid(row=0, column=0, columnspan=2, sticky="ew")
        ttk.Label(head, text="Which record book?", style="Title.TLabel").pack(anchor="w")

    def _keys(self) -> None:
        """1, 2, 3 while nothing is typed into; with Alt everywhere."""
        for number in range(1, len(CHOICES) + 1):
            for button in self.buttons:
                for key in (f"<Key-{number}>", f"<KP_{number}>"):
                    button.bind(key, lambda _event, number=number: self.choose(number))  # type: ignore[misc]
            self.winfo_toplevel().bind(f"<Alt-Key-{number}>", partial(self._by_alt, number), add="+")

    def _by_alt(self, number: int, _event: tk.Event[tk.Misc]) -> None:
        if self.winfo_exists():
            self.choose(number)

    @property
    def stage(self) -> ttk.Frame:
        return self._stage

    def choose(self, number: int, *, focus: bool = True) -> None:
        """Bring what belongs to a choice to the front."""
        if self.is_busy:
            return
        for each, button in enumerate(self.buttons, 1):
            button.configure(style="Here.TButton" if each == number else "Nav.TButton")
        for page in self.pages:
            page.pack_forget()
        self.here = number
        self.pages[number - 1].pack(fill="both", expand=True)
        self.say("")
        if focus:
            self.pages[number - 1].focus_set()

    def focus_set(self) -> None:
        """The focus begins on the choice that is in front."""
        self.buttons[self.here - 1].focus_set()

    # --- going on ---------------------------------------------------------------------------------

    def open(self, opening: Opening) -> None:
        """Hand over what was chosen; nothing else can be pressed until it is open or has failed."""
        if not self.is_busy:
            self.busy(True)
            self._chosen(opening)

    def make(self, values: dict[str, str], page: NewPage) -> None:
        """Make a book from the form, then open it."""
        if self.is_busy:
            return
        self.busy(True)
        self._progress = "looking at the answers"
        self._worker.ask(
            lambda: self.ways.make(values, self._heard),
            lambda book: self._chosen(self.ways.opening(book)),
            lambda error: self._not_made(error, page),
        )
        self._watch()

    def _heard(self, words: str) -> None:
        self._progress = words  # from the worker's thread

    def _watch(self) -> None:
        if self.winfo_exists() and self.is_busy:
            self.progress(self._progress)
            self.after(100, self._watch)

    def _not_made(self, error: Exception, page: NewPage) -> None:
        if isinstance(error, WrongAnswers):
            self.busy(False)
            page.wrong(error.problems)
            self.say(f"✗ Nothing was made: {len(error.problems)} of the answers cannot be used, see beside them.")
        else:
            self.failed(error)

    def progress(self, words: str) -> None:
        """What is being done."""
        if self.is_busy and str(self.message.cget("text")) != f"▬ {words} ...":
            self._progress = words
            self.say(f"▬ {words} ...")

    def failed(self, error: Exception) -> None:
        """It could not be opened; everything stands as it stood."""
        self.busy(False)
        words = str(error) if isinstance(error, (NdiError, OSError)) else f"{type(error).__name__}: {error}"
        self.say(f"✗ {words}")

    def busy(self, is_busy: bool) -> None:
        """Whether something is being done: then nothing can be pressed."""
        self.is_busy = is_busy
        for button in self.buttons:
            button.state(["disabled" if is_busy else "!disabled"])

    def say(self, text: str) -> None:
        """One message, in the line at the bottom."""
        self.message.configure(text=text)


class PracticePage(ttk.Frame):
    """The practice copy: what it is, where it lies."""

    def __init__(self, start: StartFrame) -> None:
        super().__init__(start.stage, style="Paper.TFrame", padding=start.look.unit * 2)
        unit = start.look.unit
        ttk.Label(self, text="PRACTICE", style="Practice.TLabel", padding=(unit, unit // 4)).pack(
            anchor="w", pady=(0, unit)
        )
        for line in (*PRACTICE_LINES, f"It lies in {start.ways.practice_folder} and is made there the first time."):
            wrapped(self, line, style="Paper.TLabel").pack(fill="x", pady=(0, unit))
        self.go = ttk.Button(
            self, text="Open the practice copy", style="Go.TButton", command=lambda: start.open(start.ways.practice)
        )
        self.go.pack(anchor="w")

    def focus_set(self) -> None:
        """The focus is on the button."""
        self.go.focus_set()


class OpenPage(ttk.Frame):
    """A path that is typed, and the list of what it could become; before anything is typed, the books opened last."""

    def __init__(self, start: StartFrame) -> None:
        super().__init__(start.stage, style="Paper.TFrame", padding=start.look.unit * 2)
        self._start = start
        unit = start.look.unit
        ttk.Label(self, text="File of the book, or address of a book on a server", style="Paper.TLabel").pack(
            anchor="w"
        )
        line = ttk.Frame(self, style="Paper.TFrame")
        line.pack(fill="x", pady=(unit // 2, 0))
        self.path = ttk.Entry(line)
        self.path.pack(side="left", fill="x", expand=True)
        self.go = ttk.Button(line, text="Open", style="Go.TButton", command=self._open)
        self.go.pack(side="left", padx=(unit, 0))
        self.heading = ttk.Label(self, style="Quiet.TLabel")
        self.heading.pack(anchor="w", pady=(unit, unit // 2))
        self.list = ttk.Treeview(self, show="tree", style="Desk.Treeview", selectmode="browse", height=8)
        self.list.pack(fill="both", expand=True)
        wrapped(
            self,
            "Tab completes the path, Down goes into the list, Return takes what the bar stands on, Backspace goes up.",
            style="Quiet.TLabel",
        ).pack(fill="x", pady=(unit // 2, 0))
        self._listed: str | None = None
        self._paths: list[str] = []
        self.path.bind("<Return>", lambda _event: self._open())
        self.path.bind("<Tab>", self._complete)
        self.path.bind("<Down>", self._into_list)
        for event in ("<KeyRelease>", "<<Paste>>", "<<Cut>>"):
            self.path.bind(event, lambda _event: self.after_idle(self.fill))
        for event in ("<Return>", "<KP_Enter>", "<Double-Button-1>"):
            self.list.bind(event, lambda _event: self._take())
        self.list.bind("<BackSpace>", lambda _event: self.put(files.parent(self.path.get() or os.getcwd())))
        self.fill()

    def focus_set(self) -> None:
        """The focus is where the path is typed."""
        self.path.focus_set()

    def put(self, path: str) -> None:
        """Write a path into the field."""
        self.path.delete(0, "end")
        self.path.insert(0, path)
        self.path.xview_moveto(1)
        self.fill()

    def fill(self) -> None:
        """The list for what stands in the field."""
        typed = self.path.get().strip()
        if typed == self._listed:
            return
        self._listed = typed
        recent = self._start.ways.recent() if not typed else ()
        if recent:
            shown = [(path, path) for path in recent]
            self.heading.configure(text="Opened last")
        else:
            folder = typed or f"{os.getcwd()}/"
            shown = [(line.name, line.path) for line in files.folder(folder, ENDING)]
            self.heading.configure(text=f"In {os.path.dirname(os.path.expanduser(folder)) or os.getcwd()}")
        self.list.delete(*self.list.get_children())
        self._paths = [path for _text, path in shown]
        for number, (text, _path) in enumerate(shown):
            self.list.insert("", "end", iid=str(number), text=text)

    def _into_list(self, _event: tk.Event[tk.Misc]) -> str:
        rows = self.list.get_children()
        if rows:
            self.list.focus_set()
            self.list.focus(rows[0])
            self.list.selection_set(rows[0])
        return "break"

    def _take(self) -> str:
        row = self.list.focus()
        if row:
            path = self._paths[int(row)]
            self.put(path)
            if not path.endswith("/"):
                self._open()
        return "break"

    def _complete(self, _event: tk.Event[tk.Misc]) -> str | None:
        completed = files.completed(self.path.get())
        if completed == self.path.get():
            return None  # nothing to complete: Tab goes on to the button
        self.put(completed)
        return "break"

    def _open(self) -> None:
        book = self.path.get().strip()
        if not book:
            self._start.failed(InputError("type the file of a book, or choose one from the list"))
            return
        self._start.open(self._start.ways.opening(book))


class NewPage(ttk.Frame):
    """The answers a book begins with, in columns; what is wrong stands under its field, and nothing typed is lost."""

    def __init__(self, start: StartFrame) -> None:
        super().__init__(start.stage, style="Paper.TFrame", padding=start.look.unit)
        self._start = start
        self.groups = new_book_form(os.getcwd())
        self.inputs: dict[str, ttk.Entry] = {}
        self._under: dict[str, ttk.Label] = {}
        self._hints: dict[str, str] = {}
        unit = start.look.unit
        self._canvas = tk.Canvas(self, background=looks.PAPER, highlightthickness=0, takefocus=False)
        self._bar = ttk.Scrollbar(self, orient="vertical", command=self._canvas.yview, style="Desk.Vertical.TScrollbar")
        self._canvas.pack(side="left", fill="both", expand=True)
        self._canvas.configure(yscrollcommand=self._bar.set)
        self._body = ttk.Frame(self._canvas, style="Paper.TFrame")
        self._inside = self._canvas.create_window(0, 0, anchor="nw", window=self._body)
        for widget in (self._canvas, self._body):
            widget.bind("<Configure>", lambda _event: self._fit())
        columns = [ttk.Frame(self._body, style="Paper.TFrame") for _ in COLUMNS]
        for number, column in enumerate(columns):
            self._body.columnconfigure(number, weight=1, uniform="answers")
            column.grid(row=0, column=number, sticky="new", padx=(0, unit * 2))
            column.columnconfigure(1, weight=1)
        groups = iter(self.groups)
        for column, count in zip(columns, COLUMNS, strict=True):
            row = 0
            for group in islice(groups, count):
                row = self._group(column, row, group.heading, group.fields)
        self.go = ttk.Button(self._body, text="Make the book", style="Go.TButton", command=self.hand_over)
        self.go.grid(row=1, column=0, sticky="w", pady=(unit, 0))
        order = [*self.inputs.values(), self.go]
        for each in order:
            each.bind("<FocusIn>", self._into_sight)
        for here, there in pairwise(order):
            here.bind("<Return>", lambda _event, there=there: there.focus_set())  # type: ignore[misc]

    def _fit(self) -> None:
        """As wide as the page; a scrollbar stands beside it where it is longer."""
        height, needed = self._canvas.winfo_height(), self._body.winfo_reqheight()
        self._canvas.itemconfigure(self._inside, width=self._canvas.winfo_width())
        self._canvas.configure(scrollregion=(0, 0, 1, max(needed, height)))
        if needed > height > 1:
            self._bar.pack(side="right", fill="y", before=self._canvas)
        else:
            self._bar.pack_forget()

    def _into_sight(self, event: tk.Event[tk.Misc]) -> None:
        """Scroll so that the field that has the focus is seen."""
        height, whole = self._canvas.winfo_height(), self._body.winfo_reqheight()
        top = event.widget.winfo_rooty() - self._body.winfo_rooty()
        seen, room = self._canvas.canvasy(0), 4 * self._start.look.line
        if whole > height and not seen <= top <= seen + height - room:
            self._canvas.yview_moveto(max(top - height // 2, 0) / whole)

    def _group(self, column: ttk.Frame, row: int, heading: str, fields: tuple[Asked, ...]) -> int:
        unit = self._start.look.unit
        wrapped(column, heading, style="Bold.TLabel").grid(
            row=row, column=0, columnspan=2, sticky="ew", pady=(unit if row else 0, 0)
        )
        for number, field in enumerate(fields):
            at = row + 1 + 2 * number
            ttk.Label(column, text=field.label, style="Paper.TLabel").grid(row=at, column=0, sticky="w", padx=(0, unit))
            entry = ttk.Entry(column, show="•" if field.secret else "")
            entry.insert(0, field.value)
            entry.grid(row=at, column=1, sticky="ew", pady=(unit // 4, 0))
            under = wrapped(column, field.hint, style="Quiet.TLabel", font=self._start.look.small)
            if field.hint:
                under.grid(row=at + 1, column=1, sticky="ew")
            self.inputs[field.name], self._under[field.name], self._hints[field.name] = entry, under, field.hint
        return row + 1 + 2 * len(fields)

    def focus_set(self) -> None:
        """The focus begins in the first field."""
        next(iter(self.inputs.values())).focus_set()

    def hand_over(self) -> None:
        """Have the book made, unless something is repeated wrongly."""
        values = {name: entry.get() for name, entry in self.inputs.items()}
        problems = repeated_wrongly(self.groups, values)
        self.wrong(problems)
        if problems:
            self._start.say("✗ Nothing was made: a password and its repetition are not the same.")
        else:
            self._start.make(to_hand_over(self.groups, values), self)

    def wrong(self, problems: dict[str, str]) -> None:
        """Say under each field what is wrong with it; the focus goes to the first."""
        for name, under in self._under.items():
            problem = problems.get(name, "")
            under.configure(text=f"✗ {problem}" if problem else self._hints[name])
            under.configure(foreground=looks.TROUBLE if problem else looks.QUIET)
            row = int(self.inputs[name].grid_info()["row"]) + 1
            if problem or self._hints[name]:
                under.grid(row=row, column=1, sticky="ew")
            else:
                under.grid_remove()
        first = next((name for name in self.inputs if name in problems), None)
        if first is not None:
            self.inputs[first].focus_set()
