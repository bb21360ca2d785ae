"""A draw that anybody can repeat: by the name of a thing and a share in percent."""

from __future__ import annotations

import hashlib
from fractions import Fraction

from ndi.domain.quantity import PERCENT


def is_drawn(name: str, share: Fraction) -> bool:
    """Whether ``name`` falls into a share of 0 to 100 percent; the same name always answers the same."""
    number = int.from_bytes(hashlib.sha256(name.encode()).digest(), "big")
    # the remainder by a million parts is even to far below what a share in percent can say
    return Fraction(number % 10**6, 10**6) < share / PERCENT
