"""Pictures of indications and of what looks like them, made from known truth; nothing here knows how they are looked for.

Cracks wander and swell, pores are round, lint curls and glows blue-white,
scratches are straight and thin, background fluorescence is a soft glow, drips
run down broad and soft-edged.  The part's ground has machining marks, uneven
light and the scatter of a camera.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

Array = Any
CRACK, PORE = "crack", "pore"
STRANGERS = ("lint", "scratch", "background", "drip")


@dataclass(frozen=True)
class Truth:
    """One thing that was drawn, and where: its middle line in pixels."""

    kind: str
    line: Array
    width: float


@dataclass(frozen=True)
class Made:
    colour: Array
    things: tuple[Truth, ...]


def made(look: str, chance: np.random.Generator, size: tuple[int, int] = (1200, 900)) -> Made:
    """A picture of ``fluorescent`` or ``dark`` indications with up to three of each kind."""
    width, height = size
    ground = _ground(look, chance, width, height)
    things: list[Truth] = []
    for kind, most in ((("background", 2)), ("drip", 1), ("scratch", 2), ("lint", 2), (PORE, 3), (CRACK, 2)):
        for _ in range(int(chance.integers(0, most + 1))):
            truth = _thing(kind, chance, width, height)
            if kind in (CRACK, PORE) and any(
                _near(truth.line, other.line) for other in things if other.kind != "background"
            ):
                continue  # what lies on a drip or a fibre has no truth of its own
            ground = _drawn(ground, truth, look, chance)
            things.append(truth)
    ground = cv2.GaussianBlur(ground, (0, 0), float(chance.uniform(0.5, 1.4)))
    light = float(chance.uniform(0.6, 1.0))
    levels = ground * light + chance.normal(0, float(chance.uniform(1, 9)), ground.shape)
    return Made(np.clip(levels, 0, 255).astype(np.uint8), tuple(things))


def _near(one: Array, other: Array) -> bool:
    return bool(np.min(np.linalg.norm(one[:, None] - other[None], axis=2)) < 45)


def _ground(look: str, chance: np.random.Generator, width: int, height: int) -> Array:
    rows, columns = np.mgrid[0:height, 0:width].astype(np.float32)
    turn = chance.uniform(0, np.pi)
    lathe = np.sin((columns * np.cos(turn) + rows * np.sin(turn)) * chance.uniform(0.3, 1.0))
    slope = (
        1 + 0.5 * chance.uniform(-1, 1) * (columns / width - 0.5) + 0.5 * chance.uniform(-1, 1) * (rows / height - 0.5)
    )
    rough = cv2.GaussianBlur(chance.normal(0, 1, (height, width)).astype(np.float32), (0, 0), 2.0) * 6
    if look == "fluorescent":
        base = np.array([14, 12, 46], np.float32)  # red, green, blue: UV-A light that the camera still sees
        tone = (1 + 0.15 * lathe[..., None] + 0.04 * rough[..., None]) * slope[..., None]
        return base * tone
    base = np.array([212, 211, 205], np.float32)
    return base * slope[..., None] + (2.0 * lathe + 1.0 * rough)[..., None]


def _wander(chance: np.random.Generator, start: Array, length: float, bend: float) -> Array:
    count = max(4, int(length / 6))
    turns = chance.uniform(0, 2 * np.pi) + np.cumsum(chance.normal(0, bend, count))
    steps = np.column_stack([np.cos(turns), np.sin(turns)]) * length / count
    return np.vstack([start, start + np.cumsum(steps, axis=0)])


def _thing(kind: str, chance: np.random.Generator, width: int, height: int) -> Truth:
    start = np.array([chance.uniform(0.12, 0.88) * width, chance.uniform(0.12, 0.88) * height])
    match kind:
        case "crack":
            return Truth(
                kind,
                _inside(_wander(chance, start, chance.uniform(40, 200), 0.12), width, height),
                chance.uniform(1, 5),
            )
        case "pore":
            size = chance.uniform(2.5, 12)
            aside = np.array([size / 4, 0])
            return Truth(kind, np.vstack([start - aside, start + aside]), size)
        case "lint":
            return Truth(
                kind,
                _inside(_wander(chance, start, chance.uniform(60, 220), 0.35), width, height),
                chance.uniform(1, 2.2),
            )
        case "scratch":
            return Truth(
                kind,
                _inside(_wander(chance, start, chance.uniform(150, 400), 0.0), width, height),
                chance.uniform(1, 2),
            )
        case "background":
            return Truth(kind, start[None], chance.uniform(60, 160))
    run = np.column_stack([np.full(30, start[0]), np.linspace(start[1], min(height * 0.95, start[1] + 300), 30)])
    return Truth(kind, run, chance.uniform(10, 60))


def _inside(line: Array, width: int, height: int) -> Array:
    shift = np.clip(line, [8, 8], [width - 8, height - 8])
    return shift


# how bright each thing is: red, green, blue, and the share of its strength
_GLOW = {
    "crack": ((140, 255, 70), (0.07, 1.0)),
    "pore": ((140, 255, 70), (0.07, 1.0)),
    "lint": ((150, 200, 255), (0.3, 0.9)),
    "scratch": ((60, 110, 60), (0.05, 0.5)),  # it holds a little penetrant
    "background": ((60, 110, 30), (0.2, 0.6)),
    "drip": ((90, 170, 45), (0.25, 0.7)),
}
_DYE = {
    "crack": ((60, 150, 150), (0.1, 1.0)),
    "pore": ((60, 150, 150), (0.1, 1.0)),
    "lint": ((40, 42, 48), (0.3, 0.8)),
    "scratch": ((30, 55, 55), (0.1, 1.0)),
    "background": ((8, 46, 46), (0.3, 0.9)),
    "drip": ((16, 80, 80), (0.3, 0.9)),
}


def _drawn(ground: Array, truth: Truth, look: str, chance: np.random.Generator) -> Array:
    mask = np.zeros(ground.shape[:2], np.float32)
    points = np.round(truth.line * 16).astype(np.int32)
    if truth.kind == "background":
        cv2.circle(mask, tuple(int(v) for v in truth.line[0]), round(truth.width / 2), 1.0, -1)
        mask = cv2.GaussianBlur(mask, (0, 0), truth.width / 3)
    elif truth.kind == "pore":
        middle = tuple(int(v) for v in np.round(truth.line.mean(axis=0) * 16))
        cv2.circle(mask, middle, round(truth.width * 8), 1.0, -1, cv2.LINE_AA, shift=4)
    elif truth.kind == "crack":  # it swells and thins out along its way
        swell = truth.width * (0.7 + 0.6 * chance.random(len(points)))
        for a, b, wide in zip(points, points[1:], swell, strict=False):
            cv2.line(
                mask, tuple(map(int, a)), tuple(map(int, b)), 1.0, max(1, round(float(wide))), cv2.LINE_AA, shift=4
            )
    else:
        cv2.polylines(mask, [points], False, 1.0, max(1, round(truth.width)), cv2.LINE_AA, shift=4)
        if truth.kind == "drip":
            mask = cv2.GaussianBlur(mask, (0, 0), truth.width / 8)
    mask = np.clip(mask if mask.max() <= 1 else mask / mask.max(), 0, 1)
    if truth.kind in (CRACK, PORE):
        mask = np.maximum(mask, 0.25 * cv2.GaussianBlur(mask, (0, 0), 3.0))  # bleed-out
    tone, (least, most) = (_GLOW if look == "fluorescent" else _DYE)[truth.kind]
    strength = float(np.exp(chance.uniform(np.log(least), np.log(most))))  # faint ones are as many as bright ones
    amount = mask[..., None] * np.array(tone, np.float32) * strength
    return ground + amount if look == "fluorescent" else ground - amount
