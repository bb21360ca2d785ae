"""Serial guard against rapidfuzz (optimal string alignment distance of another author)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from ndi.calc.serial_guard import difference, distance, near

serials = st.text(alphabet="6HC-01OI358", max_size=9)


@given(serials, serials)
def test_distance_is_rapidfuzz_osa(typed, known):
    assert distance(typed, known) == OSA.distance(typed, known)


@given(st.text(max_size=6), st.text(max_size=6))
def test_distance_of_any_text_is_rapidfuzz_osa(typed, known):
    assert distance(typed, known) == OSA.distance(typed, known)


@given(serials, st.lists(serials, max_size=8), st.integers(min_value=0, max_value=3))
def test_near_is_a_filtered_and_sorted_scan(typed, known, most):
    scan = {(OSA.distance(typed, serial), serial) for serial in known}
    assert near(typed, known, most) == [(serial, edits) for edits, serial in sorted(scan) if edits <= most]


def test_distance_restricted_alignment_edits_nothing_twice():
    """CA to ABC: 2 in the unrestricted Damerau distance, 3 in the restricted one."""
    assert distance("CA", "ABC") == 3


def test_near_swapped_neighbours_are_one_edit():
    assert near("6H-C-3319", ["6H-C-3391", "6H-C-4400"]) == [("6H-C-3391", 1)]


@pytest.mark.parametrize(
    ("typed", "known", "words"),
    [
        ("6H-20147", "6H-20147", "no difference"),
        ("6H-20147", "6H-20417", "two characters swapped"),
        ("6H-20147", "6H-20149", "one character differs"),
        ("6H-2014", "6H-20147", "one character missing"),
        ("6H-201477", "6H-20147", "one character too many"),
        ("6H-20199", "6H-20147", "two characters differ"),
        ("H-2014", "6H-20147", "two characters missing"),
        ("6H-01472", "6H-20147", "one character missing, one character too many"),
        ("H6-20417", "6H-20147", "two characters swapped in two places"),
        ("6H-2O147", "6H-20147", "one character differs (O typed for 0)"),
        ("8H-20I47", "BH-20147", "two characters differ (8 typed for B, I typed for 1)"),
    ],
)
def test_difference_in_words(typed, known, words):
    assert difference(typed, known) == words


@given(serials, serials)
def test_difference_says_none_only_for_equal_texts(typed, known):
    assert (difference(typed, known) == "no difference") == (typed == known)
