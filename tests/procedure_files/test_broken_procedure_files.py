"""Every kind of broken file is refused with file, line, key and a way out."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from ndi.domain.errors import ProcedureFileError
from ndi.procedure_files import document_from_text, load_library, load_part, load_procedure, load_technique
from tests.procedure_files.broken_cases import PARTS, PROCEDURES, TECHNIQUES, Broken

PROCEDURE_FOLDER = Path(__file__).parents[2] / "procedures"


def refusal(load: object, case: Broken) -> tuple[ProcedureFileError, str]:
    text = (PROCEDURE_FOLDER / case.base).read_text(encoding="utf-8")
    assert case.find in text, "the case no longer fits its base file"
    broken = text.replace(case.find, case.put) if case.name == "no zones" else text.replace(case.find, case.put, 1)
    with pytest.raises(ProcedureFileError) as caught:
        load(broken, case.base)  # type: ignore[operator]
    return caught.value, broken


def check(error: ProcedureFileError, broken: str, case: Broken) -> None:
    assert case.fragment in error.problem
    assert error.key == case.key
    assert error.file == case.base
    if case.at is not None:
        assert case.at in broken
        assert error.line == broken[: broken.index(case.at)].count("\n") + 1
        assert f"{case.base}, line {error.line}" in str(error)


@pytest.mark.parametrize("case", PROCEDURES, ids=lambda case: case.name)
def test_load_procedure_broken_is_refused(case: Broken) -> None:
    check(*refusal(load_procedure, case), case)


@pytest.mark.parametrize("case", TECHNIQUES, ids=lambda case: case.name)
def test_load_technique_broken_is_refused(case: Broken) -> None:
    check(*refusal(load_technique, case), case)


@pytest.mark.parametrize("case", PARTS, ids=lambda case: case.name)
def test_load_part_broken_is_refused(case: Broken) -> None:
    check(*refusal(load_part, case), case)


def test_refusal_of_missing_key_in_a_list_points_at_its_table() -> None:
    text = (PROCEDURE_FOLDER / "techniques/MT-T-6010.toml").read_text(encoding="utf-8").replace("turns = 5\n", "")
    with pytest.raises(ProcedureFileError) as caught:
        load_technique(text, "rod.toml")
    assert text.splitlines()[(caught.value.line or 0) - 1].startswith("[[shots]]")
    assert text[: text.index("shot = 3")].count("\n") == caught.value.line


def test_refusal_of_second_number_points_at_the_second() -> None:
    text = (PROCEDURE_FOLDER / "techniques/MT-T-6010.toml").read_text(encoding="utf-8").replace("shot = 2", "shot = 1")
    with pytest.raises(ProcedureFileError) as caught:
        load_technique(text, "rod.toml")
    assert caught.value.line == text[: text.rindex("shot = 1\n")].count("\n") + 1


def test_first_of_several_problems_is_reported() -> None:
    text = (PROCEDURE_FOLDER / "MT-P-01/rev-F.toml").read_text(encoding="utf-8")
    text = text.replace('unit = "uW/cm2"', 'unit = "fc"').replace('method = "MT"', 'method = "ET"')
    with pytest.raises(ProcedureFileError) as caught:
        load_procedure(text, "rev-F.toml")
    assert caught.value.key == "method"


def test_rule_known_to_program_is_decided_by_argument() -> None:
    text = (PROCEDURE_FOLDER / "MT-P-01/rev-F.toml").read_text(encoding="utf-8")
    with pytest.raises(ProcedureFileError, match="rule G02 is not known to this program; did you mean G01"):
        load_procedure(text, "rev-F.toml", known_rules={"G01"})


def test_message_reads_as_one_sentence_with_place_and_way_out() -> None:
    text = (PROCEDURE_FOLDER / "MT-P-01/rev-F.toml").read_text(encoding="utf-8").replace('"0.10"', "0.10")
    with pytest.raises(ProcedureFileError) as caught:
        load_procedure(text, "MT-P-01/rev-F.toml")
    line = text[: text.index("bath_hard_min")].count("\n") + 1
    assert str(caught.value) == (
        f"MT-P-01/rev-F.toml, line {line}, key parameters.bath_hard_min.value: "
        '0.1 has no quotes: numbers are written in quotes, e.g. "0.1", so that they stay as typed'
    )


# --- whole files that are not what they should be ---------------------------------------------------


@pytest.mark.parametrize("load", [load_procedure, load_technique, load_part])
@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("", "is missing"),
        ("\x00", "is not TOML here"),
        ("\ufeffnumber = 'x'", "byte order mark"),
        ("number = " + "[" * 100_000, "nested too deeply"),
        ("number = " + "9" * 10_000, "is not TOML here"),
        ("x" * 1_000_001, "the most is 1000000"),
        ("# " + "é" * 500_000, "the most is 1000000"),  # bytes count, not letters
        ('number = """never closed', "is not TOML here"),
        ("number = 'a'\r\nnumber = 'b'\r\n", "is not TOML here"),
    ],
    ids=["empty", "NUL", "BOM", "deep", "digits", "large", "large in bytes", "open end", "twice"],
)
def test_load_junk_is_refused(load: object, text: str, fragment: str) -> None:
    with pytest.raises(ProcedureFileError, match=fragment):
        load(text, "junk.toml")  # type: ignore[operator]


def test_document_from_text_unknown_kind_is_refused() -> None:
    with pytest.raises(ProcedureFileError, match="did you mean technique"):
        document_from_text("techniques", "", "entry 7")


def test_load_library_file_of_50_megabytes_is_refused_unread(tmp_path: Path) -> None:
    folder = tmp_path / "parts"
    folder.mkdir()
    with (folder / "junk.toml").open("wb") as stream:
        stream.truncate(50_000_000)
    started = time.perf_counter()
    with pytest.raises(ProcedureFileError, match="is 50000000 bytes long"):
        load_library(tmp_path)
    assert time.perf_counter() - started < 0.5


def test_load_library_not_utf8_names_the_line(tmp_path: Path) -> None:
    folder = tmp_path / "parts"
    folder.mkdir()
    (folder / "latin.toml").write_bytes(b'number = "X"\ndescription = "H\xfclse"\n')
    with pytest.raises(ProcedureFileError, match="0xfc is not UTF-8") as caught:
        load_library(tmp_path)
    assert (caught.value.file, caught.value.line) == ("parts/latin.toml", 2)


def test_load_library_folder_in_place_of_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "parts" / "x.toml").mkdir(parents=True)
    with pytest.raises(ProcedureFileError, match="is not a file"):
        load_library(tmp_path)


def test_load_library_no_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProcedureFileError, match="is not a folder"):
        load_library(tmp_path / "nowhere")


def test_load_library_empty_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProcedureFileError, match="holds no procedure, technique or part"):
        load_library(tmp_path)
