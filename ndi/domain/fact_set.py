"""Facts in memory, found by kind and subject, in the order in which they happened."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import TypeVar, cast

from ndi.domain.entry import Recorded
from ndi.domain.facts import Fact

F = TypeVar("F", bound=Fact)


class FactSet:
    """An immutable selection of facts in force (nothing superseded), by event time, then position."""

    def __init__(self, facts: Iterable[Recorded[Fact]]) -> None:
        unique = {recorded.position: recorded for recorded in facts}
        self._all = sorted(unique.values(), key=lambda recorded: (recorded.at, recorded.position))
        self._by_kind: dict[type, list[Recorded[Fact]]] = defaultdict(list)
        self._by_subject: dict[tuple[type, str], list[Recorded[Fact]]] = defaultdict(list)
        for recorded in self._all:
            kind = type(recorded.fact)
            self._by_kind[kind].append(recorded)
            for subject in recorded.fact.subjects():
                self._by_subject[kind, subject].append(recorded)

    def __iter__(self) -> Iterator[Recorded[Fact]]:
        return iter(self._all)

    def __len__(self) -> int:
        return len(self._all)

    def of(self, kind: type[F], subject: str | None = None) -> list[Recorded[F]]:
        """Facts of one kind, about one subject if given."""
        found = self._by_kind.get(kind, []) if subject is None else self._by_subject.get((kind, subject), [])
        return cast("list[Recorded[F]]", found)

    def last(self, kind: type[F], subject: str, *, until: datetime | None = None) -> Recorded[F] | None:
        """The latest fact of one kind about a subject, not later than ``until``."""
        for recorded in reversed(self.of(kind, subject)):
            if until is None or recorded.at <= until:
                return recorded
        return None
