"""A length that was measured on an attached photograph goes into the book, and into words."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from math import hypot

from ndi.calc.photo_measures import Uncertain
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.quantity import Number, dimension
from ndi.services import photographs
from ndi.services.measured_photographs import record_measured
from ndi.services.measuring import Marked, Measured, measure, plane_of
from ndi.services.picture_ports import PictureRead, Point
from ndi.services.workplace import Workplace

_MM_IN = Decimal("25.4")


def read_attached(work: Workplace, sha256: str) -> PictureRead:
    """Cards and codes of a photograph of the archive; NotFound, StoreError when it is not there or not what it was."""
    if work.pictures is None:
        raise InputError("nothing is read off pictures here: open the book with the program's own reader")
    return work.pictures.read(photographs.original(work, sha256))


def record_length(
    work: Workplace,
    inspection: str,
    indication: str,
    sha256: str,
    marked: Marked,
    person: str,
    place: tuple[Number, Number] | None = None,
) -> tuple[Measured, Recorded[f.Fact]]:
    """Measure on an attached photograph and record it beside the length on the part; the larger counts.

    ``place``: where the photograph shows it on the outline, along and across from the datum.
    """
    read = read_attached(work, sha256)
    found = measure(read, marked)
    length, uncertainty = in_book(found.length)
    fact = f.PhotographMeasured(
        inspection,
        indication,
        sha256,
        length,
        uncertainty,
        found.how,
        tuple(share_of(point, read) for point in marked.lines[0]),
        width_mm=in_book(found.width)[0] if found.width is not None else None,
        angle=Number(f"{found.angle.value:.1f}", "deg") if found.angle is not None else None,
        x_mm=place[0] if place is not None else None,
        y_mm=place[1] if place is not None else None,
        warnings=found.warnings,
    )
    return found, record_measured(work, fact, person)


def outline_place(text: str) -> tuple[Number, Number]:
    """``612 mm, 12 mm``: along and across the outline of the part from its datum; InputError."""
    found = []
    for typed in text.split(","):
        figures, _, unit = typed.strip().partition(" ")
        try:
            found.append(Number(figures, unit.strip()))
        except InputError:
            break
    if len(found) != 2 or any(dimension(number.unit) != "length" for number in found):
        raise InputError(
            f"{text!r} is no place on the outline: type how far along and across from its datum, as '612 mm, 12 mm'"
        )
    return found[0], found[1]


def place_from_datum(read: PictureRead, marked: Marked, datum_at: tuple[Number, Number]) -> tuple[Number, Number]:
    """Where the middle of the marked line lies on the outline, worked out from the marked datum and axis.

    ``datum_at`` is where the datum point lies on the outline; the axis is
    marked the way in which the outline's length grows, and what lies to the left of
    it in the picture lies above.  InputError without one datum point, two axis points or a card.
    """
    if len(marked.datum) != 1 or len(marked.axis) != 2:
        raise InputError(
            "to place it on the outline mark the datum by one point, and the part's axis by two, the way its length grows"
        )
    if not read.cards:
        raise InputError("no scale card is seen in this photograph, so nothing in it can be placed")
    line = marked.lines[0]
    middle = (line[0][0] + line[-1][0]) / 2, (line[0][1] + line[-1][1]) / 2
    card = min(
        read.cards, key=lambda each: hypot(*(a - b for a, b in zip(each.marks[0].corners[0], middle, strict=True)))
    )
    places = plane_of(read, card).at([line[0], line[-1], marked.datum[0], *marked.axis])
    (x0, y0), (x1, y1), (datum_x, datum_y), (from_x, from_y), (to_x, to_y) = [(float(x), float(y)) for x, y in places]
    size = hypot(to_x - from_x, to_y - from_y)
    if size == 0:
        raise InputError("the two points of the axis are one: mark them apart")
    along_x, along_y = (to_x - from_x) / size, (to_y - from_y) / size
    across, down = (x0 + x1) / 2 - datum_x, (y0 + y1) / 2 - datum_y
    offsets = across * along_x + down * along_y, across * along_y - down * along_x
    x, y = (
        Decimal(repr(float(at.in_unit("mm")) + offset)).quantize(Decimal("0.1"))
        for at, offset in zip(datum_at, offsets, strict=True)
    )
    return Number(f"{x:f}", "mm"), Number(f"{y:f}", "mm")


def share_of(point: Point, read: PictureRead) -> f.PicturePoint:
    def share(at: float, whole: int) -> Number:
        return Number(f"{min(100.0, max(0.0, 100 * at / whole)):.4f}", "%")

    return f.PicturePoint(share(point[0], read.width), share(point[1], read.height))


def in_book(found: Uncertain) -> tuple[Number, Number]:
    """Value and uncertainty as they are kept, mm: the uncertainty to two figures and never smaller, the value as far."""
    half = Decimal(repr(max(found.half_width, 1e-6)))
    step = Decimal(1).scaleb(half.adjusted() - 1)
    uncertainty = half.quantize(step, ROUND_CEILING)
    value = Decimal(repr(found.value)).quantize(step, ROUND_HALF_EVEN)
    return Number(f"{value:f}", "mm"), Number(f"{uncertainty:f}", "mm")


def in_words(found: Uncertain, unit: str = "mm") -> str:
    """``9.469 +/- 0.099 mm (0.3728 +/- 0.0039 in)``; degrees to a tenth."""
    if unit == "deg":
        return f"{found.value:.1f} +/- {max(found.half_width, 0.05):.1f} deg"
    value, uncertainty = in_book(found)
    inches = [Decimal(number.typed) / _MM_IN for number in (value, uncertainty)]
    step = Decimal(1).scaleb(inches[1].adjusted() - 1)
    shown = inches[0].quantize(step, ROUND_HALF_EVEN), inches[1].quantize(step, ROUND_CEILING)
    return f"{value.typed} +/- {uncertainty.typed} mm ({shown[0]:f} +/- {shown[1]:f} in)"
