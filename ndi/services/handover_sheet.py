"""The handover sheet: every open line with who has read it, on paper for whoever takes over."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.services import paper_blocks as b
from ndi.services.handover import OpenLine, open_lines
from ndi.services.paper_record import record_text
from ndi.services.paper_text import local_text, on_paper
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.workplace import Workplace

_COLUMNS = (("About", 0.17), ("What is open", 0.53), ("Read today by", 0.15), ("Initials", 0.15))


def handover_sheet(work: Workplace) -> b.PaperModel:
    """Everything that is open now, in the order in which the window shows it."""
    lines = open_lines(work)
    unread = [line for line in lines if not line.read_by]
    with work.book.session(readonly=True) as session:
        head = session.head()
        record = record_text(work, session, "handover sheet", {"lines": [_line(line) for line in lines]})
    return b.PaperModel(
        title="HANDOVER SHEET",
        subject=f"{work.now().local:%Y-%m-%d, %A}   station {work.station}",
        book_id=work.book.book_id,
        practice=work.practice,
        printed_at=local_text(work.now()),
        head=str(head),
        blocks=(
            b.Pairs(
                (
                    Labelled("Open lines", str(len(lines))),
                    Labelled("Not read by anybody", f"{len(unread)} of {len(lines)}"),
                )
            ),
            *(_table(kind, [line for line in lines if line.kind == kind]) for kind in _kinds(lines)),
            *(() if lines else (b.Text("Nothing is open."),)),
            b.Text(
                "Whoever takes over reads each line in the record book; initials here do not stand for that. "
                "Lines that come up after this was printed are not on it.",
                small=True,
            ),
            b.SignLines(("handed over by, time", "taken over by, time")),
        ),
        record=record,
        footer=b.WORK_PAPER,
    )


def _kinds(lines: Sequence[OpenLine]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line.kind for line in lines))


def _table(kind: str, lines: Sequence[OpenLine]) -> SheetTable:
    rows = tuple((line.about, on_paper(line.text), ", ".join(line.read_by), "") for line in lines)
    unread = frozenset(number for number, line in enumerate(lines) if not line.read_by)
    if len(unread) == len(lines):  # emphasis tells some lines from others
        unread = frozenset()
    return SheetTable(f"{kind[:1].upper()}{kind[1:]}: {len(lines)}", _COLUMNS, rows, emphasised=unread)


def _line(line: OpenLine) -> dict[str, object]:
    return {"kind": line.kind, "about": line.about, "text": line.text, "read_by": list(line.read_by)}
