"""What is drawn of a part: outline, zones, indications, in millimetres; how large is the view's matter."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain.procedure import PartMaster
from ndi.services.report_models import RecordModel

Point = tuple[float, float]  # millimetres, y upwards


@dataclass(frozen=True)
class DrawnZone:
    code: str
    polygon: tuple[Point, ...]


@dataclass(frozen=True)
class DrawnMark:
    """An indication: a line of its length to scale, or a ring where no length is recorded."""

    name: str
    x: float
    y: float
    length: float | None
    angle: float  # degrees counter-clockwise from the x axis


@dataclass(frozen=True)
class Drawing:
    """Nothing is drawn where the part master has no outline: ``caption`` says so."""

    outline: tuple[Point, ...]
    zones: tuple[DrawnZone, ...]
    marks: tuple[DrawnMark, ...]
    caption: str

    @property
    def size(self) -> tuple[float, float, float, float]:
        """Least and most x and y; a millimetre square when there is nothing."""
        points = [*self.outline, *(p for z in self.zones for p in z.polygon), *((m.x, m.y) for m in self.marks)]
        if not points:
            return (0.0, 0.0, 1.0, 1.0)
        xs, ys = [x for x, _ in points], [y for _, y in points]
        return (min(xs), min(ys), max(xs), max(ys))


def drawing_of_record(model: RecordModel) -> Drawing:
    """The outline of a record's part with its indications."""
    zones = tuple(DrawnZone(zone.code, zone.polygon) for zone in model.zones)
    drawn = tuple(
        DrawnMark(i.name, i.x_mm, i.y_mm, i.length_mm, i.angle_deg)
        for i in model.indications
        if i.x_mm is not None and i.y_mm is not None
    )
    left_out = len(model.indications) - len(drawn)
    caption = (
        f"{model.part_no}, drawn to scale"
        if model.outline or zones
        else f"{model.part_no}: its part master has no outline"
    )
    if left_out:
        caption += f"; {left_out} indication(s) without a place are listed, not drawn"
    return Drawing(model.outline, zones, drawn, caption)


def drawing_of_master(master: PartMaster) -> Drawing:
    """The outline of a part number with its zones."""
    outline = tuple((float(x.in_unit("mm")), float(y.in_unit("mm"))) for x, y in master.outline)
    zones = tuple(
        DrawnZone(zone.code, tuple((float(x.in_unit("mm")), float(y.in_unit("mm"))) for x, y in zone.polygon))
        for zone in master.zones
        if zone.polygon
    )
    caption = f"{master.number} {master.description}. Datum: {master.datum or 'not stated'}. Clock: {master.clock_reference or 'not stated'}."
    if not outline and not zones:
        caption = f"{master.number}: this part master has no outline."
    return Drawing(outline, zones, (), caption)
