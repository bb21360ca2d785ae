"""What a row stands for: one call to a use case, at the time at which a person made it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import IntEnum

from ndi.domain.moment import Moment
from ndi.services.workplace import Workplace


class Turn(IntEnum):
    """Who goes first when several things carry the same time: what ends, what is read, what begins, what is signed."""

    ASKED_BEFORE = 0
    END = 10
    READ = 20
    GIVE_UP = 25
    ASKED_BETWEEN = 28
    OPEN = 30
    BEGIN = 40
    NOTE = 50
    JUDGE = 60
    MOVE = 70
    REASON = 75
    SIGN = 80
    ASKED_AFTER = 90


@dataclass(frozen=True)
class Call:
    """One call: when, in which turn, what for a log line, by whom, about what, and the call itself."""

    when: Moment
    turn: Turn
    what: str
    by: str
    subject: str
    make: Callable[[Workplace], object]
    file: str
    line: int

    @property
    def at(self) -> datetime:
        return self.when.at


@dataclass(frozen=True)
class Refusal:
    """A call that the tool refused, and why."""

    call: Call
    message: str
