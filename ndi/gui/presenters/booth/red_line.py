"""One red line: the question, what was found, the limit, the ways out, and the way to where it is mended."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity
from ndi.gui.presenters.booth.screen import ENTER, Screen, number_key
from ndi.gui.presenters.booth.texts import answer_shape
from ndi.gui.presenters.scene import KeyHint, Part, Row, Rows, Said, Side
from ndi.rules import registry
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

REASONS = (
    "looked at again on the part: it stands as recorded",
    "interrupted by an alarm, went on afterwards",
    "meter or lamp changed in between, readings are in the book",
    "entered late because both hands were wet",
)

# where the answer to a rule is mended, by the beginning of its id; the longest beginning counts
_PLACES: dict[str, str] = {
    "G": "record",
    "G12": "call",
    "G13": "call",
    "G2": "viewing",
    "G25": "record",
    "G28": "record",
    "G29": "record",
    "G30": "viewing",
    "L": "reading",
    "M": "record",
    "P": "line",
    "D": "record",
    "D01": "indication",
    "D02": "evidence",
    "D03": "evidence",
    "D04": "evidence",
    "D05": "evidence",
    "D06": "photograph",
    "D07": "second look",
    "K": "reading",
}


class RedLine(Screen):
    """``enter`` goes where it is mended; a warning takes a reason by number, or typed on a keyboard."""

    name: ClassVar[str] = "red line"

    def __init__(self, booth: Booth, inspection: str | None = None, answer: Answer | None = None) -> None:
        super().__init__(booth)
        self.inspection, self.answer = inspection, answer
        self.indications: tuple[str, ...] = ()

    def load(self, session: Session) -> None:
        if self.inspection is None or self.answer is None:
            raise ValueError("a red line is opened from the decision")
        seen = session.facts(self.inspection, (f.IndicationSeen,))
        self.indications = tuple(r.fact.indication for r in seen if isinstance(r.fact, f.IndicationSeen))

    @property
    def takes_reason(self) -> bool:
        return self.answer is not None and self.answer.severity is Severity.WARN

    def title(self) -> str:
        assert self.answer is not None
        return f"{self.answer.rule} of {self.inspection}"

    def parts(self) -> tuple[Part | Side, ...]:
        answer = self.answer
        assert answer is not None
        question = registry.load_all()[answer.rule].question if answer.rule in registry.load_all() else ""
        found = [
            Row(answer.says or str(answer.verdict), "", answer_shape(answer)),
            *([Row(f"found {answer.found}")] if answer.found else []),
            *([Row(f"limit {answer.limit}")] if answer.limit else []),
            *([Row(answer.paragraph)] if answer.paragraph else []),
        ]
        parts: list[Part] = [Said(question, f"{answer.rule} {answer.verdict}"), Rows(tuple(found), "Found")]
        if answer.ways_out:
            parts.append(Rows(tuple(Row(way) for way in answer.ways_out), "Ways out"))
        if self.takes_reason:
            rows = tuple(Row(reason, key=str(n)) for n, reason in enumerate(REASONS, 1))
            parts.append(Rows(rows, "A warning: give the reason by number, or type it"))
        return tuple(parts)

    def keys(self) -> tuple[KeyHint, ...]:
        hints = [KeyHint("Enter", f"go to {self._place}")]
        if self.takes_reason:
            hints.append(KeyHint(f"1-{len(REASONS)}", "reason"))
        return (*hints, KeyHint("/", "call"), KeyHint(".", "back"))

    @property
    def _place(self) -> str:
        assert self.answer is not None
        rule = self.answer.rule
        best = max((start for start in _PLACES if rule.startswith(start)), key=len, default="G")
        place = _PLACES[best]
        return "record" if place in ("evidence", "photograph") and not self.indications else place

    def press(self, key: str) -> bool:
        number = number_key(key)
        if key == ENTER:
            self._go()
            return True
        if self.takes_reason and number is not None and 1 <= number <= len(REASONS):
            self._reason(REASONS[number - 1])
            return True
        return False

    def text(self, text: str) -> bool:
        if not self.takes_reason or ":" in text.split(" ")[0]:
            return False
        self._reason(text)
        return True

    def _reason(self, reason: str) -> None:
        booth, answer = self.booth, self.answer
        assert answer is not None and self.inspection is not None
        if booth.record(f.ReasonGiven(self.inspection, answer.rule, reason, booth.person())):
            booth.back()

    def _go(self) -> None:
        booth, place = self.booth, self._place
        about: dict[str, Any] = {}
        if place in ("record", "viewing", "indication"):
            about = {"inspection": self.inspection}
        elif place == "evidence":
            about = {"indication": self.indications[-1]}
        elif place == "photograph":
            about = {"inspection": self.inspection, "indication": self.indications[-1]}
        booth.swap(booth.make_screen(place, booth, **about))
