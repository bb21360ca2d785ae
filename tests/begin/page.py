"""Follows a page of the README literally: every shell block is run, every ``text`` block under one is what is typed."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HEADING = "## Your own shop in an hour"
CODE_PLACE = "(the code that was shown)"
_BLOCK = re.compile(r"^```(?P<kind>sh|text)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Step:
    """One shell block and the answers to what it asks."""

    commands: str
    answers: tuple[str, ...]


def section(text: str) -> str:
    """The page from its heading to the next heading of the same level."""
    start = text.index(HEADING)
    end = re.search(r"^## ", text[start + len(HEADING) :], re.MULTILINE)
    return text[start : start + len(HEADING) + end.start()] if end else text[start:]


def steps(page: str) -> list[Step]:
    blocks = list(_BLOCK.finditer(page))
    found: list[Step] = []
    for block in blocks:
        if block["kind"] == "sh":
            found.append(Step(block["body"], ()))
        else:
            answers = tuple(line.rpartition(": ")[2] for line in block["body"].splitlines())
            found[-1] = Step(found[-1].commands, answers)
    return found


def environment(folder: Path, **more: str) -> Mapping[str, str]:
    """The machine's environment with an ``ndi`` of this tree in front."""
    tools = folder / ".tools"
    tools.mkdir(exist_ok=True)
    ndi = tools / "ndi"
    ndi.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m ndi "$@"\n')
    ndi.chmod(0o755)
    return {
        **os.environ,
        "PATH": f"{tools}:{os.environ['PATH']}",
        "PYTHONPATH": str(ROOT),
        "PYTHONWARNINGS": "ignore",
        **more,
    }


def follow(page: str, folder: Path) -> list[subprocess.CompletedProcess[str]]:
    """Run every step in ``folder``; stops at the first that fails (the last of what is returned)."""
    env = environment(folder)
    done: list[subprocess.CompletedProcess[str]] = []
    code = ""
    for step in steps(page):
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
