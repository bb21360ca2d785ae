"""New procedure files: they load, copy no value, and every empty value is named until it is filled in."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.domain.answer import Verdict
from ndi.domain.errors import InputError
from ndi.procedure_files import load_part, load_procedure, load_technique
from ndi.services import inspecting, receiving
from ndi.services.workplace import Workplace
from ndi.shop_files.part_masters import COLUMNS, part_files, write_parts
from ndi.shop_files.procedures import open_keys
from ndi.shop_files.reading import TableErrors
from tests.begin.conftest import Run
from tests.services import shop as practice
from tests.services.shop import ORDER, Shop

METHODS = {"MT": "MT-P-01", "PT": "PT-P-01"}


def new(ndi: Run, method: str, number: str = "NEW-01") -> str:
    said = ndi("procedure", "new", "procedure", "--rules-of", METHODS[method], "--number", number, "--revision", "A", "--method", method, "--effective", "2026-01-01")  # fmt: skip
    assert said.code == 0
    return said.out


@pytest.mark.parametrize("method", METHODS)
def test_new_procedure_loads_lists_rules_and_holds_no_value(ndi: Run, method: str) -> None:
    text = new(ndi, method)
    procedure = load_procedure(text, "new.toml")
    assert (procedure.number, procedure.revision, procedure.method) == ("NEW-01", "A", method)
    assert not procedure.parameters
    assert all(table["value"] == "" for table in tomllib.loads(text)["parameters"].values())
    like = [p for p in bootstrap.load_procedures(bootstrap.data_folder("procedures")) if p.number == METHODS[method]]
    assert list(procedure.rules) == list(max(like, key=lambda p: p.effective_from).rules)


@pytest.mark.parametrize("method", METHODS)
def test_every_empty_value_that_a_listed_rule_reads_stands_in_the_file(ndi: Run, method: str) -> None:
    """What is said to be open can be filled in: its line is there."""
    text = new(ndi, method)
    lines = set(re.findall(r"^([a-z_0-9]+) = \{ value = ", text, re.MULTILINE))
    wanted = {open_key.key for open_key in open_keys(load_procedure(text, "new.toml"))}
    assert wanted and wanted <= lines


@pytest.mark.parametrize(
    ("kind", "load"), [("procedure", load_procedure), ("technique", load_technique), ("part", load_part)]
)
def test_plain_templates_load(ndi: Run, kind: str, load: object) -> None:
    said = ndi("procedure", "new", kind)
    assert said.code == 0 and load(said.out, f"{kind}.toml")  # type: ignore[operator]


def test_text_that_would_break_the_file_is_refused(ndi: Run) -> None:
    said = ndi("procedure", "new", "procedure", "--title", 'a "quoted" title')
    assert said.code == 2 and not said.out


def folder(tmp_path: Path, text: str, number: str = "NEW-01") -> Path:
    place = tmp_path / "procedures"
    (place / number).mkdir(parents=True)
    (place / number / "rev-A.toml").write_text(text, encoding="utf-8")
    return place


def test_check_names_what_is_open_and_a_value_closes_it(ndi: Run, tmp_path: Path) -> None:
    text = new(ndi, "MT")
    place = folder(tmp_path, text)
    before = ndi("procedure", "check", place)
    assert before.code == 0
    assert "NEW-01 Rev A: residual_max has no value:" in before.out and "NOT RECORDED" in before.out
    value = 'residual_max = { value = "3", unit = "G", paragraph = "1", source = "test" }'
    (place / "NEW-01" / "rev-A.toml").write_text(
        re.sub(r"^residual_max = .*$", value, text, flags=re.MULTILINE), encoding="utf-8"
    )
    after = ndi("procedure", "check", place)
    assert "residual_max" not in after.out
    count = re.compile(r"^(\d+) open$", re.MULTILINE)
    assert int(count.search(before.out)[1]) == int(count.search(after.out)[1]) + 1  # type: ignore[index]


def test_broken_folder_is_refused_with_file_line_and_key(ndi: Run, tmp_path: Path) -> None:
    place = folder(tmp_path, new(ndi, "MT").replace("uv_min = {", "uv_minimum = {"))
    said = ndi("procedure", "check", place)
    assert said.code == 2 and re.search(
        r"NEW-01/rev-A\.toml, line \d+, key parameters\.uv_minimum: .*did you mean uv_min", said.err
    )


def test_adopted_procedure_with_empty_values_answers_not_recorded_and_names_key_and_revision(
    shop: Shop, ndi: Run, tmp_path: Path
) -> None:
    """No rule of a procedure without values is PASS or FAIL for want of a limit: it says which key is missing."""
    place = folder(tmp_path, new(ndi, "MT"))
    for kind, name in (
        ("techniques", practice.GEAR_SHEET),
        ("parts", practice.GEAR),
        ("parts", "T6-10502"),
        ("techniques", "MT-T-6051"),
    ):
        text = (Path(__file__).resolve().parents[2] / "procedures" / kind / f"{name}.toml").read_text(encoding="utf-8")
        text = (
            text.replace('procedure = "MT-P-01"', 'procedure = "NEW-01"')
            .replace(practice.GEAR_SHEET, "MT-T-NEW")
            .replace("MT-T-6051", "MT-T-NEW2")
        )
        text = re.sub(r"^effective_from = .*$", "effective_from = 2026-01-01", text, flags=re.MULTILINE).replace(
            'revision = "', 'revision = "N'
        )
        (place / kind).mkdir(exist_ok=True)
        file = name.replace(practice.GEAR_SHEET, "MT-T-NEW").replace("MT-T-6051", "MT-T-NEW2")
        (place / kind / f"{file}.toml").write_text(text, encoding="utf-8")
    documents = bootstrap.library_documents(place)
    assert receiving.adopt(shop.work, documents, "NL3-E") == len(documents)
    shop.gear()  # lists and receives the part
    part = next(row.part for row in _parts(shop.work) if row.part_no == practice.GEAR)
    inspecting.open_inspection(shop.work, "MT-NEW", part, "MT-T-NEW", "L2-A", quantity=1, station="MT booth")
    judgement = shop.judge("MT-NEW")
    procedure = judgement.inquiry.procedure
    assert procedure.name == "NEW-01 Rev A"
    for open_key in open_keys(procedure):
        asked = [a for a in judgement.answers if a.rule in open_key.rules and open_key.key in a.says]
        assert [
            (a.rule, a.verdict, a.says)
            for a in asked
            if a.verdict is not Verdict.NOT_RECORDED or "NEW-01 rev A" not in a.says
        ] == []
    named = {key.key for key in open_keys(procedure) for a in judgement.answers if key.key in a.says}
    assert len(named) >= 5
    assert not judgement.standing().holds


def _parts(work: Workplace) -> list:  # type: ignore[type-arg]
    with work.book.session(readonly=True) as session:
        return session.parts(ORDER)


def test_adoption_by_somebody_else_is_refused(shop: Shop, ndi: Run, tmp_path: Path) -> None:
    place = folder(tmp_path, new(ndi, "MT"))
    said = ndi("procedure", "adopt", tmp_path / "book" / "shop.book", place, "--by", "L2-A")
    assert said.code == 1 and "is no Level III" in said.err
    said = ndi("procedure", "adopt", tmp_path / "book" / "shop.book", place, "--by", "NL3-E")
    assert said.code in (0, 1)  # the machine's clock may lie past the certificate of the invented Level III


# --- part masters from a table ------------------------------------------------------------------------

HEADER = ",".join(COLUMNS) + "\n"
GOOD = "P-100,Connecting rod,1,yes,Model 4+Model 6,steel,yes,260,90,MT-T-01,PT-T-01,,\n"


def table(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "parts.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_part_masters_load_have_no_limits_and_ask_for_both_methods(tmp_path: Path) -> None:
    (file,) = part_files(table(tmp_path, HEADER + GOOD), bootstrap.check_part)
    master = load_part(file.text, file.name)
    assert (master.number, master.models, master.serialised) == ("P-100", ("Model 4", "Model 6"), True)
    assert [(need.method, need.technique) for need in master.required] == [("MT", "MT-T-01"), ("PT", "PT-T-01")]
    assert [zone.limits for zone in master.zones] == [()]
    assert [(x.typed, y.typed) for x, y in master.outline] == [("0", "0"), ("260", "0"), ("260", "90"), ("0", "90")]


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("P-1,Rod,4,yes,M,steel,yes,260,90,,,,\n", "item_class"),
        ("P-1,Rod,1,,M,steel,yes,260,90,,,,\n", "serialised"),
        ("P-1,Rod,1,yes,,steel,yes,260,90,,,,\n", "models"),
        ("P-1,Rod,1,yes,M,aluminium,no,260,90,MT-T-1,,,\n", "mt_technique"),
        ("P-1,Rod,1,yes,M,steel,yes,0,90,,,,\n", "length_mm"),
        ("P-1,Rod,1,yes,M,steel,yes,260,wide,,,,\n", "width_mm"),
        ("../P-1,Rod,1,yes,M,steel,yes,260,90,,,,\n", "part_no"),
        (GOOD, "part_no"),
    ],
)
def test_broken_row_of_part_numbers_is_named_and_nothing_is_made(tmp_path: Path, row: str, column: str) -> None:
    with pytest.raises(TableErrors) as caught:
        part_files(table(tmp_path, HEADER + GOOD + row), bootstrap.check_part)
    assert [(e.file, e.line, e.column) for e in caught.value.errors] == [("parts.csv", 3, column)]


def test_quotes_and_backslashes_of_a_description_survive(tmp_path: Path) -> None:
    text = HEADER + 'P-1,"Rod 3/4"" \\ end",1,yes,M,steel,yes,260,90,,,,\n'
    (file,) = part_files(table(tmp_path, text), bootstrap.check_part)
    assert load_part(file.text, file.name).description == 'Rod 3/4" \\ end'


def test_part_master_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    files = part_files(table(tmp_path, HEADER + GOOD.replace("P-100", "P-99") + GOOD), bootstrap.check_part)
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "P-100.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="is not overwritten"):
        write_parts(files, tmp_path)
    assert [path.name for path in (tmp_path / "parts").iterdir()] == ["P-100.toml"]
    assert (tmp_path / "parts" / "P-100.toml").read_text(encoding="utf-8") == "mine"
