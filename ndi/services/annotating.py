"""What is drawn beside a photograph: arrow, circle, text, scale bar, each a fact of its own; the original is never touched."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import PERCENT, Number, dimension
from ndi.services.lookup import about
from ndi.services.measured_photographs import check_attached, check_points
from ndi.services.measuring import Marked, measure
from ndi.services.photo_lengths import in_words as length_in_words
from ndi.services.photographs import archive_of, read_off
from ndi.services.ports import DrawnShape, Session
from ndi.services.recording import check_known
from ndi.services.workplace import Workplace

LONGEST_TEXT = 120
_TWO = 2
# by how much a bar may miss its length besides what the card leaves open: how well its ends are set (own choice)
_BAR_SHARE = 0.02


class Shape(StrEnum):
    """What can be drawn, and by which points."""

    ARROW = "arrow"  # tail, head
    CIRCLE = "circle"  # centre, a point of its rim
    TEXT = "text"  # where it begins
    SCALE_BAR = "scale bar"  # both ends


@dataclass(frozen=True)
class Layer:
    """What is drawn beside one photograph on one record, in the order in which it was drawn."""

    sha256: str
    drawn: tuple[Recorded[f.PhotographAnnotated], ...]

    @property
    def shapes(self) -> tuple[DrawnShape, ...]:
        return tuple(drawn_shape(recorded.fact) for recorded in self.drawn)


def annotate(work: Workplace, fact: f.PhotographAnnotated, person: str) -> Recorded[f.Fact]:
    """Draw one thing beside an attached photograph; its name is given here when the fact has none.

    NotFound for a photograph that is not on the record; InputError for points
    outside the picture, a text or length that is missing, and for a scale bar
    that a scale card in the same picture contradicts.
    """
    _check(fact)
    _check_bar(work, fact)
    with work.act("annotate photograph", person, fact.inspection) as session:
        check_known(session, person)
        check_attached(session, fact.inspection, fact.sha256)
        if not fact.annotation:
            known = about(session, f.PhotographAnnotated, fact.sha256)
            fact = replace(fact, annotation=f"{fact.sha256[:8]}/{len({r.fact.annotation for r in known}) + 1}")
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def erase(work: Workplace, sha256: str, annotation: str, person: str) -> Recorded[f.Fact]:
    """Take away what was drawn under a name, by an entry that says so; NotFound when nothing stands under it."""
    with work.act("erase annotation", person, sha256) as session:
        check_known(session, person)
        standing = [r.fact for r in _standing(about(session, f.PhotographAnnotated, sha256))]
        found = next((fact for fact in standing if fact.annotation == annotation), None)
        if found is None:
            names = ", ".join(fact.annotation for fact in standing) or "none"
            raise NotFound(f"nothing is drawn under {annotation!r} beside photograph {sha256[:16]}; drawn are: {names}")
        gone = f.PhotographAnnotated(found.inspection, sha256, annotation, found.shape, erased=True)
        (recorded,) = session.append([Draft(gone, work.now(), person)])
        return recorded


def layer_of(session: Session, sha256: str, inspection: str | None = None) -> Layer:
    """What stands beside a photograph, on one record or on all that it is attached to."""
    found = about(session, f.PhotographAnnotated, sha256)
    return Layer(sha256, tuple(r for r in _standing(found) if inspection in (None, r.fact.inspection)))


def annotated(
    work: Workplace, session: Session, sha256: str, inspection: str | None = None, *, edge: int | None
) -> bytes:
    """A copy of a photograph with its layer drawn in, upright: JPEG of ``edge`` pixels at most, or PNG at full size (None).

    Of a photograph beside which nothing is drawn just the small or whole copy.
    NotFound, StoreError as the archive raises them.
    """
    archive, shapes = archive_of(work), layer_of(session, sha256, inspection).shapes
    if not shapes and edge is not None:
        return archive.thumbnail(sha256, edge)  # kept apart, so it is there at once
    return archive.annotated(sha256, shapes, edge)


def drawn_shape(fact: f.PhotographAnnotated) -> DrawnShape:
    """A fact as the archive draws it."""
    points = tuple((float(p.x.in_unit("%") / PERCENT), float(p.y.in_unit("%") / PERCENT)) for p in fact.points)
    text = str(fact.length) if fact.shape == Shape.SCALE_BAR and fact.length is not None else fact.text or ""
    return DrawnShape(fact.shape, points, text)


def in_words(fact: f.PhotographAnnotated) -> str:
    """``arrow "crack tip"``, ``scale bar 10 mm``."""
    said = str(fact.length) if fact.shape == Shape.SCALE_BAR else f'"{fact.text}"' if fact.text else ""
    return f"{fact.shape} {said}".strip()


def point(text: str) -> f.PicturePoint:
    """``41.2,55`` typed as percent of width and height from the upper left corner; InputError."""
    x, comma, y = text.partition(",")
    if not comma:
        raise InputError(
            f"{text!r} is no place: type percent of width and height from the upper left corner, as 41.2,55"
        )
    return f.PicturePoint(Number(x.strip(), "%"), Number(y.strip(), "%"))


def _standing(found: list[Recorded[f.PhotographAnnotated]]) -> list[Recorded[f.PhotographAnnotated]]:
    standing: dict[str, Recorded[f.PhotographAnnotated]] = {}
    for recorded in sorted(found, key=lambda r: r.position):
        standing.pop(recorded.fact.annotation, None)
        if not recorded.fact.erased:
            standing[recorded.fact.annotation] = recorded
    return list(standing.values())


def _check(fact: f.PhotographAnnotated) -> None:
    if fact.shape not in tuple(Shape):
        raise InputError(f"{fact.shape!r} is none of {', '.join(Shape)}")
    wanted = 1 if fact.shape == Shape.TEXT else _TWO
    if len(fact.points) != wanted:
        raise InputError(f"{fact.shape}: {wanted} point(s) place it, not {len(fact.points)}")
    check_points(fact.points)
    if wanted == _TWO and fact.points[0] == fact.points[1]:
        raise InputError(f"{fact.shape}: its two points are one: mark them apart")
    if fact.shape == Shape.TEXT and not (fact.text or "").strip():
        raise InputError("a text says something: type it")
    if fact.text is not None and (len(fact.text) > LONGEST_TEXT or not fact.text.isprintable()):
        raise InputError(f"a text has at most {LONGEST_TEXT} printable characters")
    if fact.shape == Shape.SCALE_BAR:
        if fact.length is None or dimension(fact.length.unit) != "length" or fact.length.value <= 0:
            raise InputError("a scale bar stands for a length: type it with its unit, as 10 mm")
    elif fact.length is not None:
        raise InputError(f"{fact.shape} has no length: only a scale bar has")


def _check_bar(work: Workplace, fact: f.PhotographAnnotated) -> None:
    """A bar that says another length than the card beside it would prove a wrong size; without a card a person answers for it."""
    archive = work.photographs
    if fact.shape != Shape.SCALE_BAR or fact.length is None or archive is None or not archive.holds(fact.sha256):
        return
    read = read_off(work, archive.original(fact.sha256))
    if read is None or not read.cards:
        return
    wide, high = read.width / PERCENT, read.height / PERCENT
    ends = tuple((float(p.x.in_unit("%") * wide), float(p.y.in_unit("%") * high)) for p in fact.points)
    found = measure(read, Marked((ends,))).length
    if abs(float(fact.length.in_unit("mm")) - found.value) > found.half_width + _BAR_SHARE * found.value:
        raise InputError(
            f"a scale bar of {fact.length}: by the scale card in this photograph its two ends are {length_in_words(found)} "
            "apart; move an end, or give that length"
        )
