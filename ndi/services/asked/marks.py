"""Indications with what they were called last, as questions about all of them read them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ndi.domain import facts as f
from ndi.domain.vocabulary import Interpretation
from ndi.services.asked.question import Reader


@dataclass(frozen=True)
class Mark:
    """An indication with what it was called last; places in the book of both."""

    position: int
    said: int
    at: str
    offset_min: int
    indication: str
    inspection: str
    piece: str
    zone: str | None
    clock: str | None  # JSON text of a number
    interpretation: str
    type: str | None

    @property
    def evidence(self) -> tuple[int, int]:
        return self.position, self.said

    @property
    def is_relevant(self) -> bool:
        return self.interpretation == Interpretation.RELEVANT


SEEN = ("indication", "inspection", "piece", "zone", "clock")
_CALLED = ("indication", "interpretation", "type")


def marks(q: Reader, since: datetime | None = None, until: datetime | None = None) -> list[Mark]:
    """Every indication seen in a time that was called something, with the latest call."""
    said = {line.values[0]: line for line in q.session.fields(f.IndicationInterpreted, _CALLED)}
    found = []
    for seen in q.session.fields(f.IndicationSeen, SEEN, since, until):
        name, inspection, piece, zone, clock = seen.values
        call = said.get(name)
        if call is not None:
            _, word, kind = call.values
            found.append(
                Mark(
                    *(seen.position, call.position, seen.at, seen.offset_min, name or "", inspection or ""),
                    *(piece or "", zone, clock, word or "", kind),
                )
            )
    return found


def relevant(q: Reader, since: datetime | None = None, until: datetime | None = None) -> list[Mark]:
    """Every indication that stands as relevant."""
    return [mark for mark in marks(q, since, until) if mark.is_relevant]
