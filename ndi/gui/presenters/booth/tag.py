"""Tags: print those of a signed record; what a scanned tag is worth now; scanned back on the part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain.scan_codes import Scanned
from ndi.domain.vocabulary import Disposition
from ndi.gui.presenters.booth.screen import ENTER, Screen
from ndi.gui.presenters.scene import Big, KeyHint, Part, Row, Rows, Said, Shape, Side
from ndi.services import tag_checks, tagging
from ndi.services.ports import InspectionRow, Session
from ndi.services.tagging import PrintedTag

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth


class TagScreen(Screen):
    """``enter`` prints; a scan of the tag on the part closes the loop."""

    name: ClassVar[str] = "tag"

    def __init__(self, booth: Booth, inspection: str | None = None, scanned: str | None = None) -> None:
        super().__init__(booth)
        self.inspection, self.code = inspection, scanned
        self.row: InspectionRow | None = None
        self.status = ""
        self.printed: list[PrintedTag] = []
        self._entries: list[int] = []  # of the tags that were printed before a restart

    def load(self, session: Session) -> None:
        if self.code is not None:
            self.status = str(tag_checks.scanned_status(self.booth.work, self.code))
        if self.inspection is not None:
            self.row = session.inspection(self.inspection)
        if self._entries and not self.printed:
            self.printed = [tagging.printed_again(self.booth.work, session, entry) for entry in self._entries]

    def title(self) -> str:
        return f"Tag of {self.inspection}" if self.inspection else "Scanned tag"

    def parts(self) -> tuple[Part | Side, ...]:
        parts: list[Part] = []
        if self.status:
            parts.append(Said(self.status, "The book says"))
        if self.row is not None:
            word = self.row.disposition + (" - PROVISIONAL" if self.row.provisional else "")
            parts.append(Big("SUSPENDED" if self.row.suspended else word, f"{self.row.inspection} as it stands"))
        if self.printed:
            rows = tuple(
                Row(
                    f"Tag {tag.model.tag_no}: {tag.model.tag_word}, {tag.model.quantity}",
                    f"check code {tag.model.check_code}",
                    Shape.DONE,
                )
                for tag in self.printed
            )
            parts.append(Rows(rows, "Printed: wire it on, then scan it on the part"))
        elif self.row is not None:
            parts.append(Said("Enter prints the tag", "Next"))
        return tuple(parts)

    def keys(self) -> tuple[KeyHint, ...]:
        first = (KeyHint("Enter", "board" if self.printed else "print"),) if self.inspection else ()
        rework = (KeyHint("1", "order rework"),) if self._is_rework else ()
        return (*first, *rework, KeyHint(".", "back"))

    @property
    def _is_rework(self) -> bool:
        return self.row is not None and self.row.disposition == Disposition.REWORK

    def press(self, key: str) -> bool:
        if key == "1" and self._is_rework:
            self.booth.swap(self.booth.make_screen("rework", self.booth, inspection=self.inspection))
            return True
        if key != ENTER or self.inspection is None:
            return False
        booth, inspection = self.booth, self.inspection
        if self.printed:
            booth.home()
            return True
        person = booth.person()
        made = booth.do(lambda: tagging.print_tags(booth.work, inspection, person))
        if made is not None:
            self.printed = made
            booth.say(booth.outside.print_tags([tag.model for tag in made]))
        return True

    def text(self, text: str) -> bool:
        if not text.startswith("ndi:") or not self.printed:
            return False
        booth = self.booth
        for tag in self.printed:
            number = str(tag.model.tag_no)
            if tag_checks.is_code_of(booth.work, text, number):
                person = booth.person()
                if booth.do(lambda: (tagging.scan_back(booth.work, number, person),)) is not None:  # noqa: B023
                    booth.say(f"tag {number} is on the part")
                return True
        booth.refuse("this is another tag: scan the one that was printed for this part")
        return True

    def scanned(self, scanned: Scanned) -> bool:
        return False

    def keep(self) -> dict[str, Any]:
        entries = [tag.recorded.position for tag in self.printed]
        return {"inspection": self.inspection, "code": self.code, "printed": entries}

    def restore(self, kept: dict[str, Any]) -> None:
        self.inspection, self.code = kept.get("inspection"), kept.get("code")
        self._entries = [int(entry) for entry in kept.get("printed", [])]
