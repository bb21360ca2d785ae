"""The table of traps, ``tests/data/traps.csv``: what goes wrong in real life, what catches it, which test proves it.

A trap with several catches has a row for each.  ``off`` says how the slow proof
switches the catch off (see :mod:`tests.traps.switches`); ``open`` says what of
a trap nothing catches yet, in a row without a test.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

FILE = Path(__file__).resolve().parents[1] / "data" / "traps.csv"
TRAPS = 70


@dataclass(frozen=True)
class Row:
    """One catch of one trap, or what is still open of it.

    ``severity``: 3 could fly with a crack, 2 voids the record, 1 costs time.
    """

    number: int
    severity: int
    trap: str
    catch: str
    off: str
    test: str
    open: str

    @property
    def is_proved(self) -> bool:
        return bool(self.test)


def rows() -> list[Row]:
    """The table as it stands, in its order."""
    with FILE.open(encoding="utf-8", newline="") as file:
        return [
            Row(
                int(row["number"]),
                int(row["severity"]),
                row["trap"],
                row["catch"],
                row["off"],
                row["test"],
                row["open"],
            )
            for row in csv.DictReader(file)
        ]
