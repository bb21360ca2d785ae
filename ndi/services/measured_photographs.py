"""A length taken from a photograph becomes a fact beside the length on the part; what it says of size and place for paper and screens."""

from __future__ import annotations

from collections.abc import Iterable

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import PERCENT, Number, dimension
from ndi.rules.inquiry import Indication
from ndi.services.deciding import check_version, reconsider
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.recording import check_known
from ndi.services.workplace import Workplace

_LINE_ENDS = 2


def record_measured(
    work: Workplace, fact: f.PhotographMeasured, person: str, *, seen: int | None = None
) -> Recorded[f.Fact]:
    """Record what was measured on a photograph of an indication; the answers of the record are asked again.

    NotFound for an indication that is not on the record, or a photograph that
    is not attached to it; InputError for sizes that are none.
    """
    _check_sizes(fact)
    with work.act("measure photograph", person, fact.inspection) as session:
        check_known(session, person)
        check_version(session, fact.inspection, seen)
        check_attached(session, fact.inspection, fact.sha256, fact.indication)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        reconsider(work, session, [fact.inspection], recorded.position)
        return recorded


def check_attached(session: Session, inspection: str, sha256: str, indication: str | None = None) -> None:
    """NotFound unless a photograph is attached to a record (and to one of its indications)."""
    if indication is not None and not any(
        r.fact.inspection == inspection for r in about(session, f.IndicationSeen, indication)
    ):
        raise NotFound(f"{inspection} has no indication {indication}: record what was seen first")
    attached = [r.fact for r in about(session, f.PhotoAttached, sha256) if r.fact.inspection == inspection]
    if not any(photo.indication in (indication, None) or indication is None for photo in attached):
        what = f"indication {indication}" if indication else inspection
        raise NotFound(f"no photograph {sha256[:16]} is attached to {what}: attach it first (ndi photo add)")


def check_points(points: Iterable[f.PicturePoint]) -> None:
    """InputError for a point that does not lie in the picture."""
    for point in points:
        for share in (point.x, point.y):
            if dimension(share.unit) != "share" or not 0 <= share.in_unit("%") <= PERCENT:
                raise InputError(f"{share} is no place in the picture: 0 % is its left or upper edge, 100 % the other")


def _check_sizes(fact: f.PhotographMeasured) -> None:
    lengths = {"length_mm": fact.length_mm, "width_mm": fact.width_mm, "uncertainty_mm": fact.uncertainty_mm}
    lengths |= {"x_mm": fact.x_mm, "y_mm": fact.y_mm}
    for name, number in lengths.items():
        if number is not None and dimension(number.unit) != "length":
            raise InputError(f"{name} is a length: type it in mm or in, not {number}")
    for name in ("length_mm", "width_mm"):
        if (size := lengths[name]) is not None and size.value <= 0:
            raise InputError(f"{name} is {size}: what was measured is longer than nothing")
    if fact.uncertainty_mm.value < 0:
        raise InputError(f"uncertainty_mm is {fact.uncertainty_mm}: it is never below 0")
    if fact.angle is not None and dimension(fact.angle.unit) != "angle":
        raise InputError(f"angle is given in deg, not {fact.angle}")
    if not fact.how.strip():
        raise InputError("say how it was measured: what gave the scale")
    if fact.marks and len(fact.marks) < _LINE_ENDS:
        raise InputError("a line has two ends: mark both, or none")
    check_points(fact.marks)


# --- what it says ---------------------------------------------------------------------------------


def longest(mark: Indication) -> Number | None:
    """The length to draw: the larger of what was measured on the part and on photographs, as typed."""
    lengths = [mark.seen.fact.length, *(r.fact.length_mm for r in mark.measured)]
    return max((one for one in lengths if one is not None), key=lambda one: one.in_unit("mm"), default=None)


def place_mm(mark: Indication) -> tuple[Number, Number] | None:
    """Where the indication lies on the outline: as the inspector drew it, else as the last photograph that shows it says."""
    seen = mark.seen.fact
    if seen.x_mm is not None and seen.y_mm is not None:
        return seen.x_mm, seen.y_mm
    placed = [r.fact for r in mark.measured if r.fact.x_mm is not None and r.fact.y_mm is not None]
    if not placed or placed[-1].x_mm is None or placed[-1].y_mm is None:
        return None
    return placed[-1].x_mm, placed[-1].y_mm


def angle_deg(mark: Indication) -> float | None:
    """Against the part's axis, as the last photograph that shows it says; None where none does."""
    angles = [r.fact.angle for r in mark.measured if r.fact.angle is not None]
    return float(angles[-1].in_unit("deg")) if angles else None


def on_photographs(mark: Indication) -> tuple[str, ...]:
    """``on photograph 5.31 mm +/- 0.10 mm, which counts``; one for each that was measured."""
    counts = longest(mark)
    return tuple(
        f"on photograph {r.fact.length_mm} +/- {r.fact.uncertainty_mm}{', which counts' if r.fact.length_mm is counts else ''}"
        for r in mark.measured
    )


def how_measured(mark: Indication) -> tuple[str, ...]:
    """``photograph 1f2e3d4c: scale card S in the plane``, with what speaks against it."""
    return tuple("; ".join((f"photograph {r.fact.sha256[:8]}: {r.fact.how}", *r.fact.warnings)) for r in mark.measured)


def lengths_in_words(mark: Indication) -> tuple[str, ...]:
    """The lengths side by side, a line for each photograph: ``on the part 0.20 in, on photograph 1f2e3d4c 5.31 mm +/- 0.10 mm``."""
    own, counts = mark.seen.fact.length, longest(mark)
    on_part = f"on the part {own}" if own is not None else "not measured on the part"
    found = []
    for fact in (recorded.fact for recorded in mark.measured):
        said = f"{on_part}, on photograph {fact.sha256[:8]} {fact.length_mm} +/- {fact.uncertainty_mm} ({fact.how})"
        found.append("; ".join((f"{said}: {counts} counts", *fact.warnings)))
    return tuple(found)
