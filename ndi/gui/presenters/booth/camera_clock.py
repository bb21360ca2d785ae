"""A camera's clock beside the station's: the time that is seen in a photograph of the station's clock is typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.booth.picture_content import content_of
from ndi.gui.presenters.booth.screen import Screen
from ndi.gui.presenters.scene import Asked, Form, KeyHint, Part, Picture, Said, Side
from ndi.services import camera_clock, photographs
from ndi.services.camera_clock import camera_moment
from ndi.services.ports import Picture as Examined
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

DIGITS = 6


class CameraClock(Screen):
    """``5`` held looks before the first digit is typed; six digits are the time in the picture, ``enter`` compares."""

    name: ClassVar[str] = "camera clock"

    def __init__(self, booth: Booth, path: str | None = None) -> None:
        super().__init__(booth)
        self.path = path
        self.found: Examined | None = None

    def load(self, session: Session) -> None:
        assert self.path is not None
        work = self.booth.work
        self.found = photographs.archive_of(work).examine(content_of(work, self.path), self._file)
        if self.found.camera is None or camera_moment(work, self.found) is None:
            raise InputError("the picture names no camera, or no time: set the camera to write both, take it again")

    @property
    def _file(self) -> str:
        return (self.path or "").replace("\\", "/").rpartition("/")[2]

    # --- showing ---

    def title(self) -> str:
        return f"Clock of {self.found.camera}" if self.found else "Clock of the camera"

    def parts(self) -> tuple[Part | Side, ...]:
        assert self.found is not None and self.path is not None
        at = camera_moment(self.booth.work, self.found)
        assert at is not None
        asked = Asked("Time in the picture", self.typing or "", "HHMMSS", "6 digits")
        told = Said(
            "The station's clock stands at the top of this screen: photograph it, then type what the picture shows.",
            "How clocks are compared",
        )
        seen: tuple[Part, ...] = (Said(f"{at.local:%Y-%m-%d %H:%M:%S}", "Its own time"),)
        if self.typing is None:  # while digits are typed, 5 is one of them
            seen = (Picture(self.path, self._file), *seen)
        return (Side(seen, (Form((asked,)), told), 0.5),)

    def keys(self) -> tuple[KeyHint, ...]:
        if self.typing is None:
            return (KeyHint("5 held", "look"), KeyHint("Enter", "type the time"), KeyHint(".", "back"))
        return (KeyHint("0-9", "time"), KeyHint("Enter", "compare"), KeyHint("-", "delete"))

    # --- keys ---

    def press(self, key: str) -> bool:
        if key == "enter" and self.typing is None:
            self.typing = ""
            return True
        return False

    def entered(self, typed: str) -> None:
        booth, found = self.booth, self.found
        assert found is not None
        if len(typed) != DIGITS or not typed.isdecimal():
            raise InputError(f"{typed} is no time: type hours, minutes and seconds, six digits")
        person = booth.person()
        made = booth.do(lambda: camera_clock.compare_clocks(booth.work, found, typed, person))
        if made is None:
            return
        fact = made.fact
        assert isinstance(fact, f.ProcessCheckRecorded) and fact.ahead is not None
        said = camera_clock.in_words(round(fact.ahead.in_unit("s")))
        self.typing = None
        booth.back()
        booth.say(f"clock of {fact.object}: {said}, saved as entry {made.position}")

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        return {"path": self.path}

    def restore(self, kept: dict[str, Any]) -> None:
        self.path = kept.get("path")
