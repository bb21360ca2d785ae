"""The desk: screens to choose from at the left (F1 to F10, Alt and a figure or letter), the screen, one message line."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk
from typing import Any

from ndi.gui.presenters.desk.acts import Failure
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.views.desk import look as looks
from ndi.gui.views.desk.checks_screen import ChecksScreen
from ndi.gui.views.desk.correction_screen import CorrectionScreen
from ndi.gui.views.desk.equipment_screen import EquipmentScreen
from ndi.gui.views.desk.handover_screen import HandoverScreen
from ndi.gui.views.desk.level_three_screen import LevelThreeScreen
from ndi.gui.views.desk.materials_screen import MaterialsScreen
from ndi.gui.views.desk.meter_screen import MeterScreen
from ndi.gui.views.desk.outage_screen import OutageScreen
from ndi.gui.views.desk.panels import put
from ndi.gui.views.desk.people_screen import PeopleScreen
from ndi.gui.views.desk.photographs_screen import PhotographsScreen
from ndi.gui.views.desk.procedures_screen import ProceduresScreen
from ndi.gui.views.desk.questions_screen import QuestionsScreen
from ndi.gui.views.desk.recalls_screen import RecallsScreen
from ndi.gui.views.desk.receiving_screen import ReceivingScreen
from ndi.gui.views.desk.record_screen import RecordScreen
from ndi.gui.views.desk.records_screen import RecordsScreen
from ndi.gui.views.desk.rejected_screen import RejectedScreen
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.search_screen import SearchScreen
from ndi.gui.views.desk.serious_screen import SeriousScreen
from ndi.gui.views.desk.study_screens import GatheringScreen, HowGoodScreen, TrendsScreen
from ndi.gui.views.desk.verification_screen import VerificationScreen
from ndi.gui.views.desk.work_order_screen import WorkOrderScreen
from ndi.gui.worker import Worker

SHOW_WORKING_AFTER_S = 0.15
_LOOK_AGAIN_MS = 50
_NEWS_MS = 1500  # other stations' entries are seen within two seconds
_ALARM_MS = 60_000  # a serious finding turns red by the clock, whatever is entered

# the screens with keys, in the order of the keys; a record is reached from lists and the search
KEYED: tuple[type[Screen], ...] = (
    SearchScreen,
    WorkOrderScreen,
    ReceivingScreen,
    RecordsScreen,
    EquipmentScreen,
    ChecksScreen,
    MaterialsScreen,
    ProceduresScreen,
    PeopleScreen,
    HandoverScreen,
    RecallsScreen,
    LevelThreeScreen,
    VerificationScreen,
    QuestionsScreen,
    TrendsScreen,
    GatheringScreen,
    HowGoodScreen,
    SeriousScreen,
    RejectedScreen,
    PhotographsScreen,
)
KEYS = (
    *(f"F{number}" for number in range(1, 11)),
    "Alt+R",
    "Alt+L",
    "Alt+V",
    "Alt+Q",
    "Alt+T",
    "Alt+G",
    "Alt+H",
    "Alt+S",
    "Alt+J",
    "Alt+P",
)  # F11 and F12 are the shell's
OTHERS: tuple[type[Screen], ...] = (RecordScreen, CorrectionScreen, MeterScreen, OutageScreen)


class DeskFrame(ttk.Frame):
    """The whole desk.  The shell pumps the worker; ``say`` is told every message too."""

    def __init__(self, parent: tk.Misc, desk: Desk, worker: Worker, say: Callable[[str], None]) -> None:
        super().__init__(parent, style="Desk.TFrame")
        self.desk, self._worker, self._say = desk, worker, say
        self.look = looks.dress(parent)
        self._screens: dict[str, Screen] = {}
        self._classes = {each.name: each for each in (*KEYED, *OTHERS)}
        self._nav: dict[str, ttk.Button] = {}
        self._late = 0  # serious findings
        self._shortcuts: dict[tuple[str, str], Callable[[], None]] = {}
        self._bound: set[str] = set()
        self.here: Screen | None = None
        self.said = ""
        self._before: list[tuple[str, str]] = []
        self.columnconfigure(1, weight=1)
        self.rowconfigure(1, weight=1)
        self._build_banner()
        self._build_nav()
        unit = self.look.unit
        self._stage = ttk.Frame(self, style="Desk.TFrame", padding=(unit, unit // 2))
        self._stage.grid(row=1, column=1, sticky="nsew")
        self._build_line()
        self._keys()
        self._head = 0
        self._watch()
        self._look_for_news()
        self._look_for_alarms()
        self.bind("<Map>", lambda _event: self._look_for_news_now())
        self.go(KEYED[0].name)

    # --- building -----------------------------------------------------------------------------------

    def _build_banner(self) -> None:
        unit = self.look.unit
        top = ttk.Frame(self, style="Desk.TFrame")
        top.grid(row=0, column=0, columnspan=2, sticky="ew")
        if self.desk.banner:
            ttk.Label(top, text=self.desk.banner, style="Practice.TLabel", padding=(unit, unit // 4)).pack(
                side="left", fill="x", expand=True
            )
        else:
            ttk.Label(
                top, text=f"Record book {self.desk.book_name}", style="QuietDesk.TLabel", padding=(unit, unit // 4)
            ).pack(side="left", fill="x", expand=True)
        self.person_box = ttk.Combobox(top, width=12)
        put(self.person_box, self.desk.person)
        self.person_box.pack(side="right", padx=(unit // 2, unit), pady=unit // 4)
        ttk.Label(top, text="At the desk", style="Desk.TLabel").pack(side="right", padx=(unit, 0))
        for event in ("<<ComboboxSelected>>", "<Return>", "<FocusOut>"):
            self.person_box.bind(event, lambda _event: self._stand())
        self.ask(self.desk.people, self._offer)

    def _offer(self, names: tuple[str, ...]) -> None:
        self.person_box.configure(values=list(names))

    def _stand(self) -> None:
        name = self.person_box.get().strip()
        if name != self.desk.person:
            self.desk.stand(name)
            self.say(
                f"{name} stands at the desk; each signature asks for the secret."
                if name
                else "Nobody stands at the desk."
            )

    def _build_nav(self) -> None:
        unit = self.look.unit
        nav = ttk.Frame(self, style="Nav.TFrame", padding=(unit // 2, unit // 2))
        nav.grid(row=1, column=0, sticky="ns")
        # packed first, so that it keeps its place where the list of screens is longer than the window
        ttk.Button(nav, text="Dark booth (Ctrl+B)", style="Nav.TButton", command=self.to_booth).pack(
            side="bottom", fill="x"
        )
        for key, screen in zip(KEYS, KEYED, strict=True):
            button = ttk.Button(
                nav,
                text=f"{key}  {screen.title}",
                style="Nav.TButton",
                command=partial(self.go, screen.name),
            )
            button.pack(fill="x")
            self._nav[screen.name] = button

    def _build_line(self) -> None:
        unit = self.look.unit
        line = tk.Frame(self, background=looks.PAPER, highlightthickness=1, highlightbackground=looks.LINE)
        line.grid(row=2, column=0, columnspan=2, sticky="ew")
        self.message = ttk.Label(line, style="Paper.TLabel", padding=(unit, unit // 3), anchor="w")
        self.message.pack(side="left", fill="x", expand=True)
        self.message.bind("<Configure>", lambda _event: self._fit_message())
        self.working = ttk.Label(line, style="Bold.TLabel", padding=(unit, unit // 3), width=14, anchor="e")
        self.working.pack(side="right")

    # --- keys ---------------------------------------------------------------------------------------

    def _keys(self) -> None:
        for number, (key, screen) in enumerate(zip(KEYS, KEYED, strict=True), 1):
            go = partial(self.go, screen.name)
            self._key(f"<{key}>" if key.startswith("F") else f"<Alt-{key[-1].lower()}>", go)
            if number <= 10:
                self._key(f"<Alt-Key-{number % 10}>", go)
        self._key("<Alt-Left>", self.back)
        self._key("<Control-f>", lambda: self.go(KEYED[0].name))

    def _key(self, key: str, command: Callable[[], None]) -> None:
        """A key of the whole desk: only while the desk is what the window shows."""

        def pressed(_event: tk.Event[tk.Misc]) -> str | None:
            if not self.winfo_exists() or not self.winfo_viewable():
                return None
            command()
            return "break"

        self.winfo_toplevel().bind(key, pressed, add="+")

    def shortcut(self, screen: Screen, key: str, command: Callable[[], None]) -> None:
        """A key that presses something while ``screen`` is in front."""
        self._shortcuts[screen.name, key] = command
        if key not in self._bound:
            self._bound.add(key)
            self._key(key, lambda: self._press(key))

    def _press(self, key: str) -> None:
        command = self._shortcuts.get((self.here.name, key)) if self.here else None
        if command is not None:
            command()

    # --- going about --------------------------------------------------------------------------------

    def go(self, name: str, key: str = "") -> None:
        """Bring a screen to the front; ``key`` is what it shows."""
        screen = self._screens.get(name)
        if screen is None:
            screen = self._screens[name] = self._classes[name](self._stage, self)
        if self.here is not None:
            self._before.append((self.here.name, self.here.key))
            self.here.pack_forget()
        self.here = screen
        screen.pack(fill="both", expand=True)
        self._dress_nav()
        self.say("")
        screen.show(key)

    def back(self) -> None:
        """To the screen before."""
        if self._before:
            name, key = self._before.pop()
            self.go(name, key)
            self._before.pop()

    # --- work and messages --------------------------------------------------------------------------

    def ask(
        self, job: Callable[[], Any], then: Callable[[Any], None], failed: Callable[[Failure], None] | None = None
    ) -> None:
        """Have a job done in the worker's thread; an error that a person may meet goes to the message line."""

        def told(error: Exception) -> None:
            failure = self.desk.explain(error)
            if failure is None:
                raise error
            if not self.winfo_exists():
                return
            if failed is not None:
                failed(failure)
            else:
                self.say(f"✗ {failure.text}")

        self._worker.ask(job, lambda result: then(result) if self.winfo_exists() else None, told)

    def say(self, text: str) -> None:
        """One message, in the line at the bottom."""
        self.said = text
        self._fit_message()
        if text:
            self._say(text)

    def to_booth(self) -> None:
        """The window is asked for its dark side."""
        self.winfo_toplevel().event_generate("<<DarkBooth>>")

    def focus_set(self) -> None:
        """The focus of the desk is where its screen begins."""
        if self.here is not None:
            self.here.take_focus()

    def _look_for_news(self) -> None:
        """See what other stations (or the booth) have entered."""
        if self.winfo_viewable() and not self._worker.is_busy:
            self._look_for_news_now()
        self.after(_NEWS_MS, self._look_for_news)

    def _look_for_alarms(self) -> None:
        """Serious findings that are late stand red beside the screens, whichever is in front."""
        if not self._worker.is_busy:
            self.ask(self.desk.serious.red, self.alarm)
        self.after(_ALARM_MS, self._look_for_alarms)

    def alarm(self, late: int) -> None:
        """So many serious findings are late."""
        key, button = KEYS[KEYED.index(SeriousScreen)], self._nav[SeriousScreen.name]
        button.configure(text=f"{key}  ✗ {late} serious, late" if late else f"{key}  {SeriousScreen.title}")
        self._late = late
        self._dress_nav()

    def _dress_nav(self) -> None:
        here = self.here.name if self.here else ""
        for name, button in self._nav.items():
            red = name == SeriousScreen.name and self._late
            button.configure(style="Here.TButton" if name == here else "Late.TButton" if red else "Nav.TButton")

    def _look_for_news_now(self) -> None:
        self.ask(self.desk.head, self._heard)

    def _heard(self, head: int) -> None:
        before, self._head = self._head, head
        if before and head != before and self.here is not None:
            self.here.refresh()

    def _fit_message(self) -> None:
        room = self.message.winfo_width() - 2 * self.look.unit
        self.message.configure(text=looks.shortened(self.said, self.look.plain, room) if room > 0 else self.said)

    def _watch(self) -> None:
        """Say that something is being worked out when it takes longer than a person notices."""
        busy = self._worker.busy_for > SHOW_WORKING_AFTER_S
        self.working.configure(text="▬ working ..." if busy else "")
        self.after(_LOOK_AGAIN_MS, self._watch)
