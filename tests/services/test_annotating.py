"""What is drawn beside a photograph: facts of their own, the original as it was, copies with it drawn in; lengths beside lengths."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from PIL import Image

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import Number
from ndi.services import annotating, measured_photographs, photographs
from ndi.services.annotating import Layer, annotate, erase, layer_of
from ndi.services.measured_photographs import record_measured
from ndi.services.photograph_facts import photograph_facts
from ndi.services.record_report import record_model
from tests.photo.picture_files import picture
from tests.services.shop import Shop
from tests.services.test_photographs import attach, seen_at, viewed

__all__ = ["viewed"]


@pytest.fixture
def photo(viewed: Shop) -> f.PhotoAttached:
    return attach(viewed, picture(size=(640, 480), taken=seen_at(viewed)))


def point(x: str, y: str) -> f.PicturePoint:
    return annotating.point(f"{x},{y}")


def arrow(photo: f.PhotoAttached, **changed: Any) -> f.PhotographAnnotated:
    base: dict[str, Any] = {"shape": "arrow", "points": (point("20", "20"), point("50", "50")), "text": "crack tip"}
    return f.PhotographAnnotated(
        **{"inspection": "MT-001", "sha256": photo.sha256, "annotation": "", **base, **changed}
    )


def layer(shop: Shop, photo: f.PhotoAttached) -> Layer:
    with shop.work.look() as session:
        return layer_of(session, photo.sha256)


def test_what_is_drawn_is_named_kept_and_taken_away_by_an_entry(viewed: Shop, photo: f.PhotoAttached) -> None:
    one = annotate(viewed.work, arrow(photo), "L2-A").fact
    circle = arrow(photo, shape="circle", text=None)
    two = annotate(viewed.work, circle, "L2-A").fact
    assert isinstance(one, f.PhotographAnnotated) and isinstance(two, f.PhotographAnnotated)
    assert (one.annotation, two.annotation) == (f"{photo.sha256[:8]}/1", f"{photo.sha256[:8]}/2")
    erase(viewed.work, photo.sha256, one.annotation, "L2-A")
    assert [r.fact.annotation for r in layer(viewed, photo).drawn] == [two.annotation]
    third = annotate(viewed.work, arrow(photo), "L2-A").fact
    assert isinstance(third, f.PhotographAnnotated) and third.annotation.endswith("/3")  # a name is never used again
    with pytest.raises(NotFound, match="drawn are"):
        erase(viewed.work, photo.sha256, one.annotation, "L2-A")
    assert len(viewed.facts(f.PhotographAnnotated)) == 4


def test_original_stays_and_the_copy_shows_each_shape_where_it_was_marked(viewed: Shop, photo: f.PhotoAttached) -> None:
    before = photographs.original(viewed.work, photo.sha256)
    places = {
        "arrow": ((20, 30), (40, 50)),
        "circle": ((70, 30), (80, 30)),
        "scale bar": ((10, 90), (40, 90)),
        "text": ((60, 80),),
    }
    for shape, points in places.items():
        given: dict[str, Any] = {"text": "A" if shape != "scale bar" else None}
        if shape == "scale bar":
            given["length"] = Number("10", "mm")
        marked = tuple(point(str(x), str(y)) for x, y in points)
        annotate(viewed.work, arrow(photo, shape=shape, points=marked, **given), "L2-A")
    assert photographs.original(viewed.work, photo.sha256) == before
    with viewed.work.look() as session:
        full = annotating.annotated(viewed.work, session, photo.sha256, edge=None)
        small = annotating.annotated(viewed.work, session, photo.sha256, edge=320)
    image = Image.open(io.BytesIO(full))
    assert (image.format, image.size) == ("PNG", (640, 480)) and Image.open(io.BytesIO(small)).size == (320, 240)
    changed = (
        np.abs(np.asarray(image, dtype=int) - np.asarray(Image.open(io.BytesIO(before)).convert("RGB"))).max(2) > 40
    )
    for x, y in ((40, 50), (30, 40), (80, 30), (60, 30), (10, 90), (40, 90), (25, 90)):  # points on the lines
        column, row = round(x / 100 * 639), round(y / 100 * 479)
        assert changed[max(0, row - 4) : row + 5, max(0, column - 4) : column + 5].any(), (x, y)
    assert not changed[240:300, 330:420].any()  # nothing was drawn there
    assert changed[384:420, 380:430].any()  # the text


def test_points_are_those_of_the_picture_upright(viewed: Shop) -> None:
    """Exif orientation 6 lies on its side: what is in the upper left corner when it is looked at is meant."""
    content = picture(size=(640, 480), taken=seen_at(viewed), orientation=6)
    photo = attach(viewed, content)
    annotate(viewed.work, arrow(photo, points=(point("2", "2"), point("12", "12")), text=None), "L2-A")
    with viewed.work.look() as session:
        image = Image.open(io.BytesIO(annotating.annotated(viewed.work, session, photo.sha256, edge=None)))
    assert image.size == (480, 640)
    plain = np.asarray(Image.open(io.BytesIO(content)).convert("RGB").transpose(Image.Transpose.ROTATE_270), dtype=int)
    changed = np.abs(np.asarray(image, dtype=int) - plain).max(2) > 60
    assert changed[:100, :80].any() and not changed[120:, 100:].any()


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"shape": "star"}, "none of arrow"),
        ({"points": (point("1", "1"),)}, "2 point"),
        ({"points": (point("1", "1"), point("1", "1"))}, "mark them apart"),
        ({"points": (point("1", "1"), point("101", "1"))}, "no place in the picture"),
        ({"points": (point("-1", "1"), point("10", "1"))}, "no place in the picture"),
        ({"shape": "text", "points": (point("1", "1"),), "text": " "}, "type it"),
        ({"text": "x" * 121}, "at most 120"),
        ({"text": "a\x1b[2J"}, "printable"),
        ({"shape": "scale bar"}, "stands for a length"),
        ({"shape": "scale bar", "length": Number("0", "mm")}, "stands for a length"),
        ({"shape": "scale bar", "length": Number("3", "s")}, "stands for a length"),
        ({"length": Number("3", "mm")}, "only a scale bar"),
    ],
)
def test_what_draws_nothing_is_refused(
    viewed: Shop, photo: f.PhotoAttached, changed: dict[str, Any], says: str
) -> None:
    with pytest.raises(InputError, match=says):
        annotate(viewed.work, arrow(photo, **changed), "L2-A")
    assert viewed.facts(f.PhotographAnnotated) == []


@pytest.mark.parametrize(
    ("changed", "error"),
    [({"inspection": "MT-999"}, NotFound), ({"sha256": "ab" * 32}, NotFound)],
)
def test_photograph_that_is_not_on_the_record_takes_no_drawing(
    viewed: Shop, photo: f.PhotoAttached, changed: dict[str, Any], error: type
) -> None:
    with pytest.raises(error):
        annotate(viewed.work, arrow(photo, **changed), "L2-A")


def test_record_shows_its_photographs_with_what_is_drawn(viewed: Shop, photo: f.PhotoAttached) -> None:
    with viewed.work.look() as session:
        (plain,) = record_model(viewed.work, session, "MT-001").pictures
    annotate(viewed.work, arrow(photo), "L2-A")
    with viewed.work.look() as session:
        (drawn,) = record_model(viewed.work, session, "MT-001").pictures
        _, facts = photograph_facts(viewed.work, session, photo.sha256[:10])
    assert plain.caption == drawn.caption and photo.sha256[:16] in drawn.caption
    assert plain.content != drawn.content
    assert facts.drawn == ('arrow "crack tip"',) and facts.indications[0].name == "IND-01"
    assert (facts.part_no, facts.inspector, facts.work_order) == ("T6-10501", "L2-A", "W26-0148")


# --- lengths --------------------------------------------------------------------------------------


def measured(photo: f.PhotoAttached, length: str = "9.5 mm", **changed: Any) -> f.PhotographMeasured:
    number, unit = length.split()
    base = {"uncertainty_mm": Number("0.1", "mm"), "how": "card in the plane"}
    return f.PhotographMeasured(
        **{
            "inspection": "MT-001",
            "indication": "IND-01",
            "sha256": photo.sha256,
            "length_mm": Number(number, unit),
            **base,
            **changed,
        }
    )


def test_length_of_a_photograph_stands_beside_the_one_on_the_part_and_places_it(
    viewed: Shop, photo: f.PhotoAttached
) -> None:
    place = {"x_mm": Number("41", "mm"), "y_mm": Number("12", "mm"), "angle": Number("30", "deg")}
    record_measured(viewed.work, measured(photo, **place), "L2-A")
    with viewed.work.look() as session:
        (mark,) = record_model(viewed.work, session, "MT-001").indications
    own = viewed.facts(f.IndicationSeen)[0].fact
    assert own.length is not None and own.length.in_unit("mm") < 9.5
    assert mark.length_mm == 9.5 and mark.angle_deg == 30.0
    assert mark.size == f"{own.length} x {own.width}; on photograph 9.5 mm +/- 0.1 mm, which counts"
    assert f"photograph {photo.sha256[:8]}: card in the plane" in mark.note
    if own.x_mm is None:
        assert (mark.x_mm, mark.y_mm) == (41.0, 12.0)


def test_shorter_photograph_takes_nothing_away(viewed: Shop, photo: f.PhotoAttached) -> None:
    record_measured(viewed.work, measured(photo, "0.5 mm"), "L2-A")
    own = viewed.facts(f.IndicationSeen)[0].fact
    inquiry = viewed.judge("MT-001").inquiry
    assert measured_photographs.longest(inquiry.indications[0]) == own.length


def test_evaluation_that_the_photograph_contradicts_is_asked_again(viewed: Shop, photo: f.PhotoAttached) -> None:
    before = viewed.row("MT-001").version
    record_measured(viewed.work, measured(photo), "L2-A")
    assert viewed.row("MT-001").version >= before
    found = next(a for a in viewed.judge("MT-001").answers if a.rule == "D05")
    assert "0.374 in" in found.found


@pytest.mark.parametrize(
    "changed",
    [
        {"length_mm": Number("0", "mm")},
        {"length_mm": Number("-1", "mm")},
        {"length_mm": Number("1", "s")},
        {"uncertainty_mm": Number("-0.1", "mm")},
        {"uncertainty_mm": Number("1", "%")},
        {"width_mm": Number("0", "mm")},
        {"angle": Number("1", "mm")},
        {"how": " "},
        {"marks": (point("1", "1"),)},
        {"marks": (point("1", "1"), point("1", "200"))},
    ],
)
def test_size_that_is_none_is_refused(viewed: Shop, photo: f.PhotoAttached, changed: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        record_measured(viewed.work, measured(photo, **changed), "L2-A")
    assert viewed.facts(f.PhotographMeasured) == []


@pytest.mark.parametrize("changed", [{"indication": "IND-99"}, {"sha256": "ab" * 32}])
def test_photograph_of_nothing_is_not_measured(viewed: Shop, photo: f.PhotoAttached, changed: dict[str, Any]) -> None:
    with pytest.raises(NotFound):
        record_measured(viewed.work, measured(photo, **changed), "L2-A")
