"""Studies over years of readings, each beside the bare SQL that reads what it needs; a chart beside a bare figure."""

from __future__ import annotations

import sqlite3
import statistics
import time
from collections.abc import Callable
from io import BytesIO

from ndi import bootstrap
from ndi.domain.vocabulary import Method
from ndi.services.chart_models import Chart
from ndi.services.gathering import gather
from ndi.services.how_good import how_good
from ndi.services.trends import Kind, Subject, study_of, subjects
from ndi.services.workplace import Workplace
from tests.bench.book import close
from tests.bench.measures import Bench, Line

LAMP, BATH, PART, CASE = "LP-3", "MTB-26-07", "T6-10101", "T6-11001"
SIZE, DPI = (1000, 420), 96.0
_IN_FORCE = "FROM fact f JOIN entry e ON e.position = f.position WHERE f.nth = 0 AND NOT f.superseded AND f.kind = "
_ABOUT = "FROM fact f JOIN entry e ON e.position = f.position WHERE NOT f.superseded AND f.subject = '{}' AND f.kind = "


def _body(kind: str, *names: str, about: str = "") -> str:
    shown = ", ".join(f"json_extract(e.body, '$.{name}')" for name in names)
    return f"SELECT e.event_time, {shown} {_ABOUT.format(about) if about else _IN_FORCE}'{kind}' ORDER BY f.at"


_RECORDS = "SELECT i.inspection, p.part_no, i.method, i.quantity FROM inspection i LEFT JOIN part p ON p.part = i.part"
_READ = _body("ReadingRecorded", "value", "condition", "meter", "distance", about=LAMP)
_SEEN = _body("IndicationSeen", "indication", "inspection", "zone", "clock", "length")
_CALLED = _body("IndicationInterpreted", "indication", "interpretation", "type")


def trends(bench: Bench) -> list[Line]:
    """Each study in turns with its bare SQL, in processor time: others may use the machine."""
    work = bootstrap.open_book(bench.path)
    bare = sqlite3.connect(bench.path, isolation_level=None)
    try:
        return [_measured(what, lambda call=call: call(work), bare, floors) for what, call, floors in _STUDIES]
    finally:
        bare.close()
        close(work)


_STUDIES: tuple[tuple[str, Callable[[Workplace], object], tuple[str, ...]], ...] = (
    (
        "what there is a trend of",
        subjects,
        (_body("ReadingRecorded", "object", "quantity"), _body("ResidualRead", "inspection"), _RECORDS),
    ),
    (f"trend of lamp {LAMP}", lambda work: study_of(work, Subject(Kind.LAMP, LAMP)), (_READ,)),
    (
        f"trend of bath {BATH}",
        lambda work: study_of(work, Subject(Kind.BATH, BATH)),
        (_body("ReadingRecorded", "value", about=BATH), _body("ShotFired", "bench")),
    ),
    (
        f"residual field of {PART}",
        lambda work: study_of(work, Subject(Kind.RESIDUAL, PART)),
        (_body("ResidualRead", "inspection", "point", "value"), _RECORDS),
    ),
    (f"where cracks gather on {CASE}", lambda work: gather(work, CASE), (_SEEN, _CALLED, _RECORDS)),
    (
        "how good, magnetic particle",
        lambda work: how_good(work, Method.MT),
        (_SEEN, _CALLED, _body("SecondLookSaved", "inspection", "indication", "length", "interpretation"), _RECORDS),
    ),
)


def _measured(what: str, ours: Callable[[], object], bare: sqlite3.Connection, floors: tuple[str, ...]) -> Line:
    def floor() -> int:
        return sum(len(bare.execute(text).fetchall()) for text in floors)

    rows = floor()
    ours()  # documents are read and the pages of the file are in memory
    mine, bottom = _turns(3, ours, floor)
    return Line(what, "study", mine, bottom, note=f"{rows:,} rows read")


def charts() -> list[Line]:
    """A chart with legend, limits and band as a PNG, beside a bare figure with one line of the plotting library."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from tests.trends.test_charts import LINES

    assert isinstance(LINES, Chart)

    def bare() -> None:
        figure = Figure(figsize=(SIZE[0] / DPI, SIZE[1] / DPI), dpi=DPI)
        figure.add_subplot().plot(range(100), range(100))
        FigureCanvasAgg(figure).print_png(BytesIO())

    bootstrap.chart_png(LINES, *SIZE, DPI)
    mine, bottom = _turns(9, lambda: bootstrap.chart_png(LINES, *SIZE, DPI), bare)
    return [Line(f"a chart of {SIZE[0]} x {SIZE[1]} pixels", "chart", mine, bottom)]


def _turns(repeat: int, one: Callable[[], object], other: Callable[[], object]) -> tuple[float, float]:
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(repeat):
        for call, taken in ((one, times[0]), (other, times[1])):
            begun = time.process_time()
            call()
            taken.append(time.process_time() - begun)
    return statistics.median(times[0]), statistics.median(times[1])
