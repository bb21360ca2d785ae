"""Candidates in pictures of known truth: how many cracks and pores are proposed, and what else is, picture by picture."""

from __future__ import annotations

from collections import Counter

import cv2
import numpy as np

from ndi.photo import candidates as proposing
from ndi.services.picture_ports import Proposed
from tests.bench.measures import Line, turns
from tests.photo.indications import CRACK, PORE, STRANGERS, Truth, made

PICTURES = 100
FIRST = 50_000  # seeds that nothing was tried on
_NEAR = 6  # pixels


def touches(thing: Truth, found: Proposed) -> bool:
    """Whether a proposal lies on a thing that was drawn."""
    reach = thing.width / 2 + _NEAR
    return any(
        float(np.linalg.norm(thing.line[:, None] - np.asarray(points)[None], axis=2).min()) < reach
        for points in (found.outline, found.line)
    )


def candidates() -> list[Line]:
    """One line for each look."""
    return [_counted(look) for look in proposing.LOOKS]


def _counted(look: str) -> Line:
    drawn: Counter[str] = Counter()
    hit: Counter[str] = Counter()
    false: Counter[str] = Counter()
    linear = 0
    for number in range(PICTURES):
        picture = made(look, np.random.default_rng(FIRST + number))
        found = proposing.propose(picture.colour, look)
        true: set[int] = set()
        for thing in (each for each in picture.things if each.kind in (CRACK, PORE)):
            on_it = {n for n, each in enumerate(found) if touches(thing, each)}
            true |= on_it
            drawn[thing.kind] += 1
            hit[thing.kind] += bool(on_it)
            linear += thing.kind == CRACK and any(found[n].is_linear for n in on_it)
        for n, each in enumerate(found):
            if n not in true:
                owner = next((t.kind for t in picture.things if t.kind in STRANGERS and touches(t, each)), "nothing")
                false[owner] += 1
    calls = ", ".join(f"{kind} {false[kind] / PICTURES:.2f}" for kind in (*STRANGERS, "nothing"))
    note = (
        f"{PICTURES} pictures: {hit[CRACK]} of {drawn[CRACK]} cracks proposed ({linear} of them as linear), "
        f"{hit[PORE]} of {drawn[PORE]} pores; false calls per picture {sum(false.values()) / PICTURES:.2f} ({calls})"
    )
    colour = made(look, np.random.default_rng(FIRST)).colour
    ours, floor = turns(7, lambda: proposing.propose(colour, look), lambda: _bare(colour))
    return Line(f"candidates in a {look} picture of 1 MP", "picture", ours, floor, note=note)


def _bare(colour: np.ndarray) -> int:  # type: ignore[type-arg]
    """Smoothing, a level round each place, a threshold and its regions, by the picture library alone."""
    green = cv2.GaussianBlur(colour[..., 1], (0, 0), 0.9)
    small = cv2.resize(green, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    ground = cv2.resize(cv2.medianBlur(small, 13), green.shape[::-1], interpolation=cv2.INTER_LINEAR)
    _, mask = cv2.threshold(cv2.absdiff(green, ground), 8, 255, cv2.THRESH_BINARY)
    return cv2.connectedComponentsWithStats(mask)[0]
