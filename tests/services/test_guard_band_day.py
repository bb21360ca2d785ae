"""A small day under procedures that have a guard band: nothing breaks, nothing passes silently.

In the morning the certificate of the radiometer gives no uncertainty.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import NotPermitted
from ndi.services import lamps, meter_recall, questions, recall_contents, recording
from ndi.services.asked import answering
from ndi.services.checks_due import checks_due
from ndi.services.handover import open_lines
from ndi.services.line_state import line_now
from ndi.services.recheck import recheck
from ndi.services.shift_report import shift_model
from ndi.services.shift_review import shift_review
from tests.build import num
from tests.services.shop import Shop, begin, calibration, open_copy

DAY = date(2026, 3, 10)
CERTIFICATE = calibration("RM-1", "UV-A channel", uncertainty_percent=num("5 %"))


def with_guard_band(folder: Path) -> None:
    """Both procedures with their guard band on."""
    for file in ("MT-P-01/rev-F.toml", "PT-P-01/rev-D.toml"):
        text = (folder / file).read_text("utf-8")
        changed = text.replace("guard_band = { value = false", "guard_band = { value = true")
        assert changed != text
        (folder / file).write_text(changed, "utf-8")


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("guarded")
    begin(folder, adapt=with_guard_band)
    return folder


@pytest.fixture
def shop(morning: Path, tmp_path: Path) -> Iterator[Shop]:
    opened = open_copy(morning, tmp_path / "book")
    yield opened
    opened.close()


def enter_uncertainties(shop: Shop) -> None:
    """The radiometer's certificate is corrected, the gauges of water and dryer get theirs and are read anew."""
    (held,) = shop.facts(f.CalibrationRecorded, "RM-1")
    recording.correct(shop.work, held.uid, CERTIFICATE, "SUP-F", when=held.when, why="uncertainty left out")
    for name, quantity, value, share in (
        ("WT-1", "water temperature", "68 degF", {"uncertainty": num("2 ddegF")}),
        ("PG-1", "water pressure", "28 psi", {"uncertainty_percent": num("5 %")}),
        ("TH-2", "dryer temperature", "150 degF", {"uncertainty": num("2 ddegF")}),
    ):
        recording.record_outside_fact(shop.work, calibration(name, quantity, **share), "SUP-F")
        thing = "dryer" if quantity.startswith("dryer") else "PT line"
        recording.record_reading(shop.work, f.ReadingRecorded(thing, quantity, num(value), meter=name), "L1-D")


def verdicts(shop: Shop, inspection: str, *rules: str) -> list[str]:
    found = {answer.rule: str(answer.verdict) for answer in shop.judge(inspection).answers}
    return [found[rule] for rule in rules]


def everything_that_reads_lamps(shop: Shop) -> None:
    """Each service that asks a lamp's limit: none may break for what is not known."""
    lamps.calendar(shop.work, date(2026, 3, 9), DAY)
    questions.lamp_answers(shop.work, "LP-1")
    for id_, given in (("F1", {"lamp": "LP-1"}), ("F2", {"object": "MTB-1"}), ("F8", {"month": "2026-03"})):
        answering.ask(shop.work, id_, given)
    checks_due(shop.work)
    open_lines(shop.work)
    with shop.work.book.session(readonly=True) as session:
        line_now(shop.work, session)
    shift_model(shop.work, DAY)
    shift_review(shop.work, DAY)
    recheck(shop.work)
    meter_recall.meter_found(shop.work, "RM-1", error=num("9 %"), found=DAY)
    for reading in shop.facts(f.ReadingRecorded):
        recall_contents.supposed(shop.work, reading.position)


def test_without_the_uncertainty_nothing_breaks_and_nothing_is_accepted(shop: Shop) -> None:
    shop.gear("MT-001")
    everything_that_reads_lamps(shop)
    assert verdicts(shop, "MT-001", "L02", "L05", "L11") == ["NOT RECORDED"] * 3
    with pytest.raises(NotPermitted, match="uncertainty of RM-1 not recorded"):
        shop.sign("MT-001")
    (day,) = [each for each in lamps.calendar(shop.work, DAY, DAY) if each.lamp == "LP-1"]
    assert (day.verdict, "uncertainty of RM-1 not recorded" in day.says) == ("NOT RECORDED", True)
    answers, text = questions.lamp_answers(shop.work, "LP-1")
    assert answers[0].verdict == "NOT RECORDED"
    assert "L02 NOT RECORDED" in text


def test_last_good_reading_is_never_one_that_cannot_be_judged(shop: Shop) -> None:
    """The recall of a bad reading then goes back to the beginning, not to this morning."""
    shop.gear("MT-001")
    shop.at("09:00").read_lamp("LP-1", "990")
    (opened,) = shop.facts(f.ContainmentOpened)
    assert (opened.fact.object, opened.fact.last_good, opened.fact.inspections) == ("LP-1", None, ("MT-001",))
    assert shop.facts(f.EquipmentStatusSet, "LP-1")[-1].fact.state == "withdrawn"


def test_small_day_with_the_uncertainties_known(shop: Shop) -> None:
    enter_uncertainties(shop)
    shop.at("07:55").gear("MT-001")
    shop.sign("MT-001")
    assert (shop.row("MT-001").disposition, shop.row("MT-001").provisional) == ("ACCEPT", True)
    shop.at("08:30").sump("PT-001")
    shop.sign("PT-001", person="L2-B")
    assert verdicts(shop, "PT-001", "L02", "L15", "P15", "P20") == ["PASS"] * 4
    everything_that_reads_lamps(shop)

    shop.at("12:00").read_lamp("LP-1", "1050")  # exactly 1000 and 5 %: closes the bracket
    assert (shop.row("MT-001").provisional, shop.row("MT-001").suspended) == (False, False)
    shop.at("12:01").read_lamp("LP-3", "1049")  # one step beyond: recalls what was seen under it
    assert (shop.row("PT-001").disposition, shop.row("PT-001").suspended) == ("ACCEPT", True)
    assert [opened.fact.object for opened in shop.facts(f.ContainmentOpened)] == ["LP-3"]
    assert [day.verdict for day in lamps.calendar(shop.work, DAY, DAY) if day.lamp in ("LP-1", "LP-3")] == [
        "PASS",
        "FAIL",
    ]
    everything_that_reads_lamps(shop)


def test_lamp_comes_back_only_by_a_reading_that_can_be_judged(shop: Shop) -> None:
    enter_uncertainties(shop)
    recording.record_outside_fact(shop.work, calibration("RM-3", "UV-A channel", due=date(2026, 9, 1)), "SUP-F")
    shop.at("08:00").read_lamp("LP-1", "1049")
    shop.at("08:05").read_lamp("LP-1", "1600", condition="as-left", meter="RM-3")  # no uncertainty on its certificate
    assert shop.facts(f.EquipmentStatusSet, "LP-1")[-1].fact.state == "withdrawn"
    shop.at("08:06").read_lamp("LP-1", "1049", condition="as-left")
    assert shop.facts(f.EquipmentStatusSet, "LP-1")[-1].fact.state == "withdrawn"
    shop.at("08:07").read_lamp("LP-1", "1600", condition="as-left")
    assert shop.facts(f.EquipmentStatusSet, "LP-1")[-1].fact.state == "in service"


def test_meter_found_wrong_is_measured_against_the_limit_that_counts(shop: Shop) -> None:
    """1100 read with a meter that reads 9 % high is worth 1009.2: above 1000, below the 1050 of the guard band."""
    enter_uncertainties(shop)
    shop.at("08:00").read_lamp("LP-1", "1100")
    found = meter_recall.meter_found(shop.work, "RM-1", error=num("9 %"), found=DAY)
    (one,) = [each for each in found.readings if each.object == "LP-1" and each.when.clock() == "08:00"]
    assert (one.typed_holds, one.worst_holds) == (True, False)
    assert one.limit == "least 1000 uW/cm2, with its guard band 1050 uW/cm2"


def test_uncertainty_entered_after_the_signature_judges_again(shop: Shop) -> None:
    """Found later to be larger: what passed by 4 % does not pass by 9 %."""
    enter_uncertainties(shop)
    shop.at("07:55").gear("MT-001")
    shop.sign("MT-001")
    shop.at("12:00").read_lamp("LP-1", "1060")
    assert not shop.row("MT-001").suspended
    held = shop.facts(f.CalibrationRecorded, "RM-1")[-1]
    wider = calibration("RM-1", "UV-A channel", uncertainty_percent=num("9 %"))
    recording.correct(shop.at("13:00").work, held.uid, wider, "SUP-F", when=held.when, why="misread on the certificate")
    assert shop.row("MT-001").suspended
