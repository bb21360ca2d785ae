"""The points of the residual field on the outline of the part, numbered, each with what was read there."""

from __future__ import annotations

from ndi.domain.procedure import PartMaster, Zone
from ndi.domain.quantity import Number
from ndi.gui.presenters.booth.texts import is_done_shape
from ndi.gui.presenters.scene import Area, Dot, Outline, Point, Row, Rows, Shape
from ndi.rules.inquiry import Inquiry
from ndi.services.to_do import Kind, Task, residual_read


def rows(q: Inquiry, tasks: tuple[Task, ...], in_hand: Task) -> Rows:
    """A line for each point: its number on the outline, its name, what was read there."""
    read = residual_read(q)
    return Rows(
        tuple(
            Row(
                f"{n}  {task.point}",
                str(read.get(task.point or "", "")),
                is_done_shape(task.done, task is in_hand),
                selected=task is in_hand,
            )
            for n, task in _asked(tasks)
        ),
        "Residual field",
    )


def drawing(master: PartMaster, tasks: tuple[Task, ...], in_hand: Task) -> Outline | None:
    """The outline with a numbered dot where the part master says that a point lies; None when it says nothing."""
    places = {each.name: _point(each.x, each.y) for each in master.reading_points}
    dots = tuple(
        Dot(places[task.point], str(n), is_done_shape(task.done, task is in_hand), task is in_hand)
        for n, task in _asked(tasks)
        if task.point in places
    )
    if not dots:
        return None
    return Outline(_corners(master.outline), tuple(map(_area, master.zones)), dots=dots)


def _asked(tasks: tuple[Task, ...]) -> list[tuple[int, Task]]:
    return list(enumerate((task for task in tasks if task.kind is Kind.RESIDUAL), 1))


def _area(zone: Zone) -> Area:
    return Area(zone.name, _corners(zone.polygon), Shape.DASH)


def _corners(polygon: tuple[tuple[Number, Number], ...]) -> tuple[Point, ...]:
    return tuple(_point(x, y) for x, y in polygon)


def _point(x: Number, y: Number) -> Point:
    return Point(float(x.in_unit("mm")), float(y.in_unit("mm")))
