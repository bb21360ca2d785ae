"""What one station does in the tests of several stations on one book: its shares of a day, in a process of its own."""

from __future__ import annotations

import random
import time
from pathlib import Path

from ndi import procedure_files
from ndi.day import replay
from ndi.day.clock import SetClock
from ndi.domain.errors import NdiError, NotPermitted
from ndi.services.workplace import Workplace
from ndi.store.places import open_any
from tests.power.replaying import the_plan

CALLS = 620  # of the day: receiving, shop checks, baskets, shots, views and the first dozen decisions


def share(number: int, stations: int) -> int:
    """Which of so many shares a call belongs to: what is about one thing stays together."""
    call = the_plan().calls[number]
    return sum(call.subject.encode()) % stations


def work(where: str | Path, keys: str, station: str, me: int, stations: int, said: str) -> None:
    """Play two shares of the day, one of which the next station plays too; acknowledged heads go to ``said``."""
    plan, chance = the_plan(), random.Random(me)
    clock = SetClock(plan.begins.at, plan.begins.offset_min)
    with open_any(where, station=station, key_folder=Path(keys), clock=clock) as book, open(said, "w") as heads:
        place = Workplace(book, clock, procedure_files.document_from_text, station, True)
        for number in range(CALLS):
            if share(number, stations) not in (me, (me + 1) % stations):
                continue
            call = plan.calls[number]
            clock.set(call.when.at, call.when.offset_min)
            try:
                for position in place.once(f"call {number}", lambda call=call: call.make(place)):  # type: ignore[misc]
                    heads.write(f"{number} {position}\n")
            except NotPermitted:
                pass  # kept by the refusal itself
            except NdiError as error:
                replay._keep(place, call, str(error))
            time.sleep(chance.random() * 0.002)
