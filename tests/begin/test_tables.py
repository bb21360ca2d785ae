"""Tables of a shop: all or nothing, every problem by file, line and column, and nothing changed by a refused one."""

from __future__ import annotations

from pathlib import Path

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services.lookup import every
from ndi.services.workplace import Workplace
from ndi.shop_files import bringing
from ndi.shop_files.kinds import KINDS
from ndi.shop_files.reading import TableErrors
from tests.begin.conftest import Run, head, put
from tests.services.shop import ORDER, Shop

ROOT = Path(__file__).resolve().parents[2]

PEOPLE = "person,roles,shift_start,shift_end\n"
EQUIPMENT = "equipment,kind,battery_powered,max_amps\n"
RECEIVING = "wo,part_no,serial_or_lot,qty\n"

BROKEN = {
    "unknown-role": ("people", PEOPLE + "A,inspektor,,\n", 2, "roles", "did you mean inspector"),
    "no-role": ("people", PEOPLE + "A,,,\n", 2, "roles", "is empty"),
    "no-person": ("people", PEOPLE + "\n  ,inspector,,\n", 3, "person", "is empty"),
    "twice": ("people", PEOPLE + "A,inspector,,\nA,second,,\n", 3, "person", "is there already"),
    "in-the-book": ("people", PEOPLE + "CLERK,supervisor,,\n", 2, "person", "is there already"),
    "no-time": ("people", PEOPLE + "A,inspector,6:00,\n", 2, "shift_start", "is not a time"),
    "unknown-column": ("people", "person,roles,shift_begin\nA,inspector,\n", 1, "shift_begin", "did you mean shift_"),
    "missing-column": ("people", "person\nA\n", 1, "roles", "is missing"),
    "no-rows": ("people", PEOPLE, None, None, "holds no rows"),
    "empty-file": ("people", "", None, None, "holds no rows"),
    "too-many-cells": ("people", PEOPLE + "A,inspector,,,x\n", 2, None, "5 cells under 4 columns"),
    "open-quote": ("people", PEOPLE + '"A,inspector\n', 2, None, "is not a table of commas"),
    "same-column-twice": ("people", "person,roles,roles\nA,inspector,second\n", 1, None, "same name"),
    "later-than-now": (
        "people",
        "person,roles,date,time\nA,inspector,2999-01-01,08:00\n",
        2,
        "date",
        "is later than now",
    ),
    "time-without-date": ("people", "person,roles,time\nA,inspector,08:00\n", 2, "date", "needs its date"),
    "date-without-time": ("people", "person,roles,date,time\nA,inspector,2026-01-01,\n", 2, "time", "is empty"),
    "bad-offset": (
        "people",
        "person,roles,date,time,utc_offset\nA,inspector,2026-01-01,08:00,-5\n",
        2,
        "utc_offset",
        "offset",
    ),
    "stranger": (
        "certificates",
        "person,method,level,issued,expires\nCLERC,MT,2,2024-01-01,2029-01-01\n",
        2,
        "person",
        "did you mean CLERK",
    ),
    "level": (
        "certificates",
        "person,method,level,issued,expires\nCLERK,MT,4,2024-01-01,2029-01-01\n",
        2,
        "level",
        "is no level",
    ),
    "method": (
        "certificates",
        "person,method,level,issued,expires\nCLERK,UT,2,2024-01-01,2029-01-01\n",
        2,
        "method",
        "not known",
    ),
    "dates": (
        "certificates",
        "person,method,level,issued,expires\nCLERK,MT,2,2029-01-01,2024-01-01\n",
        2,
        "expires",
        "is before",
    ),
    "no-date": ("vision", "person,examined,expires\nCLERK,12.1.2026,2027-01-01\n", 2, "examined", "is not a date"),
    "technique": (
        "authorisations",
        "person,technique,valid_from\nCLERK,X-1,2026-01-01\n",
        2,
        "technique",
        "is not adopted",
    ),
    "revision": ("read_and_understood", "person,procedure,revision\nCLERK,X,A\n", 2, "revision", "is not adopted"),
    "kind": ("equipment", EQUIPMENT + "U,lampe,,\n", 2, "kind", "did you mean lamp"),
    "battery": ("equipment", EQUIPMENT + "U,lamp,,\n", 2, "battery_powered", "yes or no"),
    "yes-no": ("equipment", EQUIPMENT + "U,lamp,maybe,\n", 2, "battery_powered", "neither yes nor no"),
    "amps": ("equipment", EQUIPMENT + "B,bench,,0\n", 2, "max_amps", "not above zero"),
    "number": ("equipment", EQUIPMENT + "B,bench,,4k\n", 2, "max_amps", "4k"),
    "calibration": (
        "calibrations",
        "equipment,item,done,due,result\nX,a,2026-01-01,2027-01-01,ok\n",
        2,
        "equipment",
        "not in the book",
    ),
    "material": (
        "batches",
        "batch,material,expires\nP-1,penetrent,2027-01-01\n",
        2,
        "material",
        "did you mean penetrant",
    ),
    "batches": ("tanks", "line,batches\nLine,P-1\n", 2, "line", "not in the book"),
    "order": ("receiving", RECEIVING + "W-9,P-1,S-1,1\n", 2, "wo", "not in the book"),
    "part-master": ("receiving", RECEIVING + "W-9,P-1,S-1,1\n", 2, "part_no", "no part master"),
    "quantity": ("receiving", RECEIVING + "W-9,P-1,S-1,-1\n", 2, "qty", "not a whole number"),
}


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / f"{name}.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("case", BROKEN)
def test_broken_table_names_file_line_column_and_changes_nothing(empty: Workplace, tmp_path: Path, case: str) -> None:
    name, text, line, column, words = BROKEN[case]
    before = head(empty)
    with pytest.raises(TableErrors) as caught:
        bringing.read(empty, [write(tmp_path, name, text)])
    found = [e for e in caught.value.errors if (e.file, e.line, e.column) == (f"{name}.csv", line, column)]
    assert found and words in found[0].problem
    assert "nothing was brought in" in str(caught.value)
    assert head(empty) == before


def test_every_problem_is_said_at_once(empty: Workplace, tmp_path: Path) -> None:
    people = write(tmp_path, "people", PEOPLE + "A,inspektor,,\nB,second,6,\nC,inspector,,\n")
    certificates = write(
        tmp_path,
        "certificates",
        "person,method,level,issued,expires\nA,MT,2,2024-01-01,2029-01-01\nD,MT,2,2024-01-01,x\n",
    )
    with pytest.raises(TableErrors) as caught:
        bringing.read(empty, [certificates, people])
    # A is not said a second time: its row was read, only its role is wrong
    assert [(e.file, e.line, e.column) for e in caught.value.errors] == [
        ("people.csv", 2, "roles"), ("people.csv", 3, "shift_start"), ("certificates.csv", 3, "expires"),
    ]  # fmt: skip
    assert str(caught.value).startswith("3 problems; nothing was brought in:\n  people.csv, line 2, column roles: ")


def test_many_problems_are_counted(empty: Workplace, tmp_path: Path) -> None:
    with pytest.raises(TableErrors, match=r"^50 problems(.|\n)*and 30 more$"):
        bringing.read(
            empty, [write(tmp_path, "people", PEOPLE + "A,x,,\n" * 1 + "".join(f"P{n},x,,\n" for n in range(49)))]
        )


def test_table_that_is_not_utf8_is_said_with_its_line(empty: Workplace, tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_bytes(PEOPLE.encode() + b"A,inspector,,\nM\xfcller,inspector,,\n")
    with pytest.raises(TableErrors, match=r"people\.csv, line 3: is not UTF-8"):
        bringing.read(empty, [path])


def test_table_with_byte_order_mark_and_semicolon_free_crlf_is_read(empty: Workplace, tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_bytes(
        b"\xef\xbb\xbf" + (PEOPLE + "M\u00fcller,inspector+second,06:00,14:30\n").replace("\n", "\r\n").encode()
    )
    (table,) = bringing.read(empty, [path])
    assert table.facts[0][0] == f.PersonEntered("M\u00fcller", ("inspector", "second"), "06:00", "14:30")


def test_unknown_table_and_two_of_a_kind_are_refused(empty: Workplace, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="did you mean people"):
        bringing.read(empty, [write(tmp_path, "peple", PEOPLE)])
    (tmp_path / "b").mkdir()
    with pytest.raises(InputError, match="one of two tables of people"):
        bringing.read(
            empty,
            [
                write(tmp_path, "people", PEOPLE + "A,second,,\n"),
                write(tmp_path / "b", "people", PEOPLE + "B,second,,\n"),
            ],
        )


def test_demonstration_tables_of_before_the_day_come_in_whole(empty: Workplace) -> None:
    """Files that a spreadsheet opens, dated rows and remarks among them; counted with the csv module of Python here."""
    import csv

    names = ("people", "certificates", "vision", "equipment", "calibrations", "batches", "tanks")
    paths = [ROOT / "demo" / "before" / f"{name}.csv" for name in names]
    tables = bringing.read(empty, paths)
    rows = {path.stem: len(list(csv.reader(path.read_text(encoding="utf-8").splitlines()))) - 1 for path in paths}
    assert {table.kind.name: len(table.facts) for table in tables} == rows
    bringing.bring(empty, tables, by="CLERK")
    with empty.book.session(readonly=True) as session:
        assert len(every(session, f.PersonEntered)) == rows["people"] + 1


def test_tables_build_on_one_another_in_one_call_and_are_entered_with_their_reason(
    empty: Workplace, tmp_path: Path
) -> None:
    tables = bringing.read(
        empty,
        [
            write(tmp_path, "tanks", "line,batches\nLine A,PEN-1+DEV-1\n"),
            write(
                tmp_path, "batches", "batch,material,expires\nPEN-1,penetrant,2027-12-31\nDEV-1,developer,2027-12-31\n"
            ),
            write(tmp_path, "equipment", "equipment,kind\nLine A,line\n"),
        ],
    )
    bringing.bring(empty, tables, by="CLERK", why="the shop's card index")
    with empty.book.session(readonly=True) as session:
        (tank,) = every(session, f.TankFilled)
    assert tank.fact == f.TankFilled("Line A", ("PEN-1", "DEV-1"))
    assert (tank.by, tank.how, tank.why) == ("CLERK", "transcribed from paper", "the shop's card index")


def test_stranger_brings_nothing_in(empty: Workplace, tmp_path: Path) -> None:
    tables = bringing.read(empty, [write(tmp_path, "equipment", "equipment,kind\nLine A,line\n")])
    with pytest.raises(NotPermitted, match="NOBODY is not a person of this book"):
        bringing.bring(empty, tables, by="NOBODY")
    with empty.book.session(readonly=True) as session:
        assert not every(session, f.EquipmentEntered)


def test_failure_in_the_middle_of_entering_leaves_nothing(
    empty: Workplace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tables = bringing.read(empty, [write(tmp_path, "equipment", "equipment,kind\nA,line\nB,line\nC,line\n")])
    before = head(empty)
    calls = iter(range(9))

    def fail(*_: object) -> None:
        if next(calls) == 1:
            raise OSError("second of three")

    monkeypatch.setattr("ndi.services.importing.reconsider", fail)
    with pytest.raises(OSError, match="second of three"):
        bringing.bring(empty, tables, by="CLERK")
    assert head(empty) == before


def test_receiving_list_needs_serials_where_the_part_master_says_so(shop: Shop, tmp_path: Path) -> None:
    """T6-10501 is serialised, T6-10503 comes in lots: their part masters say so."""
    text = (
        RECEIVING
        + f"{ORDER},T6-10501,LOT-9,1\n{ORDER},T6-10501,G-77,2\n{ORDER},T6-10503,LOT-10,3\n{ORDER},T6-1050,G-1,1\n"
    )
    with pytest.raises(TableErrors) as caught:
        bringing.read(shop.work, [write(tmp_path, "receiving", text)])
    assert [(e.line, e.column) for e in caught.value.errors] == [(2, "serial_or_lot"), (3, "qty"), (5, "part_no")]


def test_receiving_list_comes_in_under_the_keys_of_the_floor(shop: Shop, tmp_path: Path) -> None:
    tables = bringing.read(
        shop.work, [write(tmp_path, "receiving", RECEIVING + f"{ORDER},T6-10501,G-77,1\n{ORDER},T6-10503,LOT-10,3\n")]
    )
    bringing.bring(shop.work, tables, by="SUP-F")
    with shop.work.book.session(readonly=True) as session:
        assert session.part(f"{ORDER}/T6-10501/G-77").serial == "G-77"
        assert (session.part(f"{ORDER}/T6-10503/LOT-10").lot, session.part(f"{ORDER}/T6-10503/LOT-10").quantity) == (
            "LOT-10",
            3,
        )


def test_calibration_brought_in_late_suspends_what_rests_on_the_meter(shop: Shop, tmp_path: Path) -> None:
    """Law 10: a meter that read far too high makes the lamp's readings doubtful, and the acceptance with them."""
    shop.gear()
    shop.sign("MT-001")
    assert not shop.row("MT-001").suspended
    shop.at("12:00", "2026-03-11")
    text = "equipment,item,done,due,result,as_found_error_percent\nRM-1,UV-A channel,2026-03-11,2027-03-10,out of tolerance,80\n"
    tables = [write(tmp_path, "calibrations", text), write(tmp_path, "equipment", "equipment,kind\nRM-1,meter\n")]
    bringing.bring(shop.work, bringing.read(shop.work, tables), by="SUP-F")
    assert shop.row("MT-001").suspended


def test_directives_of_one_engine_are_one_confirmation(empty: Workplace, tmp_path: Path) -> None:
    put(
        empty,
        f.WorkOrderOpened("W-1", "M", "E", "overhaul", "new"),
        f.WorkOrderOpened("W-2", "M", "E2", "overhaul", "new"),
    )
    tables = bringing.read(
        empty, [write(tmp_path, "directives", "wo,line,answered\nW-1,look at A,yes\nW-2,,\nW-1,look at B,no\n")]
    )
    assert [fact for fact, _ in tables[0].facts] == [
        f.DirectivesConfirmed("W-1", ("look at A", "look at B"), ("look at A",)),
        f.DirectivesConfirmed("W-2", (), ()),
    ]


@pytest.mark.parametrize("name", KINDS)
def test_first_line_and_example_of_every_table_fit(ndi: Run, name: str) -> None:
    said = ndi("columns", name, "--example")
    header, example = said.out.splitlines()
    import csv

    assert header.split(",") == list(KINDS[name].columns)
    assert len(next(csv.reader([example]))) == len(KINDS[name].columns)


def test_command_line_checks_without_changing_then_brings_in(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    book = tmp_path / "empty.ndibook"
    table = write(tmp_path, "equipment", EQUIPMENT + "UV-1,lamp,no,\n")
    before = head(empty)
    assert "nothing wrong; not brought in" in ndi("import", book, table, "--by", "CLERK", "--check").out
    assert head(empty) == before
    assert ndi("import", book, table, "--by", "CLERK").out == "brought in: 1 of equipment\n"
    said = ndi("import", book, table, "--by", "CLERK")
    assert said.code == 2 and "equipment.csv, line 2, column equipment: equipment UV-1 is there already" in said.err
