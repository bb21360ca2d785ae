"""An indication: where on the outline, how long, how wide, which way, of which piece; drawn to scale while it is typed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.procedure import PartMaster
from ndi.domain.quantity import Number, shown
from ndi.domain.vocabulary import Form as Shapes
from ndi.gui.presenters.booth.outlines import drawn, outline
from ndi.gui.presenters.booth.screen import ENTER, INDICATION, UNDO, Screen, number_key
from ndi.gui.presenters.scene import Asked, Form, KeyHint, Line, Outline, Part, Point, Row, Rows, Said, Side
from ndi.rules.inquiry import Inquiry
from ndi.services import placing
from ndi.services.assemble import inquiry_for
from ndi.services.numbering import next_indication
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

INCH = Fraction("25.4")
STEPS = (INCH / 10, INCH)  # of the marker: a tenth of an inch, or one
_MOVES = {"4": (-1, 0), "6": (1, 0), "8": (0, 1), "2": (0, -1), "7": (-1, 1), "9": (1, 1), "1": (-1, -1), "3": (1, -1)}
FORMS = tuple(str(form) for form in Shapes)
ORIENTATIONS = ("axial", "circumferential", "transverse", "oblique", "random")
NOT_MEASURED = "0"

PLACE, PIECE, LENGTH, WIDTH, FORM, ORIENTATION, CLOCK, READY = (
    "place",
    "piece",
    "length",
    "width",
    "form",
    "orientation",
    "clock",
    "ready",
)
_TYPED = {PIECE: ("Piece of the lot", ""), LENGTH: ("Length", "in"), WIDTH: ("Width", "in"), CLOCK: ("Clock", "deg")}


class IndicationScreen(Screen):
    """The marker goes by keypad arrows, ``5`` changes its step, ``enter`` places it; then each value is asked in turn."""

    name: ClassVar[str] = "indication"

    def __init__(self, booth: Booth, inspection: str | None = None, zone: str | None = None) -> None:
        super().__init__(booth)
        self.inspection, self.first_zone = inspection, zone
        self.q: Inquiry | None = None
        self.master: PartMaster | None = None
        self.quantity = 1
        self.at: placing.Place | None = None
        self.step = 0
        self.stage = PLACE
        self.values: dict[str, str] = {}
        self.marks: list[dict[str, str]] = []  # of a group: the marks before the one in hand
        self.strokes: list[list[Point]] = []

    # --- reading ---

    def load(self, session: Session) -> None:
        assert self.inspection is not None
        work = self.booth.work
        self.q = inquiry_for(work, session, self.inspection)
        self.master = self.q.master
        self.quantity = self.q.opened.fact.quantity
        if self.at is None:
            zone = self.master.zone(self.first_zone) if self.first_zone else None
            zone = zone or (self.master.zone(self.q.technique.zones[0]) if self.q.technique.zones else None)
            self.at = placing.centre_of(zone) if zone is not None else (Fraction(0), Fraction(0))

    @property
    def zone(self) -> str | None:
        """The zone under the marker; the one that was viewed where the outline has none there."""
        assert self.master is not None and self.q is not None and self.at is not None
        found = placing.zone_at(self.master, self.at, self.q.technique.zones)
        return found.code if found is not None else None

    @property
    def stages(self) -> list[str]:
        piece = [PIECE] if self.quantity > 1 and not self.marks else []
        return [PLACE, *piece, LENGTH, WIDTH, FORM, ORIENTATION, CLOCK, READY]

    # --- showing ---

    def title(self) -> str:
        return f"Indication on {self.inspection}"

    def parts(self) -> tuple[Part | Side, ...]:
        return (Side((self._drawing(),), self._asking(), 0.55),)

    def _drawing(self) -> Outline:
        assert self.master is not None and self.q is not None and self.at is not None
        at = Point(float(self.at[0]), float(self.at[1]))
        made = outline(self.master, self.q, (), self.zone, at if self.stage == PLACE else None)
        lines = list(made.lines)
        for values in (*self.marks, self._with_place(self.values)):
            line = drawn(self._seen("", values)) if self.stage != PLACE or values is not self.values else None
            if line is not None:
                lines.append(replace(line, label="", selected=True))
        lines += [Line(tuple(stroke)) for stroke in self.strokes]
        return replace(made, lines=tuple(lines))

    def _with_place(self, values: dict[str, str]) -> dict[str, str]:
        assert self.at is not None
        return {**values, "x": str(self.at[0]), "y": str(self.at[1])}

    def _asking(self) -> tuple[Part, ...]:
        assert self.master is not None and self.at is not None
        zone = self.master.zone(self.zone) if self.zone else None
        where = placing.in_words(self.master, self.at)
        told = Said(f"{zone.name if zone else 'outside every zone'}: {where}", "Where")
        if self.stage == PLACE:
            step = "0.1 in" if self.step == 0 else "1 in"
            return told, Said(f"Arrows move by {step}, 5 changes the step, Enter places it", "Marker")
        size = " x ".join(self.values.get(name, "") for name in (LENGTH, WIDTH))
        listing = self.stage in (FORM, ORIENTATION)
        parts: list[Part] = [told, Rows((Row(f"{size} in"),)) if listing else Form(tuple(self._fields()), "Size")]
        if listing:
            words = FORMS if self.stage == FORM else ORIENTATIONS
            rows = tuple(Row(word, key=str(n)) for n, word in enumerate(words, 1))
            parts.append(Rows(rows, "Form" if self.stage == FORM else "Direction"))
        elif self.stage == READY:
            chosen = ", ".join(self.values.get(name, "") for name in (FORM, ORIENTATION) if self.values.get(name))
            group = f"{len(self.marks) + 1} marks" if self.marks else ""
            parts.append(
                Rows(
                    (Row(chosen or "form not said"), *([Row(group)] if group else [])),
                    "Enter saves, + adds a mark of the same group",
                )
            )
        return tuple(parts)

    def _fields(self) -> list[Asked]:
        asked = []
        for name in self.stages:
            if name not in _TYPED:
                continue
            label, unit = _TYPED[name]
            current = name == self.stage
            typed = (self.typing or "") if current else self.values.get(name, "")
            hint = "0 = not measured" if current and name != PIECE else ""
            if not current and self.values.get(name) == NOT_MEASURED:
                typed, hint = "", "not measured"
            asked.append(Asked(label, typed, unit, hint, current=current))
        return asked

    def keys(self) -> tuple[KeyHint, ...]:
        if self.stage == PLACE:
            return (KeyHint("1-9", "arrows"), KeyHint("5", "step"), KeyHint("Enter", "place"), KeyHint(".", "back"))
        if self.stage in (FORM, ORIENTATION):
            return (KeyHint("1-9", "choose"), KeyHint("-", "one back"))
        if self.stage == READY:
            return (KeyHint("Enter", "save"), KeyHint("+", "one more mark"), KeyHint("-", "one back"))
        return (KeyHint("Enter", "next"), KeyHint("0", "not measured"), KeyHint("-", "delete, one back"))

    # --- keys ---

    def press(self, key: str) -> bool:
        number = number_key(key)
        if self.stage == PLACE:
            return self._place(key)
        if key == UNDO:
            self._one_back()
            return True
        if self.stage in (FORM, ORIENTATION) and number is not None:
            words = FORMS if self.stage == FORM else ORIENTATIONS
            if 1 <= number <= len(words):
                self.values[self.stage] = words[number - 1]
                self._next()
                return True
            return False
        if self.stage == READY and key == ENTER:
            self._save()
            return True
        if self.stage == READY and key == INDICATION:
            self._one_more()
            return True
        return False

    def _place(self, key: str) -> bool:
        assert self.at is not None
        if key in _MOVES:
            dx, dy = _MOVES[key]
            size = STEPS[self.step]
            self.at = (self.at[0] + dx * size, self.at[1] + dy * size)
            return True
        if key == "5":
            self.step = 1 - self.step
            return True
        if key == ENTER:
            self._next()
            return True
        return False

    def _next(self) -> None:
        stages = self.stages
        self._to(stages[stages.index(self.stage) + 1])

    def _one_back(self) -> None:
        stages = self.stages
        self._to(stages[max(0, stages.index(self.stage) - 1)])

    def _to(self, stage: str) -> None:
        self.stage = stage
        self.typing = "" if stage in _TYPED else None

    def entered(self, typed: str) -> None:
        unit = _TYPED[self.stage][1]
        if unit:
            Number(typed, unit)  # InputError when it is no number
        self.values[self.stage] = typed
        self._next()

    def text(self, text: str) -> bool:
        """A piece's name, from a keyboard or the tag on the piece."""
        if self.stage != PIECE:
            return False
        self.values[PIECE] = text.partition(":")[2] if text.startswith("part:") else text
        self._next()
        return True

    def stroked(self, points: list[Point]) -> None:
        """Freehand on the outline: kept with the indication; its middle is where the indication is."""
        if len(points) < 2:
            return
        self.strokes.append(points)
        middle = points[len(points) // 2]
        self.at = (Fraction(round(middle.x * 10), 10), Fraction(round(middle.y * 10), 10))
        if self.stage == PLACE:
            self._next()

    def _one_more(self) -> None:
        self.marks.append(self._with_place(self.values))
        self.values = {name: self.values[name] for name in (PIECE, CLOCK) if name in self.values}
        self._to(PLACE)

    # --- saving ---

    def _number(self, values: dict[str, str], name: str, unit: str) -> Number | None:
        typed = values.get(name)
        return None if typed is None or typed == NOT_MEASURED else Number(typed, unit)

    def _seen(self, name: str, values: dict[str, str]) -> f.IndicationSeen:
        """The fact from what was typed, one mark."""
        assert self.inspection is not None and self.master is not None
        at = Fraction(values["x"]), Fraction(values["y"])
        clock = self._number(values, CLOCK, "deg")
        return f.IndicationSeen(
            name,
            self.inspection,
            self.zone,
            placing.in_words(self.master, at, clock),
            values.get(FORM),
            self._number(values, LENGTH, "in"),
            self._number(values, WIDTH, "in"),
            values.get(ORIENTATION),
            clock,
            values.get(PIECE),
            None,
            (),
            _millimetres(at[0]),
            _millimetres(at[1]),
        )

    def _save(self) -> None:
        booth = self.booth
        if self.zone is None:
            raise InputError("the marker is outside every zone: - goes back to the marker")
        assert self.inspection is not None
        with booth.work.book.session(readonly=True) as session:
            name = next_indication(session, self.inspection)
        every = [*self.marks, self._with_place(self.values)]
        seen = self._seen(name, every[0])
        if len(every) > 1:
            seen = replace(seen, marks=self._group(every))
        strokes = tuple(
            f.Stroke(tuple((_millimetres(_fraction(p.x)), _millimetres(_fraction(p.y))) for p in stroke))
            for stroke in self.strokes
        )
        if booth.record(replace(seen, strokes=strokes)):
            said = booth.message
            booth.swap(booth.make_screen("evidence", booth, indication=name))
            booth.say(f"{name}: {said}")

    def _group(self, every: list[dict[str, str]]) -> tuple[f.Mark, ...]:
        """The marks of a group in inches; each needs its size."""
        marks = []
        for n, values in enumerate(every, 1):
            length, width = self._number(values, LENGTH, "in"), self._number(values, WIDTH, "in")
            if length is None or width is None:
                raise InputError(f"mark {n} of the group has no size: each mark is measured")
            x, y = (Number(shown(Fraction(values[axis]) / INCH, digits=3).lstrip("~"), "in") for axis in ("x", "y"))
            marks.append(f.Mark(f"P{n}", x, y, length, width))
        return tuple(marks)

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        return {
            "inspection": self.inspection,
            "zone": self.first_zone,
            "at": [str(value) for value in self.at] if self.at else None,
            "step": self.step,
            "stage": self.stage,
            "values": self.values,
            "marks": self.marks,
            "strokes": [[list(point) for point in stroke] for stroke in self.strokes],
        }

    def restore(self, kept: dict[str, Any]) -> None:
        self.inspection, self.first_zone = kept["inspection"], kept.get("zone")
        at = kept.get("at")
        self.at = (Fraction(at[0]), Fraction(at[1])) if at else None
        self.step, self.stage = int(kept["step"]), str(kept["stage"])
        self.values, self.marks = dict(kept["values"]), list(kept["marks"])
        self.strokes = [[Point(x, y) for x, y in stroke] for stroke in kept.get("strokes", [])]


def _fraction(value: float) -> Fraction:
    return Fraction(round(value * 100), 100)


def _millimetres(value: Fraction) -> Number:
    return Number(shown(value, digits=2).lstrip("~"), "mm")
