"""Handover: every open line, read one by one by whoever takes over; tags compared with the book."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed
from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.gui.presenters.desk.papers import Papers
from ndi.gui.presenters.desk.recording_forms import NOBODY, RecordingForms
from ndi.services import handover, tag_checks
from ndi.services.lookup import every
from ndi.services.paper_text import on_paper
from ndi.services.workplace import Workplace

_LINES = (
    Column("Read", 16),
    Column("Kind", 14),
    Column("About", 14),
    Column("What is open", 70, stretch=True),
    Column("Read today by", 18),
)


class Handover:
    """What whoever takes over must know."""

    def __init__(self, work: Workplace, person: Callable[[], str], papers: Papers, forms: RecordingForms) -> None:
        self._work, self._person, self._papers, self._forms = work, person, papers, forms

    def lines(self) -> tuple[Listing, str]:
        """Every open line with who has read it, and how many the person at the desk has still to read."""
        me = self._person()
        found = handover.open_lines(self._work)
        rows = []
        for line in found:
            mine = me in line.read_by
            mark = marks.Mark(marks.SETTLED, "read") if mine else marks.Mark(marks.OPEN, "not read")
            rows.append(
                Row(
                    (str(mark), line.kind, line.about, on_paper(line.text), ", ".join(line.read_by)),
                    line.line,
                    act=not mine,
                )
            )
        left = sum(row.act for row in rows)
        who = me or "whoever takes over"
        said = (
            f"{len(rows)} open lines: {who} has read {len(rows) - left}, {left} to read" if rows else "Nothing is open."
        )
        return Listing(_LINES, tuple(rows), "Nothing is open."), said

    def acknowledge(self, line: str) -> str:
        """The person at the desk has read this line."""
        if not self._person():
            raise InputError(NOBODY)
        handover.acknowledge(self._work, line, self._person())
        return f"Read by {self._person()}: {line}"

    def sheet_form(self) -> Form:
        """The shift sheet of today as paper."""
        return self._papers.shift_form(self._work.now().local.date())

    def shift_form(self) -> Form:
        """The shift of a line or booth opens or closes."""
        with self._work.book.session(readonly=True) as session:
            places = sorted(
                {r.fact.equipment for r in every(session, f.EquipmentEntered) if r.fact.kind in ("station", "line")}
            )
        return self._forms.form("shift", "Open or close the shift of a line or booth", choices={"station": places})

    def tag_form(self) -> Form:
        """Compare a tag in somebody's hand with the book."""
        fields = (Field("code", "Scan the square code, or type TAG NUMBER and CHECK CODE", needed=True),)

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            standing = tag_checks.status_of(self._work, values["code"])
            practice = " A practice tag: it stands on no part." if standing.practice else ""
            return Act("Tag", self._person(), lambda _proof: f"This tag is {standing}.{practice}")

        return Form("Does a tag still stand?", fields, act, button="Compare")
