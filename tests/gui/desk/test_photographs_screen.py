"""Photographs at the desk with real clicks and keys: marks on a picture of known geometry, the length, the layer, proposals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.presenters.desk.photographs import LINE, TOOLS, Marks, Place
from ndi.gui.views.desk.panels import SignPanel
from ndi.gui.views.desk.photographs_screen import PhotographsScreen
from ndi.services.lookup import every
from ndi.services.photographs import Shown, attach_photograph
from tests.gui.desk.seat import Seat
from tests.gui.window import instant
from tests.photo import scene

SIZE = (2400, 1800)
ENDS = ((25.0, 30.0), (50.0, 40.0))  # mm on the card's plane
TRUE_MM = float(np.hypot(25, 10))


@pytest.fixture
def camera(desk: Desk) -> scene.Camera:
    """A dark line beside a card, photographed and attached to the crankshaft's crack."""
    with desk.work.book.session(readonly=True) as session:
        part = session.inspection("MT-001").part
        opened = session.of_kind(f.InspectionOpened)[0].when
    chance = np.random.default_rng(4)
    camera = scene.over("M", chance, SIZE, tilt=15)
    grey = scene.photograph("M", camera, chance, code=f"part:{part}", lines=(np.array(ENDS),))
    taken = replace(opened, at=instant("08:25"))
    desk.stand("L2-A")
    attach_photograph(
        desk.work,
        "MT-001",
        scene.saved(grey, "JPEG", quality=92),
        "fillet.jpg",
        "L2-A",
        indication="IND-01",
        shown=Shown(light="white", taken_at=taken),
    )
    return camera


@pytest.fixture
def seat(desk: Desk, camera: scene.Camera, sit: Callable[[Desk], Seat]) -> Seat:
    seat = sit(desk)
    seat.key("Alt-p")
    return seat


def screen(seat: Seat) -> PhotographsScreen:
    here = seat.frame.here
    assert isinstance(here, PhotographsScreen)
    return here


def settle(seat: Seat) -> None:
    """The picture is asked for a little after the last change."""
    for _ in range(4):
        seat.root.after(80, lambda: None)
        end = seat.root.tk.call("clock", "milliseconds") + 90
        while seat.root.tk.call("clock", "milliseconds") < end:
            seat.root.update()
        seat.wait()


def places(camera: scene.Camera, points: tuple[tuple[float, float], ...]) -> list[Place]:
    return [(float(x) / SIZE[0], float(y) / SIZE[1]) for x, y in camera.sees(np.array(points))]


def click(seat: Seat, place: Place, button: int = 1) -> None:
    canvas = screen(seat).picture
    x, y = canvas.pixel(place)
    canvas.event_generate(f"<Button-{button}>", x=round(x), y=round(y))
    seat.wait()


def facts(seat: Seat, kind: type[f.Fact]) -> list[f.Fact]:
    with seat.desk.work.book.session(readonly=True) as session:
        return [r.fact for r in every(session, kind)]


def test_a_length_is_marked_by_clicks_shown_and_recorded(seat: Seat, camera: scene.Camera) -> None:
    settle(seat)
    said = screen(seat).said.cget("text")
    assert "scale card M" in said and "code in the frame" in said
    seat.shot("photographs-1")
    for place in places(camera, ENDS):
        click(seat, place)
    seat.key("Control-m")
    measured = screen(seat).said.cget("text")
    value, uncertainty = (float(figure) for figure in measured.split()[1:4:2])
    assert abs(value - TRUE_MM) <= uncertainty < 1
    seat.shot("photographs-2-measured")
    assert facts(seat, f.PhotographMeasured) == []
    seat.key("Control-s")
    seat.shot("photographs-3-form")
    seat.key(*["Return"] * 5)  # indication as proposed; radius, plane, camera and crack left empty
    seat.type("612")
    seat.key("Key-space", "Key-m", "Key-m", "Key-comma", "Key-space", "Key-1", "Key-2", "Key-space", "Key-m", "Key-m")
    seat.shot("photographs-3-form-filled")
    seat.key(*["Return"] * 3)  # the last field left empty
    panel = screen(seat).panel
    assert isinstance(panel, SignPanel), seat.message
    seat.shot("photographs-4-act")
    seat.key("Return")
    (fact,) = facts(seat, f.PhotographMeasured)
    assert isinstance(fact, f.PhotographMeasured) and fact.indication == "IND-01"
    assert (str(fact.x_mm), str(fact.y_mm)) == ("612 mm", "12 mm")
    assert float(fact.length_mm.value) == pytest.approx(value, abs=0.01)
    settle(seat)
    seat.shot("photographs-5-recorded")


def test_wheel_brings_closer_and_a_point_stays_where_it_is(seat: Seat, camera: scene.Camera) -> None:
    settle(seat)
    canvas = screen(seat).picture
    (place, _) = places(camera, ENDS)
    click(seat, place)
    x, y = canvas.pixel(place)
    for _ in range(4):
        canvas.event_generate("<Button-4>", x=round(x), y=round(y))
    settle(seat)
    again = canvas.pixel(place)
    assert again == pytest.approx((x, y), abs=6)
    assert canvas.place_at(*again) == pytest.approx(place, abs=1e-9)
    seat.shot("photographs-6-closer")
    click(seat, place, button=3)
    assert screen(seat).marks.of(LINE) == ()


def test_an_arrow_is_drawn_beside_the_original_and_taken_away(seat: Seat, camera: scene.Camera) -> None:
    settle(seat)
    here = screen(seat)
    here.chosen.set("arrow")
    for place in [(0.3, 0.3), *places(camera, ENDS)[:1]]:
        click(seat, place)
    seat.key("Control-d")
    seat.type("tip")
    seat.key("Return", "Return")
    (drawn,) = facts(seat, f.PhotographAnnotated)
    assert isinstance(drawn, f.PhotographAnnotated) and (drawn.shape, drawn.text) == ("arrow", "tip")
    settle(seat)
    seat.shot("photographs-7-arrow")
    form = seat.desk.photographs.erase_form(here.key)
    act = form.act({"what": form.fields[0].choices[0]})
    seat.desk.carry_out(act)
    assert seat.desk.photographs.open(here.key).shapes == ()


def test_proposals_are_drawn_and_judged(seat: Seat) -> None:
    settle(seat)
    key = screen(seat).key
    form = seat.desk.photographs.propose_form(key)
    said = seat.desk.carry_out(form.act({"look": "dark"}))
    assert "none of them a finding" in said
    opened = seat.desk.photographs.open(key)
    assert opened.proposed, "the dark line stands out"
    screen(seat).refresh()
    settle(seat)
    seat.shot("photographs-8-proposed")
    judged = seat.desk.photographs.judge_form(key, Marks())
    number = judged.fields[0].choices[0]
    values = {"number": number, "outcome": "accepted", "indication": "IND-01", "reason": ""}
    seat.desk.carry_out(judged.act(values))
    (fact,) = facts(seat, f.CandidateJudged)
    assert isinstance(fact, f.CandidateJudged) and (fact.outcome, fact.indication) == ("accepted", "IND-01")
    assert seat.desk.photographs.open(key).proposed[0].label.endswith("accepted")


def test_without_a_line_nothing_is_recorded(seat: Seat) -> None:
    settle(seat)
    with pytest.raises(InputError, match="mark the line from end to end first"):
        seat.desk.photographs.record_form(screen(seat).key, Marks())
    seat.key("Control-m")
    assert "mark the line" in screen(seat).said.cget("text")


def test_a_tool_with_all_its_points_begins_anew() -> None:
    marks = Marks()
    for n in range(3):
        marks.add("arrow", (n / 10, 0.5))
        marks.add(LINE, (n / 10, 0.5))
    assert len(marks.of("arrow")) == 1 and len(marks.of(LINE)) == 3
    assert set(MappingProxyType(marks.points)) <= set(TOOLS)
