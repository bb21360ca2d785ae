"""Files that are right one by one and wrong together: nothing of such a library is returned."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from ndi.domain.errors import ProcedureFileError
from ndi.procedure_files import load_library

PROCEDURE_FOLDER = Path(__file__).parents[2] / "procedures"

CASES = {
    "two revisions in force": (
        "MT-P-01/rev-E.toml",
        "effective_to = 2026-01-14",
        "effective_to = 2026-01-15",
        (
            "MT-P-01/rev-F.toml",
            "effective_from",
            "MT-P-01 Rev F is in force from 2026-01-15 while MT-P-01 Rev E still is",
        ),
    ),
    "revision without end": (
        "MT-P-01/rev-E.toml",
        "effective_to = 2026-01-14  # last day in force\n",
        "",
        ("MT-P-01/rev-F.toml", "effective_from", "end MT-P-01 Rev E with effective_to"),
    ),
    "procedure in the wrong folder": (
        "PT-P-01/rev-D.toml",
        'number = "PT-P-01"',
        'number = "PT-P-03"',
        ("PT-P-01/rev-D.toml", "number", "lies in the folder PT-P-01"),
    ),
    "revision in the wrong file": (
        "PT-P-01/rev-D.toml",
        'revision = "D"',
        'revision = "C"',
        ("PT-P-01/rev-D.toml", "revision", "lies in the file rev-D.toml"),
    ),
    "unknown procedure": (
        "techniques/PT-T-6130.toml",
        'procedure = "PT-P-02"',
        'procedure = "PT-P-20"',
        ("techniques/PT-T-6130.toml", "procedure", "procedure PT-P-20 is in no file; did you mean PT-P-02?"),
    ),
    "procedure of the other method": (
        "techniques/PT-T-6130.toml",
        'procedure = "PT-P-02"',
        'procedure = "MT-P-01"',
        ("techniques/PT-T-6130.toml", "procedure", "is a procedure for MT, not PT"),
    ),
    "window against the procedure": (
        "techniques/PT-T-6130.toml",
        'value = "30", unit = "s"',
        'value = "3", unit = "min"',
        (
            "techniques/PT-T-6130.toml",
            "windows",
            "remover_min leaves remover_min above remover_max under PT-P-02 Rev B",
        ),
    ),
    "applies to unknown part": (
        "techniques/MT-T-6052.toml",
        '"T6-10504"]',
        '"T6-10540"]',
        ("techniques/MT-T-6052.toml", "applies_to", "part T6-10540 is in no file"),
    ),
    "zone that the part lacks": (
        "techniques/MT-T-6010.toml",
        '"BEAM-FLANGE"',
        '"BEAM-FLANGES"',
        ("techniques/MT-T-6010.toml", "zones", "did you mean BEAM-FLANGE?"),
    ),
    "forbidden contact that the part lacks": (
        "techniques/MT-T-6001.toml",
        'forbidden_contact = ["PINS-1-3"',
        'forbidden_contact = ["PINS-1-4"',
        ("techniques/MT-T-6001.toml", "forbidden_contact", "'PINS-1-4' is not a known zone of T6-10010"),
    ),
    "technique number twice": (
        "techniques/MT-T-6011.toml",
        'number = "MT-T-6011"',
        'number = "MT-T-6010"',
        ("techniques/MT-T-6011.toml", "number", "MT-T-6010 is given by two files"),
    ),
    "part number twice": (
        "parts/T6-11051.toml",
        'number = "T6-11051"',
        'number = "T6-11050"',
        ("parts/T6-11051.toml", "number", "T6-11050 is given by two files"),
    ),
    "part names no technique": (
        "parts/T6-10010.toml",
        'technique = "MT-T-6001"',
        'technique = "MT-T-6100"',
        ("parts/T6-10010.toml", "required[1].technique", "technique MT-T-6100 is in no file"),
    ),
    "part names a technique of the other method": (
        "parts/T6-12001.toml",
        'technique = "MT-T-6120"',
        'technique = "PT-T-6120"',
        ("parts/T6-12001.toml", "required[2].technique", "PT-T-6120 is for PT, required is MT"),
    ),
    "part names a technique for others": (
        "parts/T6-10010.toml",
        'technique = "MT-T-6001"',
        'technique = "MT-T-4001"',
        ("parts/T6-10010.toml", "required[1].technique", "MT-T-4001 does not apply to T6-10010"),
    ),
    "required zone that the technique leaves out": (
        "techniques/PT-T-6120.toml",
        '"FIN-ROOT-4",',
        "",
        ("parts/T6-12001.toml", "required[1].zones", "zone FIN-ROOT-4 is not among the zones of PT-T-6120"),
    ),
    "section that the part does not have": (
        "parts/T6-10101.toml",
        'code = "WHOLE"',
        'code = "BEAM"',
        ("techniques/MT-T-6010.toml", "shots[3].section", "'WHOLE' is not a known section of T6-10101"),
    ),
    "reading point that no sheet names": (
        "parts/T6-10101.toml",
        'name = "beam"',
        'name = "beem"',
        ("parts/T6-10101.toml", "reading_points[2].name", "did you mean beam?"),
    ),
    "similar part unknown": (
        "parts/T6-11050.toml",
        'similar_parts = ["T6-11051"]',
        'similar_parts = ["T6-19999"]',
        ("parts/T6-11050.toml", "similar_parts", "part T6-19999 is in no file"),
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=list(CASES))
def test_load_library_with_files_that_disagree_is_refused(
    tmp_path: Path, case: tuple[str, str, str, tuple[str, str, str]]
) -> None:
    name, find, put, (file, key, fragment) = case
    folder = tmp_path / "procedures"
    shutil.copytree(PROCEDURE_FOLDER, folder)
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert find in text
    path.write_text(text.replace(find, put), encoding="utf-8")
    with pytest.raises(ProcedureFileError) as caught:
        load_library(folder)
    assert (caught.value.file, caught.value.key) == (file, key)
    assert fragment in caught.value.problem
    assert caught.value.line is not None


def test_load_library_one_day_between_revisions_is_lawful(tmp_path: Path) -> None:
    folder = tmp_path / "procedures"
    shutil.copytree(PROCEDURE_FOLDER, folder)
    path = folder / "MT-P-01/rev-E.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("2026-01-14", "2026-01-13"), encoding="utf-8")
    assert len(load_library(folder).procedures) == 4
