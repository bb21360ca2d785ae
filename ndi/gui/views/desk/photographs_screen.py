"""Photographs: a list, one of them large, a tool to mark with; lengths, what is drawn beside it, what the program proposes."""

from __future__ import annotations

from tkinter import ttk

from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.presenters.desk.photographs import TOOLS, Marks, Opened, Place
from ndi.gui.views.desk.picture_canvas import PictureCanvas
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines, wrapped
from ndi.gui.views.desk.virtual_list import VirtualList

_LIST_CHARS = 46


class PhotographsScreen(Screen):
    """Return on a photograph goes into it; there a click marks a point, the right button or Backspace takes the last away."""

    name, title = "photographs", "Photographs"

    def build(self) -> None:
        unit = self.look.unit
        self.main.columnconfigure(1, weight=1)
        self.main.rowconfigure(0, weight=1)
        left = ttk.Frame(self.main, style="Desk.TFrame", width=self.look.chars(_LIST_CHARS))
        left.grid(row=0, column=0, sticky="nsew", padx=(0, unit))
        left.pack_propagate(False)
        line = ttk.Frame(left, style="Desk.TFrame")
        line.pack(fill="x", pady=(0, unit // 2))
        ttk.Label(line, text="Find", style="Desk.TLabel").pack(side="left", padx=(0, unit // 2))
        self.find = ttk.Entry(line)
        self.find.pack(side="left", fill="x", expand=True)
        self.find.bind("<Return>", lambda _event: self.refresh())
        self.said = wrapped(left, style="Desk.TLabel")
        self.said.pack(side="bottom", fill="x", pady=(unit // 2, 0))
        self.lines = Lines(left)
        self.lines.pack(side="bottom", fill="x", pady=(unit // 2, 0))
        self.list = VirtualList(left, on_select=self._choose, on_open=lambda _row: self.picture.focus_set(), height=4)
        self.list.pack(fill="both", expand=True)
        right = ttk.Frame(self.main, style="Desk.TFrame")
        right.grid(row=0, column=1, sticky="nsew")
        tools = ttk.Frame(right, style="Desk.TFrame")
        tools.pack(fill="x", pady=(0, unit // 2))
        ttk.Label(tools, text="Mark with (Alt+M)", style="Desk.TLabel").pack(side="left", padx=(0, unit // 2))
        self.chosen = ttk.Combobox(tools, values=TOOLS, state="readonly", width=12)
        self.chosen.set(TOOLS[0])
        self.chosen.pack(side="left")
        keys = wrapped(
            right,
            "In the picture: + closer, - farther, 0 whole, arrows move; Backspace drops a point",
            style="QuietDesk.TLabel",
        )
        keys.pack(side="bottom", fill="x")
        self.picture = PictureCanvas(right, self.ask, self._clicked, self._drop)
        self.picture.pack(fill="both", expand=True)
        self.marks, self._opened, self._zone_of = Marks(), None, ""  # type: tuple[Marks, Opened | None, str]
        self.tool("Attach a file (Ctrl+O)", self._attach, key="<Control-o>")
        self.tool("Measure (Ctrl+M)", self._measure, key="<Control-m>")
        self.tool("Record length (Ctrl+S)", lambda: self._form(self.desk.photographs.record_form), key="<Control-s>")
        self.tool("Draw (Ctrl+D)", self._draw, key="<Control-d>")
        self.tool("Take away (Ctrl+Y)", self._erase, key="<Control-y>")
        self.tool("Propose (Ctrl+K)", self._propose, key="<Control-k>")
        self.tool("Judge (Ctrl+J)", lambda: self._form(self.desk.photographs.judge_form), key="<Control-j>")
        self.tool("Same zone (Ctrl+L)", self._same_zone, key="<Control-l>")
        self.frame.shortcut(self, "<Alt-m>", self.chosen.focus_set)

    def refresh(self) -> None:
        text, zone_of = self.find.get(), self._zone_of
        photographs = self.desk.photographs
        self.ask(lambda: photographs.same_zone(zone_of) if zone_of else photographs.listing(text), self._show)

    def show(self, key: str = "") -> None:
        """``key``: a record, whose photographs are looked for, or one photograph's entry."""
        if key and not key.isdigit():
            self.find.delete(0, "end")
            self.find.insert(0, key)
            key = ""
        super().show(key)

    def take_focus(self) -> None:
        self.list.take_focus()

    def _show(self, listing: Listing) -> None:
        self.list.show(listing, key=self.key or None)
        if not listing.count():
            self._opened = None
            self.picture.show(None, None)
            self.lines.show(())
            self._say("")
        elif self._opened is not None:
            self._open(self._opened.key)

    # --- one of them --------------------------------------------------------------------------------

    def _choose(self, row: Row) -> None:
        if self._opened is not None and row.key == self._opened.key:
            return
        self.key = row.key
        self.marks = Marks()
        self._say("")
        self.picture.mark({})
        self._open(row.key)

    def _open(self, key: str) -> None:
        self.ask(lambda: self.desk.photographs.open(key), self._open_shown)

    def _open_shown(self, opened: Opened) -> None:
        if opened.key != self.key:
            return
        is_new = self._opened is None or self._opened.key != opened.key
        self._opened = opened
        self.lines.show(opened.lines)
        self.picture.show(opened, lambda box, size: self.desk.photographs.region(opened.key, box, size))
        if is_new:
            self._read(opened.key)

    def _read(self, key: str) -> None:
        self.ask(
            lambda: self.desk.photographs.read(key),
            lambda said: self._say("\n".join(said)) if key == self.key else None,
            lambda failure: self._say(failure.text),
        )

    def _say(self, text: str) -> None:
        self.said.configure(text=text)

    # --- marks --------------------------------------------------------------------------------------

    def _clicked(self, place: Place) -> None:
        self.marks.add(self.chosen.get(), place)
        self._marked()

    def _drop(self) -> None:
        self.marks.drop(self.chosen.get())
        self._marked()

    def _marked(self) -> None:
        self.picture.mark({tool: self.marks.of(tool) for tool in TOOLS if self.marks.of(tool)})

    def _measure(self) -> None:
        if self._opened is None:
            self.say("Choose a photograph first.")
            return
        key, marks = self._opened.key, self.marks
        self.ask(
            lambda: self.desk.photographs.measure(key, marks),
            lambda said: self._say("\n".join(said)),
            lambda failure: self._say(f"✗ {failure.text}"),
        )

    # --- acts ---------------------------------------------------------------------------------------

    def _form(self, make) -> None:  # type: ignore[no-untyped-def]
        if self._opened is None:
            self.say("Choose a photograph first.")
            return
        key, marks = self._opened.key, self.marks
        self.ask(lambda: make(key, marks), self.fill)

    def _attach(self) -> None:
        key = self._opened.key if self._opened is not None else ""
        self.ask(lambda: self.desk.photographs.attach_form(key), self.fill)

    def _draw(self) -> None:
        tool = self.chosen.get()
        self._form(lambda key, marks: self.desk.photographs.draw_form(key, tool, marks))

    def _erase(self) -> None:
        self._form(lambda key, _marks: self.desk.photographs.erase_form(key))

    def _propose(self) -> None:
        self._form(lambda key, _marks: self.desk.photographs.propose_form(key))

    def _same_zone(self) -> None:
        """The last five of the same zone; the key again shows all."""
        if self._zone_of or self._opened is None:
            self._zone_of = ""
        else:
            self._zone_of = self._opened.key
        self.heading.configure(text="Photographs: same zone" if self._zone_of else self.title)
        self.refresh()

    def after_act(self) -> None:
        self.marks = Marks()
        self.picture.mark({})
        self.refresh()
