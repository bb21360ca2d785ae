"""The owner's engine report, made from the demonstration day and read back; figures against an own reading of the day's CSV."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest

from ndi import bootstrap
from ndi.cli.main import main
from tests.printing.pdf_text import words

ORDER = "W26-0148"


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("engine")
    assert main(["demo", "--out", str(folder)]) == 0
    out = folder / "engine.pdf"
    assert main(["report", "engine", str(folder / "demo.ndibook"), ORDER, "--out", str(out)]) == 0
    return out.read_bytes()


def _rows(name: str) -> list[dict[str, str]]:
    path = Path(bootstrap.data_folder("demo")) / "2026-03-10" / name
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _attached(pdf: bytes) -> dict[str, object]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        (attachment,) = [document.get_attachment(n) for n in range(document.count_attachments())]
        found: dict[str, object] = json.loads(bytes(attachment.get_data()).decode())
        return found
    finally:
        document.close()


def test_pieces_reconcile_with_the_receiving_list(report: bytes) -> None:
    received = sum(int(row["qty"]) for row in _rows("receiving.csv") if row["wo"] == ORDER and not row["reason_code"])
    said = re.search(r"(\d+) pieces received = ([^.]*)\.", words(report))
    assert said is not None
    assert int(said[1]) == received == sum(int(number) for number in re.findall(r"\d+", said[2]))


def test_every_indication_of_the_engine_stands_in_it(report: bytes) -> None:
    of_order = {row["insp"] for name in ("mt", "pt") for row in _rows(f"inspections_{name}.csv") if row["wo"] == ORDER}
    expected = {row["ind"] for row in _rows("indications.csv") if row["insp"] in of_order}
    attached = _attached(report)["indications"]
    assert isinstance(attached, list)
    assert expected
    assert {each["indication"] for each in attached} == expected
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
    parts = _attached(report)["parts"]
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
