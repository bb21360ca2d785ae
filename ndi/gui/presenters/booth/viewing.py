"""Viewing: the zones of the part in order, the pieces of a lot one by one, eyes adapting, lamps, interruption."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing
from ndi.domain.procedure import PartMaster
from ndi.domain.scan_codes import ScanKind, Scanned
from ndi.domain.ticks import BACKGROUNDS
from ndi.domain.vocabulary import Method, ViewKind
from ndi.gui.presenters.booth.outlines import outline
from ndi.gui.presenters.booth.screen import ENTER, INTERRUPT, NOTHING, Screen, number_key
from ndi.gui.presenters.scene import Big, KeyHint, Part, Row, Rows, Said, Shape, Side, Until
from ndi.rules.inquiry import Inquiry, View
from ndi.services import inspecting
from ndi.services.adaptation import adapted_at
from ndi.services.assemble import inquiry_for
from ndi.services.numbering import next_view
from ndi.services.ports import PartRow, Session
from ndi.services.re_views import re_view_due
from ndi.services.work_board import part_name

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

_ROWS = 9


class Viewing(Screen):
    """``0``: looked at the zone (then the piece) in hand, nothing seen.  ``+``: an indication there.  ``enter``: begin, end."""

    name: ClassVar[str] = "viewing"

    def __init__(self, booth: Booth, inspection: str | None = None) -> None:
        super().__init__(booth)
        self.inspection = inspection
        self.q: Inquiry | None = None
        self.piece: PartRow | None = None
        self.master: PartMaster | None = None
        self.called = ""
        self.containment: str | None = None
        self.adapted: Moment | None = None
        self.seen: list[str] = []  # zones of the running view, in the order they were looked at
        self.pieces = 0
        self.picked: str | None = None  # a zone chosen out of order
        self.background: str | None = None

    # --- reading ---

    def load(self, session: Session) -> None:
        assert self.inspection is not None
        booth = self.booth
        row = session.inspection(self.inspection)
        self.piece = session.part(row.part)
        self.master = booth.work.master(session, self.piece.part_no)
        self.called = part_name(booth.work, session, self.piece)
        self.q = inquiry_for(booth.work, session, self.inspection)
        self.containment = re_view_due(session, self.inspection)
        person = booth.hand.person
        try:
            self.adapted = (
                adapted_at(booth.work, session, self.q, person, booth.station()) if person is not None else None
            )
        except Missing:
            self.adapted = None

    @property
    def running(self) -> View | None:
        """The view that has begun and not ended, of whoever began it."""
        if self.q is None:
            return None
        views = [v for v in self.q.all_views if v.ended is None and v.started.fact.kind != ViewKind.SECOND_LOOK]
        return views[-1] if views else None

    @property
    def covered(self) -> set[str]:
        """Zones of views that have ended, in the attempt (or re-view) at hand."""
        if self.q is None:
            return set()
        if self.containment is not None:
            views = [v for v in self.q.all_views if v.started.fact.containment == self.containment]
        else:
            views = [v for v in self.q.views if v.started.fact.containment is None]
        return {zone for view in views if view.ended is not None for zone in view.ended.fact.zones}

    @property
    def zones(self) -> tuple[str, ...]:
        return self.q.technique.zones if self.q is not None else ()

    @property
    def unseen(self) -> list[str]:
        return [zone for zone in self.zones if zone not in self.covered and zone not in self.seen]

    @property
    def zone(self) -> str | None:
        """The zone in hand: the one picked, else the first that nobody looked at."""
        if self.picked in self.unseen:
            return self.picked
        return self.unseen[0] if self.unseen else None

    @property
    def lot(self) -> int:
        return self.piece.quantity if self.piece is not None else 1

    @property
    def asks_pieces(self) -> bool:
        return self.lot > 1 and not self.unseen and self.pieces < self.lot

    @property
    def asks_background(self) -> bool:
        return self.q is not None and self.q.method == Method.PT and self.background is None and not self.unseen

    # --- showing ---

    def title(self) -> str:
        return f"View {self.inspection}  {self.called}"

    def parts(self) -> tuple[Part | Side, ...]:
        assert self.q is not None and self.master is not None
        looked = self.covered | set(self.seen)
        drawing = outline(self.master, self.q, looked, self.zone if self.running else None)
        right: list[Part] = []
        if self.running is None:
            right.append(self._before())
        elif self.asks_pieces:
            right.append(Big(f"{self.pieces + 1} / {self.lot}", "piece in hand: 0 = looked at, nothing seen"))
        elif self.asks_background:
            rows = tuple(Row(word, key=str(n)) for n, word in enumerate(BACKGROUNDS, 1))
            right.append(Rows(rows, "Background under UV-A"))
        elif self.zone is None:
            right.append(Said(self._end_words(), "Enter ends the view"))
        right.append(self._zone_rows())
        return (Side((drawing,), tuple(right), 0.52),)

    def _before(self) -> Part:
        person = self.booth.hand.person
        if person is None:
            return Said("Scan your badge", "Who looks?")
        if self.adapted is None:
            return Said("Press * when the curtain is closed: the eyes adapt from then on", "Dark adaptation")
        now = self.booth.now()
        if self.adapted.at > now.at:
            return Big(Until(self.adapted.at), "eyes adapt", Shape.WAIT)
        lamps = " ".join(self.booth.hand.lamps)
        if not lamps:
            return Said("Scan the lamp that is on the part", "Lamps")
        what = f"re-view for {self.containment}" if self.containment else "view"
        again = f", zones not seen yet: {len(self.unseen)}" if self.covered else ""
        return Said(f"Enter begins the {what} under {lamps}{again}", "Ready")

    def _end_words(self) -> str:
        found = self._found()
        seen = f"{len(found)} indication(s): {', '.join(found)}" if found else "nothing seen"
        count = f", {self.pieces} of {self.lot} pieces" if self.lot > 1 else ""
        return f"{len(self.seen)} zones{count}, {seen}"

    def _found(self) -> list[str]:
        view = self.running
        if self.q is None or view is None:
            return []
        return [mark.id for mark in self.q.indications if mark.seen.at >= view.start.at]

    def _zone_rows(self) -> Rows:
        zones = list(self.zones)
        at = zones.index(self.zone) if self.zone in zones else len(zones) - 1
        first = max(0, min(at - _ROWS // 2, len(zones) - _ROWS))
        marked = {mark.seen.fact.zone for mark in self.q.indications} if self.q else set()
        rows = []
        for number, zone in enumerate(zones[first : first + _ROWS], 1):
            looked = zone in self.covered or zone in self.seen
            shape = Shape.DONE if looked else Shape.RUNNING if zone == self.zone and self.running else Shape.OPEN
            word = "indication" if zone in marked else "looked at" if looked else "not seen"
            named = self.master.zone(zone) if self.master else None
            rows.append(Row(named.name if named else zone, word, shape, str(number), selected=zone == self.zone))
        heading = f"Zones: {len(zones) - len(self.unseen)} of {len(zones)}"
        return Rows(tuple(rows), heading)

    def keys(self) -> tuple[KeyHint, ...]:
        if self.running is None:
            return (KeyHint("Enter", "begin"), KeyHint("*", "curtain closed"), KeyHint(".", "back"))
        return (
            KeyHint("0", "nothing here"),
            KeyHint("+", "indication"),
            KeyHint("1-9", "zone"),
            KeyHint("Enter", "end view"),
            KeyHint("*", "interrupt"),
            KeyHint("-", "undo"),
            KeyHint(".", "back"),
        )

    # --- keys ---

    def press(self, key: str) -> bool:
        booth = self.booth
        if self.running is None:
            if key == ENTER:
                self._begin()
                return True
            if key == INTERRUPT:
                booth.close_curtain()
                return True
            return False
        number = number_key(key)
        match key:
            case "0":
                return self._nothing_here()
            case "+":
                booth.go(booth.make_screen("indication", booth, inspection=self.inspection, zone=self.zone))
            case "*":
                self._interrupt()
            case "-":
                return self._take_back()
            case "enter":
                self._end()
            case _ if number is not None:
                return self._pick(number)
            case _:
                return False
        return True

    def _begin(self) -> None:
        booth, inspection = self.booth, self.inspection
        assert inspection is not None
        person = booth.person()
        if not booth.hand.lamps:
            booth.refuse("no lamp in use: scan the lamp that is on the part")
            return
        with booth.work.book.session(readonly=True) as session:
            name = next_view(session, inspection)
        kind = ViewKind.RE_VIEW if self.containment else ViewKind.FIRST
        begun = booth.do(
            lambda: inspecting.start_view(
                booth.work,
                name,
                inspection,
                person,
                booth.hand.lamps,
                kind=kind,
                station=booth.station(),
                containment_name=self.containment,
            )
        )
        if begun is not None:
            self.seen, self.pieces, self.picked, self.background = [], 0, None, None
            booth.say(f"view begins, saved as entry {begun.position}")

    def _nothing_here(self) -> bool:
        if self.zone is not None:
            self.seen.append(self.zone)
            self.picked = None
        elif self.asks_pieces:
            self.pieces += 1
        else:
            return False
        return True

    def _pick(self, number: int) -> bool:
        if self.asks_background and not self.asks_pieces:
            if 1 <= number <= len(BACKGROUNDS):
                self.background = BACKGROUNDS[number - 1]
                return True
            return False
        rows = self._zone_rows().rows
        if not 1 <= number <= len(rows):
            return False
        zones = list(self.zones)
        at = zones.index(self.zone) if self.zone in zones else len(zones) - 1
        first = max(0, min(at - _ROWS // 2, len(zones) - _ROWS))
        chosen = zones[first + number - 1]
        if chosen in self.unseen:
            self.picked = chosen
        elif chosen in self.seen:
            self.seen.remove(chosen)  # look again
            self.picked = chosen
        return True

    def _take_back(self) -> bool:
        """The last key of this view; what is in the book already is undone by the booth."""
        if self.background is not None:
            self.background = None
        elif self.pieces:
            self.pieces -= 1
        elif self.seen:
            self.seen.pop()
        else:
            return False
        return True

    def _end(self) -> None:
        booth = self.booth
        if self.unseen:
            booth.refuse(
                f"not looked at yet: {', '.join(self.unseen)}.  * interrupts the view and keeps the rest for later"
            )
            return
        if self.asks_pieces:
            booth.refuse(f"{self.pieces} of {self.lot} pieces looked at: 0 for each one")
            return
        if self.asks_background:
            booth.refuse("press the number of the background under UV-A")
            return
        if self._finish(nothing_seen=not self._found()):
            booth.back()
            booth.say(f"view of {self.inspection} ended")

    def _finish(self, nothing_seen: bool) -> bool:
        view, booth = self.running, self.booth
        assert view is not None
        ended = booth.do(
            lambda: inspecting.end_view(
                booth.work,
                view.id,
                zones=[zone for zone in self.zones if zone in self.seen],
                nothing_seen=nothing_seen,
                background=self.background,
                pieces=self.pieces if self.lot > 1 else None,
            )
        )
        return ended is not None

    def _interrupt(self) -> None:
        """An honest pause: what was seen is kept, the rest is offered again in a new view."""
        rest = self.unseen
        if self._finish(nothing_seen=not self._found()):
            self.booth.say(f"interrupted; not seen yet: {', '.join(rest) or 'nothing'}")
            self.seen, self.pieces, self.picked, self.background = [], 0, None, None

    def scanned(self, scanned: Scanned) -> bool:
        """The command sheet says the same as the keys."""
        if scanned.kind is not ScanKind.COMMAND:
            return False
        key = {"START VIEW": ENTER, "END VIEW": ENTER, "NOTHING SEEN": NOTHING}.get(scanned.name)
        begins = scanned.name == "START VIEW"
        if key is None or begins != (self.running is None):
            return False
        return self.press(key)

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        return {
            "inspection": self.inspection,
            "seen": self.seen,
            "pieces": self.pieces,
            "picked": self.picked,
            "background": self.background,
        }

    def restore(self, kept: dict[str, Any]) -> None:
        self.inspection = kept["inspection"]
        self.seen, self.pieces = list(kept.get("seen", [])), int(kept.get("pieces", 0))
        self.picked, self.background = kept.get("picked"), kept.get("background")
