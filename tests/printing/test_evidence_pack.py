"""The evidence pack: what is drawn can be drawn again, what is attached can be checked by somebody who has nothing of ours.

Hashes are taken again with hashlib, signatures are checked with the cryptography
library; both read the attached file only.
"""

from __future__ import annotations

import csv
import hashlib
import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import fpdf
import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain.errors import InputError, NotFound
from ndi.services import evidence_pack as packs
from ndi.services.paper_blocks import PaperModel
from ndi.services.sampling import Choice, draw
from ndi.services.workplace import Workplace
from tests.printing.attached import attached
from tests.printing.pdf_text import page_count, printed_lines, words

PART = "W26-0148/T6-10010/6H-C-3391"


def _listed(*names: str) -> list[str]:
    found = []
    for name in names or ("mt", "pt"):
        path = Path(bootstrap.data_folder("demo")) / "2026-03-10" / f"inspections_{name}.csv"
        with path.open(encoding="utf-8", newline="") as file:
            found += [row["insp"] for row in csv.DictReader(file)]
    return found


def _first(names: list[str], seed: str, count: int) -> set[str]:
    """The draw done by hand, as the pack describes it."""
    return set(sorted(names, key=lambda name: hashlib.sha256(f"{seed}:{name}".encode()).hexdigest())[:count])


# --- the draw ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", ["42", "Ω", "2026-03-10 audit"])
@pytest.mark.parametrize("count", [1, 7, 61])
def test_anybody_can_draw_the_same_again(evening: Workplace, seed: str, count: int) -> None:
    """Every record of the day is signed, so the inspection lists are what is drawn from."""
    sample = draw(evening, count, seed)
    assert sample.population == len(_listed()) == 61
    assert set(sample.drawn) == _first(_listed(), seed, count)
    assert len(set(sample.drawn)) == count
    assert draw(evening, count, seed) == sample


def test_draws_differ_by_seed_and_without_one_the_head_is_it(evening: Workplace) -> None:
    with evening.book.session(readonly=True) as session:
        head = str(session.head())
    assert draw(evening, 9).seed == head
    assert set(draw(evening, 9).drawn) == _first(_listed(), head, 9)
    assert len({draw(evening, 9, str(n)).drawn for n in range(20)}) == 20


def test_every_record_comes_about_as_often_as_every_other(evening: Workplace) -> None:
    """Of 200 draws of 10 from 61, each record is expected in 32.8; five standard deviations of the binomial are 26."""
    seen = dict.fromkeys(_listed(), 0)
    for seed in range(200):
        for name in draw(evening, 10, str(seed)).drawn:
            seen[name] += 1
    assert all(32.8 - 26 < count < 32.8 + 26 for count in seen.values())


def test_drawn_from_what_was_asked_for(evening: Workplace) -> None:
    assert set(draw(evening, 34, "x", Choice(method="MT")).drawn) == set(_listed("mt"))
    day = date(2026, 3, 10)
    assert draw(evening, 1, "x", Choice(since=day, until=day)).population == 61
    for nothing in (Choice(until=date(2026, 3, 9)), Choice(since=date(2026, 3, 11))):
        with pytest.raises(InputError, match="0 records to draw from"):
            draw(evening, 1, "x", nothing)
    for count in (0, -1, 62):
        with pytest.raises(InputError):
            draw(evening, count, "x")


# --- what is in it ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def pack(evening: Workplace) -> tuple[PaperModel, bytes]:
    """Four records drawn by 42."""
    model = packs.pack_of_sample(evening, draw(evening, 4, "42"))
    return model, bootstrap.paper_pdf(model, evening)


def _chain_faults(told: dict[str, Any]) -> list[str]:
    """What a stranger finds wrong with the entries of a pack."""
    found, entries = [], {each["position"]: each for each in told["entries"]}
    texts = {position: json.loads(each["text"]) for position, each in entries.items()}
    keys = {t["body"]["station"]: t["body"]["public_key"] for t in texts.values() if t["kind"] == "StationKeyEntered"}
    for position, each in entries.items():
        if hashlib.sha256(each["text"].encode()).hexdigest() != each["hash"]:
            found.append(f"{position}: hash")
        before = entries.get(position - 1)
        if before is not None and texts[position]["prev_hash"] != before["hash"]:
            found.append(f"{position}: chain")
        try:
            key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(keys[each["station"]]))
            key.verify(bytes.fromhex(each["signature"]), bytes.fromhex(each["hash"]))
        except InvalidSignature:
            found.append(f"{position}: signature")
    for record in told["records"]:
        hashes = [entries[position]["hash"] for position in record["entries"]]
        if hashlib.sha256("\n".join(hashes).encode()).hexdigest() != record["digest"]:
            found.append(f"{record['record']}: digest")
    return found


def test_a_stranger_can_check_every_entry(pack: tuple[PaperModel, bytes]) -> None:
    told = attached(pack[1])
    assert len(told["entries"]) > 100
    assert _chain_faults(told) == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda each: each.update(text=each["text"].replace('"by":"', '"by":"x')), "hash"),
        (lambda each: each.update(hash="0" * 64), "signature"),
        (lambda each: each.update(signature="00" * 64), "signature"),
    ],
)
def test_and_finds_what_was_changed(pack: tuple[PaperModel, bytes], change: Any, said: str) -> None:
    told = attached(pack[1])
    change(told["entries"][40])
    assert any(said in fault for fault in _chain_faults(told))


def test_each_record_is_there_with_its_evidence(pack: tuple[PaperModel, bytes]) -> None:
    model, pdf = pack
    told, said = attached(pdf), words(pdf)
    assert {each["record"] for each in told["records"]} == _first(_listed(), "42", 4) == set(told["sample"]["drawn"])
    assert "Drawn by (seed) 42" in said and "sample of 4 from 61 records, drawn by 42" in said
    starts = {
        each["record"]: page
        for each in told["records"]
        for page in range(page_count(pdf))
        if f"INSPECTION RECORD {each['record']}:" in " ".join(printed_lines(pdf, page))
    }
    assert set(starts) == {each["record"] for each in told["records"]}
    assert len(set(starts.values())) == 4  # each begins on a page of its own
    for heading in (
        "Readings",
        "Every rule and its answer",
        "Decisions and signatures",
        "Certificates and exams relied upon",
    ):
        assert said.count(heading) == 4 + (heading == "Readings") * said.count("Other readings")
    for record in told["records"]:
        assert record["digest"][:40] in "".join(said.split())
    assert "entries hold" in said and model.head in said


def test_part_has_all_its_records_and_a_mistyped_one_is_said(evening: Workplace) -> None:
    told = json.loads(packs.pack_of_part(evening, PART).record or "")
    assert [each["record"] for each in told["records"]] == ["MT-001"]
    told = json.loads(packs.pack_of_part(evening, "R-7744").record or "")  # the serial number alone
    assert [each["record"] for each in told["records"]] == ["MT-006", "MT-034"]
    with pytest.raises(NotFound, match="no part 6H-C-9999"):
        packs.pack_of_part(evening, "6H-C-9999")
    with pytest.raises(InputError, match="has no record"):
        packs.pack_of_part(evening, "LOT-148-RBU")
    with pytest.raises(NotFound, match="MT-999"):
        packs.evidence_pack(evening, ["MT-999"], "x")


@pytest.mark.parametrize(("numbers", "said"), [((), ""), ((4,), "4"), ((1, 2, 3, 9, 12, 13), "1-3, 9, 12-13")])
def test_positions_as_ranges(numbers: tuple[int, ...], said: str) -> None:
    assert packs.ranges(numbers) == said


# --- long ones ------------------------------------------------------------------------------------------------


def test_work_grows_in_proportion_to_the_records(evening: Workplace, monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines set, pages and steps of progress for 2, 4 and 8 times the same records: twice as many more is twice the work."""
    lines = 0
    original = fpdf.FPDF.text

    def counted(self: Any, *args: Any, **named: Any) -> Any:
        nonlocal lines
        lines += 1
        return original(self, *args, **named)

    monkeypatch.setattr(fpdf.FPDF, "text", counted)
    done = []
    for times in (1, 2, 4):
        lines, steps = 0, []
        names = ["MT-010", "PT-012"] * times
        model = packs.evidence_pack(evening, names, "x", progress=lambda *step: steps.append(step))  # noqa: B023
        pdf = bootstrap.paper_pdf(model, evening, lambda *step: steps.append(step))  # noqa: B023
        read = [step for step in steps if step[0] == packs.READ]
        assert read == [(packs.READ, number + 1, len(names)) for number in range(len(names))]
        assert [step[2] for step in steps if step[0] == "page written"] == [page_count(pdf)] * page_count(pdf)
        done.append((lines, page_count(pdf), len(model.blocks)))
    for one, two, four in zip(*done, strict=True):
        assert four - two == 2 * (two - one) > 0


def test_command_line_says_how_far_it_is(day_book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "pack.pdf"
    words_ = ["report", "evidence", str(day_book), "--sample", "9", "--seed", "42", "--method", "PT", "--out", str(out)]
    assert main(words_) == 0
    said = capsys.readouterr()
    assert "EVIDENCE PACK: sample of 9 from 27 records, drawn by 42" in said.out
    assert re.search(r"^page written \d+ of \d+$", said.err, re.MULTILINE)
    assert page_count(out.read_bytes()) > 20
    for wrong in ([], ["--sample", "1", "--part", PART]):
        assert main(["report", "evidence", str(day_book), *wrong, "--out", str(out)]) == 2
        assert "name one of --part, --record" in capsys.readouterr().err
