"""Follows a page of the README literally: every shell block is run, every ``text`` block under one is what is typed."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from tests.begin.at_time import FILE, set_to

ROOT = Path(__file__).resolve().parents[2]
BEGIN = datetime.fromisoformat("2026-02-27 13:00").astimezone()  # until the page says another time
HEADING = "## Your own shop in an hour"
CODE_PLACE = "(the code that was shown)"
_BLOCK = re.compile(
    r"^```(?P<kind>sh|text)\n(?P<body>.*?)^```$|^<!-- clock (?P<clock>\d{4}-\d\d-\d\d \d\d:\d\d) -->$",
    re.MULTILINE | re.DOTALL,
)


@dataclass(frozen=True)
class Step:
    """One shell block, the answers to what it asks, and the time at which it is typed where the page gives one."""

    commands: str
    answers: tuple[str, ...]
    clock: datetime | None = None


def section(text: str) -> str:
    """The page from its heading to the next heading of the same level."""
    start = text.index(HEADING)
    end = re.search(r"^## ", text[start + len(HEADING) :], re.MULTILINE)
    return text[start : start + len(HEADING) + end.start()] if end else text[start:]


def steps(page: str) -> list[Step]:
    blocks = list(_BLOCK.finditer(page))
    found: list[Step] = []
    clock: datetime | None = None
    for block in blocks:
        if block["clock"]:
            clock = datetime.fromisoformat(block["clock"]).astimezone()  # of this machine, as a person reads it
        elif block["kind"] == "sh":
            found.append(Step(block["body"], (), clock))
            clock = None
        else:
            answers = tuple(line.rpartition(": ")[2] for line in block["body"].splitlines())
            found[-1] = replace(found[-1], answers=answers)
    return found


def environment(folder: Path, **more: str) -> Mapping[str, str]:
    """The machine's environment with an ``ndi`` of this tree in front."""
    tools = folder / ".tools"
    tools.mkdir(exist_ok=True)
    ndi = tools / "ndi"
    ndi.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m tests.begin.at_time "$@"\n')
    ndi.chmod(0o755)
    set_to(tools / "clock", BEGIN)
    return {
        **os.environ,
        "PATH": f"{tools}:{os.environ['PATH']}",
        "PYTHONPATH": str(ROOT),
        "PYTHONWARNINGS": "ignore",
        FILE: str(tools / "clock"),
        **more,
    }


def follow(page: str, folder: Path) -> list[subprocess.CompletedProcess[str]]:
    """Run every step in ``folder``; stops at the first that fails (the last of what is returned)."""
    env = environment(folder)
    done: list[subprocess.CompletedProcess[str]] = []
    code = ""
    for step in steps(page):
        if step.clock is not None:
            set_to(Path(env[FILE]), step.clock)
        answers = [code if answer == CODE_PLACE else answer for answer in step.answers]
        result = subprocess.run(
            ["bash", "-e", "-o", "pipefail", "-c", step.commands],
            cwd=folder,
            env=dict(env),
            input="".join(f"{answer}\n" for answer in answers),
            capture_output=True,
            text=True,
            timeout=120,
            start_new_session=True,  # no terminal: what is asked is read from the input
            check=False,
        )
        done.append(result)
        if result.returncode:
            break
        shown = re.search(r"not shown again: (\S+)", result.stdout)
        code = shown[1] if shown else code
    return done
