"""The calls that hand a file to the operating system's print queue: ``lp`` of CUPS, and Windows' own.

Only here; what the answers mean to a person is said in ``queue``.  The Windows
part was never run: no Windows machine was at hand.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from ndi.services.ports import QueueAnswer, QueueState

TIMEOUT_SECONDS = 20.0


def send(file: Path, queue: str, title: str) -> QueueAnswer:
    """Hand ``file`` to ``queue`` and say what the system answered."""
    if sys.platform == "win32":
        return _windows_send(file, queue)
    return _posix_send(file, queue, title)


def queues() -> list[str]:
    """The queues that this system knows, by name; empty where it cannot say."""
    if sys.platform == "win32":
        return []
    done = _run("lpstat", "-e")
    return done.stdout.split() if done is not None and done.returncode == 0 else []


# --- CUPS -------------------------------------------------------------------------------------------


def _posix_send(file: Path, queue: str, title: str) -> QueueAnswer:
    if shutil.which("lp") is None:
        return QueueAnswer(
            QueueState.REFUSED, None, "this machine has no lp command: install CUPS (apt-get install cups)"
        )
    running = _run("lpstat", "-r")
    if running is None or "scheduler is running" not in running.stdout:
        return QueueAnswer(QueueState.REFUSED, None, "the print server does not answer: start CUPS, then print again")
    done = _run("lp", "-d", queue, "-t", title, "--", str(file))
    if done is None:
        return QueueAnswer(
            QueueState.UNKNOWN,
            None,
            f"no answer within {TIMEOUT_SECONDS:.0f} s: look at the printer before you print again",
        )
    if done.returncode != 0:
        known = ", ".join(queues()) or "none"
        return QueueAnswer(QueueState.REFUSED, None, f"{_words(done.stderr)}; queues here: {known}")
    job = _job(done.stdout)
    if job is None:
        return QueueAnswer(
            QueueState.UNKNOWN,
            None,
            f"{_words(done.stdout) or 'no job number'}: look at the printer before you print again",
        )
    return QueueAnswer(QueueState.QUEUED, job, _trouble(queue))


def _job(output: str) -> str | None:
    """``request id is tags-12 (1 file(s))``."""
    words = output.split()
    return words[3] if words[:3] == ["request", "id", "is"] and len(words) > 3 else None


def _trouble(queue: str) -> str:
    """Why a queued paper may not come out, in the system's words."""
    found = _run("lpstat", "-p", queue)
    text = "" if found is None else _words(found.stdout)
    return text if "disabled" in text or "offline" in text else ""


def _words(text: str) -> str:
    return " ".join(text.split())


def _run(*command: str) -> subprocess.CompletedProcess[str] | None:
    """A command of the print system in plain English, or None when it does not come back."""
    environment = {**os.environ, "LC_ALL": "C", "LANGUAGE": ""}
    try:
        return subprocess.run(
            command,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=TIMEOUT_SECONDS,
            env=environment,
            check=False,
        )
    except (subprocess.TimeoutExpired, OSError):
        return None


# --- Windows (untested) -------------------------------------------------------------------------------


def _windows_send(file: Path, queue: str) -> QueueAnswer:
    """The shell's verb ``printto``: hands the file to the program that opens such files."""
    if sys.platform == "win32":
        import ctypes

        code = int(ctypes.windll.shell32.ShellExecuteW(None, "printto", str(file), f'"{queue}"', None, 0))
        if code > 32:  # the documented border between error codes and success
            return QueueAnswer(
                QueueState.UNKNOWN,
                None,
                "handed to the program for this kind of file, which gives no answer: look at the printer",
            )
        return QueueAnswer(
            QueueState.REFUSED,
            None,
            f"Windows answered {code}: check the queue's name and that a program opens this kind of file",
        )
    raise AssertionError("called on another system")
