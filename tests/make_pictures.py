"""Makes the pictures of the README from a replay of the day: ``python -m tests.make_pictures``.

Needs a monospaced font (default: DejaVu Sans Mono where Debian puts it).  What
is in the pictures is what the program printed; book id and codes differ in
every run, because every run makes a new book.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import textwrap
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
from PIL import Image, ImageDraw, ImageFont

ROOT = Path(__file__).resolve().parent.parent
FONT = Path("/usr/share/fonts/truetype/dejavu/DejaVuSansMono.ttf")
LARGEST = 150_000  # bytes of a picture
COLUMNS = 112
WINDOW = {"booth.png": "booth/1366-record, shot typed.png", "desk.png": "desk/1366x768-96/record-1.png"}
EVENTS = ("E11", "E15", "E20", "E30")  # those shown; the last with what follows it


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--font", type=Path, default=FONT)
    parser.add_argument("--out", type=Path, default=ROOT / "demo" / "pictures")
    parser.add_argument(
        "--shots", type=Path, help="pictures that a test run left (NDI_SHOTS): the window's are made from them"
    )
    args = parser.parse_args()
    args.out.mkdir(exist_ok=True)
    if args.shots is not None:
        for name, shot in WINDOW.items():
            with Image.open(args.shots / shot) as picture:
                small = picture.convert("RGB").resize((900, 506), Image.Resampling.LANCZOS)
                small.quantize(32).save(args.out / name, optimize=True)
        return
    with tempfile.TemporaryDirectory() as scratch:
        papers = Path(scratch)
        command = [sys.executable, "-m", "ndi", "demo", "--out", scratch]
        said = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
        pictures = {
            "tag.png": page(papers / "tag-LOT-148-RKR-reject.pdf", 600),
            "record.png": page(papers / "record-MT-012.pdf", 900),
            "day.png": terminal(shortened(said.replace(scratch, "out")), args.font),
        }
    for name, picture in pictures.items():
        path = args.out / name
        picture.quantize(48 if name == "day.png" else 12).save(path, optimize=True)
        assert path.stat().st_size < LARGEST, f"{name}: {path.stat().st_size} bytes"


def page(pdf: Path, width: int) -> Image.Image:
    """The first page, drawn large and brought down to a width in pixels."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        large = document[0].render(scale=4).to_pil().convert("L")
    finally:
        document.close()
    framed = Image.new("L", (large.width + 8, large.height + 8), 150)
    framed.paste(large, (4, 4))
    return framed.resize((width, round(framed.height * width / framed.width)), Image.Resampling.LANCZOS)


def shortened(said: str) -> list[str]:
    """What a terminal of 112 columns shows of a few events, and the end."""
    shown, is_shown = ["$ ndi demo --out out"], False
    for line in said.splitlines():
        if line[:1] == "E":
            was, is_shown = is_shown, line[:3] in EVENTS
            if was or shown[-1].startswith("$"):
                shown.append("...")
        if is_shown:
            shown += folded(line)
    return shown


def folded(line: str) -> list[str]:
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.wrap(line, COLUMNS, subsequent_indent=indent + " " * 10, drop_whitespace=True)


def terminal(lines: list[str], font: Path) -> Image.Image:
    """Lines as a terminal shows them; what is as expected in one shade, what the tool said in another."""
    face = ImageFont.truetype(str(font), 15)
    width, height = round(face.getlength("M") * COLUMNS) + 32, 20 * len(lines) + 28
    picture = Image.new("RGB", (width, height), (24, 26, 30))
    draw = ImageDraw.Draw(picture)
    for number, line in enumerate(lines):
        draw.text((16, 14 + 20 * number), line, font=face, fill=shade(line))
    return picture


def shade(line: str) -> tuple[int, int, int]:
    if line.strip() == "as expected" or line.endswith("expected answers"):
        return (130, 205, 140)
    if line[:1] in "E$":
        return (255, 255, 255)
    return (150, 155, 165) if line.lstrip().startswith("expected") else (205, 208, 214)


if __name__ == "__main__":
    main()
