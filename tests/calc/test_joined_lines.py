"""Joining of linear marks: hand cases on each limit, turning and shifting, and a plain search in floats as judge."""

import math
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi.calc.joined_lines import Stroke, join
from ndi.domain.errors import InputError

F = Fraction


def stroke(*numbers) -> Stroke:
    return Stroke(*(F(str(n)) for n in numbers))


def members(strokes, angle=10, gap=None):
    return [group.members for group in join(strokes, F(str(angle)), None if gap is None else F(str(gap)))]


LONG = stroke(0, 0, "0.10", 0)


@pytest.mark.parametrize(("start", "together"), [("0.169", True), ("0.17", True), ("0.1701", False)])
def test_join_gap_up_to_the_shorter(start, together):
    """Gap 0.07 is the length of the shorter: at the limit is within it."""
    other = stroke(start, 0, F(start) + F("0.07"), 0)
    assert members([LONG, other]) == ([(0, 1)] if together else [(0,), (1,)])


def test_join_length_runs_from_farthest_end_to_farthest_end():
    (group,) = join([stroke("0.15", 0, "0.22", 0), LONG], F(10))
    assert float(group.extent) == 0.22 and group.extent == F("0.22")


@pytest.mark.parametrize(("gap", "together"), [("0.04", False), ("0.05", True)])
def test_join_given_gap_takes_the_place_of_the_shorter(gap, together):
    assert (len(members([LONG, stroke("0.15", 0, "0.22", 0)], gap=gap)) == 1) is together


@pytest.mark.parametrize(("angle", "together"), [(45, True), ("44.999999999", False), (46, True)])
def test_join_angle_exactly_on_the_limit(angle, together):
    """A second mark that leaves the first one's end at 45 degrees; the way between the middles lies between."""
    assert (len(members([LONG, stroke("0.10", 0, "0.17", "0.07")], angle)) == 1) is together


@pytest.mark.parametrize("angle", [30, 60])
def test_join_sixth_of_a_turn_is_compared_exactly(angle):
    # tan 30 is irrational: marks just inside and just outside of it
    rise = math.tan(math.radians(angle))
    for factor, together in ((F(999999999, 10**9), True), (F(1000000001, 10**9), False)):
        other = Stroke(F("0.10"), F(0), F("0.17"), F("0.07") * F(rise) * factor)
        assert (len(members([LONG, other], angle, 1)) == 1) is together


def test_join_side_by_side_is_not_in_line():
    assert members([LONG, stroke(0, "0.01", "0.10", "0.01")]) == [(0,), (1,)]
    assert members([LONG, stroke(0, "0.01", "0.10", "0.01")], 90) == [(0, 1)]


def test_join_chain_goes_through_the_middle_one():
    chain = [LONG, stroke("0.3", 0, "0.4", 0), stroke("0.15", 0, "0.25", 0)]
    assert members(chain) == [(0, 1, 2)]
    assert members(chain[:2]) == [(0,), (1,)]


def test_join_same_mark_twice_and_none():
    assert members([LONG, LONG], 0) == [(0, 1)]
    assert members([]) == []


@pytest.mark.parametrize(
    ("strokes", "angle", "gap"),
    [([LONG], 91, None), ([LONG], -1, None), ([LONG], 5, -1), ([stroke(1, 1, 1, 1)], 5, None)],
)
def test_join_impossible_inputs(strokes, angle, gap):
    with pytest.raises(InputError):
        members(strokes, angle, gap)


places = st.integers(0, 12).map(lambda n: F(n, 20))
strokes = st.tuples(places, places, places, places).map(lambda p: Stroke(*p)).filter(lambda s: s.square > 0)
several = st.lists(strokes, min_size=1, max_size=6)
ANGLES = st.sampled_from([F(0), F(5), F(10), F("22.5"), F(45), F(60), F(90)])
GAPS = st.sampled_from([None, F(0), F(1, 10), F(1, 4)])


@settings(max_examples=150, deadline=None)
@given(several, ANGLES, GAPS, st.sampled_from([(3, 4, 5), (5, 12, 13), (-8, 15, 17)]), places, places)
def test_join_does_not_change_when_turned_shifted_and_ends_swapped(marks, angle, gap, turn, dx, dy):
    a, b, c = (F(n) for n in turn)

    def moved(x, y):
        return (a * x - b * y) / c + dx, (b * x + a * y) / c + dy

    other = [Stroke(*moved(m.x2, m.y2), *moved(m.x1, m.y1)) for m in marks]
    found, again = join(marks, angle, gap), join(other, angle, gap)
    assert [(g.members, g.extent.square) for g in found] == [(g.members, g.extent.square) for g in again]


def plain(marks, angle, gap):
    """Groups by a search in floats; None where a comparison is too near to call."""
    reach = {i: {i} for i in range(len(marks))}
    near = False

    def between(one, other):
        size = math.hypot(*one) * math.hypot(*other)
        return 0.0 if size == 0 else math.degrees(math.acos(min(1, abs(one[0] * other[0] + one[1] * other[1]) / size)))

    for i, j in combinations(range(len(marks)), 2):
        p, q = ([tuple(map(float, e)) for e in marks[k].ends] for k in (i, j))
        distance = min(math.dist(a, b) for a in p for b in q)
        allowed = min(math.dist(*p), math.dist(*q)) if gap is None else float(gap)
        d, e = ((b[0] - a[0], b[1] - a[1]) for a, b in (p, q))
        way = tuple(float(b - a) for a, b in zip(marks[i].middle, marks[j].middle, strict=True))
        worst = max(between(d, e), between(d, way), between(e, way))
        near |= abs(distance - allowed) < 1e-9 or abs(worst - float(angle)) < 1e-5
        if distance <= allowed and worst <= angle:
            merged = reach[i] | reach[j]
            for k in merged:
                reach[k] = merged
    return None if near else sorted({tuple(sorted(group)) for group in reach.values()})


@settings(max_examples=200, deadline=None)
@given(several, ANGLES, GAPS)
def test_join_agrees_with_a_plain_search(marks, angle, gap):
    expected = plain(marks, angle, gap)
    if expected is not None:
        assert [group.members for group in join(marks, angle, gap)] == expected
