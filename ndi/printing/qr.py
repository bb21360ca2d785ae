"""QR codes in squares of ink: whole printer dots, with the quiet zone that scanners need."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ndi.printing.page import WHITE, PageMarks

QUIET = 4  # modules, ISO/IEC 18004
DOT = 0.125  # a dot of a 203 dpi printer, nearly; modules are whole dots, so that none comes out thinner


def draw_qr(marks: PageMarks, text: str, left: float, top: float, box: float) -> float:
    """Draws the code in the middle of a square ``box`` of millimetres with its quiet zone; returns its side."""
    matrix = qr_modules(text)
    modules = len(matrix) + 2 * QUIET
    module = int(box / modules / DOT) * DOT
    side = modules * module
    left, top = left + (box - side) / 2, top + (box - side) / 2
    marks.box(left, top, side, side, fill=WHITE, edge=None)
    runs = [
        (left + (QUIET + begin) * module, top + (QUIET + number) * module, length * module)
        for number, row in enumerate(matrix)
        for begin, length in dark_runs(row)
    ]
    marks.squares(runs, module)
    return side


def qr_modules(text: str) -> list[list[bool]]:
    """Rows of modules, dark is true, without the quiet zone.

    Error correction is at least level M (ISO/IEC 18004) and as high as the size that M needs allows: a tag gets oil on it.
    """
    import zxingcpp  # here, because most runs print nothing

    def made(level: str) -> list[list[bool]]:
        code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level=level)
        image: Any = zxingcpp.write_barcode_to_image(code, add_quiet_zones=False)  # a buffer of bytes, 0 is dark
        rows: Any = memoryview(image).tolist()
        return [[module == 0 for module in row] for row in rows]

    best = made("M")
    for level in ("Q", "H"):
        better = made(level)
        if len(better) > len(best):
            break
        best = better
    return best


def dark_runs(row: Iterable[int]) -> list[tuple[int, int]]:
    """Start and length of each run of dark modules."""
    runs: list[tuple[int, int]] = []
    for column, dark in enumerate(row):
        if dark and runs and sum(runs[-1]) == column:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        elif dark:
            runs.append((column, 1))
    return runs
