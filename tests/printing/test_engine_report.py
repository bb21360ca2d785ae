"""The owner's engine report, made from the demonstration day and read back; figures against an own reading of the day's CSV."""

from __future__ import annotations

import csv
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pypdfium2.raw as pdfium  # type: ignore[import-untyped]
import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.photo.archive import FolderArchive
from ndi.services import annotating
from ndi.services import paper_blocks as b
from ndi.services.owner_report import owner_report
from ndi.services.photographs import Shown, attach_photograph
from ndi.services.report_models import Labelled
from tests.photo.picture_files import picture as picture_file
from tests.printing import printing_models
from tests.printing.attached import attached
from tests.printing.pdf_text import baselines, level, line_text, page_count, page_glyphs, printed_lines, words
from tests.services.conftest import accepted, morning, shop  # noqa: F401  fixtures
from tests.services.shop import GEAR, GEAR_SHEET, Shop

ORDER = "W26-0148"


@pytest.fixture(scope="module")
def report(day_book: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    out = tmp_path_factory.mktemp("engine") / "engine.pdf"
    assert main(["report", "engine", str(day_book), ORDER, "--out", str(out)]) == 0
    return out.read_bytes()


def _rows(name: str) -> list[dict[str, str]]:
    path = Path(bootstrap.data_folder("demo")) / "2026-03-10" / name
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_pieces_reconcile_with_the_receiving_list(report: bytes) -> None:
    received = sum(int(row["qty"]) for row in _rows("receiving.csv") if row["wo"] == ORDER and not row["reason_code"])
    said = re.search(r"(\d+) pieces received = ([^.]*)\.", words(report))
    assert said is not None
    assert int(said[1]) == received == sum(int(number) for number in re.findall(r"\d+", said[2]))


def test_every_indication_of_the_engine_stands_in_it(report: bytes) -> None:
    of_order = {row["insp"] for name in ("mt", "pt") for row in _rows(f"inspections_{name}.csv") if row["wo"] == ORDER}
    expected = {row["ind"] for row in _rows("indications.csv") if row["insp"] in of_order}
    told = attached(report)["indications"]
    assert expected
    assert {each["indication"] for each in told} == expected
    relevant = {
        r["ind"] for r in _rows("indications.csv") if r["ind"] in expected and r["interpretation"] == "relevant"
    }
    assert all(name in words(report) for name in relevant)


def test_never_says_what_is_not_ours_to_say(report: bytes) -> None:
    said = words(report).lower()
    assert not re.search(r"\b(airworthy|airworthiness|overhauled|serviceable)\b", said)
    assert "not the release document" in said
    assert "what this inspection cannot tell" in said


def test_suspended_and_provisional_records_are_said(report: bytes) -> None:
    parts = attached(report)["parts"]
    assert isinstance(parts, list)
    records = [record for part in parts for record in part["records"]]
    suspended = [record["record"] for record in records if record["suspended"]]
    assert suspended
    assert f"SUSPENDED: {len(suspended)} INSPECTION(S)" in words(report)


def test_a_decision_against_a_piece_stands_while_its_claim_is_suspended(report: bytes) -> None:
    """PT-001 is HOLD-ENG and used the lamp in doubt: the hold is never told as one that is not relied upon."""
    said = words(report)
    assert "(PT-001): HOLD-ENG stands" in said
    assert "decided before as HOLD-ENG" not in said
    assert "Inspected anew as MT-034: ACCEPT" in said


def test_it_declares_the_archival_format(report: bytes) -> None:
    """ISO 19005-3: the part and level stand in the XMP packet, which is not compressed."""
    assert b"<pdfaid:part>3</pdfaid:part>" in report
    assert b"<pdfaid:conformance>B</pdfaid:conformance>" in report


# --- photographs and what is provisional, on a small book ------------------------------------------


@pytest.fixture
def cracked(shop: Shop) -> Shop:  # noqa: F811
    """Gear MT-001 with a crack that was photographed; not decided yet."""
    part = shop.receive(GEAR, "CG-1")
    steps = shop.magnetic_steps("MT-001", part, GEAR_SHEET, nothing_seen=False)
    shop.play(step for step in steps if step.seconds <= 780)
    shop.crack("MT-001", part, at=("30", "10"))
    taken = f"{shop.work.now().local:%Y:%m:%d %H:%M:%S}"
    content = picture_file(size=(640, 420), taken=taken)
    attach_photograph(shop.work, "MT-001", content, "a.jpg", "L2-A", indication="IND-01", shown=Shown(light="UV"))
    return shop


def _pdf(of: Shop) -> bytes:
    return bootstrap.paper_pdf(owner_report(of.work, ORDER), of.work)


def _pictures_on(pdf: bytes, page: int) -> int:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return sum(1 for _ in document[page].get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE]))
    finally:
        document.close()


def test_times_are_the_log_books_and_a_word_has_no_unit(day_book: Path, report: bytes, tmp_path: Path) -> None:
    """W26-0148: TSN 3804, TSO 1912; W26-0151 never had an overhaul (the scenario's engines)."""
    assert "3804 h, as stated in the log book" in words(report) and "Since overhaul 1912 h, as" in words(report)
    assert main(["report", "engine", str(day_book), "W26-0151", "--out", str(tmp_path / "e.pdf")]) == 0
    assert "no earlier overhaul (h" not in words((tmp_path / "e.pdf").read_bytes())


def test_pieces_that_left_are_said_and_no_head_breaks_in_a_word(day_book: Path, tmp_path: Path) -> None:
    """Crankshaft returned, rocker RA-07 scrapped: six states in the table, and nobody is asked what becomes of them."""
    copied = tmp_path / day_book.name
    shutil.copy(day_book, copied)
    shutil.copytree(bootstrap.key_folder(day_book), bootstrap.key_folder(copied))
    crank, rockers = f"{ORDER}/T6-10010/6H-C-3391", f"{ORDER}/T6-10301/LOT-148-RKR"
    owner = ["record", "--by", "SUP-F", str(copied), "owner-answer", "reference=letter 7"]
    assert main([*owner, f"part={crank}", "answer=return"]) == 0
    assert main([*owner, f"part={rockers}", "piece=RA-07", "answer=scrap"]) == 0
    assert main(["scrap", str(copied), crank, "--return", "--marked", "--by", "CI-G"]) == 0
    how = ["--piece", "RA-07", "--by", "CI-G", "--witness", "SUP-F", "--defaced", "--photo", "ab" * 32]
    assert main(["scrap", str(copied), rockers, *how]) == 0
    assert main(["report", "engine", str(copied), ORDER, "--out", str(tmp_path / "e.pdf")]) == 0
    pdf = (tmp_path / "e.pdf").read_bytes()
    said = words(pdf)
    assert "REJECT, then RETURN UNSERVICEABLE" in said and "REJECT, then SCRAP" in said
    assert "tell the shop what is to become" not in said and "goes back marked as rejected" in said
    assert "1 scrapped + 1 returned + 1 on hold + 11 suspended" in said
    assert "Scrapped Returned On hold Suspended Undecided Accepted" in " ".join(printed_lines(pdf, 0))


def test_what_is_signed_stands_on_the_page_of_the_signatures() -> None:
    """Wherever the page breaks, the lines to sign are never alone on one."""
    for lines in range(49, 57):
        blocks = (*[b.Text("above")] * lines, b.Text("what is signed"), b.SignLines(("inspector, date",)))
        model = b.PaperModel("T", "S", "B", False, "now", "1:0", blocks)
        pdf = bootstrap.paper.paper_pdf(model, created=printing_models.CREATED)
        last = " ".join(printed_lines(pdf, page_count(pdf) - 1))
        assert "what is signed" in last and "inspector, date" in last, lines


def test_a_photograph_stands_on_the_page_of_its_finding(cracked: Shop) -> None:
    """Words, arrow and photograph of one finding are never apart; what is missing of the archive is said."""
    pdf = _pdf(cracked)
    of_finding = [n for n in range(page_count(pdf)) if "What follows:" in " ".join(printed_lines(pdf, n))]
    assert len(of_finding) == 1
    (page,) = of_finding
    said = " ".join(printed_lines(pdf, page))
    assert "Arrow 1 points at the place" in said and "IND-01, 2026-03-10" in said
    assert _pictures_on(pdf, page) == 1
    assert [p for p in range(page_count(pdf)) if _pictures_on(pdf, p)] == [page]

    assert isinstance(cracked.work.photographs, FolderArchive)
    (file,) = [path for path in cracked.work.photographs.folder.rglob("*") if path.is_file()]
    file.chmod(0o600)
    file.unlink()
    said = words(_pdf(cracked))
    assert "1 photograph(s) named in the record are not in the archive of this book" in said


def test_what_is_drawn_beside_a_photograph_is_in_the_report(cracked: Shop) -> None:
    """The picture on the page is another one once an arrow is drawn; the original in the archive stays as it is."""

    def printed() -> bytes:
        (block,) = [each for each in owner_report(cracked.work, ORDER).blocks if isinstance(each, b.Finding)]
        return block.pictures[0].content

    before = printed()
    (photo,) = cracked.facts(f.PhotoAttached)
    ends = (annotating.point("20,20"), annotating.point("70,60"))
    arrow = f.PhotographAnnotated("MT-001", photo.fact.sha256, "", "arrow", ends, "crack")
    annotating.annotate(cracked.work, arrow, "L2-A")
    assert printed() != before
    assert cracked.work.photographs is not None and cracked.work.photographs.holds(photo.fact.sha256)


def test_finding_block_that_does_not_fit_goes_to_the_next_page_whole() -> None:
    """Every height of what stands above: the heading is never on another page than the arrow's caption."""
    record_ = printing_models.record()
    finding = b.Finding(
        "1. Crankshaft, 6H-C-3391",
        (Labelled("Where", "rear fillet of crankpin 4"), Labelled("Size", "0.31 in")),
        "What follows: replace it.",
        b.Drawing("Arrow 1 points at the place.", record_.outline, record_.zones, record_.indications[:1]),
        record_.pictures,
        ("a note",),
    )
    several = replace(finding, pictures=record_.pictures * 4)  # the drawing and four photographs still fit on a page
    for lines, block in [*((n, finding) for n in range(34, 66, 4)), (30, several)]:
        blocks = (*[b.Text("above")] * lines, b.Heading("What was found"), block)
        model = b.PaperModel("T", "S", "B", False, "now", "1:0", blocks)
        pdf = bootstrap.paper.paper_pdf(model, created=printing_models.CREATED)
        pages = [
            n
            for n in range(page_count(pdf))
            for text in ("What was found", "1. Crankshaft", "Arrow 1 points", "a note", "PIN4-REAR-FILLET under UV-A")
            if text in " ".join(printed_lines(pdf, n))
        ]
        assert len(pages) == 5 and len(set(pages)) == 1, lines


def test_a_provisional_acceptance_says_what_it_waits_for(accepted: Shop) -> None:  # noqa: F811
    said = words(_pdf(accepted))
    assert "PROVISIONAL: 1 INSPECTION(S)" in said
    assert re.search(r"\(MT-001\): waits for [^.]*LP-1", said)
    assert "ACCEPT - PROVISIONAL" in said
    assert "No relevant indication was recorded" in said


def test_heads_of_a_table_are_of_one_size_and_break_at_words_only(report: bytes) -> None:
    (head,) = [
        line for line in baselines(level(page_glyphs(report, 0))) if line_text(line).startswith("Part Part number")
    ]
    assert line_text(head) == (
        "Part Part number Serial or lot Methods Pieces Rejected On hold Suspended Undecided Accepted"
    )
    capitals = {round(glyph.top - glyph.bottom, 1) for glyph in head if glyph.char in "PMRA"}
    assert max(capitals) - min(capitals) < 0.3
