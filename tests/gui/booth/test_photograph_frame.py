"""What is read off a picture is shown before it is attached, and another part's is refused; real keys, a card in the frame."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from ndi.cli.inbox import Inbox
from ndi.gui.presenters.booth.outside import Outside
from ndi.gui.presenters.scene import Said, Side
from tests.gui.booth.test_light import MOST_OTHER
from tests.gui.booth.test_photograph import OTHER_ROD, ROD, TAKEN, attached, put, to_photograph
from tests.gui.booth.test_sizes import faults
from tests.gui.screens import most_green_or_blue, picture
from tests.gui.window import Window
from tests.photo import picture_files, scene


def card_of(part: str | None) -> bytes:
    chance = np.random.default_rng(1)
    camera = scene.over("M", chance, (1600, 1200), tilt=15)
    exif = Image.Exif()
    exif.get_ifd(picture_files.EXIF_IFD)[picture_files.ORIGINAL_TIME] = TAKEN
    grey = scene.photograph("M", camera, chance, code=None if part is None else f"part:{part}")
    return scene.saved(grey, "JPEG", quality=90, exif=exif.tobytes())


def frame_of(w: Window) -> str:
    (side,) = [part for part in w.scene.parts if isinstance(part, Side)]
    return next(part.text for part in side.left if isinstance(part, Said) and part.heading == "In the frame")


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (ROD, "the code of this part; scale card M, 4 of 4 marks"),
        (None, "no code of a part; scale card M, 4 of 4 marks"),
        (OTHER_ROD, f"NOT THIS PART: a code names part {OTHER_ROD}; scale card M, 4 of 4 marks"),
    ],
)
def test_frame_is_told_before_the_picture_is_attached(
    window: Callable[..., Window], tmp_path: Path, part: str | None, words: str
) -> None:
    put(tmp_path / "camera", "a.jpg", card_of(part))
    w = to_photograph(window("09:24", outside=Outside(photo_files=Inbox(tmp_path / "camera").files)))
    w.key("1")
    assert frame_of(w) == words
    assert faults(w) == [] and most_green_or_blue(picture()) <= MOST_OTHER
    w.key("1", "3", "enter")
    if part == OTHER_ROD:
        assert w.scene.name == "photograph" and "a code in the frame of this photograph names" in w.scene.message
        assert attached(w) == []
        return
    (fact,) = attached(w)
    assert fact.card == "M" and fact.codes_read == (() if part is None else (f"part:{ROD}",))


def test_nothing_is_shown_without_a_card(window: Callable[..., Window], tmp_path: Path) -> None:
    content: Any = picture_files.picture("one", size=(80, 60), taken=TAKEN)
    put(tmp_path / "camera", "a.jpg", content)
    w = to_photograph(window("09:24", outside=Outside(photo_files=Inbox(tmp_path / "camera").files)))
    w.key("1")
    assert frame_of(w) == "no code of a part; no scale card"
