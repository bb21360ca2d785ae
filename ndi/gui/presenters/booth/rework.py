"""Rework of a signed record: ordered with a signature, begun, done with its depth and what is left of the part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.quantity import Number
from ndi.gui.presenters.booth.screen import ENTER, UNDO, Screen, number_key
from ndi.gui.presenters.scene import Asked, Form, KeyHint, Part, Row, Rows, Said, Shape, Side
from ndi.services import covers, inspecting
from ndi.services.lookup import about
from ndi.services.ports import InspectionRow, Session
from ndi.services.proof import Meaning, Proof

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

OPERATIONS = ("blend within the limit of the zone", "polish within the limit of the zone", "clean and etch again")
# what is typed when it is done; the last two may be left out with 0
_FIELDS = (
    ("Depth taken off", "in"),
    ("Dimension left", "in"),
    ("Limit of a new part", "in"),
    ("Limit in service", "in"),
)


class ReworkScreen(Screen):
    """``1``-``3`` order an operation on the indication shown; ``enter`` begins it; then depth and dimension are typed."""

    name: ClassVar[str] = "rework"

    def __init__(self, booth: Booth, inspection: str | None = None) -> None:
        super().__init__(booth)
        self.inspection = inspection
        self.row: InspectionRow | None = None
        self.indications: list[f.IndicationSeen] = []
        self.order: f.ReworkOrdered | None = None
        self.begun = self.done = False
        self.typed: list[str] = []

    def load(self, session: Session) -> None:
        assert self.inspection is not None
        self.row = session.inspection(self.inspection)
        calls = {
            r.fact.indication: r.fact.interpretation
            for seen in about(session, f.IndicationSeen, self.inspection)
            for r in about(session, f.IndicationInterpreted, seen.fact.indication)
        }
        self.indications = [
            r.fact
            for r in about(session, f.IndicationSeen, self.inspection)
            if calls.get(r.fact.indication) == "relevant"
        ]
        orders = [r.fact for r in about(session, f.ReworkOrdered, self.inspection)]
        self.order = orders[-1] if orders else None
        self.begun = bool(about(session, f.ReworkStarted, self.inspection))
        self.done = bool(about(session, f.ReworkDone, self.inspection))
        self.typing = ("" if self.typing is None else self.typing) if self._measures else None

    @property
    def _measures(self) -> bool:
        return self.order is not None and self.begun and not self.done and len(self.typed) < len(_FIELDS)

    # --- showing ---

    def title(self) -> str:
        return f"Rework of {self.inspection}"

    def parts(self) -> tuple[Part | Side, ...]:
        if self.order is None:
            where = "; ".join(f"{seen.indication} at {seen.zone}" for seen in self.indications)
            rows = tuple(Row(word, key=str(n)) for n, word in enumerate(OPERATIONS, 1))
            return Said(where or "no relevant indication", "On"), Rows(rows, "Which operation? It is signed")
        steps = Rows(
            (
                Row(f"ordered by {self.order.ordered_by}", self.order.operation, Shape.DONE),
                Row("begun", shape=Shape.DONE if self.begun else Shape.OPEN),
                Row("done and measured", shape=Shape.DONE if self.done else Shape.OPEN),
            ),
            f"{self.order.indication} at {self.order.zone}",
        )
        if self.done:
            return steps, Said("Scan the part to open its inspection after rework", "Next")
        if not self.begun:
            return steps, Said("Enter: the rework begins", "Next")
        asked = []
        for n, (label, unit) in enumerate(_FIELDS):
            current = n == len(self.typed)
            typed = self.typed[n] if n < len(self.typed) else (self.typing or "" if current else "")
            asked.append(Asked(label, typed, unit, "0 = none given" if current and n > 1 else "", current=current))
        if len(self.typed) == len(_FIELDS):
            asked.append(Asked("Enter: measured so", ""))
        return steps, Form(tuple(asked), "Measured")

    def keys(self) -> tuple[KeyHint, ...]:
        if self.order is None:
            return (KeyHint("1-3", "order"), KeyHint(".", "back"))
        return (KeyHint("Enter", "next"), KeyHint("-", "delete, undo"), KeyHint(".", "back"))

    # --- keys ---

    def press(self, key: str) -> bool:
        number = number_key(key)
        if self.order is None and number is not None and 1 <= number <= len(OPERATIONS):
            self._order(OPERATIONS[number - 1])
            return True
        if key == UNDO and self.typed:
            self.typing = self.typed.pop()
            return True
        if key == ENTER and self.order is not None and not self.begun:
            self._begin()
            return True
        if key == ENTER and len(self.typed) == len(_FIELDS):
            self._finish()
            return True
        return False

    def entered(self, typed: str) -> None:
        Number(typed, _FIELDS[len(self.typed)][1])
        self.typed.append(typed)
        self.typing = "" if self._measures else None

    def _order(self, operation: str) -> None:
        booth, row = self.booth, self.row
        assert row is not None
        if not self.indications:
            booth.refuse("no relevant indication: nothing to rework")
            return
        seen, person = self.indications[-1], booth.person()
        order = f.ReworkOrdered(row.inspection, row.part, seen.indication, seen.zone or "", operation, person)

        def sign(proof: Proof | None) -> object:
            return inspecting.order_rework(booth.work, order, seen=row.version, proof=proof)

        booth.go(
            booth.make_screen(
                "signing",
                booth,
                title=f"Order rework of {row.inspection}",
                meaning=Meaning.APPROVED,
                covers=covers.rework(order),
                sign=sign,
            )
        )

    def _begin(self) -> None:
        assert self.row is not None
        booth = self.booth
        booth.record(f.ReworkStarted(self.row.inspection, self.row.part, booth.person()))

    def _finish(self) -> None:
        booth, row, order = self.booth, self.row, self.order
        assert row is not None and order is not None
        depth, left, new, service = (Number(text, "in") for text in self.typed)
        dimension = f.Dimension(
            f"left at {order.zone}", left, new if new.value else None, service if service.value else None
        )
        done = f.ReworkDone(row.inspection, row.part, booth.person(), order.zone, depth, (dimension,))
        made = booth.do(lambda: inspecting.complete_rework(booth.work, done))
        if made is not None:
            self.typed, self.typing = [], None
            booth.say(f"saved, entry {made.position}")

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        return {"inspection": self.inspection, "typed": self.typed}

    def restore(self, kept: dict[str, Any]) -> None:
        self.inspection, self.typed = kept["inspection"], list(kept.get("typed", []))
