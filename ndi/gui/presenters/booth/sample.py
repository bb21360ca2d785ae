"""A bath sample: drawn, demagnetised or not, set to settle; the time until it may be read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.moment import Moment
from ndi.gui.presenters.booth import shots
from ndi.gui.presenters.booth.screen import ENTER, Screen
from ndi.gui.presenters.scene import Big, KeyHint, Part, Row, Rows, Said, Shape, Side, Until
from ndi.services.bath_samples import Settling, settling
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth


class Sample(Screen):
    """``enter``: drawn and demagnetised; ``2``: drawn, not demagnetised; then the timer, then ``+`` to the reading."""

    name: ClassVar[str] = "sample"

    def __init__(self, booth: Booth) -> None:
        super().__init__(booth)
        self.bath: str | None = None
        self.state: Settling | None = None
        self.trouble = ""

    def load(self, session: Session) -> None:
        try:
            bench = shots.bench_at(session, self.booth.hand.place)
        except InputError as error:
            self.trouble = str(error)
            return
        self.bath = shots.bath_of(session, bench)
        self.trouble = "" if self.bath else f"{bench}: no bath is entered for it"
        self.state = settling(self.booth.work, session, self.bath) if self.bath else None

    def title(self) -> str:
        return f"Bath sample {self.bath or ''}".strip()

    def parts(self) -> tuple[Part | Side, ...]:
        if self.trouble:
            return (Said(self.trouble, "Which bath?"),)
        parts: list[Part] = []
        if self.state is not None:
            drawn: Moment = self.state.drawn
            if self.state.ready is None:
                parts.append(Said(f"drawn {drawn.clock()}: {self.state.says}", "Settling"))
            elif self.state.ready.at > self.booth.now().at:
                parts.append(Big(Until(self.state.ready.at), f"settles, drawn {drawn.clock()}", Shape.WAIT))
            else:
                parts.append(
                    Said(f"drawn {drawn.clock()}, settled since {self.state.ready.clock()}: + reads it", "Settled")
                )
        rows = (Row("drawn, demagnetised", key="Enter"), Row("drawn, not demagnetised", key="2"))
        parts.append(Rows(rows, "A new sample"))
        return tuple(parts)

    def keys(self) -> tuple[KeyHint, ...]:
        return (KeyHint("Enter", "drawn"), KeyHint("2", "not demagnetised"), KeyHint("+", "read"), KeyHint(".", "back"))

    def press(self, key: str) -> bool:
        if key == "+":
            self.booth.swap(self.booth.make_screen("reading", self.booth))
            return True
        if key not in (ENTER, "2") or self.bath is None:
            return False
        self.booth.record(f.BathSampled(self.bath, key == ENTER))
        return True

    def keep(self) -> dict[str, Any]:
        return {}
