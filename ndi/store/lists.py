"""Reading for lists: many rows at once, entries undecoded, sums that the database makes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import Any

from ndi.domain.facts import Fact
from ndi.services.ports import (
    Brief,
    Correction,
    Fields,
    InspectionRow,
    Kept,
    Line,
    Named,
    PartRow,
    Signed,
    UseTime,
    UseTotal,
)
from ndi.store import lines, rows
from ndi.store.transaction import Tx


class ListReader:
    """The part of a session that questions about the whole book are answered from."""

    _tx: Tx

    def _once(self, ask: Callable[[], Sequence[Any]], *key: Any) -> list[Any]:
        raise NotImplementedError

    # --- entries ---

    def lines(self, kind: type[Fact], since: datetime | None = None, until: datetime | None = None) -> list[Line]:
        """The same undecoded, of event times in ``[since, until)``."""
        return self._once(lambda: lines.of_kind(self._tx, kind, since, until), "lines", kind, since, until)

    def lines_obtained(self, how: str) -> list[Line]:
        """Entries in force that came into the book in one way (``typed-late``), by position."""
        return self._once(lambda: lines.obtained(self._tx, how), "obtained", how)

    def lines_about(self, subject: str) -> list[Line]:
        """Entries in force about a subject, undecoded, by event time, then position."""
        return self._once(lambda: lines.about(self._tx, subject), "lines about", subject)

    def corrections(self) -> list[Correction]:
        """Every correction and withdrawal, by position."""
        return self._once(lambda: lines.corrections(self._tx), "corrections")

    def fields(
        self, kind: type[Fact], names: Sequence[str], since: datetime | None = None, until: datetime | None = None
    ) -> list[Fields]:
        """Entries in force of one kind with some fields of their bodies, of event times in ``[since, until)``, by event time."""
        wanted = tuple(names)
        return self._once(
            lambda: lines.fields(self._tx, kind, wanted, since, until), "fields", kind, wanted, since, until
        )

    def named(self, kind: type[Fact], since: datetime | None = None, until: datetime | None = None) -> list[Named]:
        """Entries in force of one kind by their first subject, of event times in ``[since, until)``, by event time."""
        return self._once(lambda: lines.named(self._tx, kind, since, until), "named", kind, since, until)

    def named_by(self, person: str, since: datetime, until: datetime) -> list[Named]:
        """Entries in force of every kind that one person entered, of event times in ``[since, until)``, by event time."""
        return self._once(lambda: lines.named_by(self._tx, person, since, until), "named by", person, since, until)

    def offsets(self, positions: Iterable[int]) -> dict[int, int]:
        """The local offset in minutes at which each of some entries was made."""
        return rows.offsets(self._tx, positions)

    def verdicts(self, position: int) -> list[tuple[str, str]]:
        """Rule and verdict of each answer that a decision was signed on."""
        return lines.verdicts(self._tx, position)

    def kept(self, verdict: str, since: datetime | None = None) -> list[Kept]:
        """By rule the decisions in force, of event times from ``since``, that were signed on one verdict of it."""
        return self._once(lambda: lines.kept(self._tx, verdict, since), "kept", verdict, since)

    def signed(self, names: Iterable[str]) -> dict[str, Signed]:
        """Who signed the decision in force of some records, and the reading that an acceptance waits for."""
        return lines.signed(self._tx, names)

    # --- records, parts, uses ---

    def inspections_in(self, names: Iterable[str]) -> dict[str, InspectionRow]:
        """Those of some records that the book holds, by number."""
        return rows.inspections_in(self._tx, names)

    def parts_in(self, names: Iterable[str]) -> dict[str, PartRow]:
        """Those of some parts that the book holds, by key."""
        return rows.parts_in(self._tx, names)

    def briefs(self, names: Iterable[str] | None = None) -> dict[str, Brief]:
        """Records by number, with what counts need of them: some, or all."""
        return rows.briefs(self._tx, names)

    def pieces_inspected(self) -> list[tuple[str, str, int]]:
        """Part number, work order, pieces inspected: each part once, however many records it has."""
        return rows.pieces_inspected(self._tx)

    def decided(self) -> list[str]:
        """The numbers of all records with a decision in force."""
        return rows.decided(self._tx)

    def records_of_orders(self) -> dict[str, int]:
        """How many records each work order has."""
        return rows.records_of_orders(self._tx)

    def use_total(self, object_: str, since: datetime, until: datetime) -> UseTotal:
        """How much an object was used by what began in ``[since, until)``; each record once."""
        return rows.use_total(self._tx, object_, since, until)

    def use_times(self, object_: str, since: datetime, until: datetime) -> list[UseTime]:
        """Uses of an object that began in ``[since, until)``, for sums; in no order."""
        return rows.use_times(self._tx, object_, since, until)
