"""Papers: record, shift sheet, tags, lines for parts, reports; drawn and written by functions that the program hands in."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ndi.domain.errors import InputError
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed
from ndi.services.chart_models import Picture
from ndi.services.paper_blocks import PaperModel
from ndi.services.ports import Printer, QueueState
from ndi.services.print_jobs import print_paper
from ndi.services.record_report import record_model
from ndi.services.report_models import RecordModel, ShiftModel, TagModel, TravellerSheetModel
from ndi.services.shift_report import shift_model
from ndi.services.tagging import print_tags
from ndi.services.travellers import travellers
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class PaperTools:
    """What draws, writes and prints papers; ``folder`` is where they go unless a path is typed."""

    record_pdf: Callable[[RecordModel, Workplace], bytes]
    shift_pdf: Callable[[ShiftModel, Workplace], bytes]
    tags_pdf: Callable[[Sequence[TagModel], Workplace], bytes]
    traveller_pdf: Callable[[TravellerSheetModel, Workplace], bytes]
    write: Callable[[Path, bytes], None]
    printer: Callable[[], Printer]
    folder: Path
    report_pdf: Callable[[PaperModel, Workplace], bytes]
    chart_png: Callable[[Picture, int, int, float], bytes]


class Papers:
    """Forms for each paper: a file to write, and a print queue where it goes on to."""

    def __init__(self, work: Workplace, tools: PaperTools | None, person: Callable[[], str]) -> None:
        self._work, self._tools, self._person = work, tools, person

    def _fields(self, name: str) -> tuple[Field, ...]:
        folder = self._tools.folder if self._tools else Path()
        return (
            Field("file", "File", str(folder / f"{name}.pdf"), "a PDF; written over if it is there", needed=True),
            Field("queue", "Print queue", "", "empty: only the file is written"),
        )

    def record_form(self, inspection: str) -> Form:
        """Print a record."""

        def draw() -> tuple[bytes, str]:
            with self._work.book.session(readonly=True) as session:
                model = record_model(self._work, session, inspection)
            return self._need().record_pdf(model, self._work), f"record of {inspection}, head {model.head}"

        return self._form(f"Print the record of {inspection}", f"record-{inspection}", draw)

    def shift_form(self, day: date) -> Form:
        """Print the shift sheet of a day."""

        def draw() -> tuple[bytes, str]:
            model = shift_model(self._work, day)
            return self._need().shift_pdf(model, self._work), f"shift sheet of {day}, head {model.head}"

        return self._form(f"Print the shift sheet of {day}", f"shift-{day}", draw)

    def tags_form(self, inspection: str) -> Form:
        """Print the tags of a signed record; again is a copy, and each print is an entry."""

        def draw() -> tuple[bytes, str]:
            if not self._person():
                raise InputError("nobody stands at the desk: choose who prints the tag (above, at the right)")
            printed = print_tags(self._work, inspection, self._person())
            words = ", ".join(f"{tag.model.tag_no} {tag.model.tag_word}" for tag in printed)
            return self._need().tags_pdf([tag.model for tag in printed], self._work), f"tag {words}"

        lines = ("A practice book prints practice tags only.",) if self._work.practice else ()
        return self._form(f"Print the tags of {inspection}", f"tag-{inspection}", draw, lines)

    def traveller_form(self, work_order: str) -> Form:
        """Print the lines that go with the parts of a work order."""

        def draw() -> tuple[bytes, str]:
            model = travellers(self._work, (), work_order)
            return self._need().traveller_pdf(model, self._work), f"{len(model.lines)} lines of {work_order}"

        return self._form(f"Print the lines for the parts of {work_order}", f"lines-{work_order}", draw)

    def report_form(
        self,
        title: str,
        name: str,
        make: Callable[[Mapping[str, str]], PaperModel],
        fields: tuple[Field, ...] = (),
        lines: tuple[str, ...] = (),
    ) -> Form:
        """A report: ``make`` reads the book when the form is handed over, with what was typed into ``fields``."""

        def draw(values: Mapping[str, str]) -> tuple[bytes, str]:
            model = make(values)
            return self._need().report_pdf(model, self._work), f"{model.title}: {model.subject}, head {model.head}"

        whole = (*fields, *self._fields(name))

        def act(values: Mapping[str, str]) -> Act:
            needed(values, whole)
            return Act(title, self._person(), lambda _proof: self._print(values, lambda: draw(values)))

        return Form(title, whole, act, lines, "Print")

    def chart(self, picture: Picture, width: int, height: int, dpi: float) -> bytes:
        """A chart as a PNG of that many pixels."""
        return self._need().chart_png(picture, width, height, dpi)

    def _need(self) -> PaperTools:
        if self._tools is None:
            raise InputError(
                "this window was opened without papers: print with the command line (ndi record, ndi tag, ndi shift)"
            )
        return self._tools

    def _form(self, title: str, name: str, draw: Callable[[], tuple[bytes, str]], lines: tuple[str, ...] = ()) -> Form:
        fields = self._fields(name)

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            return Act(title, self._person(), lambda _proof: self._print(values, draw))

        return Form(title, fields, act, lines, "Print")

    def _print(self, values: Mapping[str, str], draw: Callable[[], tuple[bytes, str]]) -> str:
        path = Path(values["file"]).expanduser()
        if path.suffix.lower() != ".pdf":
            raise InputError(f"{path} does not end in .pdf: papers are written as PDF")
        content, what = draw()
        tools = self._need()
        tools.write(path, content)
        if not values.get("queue"):
            return f"{what}: written to {path}"
        answer, _entry = print_paper(
            self._work, tools.printer(), path, values["queue"], self._person() or self._work.station
        )
        if answer.state is not QueueState.QUEUED:
            raise InputError(f"{what}: written to {path}, not printed: {answer.state} {answer.detail or ''}".strip())
        return f"{what}: written to {path}, {answer.state} as {answer.job or 'a job without a name'}"
