"""Shift verification: red and amber lines first, lamps, margins, late facts; one signature over exactly what is green."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from ndi.domain.errors import InputError
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.services.paper_text import on_paper
from ndi.services.proof import Meaning, Proof
from ndi.services.shift_review import LAMP_WORDS, ShiftReview, shift_review
from ndi.services.verifying import verify_records
from ndi.services.workplace import Workplace

_LINES = (
    Column("Line", 22),
    Column("About", 14),
    Column("What", 80, stretch=True),
)
NOBODY = "choose who stands at the desk first"


@dataclass(frozen=True)
class ReviewView:
    """One day as the screen shows it."""

    lines: tuple[Labelled, ...]
    items: Listing


class Verification:
    """A day before and while it is verified."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person
        self.day: date | None = None  # None: today

    def review(self) -> ReviewView:
        found = self._review()
        return ReviewView(_head(found), Listing(_LINES, tuple(_rows(found)), "Nothing was recorded on this day."))

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
        Labelled("A signature covers", f"{len(found.verifiable)} records: {', '.join(found.verifiable) or 'none'}"),
    )


def _rows(found: ShiftReview) -> list[Row]:
    red, amber = marks.Mark(marks.FAILED, "red"), marks.Mark(marks.OPEN, "amber")
    rows = [
        Row((str(red), each.name, f"serious finding, first seen {each.discovered}"), act=True) for each in found.serious
    ]
    for line in found.lines:
        mark = red if line.is_red else amber
        text = f"{line.state}: {on_paper(line.answer.line())}"
        rows.append(Row((str(mark), line.inspection, text), line.inspection, act=line.is_red))
    unsigned = [name for name in found.unsigned if name not in {line.inspection for line in found.lines}]
    rows += [Row((str(red), name, "not signed"), name, act=True) for name in unsigned]
    provisional = marks.Mark(marks.WAITING, "provisional")
    rows += [Row((str(provisional), name, "waits for the closing reading"), name) for name in found.provisional]
    for lamp in found.lamps:
        shape = marks.of_verdict(lamp.verdict).shape
        mark = marks.Mark(shape, LAMP_WORDS[lamp.verdict])
        rows.append(Row((str(mark), lamp.lamp, on_paper(lamp.says)), act=lamp.verdict in ("FAIL", "NOT RECORDED")))
    for basket, attempt, what, took, limit, margin, word in found.margins:
        mark = marks.Mark(
            marks.FAILED if word == "OVER" else marks.OPEN if word else marks.SETTLED, f"margin {margin} %"
        )
        rows.append(Row((str(mark), basket, f"attempt {attempt}, {what} {took}, {limit}"), act=word == "OVER"))
    for late in found.late:
        mark = marks.Mark(marks.OPEN, "typed late")
        text = f"{type(late.fact).__name__} of {late.when}, by {late.by}: {late.why}"
        rows.append(Row((str(mark), f"entry {late.position}", text)))
    return rows
