"""The penetrant line: every basket by what presses most, and one basket with its next step by one key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain.errors import NotFound
from ndi.domain.scan_codes import ScanKind, Scanned
from ndi.domain.vocabulary import Step
from ndi.gui.presenters.booth import announcements, line_view
from ndi.gui.presenters.booth.line_basket import BasketWork
from ndi.gui.presenters.booth.line_load import Loading
from ndi.gui.presenters.booth.line_words import tile
from ndi.gui.presenters.booth.screen import BACK, ENTER, INTERRUPT, NOTHING, Screen, number_key
from ndi.gui.presenters.scene import KeyHint, Part, Said, Side, Tiles
from ndi.services import loading
from ndi.services.line_basket import OFF_THE_LINE, BasketState, Level
from ndi.services.line_state import line_now, state_of
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

SELECTABLE = 8
LUNCH = "9"
_START, _END = "START ", "END "


class Line(Screen):
    """Tiles of baskets; one is opened by its number or its code.  A basket that is not on the line is loaded."""

    name: ClassVar[str] = "line"

    def __init__(self, booth: Booth, basket: str | None = None) -> None:
        super().__init__(booth)
        self.scanned_basket = basket
        self.states: tuple[BasketState, ...] = ()
        self.work: BasketWork | None = None
        self.loading: Loading | None = None
        self.counts: dict[str, int] = {}  # pieces counted by basket, until they stand in the book

    # --- reading ---

    def load(self, session: Session) -> None:
        work = self.booth.work
        self.states = line_now(work, session)
        if self.scanned_basket is not None:
            self._open(loading.current_run(session, self.scanned_basket), self.scanned_basket)
            self.scanned_basket = None
        if self.loading is not None:
            self.loading.load(session)
        if self.work is not None:
            try:
                known = {state.basket: state for state in self.states}  # these know of one another
                self.work.read(known.get(self.work.basket) or state_of(work, session, self.work.basket))
            except NotFound:
                self.work = None

    def _open(self, run: str, scanned: str) -> None:
        """The basket as it is on the line; one that is not there, or was given up, is about to be loaded."""
        on_line = {state.basket for state in self.states if state.stage not in OFF_THE_LINE}
        for name in (run, scanned):
            if name in on_line:
                self.select(name)
                return
        self.work, self.loading = None, Loading(self.booth, scanned)

    def select(self, basket: str) -> None:
        """Open a basket."""
        self.loading, self.typing = None, None
        if self.work is None or self.work.basket != basket:
            self.work = BasketWork(self, basket)
        for state in self.states:
            if state.basket == basket:
                self.work.read(state)

    # --- what is shown ---

    def title(self) -> str:
        if self.loading is not None:
            return self.loading.title()
        return self.work.title() if self.work is not None else "Penetrant line"

    def parts(self) -> tuple[Part | Side, ...]:
        if self.loading is not None:
            return self.loading.parts()
        now = self.booth.now()
        if self.work is not None:
            return (*self._alarms(self.work.basket), *line_view.parts(self.work, now))
        shown = tuple(
            tile(state, now, str(number) if number <= SELECTABLE else "") for number, state in enumerate(self.states, 1)
        )
        tiles = Tiles(shown, "No basket is on the line. Scan a basket to load it.")
        return (*self._alarms(), tiles, *self._sound_status())

    def _sound_status(self) -> tuple[Part, ...]:
        """Muted until when, or what this machine lacks; nothing when all can be heard."""
        sound = self.booth.sound
        status = sound.status(self.booth.now()) if sound is not None else ""
        return (Said(status, "Sound"),) if status else ()

    def _alarms(self, but: str | None = None) -> tuple[Part, ...]:
        """What the loudspeaker says, to be read: the twin of the sound."""
        now = self.booth.now()
        said = [
            f"{state.basket}: {announcements.presses(state, now)}"
            for state in self.states
            if state.basket != but and state.level(now) > Level.CALM
        ]
        return (Said(" ".join(said[:2]), "Now"),) if said else ()

    def keys(self) -> tuple[KeyHint, ...]:
        if self.loading is not None:
            return self.loading.keys()
        if self.work is not None:
            return line_view.keys(self.work, self.booth.now())
        return (
            KeyHint("1-8", "basket"),
            KeyHint(NOTHING, "load"),
            KeyHint(LUNCH, "lunch?"),
            KeyHint(INTERRUPT, "sound off"),
            KeyHint(BACK, "back"),
        )

    # --- keys ---

    def press(self, key: str) -> bool:
        if self.loading is not None:
            return self._press_loading(self.loading, key)
        if self.work is not None:
            if key == BACK:
                self._leave()
                return True
            return self.work.press(key)
        number = number_key(key)
        if key == LUNCH:
            self.booth.go(self.booth.make_screen("lunch", self.booth))
        elif key == NOTHING:
            self.load_anew(None)
        elif key == INTERRUPT:
            self.mute()
        elif number is not None:
            if number <= len(self.states):
                self.select(self.states[number - 1].basket)
        elif key == ENTER:
            if not self.states:
                return False
            self.select(self.states[0].basket)
        else:
            return False
        return True

    def _leave(self) -> None:
        """From the basket to the tiles; an end that was marked is recorded first."""
        assert self.work is not None
        if self.work.leave():
            self.work, self.typing = None, None

    def _press_loading(self, load: Loading, key: str) -> bool:
        if key == BACK:
            self.loading = None
            return True
        if key == ENTER or (key == NOTHING and load.orders):
            run, pieces = load.run, load.counted
            if load.done(mixed=True if key == NOTHING else None):
                self.loading = None
                if pieces is not None:
                    self.counts[run] = pieces
                self.select(run)
                self.booth.say(f"{run} is loaded")
            return True
        if load.choose(key):
            self.booth.reload()
            return True
        return False

    def load_anew(self, basket: str | None) -> None:
        """Load a basket once more, or one that is named next."""
        self.work, self.typing = None, None
        self.loading = Loading(self.booth, loading.base_of(basket) if basket else None)
        self.booth.reload()

    def mute(self) -> None:
        """Silence for a while; what is said stays to be read, and sound comes back by itself."""
        sound = self.booth.sound
        if sound is None:
            self.booth.say("no sound at this station: what is said stands here")
        else:
            self.booth.say(sound.mute(self.booth.now()))

    def entered(self, typed: str) -> None:
        if self.work is not None:
            self.work.entered(typed)
        self.typing = None

    # --- scans ---

    def scanned(self, scanned: Scanned) -> bool:
        match scanned.kind:
            case ScanKind.BASKET:
                if self.work is not None and not self.work.leave():
                    return True
                self.scanned_basket = scanned.name
                self.booth.reload()
                return True
            case ScanKind.PART if self.loading is not None:
                self.loading.part(scanned.name)
                self.booth.reload()
                return True
            case ScanKind.PART if self.work is not None:
                return self.work.part(scanned.name)
            case ScanKind.COMMAND:
                return self._command(scanned.name)
        return False

    def _command(self, name: str) -> bool:
        if name == "LOAD BASKET":
            if self.loading is None:
                self.load_anew(self.work.basket if self.work is not None else None)
            return True
        for word, begins in ((_START, True), (_END, False)):
            if name.startswith(word):
                return self._step_command(name.removeprefix(word).lower(), begins)
        return False

    def _step_command(self, step: str, begins: bool) -> bool:
        if step not in tuple(Step):
            return False
        if self.work is None:
            if len(self.states) != 1:
                self.booth.refuse("scan the basket first, then what it does")
                return True
            self.select(self.states[0].basket)
        assert self.work is not None
        self.work.command(Step(step), begins)
        return True

    # --- over a power cut ---

    def keep(self) -> dict[str, Any]:
        return {
            "work": self.work.keep() if self.work else None,
            "loading": self.loading.keep() if self.loading else None,
            "counts": self.counts,
        }

    def restore(self, kept: dict[str, Any]) -> None:
        self.counts = dict(kept.get("counts", {}))
        if kept.get("work"):
            self.work = BasketWork.of(self, kept["work"])
        if kept.get("loading"):
            self.loading = Loading.of(self.booth, kept["loading"])
