"""Exactly on a limit, one step beyond it, and the whole sentence that a person reads where a value is impossible.

The edges are those of the sources that the modules name; the sentences are this project's own.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction as F
from typing import Any

import pytest

from ndi.calc.coil import NeedsExtensions, Setup, shot
from ndi.calc.dwell import ABSOLUTE_ZERO_F, OutsideTable, required_dwell
from ndi.domain.errors import InputError

PART = Setup(F(10), F(2), F(0), F(12), 5, "side")  # L/D 5, area ratio 36: low fill


def words(text: str) -> str:
    return f"^{re.escape(text)}$"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ((F(0), F(70), False), "base dwell 0 min: it must be above 0"),
        ((F(20), F(-460), False), "part temperature -460 F lies below absolute zero; read it again"),
        ((F(20), F(70), False, "upper"), "edge 'upper' is not known; use middle or longer"),
        ((F(20), F(70), False, "middle", F(40)), "cold_to 40 F: it lies between 40 and 100"),
        ((F(20), F(70), False, "middle", F(100)), "cold_to 100 F: it lies between 40 and 100"),
    ],
)
def test_dwell_says_what_is_wrong(given: tuple[Any, ...], said: str) -> None:
    with pytest.raises(InputError, match=words(said)):
        required_dwell(*given)


def test_absolute_zero_itself_is_a_temperature_outside_the_table() -> None:
    with pytest.raises(OutsideTable):
        required_dwell(F(20), ABSOLUTE_ZERO_F, False)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"length": F(0)}, "length_in 0: it must be above 0"),
        (
            {"id": F(3)},
            "id_in 3, od_in 2, coil_diameter_in 12: they must rise in this order, and id_in must not be below 0",
        ),
        ({"turns": 0}, "turns 0: a coil has at least 1"),
        ({"position": "above"}, "position 'above' is not known; use side or centred"),
    ],
)
def test_coil_says_what_is_wrong(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=words(said)):
        replace(PART, **changes)


def test_one_turn_is_a_coil() -> None:
    assert shot(replace(PART, turns=1), F(3)).amps == shot(PART, F(3)).amps * 5


@pytest.mark.parametrize(
    ("coil", "od", "fill"),
    [
        (F(10), F(10) / 4, "low"),  # area ratio 16
        (F(4), F(2), "intermediate"),  # 4
        (F(3), F(2), "intermediate"),  # 2.25
        (F(7), F(5), "high"),  # 1.96
    ],
)
def test_fill_by_areas(coil: F, od: F, fill: str) -> None:
    assert replace(PART, coil_diameter=coil, od=od).fill == fill


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ((F(0),), "floor 0: it must be above 0 and at most 15"),
        ((F(3), "area"), "rule 'area', high_plus 2: use fill class or length to diameter and a number above 0"),
        (
            (F(3), "fill class", F(0)),
            "rule 'fill class', high_plus 0: use fill class or length to diameter and a number above 0",
        ),
    ],
)
def test_shot_says_what_is_wrong(given: tuple[Any, ...], said: str) -> None:
    with pytest.raises(InputError, match=words(said)):
        shot(PART, *given)


def test_floor_as_high_as_the_ceiling_and_a_small_addition_are_possible() -> None:
    long = replace(PART, length=F(30))
    assert shot(long, F(15)).length_to_diameter == 15
    assert shot(long, F(3), high_plus=F(1)).ampere_turns > 0


def test_too_short_a_part_is_told_why_and_by_how_much() -> None:
    short = replace(PART, length=F(1), position="centred")
    with pytest.raises(NeedsExtensions) as refused:
        shot(short, F(1, 4))
    assert refused.value.limit == F(5, 6)
    assert "only above L/D 5/6" in refused.value.why and refused.value.why in str(refused.value)
    with pytest.raises(NeedsExtensions) as refused:
        shot(replace(PART, length=F(1)), F(2))
    assert refused.value.why and refused.value.why in str(refused.value)


def test_one_position_up_to_the_length_of_the_field_and_two_beyond() -> None:
    assert shot(replace(PART, length=F(12)), F(3)).positions == 1
    assert shot(replace(PART, length=F("12.001")), F(3)).positions == 2
