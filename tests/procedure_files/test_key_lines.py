"""Line numbers of keys, compared with the text itself, and a fuzz of whole files."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi.domain.errors import ProcedureFileError
from ndi.procedure_files import load_part, load_procedure, load_technique, template
from ndi.procedure_files.lines import KeyPath, key_lines, line_of

PROCEDURE_FOLDER = Path(__file__).parents[2] / "procedures"
FILES = sorted(PROCEDURE_FOLDER.rglob("*.toml"))

AWKWARD = '''# comment with [brackets] and = signs
top.dotted.key = "a # no comment"
"quoted key" = 'C:\\' # literal: the backslash is no escape

text = """
fake = 1
"quotes" and \\""" inside
"""
literal = \'\'\'
[fake]
\'\'\'
list = [ # comment ]
  "a]", # first
  ["b", { deep = "}" }],
]
[table . "with blank"]
key = { a = 1, b = { c = "x, y" } }

[[shots]]
shot = 1
[[shots.pulses]]
seconds = "1"
[[shots.pulses]]
seconds = "2"
[shots.note]
by = "A"

[[shots]]
shot = 2
[[shots.pulses]]
seconds = "3"
'''

AWKWARD_LINES = {
    ("top", "dotted", "key"): 2,
    ("quoted key",): 3,
    ("text",): 5,
    ("literal",): 9,
    ("list",): 12,
    ("list", 0): 13,
    ("list", 1): 14,
    ("list", 1, 1, "deep"): 14,
    ("table", "with blank"): 16,
    ("table", "with blank", "key", "b", "c"): 17,
    ("shots", 0, "shot"): 20,
    ("shots", 0, "pulses", 1, "seconds"): 24,
    ("shots", 0, "note", "by"): 26,
    ("shots", 1, "shot"): 29,
    ("shots", 1, "pulses", 0, "seconds"): 31,
}


def paths(value: object, path: KeyPath = ()) -> Iterator[KeyPath]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield (*path, key)
            yield from paths(inner, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield (*path, number)
            yield from paths(inner, (*path, number))


@pytest.mark.parametrize(("path", "line"), AWKWARD_LINES.items(), ids=str)
def test_key_lines_of_an_awkward_text(path: KeyPath, line: int) -> None:
    assert path in set(paths(tomllib.loads(AWKWARD)))
    assert key_lines(AWKWARD)[path] == line


def test_key_lines_finds_every_key_of_every_file() -> None:
    for text in [AWKWARD, *(template(kind) for kind in ("procedure", "technique", "part"))] + [
        file.read_text(encoding="utf-8") for file in FILES
    ]:
        lines = key_lines(text)
        rows = text.splitlines()
        for path in paths(tomllib.loads(text)):
            assert path in lines
            if isinstance(path[-1], str):
                assert path[-1] in rows[lines[path] - 1]


def test_line_of_missing_key_is_the_line_around_it() -> None:
    lines = key_lines(AWKWARD)
    assert line_of(lines, ("shots", 1, "kind")) == 28
    assert line_of(lines, ("nothing",)) is None


LOADERS = (load_procedure, load_technique, load_part)
SEEDS = [
    (PROCEDURE_FOLDER / name).read_text(encoding="utf-8")
    for name in ("MT-P-01/rev-F.toml", "techniques/PT-T-6130.toml", "techniques/MT-T-6001.toml", "parts/T6-11010.toml")
]


@settings(max_examples=150, deadline=None)
@given(
    seed=st.sampled_from(SEEDS),
    place=st.floats(0, 1),
    length=st.integers(0, 40),
    put=st.text(st.sampled_from("[]{}=.\"',#\n 0a\\_-") | st.characters(codec="utf-8"), max_size=12),
)
def test_load_of_a_damaged_file_is_refused_or_read_never_a_crash(
    seed: str, place: float, length: int, put: str
) -> None:
    start = int(place * len(seed))
    text = seed[:start] + put + seed[start + length :]
    for load in LOADERS:
        try:
            load(text, "damaged.toml")
        except ProcedureFileError as error:
            assert error.file == "damaged.toml"
            assert error.line is None or 1 <= error.line <= text.count("\n") + 1
