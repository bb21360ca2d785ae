"""Trends, where cracks gather, how good a process is: what can be looked at, and one study of it with its charts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ndi.domain.errors import InputError
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Method
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.gui.presenters.desk.papers import Papers
from ndi.services.chart_models import Picture
from ndi.services.detection_study import detection_study
from ndi.services.gathering import gather, part_numbers
from ndi.services.how_good import how_good
from ndi.services.report_models import SheetTable
from ndi.services.study import Study
from ndi.services.study_report import study_report
from ndi.services.trend_bath import DOSE_KEYS
from ndi.services.trends import Kind, study_of, subject_of, subjects
from ndi.services.workplace import Workplace
from ndi.shop_files.qualification import read_targets

SINCE = "since"
_DOSE_LABELS = ("Bath, litres", "Wanted, mL", "Fresh mix, g a litre", "Fresh mix settles to, mL")
_WHOLE_CHARS = 100  # over which the shares of a table's columns are counted out


@dataclass(frozen=True)
class StudyView:
    """One study as it is shown; ``charts`` are drawn as large as their place, by ``png`` of the presenter."""

    key: str
    title: str
    lines: tuple[Labelled, ...]
    charts: tuple[Picture, ...]
    tables: tuple[tuple[str, Listing], ...]  # heading and rows
    study: Study


class Studies:
    """What the three screens ask; each names its list and answers for one row of it."""

    def __init__(self, work: Workplace, papers: Papers) -> None:
        self._work, self._papers = work, papers

    def listing(self) -> Listing:
        """What can be looked at."""
        raise NotImplementedError

    def study(self, key: str) -> Study:
        """The study of one row."""
        raise NotImplementedError

    def view(self, key: str) -> StudyView:
        """One study, put into the form of the screen."""
        study = self.study(key)
        word = marks.SETTLED if study.enough else marks.OPEN
        said = Labelled("Answer" if study.enough else f"{word} Too few", study.says)
        left_out = (Labelled("Left out", "; ".join(study.left_out)),) if study.left_out else ()
        return StudyView(
            key,
            study.title,
            (said, *study.lines, *left_out),
            study.charts,
            tuple((table.heading, _listing(table)) for table in study.tables),
            study,
        )

    def png(self, picture: Picture, width: int, height: int, dpi: float) -> bytes:
        """A chart drawn; takes a tenth of a second, so it is called in the worker's thread."""
        return self._papers.chart(picture, width, height, dpi)

    def paper_form(self, view: StudyView) -> Form:
        """Write the study as a PDF, or print it."""
        name = "".join(c if c.isalnum() or c in "-." else "-" for c in view.study.name)
        return self._papers.report_form(
            f"Print: {view.title}", name, lambda _values: study_report(self._work, view.study)
        )


def _listing(table: SheetTable) -> Listing:
    columns = tuple(
        Column(name, max(4, round(share * _WHOLE_CHARS)), stretch=share >= max(s for _, s in table.columns))
        for name, share in table.columns
    )
    rows = tuple(Row(row, act=number in table.emphasised) for number, row in enumerate(table.rows))
    return Listing(columns, rows, table.empty)


class Trends(Studies):
    """Lamps, baths, meters, residual fields, the penetrant line, any repeated reading."""

    columns = (Column("Of", 13), Column("What", 22, stretch=True), Column("Times", 6, right=True), Column("Last", 11))

    def __init__(self, work: Workplace, papers: Papers) -> None:
        super().__init__(work, papers)
        self._since: dict[str, date] = {}
        self._dose: dict[str, dict[str, Number]] = {}

    def listing(self) -> Listing:
        """Everything of which a course can be shown."""
        rows = (
            Row((str(each.kind), each.title, str(each.count), each.last), each.key) for each in subjects(self._work)
        )
        return Listing(self.columns, tuple(rows), "The book holds no reading yet.")

    def key_of(self, equipment: str) -> str:
        """The row of a lamp, bath, bench or meter; empty where the book holds no course of it."""
        found = [each for each in subjects(self._work) if each.object == equipment]
        return found[0].key if found else ""

    def study(self, key: str) -> Study:
        """The study of one row, from the day and with the dose that were typed for it."""
        return study_of(self._work, subject_of(key), since=self._since.get(key), dose=self._dose.get(key))

    def settings_form(self, key: str) -> Form:
        """From which day on readings count; of a bath, what the dose is worked out from."""
        subject = subject_of(key)
        held, dose = self._since.get(key), self._dose.get(key, {})
        fields = [Field(SINCE, "From this day on", str(held or ""), "empty: as the book says", day=True)]
        if subject.kind is Kind.BATH:
            fields += [
                Field(name, label, dose[name].typed if name in dose else "", "for the dose, all four or none")
                for name, label in zip(DOSE_KEYS, _DOSE_LABELS, strict=True)
            ]

        def act(values: Mapping[str, str]) -> Act:
            since = _day(values.get(SINCE, ""))
            typed = {name: _number(values[name]) for name in DOSE_KEYS if values.get(name)}
            study_of(self._work, subject, since=since, dose=typed)  # says now what is wrong with it
            return Act(f"Show {subject.title}", self._work.station, lambda _proof: self._keep(key, since, typed))

        return Form(f"{subject.kind} {subject.title}", tuple(fields), act, button="Show")

    def _keep(self, key: str, since: date | None, dose: dict[str, Number]) -> str:
        if since is None:
            self._since.pop(key, None)
        else:
            self._since[key] = since
        self._dose[key] = dose
        return f"shown from {since} on" if since else "shown"


class Gathering(Studies):
    """Part numbers, the one with most relevant finds first."""

    columns = (Column("Part number", 13), Column("What", 22, stretch=True), Column("Finds", 6, right=True))

    def listing(self) -> Listing:
        """Every part number that was inspected; one with an alert is marked and stands first."""
        rows = (
            Row(
                (f"{marks.FAILED} {each.number}" if each.alert else each.number, each.description, str(each.finds)),
                each.number,
                act=each.alert,
            )
            for each in part_numbers(self._work)
        )
        return Listing(self.columns, tuple(rows), "No part was inspected yet.")

    def study(self, key: str) -> Study:
        """Where the cracks of one part number gather."""
        return gather(self._work, key)


class HowGood(Studies):
    """The processes, and every qualification set that was read while the window is open."""

    columns = (Column("Of", 14), Column("What", 30, stretch=True))
    _WORDS = ((Method.MT, "magnetic particle"), (Method.PT, "penetrant"))

    def __init__(self, work: Workplace, papers: Papers, person: Callable[[], str]) -> None:
        super().__init__(work, papers)
        self._person = person
        self._sets: dict[str, Study] = {}

    def listing(self) -> Listing:
        """Both methods, then the sets."""
        rows = [Row((str(method), f"second looks, {word}"), str(method)) for method, word in self._WORDS]
        rows += [Row(("set", Path(key).name), key) for key in self._sets]
        return Listing(self.columns, tuple(rows))

    def study(self, key: str) -> Study:
        """What second looks say of a method, or a set's probability of detection."""
        return self._sets[key] if key in self._sets else how_good(self._work, Method(key))

    def set_form(self) -> Form:
        """Read a qualification set from a table of commas."""
        fields = (
            Field("file", "File", hint="CSV: size_in (or size_mm) and found, yes or no", needed=True),
            Field("tried", "Tried on", hint="surface, part, process and light, in your words", needed=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            path = Path(values["file"]).expanduser()
            if not values.get("tried", "").strip():
                raise InputError("Tried on: say on what and how the set was tried; the figures hold for nothing else")
            study = detection_study(read_targets(path), values["tried"].strip())
            return Act(f"Show {path.name}", self._person(), lambda _proof: self._keep(str(path), study))

        return Form(
            "A qualification set", fields, act, ("The file is read and shown; nothing goes into the book.",), "Show"
        )

    def _keep(self, key: str, study: Study) -> str:
        self._sets[key] = study
        return f"{Path(key).name}: {study.says}"


def _day(typed: str) -> date | None:
    if not typed:
        return None
    try:
        return date.fromisoformat(typed)
    except ValueError:
        raise InputError(f"{typed!r} is no day; type it like 2026-03-10") from None


def _number(typed: str) -> Number:
    return Number(typed.strip(), "pcs")
