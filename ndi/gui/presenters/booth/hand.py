"""What a station has in hand: who stands there, which lamps are on the part, which meters lie there."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any


@dataclass
class Hand:
    """Carried over until it is changed, and always shown; kept over a power cut."""

    person: str | None = None
    badge: str | None = None
    lamps: list[str] = field(default_factory=list)
    meters: dict[str, str] = field(default_factory=dict)  # meter by the kind of what it reads
    meter: str | None = None  # scanned last
    demagnetiser: str = ""  # how the last part was demagnetised
    place: str | None = None

    def kept(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def of(cls, kept: dict[str, Any]) -> Hand:
        """From what was kept; unknown fields of another version are left out."""
        known = {name: value for name, value in kept.items() if name in cls.__dataclass_fields__}
        return cls(**known)
