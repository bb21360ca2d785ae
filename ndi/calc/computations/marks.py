"""Marks on a part: which are read as one, how long they are, where they gather."""

from __future__ import annotations

from fractions import Fraction

from ndi.calc import clock_angles, grouping, joined_lines, photo_length, published
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Result, alternatives
from ndi.domain.quantity import shown

_MARK = ("x_in", "y_in", "length_in", "width_in")


def _mark(inputs: Inputs) -> grouping.Mark:
    inputs.only(_MARK)
    length, width = inputs.number("length_in", above=0), inputs.number("width_in", least=0)
    if width > length:
        raise BadInput(
            f"{inputs.at}width_in", f"{shown(width)} is above length_in {shown(length)}; swap or correct them"
        )
    return grouping.Mark(inputs.number("x_in"), inputs.number("y_in"), length, width)


def _group(inputs: Inputs) -> Outcome:
    inclusive = (
        inputs.flag("ratio_inclusive") if inputs.has("ratio_inclusive") else published.LINEAR_RATIO_INCLUSIVE.value
    )
    marks = [_mark(item) for item in inputs.objects("marks")]
    gap, count = inputs.number("gap_in", least=0), inputs.whole("count", least=2)
    straightness = inputs.number("straightness_in", least=0)

    def by(choice: published.Choice[bool]) -> Result:
        groups = grouping.group_marks(marks, gap, count, straightness, published.LINEAR_RATIO.value, choice.value)
        rows = [{"members": list(g.members), "form": g.form, "length_in": float(g.extent)} for g in groups]
        return {"groups": rows}

    shown_result = by(next(choice for choice in published.LINEAR_FROM if choice.value is inclusive))
    ratio = shown(published.LINEAR_RATIO.value)
    whence = "ratio as given" if inputs.has("ratio_inclusive") else f"ratio: {published.LINEAR_RATIO_INCLUSIVE.source}"
    return Outcome(
        f"linear if the length is {'at least' if inclusive else 'more than'} {ratio} x the width, and then alone; rounded "
        "marks are circles of their length; a row: centres within straightness_in of the line through two of them, each "
        "within gap_in of the next, edge to edge; the row with most marks first (ties: longer, then lowest index); linear "
        "from count marks on; length from outer edge to outer edge along the line",
        f"aligned rounded indications as in ASME Section VIII Div. 1 App. 6 and 8; meaning of row: own; {whence}",
        shown_result | alternatives(inputs, "ratio_inclusive", published.LINEAR_FROM, by),
    )


_STROKE = ("x1_in", "y1_in", "x2_in", "y2_in")


def _stroke(inputs: Inputs) -> joined_lines.Stroke:
    inputs.only(_STROKE)
    stroke = joined_lines.Stroke(*(inputs.number(key) for key in _STROKE))
    if not stroke.square:
        raise inputs.bad("x2_in", "both ends lie at one place; a linear mark has a length")
    return stroke


def _join_lines(inputs: Inputs) -> Outcome:
    strokes = [_stroke(item) for item in inputs.objects("marks")]
    angle = inputs.number("angle_deg", least=0)
    if angle > joined_lines.RIGHT_ANGLE:
        raise BadInput("angle_deg", f"{shown(angle)} is not possible; it must not be above 90")
    gap = inputs.number("gap_in", least=0) if inputs.has("gap_in") else None
    return Outcome(
        "two linear marks are joined when the gap between their nearest ends is at most "
        + ("gap_in" if gap is not None else "the length of the shorter")
        + " and their directions, and the way from middle to middle against each, differ by at most angle_deg; what hangs "
        "together by such pairs is one mark, from its farthest end to its farthest end",
        "joining at a gap up to the shorter length: common practice, no source; meaning of in line: own",
        {
            "groups": [
                {"members": list(group.members), "length_in": float(group.extent)}
                for group in joined_lines.join(strokes, angle, gap)
            ]
        },
    )


def _arc(inputs: Inputs) -> Outcome:
    radius, chord = inputs.number("radius_in", above=0), inputs.number("chord_in", least=0)
    if chord > 2 * radius:
        raise BadInput("chord_in", f"{shown(chord)} is above twice the radius; no such chord exists")
    return Outcome(
        "arc = 2 R asin(chord / 2 R)", "plane geometry", {"arc_in": photo_length.arc(float(radius), float(chord))}
    )


_DRAWS_MOST, _SEED_MOST = 20000, 2**63


def _points(inputs: Inputs, key: str, count: int) -> list[tuple[float, float]]:
    points = []
    for item in inputs.objects(key):
        item.only(("x_px", "y_px"))
        points.append((float(item.number("x_px")), float(item.number("y_px"))))
    if len(points) != count:
        raise BadInput(key, f"{len(points)} points; give exactly {count}")
    return points


def _at_most(inputs: Inputs, key: str, least: int, most: int, default: int) -> int:
    if not inputs.has(key):
        return default
    value = inputs.whole(key, least=least)
    if value > most:
        raise BadInput(key, f"{value} is not possible; it must not be above {most}")
    return value


def _card_length(inputs: Inputs) -> Outcome:
    width, height = inputs.number("card_width_in", above=0), inputs.number("card_height_in", above=0)
    corners, ends = _points(inputs, "corners", 4), _points(inputs, "ends", 2)
    if not photo_length.are_convex(corners):
        raise BadInput(
            "corners", "they do not go round a card; give them in order round it, beginning at its first edge"
        )
    picture = photo_length.Picture(
        (corners[0], corners[1], corners[2], corners[3]), (ends[0], ends[1]), float(width), float(height)
    )
    corner_noise = float(inputs.number("corner_noise_px", least=0)) if inputs.has("corner_noise_px") else 0.0
    end_noise = float(inputs.number("end_noise_px", least=0)) if inputs.has("end_noise_px") else 0.0
    draws = _at_most(inputs, "draws", 2, _DRAWS_MOST, published.DRAWS.value)
    seed = _at_most(inputs, "seed", 0, _SEED_MOST, 1)
    result: Result = {
        "length_in": picture.length,
        "simple_length_in": picture.simple_length,
        "is_outside_card": picture.is_outside,
    }
    if corner_noise or end_noise:
        spread = photo_length.scatter(picture, corner_noise, end_noise, draws, seed)
        result |= {"sd_in": spread.sd, "low_in": spread.low, "high_in": spread.high}
    if inputs.has("radius_in"):
        radius = inputs.number("radius_in", above=0)
        if picture.length > 2 * radius:
            raise BadInput("radius_in", f"{shown(radius)} is less than half the length found; correct it")
        result["arc_in"] = photo_length.arc(float(radius), picture.length)
    return Outcome(
        "the card's four corners fix the map from picture to plane (homography); the ends are mapped and their distance "
        "taken; spread by Monte Carlo of normally scattered clicks, 2.5 % to 97.5 %; with a radius, along the curve",
        "projective geometry (P. Heckbert 1989); the card must lie in the plane of the mark, and an end off the card is "
        "stretched beyond the points that fix the map. Recorded beside the length by scale; the larger counts",
        result,
    )


def _clock_angles(inputs: Inputs) -> Outcome:
    angles = inputs.numbers("angles_deg")
    if not angles:
        raise BadInput("angles_deg", "no angles; give at least one")
    found = clock_angles.gathering([float(angle % Fraction(360)) for angle in angles])
    return Outcome(
        "mean direction and length R of the mean of unit vectors; p of Rayleigh's test: the chance of so strong a gathering "
        "if the angles were spread evenly (mean is null where the angles cancel)",
        "J. H. Zar, Biostatistical Analysis, circular distributions",
        {"count": len(angles), "mean_deg": found.mean, "resultant": found.resultant, "rayleigh_p": found.p},
    )


COMPUTATIONS = {
    "group": Computation(
        ("marks", "gap_in", "count", "straightness_in"),
        ("ratio_inclusive",),
        _group,
        '{"marks": [{"x_in": 1, "y_in": 2, "length_in": 0.03, "width_in": 0.03}, '
        '{"x_in": 1.078, "y_in": 2.004, "length_in": 0.03, "width_in": 0.03}], '
        '"gap_in": 0.0625, "count": 4, "straightness_in": 0.010}',
        "rounded marks in line, read as one",
    ),
    "join-lines": Computation(
        ("marks", "angle_deg"),
        ("gap_in",),
        _join_lines,
        '{"marks": [{"x1_in": 0, "y1_in": 0, "x2_in": 0.10, "y2_in": 0}, '
        '{"x1_in": 0.15, "y1_in": 0.005, "x2_in": 0.22, "y2_in": 0.005}], "angle_deg": 10}',
        "linear marks in one line with small gaps, read as one (gap_in in place of the shorter's length)",
    ),
    "arc": Computation(
        ("radius_in", "chord_in"),
        (),
        _arc,
        '{"radius_in": 1.125, "chord_in": 1.2}',
        "length along a journal over a straight distance",
    ),
    "card-length": Computation(
        ("card_width_in", "card_height_in", "corners", "ends"),
        ("corner_noise_px", "end_noise_px", "draws", "seed", "radius_in"),
        _card_length,
        '{"card_width_in": 1, "card_height_in": 0.5, "corners": [{"x_px": 412, "y_px": 388}, {"x_px": 1195, "y_px": 341}, '
        '{"x_px": 1222, "y_px": 742}, {"x_px": 436, "y_px": 771}], "ends": [{"x_px": 618, "y_px": 902}, '
        '{"x_px": 905, "y_px": 861}]}',
        "length of a mark beside a flat card of known size, from points in a picture (corners in order round the card)",
    ),
    "clock-angles": Computation(
        ("angles_deg",),
        (),
        _clock_angles,
        '{"angles_deg": [165, 158, 172, 161]}',
        "where around a part marks gather, and whether chance would do",
    ),
}
