"""The latest reading of every lamp, bath and place, and whether it is of today."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

_BACK = timedelta(days=7)
_KINDS = ("lamp", "bath", "station", "dryer")


@dataclass(frozen=True)
class Latest:
    object: str
    text: str
    in_date: bool  # read on this local day


def latest_readings(work: Workplace, session: Session) -> tuple[Latest, ...]:
    """One line for each lamp, bath, booth and dryer of the shop; those not read today first."""
    now = work.now()
    names: dict[str, None] = {}
    for recorded in session.of_kind(f.EquipmentEntered):
        fact = recorded.fact
        if isinstance(fact, f.EquipmentEntered) and fact.kind in _KINDS:
            names[fact.equipment] = None
    found = []
    for name in names:
        readings = [r for r in about(session, f.ReadingRecorded, name, since=now.at - _BACK) if r.fact.object == name]
        if not readings:
            found.append(Latest(name, "not read this week", False))
            continue
        last = readings[-1]
        found.append(
            Latest(
                name,
                _text(last, now.local.date() == last.when.local.date()),
                now.local.date() == last.when.local.date(),
            )
        )
    found.sort(key=lambda each: (each.in_date, each.object))
    return tuple(found)


def _text(reading: Recorded[f.ReadingRecorded], today: bool) -> str:
    day = "" if today else f"{reading.when.local:%a} "
    return f"{reading.fact.value} {day}{reading.when.clock()}"
