"""Reads a PDF back with pypdfium2, a renderer that shares nothing with the writer."""

from __future__ import annotations

import ctypes
import functools
import itertools
from dataclasses import dataclass
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pypdfium2.raw as pdfium  # type: ignore[import-untyped]

MM = 72 / 25.4


@dataclass(frozen=True)
class Glyph:
    """A printed character: baseline origin and ink box in points from the bottom left, and how it is turned."""

    char: str
    x: float
    baseline: float
    left: float
    bottom: float
    right: float
    top: float
    angle: float


@functools.lru_cache(maxsize=64)
def page_glyphs(pdf: bytes, page: int = 0) -> list[Glyph]:
    """Every character of a page that is not a blank made up by the reader."""
    document = pypdfium2.PdfDocument(pdf)
    text: Any = document[page].get_textpage()
    glyphs = []
    for index in range(text.count_chars()):
        if pdfium.FPDFText_IsGenerated(text.raw, index) == 1:
            continue
        x, y = ctypes.c_double(), ctypes.c_double()
        pdfium.FPDFText_GetCharOrigin(text.raw, index, x, y)
        left, bottom, right, top = text.get_charbox(index)
        char = chr(pdfium.FPDFText_GetUnicode(text.raw, index))
        angle = pdfium.FPDFText_GetCharAngle(text.raw, index)
        glyphs.append(Glyph(char, x.value, y.value, left, bottom, right, top, angle))
    document.close()
    return glyphs


def level(glyphs: list[Glyph]) -> list[Glyph]:
    """Without the mark that runs across the page."""
    return [glyph for glyph in glyphs if glyph.angle == 0]


def baselines(glyphs: list[Glyph]) -> list[list[Glyph]]:
    """Characters that share a baseline, from the top of the page down, each line from left to right."""
    ordered = sorted(glyphs, key=lambda glyph: (-round(glyph.baseline, 1), glyph.x))
    return [list(line) for _, line in itertools.groupby(ordered, key=lambda glyph: round(glyph.baseline, 1))]


def line_text(line: list[Glyph]) -> str:
    """The line as a person copies it: a gap between two runs is one blank."""
    text = line[0].char
    for before, after in itertools.pairwise(line):
        if after.x - before.right > 4 and not text.endswith(" ") and after.char != " ":
            text += " "
        text += after.char
    return text.strip()


def printed_lines(pdf: bytes, page: int = 0) -> list[str]:
    """The lines of a page, top to bottom."""
    return [text for line in baselines(level(page_glyphs(pdf, page))) if (text := line_text(line))]


def words(pdf: bytes) -> str:
    """All text of all pages in reading order, blanks folded."""
    document = pypdfium2.PdfDocument(pdf)
    pages = range(len(document))
    document.close()
    return " ".join(" ".join(" ".join(printed_lines(pdf, page)) for page in pages).split())


def page_count(pdf: bytes) -> int:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return len(document)
    finally:
        document.close()


def picture(pdf: bytes, dpi: int, page: int = 0) -> Any:
    """A page as a grey picture, as a printer of that resolution would draw it."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return document[page].render(scale=dpi / 72).to_pil().convert("L")
    finally:
        document.close()


def page_size_mm(pdf: bytes) -> tuple[float, float]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        width, height = document[0].get_size()
        return round(width / MM, 1), round(height / MM, 1)
    finally:
        document.close()
