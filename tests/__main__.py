"""Runs every check of this project: format, lint, types, tests; counts what could not be run.

Exit 0 only when all that ran passed.  What could not be run is listed as NOT RUN
with its reason; ``.ci/run`` takes anything but ``NOT RUN 0`` as a failure.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
XVFB_LINE = "apt-get update && apt-get install -y --no-install-recommends xvfb fonts-dejavu-core"
CUPS_LINE = "apt-get update && apt-get install -y --no-install-recommends cups"


def ensure_screen() -> None:
    """A virtual screen for the window tests: installed where it is missing and we may, else said how."""
    if shutil.which("Xvfb") and has_fonts():
        return
    if os.name == "posix" and os.geteuid() == 0 and shutil.which("apt-get"):
        subprocess.run(["sh", "-c", f"({XVFB_LINE}) >/dev/null 2>&1"], check=False)
    if not shutil.which("Xvfb"):
        print(f"Xvfb is missing: window tests cannot be run. As root, type: {XVFB_LINE}", flush=True)


def has_fonts() -> bool:
    """Whether the letters that the window is drawn with are there; other letters have other widths."""
    found = (
        subprocess.run(["fc-list", ":family=DejaVu Sans"], capture_output=True, check=False)
        if shutil.which("fc-list")
        else None
    )
    return found is not None and bool(found.stdout.strip())


def ensure_print_server() -> None:
    """CUPS for the printing tests, which start one of their own: installed where it is missing and we may, else said how."""
    found = [shutil.which(name, path="/usr/sbin:/usr/bin:/sbin:/bin") for name in ("cupsd", "lp", "lpadmin")]
    if all(found):
        return
    if os.name == "posix" and os.geteuid() == 0 and shutil.which("apt-get"):
        subprocess.run(["sh", "-c", f"({CUPS_LINE}) >/dev/null 2>&1"], check=False)
    if not shutil.which("cupsd", path="/usr/sbin:/usr/bin:/sbin"):
        print(f"CUPS is missing: printing tests cannot be run. As root, type: {CUPS_LINE}", flush=True)


def shots() -> Path:
    """Where the pictures of every screen are left for looking at."""
    return Path(os.environ.get("NDI_SHOTS") or Path(tempfile.gettempdir()) / "ndi-shots")


def run(name: str, *command: str) -> bool:
    print(f"== {name}", flush=True)
    # generated cases come in the same order in both processes
    environment = {**os.environ, "PYTHONHASHSEED": "0", "NDI_SHOTS": str(shots())}
    return subprocess.run([sys.executable, "-m", *command], cwd=ROOT, env=environment, check=False).returncode == 0


def main(arguments: list[str]) -> int:
    ensure_screen()
    ensure_print_server()
    passed = [
        run("format", "ruff", "format", "--check", "--quiet", "."),
        run("lint", "ruff", "check", "--quiet", "."),
        run("types", "mypy"),
        run("tests", "pytest", "-q", "-n", "2", "--dist", "loadfile", *arguments),
    ]
    print(f"pictures of the screens are in {shots()}")
    if not all(passed):
        names = ("format", "lint", "types", "tests")
        print("failed: " + ", ".join(name for name, ok in zip(names, passed, strict=True) if not ok))
    return 0 if all(passed) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
