"""The questions on the demonstration day: each answers, some against values counted from its tables by the csv module alone."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from ndi.domain.errors import InputError
from ndi.services.asked import answering
from ndi.services.asked.answering import Answered
from ndi.services.workplace import Workplace

DEMO = Path(__file__).resolve().parents[2] / "demo"
DAY = DEMO / "2026-03-10"
FULL = {
    "F1": {"lamp": "LP-3"},
    "F2": {"object": "MTB-26-07"},
    "F3": {"part_no": "T6-11001", "zone": "MAIN3-THROUGH-BOLT-BOSS", "clock": "176"},
    "F9": {"serial": "6H-C-3391"},
    "F10": {"part": "CY-4401"},
    "F11": {"work_order": "W26-0148"},
    "F13": {"meter": "RM-1"},
    "F26": {"procedure": "PT-P-01", "revision": "D"},
    "F27": {"person": "L2-C"},
    "F29": {"part": "CY-4401"},
    "F30": {"seed": "7"},
    "F35": {"work_order": "W26-0148"},
}


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def ask(work: Workplace, id_: str, **given: str) -> Answered:
    return answering.ask(work, id_, {**FULL.get(id_, {}), **given})


def column(answered: Answered, name: str) -> list[str]:
    at = answered.question.columns.index(name)
    return [row.cells[at] for row in answered.rows]


def test_there_are_forty() -> None:
    assert [each.id for each in answering.questions()] == [f"F{n}" for n in range(1, 41)]


@pytest.mark.parametrize("id_", [f"F{n}" for n in range(1, 41)])
def test_each_answers_with_a_cell_for_each_column_and_entries_that_are_there(work: Workplace, id_: str) -> None:
    answered = ask(work, id_)
    last = answered.head.position
    for row in answered.rows:
        assert len(row.cells) == len(answered.question.columns)
        assert all(1 <= position <= last for position in row.evidence)
    assert answered.hash == ask(work, id_).hash


def test_f1_looks_under_lp3_before_the_bad_reading(work: Workplace) -> None:
    views = {
        row["insp"]
        for row in table(DAY / "inspections_pt.csv")
        if "LP-3" in row["lamps"].split("+") and row["view_start"] <= "12:35"
    }
    looks = {row["sc"] for row in table(DAY / "second_looks.csv") if "LP-3" in row["lamps"].split("+")}
    answered = ask(work, "F1")
    firsts = {row.cells[0] for row in answered.rows if row.cells[1].startswith("first")}
    seconds = {row.cells[1].removeprefix("second look ") for row in answered.rows if row.cells[1].startswith("second")}
    assert (firsts, seconds) == (views, looks)


def test_f3_cracks_at_the_same_place_within_15_degrees(work: Workplace) -> None:
    past = [
        row["serial"]
        for row in table(DEMO / "before" / "history.csv")
        if row["part_no"] == "T6-11001"
        and row["zone"] == "MAIN3-THROUGH-BOLT-BOSS"
        and abs(int(row["clock_deg"] or 999) - 176) <= 15
        and date(2024, 3, 10) <= date.fromisoformat(row["date"])
    ]
    now = {
        row["insp"]: row["serial_or_lot"] for row in table(DAY / "inspections_pt.csv") if row["part_no"] == "T6-11001"
    }
    today = [
        now[row["insp"]]
        for row in table(DAY / "indications.csv")
        if row["insp"] in now
        and row["zone"] == "MAIN3-THROUGH-BOLT-BOSS"
        and row["interpretation"] == "relevant"
        and abs(int(row["clock_deg"] or 999) - 176) <= 15
    ]
    assert sorted(column(ask(work, "F3"), "Serial or lot")) == sorted(past + today)


def test_f6_the_eleven_of_the_day_that_are_not_verified(work: Workplace) -> None:
    suspended = {r["insp"] for r in table(DAY / "inspections_pt.csv") if "SUSPENDED" in r["end_of_day"]}
    assert suspended <= set(column(ask(work, "F6"), "Record"))
    assert set(column(ask(work, "F6"), "Record")) == {f"PT-{n:03d}" for n in range(1, 12)}


def test_f7_dwell_times_as_the_table_has_them(work: Workplace) -> None:
    wanted = {(r["basket"], r["long_dwell_min"] + " min") for r in table(DAY / "baskets.csv") if not r["remover_start"]}
    answered = ask(work, "F7")
    found = {(r.cells[0][:3].rstrip(), r.cells[3]) for r in answered.rows if r.cells[2] == "longest penetrant dwell"}
    assert wanted <= found
    assert answered.rows[0].cells[-1] == "OVER"


def test_f10_the_last_place_is_the_last_scan(work: Workplace) -> None:
    scans = [r for r in table(DAY / "locations.csv") if r["serial_or_lot"] == "CY-4401"]
    assert column(ask(work, "F10"), "Place") == [r["place"] for r in sorted(scans, key=lambda r: r["time"])][::-1]


def test_f17_papers_that_end_within_60_days(work: Workplace) -> None:
    until = date(2026, 5, 9)  # 60 days after 2026-03-10
    latest = {r["person"]: date.fromisoformat(r["expires"]) for r in table(DEMO / "before" / "vision.csv")}
    wanted = {person for person, ends in latest.items() if ends <= until}
    found = {row.cells[0] for row in ask(work, "F17").rows if row.cells[1] == "vision"}
    assert found == wanted


def test_f19_rework(work: Workplace) -> None:
    (row,) = table(DAY / "rework.csv")
    (found,) = ask(work, "F19").rows
    assert (found.cells[0], found.cells[2], found.cells[7]) == (row["insp"], row["zone"], "MT-034")


def test_f20_second_looks_at_indications(work: Workplace) -> None:
    wanted = {r["sc"] for r in table(DAY / "second_looks.csv") if r["ind_or_insp"].startswith("IND-")}
    assert set(column(ask(work, "F20"), "Second look")) == wanted


def test_f24_calls_other_than_relevant(work: Workplace) -> None:
    wanted = {r["ind"] for r in table(DAY / "indications.csv") if r["interpretation"] != "relevant"}
    assert set(column(ask(work, "F24"), "Indication")) == wanted


def test_f26_records_of_a_revision(work: Workplace) -> None:
    method_a = {r["insp"] for r in table(DAY / "inspections_pt.csv") if r["basket"] != "B5"}
    assert set(column(ask(work, "F26"), "Record")) == method_a


def test_f30_the_same_seed_draws_the_same(work: Workplace) -> None:
    one, other = ask(work, "F30"), ask(work, "F30", seed="8")
    assert column(one, "Record") == column(ask(work, "F30"), "Record") != column(other, "Record")
    assert one.count == 10


def test_a_frozen_answer_is_compared_with_the_book(work: Workplace) -> None:
    answered = ask(work, "F19")
    answering.freeze(work, answered, "SUP-F")
    (kept,) = answering.frozen(work, ask(work, "F19"))
    assert kept.stands
    assert kept.recorded.fact.count == 1
    assert not answering.frozen(work, ask(work, "F20"))


@pytest.mark.parametrize(
    "given", [{"nosuch": "1"}, {"days": "x"}, {"days": "-1"}, {"days": "1.5"}, {"days": "9" * 300}]
)
def test_wrong_parameters_are_refused_in_words(work: Workplace, given: dict[str, str]) -> None:
    with pytest.raises(InputError):
        answering.ask(work, "F17", given)


def test_csv_is_read_back_by_the_csv_module(work: Workplace) -> None:
    answered = ask(work, "F38")
    head, *rows = list(csv.reader(answering.as_csv(answered).splitlines()))
    assert head == [*answered.question.columns, "Evidence"]
    assert [row[:-1] for row in rows] == [list(row.cells) for row in answered.rows]
