"""Trends, where cracks gather, how good: studies of the demonstration day against its tables, and the screens by real keys."""

from __future__ import annotations

import csv
import json
import tkinter as tk
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from statistics import median
from time import monotonic, sleep

import numpy as np
import pytest
from scipy import stats

from ndi import bootstrap
from ndi.domain.errors import InputError, NotFound
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.presenters.desk.studies import StudyView
from ndi.gui.views.desk.panels import FormPanel
from ndi.gui.views.desk.study_screens import FiguresPanel, StudyScreen
from ndi.services.asked.answering import ask
from ndi.services.chart_models import Chart, ClockFace, PartMap, Points
from ndi.services.crack_rates import EARLIER, UNKNOWN, crack_rates
from ndi.services.gathering import gather, part_numbers
from ndi.services.trend_margins import margins_study
from ndi.services.trend_residual import residual_study
from tests.gui.desk.seat import Seat
from tests.gui.screens import picture

Sit = Callable[[Desk], Seat]
PEOPLE = ("L2-A", "L2-B", "L2-C", "NL3-E", "L1-D", "SUP-F", "L2-M")


def table(name: str) -> list[dict[str, str]]:
    path = Path(bootstrap.data_folder("demo")) / name
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# --- against the day's own tables ---------------------------------------------------------------------


def test_residual_fields_against_the_tables(reading: Desk) -> None:
    records = {row["insp"] for row in table("2026-03-10/inspections_mt.csv") if row["part_no"] == "T6-10101"}
    values = [abs(float(row["value"])) for row in table("2026-03-10/residual_points.csv") if row["insp"] in records]
    study = residual_study(reading.work, "T6-10101")
    assert study.figures["points"] == len(values) == 21 and study.figures["records"] == len(records)
    assert study.figures["worst"] == max(values) and study.figures["median"] == median(values)
    assert study.figures["above"] == 0 and "None ended above it" in study.says


def test_margins_against_question_f7(reading: Desk) -> None:
    """B4a stayed wet 138 of 120 minutes: (120 - 138) / 120 = -15 %; every margin is one of the question's."""
    study = margins_study(reading.work)
    asked = ask(reading.work, "F7", {"day": "2026-03-10"}).rows
    every = [each for key, values in study.figures.items() if key != "baskets" for each in values]  # type: ignore[attr-defined]
    assert sorted(every) == sorted(int(row.cells[5]) for row in asked) and min(every) == -15
    assert "B4a on 2026-03-10, -15 % from its limit" in study.says and "1 time past a limit" in study.says
    assert not study.enough and "Too few baskets for a drift" in study.says


def test_rates_are_those_of_question_f5(reading: Desk) -> None:
    """The same counts as the question, for every part number of the day."""
    for number in (each.number for each in part_numbers(reading.work)):
        rows = {row.cells[1]: row.cells[2:4] for row in ask(reading.work, "F5", {"part_no": number}).rows}
        with reading.work.look() as session:
            rates = crack_rates(session, number)
        assert rates is not None
        mine = {rate.band: (rate.inspected, rate.cracked) for rate in rates.bands}
        unknown = [mine.pop(band) for band in (UNKNOWN, EARLIER) if band in mine]
        if unknown:
            mine["not recorded"] = (sum(each[0] for each in unknown), sum(each[1] for each in unknown))
        assert {band: (str(of), str(bad)) for band, (of, bad) in mine.items()} == rows


def test_the_crankcase_against_its_tables(reading: Desk) -> None:
    """Forty earlier visits with two cracks, and the one of the day: 3 of 41, 7.3 % (2.5 to 19.4)."""
    history = table("before/history.csv")
    angles = [float(row["clock_deg"]) for row in history if row["clock_deg"]] + [180.0]
    study = gather(reading.work, "T6-11001")
    assert study.figures["inspected"] == len(history) + 1 == 41 and study.figures["cracked"] == 3
    assert "7.3 % (2.5 % to 19.4 %)" in study.says
    zone = study.figures["zones"]["MAIN3-THROUGH-BOLT-BOSS"]  # type: ignore[index]
    assert zone["mean_deg"] == pytest.approx(float(stats.circmean(angles, high=360)))
    assert [type(chart) for chart in study.charts] == [PartMap, ClockFace, Chart]
    (points,) = [layer for layer in study.charts[-1].layers if isinstance(layer, Points)]  # type: ignore[union-attr]
    assert points.ys[-1] == pytest.approx(300 / 41)
    assert json.loads(study.as_json())["figures"]["cracked"] == 3


# --- presenters ---------------------------------------------------------------------------------------


def test_every_row_of_every_list_has_its_study_and_nobody_is_named(reading: Desk) -> None:
    for studies in (reading.trends, reading.gathering, reading.how_good):
        listing = studies.listing()
        assert listing.count()
        for row in listing.all_rows:
            view = studies.view(row.key)
            assert view.lines and view.lines[0].value == view.study.says
            assert view.study.enough or marks.OPEN in view.lines[0].label
            assert [person for person in PEOPLE if person in repr(view)] == [], row.key


def test_settings_of_a_bath_give_a_dose_and_are_kept(reading: Desk) -> None:
    form = reading.trends.settings_form("bath|MTB-26-07|")
    assert [field.name for field in form.fields] == ["since", "volume_l", "target_ml", "mix_g_per_l", "mix_ml"]
    typed = {"volume_l": "95", "target_ml": "0.20", "mix_g_per_l": "1.25", "mix_ml": "0.25"}
    reading.carry_out(form.act(typed))
    view = reading.trends.view("bath|MTB-26-07|")
    assert any(line.label == "Dose" and line.value.startswith("16.6 g") for line in view.lines)
    with pytest.raises(InputError, match="is no day"):
        form.act({"since": "yesterday"})
    with pytest.raises(InputError, match="mix_ml is missing"):
        form.act({**typed, "mix_ml": ""})
    reading.carry_out(form.act({}))
    assert any(line.value.startswith("not worked out") for line in reading.trends.view("bath|MTB-26-07|").lines)


def test_a_qualification_set_joins_the_list(reading: Desk, tmp_path: Path) -> None:
    path = tmp_path / "rods.csv"
    path.write_text("size_in,found\n0.1,yes\n0.2,yes\n")
    form = reading.how_good.set_form()
    with pytest.raises(InputError, match="Tried on"):
        form.act({"file": str(path), "tried": " "})
    with pytest.raises(InputError, match="cannot be read"):
        form.act({"file": str(tmp_path / "no.csv"), "tried": "rods"})
    assert "No curve: found 2 targets" in reading.carry_out(form.act({"file": str(path), "tried": "rods"}))
    assert [row.cells[1] for row in reading.how_good.listing().all_rows][-1] == "rods.csv"
    assert "rods" in repr(reading.how_good.view(str(path)).lines)


def test_a_study_is_printed_from_the_desk(reading: Desk, tmp_path: Path) -> None:
    form = reading.gathering.paper_form(reading.gathering.view("T6-11001"))
    out = tmp_path / "gather.pdf"
    assert "WHERE CRACKS GATHER" in reading.carry_out(form.act({"file": str(out), "queue": ""}))
    assert out.read_bytes().startswith(b"%PDF")


# --- screens ------------------------------------------------------------------------------------------


def settled(seat: Seat) -> StudyScreen:
    """Until the chart of the row that was chosen is drawn in its final size."""
    here = seat.frame.here
    assert isinstance(here, StudyScreen)
    end = monotonic() + 20
    quiet = 0
    while quiet < 3:
        seat.wait()
        sleep(0.06)
        drawn = here.chart._drawn == (here.chart._number, here.chart.winfo_width() - 2, here.chart.winfo_height() - 2)
        quiet = quiet + 1 if drawn or (here._view is not None and not here._view.charts) else 0
        assert monotonic() < end, "no chart"
    return here


def on_screen(widget: tk.Misc) -> np.ndarray:
    x, y = widget.winfo_rootx(), widget.winfo_rooty()
    return np.asarray(picture().crop((x, y, x + widget.winfo_width(), y + widget.winfo_height())))


def test_trends_by_keys(sit: Sit, reading: Desk) -> None:
    seat = sit(reading)
    seat.key("Alt-t")
    assert settled(seat).list.current.key == "lamp|LP-1|"  # type: ignore[union-attr]
    first = on_screen(seat.frame.here.chart)  # type: ignore[union-attr]
    seat.key("Down", "Down")
    here = settled(seat)
    assert here.heading.cget("text") == "UV-A of lamp LP-3" and here.key == "lamp|LP-3|"
    assert here.table._source.rows(0, 1)[0].cells[1] == "880 µW/cm²"
    lamp = on_screen(here.chart)
    assert (lamp < 250).any() and (first.shape != lamp.shape or (first != lamp).any())
    vermilion = (np.abs(lamp.astype(int) - [0xD5, 0x5E, 0x00]).sum(axis=2) < 60).sum()
    assert vermilion > 50  # the limit and the reading out of limits are on the screen
    seat.shot("trends-lamp")
    seat.key("Control-o")
    assert isinstance(here.panel, FiguresPanel)
    seat.key("Escape", "Control-d")
    assert isinstance(here.panel, FormPanel)
    seat.type("2026-03-01")
    seat.key("Return", "Return")
    here = settled(seat)
    assert "Too few readings" in here._view.study.says and here.panel is None  # type: ignore[union-attr]
    seat.key("Control-d", "Control-slash", "BackSpace", "Return", "Return")
    assert "is not ageing" in settled(seat)._view.study.says  # type: ignore[union-attr]


def test_where_cracks_gather_by_keys_turns_its_charts_and_tables(sit: Sit, reading: Desk) -> None:
    seat = sit(reading)
    seat.key("Alt-g")
    here = settled(seat)
    pictures = [on_screen(here.chart)]
    for key, word in (("Control-g", "chart 2 of 3"), ("Control-Key-3", "chart 3 of 3")):
        seat.key(key)
        here = settled(seat)
        assert word in here.heading.cget("text")
        pictures.append(on_screen(here.chart))
    assert all((one != other).any() for one, other in pairwise(pictures))
    seat.key("Control-t", "Control-t")
    assert (
        here.table_title.cget("text") == "Every relevant indication, table 3 of 3" and here.table._source.count() == 3
    )
    seat.key("Control-p")
    assert isinstance(here.panel, FormPanel)
    seat.key("Escape")
    assert here.panel is None
    seat.key("Down")
    assert "chart 1 of" in settled(seat).heading.cget("text")  # another part number begins with its first chart


def test_how_good_by_keys_reads_a_qualification_set(sit: Sit, reading: Desk, tmp_path: Path) -> None:
    path = tmp_path / "q.csv"
    rng = np.random.default_rng(5)
    lines = [
        f"{size:.3f},{'yes' if rng.uniform() < size / (size + 0.05) else 'no'}" for size in rng.uniform(0.01, 0.2, 60)
    ]
    path.write_text("\n".join(["size_in,found", *lines]) + "\n")
    seat = sit(reading)
    seat.key("Alt-h")
    assert "magnetic particle" in settled(seat).heading.cget("text")
    seat.key("Control-n")
    panel = seat.frame.here.panel  # type: ignore[union-attr]
    assert isinstance(panel, FormPanel)
    panel.set("file", str(path))
    panel.set("tried", "rods")
    panel.hand_over()
    seat.wait()
    assert seat.message.startswith("q.csv: The curve reaches 90 %")
    seat.key("End")
    assert settled(seat).heading.cget("text") == "Probability of detection"


def test_the_window_answers_while_a_chart_is_drawn(sit: Sit, reading: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A chart that takes a second to draw keeps no key waiting, and the last one asked for is the one that stands."""
    seat = sit(reading)
    seat.key("Alt-t")
    here = settled(seat)
    drawn: list[str] = []
    png = reading.trends.png

    def slowly(chart: object, width: int, height: int, dpi: float) -> bytes:
        sleep(0.5)
        drawn.append(chart.title)  # type: ignore[attr-defined]
        return png(chart, width, height, dpi)  # type: ignore[arg-type]

    monkeypatch.setattr(reading.trends, "png", slowly)
    seat.root.update()
    waited = 0.0
    for _ in range(3):
        begun = monotonic()
        here.list.tree.event_generate("<Down>")
        seat.root.update()
        waited = max(waited, monotonic() - begun)
        end = monotonic() + 0.15
        while monotonic() < end:
            seat.worker.pump()
            seat.root.update()
    assert waited < 0.3
    here = settled(seat)
    assert here.list.current.key == here.key == "lamp|LP-4|"  # type: ignore[union-attr]
    assert drawn[-1] == "UV-A of lamp LP-4"


def test_a_row_without_a_study_leaves_nothing_of_another_one(
    sit: Sit, reading: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    seat = sit(reading)
    seat.key("Alt-t")
    here = settled(seat)

    def none(_key: str) -> StudyView:
        raise NotFound("no procedure in force says how many readings a trend needs")

    monkeypatch.setattr(reading.trends, "view", none)
    seat.key("Down")
    assert here._view is None and here.heading.cget("text") == "Trends"
    assert here.table._source.count() == 0 and not str(here.chart.cget("image"))
    assert seat.message.startswith("✗ no procedure in force")
    seat.key("Control-p")
    assert here.panel is None  # there is nothing to print


def test_entries_of_others_do_not_begin_the_study_again(sit: Sit, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    seat = sit(desk)
    seat.key("Alt-t")
    here = settled(seat)
    asked: list[str] = []
    view = desk.trends.view
    monkeypatch.setattr(desk.trends, "view", lambda key: asked.append(key) or view(key))  # type: ignore[func-returns-value]
    here.refresh()  # as the frame does when the book has grown
    seat.wait()
    assert asked == [] and here.heading.cget("text").endswith("(the book has gone on: Ctrl+R)")
    seat.key("Control-r")
    assert asked == ["lamp|LP-1|"] and settled(seat).heading.cget("text") == "UV-A of lamp LP-1"


def test_a_lamp_leads_to_its_trend_and_a_thing_never_read_says_so(sit: Sit, reading: Desk) -> None:
    seat = sit(reading)
    seat.frame.go("equipment", "LP-3")
    seat.wait()
    seat.key("Control-t")
    assert settled(seat).heading.cget("text") == "UV-A of lamp LP-3"
    never = next(row.key for row in reading.equipment.listing().all_rows if not reading.trends.key_of(row.key))
    seat.frame.go("equipment", never)
    seat.wait()
    seat.key("Control-t")
    assert seat.frame.here is not None and seat.frame.here.name == "equipment"
    assert seat.message == f"{never} was neither read nor calibrated: there is no trend of it."
