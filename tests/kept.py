"""The result of a slow proof, kept beside it: when, of which state of the tree, on what machine, and what it said."""

from __future__ import annotations

import os
import platform
import subprocess
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def commit() -> str:
    """The commit that is checked out, and whether files differ from it."""
    head = _git("rev-parse", "--short", "HEAD")
    changed = len(_git("status", "--porcelain").splitlines())
    return head if not changed else f"{head} and {changed} files changed since"


def keep(path: Path, title: str, facts: dict[str, str], lines: list[str]) -> None:
    """Write the file anew; ``commit`` is best given as it was when the proof began."""
    machine = f"{os.cpu_count()} cores, {platform.system()} {platform.machine()}, Python {platform.python_version()}"
    given = {"ended": f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC", "machine": machine, **facts}
    said = [f"# {title}", "", *(f"- {key}: {value}" for key, value in given.items()), "", "```text", *lines, "```", ""]
    path.write_text("\n".join(said), encoding="utf-8")


def _git(*words: str) -> str:
    done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=False)
    return done.stdout.strip() or "not known"
