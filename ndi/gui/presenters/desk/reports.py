"""Reports: for an engine's owner, for the auditor, for whoever takes over; each a form that names the file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from ndi.domain.errors import InputError
from ndi.gui.presenters.desk.acts import Field, Form
from ndi.gui.presenters.desk.papers import Papers
from ndi.services import evidence_pack
from ndi.services.due_calendar import calendar_sheet
from ndi.services.handover_sheet import handover_sheet
from ndi.services.owner_report import owner_report
from ndi.services.paper_blocks import PaperModel
from ndi.services.recall_papers import recall_letters, recall_list
from ndi.services.sampling import Choice, draw
from ndi.services.verification_sheet import verification_sheet
from ndi.services.workplace import Workplace

_NOT_A_RELEASE = "It is an inspection report, not the release document."


class Reports:
    """One form for each report."""

    def __init__(self, work: Workplace, papers: Papers) -> None:
        self._work, self._papers = work, papers

    def engine_form(self, work_order: str) -> Form:
        """The report to the owner of an engine."""
        if not work_order:
            raise InputError("choose a work order first")
        return self._papers.report_form(
            f"Report to the owner, {work_order}",
            f"report-{work_order}",
            lambda _values: owner_report(self._work, work_order),
            lines=(_NOT_A_RELEASE,),
        )

    def part_form(self, part: str) -> Form:
        """Everything that the records of one part rest on."""
        if not part:
            raise InputError("choose a part first")
        return self._papers.report_form(
            f"Evidence of {part}",
            f"evidence-{part.replace('/', '-')}",
            lambda _values: evidence_pack.pack_of_part(self._work, part),
        )

    def record_evidence_form(self, inspection: str) -> Form:
        """Everything that one record rests on."""
        return self._papers.report_form(
            f"Evidence of {inspection}",
            f"evidence-{inspection}",
            lambda _values: evidence_pack.evidence_pack(self._work, [inspection], f"record {inspection}"),
        )

    def sample_form(self) -> Form:
        """Records drawn at random, for an auditor."""
        fields = (
            Field("count", "How many records", "10", needed=True),
            Field("seed", "Drawn by (seed)", "", "the auditor's word or number; empty: the head of the book"),
            Field("since", "Decided from", "", "YYYY-MM-DD; empty: the first", day=True),
            Field("until", "Decided until", "", "YYYY-MM-DD; empty: now", day=True),
            Field("method", "Method", "", "empty: both", ("MT", "PT"), free=False),
        )
        return self._papers.report_form("Evidence of a random sample", "evidence-sample", self._sample, fields)

    def _sample(self, values: Mapping[str, str]) -> PaperModel:
        count = values["count"].strip()
        if not (count.isascii() and count.isdigit() and len(count) <= 6):
            raise InputError(f"{count!r} records: type a whole number")
        choice = Choice(_day(values.get("since", "")), _day(values.get("until", "")), values.get("method") or None)
        sample = draw(self._work, int(count), values.get("seed") or None, choice)
        return evidence_pack.pack_of_sample(self._work, sample)

    def handover_form(self) -> Form:
        """Every open line on paper."""
        return self._papers.report_form(
            "Handover sheet",
            f"handover-{self._work.now().local.date()}",
            lambda _values: handover_sheet(self._work),
        )

    def verification_form(self, day: date) -> Form:
        """What a verification looks at and covers."""
        return self._papers.report_form(
            f"Verification sheet of {day}",
            f"verification-{day}",
            lambda _values: verification_sheet(self._work, day),
        )

    def recall_form(self, name: str) -> Form:
        """The list of a recall set."""
        return self._papers.report_form(
            f"Recall list of {_chosen(name)}", f"recall-{name}", lambda _values: recall_list(self._work, name)
        )

    def letters_form(self, name: str) -> Form:
        """A letter to the owner of each engine of a recall set."""
        return self._papers.report_form(
            f"Letters to the owners, {_chosen(name)}",
            f"letters-{name}",
            lambda _values: recall_letters(self._work, name),
            lines=("Read every letter before it goes out; the shop writes the address and signs.",),
        )

    def calendar_form(self) -> Form:
        """What runs out when."""
        return self._papers.report_form(
            "Calibration and certificate calendar",
            f"calendar-{self._work.now().local.date()}",
            lambda _values: calendar_sheet(self._work),
        )


def _chosen(name: str) -> str:
    if not name:
        raise InputError("choose a recall set first")
    return name


def _day(text: str) -> date | None:
    if not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f"{text!r} is not a day; type it like 2026-03-10") from None
