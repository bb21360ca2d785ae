"""Shift verification: red and amber lines first, lamps, margins, late facts; one signature over exactly what is green."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from ndi.domain.errors import InputError
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.gui.presenters.desk.reports import Reports
from ndi.services.paper_text import on_paper
from ndi.services.proof import Meaning, Proof
from ndi.services.shift_review import LAMP_WORDS, ShiftReview, shift_review
from ndi.services.verifying import own_work, verify_records
from ndi.services.workplace import Workplace

_LINES = (
    Column("Line", 22),
    Column("About", 14),
    Column("What", 80, stretch=True),
)
RECORD, EQUIPMENT, ENTRY, SERIOUS = "record", "equipment", "correction", "serious"  # screens that a line leads to
NOBODY = "choose who stands at the desk first"


@dataclass(frozen=True)
class ReviewView:
    """One day as the screen shows it."""

    lines: tuple[Labelled, ...]
    items: Listing
    entries: Mapping[str, str]  # by the key of a line, the reading that it is about


class Verification:
    """A day before and while it is verified."""

    def __init__(self, work: Workplace, person: Callable[[], str], reports: Reports) -> None:
        self._work, self._person, self._reports = work, person, reports
        self.day: date | None = None  # None: today

    def review(self) -> ReviewView:
        found, person = self._review(), self._person()
        lines = list(_head(found))
        if person:
            own = own_work(self._work, person, found.scope)
            lines.append(
                Labelled("Own work (D20)", f"{marks.of_verdict(own.verdict)}: {on_paper(own.says or own.found)}")
            )
        rows = tuple(_rows(found))
        entries = {f"{EQUIPMENT}|{lamp.lamp}": str(lamp.facts[-1]) for lamp in found.lamps if lamp.facts}
        return ReviewView(tuple(lines), Listing(_LINES, rows, "Nothing was recorded on this day."), entries)

    def _review(self) -> ShiftReview:
        return shift_review(self._work, self.day or self._work.now().local.date())

    def day_form(self) -> Form:
        """Another day than today."""

        def choose(text: str) -> str:
            try:
                self.day = date.fromisoformat(text)
            except ValueError:
                raise InputError(f"{text!r} is not a day; type it like 2026-03-10") from None
            return f"Shift of {self.day}"

        shown = self.day or self._work.now().local.date()
        fields = (Field("day", "Day", str(shown), needed=True, day=True),)
        return Form("Which day", fields, lambda values: Act("Day", self._person(), lambda _p: choose(values["day"])))

    def sheet_form(self) -> Form:
        """The day as paper."""
        return self._reports.verification_form(self.day or self._work.now().local.date())

    def sign(self) -> Act:
        """Verify what is green; the act shows every record that it covers."""
        person, found = self._person(), self._review()
        if not person:
            raise InputError(NOBODY)
        if not found.verifiable:
            raise InputError("no record of this day is complete: nothing can be verified")

        def make(proof: Proof | None) -> str:
            done = verify_records(self._work, person, inspections=found.scope, proof=proof)
            return f"{len(done.covered)} records verified by {person}; {len(done.left_out)} left out"

        left = [name for name in found.scope if name not in found.verifiable]
        return Act(
            f"Verify {len(found.verifiable)} records of {found.day}",
            person,
            make,
            Meaning.VERIFIED,
            found.covers,
            (f"left out: {', '.join(left) or 'none'}",),
        )


def _head(found: ShiftReview) -> tuple[Labelled, ...]:
    return (
        Labelled("Day", f"{found.day}: {len(found.scope)} records, {len(found.verified)} verified before"),
        Labelled("Red", f"{len(found.red) + len(found.serious)} lines"),
        Labelled("Amber", f"{len(found.amber)} lines"),
        Labelled("Provisional", ", ".join(found.provisional) or "none"),
        Labelled("A signature covers", f"{found.covers_text}: {', '.join(found.verifiable) or 'none'}"),
    )


def _rows(found: ShiftReview) -> list[Row]:
    red, amber = marks.Mark(marks.FAILED, "red"), marks.Mark(marks.OPEN, "amber")
    rows = [
        Row((str(red), each.name, f"serious finding, first seen {each.discovered}"), f"{SERIOUS}|{each.name}", act=True)
        for each in found.serious
    ]
    for line in found.lines:
        mark = red if line.is_red else amber
        text = f"{line.state}: {on_paper(line.answer.line())}"
        rows.append(Row((str(mark), line.inspection, text), f"{RECORD}|{line.inspection}", act=line.is_red))
    unsigned = [name for name in found.unsigned if name not in {line.inspection for line in found.lines}]
    rows += [Row((str(red), name, "not signed"), f"{RECORD}|{name}", act=True) for name in unsigned]
    provisional = marks.Mark(marks.WAITING, "provisional")
    rows += [
        Row((str(provisional), name, "waits for the closing reading"), f"{RECORD}|{name}") for name in found.provisional
    ]
    for lamp in found.lamps:
        shape = marks.of_verdict(lamp.verdict).shape
        mark = marks.Mark(shape, LAMP_WORDS[lamp.verdict])
        strip = "".join(marks.of_verdict(day.verdict).shape for day in found.calendar[lamp.lamp])
        text = f"{len(strip)} days {strip}   {on_paper(found.lamp_says(lamp))}"
        act = lamp.verdict in ("FAIL", "NOT RECORDED")
        rows.append(Row((str(mark), lamp.lamp, text), f"{EQUIPMENT}|{lamp.lamp}", act=act))
    for basket, attempt, what, took, limit, margin, word in found.margins:
        mark = marks.Mark(
            marks.FAILED if word == "OVER" else marks.OPEN if word else marks.SETTLED, f"margin {margin} %"
        )
        rows.append(Row((str(mark), basket, f"attempt {attempt}, {what} {took}, {limit}"), act=word == "OVER"))
    for late in found.late:
        mark = marks.Mark(marks.OPEN, "typed late")
        text = f"{type(late.fact).__name__} of {late.when}, by {late.by}: {late.why}"
        rows.append(Row((str(mark), f"entry {late.position}", text), f"{ENTRY}|{late.position}"))
    return rows
