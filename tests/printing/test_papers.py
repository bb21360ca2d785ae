"""Handover, verification, recall, letters, calendar, blank forms: made from the demonstration day, figures against its CSV files."""

from __future__ import annotations

import csv
import re
from collections import Counter
from datetime import date
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.services import blank_forms, recall_work
from ndi.services.due_calendar import calendar_sheet, due_dates
from ndi.services.handover import open_lines
from ndi.services.handover_sheet import handover_sheet
from ndi.services.recall_papers import recall_letters, recall_list
from ndi.services.verification_sheet import verification_sheet
from ndi.services.workplace import Workplace
from tests.printing.attached import attached
from tests.printing.pdf_text import level, page_count, page_glyphs, printed_lines, words
from tests.services.conftest import morning, shop  # noqa: F401  fixtures
from tests.services.shop import Shop

DAY = date(2026, 3, 10)
MM = 72 / 25.4
NOT_OURS = re.compile(r"\b(airworthy|airworthiness|overhauled|serviceable)\b", re.IGNORECASE)


def _rows(folder: str, name: str) -> list[dict[str, str]]:
    path = Path(bootstrap.data_folder("demo")) / folder / name
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def papers(evening: Workplace) -> dict[str, bytes]:
    """One of each kind."""
    made = {
        "handover": handover_sheet(evening),
        "verification": verification_sheet(evening, DAY),
        "recall": recall_list(evening, "CT-01"),
        "letters": recall_letters(evening, "CT-01"),
        "calendar": calendar_sheet(evening),
    }
    return {name: bootstrap.paper_pdf(model, evening) for name, model in made.items()}


KINDS = pytest.mark.parametrize("name", ["handover", "verification", "recall", "letters", "calendar"])


@KINDS
def test_every_page_says_what_it_is_of_which_book_and_head(
    papers: dict[str, bytes], evening: Workplace, name: str
) -> None:
    with evening.book.session(readonly=True) as session:
        head = str(session.head())
    pdf = papers[name]
    for page in range(page_count(pdf)):
        said = " ".join(printed_lines(pdf, page))
        assert f"head {head}" in said and f"page {page + 1} of {page_count(pdf)}" in said
        assert "PRACTICE - NOT A REPORT" in said
    assert attached(pdf)["head"] == head and attached(pdf)["practice"] is True


@KINDS
def test_says_nothing_that_is_not_ours_and_that_it_releases_nothing(papers: dict[str, bytes], name: str) -> None:
    said = words(papers[name])
    assert not NOT_OURS.search(said)
    assert "Not a release document" in said


@KINDS
def test_nothing_leaves_the_paper(papers: dict[str, bytes], name: str) -> None:
    pdf = papers[name]
    for page in range(page_count(pdf)):
        for glyph in level(page_glyphs(pdf, page)):
            if glyph.char.strip():
                assert glyph.left >= 14 * MM and glyph.right <= (210 - 14) * MM, (page, glyph)
                assert glyph.bottom >= 4 * MM and glyph.top <= (297 - 8) * MM, (page, glyph)


def test_handover_holds_every_open_line_and_who_read_it(papers: dict[str, bytes], evening: Workplace) -> None:
    lines = open_lines(evening)
    assert lines
    assert [each["about"] for each in attached(papers["handover"])["lines"]] == [line.about for line in lines]
    said = words(papers["handover"])
    assert all(line.about[:6].strip() in said for line in lines)  # a long name goes on in the next line of its cell


def test_verification_covers_what_the_day_says(papers: dict[str, bytes]) -> None:
    """The day's own account (questions of the demonstration day): 50 records can be verified, PT-001 to PT-011 cannot."""
    told = attached(papers["verification"])
    assert len(told["covers"]) == 50
    assert told["suspended"] == [f"PT-{n:03d}" for n in range(1, 12)]
    assert {each["lamp"]: each["state"] for each in told["lamps"]}["LP-3"] == "out of limits"
    said = words(papers["verification"])
    assert all(name in said for name in told["covers"])
    assert said.index("Red: stands in the way") < said.index("Amber: a reason is enough")


def _used_lamp(lamp: str, until: str) -> set[str]:
    """Records viewed with a lamp before a time of the day, counted from the inspection lists."""
    found = set()
    for name in ("mt", "pt"):
        for row in _rows("2026-03-10", f"inspections_{name}.csv"):
            start = row.get("view_start") or row.get("start") or ""
            if lamp in row["lamps"].split("+") and start < until:
                found.add(row["insp"])
    return found


def test_recall_list_is_what_was_viewed_under_the_lamp(papers: dict[str, bytes]) -> None:
    """LP-3 was last good at 06:42 and bad at 12:35: what was viewed under it in between, by the inspection lists alone."""
    items = attached(papers["recall"])["items"]
    assert {item["record"] for item in items} == _used_lamp("LP-3", "12:35")
    assert "FIRST: NOT IN THE SHOP'S HANDS" in words(papers["recall"])  # PT-006 went on to assembly
    states = Counter(item["action"] for item in items if not item["done"])
    assert states["retrieve"] == 1


def test_letters_name_every_piece_of_each_engine_and_ask_only_for_what_left(papers: dict[str, bytes]) -> None:
    letters = attached(papers["letters"])["letters"]
    by_order = {row["insp"]: row["wo"] for n in ("mt", "pt") for row in _rows("2026-03-10", f"inspections_{n}.csv")}
    expected = {by_order[name] for name in _used_lamp("LP-3", "12:35")}
    assert {letter["work_order"] for letter in letters} == expected
    said = words(papers["letters"])
    assert "PLEASE ACT" not in said  # nothing of it is with the owner
    assert "lamp LP-3 read 880" in said
    for letter in letters:
        assert all(record["part"].rsplit("/", 1)[1] in said for record in letter["records"])


def test_letter_asks_the_owner_to_act_when_a_piece_is_shipped(shop: Shop) -> None:  # noqa: F811
    """A gear viewed under a lamp that is then read far under its limit, after the gear was shipped."""
    shop.gear()
    shop.sign("MT-001")
    shop.record(f.PartMoved(shop.row("MT-001").part, "shipped", None, None, reason="owner waits"), by="SUP-F")
    shop.after(3600).read_lamp("LP-1", "600")
    (name,) = [r.fact.containment for r in shop.facts(f.ContainmentOpened)]
    pdf = bootstrap.paper_pdf(recall_letters(shop.work, name), shop.work)
    said = words(pdf)
    assert "PLEASE ACT" in said and "Pieces that have left our shop" in said
    assert attached(pdf)["letters"][0]["records"][0]["action"] == "notify"
    recall_work.action_done(shop.work, name, "MT-001", "notify", "SUP-F", "letter 12")
    again = words(bootstrap.paper_pdf(recall_letters(shop.work, name), shop.work))  # told is not looked at
    assert "PLEASE ACT" in again and "dealt with already" not in again and "letter 12" in again


def test_unknown_recall_set_is_said(evening: Workplace) -> None:
    for make in (recall_list, recall_letters):
        with pytest.raises(NotFound, match="CT-99"):
            make(evening, "CT-99")


# --- the calendar ----------------------------------------------------------------------------------------


def test_calendar_holds_what_the_tables_before_the_day_say(evening: Workplace) -> None:
    """Dates from demo/before and the scenario: RM-2 ran out on 2026-03-06, L2-M's vision exam on 2026-03-08, GM-1 on 2026-07-01."""
    dues = {(due.kind, due.name, due.what): due.until for due in due_dates(evening)}
    assert dues["calibration", "RM-2", "UV-A channel"] == date(2026, 3, 6)
    assert dues["vision exam", "L2-M", "near vision"] == date(2026, 3, 8)
    assert {until for (kind, name, _), until in dues.items() if (kind, name) == ("calibration", "GM-1")} == {
        date(2026, 7, 1)
    }
    listed = [due.until for due in due_dates(evening)]
    assert listed == sorted(listed)


def test_calendar_tells_what_ran_out_from_the_last_valid_day_itself(
    papers: dict[str, bytes], evening: Workplace
) -> None:
    """The last valid day counts as valid: a thing that ends today is not over."""
    said = words(papers["calendar"])
    over = [due for due in due_dates(evening) if due.until < DAY]
    assert f"Ran out {len(over)} " in said
    assert "4 days over calibration RM-2" in said  # from 6 to 10 March
    assert "21 days left vision exam L2-B" in said  # to 31 March, as the scenario says


# --- blank forms -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", blank_forms.KINDS)
def test_a_form_is_a_sheet_with_a_front_and_a_back(shop: Shop, kind: str) -> None:  # noqa: F811
    """Two pages each, so that no sheet loses a part of itself; each says its number, and that it decides nothing."""
    model = blank_forms.blank_forms(shop.work, kind, 3, "SUP-F")
    pdf = bootstrap.paper_pdf(model, shop.work)
    assert page_count(pdf) == 6
    for number in range(3):
        front, back = (" ".join(printed_lines(pdf, 2 * number + side)) for side in (0, 1))
        name = f"OF-{number + 1:04d}"
        assert name in front and "no part is accepted, rejected or reworked on paper" in front
        assert f"{name}, back" in back and "Cautions" in back and "maker's manual" in back
    said = words(pdf)
    assert not NOT_OURS.search(said)
    assert "1000 µW/cm²" in said  # uv_min of the procedures in force
    assert attached(pdf)["numbers"] == ["OF-0001", "OF-0002", "OF-0003"]


def test_form_that_there_is_not(shop: Shop) -> None:  # noqa: F811
    head = shop.head()
    with pytest.raises(InputError, match="use one of readings, mt, pt, indications"):
        blank_forms.blank_forms(shop.work, "x", 1, "SUP-F")
    assert shop.head() == head


# --- the verbs -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("verb", "more", "said"),
    [
        ("handover", (), "HANDOVER SHEET: "),
        ("verification", ("--date", "2026-03-10"), "VERIFICATION SHEET: shift of 2026-03-10, Tuesday"),
        ("recall", ("CT-01",), "RECALL LIST CT-01: LP-3"),
        ("letters", ("CT-01",), "NOTICE OF RECALL CT-01: 1 letter"),
        ("calendar", ("--days", "30"), "CALIBRATION AND CERTIFICATE CALENDAR: from "),
    ],
)
def test_each_report_has_its_verb(
    day_book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], verb: str, more: tuple[str, ...], said: str
) -> None:
    out = tmp_path / "paper.pdf"
    assert main(["report", verb, str(day_book), *more, "--out", str(out)]) == 0
    assert capsys.readouterr().out.startswith(said)
    assert out.read_bytes().startswith(b"%PDF-1.7")
    assert main(["report", verb, str(day_book), *more, "--out", str(tmp_path / "paper.txt")]) == 2
    assert "does not end in .pdf" in capsys.readouterr().err
