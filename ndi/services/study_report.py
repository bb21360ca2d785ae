"""A study as a paper: its sentence, its charts, its figures, its table, what was left out, the sources."""

from __future__ import annotations

from collections.abc import Iterator

from ndi.services import paper_blocks as b
from ndi.services.paper_text import local_text
from ndi.services.report_models import Labelled
from ndi.services.study import Study
from ndi.services.workplace import Workplace

_ALONE_MM, _BESIDE_MM = 84.0, 68.0  # the height of a chart; three of the lower ones fit under a notice
FOOTER = (
    "About the process and its equipment. It decides on no part: each reading and record is judged by the procedure."
)


def study_report(work: Workplace, study: Study) -> b.PaperModel:
    """The paper of one study, with the study as JSON attached."""
    with work.look() as session:
        head = str(session.head())
    return b.PaperModel(
        title=study.title.upper(),
        subject=study.name,
        book_id=work.book.book_id,
        practice=work.practice,
        printed_at=local_text(work.now()),
        head=head,
        blocks=tuple(_blocks(study)),
        record=study.as_json(),
        footer=FOOTER,
    )


def _blocks(study: Study) -> Iterator[b.Block]:
    yield b.NoticeBox("IN SHORT" if study.enough else "TOO FEW", (study.says,))
    height = _ALONE_MM if len(study.charts) == 1 else _BESIDE_MM
    for chart in study.charts:
        yield b.Figure(chart, height)
    if study.lines:
        yield b.Heading("Figures")
        yield b.Pairs(study.lines)
    yield from study.tables
    if study.left_out:
        yield b.Heading("Left out")
        yield b.Bullets(study.left_out)
    if study.sources:
        yield b.Heading("Sources of limits and methods")
        yield b.Bullets(study.sources)


def terminal_lines(study: Study) -> Iterator[str]:
    """The same for a terminal, line by line."""
    yield study.title
    yield study.says
    yield from _labelled(study.lines)
    for table in study.tables:
        yield ""
        yield table.heading or study.title
        if not table.rows:
            yield f"  {table.empty}"
            continue
        names = [name for name, _ in table.columns]
        widths = [max(len(row[n]) for row in (names, *table.rows)) for n in range(len(names))]
        for row in (names, *table.rows):
            yield "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
    if study.left_out:
        yield ""
        yield "Left out: " + "; ".join(study.left_out)
    for source in study.sources:
        yield f"Source: {source}"


def _labelled(lines: tuple[Labelled, ...]) -> Iterator[str]:
    width = max((len(line.label) for line in lines), default=0)
    for line in lines:
        yield f"  {line.label.ljust(width)}  {line.value}"
