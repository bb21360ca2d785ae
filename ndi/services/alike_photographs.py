"""Photographs on other records that show the same exposure as a new one, by their perceptual hashes."""

from __future__ import annotations

from datetime import datetime, timedelta

from ndi.calc.alike_pictures import MOST_BITS, bits_apart
from ndi.domain import facts as f
from ndi.services.ports import Session

# how far back is looked: what is older carries its age in its own time, and lists of many years would make people wait
LOOK_BACK = timedelta(days=400)


def alike_elsewhere(session: Session, inspection: str, looks: tuple[str, ...], now: datetime) -> tuple[str, ...]:
    """SHA-256 of each photograph on another record that looks like one with these hashes, the nearest first."""
    found: dict[str, int] = {}
    for line in session.lines(f.PhotoAttached, since=now - LOOK_BACK):
        known = line.body.get("perceptual_hash")
        if known is None or line.body["inspection"] == inspection:
            continue
        apart = min((bits_apart(look, known) for look in looks), default=MOST_BITS + 1)
        if apart <= MOST_BITS:
            found[line.body["sha256"]] = apart
    return tuple(sorted(found, key=lambda sha256: found[sha256]))
