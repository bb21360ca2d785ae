"""A screen of its own for tests of the window, and what is measured on pictures of it."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from PIL import Image, ImageGrab


@contextmanager
def screen(size: str = "1366x768", dpi: int = 96) -> Iterator[str]:
    """An X server with one screen of 24 bit; DISPLAY names it while the block runs."""
    read, write = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{size}x24", "-dpi", str(dpi), "-nolisten", "tcp"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    before = os.environ.get("DISPLAY")
    try:
        with os.fdopen(read) as answer:
            name = f":{answer.readline().strip()}"
        os.environ["DISPLAY"] = name
        yield name
    finally:
        if before is None:
            os.environ.pop("DISPLAY", None)
        else:
            os.environ["DISPLAY"] = before
        server.terminate()
        server.wait(10)


def picture() -> Image.Image:
    """The whole screen as it is now."""
    return ImageGrab.grab(xdisplay=os.environ["DISPLAY"]).convert("RGB")


def most_green_or_blue(image: Image.Image) -> int:
    """The largest green or blue of any pixel, 0 to 255."""
    return int(np.asarray(image)[:, :, 1:].max())


def mean_luminance(image: Image.Image) -> float:
    """Mean relative luminance by the formula of WCAG 2 (sRGB; IEC 61966-2-1), from memory of its constants."""
    levels = np.arange(256) / 255
    linear = np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4)
    values = linear[np.asarray(image)]
    return float((values @ np.array([0.2126, 0.7152, 0.0722])).mean())


def keep(image: Image.Image, name: str) -> None:
    """Leave a picture in the folder that NDI_SHOTS names, for looking at; nothing happens without it."""
    folder = os.environ.get("NDI_SHOTS")
    if folder:
        path = Path(folder) / f"{name}.png"
        path.parent.mkdir(parents=True, exist_ok=True)
        image.save(path)
