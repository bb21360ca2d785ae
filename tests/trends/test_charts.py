"""Charts as they are drawn: size, shapes, threads, nothing loaded before, three hundred dots to the inch on paper."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from io import BytesIO

import numpy as np
import pypdfium2  # type: ignore[import-untyped]
import pypdfium2.raw as pdfium  # type: ignore[import-untyped]
import pytest
from PIL import Image

from ndi.domain.moment import Moment
from ndi.printing.chart import chart_png
from ndi.printing.paper import paper_pdf
from ndi.services import paper_blocks as b
from ndi.services.chart_models import (
    Band,
    Chart,
    ClockFace,
    CountedZone,
    Curve,
    Level,
    Marker,
    PartMap,
    Picture,
    Points,
    Ray,
    Upright,
    day_number,
)
from ndi.services.study import Study
from ndi.services.study_report import study_report
from tests.printing.pdf_text import words
from tests.trends.past import Past

SIZE = (700, 400)
SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 40.0), (0.0, 40.0))
LINES = Chart(
    "Lines",
    "day",
    "value, mL",
    (
        Band("band", (20_500.0, 20_600.0), (1.0, 1.5), (3.0, 3.5)),
        Curve("line", (20_500.0, 20_600.0), (2.0, 2.5)),
        Level("least 1.2 mL (MT-P-01 Rev F, 5.2)", 1.2, is_limit=True),
        Upright("meets it", 20_580.0),
        Points("read", (20_510.0, 20_520.0, 20_530.0), (2.0, 2.2, 2.1)),
        Points("out", (20_540.0,), (1.0,), Marker.CROSS),
    ),
    x_is_date=True,
)
PICTURES: dict[str, Picture] = {
    "lines": LINES,
    "names": Chart(
        "Names",
        "band",
        "share, %",
        (Points("s", (0.0, 1.0), (5.0, 9.0), low=(1.0, 2.0), high=(9.0, 20.0)),),
        x_names=("a", "b"),
    ),
    "sizes": Chart("Sizes", "in", "share", (Curve("c", (0.01, 0.1), (0.1, 0.9)),), log_x=True),
    "counts": Chart("Counts", "order", "G", (Points("p", (1.0, 2.0, 3.0), (1.0, 2.0, 1.5)),), x_counts=True),
    "empty": Chart("Empty", "x", "y", ()),
    "clock": ClockFace(
        "Clock",
        "from the flange",
        (Ray("BOSS: 3", (10.0, 12.0, 350.0), 4.0, 0.98), Ray("REAR: 1", (200.0,), None, 1.0)),
    ),
    "map": PartMap(
        "Part",
        "drawn to scale",
        SQUARE,
        (CountedZone("BOSS", SQUARE, 2), CountedZone("REAR", SQUARE, 0)),
        ((50.0, 20.0),),
    ),
    "map without outline": PartMap("Part", "nothing to draw", (), (), ()),
}


def opened(png: bytes) -> Image.Image:
    return Image.open(BytesIO(png))


@pytest.mark.parametrize("name", PICTURES)
def test_every_kind_is_drawn_at_its_size_without_transparency(name: str) -> None:
    image = opened(chart_png(PICTURES[name], *SIZE, 96))
    assert image.size == SIZE and image.mode == "RGB"
    assert np.asarray(image).std() > 1  # something is on it


def test_the_same_chart_is_the_same_picture_and_threads_do_not_mix_them() -> None:
    wanted = {name: chart_png(PICTURES[name], *SIZE, 96) for name in ("lines", "clock", "map")}
    names = [*wanted] * 3
    with ThreadPoolExecutor(4) as threads:
        drawn = list(threads.map(lambda name: chart_png(PICTURES[name], *SIZE, 96), names))
    assert all(png == wanted[name] for name, png in zip(names, drawn, strict=True))


def test_larger_dots_to_the_inch_draw_the_same_chart_larger() -> None:
    small = opened(chart_png(LINES, 500, 300, 100)).convert("L")
    large = opened(chart_png(LINES, 1500, 900, 300)).convert("L").resize((500, 300), Image.Resampling.BOX)
    other = opened(chart_png(PICTURES["names"], 500, 300, 100)).convert("L")
    apart, from_other = (np.abs(np.asarray(small, float) - np.asarray(each, float)).mean() for each in (large, other))
    assert apart < from_other / 2  # lettering is set a little otherwise at another size


def test_what_is_out_is_told_by_shape_and_not_by_colour_alone() -> None:
    """A cross and a dot in grey differ: the same place, the same size, other pixels."""
    dot, cross = (
        Chart("t", "x", "y", (Points("p", (1.0, 2.0), (1.0, 2.0), shape),)) for shape in (Marker.DOT, Marker.CROSS)
    )
    grey = [np.asarray(opened(chart_png(chart, *SIZE, 96)).convert("L"), float) for chart in (dot, cross)]
    assert np.abs(grey[0] - grey[1]).max() > 100


@pytest.mark.parametrize("name", PICTURES)
@pytest.mark.parametrize("size", [(1, 1), (400, 160)])
def test_a_small_place_is_drawn_small_and_without_a_warning(name: str, size: tuple[int, int]) -> None:
    assert opened(chart_png(PICTURES[name], *size, 96)).size == (max(size[0], 60), max(size[1], 60))


def test_the_plotting_library_is_loaded_by_the_first_chart_and_never_its_shared_state() -> None:
    script = (
        "import sys, ndi.bootstrap as b, ndi.cli.trend, ndi.cli.gather, ndi.cli.how_good, ndi.gui.presenters.desk.studies\n"
        "assert not {'matplotlib', 'scipy', 'numpy'} & set(sys.modules), 'loaded too early'\n"
        "from ndi.services.chart_models import Chart\n"
        "b.chart_png(Chart('t', 'x', 'y', ()), 200, 100, 96)\n"
        "assert 'matplotlib' in sys.modules and 'matplotlib.pyplot' not in sys.modules and 'tkinter' not in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_day_numbers_are_those_of_the_local_clock() -> None:
    """23:30 UTC on the first is 18:30 on the first at -05:00: 20,513 days and 0.77 after 1970-01-01."""
    when = Moment(datetime(2026, 3, 1, 23, 30, tzinfo=UTC), -300)
    assert day_number(when) == pytest.approx((datetime(2026, 3, 1) - datetime(1970, 1, 1)).days + 18.5 / 24)  # noqa: DTZ001
    assert day_number(when.local.date()) == 20_513


# --- paper --------------------------------------------------------------------------------------------


def test_a_chart_on_paper_has_300_dots_to_the_inch() -> None:
    model = b.PaperModel("T", "S", "B", False, "now", "1:0", (b.Figure(LINES, 84.0),))
    pdf = paper_pdf(model, created=datetime(2026, 3, 10, tzinfo=UTC))
    document = pypdfium2.PdfDocument(pdf)
    try:
        (image,) = list(document[0].get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE]))
        left, bottom, right, top = image.get_bounds()
        width, height = image.get_px_size()
        assert width / ((right - left) / 72) == pytest.approx(300, abs=1)
        assert height / ((top - bottom) / 72) == pytest.approx(300, abs=1)
        assert (top - bottom) / 72 * 25.4 == pytest.approx(84, abs=0.5)
    finally:
        document.close()


def test_the_paper_says_what_the_study_says(past: Past) -> None:
    study = Study(
        "lamp X", "UV-A of lamp X", "It loses 0.3 % a day.", (), (LINES,), (), ("1 reading as-left",), ("NIST",)
    )
    pdf = paper_pdf(study_report(past.work, study), created=datetime(2026, 3, 10, tzinfo=UTC))
    text = words(pdf)
    for part in (
        "UV-A OF LAMP X",
        "IN SHORT",
        "It loses 0.3 % a day.",
        "1 reading as-left",
        "NIST",
        "It decides on no part",
    ):
        assert part in text
