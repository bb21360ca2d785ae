"""The booth of one station: holds the screens, routes keys and scans, keeps what is in hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol, TypeVar

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NdiError, NotFound, NotPermitted, StoreError, VersionConflict
from ndi.domain.moment import Moment
from ndi.domain.scan_codes import ScanKind, Scanned, parse_scan
from ndi.gui.presenters.booth import screens
from ndi.gui.presenters.booth.hand import Hand
from ndi.gui.presenters.booth.outside import Outside
from ndi.gui.presenters.booth.screen import BACK, DIGITS, ENTER, UNDO, Screen
from ndi.gui.presenters.memory import Memory
from ndi.gui.presenters.scene import Point, Scene
from ndi.services import recording, undoing
from ndi.services.signing import person_of_badge
from ndi.services.workplace import Workplace

T = TypeVar("T")
_TYPED = DIGITS | {BACK}
LONGEST_TYPED = 24
REACHED_AGAIN = "the book is reached again: what is shown as done is in it, the rest was not saved"
NOT_REACHED = "the book is not reached; this screen is shown anew when it is back"


class Sound(Protocol):
    """The loudspeaker, as far as a screen speaks to it."""

    def mute(self, now: Moment) -> str: ...

    def status(self, now: Moment) -> str: ...


class Booth:
    """All methods are called from one thread, the one that may talk to the book."""

    def __init__(self, work: Workplace, memory: Memory, outside: Outside | None = None) -> None:
        self.work, self.memory = work, memory
        self.outside = outside or Outside()
        self.make_screen = screens.make
        self.sound: Sound | None = None  # where there is none, the screens say so
        kept = memory.load()
        self.hand = Hand.of(kept.get("hand", {}))
        self.message, self.refused = "", False
        self.wants_desk = False  # the command sheet said so; the window reads it and takes it back
        self.head = -1
        self.is_stale = False  # the book could not be read: what is shown may have changed since
        self._saved = False  # the last use case of this key was done
        self.stack: list[Screen] = []
        self._restore(kept.get("screens", []))

    # --- screens ----------------------------------------------------------------------------------

    @property
    def screen(self) -> Screen:
        return self.stack[-1]

    def go(self, screen: Screen) -> None:
        """Open a screen over the present one; one that cannot be read is not opened."""
        self._read(screen)
        self.stack.append(screen)

    def swap(self, screen: Screen) -> None:
        """Open a screen in place of the present one."""
        self._read(screen)
        self.stack[-1] = screen

    def _read(self, screen: Screen) -> None:
        with self.work.book.session(readonly=True) as session:
            self.head = session.head().position
            screen.load(session)

    def back(self) -> None:
        """To the screen before; the board is the first."""
        if len(self.stack) > 1:
            self.stack.pop()
        self.reload()

    def home(self) -> None:
        """To the board."""
        del self.stack[1:]
        self.reload()

    def reload(self) -> None:
        """Read anew what the screen shows."""
        self._read(self.screen)

    def tick(self) -> None:
        """Look whether another window or station wrote something; called about once a second."""
        try:
            self._look()
        except NotFound:
            raise
        except StoreError as error:
            if not self.is_stale:
                self.refuse(str(error))
            self.is_stale = True

    def _look(self) -> None:
        with self.work.book.session(readonly=True) as session:
            head = session.head().position
            if head != self.head or self.is_stale or self.screen.is_waiting:
                self.screen.load(session)
                self.head = head
        if self.is_stale:
            self.is_stale = False
            self.say(REACHED_AGAIN)

    def _is_fresh(self) -> bool:
        """Nothing is done on a screen that may be older than the book; the key that found the book again is not taken."""
        if not self.is_stale:
            return True
        self._look()
        return False

    # --- keys and scans ---------------------------------------------------------------------------

    def press(self, key: str) -> None:
        """A key of the keypad: ``0``-``9``, ``.``, ``+``, ``-``, ``*``, ``/``, ``enter``."""
        self.message, self.refused = "", False
        self._safely(lambda: self._press(key) if self._is_fresh() else None)
        self._keep()

    def _press(self, key: str) -> None:
        screen = self.screen
        if screen.typing is not None and self._type(screen, key):
            return
        if screen.press(key):
            return
        match key:
            case "-":
                self.undo()
            case ".":
                self.back()
            case "/":
                self.go(self.make_screen("call", self))
            case "*":
                self.say("nothing is running here that could be interrupted")

    def _type(self, screen: Screen, key: str) -> bool:
        """Whether the key belonged to the number that is being typed."""
        assert screen.typing is not None
        if key in _TYPED:
            if len(screen.typing) < LONGEST_TYPED:
                screen.typing += key
            return True
        if key == UNDO and screen.typing:
            screen.typing = screen.typing[:-1]
            return True
        if key == ENTER and screen.typing:
            typed, screen.typing = screen.typing, ""
            try:
                screen.entered(typed)
            except NdiError:
                if not screen.is_secret:  # a secret is never left for the next Enter, whoever presses it
                    screen.typing = typed
                raise
            return True
        return False

    def scan(self, text: str) -> None:
        """A code that a scanner read, or a name that somebody typed on a keyboard."""
        self.message, self.refused = "", False
        self._safely(lambda: self._scan(text) if self._is_fresh() else None)
        self._keep()

    def _scan(self, text: str) -> None:
        if self.screen.text(text):
            return
        if text.startswith("ndi:"):
            self.go(self.make_screen("tag", self, scanned=text))
            return
        scanned = parse_scan(text)
        if self.screen.scanned(scanned):
            return
        match scanned.kind:
            case ScanKind.PERSON | ScanKind.BADGE:
                self._person(scanned)
            case ScanKind.LAMP:
                self.use_lamp(scanned.name)
            case ScanKind.METER:
                self._meter(scanned.name)
            case ScanKind.PART:
                self.go(self.make_screen("record", self, part=scanned.name))
            case ScanKind.BASKET:
                self.go(self.make_screen("line", self, basket=scanned.name))
            case ScanKind.PLACE:
                self.hand.place = scanned.name
                self.say(f"this is {scanned.name}")
            case ScanKind.COMMAND:
                self._command(scanned.name)
            case _:
                self.refuse(f"{scanned.kind} {scanned.name}: nothing to do with it here")

    def _command(self, name: str) -> None:
        match name:
            case "CANCEL":
                self.home()
            case "DESK":
                self.wants_desk = True
            case "BOOTH CLOSED":
                self.close_curtain()
            case "CHECK IN":
                self.go(self.make_screen("check in", self))
            case "CHECK OUT":
                person = self.person()
                if self.record(f.CheckedOut(person)):
                    self.hand.person = self.hand.badge = None
                    self.say(f"{person} is checked out")
            case "SAMPLE DRAWN":
                self.go(self.make_screen("sample", self))
            case "AS FOUND" | "AS LEFT":
                self.go(self.make_screen("reading", self, condition=name.replace(" ", "-").lower()))
            case _:
                self.refuse(f"{name}: open the record or scan the basket first")

    def stroked(self, points: list[Point]) -> None:
        """A pointer drew on the outline, in millimetres of the part."""
        self.message, self.refused = "", False
        self._safely(lambda: self.screen.stroked(points))
        self._keep()

    def held(self, path: str, seconds: float) -> None:
        """A picture was looked at while its key was held."""
        self._safely(lambda: self.screen.held(path, seconds))
        self._keep()

    # --- people, lamps, meters --------------------------------------------------------------------

    def person(self) -> str:
        """Who stands here; InputError when nobody said so."""
        if self.hand.person is None:
            raise InputError("nobody is at this station: scan your badge")
        return self.hand.person

    def _person(self, scanned: Scanned) -> None:
        name = scanned.name
        if scanned.kind is ScanKind.BADGE:
            with self.work.book.session(readonly=True) as session:
                found = person_of_badge(session, name)
            if found is None:
                self.refuse("this badge is nobody's: have it assigned, or scan again")
                return
            self.hand.person, self.hand.badge = found, name
        else:
            with self.work.book.session(readonly=True) as session:
                if not session.facts(name, (f.PersonEntered,)):
                    raise InputError(f"{name} is no person of this book")
            self.hand.person, self.hand.badge = name, None
        self.say(f"{self.hand.person} is here")
        self.reload()

    def use_lamp(self, lamp: str) -> None:
        """Take a lamp into use, or put it away when it is in use."""
        with self.work.book.session(readonly=True) as session:
            known = session.facts(lamp, (f.EquipmentEntered,))
        if not known:
            raise InputError(f"no lamp {lamp} in the book")
        if lamp in self.hand.lamps:
            self.hand.lamps.remove(lamp)
            self.say(f"{lamp} is put away")
        else:
            self.hand.lamps.append(lamp)
            self.say(f"{lamp} is in use")

    def _meter(self, meter: str) -> None:
        answer = self.do(lambda: recording.select_meter(self.work, meter, self.person(), self.work.station))
        if answer is not None:
            self.hand.meter = meter
            self.say(f"{meter}: {answer.found or 'calibration valid'}")

    def close_curtain(self) -> None:
        """Dark adaptation begins now."""
        station = self.station()
        if self.record(f.BoothClosed(station, self.person())):
            self.say("curtain closed, dark adaptation begins")

    def station(self) -> str:
        """The place of work that the views name: the one scanned, else the station itself."""
        return self.hand.place or self.work.station

    # --- doing ------------------------------------------------------------------------------------

    def now(self) -> Moment:
        return self.work.now()

    def record(self, *facts: f.Fact) -> bool:
        """Record plain facts in the name of who stands here; False when refused."""
        done = self.do(lambda: recording.record(self.work, facts, self.person()))
        if done:
            stale = f"; {NOT_REACHED}" if self.is_stale else ""
            self.say(f"saved, entry {done[-1].position}{stale}")
        return bool(done)

    def do(self, make: Callable[[], T]) -> T | None:
        """Call a use case; a refusal becomes the message, and None comes back."""
        self._saved = False
        try:
            made = make()
        except NotPermitted as refused:
            self.refuse(str(refused).partition(" refused: ")[2] or str(refused))
            ways = [way for answer in refused.answers for way in answer.ways_out]
            if ways:
                self.message += "  → " + " / ".join(dict.fromkeys(ways))
            self.reload()
            return None
        self._saved = True
        try:
            self.reload()
        except NotFound:
            raise
        except StoreError:
            self.is_stale = True  # what was done is done, and said so
        return made

    def undo(self) -> None:
        """Take back the last thing that this person entered."""
        person = self.person()
        old = self.do(lambda: undoing.undo_last(self.work, person))
        if old is not None:
            self.say(f"undone: {in_words(old.fact)}")

    def _safely(self, act: Callable[[], None]) -> None:
        self._saved = False
        try:
            act()
        except (InputError, NotFound, NotPermitted) as error:
            self.refuse(str(error))
        except VersionConflict as error:
            self.refuse(f"not saved: {error}")
        except NdiError as error:  # the message itself tells whether something was saved
            self.is_stale = True
            self.refuse(f"saved; {NOT_REACHED}" if self._saved else str(error))

    def say(self, message: str) -> None:
        self.message, self.refused = message, False

    def refuse(self, message: str) -> None:
        self.message, self.refused = message, True

    # --- what is shown ----------------------------------------------------------------------------

    def scene(self) -> Scene:
        """The screen as it stands; reads nothing from the book."""
        screen = self.screen
        return Scene(
            screen.name,
            screen.title(),
            screen.parts(),
            screen.keys(),
            self._strip(),
            self.message,
            self.refused,
            practice=self.work.practice,
        )

    def _strip(self) -> tuple[str, ...]:
        hand = self.hand
        return (
            hand.person or "nobody: scan your badge",
            self.station(),
            "lamps " + (" ".join(hand.lamps) if hand.lamps else "none: scan one"),
            *([f"meter {hand.meter}"] if hand.meter else []),
        )

    # --- over a power cut -------------------------------------------------------------------------

    def _keep(self) -> None:
        screens = [{"name": s.name, "typing": None if s.is_secret else s.typing, "kept": s.keep()} for s in self.stack]
        self.memory.save({"hand": self.hand.kept(), "screens": screens})

    def _restore(self, kept: list[dict[str, Any]]) -> None:
        board = self.make_screen("board", self)
        board.restore(kept[0].get("kept", {}) if kept else {})
        self.stack = [board]
        for each in kept[1:]:
            try:
                screen = self.make_screen(each["name"], self)
                screen.restore(each.get("kept", {}))
                screen.typing = each.get("typing")
                with self.work.book.session(readonly=True) as session:
                    screen.load(session)
            except (NdiError, KeyError, TypeError, ValueError):
                break  # what cannot be brought back is begun anew from the screen before; facts are in the book
            self.stack.append(screen)
        self.reload()


def in_words(fact: f.Fact) -> str:
    """What an entry said, short: for the message after undo."""
    match fact:
        case f.ConfirmationGiven():
            return f"{fact.item} {fact.value}"
        case f.ShotFired():
            return f"shot {fact.shot} of {fact.inspection}"
        case f.StepStarted():
            return f"start of {fact.step}, {fact.on}"
        case f.StepEnded():
            return f"end of {fact.step}, {fact.on}"
        case f.ResidualRead():
            return f"{fact.point} {fact.value}"
        case f.ViewStarted():
            return f"start of the view of {fact.inspection}"
        case f.ViewEnded():
            return f"end of the view of {fact.inspection}"
    return type(fact).__name__
