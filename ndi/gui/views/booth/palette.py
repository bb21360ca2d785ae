"""The few reds of the dark screen.  No green and no blue anywhere: those are the colours of an indication and of haze.

Text is bright enough for 4.5:1 on black by the formula of WCAG 2; only lines
and grounds are dimmer.
"""

from __future__ import annotations

BLACK = "#000000"
TEXT = "#f00000"
BRIGHT = "#ff0000"  # what is in hand, what is refused
LINE = "#5a0000"  # borders, outlines: nothing to be read
GROUND = "#140000"  # under a form field
SELECTED_TEXT = BLACK  # on a bright bar
FONT = "DejaVu Sans"

SCREEN_CD_M2 = 300.0  # a screen at full white, the bright end of common ones; common practice, no source
SCREEN_AREA_M2 = 0.159  # 24 inch diagonal
SCREEN_DISTANCE_M = 0.6
LX_PER_FC = 10.76391041670972  # 1 fc = 1 lm/ft2, 1 ft = 0.3048 m


def relative_luminance(red: float) -> float:
    """Of a pure red 0 to 255, by the formula of WCAG 2 (sRGB)."""
    share = red / 255
    linear = share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4
    return 0.2126 * linear


def red_of(colour: str) -> int:
    """The red of ``#rrggbb``."""
    return int(colour[1:3], 16)


def foot_candles(mean_luminance: float) -> float:
    """What a screen of this mean relative luminance adds on the part: L A / d2, small source on its axis."""
    return mean_luminance * SCREEN_CD_M2 * SCREEN_AREA_M2 / SCREEN_DISTANCE_M**2 / LX_PER_FC
