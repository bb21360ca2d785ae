"""A photograph becomes evidence: chosen from what the camera left, looked at in red, attached with what is in its frame."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.booth.outside import PhotoFile
from ndi.gui.presenters.booth.picture_content import LIVE, archived, content_of
from ndi.gui.presenters.booth.screen import ENTER, INTERRUPT, NOTHING, UNDO, Screen, number_key
from ndi.gui.presenters.booth.taken import FILE, Taken, file_time, taken_of
from ndi.gui.presenters.scene import KeyHint, Part, Picture, Row, Rows, Said, Shape, Side
from ndi.services import photographs
from ndi.services.inspecting import inspection_of
from ndi.services.lookup import about
from ndi.services.photographs import Shown
from ndi.services.picture_words import in_frame
from ndi.services.ports import Session
from ndi.services.zone_photographs import ZonePhotograph, zone_photographs

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

PAGE = 9
SCALE = {"1": ("yes", True), "2": ("no", False)}
TAG = {"3": ("read", "read"), "4": ("not in the frame", "no"), "6": ("seen by a person", "seen by person")}
# why a photograph stands here that is, or looks like, one of another record
REASONS = ("the camera stands still, the next part lies there", "one frame shows both parts")
TAKE, CLOCK, REASON = "photo", "7", "8"


class Photograph(Screen):
    """A number chooses, ``enter`` takes the newest or a frame of the live camera, ``5`` held shows in red, numbers say what is
    in the frame, ``enter`` attaches, ``*`` what others saw."""

    name: ClassVar[str] = "photograph"

    def __init__(
        self, booth: Booth, inspection: str | None = None, indication: str | None = None, stage: str = "files"
    ) -> None:
        super().__init__(booth)
        self.inspection, self.indication = inspection, indication
        self.stage = stage  # files, chosen, zone, other
        self.files: tuple[PhotoFile, ...] = ()
        self.page = 0
        self.here: frozenset[tuple[str | None, int | None]] = frozenset()  # name and size of what is attached
        self.attached: frozenset[str] = frozenset()
        self.others: tuple[ZonePhotograph, ...] = ()
        self.file: PhotoFile | None = None
        self.taken: Taken | None = None
        self.scale: bool | None = None
        self.tag: str | None = None
        self.reason: int | None = None  # of REASONS
        self.frame = ""  # what was read off the picture in hand
        self.arriving = 0  # pictures that were still being written
        self.other: int | None = None  # of the others, the one in hand
        self.looked_s: dict[str, float] = {}  # by the picture, all looks together

    # --- reading ---

    def load(self, session: Session) -> None:
        if self.inspection is None and self.indication is not None:
            self.inspection = inspection_of(session, self.indication)
        assert self.inspection is not None
        self._list()
        self.page = min(self.page, self._pages - 1)
        known = [r.fact for r in about(session, f.PhotoAttached, self.inspection)]
        self.here = frozenset((photo.original_name, photo.size) for photo in known)
        self.attached = frozenset(photo.sha256 for photo in known if photo.size is not None)
        if self.stage in ("zone", "other") and self.indication is not None:
            self.others = zone_photographs(self.booth.work, session, self.indication)
            if self.stage == "other" and (self.other is None or self.other >= len(self.others)):
                self._to("zone")

    def _list(self) -> None:
        self.files = tuple(self.booth.outside.photo_files())
        self.arriving = self.booth.outside.arriving()

    @property
    def _pages(self) -> int:
        return max(1, -(-len(self.files) // PAGE))

    @property
    def _shown(self) -> tuple[PhotoFile, ...]:
        return self.files[self.page * PAGE : (self.page + 1) * PAGE]

    @property
    def is_waiting(self) -> bool:
        return self.stage == "files"

    # --- showing ---

    def title(self) -> str:
        return f"Photograph of {self.indication or self.inspection}"

    def parts(self) -> tuple[Part | Side, ...]:
        match self.stage:
            case "chosen":
                return (Side((self._picture(), self._when(), *self._in_frame()), self._questions(), 0.5),)
            case "zone":
                return (self._zone_rows(),)
            case "other":
                return self._other_shown()
        live = self.booth.outside.live
        if live is None:
            return (self._file_rows(),)
        return (Picture(LIVE, f"live camera {live.source}{self._looked(LIVE)}"), self._file_rows())

    def _file_rows(self) -> Rows:
        rows = [
            Row(
                file.name,
                f"{self._moment(file):%Y-%m-%d %H:%M:%S}  {_size(file.size)}",
                Shape.DONE if (file.name, file.size) in self.here else Shape.OPEN,
                str(n),
            )
            for n, file in enumerate(self._shown, 1)
        ]
        heading = "From the camera, newest first"
        if self._pages > 1:
            heading += f", page {self.page + 1} of {self._pages}"
        if self.arriving:
            heading += f", {self.arriving} still coming"
        return Rows(tuple(rows), heading, "The camera has left no picture in this station's folder.")

    def _moment(self, file: PhotoFile) -> datetime:
        return file_time(self.booth.work, file).local

    def _picture(self) -> Picture:
        assert self.file is not None and self.taken is not None
        sha256 = self.taken.sha256
        # one that is attached is seen with what is drawn beside it
        path = archived(sha256) if sha256 in self.attached else self.file.path
        return Picture(path, f"{self.file.name}{self._looked(path)}")

    def _looked(self, path: str) -> str:
        seconds = self.looked_s.get(path)
        return f", looked at for {seconds:.1f} s" if seconds else ", not looked at yet"

    def _when(self) -> Said:
        assert self.taken is not None
        return Said(self.taken.in_words(), "Taken")

    def _in_frame(self) -> tuple[Part, ...]:
        return (Said(self.frame, "In the frame"),) if self.frame else ()

    def _questions(self) -> tuple[Part, ...]:
        scale = [Row(word, key=key, selected=self.scale == value) for key, (word, value) in SCALE.items()]
        tag = [Row(word, key=key, selected=self.tag == value) for key, (word, value) in TAG.items()]
        reason = "looks like another one: a reason" if self.reason is None else REASONS[self.reason]
        more = (
            Row("the station's clock is in it", key=CLOCK),
            Row(reason, key=REASON, selected=self.reason is not None),
        )
        return (
            Rows(tuple(scale), "Scale in the frame?"),
            Rows(tuple(tag), "Tag of the part in the frame?"),
            Rows(more, "Or"),
        )

    def _zone_rows(self) -> Rows:
        rows = tuple(
            Row(
                f"{photo.indication}: {photo.word}",
                photo.disposition.lower() if photo.is_there else "its file is missing",
                Shape.DONE if photo.is_there else Shape.CROSS,
                str(n),
            )
            for n, photo in enumerate(self.others, 1)
        )
        empty = "No other part of this number has a photograph of this zone."
        return Rows(rows, "Same zone, same part number: what others saw", empty)

    def _other_shown(self) -> tuple[Part, ...]:
        assert self.other is not None
        photo = self.others[self.other]
        path = archived(photo.sha256)
        return (
            Picture(path, f"{photo.inspection}, {photo.taken_at.local:%Y-%m-%d %H:%M}{self._looked(path)}"),
            Said(f"{photo.indication}: {photo.word}. The record: {photo.disposition}", "It was called"),
        )

    def keys(self) -> tuple[KeyHint, ...]:
        match self.stage:
            case "chosen":
                return (
                    KeyHint("5 held", "look"),
                    KeyHint("1-8", "answer"),
                    KeyHint("Enter", "attach"),
                    KeyHint("*", "others"),
                    KeyHint("-", "one back"),
                )
            case "zone":
                return (KeyHint("1-5", "choose"), KeyHint("-", "one back"), KeyHint(".", "back"))
            case "other":
                return (KeyHint("5 held", "look"), KeyHint("-", "one back"), KeyHint(".", "back"))
        more = (KeyHint("0", "next page"),) if self._pages > 1 else ()
        if self.booth.outside.live is not None:
            more = (KeyHint("5 held", "look"), KeyHint("Enter", "take"), *more)
        elif self.files:
            more = (KeyHint("Enter", "newest"), *more)
        return (KeyHint("1-9", "choose"), *more, KeyHint("*", "others"), KeyHint(".", "back"))

    # --- keys ---

    def press(self, key: str) -> bool:
        if key == INTERRUPT:
            self._zone()
            return True
        if key == UNDO and self.stage != "files":
            self._to({"other": "zone", "zone": "chosen" if self.file else "files"}.get(self.stage, "files"))
            return True
        if key == TAKE or (key == ENTER and self.stage == "files"):
            return self._newest()
        if key == ENTER and self.stage == "chosen":
            self._attach()
            return True
        number = number_key(key)
        if number is None:
            return False
        return self._choose(key, number)

    def _choose(self, key: str, number: int) -> bool:
        match self.stage:
            case "files" if key == NOTHING:
                self.page = (self.page + 1) % self._pages
            case "files" if 1 <= number <= len(self._shown):
                self._take(self._shown[number - 1])
            case "chosen" if key in SCALE:
                self.scale = SCALE[key][1]
            case "chosen" if key in TAG:
                self.tag = TAG[key][1]
            case "chosen" if key == REASON:
                at = -1 if self.reason is None else self.reason
                self.reason = at + 1 if at + 1 < len(REASONS) else None
            case "chosen" if key == CLOCK:
                assert self.file is not None
                self.booth.go(self.booth.make_screen("camera clock", self.booth, path=self.file.path))
            case "zone" if 1 <= number <= len(self.others):
                self.other = number - 1
                self._to("other")
            case _:
                return False
        return True

    def _to(self, stage: str) -> None:
        if stage == "files":
            self.file = self.taken = self.scale = self.tag = self.reason = None
            self.frame = ""
        self.stage = stage

    def _zone(self) -> None:
        if self.indication is None:
            raise InputError("this photograph is of the whole part: what others saw is shown for an indication")
        self._to("zone")
        self.booth.reload()

    def _newest(self) -> bool:
        """The live camera takes a frame; without one, the newest file."""
        live = self.booth.outside.live
        if live is not None:
            self._take(live.take())
            return True
        self._list()
        if not self.files:
            raise InputError("the camera has left no picture yet: take one, then press the key again")
        self._take(self.files[0])
        return True

    def _take(self, file: PhotoFile) -> None:
        """A picture in hand: what it is, and when it was taken."""
        work = self.booth.work
        found = taken_of(work, file)
        assert self.inspection is not None
        frame = in_frame(work, self.inspection, content_of(work, file.path))
        self._to("files")
        self.file, self.taken, self.frame = file, found, frame
        self._to("chosen")

    def _attach(self) -> None:
        booth, file, taken, inspection = self.booth, self.file, self.taken, self.inspection
        assert file is not None and taken is not None and inspection is not None
        if self.scale is None or self.tag is None:
            missing = "the scale" if self.scale is None else "the tag of the part"
            raise InputError(f"say by its number whether {missing} is in the frame")
        reason = None if self.reason is None else REASONS[self.reason]
        shown = Shown(self.scale, self.tag, taken_at=taken.at if taken.source == FILE else None, reuse_reason=reason)
        person, content = booth.person(), content_of(booth.work, file.path)
        if sha256(content).hexdigest() != taken.sha256:
            raise InputError(f"{file.name} is another picture now than when it was chosen: - and choose again")
        made = booth.do(
            lambda: photographs.attach_photograph(
                booth.work, inspection, content, file.name, person, indication=self.indication, shown=shown
            )
        )
        if made is not None:
            booth.back()
            booth.say(f"{file.name} attached to {self.indication or inspection}, entry {made.position}")

    def held(self, path: str, seconds: float) -> None:
        self.looked_s[path] = self.looked_s.get(path, 0.0) + seconds

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        file, taken = self.file, self.taken
        return {
            "inspection": self.inspection,
            "indication": self.indication,
            "stage": self.stage,
            "page": self.page,
            "file": [file.path, file.name, file.changed.isoformat(), file.size] if file else None,
            "taken": taken.kept() if taken else None,
            "reason": self.reason,
            "frame": self.frame,
            "scale": self.scale,
            "tag": self.tag,
            "other": self.other,
            "looked": self.looked_s,
        }

    def restore(self, kept: dict[str, Any]) -> None:
        self.inspection, self.indication = kept.get("inspection"), kept.get("indication")
        self.stage, self.page = str(kept["stage"]), int(kept["page"])
        if kept.get("file"):
            path, name, changed, size = kept["file"]
            self.file = PhotoFile(path, name, datetime.fromisoformat(changed), size)
        if kept.get("taken"):
            self.taken = Taken.from_kept(kept["taken"])
        self.reason, self.frame = kept.get("reason"), str(kept.get("frame", ""))
        self.scale, self.tag = kept.get("scale"), kept.get("tag")
        self.other, self.looked_s = kept.get("other"), dict(kept.get("looked", {}))


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{size / 1e3:.1f} kB"
