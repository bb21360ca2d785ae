"""Calling somebody: who may help with what, and what they are checked in for."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from ndi.gui.presenters.booth.screen import Screen
from ndi.gui.presenters.scene import KeyHint, Part, Row, Rows, Said, Side
from ndi.services.ports import Session
from ndi.services.who_is_here import Helper, who_can_help

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth


class Call(Screen):
    """Shows who is here with which certificate; the way to reach them is the shop's."""

    name: ClassVar[str] = "call"

    def __init__(self, booth: Booth) -> None:
        super().__init__(booth)
        self.helpers: tuple[Helper, ...] = ()

    def load(self, session: Session) -> None:
        self.helpers = who_can_help(self.booth.work, session)

    def title(self) -> str:
        return "Call somebody"

    def parts(self) -> tuple[Part | Side, ...]:
        rows = tuple(Row(each.person, each.can) for each in self.helpers)
        return (
            Rows(rows, "Checked in today", "Nobody is checked in today."),
            Said(
                "Injury, fire, arc flash: stop the current, leave the bench, follow the shop's alarm plan.", "Emergency"
            ),
        )

    def keys(self) -> tuple[KeyHint, ...]:
        return (KeyHint(".", "back"),)
