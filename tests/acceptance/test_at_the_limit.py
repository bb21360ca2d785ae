"""Exactly at a limit is within it, one second later is not: the same questions of the day, one second earlier."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.main import main

LATER = {"E05": "09:50:01 / 11:45:01 / 14:26:01", "E14": "13:06:01", "E15": "13:18:01"}


def test_the_second_of_the_limit_is_within_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = tmp_path / "day"
    shutil.copytree(bootstrap.data_folder("demo") / "2026-03-10", day)
    events = (day / "events.csv").read_text("utf-8")
    for time in LATER.values():
        assert time in events  # the day as it stands asks one second later, and is answered FAIL there
        events = events.replace(time, time.replace(":01", ":00"))
    (day / "events.csv").write_text(events, "utf-8")
    assert main(["demo", "--day", str(day), "--json"]) == 0
    said = {
        event["id"]: [rule["answer"] for rule in event["rules"]]
        for event in json.loads(capsys.readouterr().out)["events"]
    }
    assert said["E05"] == ["PASS", "PASS", "PASS"]
    assert said["E14"] == ["PASS"]
    assert said["E15"] == ["NOT YET"]  # 120 min to the second, and nobody has washed it yet
