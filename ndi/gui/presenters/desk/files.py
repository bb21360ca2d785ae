"""Paths as a person types them: what could come next, and what lies in a folder; own lists, no dialog of the system."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

MOST = 200  # entries of a folder that are listed


@dataclass(frozen=True)
class FolderLine:
    name: str  # with a slash behind a folder
    path: str


def completed(typed: str) -> str:
    """The typed path as far as it can only go on in one way."""
    fitting = _fitting(typed)
    if not fitting:
        return typed
    common = _common([line.path for line in fitting])
    return common if len(common) > len(os.path.expanduser(typed)) else typed


def folder(typed: str, ending: str = "") -> tuple[FolderLine, ...]:
    """What could be meant: folders first, then files with this ending; hidden ones are left out."""
    lines = [line for line in _fitting(typed) if line.name.endswith("/") or line.name.lower().endswith(ending)]
    return tuple(sorted(lines, key=lambda line: (not line.name.endswith("/"), line.name.lower()))[:MOST])


def _fitting(typed: str) -> list[FolderLine]:
    path = os.path.expanduser(typed)
    place, start = os.path.split(path)
    try:
        with os.scandir(place or ".") as found:
            entries = [(entry.name, entry.is_dir()) for entry in found if entry.name.startswith(start)]
    except OSError:
        return []
    shown = [(name, is_dir) for name, is_dir in entries if not name.startswith(".") or start.startswith(".")]
    return [
        FolderLine(f"{name}/" if is_dir else name, os.path.join(place, name) + ("/" if is_dir else ""))
        for name, is_dir in shown
    ]


def parent(typed: str) -> str:
    """The folder above."""
    path = Path(os.path.expanduser(typed))
    above = path.parent if typed.endswith("/") or not path.is_dir() else path
    return f"{above}/".replace("//", "/")


def _common(texts: list[str]) -> str:
    """How far all of them begin alike, letter by letter."""
    least, most = min(texts), max(texts)
    same = next((n for n, letter in enumerate(least) if n >= len(most) or most[n] != letter), len(least))
    return least[:same]
