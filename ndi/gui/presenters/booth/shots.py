"""Shots on the strip: what the technique asks, what was fired, where the holes are."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.procedure import NominalShot
from ndi.domain.quantity import Number
from ndi.gui.presenters.scene import Cell, Shape
from ndi.rules.inquiry import Inquiry
from ndi.services.lookup import every
from ndi.services.ports import Session

PULSES_TIMED = "s"


def fields(nominal: NominalShot) -> list[tuple[str, str, str]]:
    """Amps and seconds of each pulse, then turns and position of a coil shot: label, unit, the technique's value as a hint."""
    found = []
    for pulse in range(1, nominal.pulses + 1):
        found.append((f"Pulse {pulse} amps", "A", f"technique {nominal.amps}"))
        found.append((f"Pulse {pulse} seconds", "s", ""))
    if nominal.turns is not None:
        found.append(("Coil turns", "pcs", f"technique {nominal.turns}"))
    if nominal.position is not None:
        found.append(("Coil position", nominal.position.unit, f"technique {nominal.position}"))
    return found


def as_technique(nominal: NominalShot) -> str:
    """What Enter says yes to beside the numbers."""
    return f"{nominal.current_type}, bath: {nominal.bath_mode}, as the technique"


def fired(inspection: str, bench: str, nominal: NominalShot, typed: Sequence[str]) -> f.ShotFired:
    """The shot from the numbers in the order of :func:`fields`."""
    wanted = fields(nominal)
    pulses = tuple(f.Pulse(Number(typed[2 * n], "A"), Number(typed[2 * n + 1], "s")) for n in range(nominal.pulses))
    rest = dict(zip([label for label, _, _ in wanted[2 * nominal.pulses :]], typed[2 * nominal.pulses :], strict=True))
    turns = rest.get("Coil turns")
    position = rest.get("Coil position")
    return f.ShotFired(
        inspection,
        bench,
        nominal.shot,
        pulses,
        nominal.current_type,
        nominal.bath_mode,
        int(Number(turns, "pcs").value) if turns is not None else None,
        Number(position, nominal.position.unit) if position is not None and nominal.position is not None else None,
    )


def strip(q: Inquiry, selected: int | None) -> tuple[Cell, ...]:
    """One cell for each shot of the technique; a hole stays visible."""
    cells = []
    for nominal in q.technique.shots:
        counted = [shot.fired for shot in q.shots if shot.counts and shot.fired.fact.shot == nominal.shot]
        if counted:
            last = counted[-1]
            amps = " ".join(pulse.amps.typed if pulse.amps else "?" for pulse in last.fact.pulses)
            times = f", {len(counted)} times" if len(counted) > 1 else ""
            lines = (f"{amps} A", last.when.clock() + times)
            shape = Shape.DONE
        else:
            lines = (f"({nominal.amps})", "not fired")
            shape = Shape.OPEN
        cells.append(Cell(f"{nominal.shot} {nominal.kind}", lines, shape, nominal.shot == selected))
    return tuple(cells)


def bench_at(session: Session, place: str | None) -> str:
    """The bench that stands at a place, or the only one of the shop."""
    latest = {r.fact.equipment: r.fact for r in every(session, f.EquipmentEntered)}
    benches = [fact for fact in latest.values() if fact.kind == "bench"]
    here = [fact.equipment for fact in benches if place is not None and place in (fact.place, fact.equipment)]
    if len(here) == 1:
        return here[0]
    if len(benches) == 1:
        return benches[0].equipment
    raise InputError("which bench? scan its place")


def bath_of(session: Session, bench: str) -> str | None:
    """The bath that a bench runs, as it was entered last."""
    entered = [r.fact for r in every(session, f.EquipmentEntered) if r.fact.equipment == bench and r.fact.tank_bath]
    return entered[-1].tank_bath if entered else None
