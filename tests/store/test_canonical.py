"""Canonical form and hashes, against a second implementation that shares no code."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.domain.errors import InputError
from ndi.store.canonical import canonical, entry_hash, parse_canonical
from ndi.store.keys import is_signed

DATA = Path(__file__).parent.parent / "data"
EXAMPLES = DATA / "entry-examples.json"


def _examples() -> list[dict[str, Any]]:
    return list(json.loads(EXAMPLES.read_text(encoding="utf-8"))["entries"])


def _recompute(path: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-I", str(DATA / "recompute_hashes.py"), str(path)]
    return subprocess.run(command, env={}, capture_output=True, text=True, timeout=30, check=False)


def test_recompute_script_gives_the_hashes_of_the_examples() -> None:
    done = _recompute(EXAMPLES)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("same") == 10


def test_recompute_script_imports_nothing_of_the_project() -> None:
    assert "ndi" not in (DATA / "recompute_hashes.py").read_text(encoding="utf-8")


def test_recompute_script_sees_a_changed_example(tmp_path: Path) -> None:
    content = json.loads(EXAMPLES.read_text(encoding="utf-8"))
    content["entries"][6]["body"]["value"]["typed"] = "1211"
    changed = tmp_path / "changed.json"
    changed.write_text(json.dumps(content), encoding="utf-8")
    done = _recompute(changed)
    assert done.returncode == 1
    assert done.stdout.splitlines()[6].endswith("DIFFERENT")


@pytest.mark.parametrize("example", _examples(), ids=lambda e: str(e["position"]))
def test_store_gives_the_hashes_of_the_examples(example: dict[str, Any]) -> None:
    envelope = {"on_behalf_of": None, "supersedes": None, "why": None, **example}
    assert entry_hash(envelope, example["body"]) == example["hash"]


def test_examples_are_signed_by_the_key_in_the_second_one() -> None:
    examples = _examples()
    public = examples[1]["body"]["public_key"]
    assert all(is_signed(public, e["hash"], e["signature"]) for e in examples)
    assert not is_signed(public, examples[0]["hash"], examples[1]["signature"])


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ({"b": 1, "a": [True, "x"]}, '{"a":[true,"x"],"b":1}'),
        ({"a": None, "b": False}, '{"b":false}'),
        # U+FF21 sorts before U+1D4D0 by code point, after it by UTF-16 unit
        ({"\U0001d4d0": 1, "\uff21": 2}, '{"\uff21":2,"\U0001d4d0":1}'),
        ({"name": "e\u0301"}, '{"name":"\u00e9"}'),
        ('line\nfeed " \\ \u00b5', '"line\\nfeed \\" \\\\ \u00b5"'),
    ],
)
def test_canonical_text(value: Any, text: str) -> None:
    assert canonical(value) == text


@pytest.mark.parametrize(
    "value",
    [1.0, {"a": [0.5]}, float("nan"), {1: "a"}, b"x", [None], {"e\u0301": 1, "\u00e9": 2}, "\ud800", {"a": {1}}],
)
def test_canonical_refuses(value: Any) -> None:
    with pytest.raises(InputError):
        canonical(value)


@pytest.mark.parametrize(
    "text", ['{"a": 1}', '{"b":1,"a":2}', '{"a":1,"a":1}', '{"a":1.5}', '{"a":null}', "{", '"e\u0301"']
)
def test_parse_refuses_what_is_not_canonical(text: str) -> None:
    with pytest.raises(InputError):
        parse_canonical(text)


_JSON = st.recursive(
    st.booleans() | st.integers() | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner),
    max_leaves=8,
)


@given(_JSON)
def test_canonical_text_is_stable(value: Any) -> None:
    try:
        text = canonical(value)
    except InputError as error:  # two keys that are one in NFC
        assert "twice" in str(error)
        return
    assert canonical(parse_canonical(text)) == text
