"""``ndi trend``, ``ndi gather``, ``ndi how-good`` as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ndi.cli.main import main
from tests.trends.past import LAMP, Past
from tests.trends.test_detection import HITS, SIZES
from tests.trends.test_lamp import DAYS, FIRST, VALUES

Run = pytest.CaptureFixture[str]


@pytest.fixture
def book(past: Past) -> str:
    past.lamp_read(FIRST, DAYS, VALUES)
    record = past.record()
    past.relevant(record, "I-1", clock="90", place=("10", "20"))
    past.look(record, none_seen=True)
    past.shop.close()
    return str(past.work.book.path)  # type: ignore[attr-defined]


@pytest.fixture
def table(tmp_path: Path) -> str:
    path = tmp_path / "set.csv"
    lines = [f"{size},{'yes' if hit == '1' else 'no'}" for size, hit in zip(SIZES, HITS, strict=True)]
    path.write_text("\n".join(["size_in,found", *lines]) + "\n")
    return str(path)


def test_a_trend_is_printed_and_written(book: str, tmp_path: Path, capsys: Run) -> None:
    out = tmp_path / "lamp.pdf"
    assert main(["trend", book, "lamp", LAMP, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "loses 0.279 % a day" in said and "2026-07-23" in said and "MT-P-01 Rev F, 4.1" in said
    assert "Source: uv_min 1000" in said and f"written: {out}" in said
    assert out.read_bytes().startswith(b"%PDF")


def test_a_trend_as_json(book: str, capsys: Run) -> None:
    assert main(["trend", book, "lamp", LAMP, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["figures"]["slope_per_day"] == pytest.approx(-0.00278914, abs=5e-9)
    assert found["enough"] is True and found["tables"][0]["rows"]


def test_too_few_is_an_answer_and_no_error(book: str, capsys: Run) -> None:
    assert main(["trend", book, "lamp", LAMP, "--since", "2026-03-01"]) == 0
    assert "Too few readings for a trend" in capsys.readouterr().out


def test_without_a_kind_it_says_what_there_is(book: str, capsys: Run) -> None:
    assert main(["trend", book]) == 0
    said = capsys.readouterr().out
    assert f"  {LAMP}, 21 recorded, last 2026-03-09" in said
    assert main(["gather", book]) == 0
    assert "1 relevant" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["trend", "BOOK", "lamp", "LP-99"], 3, "no lamp of this book"),
        (["trend", "BOOK", "lamp"], 2, "say of what"),
        (["trend", "BOOK", "readings", LAMP], 2, "say of which quantity"),
        (["trend", "BOOK", "lamp", LAMP, "--volume-l", "95"], 2, "a dose belongs to a bath"),
        (["trend", "BOOK", "--json"], 2, "say first of what"),
        (["gather", "BOOK", "T9-9"], 3, "no piece of part number T9-9"),
        (["how-good", "BOOK", "--json"], 2, "of one method"),
        (["how-good", "BOOK", "--qualification", "nothing.csv", "--method", "MT"], 2, "asked for alone"),
        (["how-good", "BOOK", "--qualification", "nothing.csv"], 2, "cannot be read"),
        (["trend", "BOOK", "lamp", LAMP, "--out", "chart.png"], 2, "does not end in .pdf"),
    ],
)
def test_what_is_wrong_is_said_with_its_exit_code(
    book: str, capsys: Run, words: list[str], code: int, says: str
) -> None:
    assert main([book if word == "BOOK" else word for word in words]) == code
    assert says in capsys.readouterr().err


def test_where_cracks_gather_and_how_good(book: str, tmp_path: Path, table: str, capsys: Run) -> None:
    assert main(["gather", book, "T6-10501", "--similar", "--out", str(tmp_path / "gather.pdf")]) == 0
    assert "1 relevant indication on T6-10501" in capsys.readouterr().out
    assert main(["how-good", book]) == 0
    said = capsys.readouterr().out
    assert "magnetic particle" in said and "penetrant" in said
    assert (
        main(["how-good", book, "--qualification", table, "--tried", "rods", "--out", str(tmp_path / "pod.pdf")]) == 0
    )
    assert "a90/95" in capsys.readouterr().out
    assert {path.name for path in tmp_path.glob("*.pdf")} == {"gather.pdf", "pod.pdf"}
