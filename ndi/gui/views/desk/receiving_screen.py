"""Receiving in one screen: work order, part list from a file, each piece scanned or typed twice, counted, looked at."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk

from ndi.gui.presenters.desk.files import FolderLine
from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.gui.presenters.desk.receiving import Floor, Guard, TableCheck
from ndi.gui.views.desk.panels import put
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import wrapped
from ndi.gui.views.desk.virtual_list import VirtualList

_FILES = (Column("File or folder", 50, stretch=True),)
_SCAN_MS = 400  # a scanner types a whole code faster than this, a person never does
_SHORTEST_SCAN = 4  # letters


class ReceivingScreen(Screen):
    """Left: the work order and its lines; right: the part list, then the piece in hand."""

    name, title = "receiving", "Receiving"

    def build(self) -> None:
        unit = self.look.unit
        self._guard: Guard | None = None
        self._check: TableCheck | None = None
        self._began = 0
        line = ttk.Frame(self.main, style="Desk.TFrame")
        line.pack(fill="x", pady=(0, unit // 2))
        ttk.Label(line, text="Work order", style="Desk.TLabel").pack(side="left")
        self.orders = ttk.Combobox(line, width=16)
        self.orders.pack(side="left", padx=unit)
        self.orders.bind("<<ComboboxSelected>>", lambda _event: self._choose())
        self.orders.bind("<Return>", lambda _event: self._choose())
        self.said = ttk.Label(line, style="Desk.TLabel")
        self.said.pack(side="left", padx=unit)
        self.tool("Open a work order (Ctrl+N)", lambda: self.fill(self.desk.receiving.order_form()), key="<Control-n>")
        self.tool(
            "Directives (Ctrl+D)",
            lambda: self.fill(self.desk.receiving.directives_form(self.orders.get())),
            key="<Control-d>",
        )
        self.tool("Part list from a file (Ctrl+L)", self._to_file, key="<Control-l>")
        self.tool("Piece in hand (Ctrl+I)", self._to_piece, key="<Control-i>")
        self._build_piece()
        self._build_file()
        self.parts = VirtualList(self.main, on_open=self._look_before)
        self.parts.pack(fill="both", expand=True)
        self._to_piece()

    def _build_piece(self) -> None:
        unit = self.look.unit
        self.piece = ttk.Frame(self.main, style="Paper.TFrame", padding=unit)
        ttk.Label(self.piece, text="Scan the piece, or type its serial number", style="Paper.TLabel").grid(
            row=0, column=0, sticky="w"
        )
        ttk.Label(self.piece, text="and type it again", style="Paper.TLabel").grid(
            row=0, column=1, sticky="w", padx=(unit, 0)
        )
        self.first = ttk.Entry(self.piece, font=self.look.large, width=18)
        self.second = ttk.Entry(self.piece, font=self.look.large, width=18)
        self.first.grid(row=1, column=0, sticky="ew")
        self.second.grid(row=1, column=1, sticky="ew", padx=(unit, 0))
        self.answer = wrapped(self.piece, style="Paper.TLabel")
        self.answer.grid(row=2, column=0, columnspan=2, sticky="ew", pady=(unit // 2, 0))
        self.piece.columnconfigure((0, 1), weight=1)
        self.first.bind("<Key>", self._key_in_first)
        self.first.bind("<Return>", self._first_done)
        self.second.bind("<Return>", lambda _event: self._ask_guard(self.second.get().strip()))

    def _build_file(self) -> None:
        unit = self.look.unit
        self.file = ttk.Frame(self.main, style="Paper.TFrame", padding=unit)
        ttk.Label(
            self.file,
            text=f"A table of commas that begins with: {self.desk.receiving.columns_text()}",
            style="Quiet.TLabel",
        ).pack(anchor="w")
        line = ttk.Frame(self.file, style="Paper.TFrame")
        line.pack(fill="x")
        self.path = ttk.Entry(line)
        put(self.path, self.desk.parent_folder("."))
        self.path.pack(side="left", fill="x", expand=True)
        ttk.Button(line, text="Check", style="Plain.TButton", command=self._check_file).pack(
            side="left", padx=(unit, 0)
        )
        self.bring = ttk.Button(line, text="Bring in", style="Go.TButton", command=self._bring)
        self.bring.pack(side="left", padx=(unit, 0))
        ttk.Label(
            self.file,
            text="Tab completes the path, Down goes into the list, Backspace in the list goes up",
            style="Quiet.TLabel",
            font=self.look.small,
        ).pack(anchor="w")
        self.file_said = ttk.Label(self.file, style="Bold.TLabel")
        self.file_said.pack(anchor="w", pady=(unit // 2, 0))
        self.files = VirtualList(self.file, on_open=self._take_file, height=4)
        self.files.pack(fill="both", expand=True)
        self.errors = VirtualList(self.file, height=4)
        self.path.bind("<Tab>", self._complete)
        self.path.bind("<Return>", lambda _event: self._check_file())
        self.path.bind("<Down>", lambda _event: self.files.take_focus())
        self.files.tree.bind("<BackSpace>", lambda _event: self._up())
        self._listed = ""
        for event in ("<KeyRelease>", "<<Paste>>", "<<Cut>>"):
            self.path.bind(event, lambda _event: self.after_idle(self._path_changed))

    # --- work order ---------------------------------------------------------------------------------

    def refresh(self) -> None:
        if self.key:
            put(self.orders, self.key)
        self.ask(self.desk.receiving.work_orders, self._offer)

    def take_focus(self) -> None:
        (self.first if self.piece.winfo_manager() else self.path).focus_set()

    def _offer(self, orders: tuple[str, ...]) -> None:
        self.orders.configure(values=list(orders))
        if not self.orders.get() and orders:
            put(self.orders, orders[0])
        self._choose()

    def _choose(self) -> None:
        order = self.key = self.orders.get().strip()
        if order:
            self.ask(lambda: self.desk.receiving.floor(order), self._show_floor)

    def _show_floor(self, floor: Floor) -> None:
        if floor.work_order == self.orders.get().strip():
            self.said.configure(text=floor.said)
            self.parts.show(floor.parts)

    # --- the part list --------------------------------------------------------------------------------

    def _to_file(self) -> None:
        self.piece.pack_forget()
        self.file.pack(fill="both", expand=True, pady=(0, self.look.unit), before=self.parts)
        self._list_files()
        self.path.focus_set()
        self.path.icursor("end")

    def _to_piece(self) -> None:
        self.file.pack_forget()
        self.piece.pack(fill="x", pady=(0, self.look.unit), before=self.parts)
        self.first.focus_set()

    def _complete(self, _event: tk.Event[tk.Misc]) -> str:
        typed = self.path.get()
        self.ask(lambda: self.desk.completed(typed), self._completed)
        return "break"

    def _completed(self, path: str) -> None:
        put(self.path, path)
        self._path_changed()

    def _path_changed(self) -> None:
        if self.path.get() != self._listed:
            self._list_files()

    def _list_files(self) -> None:
        self._check = None
        self.bring.state(["disabled"])
        self.errors.pack_forget()
        self.files.pack(fill="both", expand=True)
        self.file_said.configure(text="")
        typed = self._listed = self.path.get()
        self.ask(lambda: self.desk.folder(typed, ".csv"), lambda lines: self._show_files(typed, lines))

    def _show_files(self, typed: str, lines: tuple[FolderLine, ...]) -> None:
        if typed == self.path.get():
            rows = tuple(Row((line.name,), line.path) for line in lines)
            self.files.show(Listing(_FILES, rows, "No folder and no .csv file begins like this."))

    def _take_file(self, row: Row) -> None:
        self._completed(row.key)
        if row.key.endswith("/"):
            self.files.take_focus()
        else:
            self._check_file()

    def _up(self) -> None:
        self._completed(self.desk.parent_folder(self.path.get().rstrip("/") or "/"))

    def _check_file(self) -> None:
        path = self.path.get()
        self.ask(lambda: self.desk.receiving.check(path), self._checked)

    def _checked(self, check: TableCheck) -> None:
        self._check = check
        self.file_said.configure(text=check.said)
        self.say(check.said)
        self.files.pack_forget()
        self.errors.pack(fill="both", expand=True)
        self.errors.show(check.errors)
        self.bring.state(["!disabled"] if check.act else ["disabled"])
        (self.bring if check.act else self.errors.tree).focus_set()

    def _bring(self) -> None:
        if self._check is not None and self._check.act is not None:
            self.propose(self._check.act)

    # --- the piece in hand ----------------------------------------------------------------------------

    def _key_in_first(self, event: tk.Event[tk.Misc]) -> None:
        if not self.first.get():
            self._began = event.time

    def _first_done(self, event: tk.Event[tk.Misc]) -> str:
        """Return behind the first field: a scan is once enough, what was typed is typed again."""
        text = self.first.get().strip()
        scanned = text.startswith("part:") or (len(text) >= _SHORTEST_SCAN and event.time - self._began < _SCAN_MS)
        if not text:
            return "break"
        if scanned:
            self._ask_guard(None)
        else:
            self.second.focus_set()
        return "break"

    def _ask_guard(self, second: str | None) -> None:
        first, order = self.first.get().strip(), self.orders.get().strip()
        self.ask(
            lambda: self.desk.receiving.guard(order, first, second),
            lambda guard: self._guarded(guard, second is not None),
        )

    def _guarded(self, guard: Guard, typed_twice: bool) -> None:
        self._guard = guard
        self.answer.configure(text="\n".join((str(guard.mark), *guard.lines)))
        put(self.second, "")
        if guard.part:
            self.say("")
            self.fill(self.desk.receiving.floor_form(guard, typed_twice=typed_twice))
        else:
            self.say(f"{guard.mark}: {'; '.join(guard.lines)}")
            self.first.focus_set()
            self.first.selection_range(0, "end")

    def after_act(self) -> None:
        put(self.first, "")
        put(self.second, "")
        self.answer.configure(text="")
        if self.file.winfo_manager():
            self._to_piece()
        self.refresh()
        self.take_focus()

    def _look_before(self, row: Row) -> None:
        self.fill(self.desk.receiving.visual_form(row.key))
