"""What changed days brought to light: channels of a meter, lamps of another booth, one piece per serial, rework that never was.

L10, L16 and the one record per serial number: the department's own questions, common practice, no outside source.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from tests import build as b
from tests.rules import general_record as g
from tests.rules import indication_record as i
from tests.rules import light_record as light

YESTERDAY, LATER = date(2026, 3, 9), date(2026, 9, 20)


def channel(item: str, due: date, **changed: Any) -> Recorded[f.Fact]:
    return b.rec(
        f.CalibrationRecorded("RM-1", item, date(2025, 9, 20), due, "within tolerance", **changed),
        "12:00",
        day="2025-09-20",
    )


@pytest.mark.parametrize(
    ("uv", "visible", "lamp", "booth"),
    [
        (LATER, LATER, "PASS", "PASS"),
        (YESTERDAY, LATER, "FAIL", "PASS"),
        (LATER, YESTERDAY, "PASS", "FAIL"),
    ],
    ids=["both in date", "UV-A channel overdue", "visible channel overdue"],
)
def test_each_channel_of_a_meter_has_its_own_due_date(uv: date, visible: date, lamp: str, booth: str) -> None:
    facts = light.record(meter=[channel("UV-A channel", uv), channel("light-meter channel", visible)])
    assert light.ask("L10", facts).verdict == lamp
    assert light.ask("L05", facts).verdict == booth


def test_an_error_found_in_another_channel_changes_no_lamp_reading() -> None:
    later = b.rec(
        f.CalibrationRecorded(
            "RM-1",
            "light-meter channel",
            date(2026, 3, 20),
            LATER,
            "out of tolerance",
            as_found_error_percent=b.num("90 %"),
        ),
        "12:00",
        day="2026-03-20",
    )
    facts = light.record(meter=[channel("UV-A channel", LATER), channel("light-meter channel", LATER), later])
    assert light.ask("L02", facts).verdict == "PASS"


@pytest.mark.parametrize(
    ("place", "verdict"),
    [("MT booth", "PASS"), ("PT booth", "FAIL"), (None, "PASS")],
    ids=["here", "elsewhere", "not said"],
)
def test_a_lamp_belongs_to_its_booth(place: str | None, verdict: str) -> None:
    facts = light.record(lamp=b.lamp(place=place), view=b.view("10:00", "10:20", station="MT booth"))
    assert light.ask("L16", facts).verdict == verdict


@pytest.mark.parametrize(
    ("in_record", "arrived", "verdict"), [(1, 1, "NOT APPLICABLE"), (2, 1, "FAIL"), (1, 2, "FAIL"), (1, 0, "FAIL")]
)
def test_one_piece_under_one_serial_number(in_record: int, arrived: int, verdict: str) -> None:
    facts = [b.opened("PT", part=g.PART, quantity=in_record), g.received(quantity=arrived)]
    assert b.ask("G03", "PT", facts, master=b.master("PT", serialised=True)).verdict == verdict


@pytest.mark.parametrize("rule_id", ["D10", "D11"])
def test_a_re_inspection_after_a_rework_that_nobody_recorded_closes_nothing(rule_id: str) -> None:
    facts = [b.opened("MT", reason="rework", previous="X-000")]
    assert i.ask(rule_id, facts).verdict == "NOT RECORDED"
