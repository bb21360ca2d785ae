"""Rows of the check data in tests/data: the first lines begin with # and name the source."""

import csv
from pathlib import Path

DATA = Path(__file__).resolve().parent.parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# source"), name
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
