"""The envelope around each fact: who, when, how obtained, what it corrects."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Generic, TypeVar

from ndi.domain.moment import Moment

F = TypeVar("F", covariant=True)


class Obtained(StrEnum):
    """How a time or a value came into the book."""

    TIMER = "timer"
    SCANNER = "scanner"
    INSTRUMENT = "instrument"
    TYPED_LIVE = "typed-live"
    TYPED_LATE = "typed-late"
    TRANSCRIBED = "transcribed from paper"
    COMPUTED = "computed"


@dataclass(frozen=True)
class Draft:
    """A fact on its way into the book: everything that a person or instrument supplies."""

    fact: object
    when: Moment
    by: str
    how: Obtained = Obtained.TIMER
    on_behalf_of: str | None = None
    supersedes: str | None = None  # uid of the entry that this one corrects
    why: str | None = None  # reason of a correction, a late entry or a transcription


@dataclass(frozen=True)
class Recorded(Generic[F]):
    """A fact in the book.  ``position`` is its place in the one chain, from 1 without gaps."""

    fact: F
    when: Moment
    by: str
    how: Obtained
    recorded_at: datetime
    position: int
    uid: str
    on_behalf_of: str | None = None
    supersedes: str | None = None
    why: str | None = None
    at: datetime = field(init=False, repr=False, compare=False)  # the UTC instant at which it happened

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", self.when.at)
