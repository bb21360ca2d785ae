"""Every booth screen by its name."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from ndi.gui.presenters.booth.screen import Screen

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

# name -> module and class; modules are loaded when their screen is first opened
SCREENS: dict[str, tuple[str, str]] = {
    "board": ("board", "Board"),
    "call": ("call", "Call"),
    "check in": ("check_in", "CheckIn"),
    "record": ("record", "RecordScreen"),
    "red line": ("red_line", "RedLine"),
    "viewing": ("viewing", "Viewing"),
    "decision": ("decision", "Decision"),
    "rework": ("rework", "ReworkScreen"),
    "signing": ("signing", "Signing"),
    "tag": ("tag", "TagScreen"),
    "reading": ("reading", "Reading"),
    "sample": ("sample", "Sample"),
    "line": ("line", "Line"),
    "lunch": ("lunch", "Lunch"),
    "indication": ("indication", "IndicationScreen"),
    "evidence": ("evidence", "Evidence"),
    "second look": ("second_look", "SecondLookScreen"),
    "photograph": ("photograph", "Photograph"),
    "camera clock": ("camera_clock", "CameraClock"),
}


def make(name: str, booth: Booth, **about: Any) -> Screen:
    """A new screen; ``about`` says what of (a record, a basket, a part)."""
    module, cls = SCREENS[name]
    screen: Screen = getattr(import_module(f"ndi.gui.presenters.booth.{module}"), cls)(booth, **about)
    return screen
