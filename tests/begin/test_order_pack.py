"""The pack of one work order: what its owner is given, and that nothing of another owner is in it.

Whose is whose is read from the tables of the demonstration day with the csv module alone.
"""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.domain.entry import Draft
from ndi.services.lookup import every
from ndi.services.other_owners import OTHERS, OtherOwners
from ndi.services.workplace import Workplace
from tests.asked.conftest import DAY, copy_at, played
from tests.data import check_export
from tests.photo.picture_files import picture

SIX, FOUR = "W26-0148", "W26-0151"
COMPARED = "compared with CC-L-0871 (engine 6H-20417), same boss"


def table(name: str) -> list[dict[str, str]]:
    with (DAY / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def names_of(work_order: str) -> set[str]:
    """Every name in the day's tables that belongs to one work order: its own, its engine, pieces, records, indications."""
    found = {work_order}
    found |= {row["engine_serial"] for row in table("work_orders") if row["wo"] == work_order}
    pieces = {row["serial_or_lot"] for row in table("receiving") if row["wo"] == work_order}
    inspections = {
        row["insp"]
        for name in ("inspections_mt", "inspections_pt")
        for row in table(name)
        if row["serial_or_lot"] in pieces
    }
    marks = {row["ind"] for row in table("indications") if row["insp"] in inspections}
    looks = {row["sc"] for row in table("second_looks") if row["ind_or_insp"] in inspections | marks}
    return found | pieces | inspections | marks | looks


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration day, with photographs in the archive, and facts that name both owners in one entry."""
    folder = tmp_path_factory.mktemp("pack")
    made = played(DAY, DAY.parent / "before", folder / "demo.ndibook")
    work = copy_at(made, folder / "day", "17:00")
    assert work.photographs is not None
    for inspection, name, edge in (("PT-001", "CC-L-0871 boss.jpg", 40), ("PT-019", "CC-L-0644 boss.jpg", 50)):
        content = picture(size=(edge, edge))
        sha256 = work.photographs.keep(content)
        put(work, f.PhotoAttached(inspection, sha256, work.now(), size=len(content), original_name=name))
    put(
        work,
        f.BasketLoaded("B9", "PT", "Method A line", ("PT-001", "PT-019"), 1),
        f.StepStarted("B9", "wet"),
        f.ReasonGiven("PT-019", "L12", COMPARED, "L2-B"),
        f.ContainmentActionsProposed(
            "CT-90", (action("PT-001"), action("PT-019"))
        ),
        f.ContainmentOpened("CT-90", "LP-9", "UV-A", 3, None, work.now(), ("PT-001", "PT-019"), ("SC-03",), 2),
    )  # fmt: skip
    bootstrap.close(work.book)
    return folder / "day" / "demo.ndibook"


def action(inspection: str) -> f.ContainmentAction:
    return f.ContainmentAction(inspection, "re-view", f"developer of {inspection} still good")


def put(work: Workplace, *facts: f.Fact) -> None:
    with work.transaction() as session:
        session.append([Draft(fact, work.now(), "L2-B") for fact in facts])


@dataclass
class Pack:
    """A pack with every text that can be read out of it."""

    folder: Path
    texts: dict[str, str]

    def lines(self, name: str) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.texts[name].splitlines()]


@pytest.fixture(scope="module", params=[SIX, FOUR])
def pack(request: pytest.FixtureRequest, book: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pack]:
    """One of them as a ZIP file, unpacked by the library."""
    target = tmp_path_factory.mktemp("out") / request.param
    out = target if request.param == SIX else target.with_suffix(".zip")
    assert main(["export", str(book), str(out), "--work-order", request.param, "--by", "SUP-F"]) == 0
    if out != target:
        zipfile.ZipFile(out).extractall(target)
    texts = {}
    for path in sorted(target.rglob("*")):
        if path.is_file():
            name = path.relative_to(target).as_posix()
            texts[name] = name + "\n" + pdf_text(path) if path.suffix == ".pdf" else path.read_text("utf-8", "replace")
    yield Pack(target, texts)


def pdf_text(path: Path) -> str:
    """The words of every page, what is attached, and what the file says of itself."""
    document = pypdfium2.PdfDocument(path)
    words = [page.get_textpage().get_text_range() for page in document]
    words += [
        bytes(document.get_attachment(n).get_data()).decode("utf-8", "replace")
        for n in range(document.count_attachments())
    ]
    words += [str(document.get_metadata_dict())]
    document.close()
    return "\n".join(words)


def test_nothing_of_the_other_owner_is_in_any_file(pack: Pack) -> None:
    mine, other = pack.folder.name, FOUR if pack.folder.name == SIX else SIX
    theirs = names_of(other) - names_of(mine)
    assert len(theirs) > 40
    pattern = re.compile("|".join(rf"(?<![\w-]){re.escape(name)}(?![\w-])" for name in sorted(theirs)))
    found = {name: sorted(set(pattern.findall(text))) for name, text in pack.texts.items() if pattern.search(text)}
    assert found == {}


def test_search_for_leaks_finds_the_owners_own_names(pack: Pack) -> None:
    """The same search for what must be there: were it blind, the test above would prove nothing."""
    mine = names_of(pack.folder.name)
    everything = "\n".join(pack.texts.values())
    assert {name for name in mine if name not in everything} == set()


def test_every_record_is_there_on_paper_and_in_the_table(pack: Pack) -> None:
    rows = list(csv.DictReader(io.StringIO((pack.folder / "records.csv").read_bytes().decode("utf-8"), newline="")))
    names = {row["record"] for row in rows}
    pieces = {row["serial_or_lot"] for row in table("receiving") if row["wo"] == pack.folder.name}
    wanted = {
        row["insp"] for name in ("inspections_mt", "inspections_pt") for row in table(name)
        if row["serial_or_lot"] in pieces
    }  # fmt: skip
    assert names == wanted
    for row in rows:
        assert row["record"] in pack.texts[row["paper"]]
    assert {row["serial"] or row["lot"] for row in rows} <= pieces


def test_entries_are_signed_and_whole_by_the_written_rule(pack: Pack) -> None:
    """By the checker that knows nothing of the project."""
    manifest = json.loads(pack.texts["manifest.json"])
    for line in pack.texts["entries.jsonl"].splitlines():
        entry = json.loads(line)
        check_export.check_entry(entry, line)
        assert check_export.signed(manifest["stations"][entry["station"]], entry)
    check_export.check_files(lambda name: (pack.folder / name).read_bytes(), manifest)


def test_signed_answers_rest_on_entries_that_are_there_or_named(pack: Pack) -> None:
    given = {entry["position"]: entry for entry in pack.lines("entries.jsonl")}
    named = {each["entry"]["position"]: each for each in pack.lines("extracts.jsonl")}
    assert not set(given) & set(named)
    decisions = [entry for entry in given.values() if entry["kind"] == "DecisionSigned"]
    decisions += [each["entry"] for each in named.values() if each["entry"]["kind"] == "DecisionSigned"]
    assert decisions
    relied = {position for entry in decisions for answer in entry["body"]["answers"] for position in answer["facts"]}
    assert relied <= set(given) | set(named)


def test_entry_of_both_owners_is_given_without_the_other(pack: Pack, book: Path) -> None:
    mine, theirs = ("PT-001", "PT-019") if pack.folder.name == SIX else ("PT-019", "PT-001")
    by_kind = {each["entry"]["kind"]: each for each in pack.lines("extracts.jsonl")}
    basket = by_kind["BasketLoaded"]
    assert basket["entry"]["body"]["inspections"] == [mine] and basket["left_out"] == ["body.inspections"]
    proposed = by_kind["ContainmentActionsProposed"]["entry"]["body"]["actions"]
    assert proposed == [{"action": "re-view", "because": f"developer of {mine} still good", "inspection": mine}]
    assert "wet" in {entry["body"].get("step") for entry in pack.lines("entries.jsonl")}
    work = bootstrap.open_book(book)
    with work.book.transaction(reading=True) as tx:  # type: ignore[attr-defined]
        (row,) = tx.connection.exec_driver_sql(
            "SELECT hash FROM entry WHERE position = ?", (basket["entry"]["position"],)
        ).all()
    assert basket["entry_hash"] == row[0]
    assert theirs not in pack.texts["extracts.jsonl"]


def test_free_text_about_another_owner_is_blanked(pack: Pack) -> None:
    if pack.folder.name == FOUR:
        (reason,) = [e["entry"] for e in pack.lines("extracts.jsonl") if e["entry"]["kind"] == "ReasonGiven"]
        assert reason["body"]["text"] == f"compared with {OTHERS} (engine {OTHERS}), same boss"
    else:
        assert "same boss" not in "".join(pack.texts.values())


def test_secrets_and_sign_ins_are_not_in_it(pack: Pack) -> None:
    kinds = {entry["kind"] for entry in pack.lines("entries.jsonl")}
    assert not kinds & {"SecretSet", "SecretTried", "OneTimeCodeIssued", "BadgeAssigned"}
    assert {"BookBegun", "StationKeyEntered", "DocumentAdopted", "ReadingRecorded", "CertificateEntered"} <= kinds


def test_photographs_are_the_owners_own_and_read_by_a_general_tool(pack: Pack) -> None:
    pictures = [name for name in pack.texts if name.startswith("photographs/")]
    assert len(pictures) == 1
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", "photographs.sha256"], cwd=pack.folder, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_pack_says_what_it_is_and_what_it_is_not(pack: Pack) -> None:
    readme = pack.texts["README.txt"]
    assert f"INSPECTION RECORDS OF WORK ORDER {pack.folder.name}" in readme
    assert "It is no release to service" in readme and "WHAT IS LEFT OUT" in readme
    manifest = json.loads(pack.texts["manifest.json"])
    assert manifest["what"] == f"work order {pack.folder.name}"
    assert f"{manifest['head']['position']}:{manifest['head']['hash'][:16]}" in readme
    assert all(len(line) <= 84 for line in readme.splitlines())


def test_pack_is_kept_in_the_book_and_becomes_no_book(pack: Pack, book: Path, tmp_path: Path) -> None:
    work = bootstrap.open_book(book)
    with work.book.session(readonly=True) as session:
        made = [r for r in every(session, f.ExportMade) if r.fact.work_order == pack.folder.name]
    assert [(r.by, r.fact.entries) for r in made] == [
        ("SUP-F", len(pack.lines("entries.jsonl")) + len(pack.lines("extracts.jsonl")))
    ]
    assert main(["import-book", str(pack.folder), str(tmp_path / "new.ndibook")]) == 2
    assert list(tmp_path.iterdir()) == []


def test_work_order_that_is_not_there_is_refused(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", str(book), str(tmp_path / "none.zip"), "--work-order", "W99-1"]) == 3
    assert "work order W99-1 is not in this book" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("CC-1", OTHERS),
        ("see CC-1.", f"see {OTHERS}"),
        ("W2/P-100/CC-1 and W1/P-100/AA-1", f"{OTHERS} and W1/P-100/AA-1"),
        ("PT-7/view 1", f"{OTHERS} 1"),
        ("part P-100, 12 pieces", "part P-100, 12 pieces"),
        ("AA-1", "AA-1"),
        ("lot 12", "lot 12"),
        ("CC-12 is mine", "CC-12 is mine"),
    ],
)
def test_names_are_taken_out_word_by_word(text: str, left: str) -> None:
    """``12`` is too short to tell; ``P-100`` is a part number that both engines have; ``CC-12`` begins like another's name."""
    owners = OtherOwners(
        {"CC-1", "W2", "W2/P-100/CC-1", "PT-7", "12", "AA-1"}, {"AA-1", "W1", "P-100", "W1/P-100/AA-1"}
    )
    assert owners.without(text) == left
