"""Beginning a shift: who, and that the glasses are clear."""

from __future__ import annotations

from typing import ClassVar

from ndi.gui.presenters.booth.screen import ENTER, Screen
from ndi.gui.presenters.scene import KeyHint, Part, Row, Rows, Said, Shape, Side
from ndi.services import recording


class CheckIn(Screen):
    """Enter: clear glasses or none, and the shift begins."""

    name: ClassVar[str] = "check in"

    def title(self) -> str:
        return "Check in"

    def parts(self) -> tuple[Part | Side, ...]:
        who = self.booth.hand.person or "nobody yet: scan your badge"
        rows = (
            Row("Glasses clear, or none worn", key="Enter", shape=Shape.OPEN),
            Row("Tinted or photochromic lenses", key="2", shape=Shape.CROSS),
        )
        caution = "UV-A harms eyes and skin: lamp filter whole, no lamp into the eyes, gloves on. A pacemaker stays away from bench and coil."
        return Said(who, "Who"), Rows(rows, "What do you wear?"), Said(caution, "Caution")

    def keys(self) -> tuple[KeyHint, ...]:
        return (KeyHint("Enter", "clear"), KeyHint("2", "tinted"), KeyHint(".", "back"))

    def press(self, key: str) -> bool:
        if key not in (ENTER, "2"):
            return False
        booth = self.booth
        person, station = booth.person(), booth.station()
        clear = key == ENTER

        def make() -> str:
            recording.check_in(booth.work, person, station=station, clear_glasses=clear, viewing=True)
            return person

        if booth.do(make) is not None:
            booth.back()
            booth.say(f"{person} is checked in" + ("" if clear else ": tinted lenses, do not view"))
        return True
