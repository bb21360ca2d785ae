"""Outages: blank forms before, the sheets typed in afterwards, the second person who compares each with the paper."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from ndi.domain.errors import InputError
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed
from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.gui.presenters.desk.papers import Papers
from ndi.gui.presenters.desk.recording_forms import NOBODY
from ndi.services import outage, outage_paper
from ndi.services.blank_forms import KINDS, blank_forms
from ndi.services.paper_blocks import PaperModel
from ndi.services.proof import Meaning
from ndi.services.typed_facts import moment_of
from ndi.services.workplace import Workplace

_SHEETS = (
    Column("Form", 10),
    Column("Outage", 9),
    Column("Stands", 18),
    Column("Written by", 11),
    Column("Typed in by", 11),
    Column("Compared by", 12),
    Column("Entries", 8, right=True),
    Column("What differs", 40, stretch=True),
)
_LARGEST_PICTURE = 64 * 1024 * 1024  # bytes


class Outages:
    """Every sheet of paper that stood in for the book."""

    def __init__(self, work: Workplace, person: Callable[[], str], papers: Papers) -> None:
        self._work, self._person, self._papers = work, person, papers

    def _who(self) -> str:
        if not self._person():
            raise InputError(NOBODY)
        return self._person()

    def listing(self) -> tuple[Listing, str]:
        """Every sheet with where it stands, and a sentence."""
        with self._work.book.session(readonly=True) as session:
            found = outage.sheets(session)
        rows = []
        for sheet in found:
            done = sheet.state is outage.State.COMPARED
            mark = marks.Mark(marks.SETTLED if done else marks.OPEN, sheet.state)
            cells = (
                sheet.form,
                sheet.outage,
                str(mark),
                sheet.written_by,
                sheet.typed_by,
                sheet.compared_by,
                str(len(sheet.entries) or ""),
                sheet.says,
            )
            rows.append(Row(cells, sheet.form, act=not done))
        left = sum(row.act for row in rows)
        said = (
            f"{len(rows)} sheet{'' if len(rows) == 1 else 's'} written on in outages, {left} not compared yet"
            if rows
            else "No outage was declared. Print blank forms now, while the book can be reached."
        )
        return Listing(_SHEETS, tuple(rows), "No sheet was written on."), said

    def blank_form(self) -> Form:
        """Numbered blank forms on paper."""
        fields = (
            Field("form", "Form", "readings", "", tuple(KINDS), free=False, needed=True),
            Field("count", "How many", "5", needed=True),
        )
        return self._papers.report_form("Blank forms for an outage", "blank-forms", self._blank, fields)

    def _blank(self, values: Mapping[str, str]) -> PaperModel:
        count = values["count"].strip()
        if not (count.isascii() and count.isdigit() and len(count) <= 4):
            raise InputError(f"{count!r} forms: type a whole number")
        return blank_forms(self._work, values["form"], int(count), self._who())

    def declare_form(self) -> Form:
        """From when to when was written on paper."""
        fields = (
            Field("began", "From", "", "HH:MM of today, or YYYY-MM-DD HH:MM", needed=True),
            Field("ended", "Until", "", "the same", needed=True),
            Field("why", "What failed", "", "no power, no network ...", needed=True),
            Field("forms", "Sheets that were written on", "", "their numbers, with a space between"),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            now = self._work.now()
            began, ended = (moment_of(values[name].strip(), now, name) for name in ("began", "ended"))
            forms = values.get("forms", "").replace(",", " ").split()

            def make(_proof: object) -> str:
                recorded = outage_paper.declare(self._work, began, ended, values["why"], forms, self._who())
                return f"{recorded.fact.subjects()[0]}: {len(forms)} sheet{'' if len(forms) == 1 else 's'} to type in"

            return Act("Declare an outage", self._who(), make)

        return Form("Declare an outage", fields, act, button="Save")

    def amend_form(self, form: str) -> Form:
        """The times and sheets of the outage that a sheet was used in, put right."""
        with self._work.book.session(readonly=True) as session:
            found = [sheet.outage for sheet in outage.sheets(session) if sheet.form == form]
            if not found:
                raise InputError("choose a sheet first")
            old = outage_paper.outage_named(session, found[0]).fact
        fields = (
            Field("began", "From", str(old.began), "HH:MM of today, or YYYY-MM-DD HH:MM", needed=True),
            Field("ended", "Until", str(old.ended), "the same", needed=True),
            Field("forms", "Sheets that were written on", " ".join(old.forms), "their numbers, with a space between"),
            Field("why", "What was wrong", "", "kept for ever: ten letters or more", needed=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            now = self._work.now()
            began, ended = (moment_of(values[name].strip(), now, name) for name in ("began", "ended"))
            forms = values.get("forms", "").replace(",", " ").split()

            def make(_proof: object) -> str:
                outage_paper.amend(self._work, old.outage, began, ended, forms, self._who(), values["why"])
                return f"{old.outage} put right"

            return Act(f"Put {old.outage} right", self._who(), make)

        return Form(f"Put {old.outage} right", fields, act, button="Save")

    def tie_form(self, form: str) -> Form:
        """Which entries are what stands on a sheet; they were typed late before, each with its time."""
        fields = (
            Field("entries", "Entries typed from it", "", "their numbers: 214-219,223", needed=True),
            Field("written_by", "Written by", "", needed=True),
            Field("paper", "Where the sheet is kept", "", "folder or binder", needed=True),
            Field("picture", "Picture of the sheet", "", "a file; empty: none"),
        )
        lines = (
            "Type what stands on the sheet on the usual screens first, each line with its time and a reason; "
            "then say here which entries they are.",
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            positions = outage.positions_of(values["entries"])
            picture = _picture(values.get("picture", ""))

            def make(_proof: object) -> str:
                outage_paper.tie(
                    self._work,
                    form,
                    self._who(),
                    values["written_by"].strip(),
                    positions,
                    values["paper"],
                    picture=picture,
                    name=values.get("picture", ""),
                )
                return f"{form}: {len(positions)} entries; a second person compares them with the paper now"

            return Act(f"Typed in from {form}", self._who(), make)

        return Form(f"Typed in from {form}", fields, act, lines, "Save")

    def next_of(self, form: str) -> Form | Act:
        """What a sheet waits for: to be typed in, or to be compared."""
        with self._work.book.session(readonly=True) as session:
            state = next((sheet.state for sheet in outage.sheets(session) if sheet.form == form), None)
        if state is None:
            raise InputError("choose a sheet first")
        if state is outage.State.NOT_TYPED:
            return self.tie_form(form)
        if state is outage.State.COMPARED:
            raise InputError(f"{form} is compared already")
        return self._compare(form, None)

    def differs_form(self, form: str) -> Form:
        """What on the sheet is not what stands in the book."""
        if not form:
            raise InputError("choose a sheet first")
        fields = (Field("differences", "What differs", "", "which line, what stands on the sheet", needed=True),)

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            return self._compare(form, values["differences"])

        return Form(f"{form} is not what stands in the book", fields, act)

    def _compare(self, form: str, differences: str | None) -> Act:
        person = self._who()

        def make(proof: object) -> str:
            outage_paper.compare(self._work, form, person, differences=differences, proof=proof)  # type: ignore[arg-type]
            if differences:
                return f"{form} differs: correct the entries, then compare again"
            return f"{form} compared with its entries by {person}"

        covers = outage_paper.form_covers(self._work, form)
        title = f"{form} differs from its entries" if differences else f"{form} says what these entries say"
        notes = (f"Differs: {differences}",) if differences else ("Read each line beside the sheet itself.",)
        return Act(title, person, make, Meaning.VERIFIED, covers, notes)


def _picture(path: str) -> bytes | None:
    if not path.strip():
        return None
    file = Path(path.strip()).expanduser()
    try:
        if file.stat().st_size > _LARGEST_PICTURE:
            raise InputError(f"{file} is larger than {_LARGEST_PICTURE // 2**20} MB: scan it smaller")
        return file.read_bytes()
    except OSError as error:
        raise InputError(f"{file} cannot be read ({error.strerror}): name another file") from None
