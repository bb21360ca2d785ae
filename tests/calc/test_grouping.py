"""Grouping against an exhaustive search over all subsets and pairs, worked cases, and turns and shifts."""

from decimal import Decimal, getcontext
from fractions import Fraction
from itertools import combinations, pairwise, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi.calc.grouping import Mark, group_marks
from ndi.domain.errors import InputError


def pore(x, y, diameter):
    return Mark(Fraction(x), Fraction(y), Fraction(diameter), Fraction(diameter))


FIVE = [
    pore("1.000", "2.000", ".03"),
    pore("1.078", "2.004", ".03"),
    pore("1.150", "1.998", ".028"),
    pore("1.500", "2.000", ".03"),
    pore("1.090", "2.200", ".03"),
]
P2B = pore("1.2245", "2.000", ".03")
BESIDE = pore("1.114", "2.050", ".03")
RULE = {"gap": Fraction(1, 16), "count": 4, "straightness": Fraction("0.010")}


def shape(groups):
    return [(group.members, group.form) for group in groups]


def test_group_marks_three_in_line_stay_rounded():
    """Worked by a separate script: gaps 0.0481 and 0.0432, overall 0.179."""
    groups = group_marks(FIVE, **RULE)
    assert shape(groups) == [((0, 1, 2), "rounded"), ((3,), "rounded"), ((4,), "rounded")]
    assert f"{groups[0].length:.3f}" == "0.179"


def test_group_marks_four_in_line_are_linear():
    """Worked by a separate script: gap 0.0455, overall about 0.2545; centres 1.000 and 1.2245 on y = 2 give it exactly."""
    groups = group_marks([*FIVE, P2B], **RULE)
    assert shape(groups) == [((0, 1, 2, 5), "linear"), ((3,), "rounded"), ((4,), "rounded")]
    assert groups[0].extent == Fraction("0.2545")


def test_group_marks_a_mark_beside_the_row_does_not_break_it():
    groups = group_marks([*FIVE, P2B, BESIDE], **RULE)
    assert shape(groups)[0] == ((0, 1, 2, 5), "linear")
    assert shape(groups)[-1] == ((6,), "rounded")


@pytest.mark.parametrize(
    ("gaps", "row", "form"),
    [
        (("1.5", "1.5", "1.5"), (0, 1, 2, 3), "linear"),  # a7
        (("1.5", "1.5", "1.6"), (0, 1, 2), "rounded"),  # a8
        (("1.0", "1.0"), (0, 1, 2), "rounded"),  # a9
    ],
)
def test_group_marks_boundary_vectors_of_aligned_marks(gaps, row, form):
    """tests/data/pt-boundary-vectors.csv a7 to a9 (ASME VIII App. 8: 2 mm marks, edge gaps of 1.5 mm or less, four)."""
    centres = [Fraction(0)]
    for gap in gaps:
        centres.append(centres[-1] + 2 + Fraction(gap))
    groups = group_marks([pore(x, 0, 2) for x in centres], Fraction("1.5"), 4, Fraction("0.1"))
    assert shape(groups)[0] == (row, form)


@pytest.mark.parametrize(
    ("length", "width", "strict_form", "inclusive_form"),
    [
        ("4.5", "1.5", "rounded", "linear"),  # a3, D50: exactly 3 is where the two wordings differ
        ("4.51", "1.5", "linear", "linear"),  # a4
        ("4.49", "1.5", "rounded", "rounded"),
        ("3.1", "1.0", "linear", "linear"),  # D50
        ("1.2", "1.0", "rounded", "rounded"),  # D50
    ],
)
def test_group_marks_ratio_of_length_to_width(length, width, strict_form, inclusive_form):
    mark = Mark(Fraction(0), Fraction(0), Fraction(length), Fraction(width))
    for inclusive, form in ((False, strict_form), (True, inclusive_form)):
        (group,) = group_marks([mark], ratio_inclusive=inclusive, **RULE)
        assert (group.form, group.extent) == (form, Fraction(length))


def test_group_marks_linear_marks_stand_alone():
    crack = Mark(Fraction("1.04"), Fraction(2), Fraction("0.3"), Fraction("0.01"))
    assert shape(group_marks([*FIVE, P2B, crack], **RULE))[-1] == ((6,), "linear")


@pytest.mark.parametrize(("extra", "together"), [("0", True), ("1e-30", False), ("-1e-30", True)])
def test_group_marks_gap_is_exact_at_the_limit(extra, together):
    """3-4-5: centres 0.05 apart, not along an axis; a double cannot tell the cases apart."""
    marks = [pore(0, 0, "0.01"), pore("0.03", Fraction("0.04") + Fraction(extra), "0.01")]
    groups = group_marks(marks, Fraction("0.04"), 4, Fraction(0))
    assert (len(groups) == 1) == together


@pytest.mark.parametrize(("beside", "rows"), [("0.010", [(0, 1, 2)]), ("0.0100000000000000000001", [(0, 2), (1,)])])
def test_group_marks_straightness_is_exact_at_the_limit(beside, rows):
    """The middle mark lies beside the line of the outer two; on any other line the third lies farther off."""
    marks = [pore(0, 0, "0.03"), pore("0.05", beside, "0.001"), pore("0.10", 0, "0.03")]
    groups = group_marks(marks, Fraction("0.08"), 3, Fraction("0.010"))
    assert [group.members for group in groups] == rows
    assert groups[0].extent == Fraction("0.13")


def test_group_marks_outer_edges_are_the_outermost_not_the_last():
    """A large mark that hangs over the end of the row sets the row's end."""
    marks = [pore(0, 0, "0.02"), pore("0.05", 0, "0.08"), pore("0.06", 0, "0.01")]
    (group,) = group_marks(marks, **RULE)
    assert group.extent == Fraction("0.10")  # from -0.01 to 0.09


def test_group_marks_a_small_mark_inside_a_large_one_does_not_part_two_large_ones():
    """Lying inside its neighbour, the small one is far from the next; two that are near remain a row."""
    marks = [pore(0, 0, 2), pore("0.1", 0, "0.02"), pore("2.05", 0, 2)]
    groups = group_marks(marks, Fraction("0.06"), 2, Fraction("0.01"))
    assert shape(groups) == [((0, 2), "linear"), ((1,), "rounded")]


def test_group_marks_on_one_centre_are_one_row():
    marks = [pore(1, 1, "0.02"), pore(1, 1, "0.05")]
    (group,) = group_marks(marks, **RULE)
    assert group.members == (0, 1) and group.extent == Fraction("0.05")


def test_group_marks_of_nothing_is_nothing():
    assert group_marks([], **RULE) == []


@pytest.mark.parametrize(
    ("mark", "rule"),
    [
        (Mark(Fraction(0), Fraction(0), Fraction(0), Fraction(0)), {}),
        (Mark(Fraction(0), Fraction(0), Fraction(1), Fraction(2)), {}),
        (Mark(Fraction(0), Fraction(0), Fraction(1), Fraction(-1)), {}),
        (pore(0, 0, 1), {"gap": Fraction(-1)}),
        (pore(0, 0, 1), {"count": 1}),
        (pore(0, 0, 1), {"straightness": Fraction(-1)}),
        (pore(0, 0, 1), {"ratio": Fraction(0)}),
    ],
)
def test_group_marks_impossible_values_are_input_errors(mark, rule):
    with pytest.raises(InputError):
        group_marks([mark], **(RULE | rule))


# --- exhaustive search -----------------------------------------------------------------------------

getcontext().prec = 60


def _decimal(value):
    return Decimal(Fraction(value).numerator) / Decimal(Fraction(value).denominator)


def _gap_ok(one, other, gap):
    reach = gap + (one.length + other.length) / 2
    return (one.x - other.x) ** 2 + (one.y - other.y) ** 2 <= reach**2


def _orders(members, along):
    """Every order of the members that never goes back along the line."""
    levels = [list(permutations([m for m in members if along[m] == a])) for a in sorted({along[m] for m in members})]
    return [[m for part in choice for m in part] for choice in product(*levels)]


def _row_length(marks, members, gap, straightness):
    """The greatest length at which the set is a row on the line of two of its members, or None."""
    best = None
    for i, j in combinations(members, 2):
        a, b = marks[i], marks[j]
        dx, dy = b.x - a.x, b.y - a.y
        square = dx * dx + dy * dy
        if square == 0:
            continue
        beside = {m: dx * (marks[m].y - a.y) - dy * (marks[m].x - a.x) for m in members}
        along = {m: dx * (marks[m].x - a.x) + dy * (marks[m].y - a.y) for m in members}
        if any(value**2 > straightness**2 * square for value in beside.values()):
            continue
        for order in _orders(members, along):
            if all(_gap_ok(marks[one], marks[other], gap) for one, other in pairwise(order)):
                norm = _decimal(square).sqrt()
                right = max(_decimal(along[m]) / norm + _decimal(marks[m].length) / 2 for m in members)
                left = min(_decimal(along[m]) / norm - _decimal(marks[m].length) / 2 for m in members)
                best = right - left if best is None else max(best, right - left)
    if best is None and len({(marks[m].x, marks[m].y) for m in members}) == 1:
        return _decimal(max(marks[m].length for m in members))
    return best


def _exhaustive(marks, gap, straightness):
    """Rows by trying every subset, largest first; singles for the rest."""
    left, found = set(range(len(marks))), []
    while left:
        best = None
        for size in range(len(left), 1, -1):
            for members in combinations(sorted(left), size):
                length = _row_length(marks, members, gap, straightness)
                if length is not None and (best is None or length > best[0] + Decimal("1e-45")):
                    best = (length, members)
            if best:
                break
        if best is None:
            found += [((index,), _decimal(marks[index].length)) for index in left]
            break
        found.append((best[1], best[0]))
        left -= set(best[1])
    return sorted(found)


round_marks = st.builds(
    lambda x, y, d: pore(x, y, d),
    st.integers(0, 9).map(lambda n: Fraction(n, 3)),
    st.integers(0, 6).map(lambda n: Fraction(n, 3)),
    st.sampled_from([Fraction(1, 5), Fraction(1, 2), Fraction(1), Fraction(2)]),
)


@settings(max_examples=120, deadline=None)
@given(
    st.lists(round_marks, min_size=2, max_size=6),
    st.sampled_from([Fraction(0), Fraction(1, 4), Fraction(1, 2), Fraction(1)]),
    st.sampled_from([Fraction(0), Fraction(1, 10), Fraction(1, 4)]),
)
def test_group_marks_is_the_exhaustive_search(marks, gap, straightness):
    groups = group_marks(marks, gap, 3, straightness)
    expected = _exhaustive(marks, gap, straightness)
    assert [group.members for group in groups] == [members for members, _ in expected]
    for group, (members, length) in zip(groups, expected, strict=True):
        assert group.length == pytest.approx(float(length), rel=1e-12)
        assert group.form == ("linear" if len(members) >= 3 else "rounded")


# --- turning, mirroring, shifting, reordering ---------------------------------------------------------

angles = st.integers(1, 9).flatmap(lambda m: st.integers(0, m).map(lambda n: (m, n)))
scattered = st.lists(
    st.builds(
        lambda x, y, d: pore(x, y, d),
        st.integers(0, 400).map(lambda n: Fraction(n, 1000)),
        st.integers(0, 60).map(lambda n: Fraction(n, 1000)),
        st.integers(20, 40).map(lambda n: Fraction(n, 1000)),
    ),
    max_size=14,
)


@settings(max_examples=60, deadline=None)
@given(scattered, angles, st.booleans(), st.fractions(max_denominator=99, min_value=-9, max_value=9))
def test_group_marks_does_not_depend_on_turn_mirror_and_shift(marks, angle, mirrored, shift):
    """Turns by Pythagorean triples keep every coordinate rational, so the lengths stay exactly equal."""
    m, n = angle
    cos, sin = Fraction(m * m - n * n, m * m + n * n), Fraction(2 * m * n, m * m + n * n)
    flip = -1 if mirrored else 1
    turned = [
        Mark(cos * k.x - sin * flip * k.y + shift, sin * k.x + cos * flip * k.y - 2 * shift, k.length, k.width)
        for k in marks
    ]
    before, after = group_marks(marks, **RULE), group_marks(turned, **RULE)
    assert shape(before) == shape(after)
    assert all(one.extent == other.extent for one, other in zip(before, after, strict=True))


@settings(max_examples=60, deadline=None)
@given(scattered, st.randoms(use_true_random=False))
def test_group_marks_does_not_depend_on_the_order_of_the_marks(marks, random):
    """Where two rows are equal in count and length the lowest positions decide, so sizes and forms are compared."""
    shuffled = list(marks)
    random.shuffle(shuffled)
    first = max((len(group.members), group.length) for group in group_marks(marks, **RULE)) if marks else None
    again = max((len(group.members), group.length) for group in group_marks(shuffled, **RULE)) if marks else None
    assert first == again


def test_group_marks_golden_row_in_every_order():
    marks = [*FIVE, P2B]
    for order in permutations(range(6)):
        groups = group_marks([marks[index] for index in order], **RULE)
        found = {frozenset(order[index] for index in group.members) for group in groups}
        assert found == {frozenset({0, 1, 2, 5}), frozenset({3}), frozenset({4})}


@settings(max_examples=60, deadline=None)
@given(scattered)
def test_group_marks_every_mark_is_in_one_group(marks):
    members = [index for group in group_marks(marks, **RULE) for index in group.members]
    assert sorted(members) == list(range(len(marks)))
