"""QR codes are read back by a reader that did not write them (OpenCV's detector), and keep their level of correction."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ndi.printing.qr import QUIET, qr_modules

TEXTS = (
    "T|W26-0148/T6-10101/R-7744|ACCEPT|K7Q2-9XPD",
    "P:L2-A",
    "W26-0148/T6-10301/LOT-148-RKR",
    "Größe 25 µm",
    "W26-0148" * 12,
)


@pytest.mark.parametrize("text", TEXTS)
def test_a_code_is_read_by_another_reader(text: str) -> None:
    modules = np.array(qr_modules(text), dtype=np.uint8)
    assert len(modules) == len(modules[0])
    picture = np.pad(255 - 255 * modules, QUIET, constant_values=255).repeat(6, axis=0).repeat(6, axis=1)
    found, _points, _ = cv2.QRCodeDetector().detectAndDecode(picture)
    assert found == text


@pytest.mark.parametrize("text", TEXTS)
def test_error_correction_is_at_least_level_m(text: str) -> None:
    """ISO/IEC 18004: the first two bits of the format information, under the mask 101010000010010, give the level."""
    row = qr_modules(text)[8]
    bits = (row[0] << 1 | row[1]) ^ 0b10
    assert bits in {0b00: "M", 0b11: "Q", 0b10: "H"}  # 0b01 is L
