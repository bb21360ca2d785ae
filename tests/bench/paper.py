"""Tags: ours against the same page drawn by the PDF library alone, its calls noted beforehand; long reports against short ones."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import fpdf

from ndi.printing.paper import paper_pdf
from ndi.printing.tag import tag_pdf, tags_pdf
from ndi.services.paper_blocks import PaperModel, RecordBlock
from ndi.services.report_models import TagModel
from tests.bench.measures import Line, turns
from tests.printing.printing_models import answers, record, tag

CREATED = datetime(2026, 3, 10, 15, 0, tzinfo=UTC)
MANY = 500
FEW_RECORDS, MANY_RECORDS = 50, 500
_KEPT = (
    "set_creation_date",
    "set_title",
    "set_auto_page_break",
    "set_margin",
    "add_font",
    "add_page",
    "set_stretching",
)
_DRAWN = (
    "set_font",
    "set_text_color",
    "set_draw_color",
    "set_fill_color",
    "set_line_width",
    "text",
    "rect",
    "line",
    "circle",
    "polygon",
)
Calls = list[tuple[str, tuple[Any, ...], dict[str, Any]]]


def _recorder(calls: Calls, made: list[dict[str, Any]]) -> type[fpdf.FPDF]:
    """The library's class, noting each call that our code makes (not those that the library makes inside)."""

    class Recorder(fpdf.FPDF):  # type: ignore[misc]
        inside = 0

        def __init__(self, **options: Any) -> None:
            made.append(options)
            self.inside = 1
            super().__init__(**options)
            self.inside = 0

    def noting(name: str) -> Callable[..., Any]:
        original = getattr(fpdf.FPDF, name)

        def method(self: Any, *args: Any, **named: Any) -> Any:
            if not self.inside:
                calls.append((name, args, named))
            self.inside += 1
            try:
                return original(self, *args, **named)
            finally:
                self.inside -= 1

        return method

    for name in (*_KEPT, *_DRAWN):
        setattr(Recorder, name, noting(name))
    return Recorder


@contextmanager
def _recording(calls: Calls, made: list[dict[str, Any]]) -> Any:
    original = fpdf.FPDF
    fpdf.FPDF = _recorder(calls, made)
    try:
        yield
    finally:
        fpdf.FPDF = original


def _alone(draw: Callable[[], bytes]) -> Callable[[], bytes]:
    """The same page, each call of the library repeated with what it was given."""
    calls: Calls = []
    made: list[dict[str, Any]] = []
    with _recording(calls, made):
        expected = draw()

    def again() -> bytes:
        pdf = fpdf.FPDF(**made[0])
        for name, args, named in calls:
            getattr(pdf, name)(*args, **named)
        content = bytes(pdf.output())
        for font in pdf.fonts.values():
            font.ttfont.close()
        return content

    assert again() == expected, "the floor draws another page than ours"
    return again


def tags() -> list[Line]:
    """One tag, and many in one file."""
    model = tag()
    models = [replace(model, tag_no=number + 1) for number in range(MANY)]
    return [_line("tag PDF", "tag", 15, [model]), _line(f"{MANY} tags in one PDF", f"{MANY} tags", 1, models)]


def reports() -> list[Line]:
    """A record in a long evidence pack against one in a short pack: the same time where work grows in proportion."""
    short, long = _pack(FEW_RECORDS), _pack(MANY_RECORDS)
    made: list[bytes] = []
    one, other = turns(
        1, lambda: made.append(paper_pdf(long, created=CREATED)), lambda: paper_pdf(short, created=CREATED)
    )
    note = f"102 answers a record, {len(made[0]) / 1e6:.1f} MB in all; floor: the same in a pack of {FEW_RECORDS}"
    what = f"a record in an evidence pack of {MANY_RECORDS}"
    return [Line(what, "record", one / MANY_RECORDS, other / FEW_RECORDS, 1.2, note)]


def _pack(count: int) -> PaperModel:
    models = [record(record_no=f"MT-{number:04d}", answers=answers(102), pictures=()) for number in range(count)]
    blocks = tuple(RecordBlock(model) for model in models)
    return PaperModel("EVIDENCE PACK", f"{count} records", "7Q2M4K9XWD", False, "2026-03-10", "1:0", blocks)


def _line(what: str, unit: str, repeat: int, models: list[TagModel]) -> Line:
    def draw() -> bytes:
        return tag_pdf(models[0], created=CREATED) if len(models) == 1 else tags_pdf(models, created=CREATED)

    alone = _alone(draw)
    ours, floor = turns(repeat, draw, alone)
    return Line(what, unit, ours, floor, 1.3, f"{len(draw()):,} bytes, the same bytes as the floor")
