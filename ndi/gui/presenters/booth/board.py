"""The board: what is open here, and where to go."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.gui.presenters.booth.screen import Screen, number_key
from ndi.gui.presenters.scene import KeyHint, Part, Row, Rows, Shape, Side
from ndi.services.ports import Session
from ndi.services.to_do import Kind
from ndi.services.work_board import OpenRecord, open_records

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

ON_A_PAGE = 6


class Board(Screen):
    """Open records by number; the other digits lead to the line, readings, second looks, lunch."""

    name: ClassVar[str] = "board"

    def __init__(self, booth: Booth) -> None:
        super().__init__(booth)
        self.records: list[OpenRecord] = []
        self.page = 0

    def load(self, session: Session) -> None:
        self.records = open_records(self.booth.work, session)
        self.page = min(self.page, self._last_page)

    @property
    def _last_page(self) -> int:
        return max(0, (len(self.records) - 1) // ON_A_PAGE)

    @property
    def _shown(self) -> list[OpenRecord]:
        return self.records[self.page * ON_A_PAGE : (self.page + 1) * ON_A_PAGE]

    def title(self) -> str:
        return "Board"

    def parts(self) -> tuple[Part | Side, ...]:
        rows = [
            Row(f"{each.row.inspection}  {each.name}", each.next, _shape(each), str(number))
            for number, each in enumerate(self._shown, 1)
        ]
        many = f", page {self.page + 1} of {self._last_page + 1}" if self._last_page else ""
        places = (
            Row("Penetrant line", key="7"),
            Row("Second looks", key="8"),
            Row("Can I go to lunch?", key="9"),
            Row("Readings: lamp, bath, light", key="+"),
            Row("Curtain closed, eyes adapt", key="*"),
        )
        return (
            Rows(tuple(rows), f"Open records{many}", "No record is open. Scan a part to open one."),
            Rows(places, "Go to"),
        )

    def keys(self) -> tuple[KeyHint, ...]:
        more = (KeyHint("0", "next page"),) if self._last_page else ()
        return (KeyHint("1-6", "record"), *more, KeyHint("-", "undo"), KeyHint("/", "call"))

    def press(self, key: str) -> bool:
        booth, number = self.booth, number_key(key)
        if number is not None and 1 <= number <= len(self._shown):
            booth.go(booth.make_screen("record", booth, inspection=self._shown[number - 1].row.inspection))
            return True
        match key:
            case "0" if self._last_page:
                self.page = 0 if self.page == self._last_page else self.page + 1
            case "7":
                booth.go(booth.make_screen("line", booth))
            case "8":
                booth.go(booth.make_screen("second look", booth))
            case "9":
                booth.go(booth.make_screen("lunch", booth))
            case "+":
                booth.go(booth.make_screen("reading", booth))
            case "*":
                booth.close_curtain()
            case "." | "enter":
                booth.say("this is the board: choose a number, or scan")
            case _:
                return False
        return True

    def keep(self) -> dict[str, Any]:
        return {"page": self.page}

    def restore(self, kept: dict[str, Any]) -> None:
        self.page = int(kept.get("page", 0))


def _shape(record: OpenRecord) -> Shape:
    if record.row.suspended:
        return Shape.CROSS
    if record.is_viewing:
        return Shape.RUNNING
    return Shape.WAIT if record.kind is Kind.DECIDE else Shape.OPEN
