"""Readings taken in the booth: lamp, ambient light, bath, water, dryer: what, of what, how much."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.quantity import Number
from ndi.domain.scan_codes import ScanKind, Scanned
from ndi.domain.vocabulary import Condition, Quantity
from ndi.gui.presenters.booth.screen import ENTER, UNDO, Screen, number_key
from ndi.gui.presenters.scene import Asked, Form, KeyHint, Part, Row, Rows, Shape, Side
from ndi.services import recording
from ndi.services.latest_readings import Latest, latest_readings
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth


@dataclass(frozen=True)
class Sort:
    """One thing that is read: its quantity, unit, what kind of code says of what."""

    label: str
    quantity: Quantity
    unit: str
    of: str  # lamp, place, bath, line, dryer
    scan: tuple[ScanKind, ...] = (ScanKind.EQUIPMENT, ScanKind.PLACE)


SORTS: tuple[Sort, ...] = (
    Sort("UV-A of a lamp", Quantity.UV_A, "uW/cm2", "lamp", (ScanKind.LAMP,)),
    Sort("Ambient light in the booth", Quantity.AMBIENT, "fc", "place", (ScanKind.PLACE,)),
    Sort("Bath: settled particles", Quantity.PARTICLE_VOLUME, "mL", "bath"),
    Sort("White light", Quantity.WHITE_LIGHT, "fc", "place"),
    Sort("Wash water temperature", Quantity.WATER_TEMPERATURE, "degF", "water"),
    Sort("Wash water pressure", Quantity.WATER_PRESSURE, "psi", "water"),
    Sort("Dryer temperature", Quantity.DRYER_TEMPERATURE, "degF", "dryer"),
)
CONDITIONS = (Condition.AS_FOUND, Condition.AS_LEFT, Condition.AFTER_CLEANING)


class Reading(Screen):
    """Number of what is read, scan of what it is read of, the value, its circumstances; ``enter`` saves."""

    name: ClassVar[str] = "reading"

    def __init__(self, booth: Booth, condition: str | None = None) -> None:
        super().__init__(booth)
        self.condition = condition
        self.sort: Sort | None = None
        self.of: str | None = None
        self.choices: tuple[str, ...] = ()
        self.value = ""
        self.distance = ""
        self.screen_on: bool | None = None
        self.confirmed = False
        self.latest: tuple[Latest, ...] = ()
        self.known: dict[str, tuple[str, ...]] = {}

    def load(self, session: Session) -> None:
        self.latest = latest_readings(self.booth.work, session)
        kinds: dict[str, list[str]] = {}
        for recorded in session.of_kind(f.EquipmentEntered):
            fact = recorded.fact
            assert isinstance(fact, f.EquipmentEntered)
            kinds.setdefault(fact.kind, []).append(fact.equipment)
            if fact.water:
                kinds.setdefault("water", []).append(fact.water)
        self.known = {kind: tuple(dict.fromkeys(names)) for kind, names in kinds.items()}

    # --- showing ---

    def title(self) -> str:
        return f"Reading: {self.sort.label}" if self.sort else "Readings"

    def parts(self) -> tuple[Part | Side, ...]:
        last = Rows(
            tuple(Row(each.object, each.text, Shape.DONE if each.in_date else Shape.WAIT) for each in self.latest[:9]),
            "Read last",
        )
        return (Side(self._ask(), (last,), 0.56),)

    def _ask(self) -> tuple[Part, ...]:
        if self.sort is None:
            return (Rows(tuple(Row(sort.label, key=str(n)) for n, sort in enumerate(SORTS, 1)), "What is read?"),)
        if self.of is None:
            rows = tuple(Row(name, key=str(n)) for n, name in enumerate(self._named()[:9], 1))
            return (Rows(rows, f"Of which {self.sort.of}? Scan it, or its number", f"Scan the {self.sort.of}"),)
        fields = [Asked(f"{self.of}", self.value or self.typing or "", self.sort.unit, current=not self.value)]
        if self.value and self._wants_distance:
            current = not self.distance
            fields.append(Asked("Distance", self.distance or self.typing or "", "in", "standard 15", current=current))
        parts: list[Part] = [Form(tuple(fields), self.sort.label)]
        if self._is_complete:
            parts.append(self._circumstances())
        return tuple(parts)

    def _circumstances(self) -> Rows:
        assert self.sort is not None
        if self.sort.quantity is Quantity.UV_A and self.condition is None:
            return Rows(tuple(Row(str(word), key=str(n)) for n, word in enumerate(CONDITIONS, 1)), "Lamp as")
        if self.sort.quantity is Quantity.AMBIENT and self.screen_on is None:
            return Rows((Row("screen on, as used", key="1"), Row("screen off", key="2")), "This screen was")
        meter = self.booth.hand.meter
        return Rows((Row(f"meter {meter}" if meter else "no meter scanned: scan it"),), "Enter saves")

    @property
    def _wants_distance(self) -> bool:
        return self.sort is not None and self.sort.quantity is Quantity.UV_A

    @property
    def _is_complete(self) -> bool:
        return bool(self.value) and (bool(self.distance) or not self._wants_distance)

    def _named(self) -> tuple[str, ...]:
        assert self.sort is not None
        kinds = {"place": ("station",), "line": ("line",)}.get(self.sort.of, (self.sort.of,))
        names = [name for kind in kinds for name in self.known.get(kind, ())]
        here = [lamp for lamp in self.booth.hand.lamps if lamp in names]
        return tuple(dict.fromkeys([*here, *names]))

    def keys(self) -> tuple[KeyHint, ...]:
        if self.sort is None or self.of is None:
            return (KeyHint("1-9", "choose"), KeyHint(".", "back"))
        if self._is_complete:
            return (KeyHint("Enter", "save"), KeyHint("-", "change"), KeyHint(".", "back"))
        return (KeyHint("Enter", "next"), KeyHint("-", "delete, back"))

    # --- keys ---

    def press(self, key: str) -> bool:
        number = number_key(key)
        if key == UNDO and (self.sort is not None):
            self._step_back()
            return True
        if self.sort is None:
            if number is not None and 1 <= number <= len(SORTS):
                self.sort = SORTS[number - 1]
                return True
            return False
        if self.of is None:
            if number is not None and 1 <= number <= len(self._named()):
                self._chosen(self._named()[number - 1])
                return True
            return False
        if not self._is_complete:
            return False
        if number is not None:
            return self._circumstance(number)
        if key == ENTER:
            self._save()
            return True
        return False

    def _chosen(self, of: str) -> None:
        self.of, self.typing = of, ""

    def _circumstance(self, number: int) -> bool:
        assert self.sort is not None
        if self.sort.quantity is Quantity.UV_A and self.condition is None and 1 <= number <= len(CONDITIONS):
            self.condition = CONDITIONS[number - 1]
            return True
        if self.sort.quantity is Quantity.AMBIENT and self.screen_on is None and number in (1, 2):
            self.screen_on = number == 1
            return True
        return False

    def _step_back(self) -> None:
        if self.distance:
            self.distance, self.typing = "", ""
        elif self.value:
            self.value, self.typing = "", ""
        elif self.of is not None:
            self.of, self.typing = None, None
        else:
            self.sort = None

    def entered(self, typed: str) -> None:
        assert self.sort is not None
        if not self.value:
            Number(typed, self.sort.unit)
            self.value = typed
            self.typing = "" if self._wants_distance else None
        else:
            Number(typed, "in")
            self.distance, self.typing = typed, None

    def scanned(self, scanned: Scanned) -> bool:
        if scanned.kind is ScanKind.LAMP and (self.sort is None or self.sort.quantity is Quantity.UV_A):
            self.sort = SORTS[0]
            self._chosen(scanned.name)
            return True
        if self.sort is not None and self.of is None and scanned.kind in self.sort.scan:
            self._chosen(scanned.name)
            return True
        return False

    def _save(self) -> None:
        booth, sort = self.booth, self.sort
        assert sort is not None and self.of is not None
        if sort.quantity is Quantity.UV_A and self.condition is None:
            booth.refuse("as found, as left, or after cleaning? press its number")
            return
        if sort.quantity is Quantity.AMBIENT and self.screen_on is None:
            booth.refuse("was this screen on while the light was read? press 1 or 2")
            return
        reading = f.ReadingRecorded(
            self.of,
            sort.quantity,
            Number(self.value, sort.unit),
            self.condition,
            booth.hand.meter,
            Number(self.distance, "in") if self.distance else None,
            self.screen_on,
        )
        person, confirmed = booth.person(), self.confirmed
        saved = booth.do(lambda: recording.record_reading(booth.work, reading, person, confirmed=confirmed))
        if saved is None:
            self.confirmed = "confirm that it really is so" in booth.message
            if self.confirmed:
                booth.refuse(booth.message + "  Enter confirms it")
            return
        said = f"{self.of} {reading.value}, saved as entry {saved.position}"
        booth.back()
        booth.say(said)

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        return {
            "sort": SORTS.index(self.sort) if self.sort else None,
            "of": self.of,
            "value": self.value,
            "distance": self.distance,
            "condition": self.condition,
            "screen_on": self.screen_on,
        }

    def restore(self, kept: dict[str, Any]) -> None:
        sort = kept.get("sort")
        self.sort = SORTS[sort] if sort is not None else None
        self.of, self.value, self.distance = kept.get("of"), kept.get("value", ""), kept.get("distance", "")
        self.condition, self.screen_on = kept.get("condition"), kept.get("screen_on")
