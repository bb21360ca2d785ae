"""A small invented day that touches every read table, with late and corrected facts."""

from __future__ import annotations

from typing import Any

from ndi.domain import facts as f
from ndi.domain.quantity import Number
from ndi.store.book import SqliteBook
from tests.store.conftest import draft, put


def opened(inspection: str, part: str, method: str = "MT", **more: Any) -> f.InspectionOpened:
    return f.InspectionOpened(inspection, part, "WO-1", 1, method, "T-1", "A", "Q-1", "C", "ann", **more)


def viewed(view: str, inspection: str, lamps: tuple[str, ...] = ("LAMP-1",), **more: Any) -> f.ViewStarted:
    return f.ViewStarted(view, inspection, "ann", lamps, "first", **more)


def signed(
    inspection: str,
    part: str,
    disposition: str = "ACCEPT",
    children: tuple[f.Child, ...] = (),
    provisional: bool = False,
) -> f.DecisionSigned:
    return f.DecisionSigned(inspection, part, "ann", "C-1", disposition, children, provisional, (), (), "0" * 64)


def shot(inspection: str, bench: str = "BENCH-1") -> f.ShotFired:
    return f.ShotFired(inspection, bench, 1, (f.Pulse(Number("900", "A"), None),))


def fill(book: SqliteBook) -> None:
    """Put the day into ``book``: 30 odd entries, four of them corrections."""
    put(
        book,
        draft(f.EquipmentEntered("BENCH-1", "bench", tank_bath="BATH-1")),
        draft(f.TankFilled("L1", ("PEN-1", "DEV-1"))),
    )
    put(book, *(draft(f.PartListed(f"P{n}", "WO-1", f"PN-{n}", n), 1) for n in (1, 2, 3)))
    put(book, draft(opened("I1", "P1"), 2), draft(opened("I2", "P2", "PT"), 2), draft(opened("I3", "P3", "PT"), 3))
    move, view, wet = put(
        book,
        draft(f.PartMoved("P1", "rack A"), 5),
        draft(viewed("V1", "I1", ("LAMP-1", "LAMP-2"), station="BOOTH 1"), 6),
        draft(f.StepStarted("B1", "wet"), 10),
    )
    put(book, draft(f.BasketLoaded("B1", "PT", "L1", ("I2", "I3"), 1), 9))
    put(book, draft(f.ViewEnded("V1", "I1"), 12), draft(shot("I1"), 4), draft(f.StepEnded("B1", "develop"), 50))
    put(book, draft(f.ResidualRead("I1", "end", Number("1", "G"), meter="GAUSS-1"), 13))
    put(book, draft(signed("I1", "P1", provisional=True), 60), draft(signed("I2", "P2"), 61))
    put(book, draft(f.VerificationSigned("bob", ("I1", "I2"), ()), 70))
    put(book, draft(f.AcceptanceSuspended("I2", "P2", ("L01",), 3), 80), draft(f.ProvisionalCleared("I1", "P1", 3), 81))
    why = "entered on the wrong line"
    put(book, draft(viewed("V1", "I1", ("LAMP-1", "LAMP-3")), 6, supersedes=view.uid, why=why))
    put(book, draft(f.PartMoved("P1", "rack B"), 5, supersedes=move.uid, why=why))
    put(book, draft(f.StepStarted("B1", "wet"), 11, supersedes=wet.uid, why=why))
    put(book, draft(f.TankFilled("L1", ("PEN-2", "DEV-1")), 8), draft(f.DecisionUndone("I1", "P1", 20), 90))
