"""The penetrant line of the demonstration day, built through the use cases, and a booth that is worked by keys alone."""

from __future__ import annotations

import shutil
from dataclasses import fields, is_dataclass
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from ndi.gui.presenters.booth.booth import Booth
from ndi.gui.presenters.memory import NoMemory
from ndi.gui.presenters.scene import Scene
from ndi.services import inspecting, receiving, recording
from ndi.services.line_basket import BasketState
from ndi.services.line_state import line_now, state_of
from tests.build import num
from tests.services import shop as s

F = TypeVar("F", bound=f.Fact)

LINE_D = "Method D line"
# record -> part number, serial or lot, pieces, technique
RECORDS = {
    "PT-001": ("T6-11001", "CC-L-0871", 1, "PT-T-6101"),
    "PT-002": ("T6-11002", "CC-R-0871", 1, "PT-T-6101"),
    "PT-018": ("T6-10410", "LOT-148-PST", 6, "PT-T-6130"),
    "PT-019": ("T4-21001", "CC-L-0644", 1, "PT-T-4101"),
    "PT-020": ("T4-21002", "CC-R-0644", 1, "PT-T-4101"),
    "PT-021": ("T4-21010", "AH-0290", 1, "PT-T-4110"),
    "PT-022": ("T4-21020", "SP-0217", 1, "PT-T-4111"),
}
B1, B4, B5 = ("PT-001", "PT-002"), ("PT-019", "PT-020", "PT-021", "PT-022"), ("PT-018",)


def begin(folder: Path) -> None:
    """The shop of the services' tests with both lines, their documents, parts and open records, at 07:30."""
    s.begin(folder)
    here = s.Shop(s.bootstrap.open_book(folder / "shop.book", station=s.STATION, clock=(clock := s.SetClock())), clock)
    names = ["PT-P-02/rev-B.toml"]
    for number, _, _, sheet in RECORDS.values():
        names += [f"parts/{number}.toml", f"techniques/{sheet}.toml"]
    here.at("07:50")
    receiving.adopt(here.work, s.documents(folder / "more", ["PT-P-01/rev-D.toml", *dict.fromkeys(names)]), "NL3-E")
    alloys = ("aluminium", "steel")
    for fact in (
        f.EquipmentEntered(LINE_D, "line", wash_station="wash station", water="PT line", dryer="dryer"),
        f.BatchEntered("PEN-D", "penetrant", date(2026, 12, 31), "FP-1", "1", "D", "3", alloys=alloys),
        f.BatchEntered(
            "EMU-1", "remover", date(2026, 12, 31), "FP-1", method="D", alloys=alloys, nominal_percent=num("20 %")
        ),
        *(f.EquipmentEntered(name, "basket") for name in ("B7", "B8")),
    ):
        recording.record_outside_fact(here.work, fact, "L1-D")
    here.record(f.TankFilled(LINE_D, ("PEN-D", "EMU-1", "DEV-1")), by="L1-D")
    for inspection, (number, name, quantity, sheet) in RECORDS.items():
        part = here.receive(number, name, quantity, lot=quantity > 1)
        inspecting.open_inspection(here.work, inspection, part, sheet, "L2-B", quantity=quantity, station="PT booth")
    here.close()


def part_of(inspection: str) -> str:
    number, name, _, _ = RECORDS[inspection]
    return receiving.part_key(s.ORDER, number, name)


class Hands:
    """One person at the line's keypad and scanner, at times that the test sets."""

    def __init__(self, folder: Path, target: Path, person: str = "L1-D") -> None:
        shutil.copytree(folder, target, ignore=shutil.ignore_patterns("procedures", "more"))
        self.clock = s.SetClock()
        work = s.bootstrap.open_book(target / "shop.book", station=s.STATION, clock=self.clock)
        self.shop = s.Shop(work, self.clock).at("08:00")
        self.memory = NoMemory()
        self.booth = Booth(work, self.memory)
        self.scan(f"person:{person}")

    def close(self) -> None:
        self.shop.close()

    def restarted(self) -> Hands:
        """The window was killed and comes back from what was kept."""
        self.booth = Booth(self.shop.work, self.memory)
        return self

    # --- doing ---

    def at(self, clock: str) -> Hands:
        self.shop.at(clock)
        self.booth.tick()
        return self

    def key(self, *keys: str) -> Hands:
        """Keys one after another; each must not be refused."""
        for key in keys:
            self.booth.press(key)
            assert not self.booth.refused, (key, self.booth.message)
        return self

    def refused(self, key: str) -> str:
        """A key that must be refused; what was said."""
        self.booth.press(key)
        assert self.booth.refused, self.booth.message
        return self.booth.message

    def number(self, digits: str) -> Hands:
        return self.key(*digits, "enter")

    def scan(self, *codes: str) -> Hands:
        for code in codes:
            self.booth.scan(code)
            assert not self.booth.refused, (code, self.booth.message)
        return self

    # --- looking ---

    @property
    def scene(self) -> Scene:
        return self.booth.scene()

    def shows(self, *texts: str) -> bool:
        seen = "\n".join([*_texts(self.scene), self.booth.message])
        return all(text in seen for text in texts)

    def now(self) -> Moment:
        return self.shop.work.now()

    def facts(self, kind: type[F], subject: str) -> list[Recorded[F]]:
        return list(self.shop.facts(kind, subject))

    def times(self, basket: str) -> dict[str, tuple[str, ...]]:
        """``{"wet": ("07:35", "07:38")}`` as the book has it."""
        found: dict[str, tuple[str, ...]] = {}
        for started in self.facts(f.StepStarted, basket):
            found[started.fact.step] = (*found.get(started.fact.step, ()), started.when.clock())
        for ended in self.facts(f.StepEnded, basket):
            found[ended.fact.step] = (*found.get(ended.fact.step, ()), ended.when.clock())
        return found

    def ticks(self, basket: str) -> dict[str, str]:
        return {r.fact.item: r.fact.value for r in self.facts(f.ConfirmationGiven, basket)}

    def observed(self, basket: str) -> dict[str, str]:
        return {r.fact.quantity: str(r.fact.value) for r in self.facts(f.StepObserved, basket)}

    def states(self) -> tuple[BasketState, ...]:
        with self.shop.work.book.session(readonly=True) as session:
            return line_now(self.shop.work, session)

    def state(self, basket: str) -> BasketState:
        with self.shop.work.book.session(readonly=True) as session:
            return state_of(self.shop.work, session, basket)

    def answers(self, inspection: str) -> dict[str, str]:
        """The answers to the penetrant rules of a record."""
        return {a.rule: str(a.verdict) for a in self.shop.judge(inspection).answers if a.rule.startswith("P")}


def load(hands: Hands, basket: str, inspections: tuple[str, ...]) -> Hands:
    """From the board: basket and parts are scanned, enter loads."""
    hands.scan("command:CANCEL", f"basket:{basket}")
    for inspection in inspections:
        hands.scan(f"part:{part_of(inspection)}")
    return hands.key("enter")


def _texts(thing: Any) -> list[str]:
    if isinstance(thing, str):
        return [str(thing)]
    if isinstance(thing, tuple):
        return [text for each in thing for text in _texts(each)]
    if is_dataclass(thing):
        return [text for each in fields(thing) for text in _texts(getattr(thing, each.name))]
    return []
