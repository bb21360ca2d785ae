"""Facts in memory, found by kind and subject, in the order in which they happened."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from operator import attrgetter
from typing import Any, TypeVar, cast

from ndi.domain.entry import Recorded
from ndi.domain.facts import Fact, ReadingRecorded

F = TypeVar("F", bound=Fact)
_by_time = attrgetter("at", "position")
_at = attrgetter("at")


def happened_between(facts: Sequence[Recorded[F]], begun: datetime | None, ended: datetime) -> Sequence[Recorded[F]]:
    """Those of some facts, given in order of time, that happened from ``begun`` (None: ever) to ``ended``, both within.

    A book of years holds thousands of readings of one meter; a day of them is found without looking at each.
    """
    first = 0 if begun is None else bisect_left(facts, begun, key=_at)
    return facts[first : bisect_right(facts, ended, lo=first, key=_at)]


class FactSet:
    """An immutable selection of facts in force (nothing superseded), by event time, then position."""

    def __init__(self, facts: Iterable[Recorded[Fact]]) -> None:
        unique = {recorded.position: recorded for recorded in facts}
        self._all = sorted(unique.values(), key=_by_time)
        self._found: dict[type | tuple[type, str], list[Recorded[Any]]] = defaultdict(list)  # by kind, kind and subject
        self._readings: dict[tuple[str, ...], list[Recorded[ReadingRecorded]]] = defaultdict(list)
        self.corrections: list[Recorded[Fact]] = [recorded for recorded in self._all if recorded.supersedes is not None]
        found = self._found
        for recorded in self._all:
            fact = recorded.fact
            kind = type(fact)
            found[kind].append(recorded)
            for subject in fact.subjects():
                found[kind, subject].append(recorded)
            if kind is ReadingRecorded:
                self._sort_out(cast("Recorded[ReadingRecorded]", recorded))

    def _sort_out(self, recorded: Recorded[ReadingRecorded]) -> None:
        fact = recorded.fact
        self._readings[fact.object, fact.quantity].append(recorded)
        if fact.condition is not None:
            self._readings[fact.object, fact.quantity, fact.condition].append(recorded)

    def __iter__(self) -> Iterator[Recorded[Fact]]:
        return iter(self._all)

    def __len__(self) -> int:
        return len(self._all)

    def of(self, kind: type[F], subject: str | None = None) -> list[Recorded[F]]:
        """Facts of one kind, about one subject if given."""
        found = self._found.get(kind if subject is None else (kind, subject))
        return [] if found is None else found

    def last(self, kind: type[F], subject: str, *, until: datetime | None = None) -> Recorded[F] | None:
        """The latest fact of one kind about a subject, not later than ``until``."""
        found = self.of(kind, subject)
        if until is None:
            return found[-1] if found else None
        return next((recorded for recorded in reversed(found) if recorded.at <= until), None)

    def readings(
        self, object_: str, quantity: str, condition: str | None = None
    ) -> Sequence[Recorded[ReadingRecorded]]:
        """Readings of a quantity of an object (in one condition, if given), by time."""
        of = (object_, quantity) if condition is None else (object_, quantity, condition)
        return self._readings.get(of, ())
