"""The virtual screen that the window tests stand on: Tk draws, and what it draws can be read back."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import pytest

DRAW = """
import tkinter
from PIL import ImageGrab
root = tkinter.Tk()
root.geometry("200x100+0+0")
root.configure(background="#ff0000")
root.update()
root.update()
print(ImageGrab.grab(xdisplay="").getpixel((100, 50)))
"""


@pytest.mark.skipif(not shutil.which("Xvfb"), reason="Xvfb is not installed")
def test_tk_draws_on_a_virtual_screen() -> None:
    read, write = os.pipe()
    screen = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", "800x600x24", "-nolisten", "tcp"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    try:
        os.close(write)
        display = os.read(read, 16).decode().strip()
        env = {**os.environ, "DISPLAY": f":{display}"}
        drawn = subprocess.run(
            [sys.executable, "-c", DRAW], env=env, capture_output=True, text=True, timeout=60, check=True
        )
        assert drawn.stdout.strip() == "(255, 0, 0)"
    finally:
        screen.terminate()
        screen.wait(timeout=10)
        os.close(read)
