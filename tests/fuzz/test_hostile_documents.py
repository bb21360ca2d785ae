"""Hostile procedure, technique and part files, and hostile tables of a shop: a value, or one refusal that names file and place."""

from __future__ import annotations

import random
from datetime import UTC, datetime
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ndi import bootstrap
from ndi.domain.errors import ProcedureFileError
from ndi.domain.moment import Moment
from ndi.procedure_files import document_from_text, load_library
from ndi.shop_files.kinds import KINDS
from ndi.shop_files.known import Known
from ndi.shop_files.reading import TableErrors, read_tables

PROCEDURES = bootstrap.data_folder("procedures")
NOW = Moment(datetime(2026, 3, 10, 14, tzinfo=UTC), -300)
SOURCES = {
    "procedure": sorted(PROCEDURES.glob("*/rev-*.toml")),
    "technique": sorted(PROCEDURES.glob("techniques/*.toml"))[::6],
    "part": sorted(PROCEDURES.glob("parts/*.toml"))[::8],
}
PIECES = (
    *("", '"', "'''", '"""', "[", "]", "[[", "{", "}", "=", ",", "\n", "\r", "\x00", "\ud7ff", "\u202e", "\ufeff"),
    *("true", "1e999", "nan", "-inf", "0x7fffffffffffffffff", "9" * 5000, "-1", "0", "2026-02-30", "0001-01-01"),
    *(
        "25:61",
        '"\\uD800"',
        "[" * 400,
        "{a=" * 400,
        "a.b.c = 1\n",
        '"" = ""\n',
        "rules = 1\n",
        "[rules]\n",
        "[[zones]]\n",
    ),
)
CELLS = (
    *("", "1", "-1", "x", "yes", "lamp", "2026-01-01", "2026-02-30", "0001-01-01", "9999-12-31"),
    *("9" * 60, "1" * 5000, "١", "²", '"', '""', "\x00", "a\nb", "=1+1", "a+b", "0.5", "24:00"),
)

many = settings(derandomize=True, deadline=None, max_examples=400)
on_disk = settings(
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def damaged(text: str, chance: random.Random) -> str:
    """The text with one to four pieces put in, taken out, doubled or put elsewhere."""
    for _ in range(chance.randint(1, 4)):
        start, stop = sorted(chance.randrange(len(text) + 1) for _ in range(2))
        stop = min(stop, start + chance.choice((0, 1, 5, 60, 600)))
        text = text[:start] + chance.choice((*PIECES, text[start:stop] * 2)) + text[stop:]
    return text


def read_or_refusal(kind: str, text: str, name: str) -> None:
    try:
        document_from_text(kind, text, name)
    except ProcedureFileError as refused:
        assert refused.file == name
        assert refused.problem
        assert "\n" not in str(refused)


@many
@given(st.sampled_from(sorted(SOURCES)), st.randoms(use_true_random=False), st.data())
def test_a_damaged_document_is_read_or_refused_by_name(kind: str, chance: random.Random, data: st.DataObject) -> None:
    source = data.draw(st.sampled_from(SOURCES[kind]))
    read_or_refusal(kind, damaged(source.read_text(encoding="utf-8"), chance), source.name)


@many
@given(st.sampled_from(sorted(SOURCES)), st.text(max_size=300))
def test_any_text_is_refused_as_a_document(kind: str, text: str) -> None:
    read_or_refusal(kind, text, "typed.toml")


@on_disk
@given(
    st.sampled_from(["parts/X.toml", "techniques/X.toml", "PT-P-01/rev-D.toml", "PT-P-09/rev-A.toml"]),
    st.binary(max_size=200),
)
def test_a_library_with_one_file_of_any_bytes_is_refused_whole(tmp_path: Path, name: str, content: bytes) -> None:
    place = tmp_path / name
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(content)
    try:
        load_library(tmp_path)
    except ProcedureFileError as refused:
        assert refused.problem
        assert "\n" not in str(refused)
    else:
        raise AssertionError(f"{content!r} was loaded as {name}")
    finally:
        place.unlink()


@on_disk
@given(st.sampled_from(sorted(KINDS)), st.randoms(use_true_random=False))
def test_a_damaged_table_of_a_shop_is_read_or_refused_by_line(tmp_path: Path, kind: str, chance: random.Random) -> None:
    path = tmp_path / f"{kind}.csv"
    columns = KINDS[kind].columns
    lines = [",".join(columns), *(",".join(chance.choice(CELLS) for _ in columns) for _ in range(3))]
    path.write_bytes(damaged("\n".join(lines), chance).encode("utf-8", "replace"))
    try:
        read_tables({path: KINDS[kind]}, Known(NOW.local.date()), NOW)
    except TableErrors as refused:
        assert refused.errors
        for error in refused.errors:
            assert error.file == path.name
            assert error.problem
            assert "\n" not in str(error)
