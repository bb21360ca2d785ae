"""``ndi ask`` as somebody types it: a list with its definition and count, pages of it, evidence, files, freezing, all at once."""

from __future__ import annotations

import csv
import json
import re
import shutil
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.services.asked import answering


@pytest.fixture
def book(day_book: Path, tmp_path: Path) -> Path:
    shutil.copy(day_book, tmp_path / day_book.name)
    shutil.copytree(bootstrap.key_folder(day_book), bootstrap.key_folder(tmp_path / day_book.name))
    return tmp_path / day_book.name


def asked(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> tuple[str, str]:
    assert main(["ask", *map(str, words)]) == code
    said = capsys.readouterr()
    return said.out, said.err


PLAIN = {  # what a question needs that has no default
    "F1": ["lamp=LP-3"],
    "F2": ["object=dryer"],
    "F3": ["part_no=T6-11001", "zone=MAIN3-THROUGH-BOLT-BOSS"],
    "F9": ["serial=R-7744"],
    "F10": ["part=CY-4401"],
    "F11": ["work_order=W26-0151"],
    "F13": ["meter=RM-1"],
    "F26": ["procedure=MT-P-01", "revision=F"],
    "F27": ["person=L2-A"],
    "F29": ["part=CY-4401"],
    "F30": ["seed=one"],
    "F35": ["work_order=W26-0148"],
}


def test_each_of_the_forty_is_one_verb(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for question in answering.questions():
        out, err = asked(capsys, book, question.id, *PLAIN.get(question.id, []))
        assert out.startswith(f"{question.id}  {question.text}\n{question.definition}\n") and not err
        assert re.search(r"^\d+ rows, hash [0-9a-f]{16}, head \d+:", out, re.MULTILINE)


def test_what_is_missing_is_asked_for_with_what_the_book_holds(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, err = asked(capsys, book, "F1", code=2)
    assert err == "ndi: F1 needs lamp=which lamp; in this book for instance lamp=LP-3\n"
    assert asked(capsys, book, "F1", "lamp=LP-3", "shift=2", code=2)[1].startswith("ndi: F1 knows no shift")
    assert asked(capsys, book, "F41", code=2)[1].startswith("ndi: there is no question F41")
    assert asked(capsys, book, "F6", "all", code=2)[1].startswith("ndi: 'all' is no parameter")


def test_pages_and_filter(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = asked(capsys, book, "F26", *PLAIN["F26"])[0].splitlines()
    rows = [line for line in whole if line.startswith("MT-")]
    assert len(rows) == 34
    page = asked(capsys, book, "F26", *PLAIN["F26"], "--skip", 10, "--most", 5)[0]
    assert [line for line in page.splitlines() if line.startswith("MT-")] == rows[10:15]
    assert "34 rows, shown 11 to 15, hash" in page
    found = asked(capsys, book, "F26", *PLAIN["F26"], "--filter", "r-774")[0]
    assert "7 of 34 rows, hash" in found  # six rods, one of them twice


def test_the_entries_of_a_row_in_words(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = asked(capsys, book, "F8", "month=2026-03", "--filter", "NOT RECORDED", "--evidence", 1)
    first, *entries = out.splitlines()
    assert first.startswith("LP-2 | 2026-03-09 | NOT RECORDED")
    assert len(entries) == 2  # Friday 2300 and Tuesday 2310 around it
    assert all(
        re.match(r"entry \d+, reading recorded, 2026-03-\d\d \d\d:\d\d, by L", line) or "SUP-F" in line
        for line in entries
    )
    assert "2300 uW/cm2" in entries[0] and "2310 uW/cm2" in entries[1]
    assert "from no single entry" in asked(capsys, book, "F33", "from=2026-03-10", "--evidence", 1)[0]
    assert "numbered from 1" in asked(capsys, book, "F39", "--evidence", 1, code=2)[1]


def test_files_and_freezing(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "open.csv"
    out, _ = asked(capsys, book, "F6", "--csv", target, "--freeze", "--by", "SUP-F")
    frozen = re.search(r"^frozen as entry (\d+), .*: 11 rows, ([0-9a-f]{64})$", out, re.MULTILINE)
    assert frozen
    with target.open(encoding="utf-8", newline="") as file:
        assert [row["Record"] for row in csv.DictReader(file)][:2] == ["PT-002", "PT-001"]
    read = json.loads(asked(capsys, book, "F6", "--json")[0])
    assert (read["count"], read["hash"]) == (11, frozen[2])
    assert "the book still says the same" in asked(capsys, book, "F6")[0]
    assert asked(capsys, book, "F6", "--csv", target, code=2)[1]  # never over a file that is there
    assert asked(capsys, book, "F6", "--freeze", code=2)[1] == "ndi: say who freezes it: --by PERSON\n"


def test_a_page_over_all_questions(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, err = asked(capsys, book, "--all", "--by", "L2-C")
    head, *lines = out.splitlines()
    assert len(lines) == 40 and not err and "," in head
    assert [line.split()[0] for line in lines] == [f"F{n}" for n in range(1, 41)]
    by_number = {line.split()[0]: line for line in lines}
    assert by_number["F1"].split()[1] == "20" and "(lamp=LP-3)" in by_number["F1"]
    assert "person=L2-C" in by_number["F27"] and "walks the whole chain" in by_number["F31"]
    read = json.loads(asked(capsys, book, "--all", "--json")[0])
    assert [line["count"] for line in read if line["question"] == "F6"] == [11]
    assert asked(capsys, "--all", code=2)[1] == "ndi: name the book: ndi ask BOOK --all\n"
