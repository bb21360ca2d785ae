"""Hostile exports of a book: one refusal of one line and nothing made, or the book that went out; never a crash."""

from __future__ import annotations

import json
import shutil
import warnings
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ndi.domain.errors import ExportError, InputError
from ndi.domain.facts import KINDS
from ndi.store.book import create_book
from ndi.store.canonical import canonical, entry_hash_of_text
from ndi.store.keys import StationKey
from tests.store.conftest import STATION, FakeClock
from tests.store.exports import exported, fit_manifest, took_in, zipped

FILES = ("README.txt", "entries.jsonl", "calls.jsonl", "photographs.sha256", "manifest.json")
many = settings(
    derandomize=True, deadline=None, max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**70), 2**70),
    st.floats(),
    st.text(max_size=20),
    st.sampled_from(["", "\x00", "\ud800", "\ufeff", "9" * 5000, "../../x", "C:\\x", "0" * 64, "\u0344", "e\u0301"]),
)
nasty = st.recursive(scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3), max_leaves=6)  # fmt: skip


@dataclass(frozen=True)
class Whole:
    """An export as a folder and as a ZIP file, and the key that could sign more."""

    folder: Path
    zip: Path
    key: StationKey
    head: str


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Whole:
    folder = tmp_path_factory.mktemp("hostile")
    place = {"key_folder": folder / "keys", "clock": FakeClock()}
    with create_book(folder / "shop.book", shop="GW", practice=True, station=STATION, **place) as book:  # type: ignore[arg-type]
        made = exported(book, folder)
        return Whole(made.path, zipped(made.path, folder / "out.zip"), book.key, str(made.head))


def in_or_refused(export: Path, scratch: Path, head: str) -> bool:
    """Whether the export was taken in; it then ends as the untouched one, else nothing at all was made."""
    before = sorted(scratch.rglob("*"))
    try:
        made = took_in(export, scratch / "new.book", scratch)
    except InputError as refused:
        assert len(str(refused).splitlines()) == 1 and str(refused).isprintable(), str(refused)
        assert isinstance(refused, ExportError)
        assert sorted(scratch.rglob("*")) == before
        return False
    assert str(made.head) == head
    (scratch / "new.book").unlink()
    shutil.rmtree(scratch / "new-photographs")
    return True


def copy_of(whole: Whole, scratch: Path) -> Path:
    copy = scratch / "copy"
    shutil.rmtree(copy, ignore_errors=True)
    shutil.copytree(whole.folder, copy)
    return copy


@many
@given(data=st.data())
def test_zip_file_may_be_any_bytes_or_be_changed_anywhere(whole: Whole, tmp_path: Path, data: st.DataObject) -> None:
    content = bytearray(whole.zip.read_bytes())
    if data.draw(st.booleans()):
        content = bytearray(data.draw(st.binary(max_size=300)))
    else:
        for _ in range(data.draw(st.integers(1, 4))):
            where = data.draw(st.integers(0, len(content) - 1))
            how_many = data.draw(st.sampled_from([0, 1, 4, 100_000]))
            content[where : where + how_many] = data.draw(st.binary(max_size=8))
            if not content:
                break
    export = tmp_path / "export.zip"
    export.write_bytes(content)
    in_or_refused(export, tmp_path, whole.head)


@many
@given(name=st.sampled_from(FILES), content=st.binary(max_size=300), honest=st.booleans())
def test_each_file_may_hold_any_bytes(whole: Whole, tmp_path: Path, name: str, content: bytes, honest: bool) -> None:
    export = copy_of(whole, tmp_path)
    (export / name).write_bytes(content)
    if honest and name != "manifest.json":
        fit_manifest(export)
    taken = in_or_refused(export, tmp_path, whole.head)
    assert not taken or (name == "README.txt" and honest) or (name, content) == ("calls.jsonl", b"")


@many
@given(data=st.data())
def test_lines_of_entries_may_be_anything_in_any_order(whole: Whole, tmp_path: Path, data: st.DataObject) -> None:
    export = copy_of(whole, tmp_path)
    path = export / "entries.jsonl"
    lines = path.read_bytes().split(b"\n")[:-1]
    which, other = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
    how = data.draw(st.sampled_from(["swap", "repeat", "drop", "value", "key", "text"]))
    if how == "swap":
        lines[which], lines[other] = lines[other], lines[which]
    elif how == "repeat":
        lines.insert(other, lines[which])
    elif how == "drop":
        del lines[which]
    elif how == "text":
        lines[which] = data.draw(st.text(max_size=40)).encode("utf-8", "surrogatepass").replace(b"\n", b"")
    else:
        entry = json.loads(lines[which])
        key = data.draw(st.sampled_from(sorted(entry))) if how == "value" else data.draw(st.text(max_size=8))
        entry[key] = data.draw(nasty)
        lines[which] = json.dumps(entry, sort_keys=True, separators=(",", ":")).encode()
    path.write_bytes(b"".join(line + b"\n" for line in lines))
    fit_manifest(export)
    unchanged = path.read_bytes() == (whole.folder / "entries.jsonl").read_bytes()
    assert in_or_refused(export, tmp_path, whole.head) is unchanged


@many
@given(data=st.data())
def test_manifest_may_say_anything(whole: Whole, tmp_path: Path, data: st.DataObject) -> None:
    export = copy_of(whole, tmp_path)
    content: Any = json.loads((export / "manifest.json").read_bytes())
    place = content
    while isinstance(place, (dict, list)) and place and data.draw(st.integers(0, 3)):
        key = data.draw(st.sampled_from(sorted(place) if isinstance(place, dict) else range(len(place))))
        if not isinstance(place[key], (dict, list)) or not place[key]:
            place[key] = data.draw(nasty)
            break
        place = place[key]
    (export / "manifest.json").write_text(json.dumps(content), encoding="utf-8")
    in_or_refused(export, tmp_path, whole.head)


@many
@given(kind=st.sampled_from([*KINDS, "Unknown"]), body=st.dictionaries(st.text(max_size=8), nasty, max_size=4), data=st.data())  # fmt: skip
def test_entry_that_a_station_signed_may_hold_anything(
    whole: Whole, tmp_path: Path, kind: str, body: dict[str, Any], data: st.DataObject
) -> None:
    """Whoever holds a station's key can sign nonsense: it is refused, or kept as it is, and crashes nothing."""
    export = copy_of(whole, tmp_path)
    path = export / "entries.jsonl"
    last = json.loads(path.read_bytes().split(b"\n")[-2])
    names = getattr(KINDS.get(kind), "__dataclass_fields__", {})
    body = {**{name: data.draw(scalars) for name in names}, **body}
    row = {**last, "on_behalf_of": None, "supersedes": None, "why": None, "kind": kind, "kind_version": 1}
    row.update(position=last["position"] + 1, station_seq=last["station_seq"] + 1, prev_hash=last["hash"], uid="last")
    try:
        text = canonical(body)
    except InputError:  # a float or half a character: no canonical form, no entry
        return
    row["hash"] = entry_hash_of_text(row, text)
    row["signature"] = whole.key.sign(row["hash"])
    with path.open("ab") as file:
        file.write((canonical({**row, "body": json.loads(text)}) + "\n").encode())
    content = json.loads((export / "manifest.json").read_bytes())
    content["head"] = {"position": row["position"], "hash": row["hash"]}
    content["counts"]["entries"] += 1
    (export / "manifest.json").write_text(json.dumps(content), encoding="utf-8")
    fit_manifest(export)
    in_or_refused(export, tmp_path, f"{row['position']}:{row['hash'][:16]}")


# --- ZIP files that mean harm ---------------------------------------------------------------------------


def _with(name: str, content: bytes = b"x") -> Callable[[zipfile.ZipFile], None]:
    def add(file: zipfile.ZipFile) -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # of a name that is there twice
            file.writestr(name, content)

    return add


HARMFUL: dict[str, tuple[Callable[[zipfile.ZipFile], None], str]] = {
    "a path above": (_with("../../evil"), "points outside"),
    "an absolute path": (_with("/etc/evil"), "points outside"),
    "a drive": (_with("C:/evil"), "points outside"),
    "a path of another system": (_with("..\\evil"), "points outside"),
    "a name with a line break": (_with("a\nb"), "points outside"),
    "a photograph above": (_with("photographs/../../evil"), "points outside"),
    "entries twice": (_with("entries.jsonl"), "is there twice"),
    "a manifest twice": (_with("manifest.json", b"{}"), "is there twice"),
    "a file more": (_with("more.bin"), "is no part of the export"),
    "a photograph more": (_with(f"photographs/00/{'0' * 64}"), "is no part of the export"),
}


@pytest.mark.parametrize("case", HARMFUL)
def test_names_in_a_zip_file_that_mean_harm_are_refused(whole: Whole, tmp_path: Path, case: str) -> None:
    add, says = HARMFUL[case]
    export = tmp_path / "export.zip"
    shutil.copyfile(whole.zip, export)
    with zipfile.ZipFile(export, "a") as file:
        add(file)
    with pytest.raises(ExportError, match=says):
        took_in(export, tmp_path / "new.book", tmp_path)
    assert sorted(tmp_path.iterdir()) == [export]


@pytest.mark.parametrize("name", ["manifest.json", "README.txt", "entries.jsonl", "calls.jsonl", "photographs.sha256"])
def test_file_that_swells_when_it_is_read_is_refused_early(
    whole: Whole, tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A few kB that become 200 MB: no more than a piece of it is ever read before the answer."""
    export = copy_of(whole, tmp_path)
    with (export / name).open("wb") as sparse:
        sparse.truncate(200 << 20)
    if name != "manifest.json":
        content = json.loads((export / "manifest.json").read_bytes())
        for each in content["files"]:
            if each["path"] == name:
                each["bytes"] = 200 << 20
        (export / "manifest.json").write_text(json.dumps(content), encoding="utf-8")
    packed = zipped(export, tmp_path / "bomb.zip")
    shutil.rmtree(export)
    assert packed.stat().st_size < 1 << 20
    read = 0
    inflate = zipfile.ZipExtFile.read

    def counted(self: zipfile.ZipExtFile, n: int | None = -1) -> bytes:
        nonlocal read
        piece = inflate(self, n)
        read += len(piece)
        return piece

    monkeypatch.setattr(zipfile.ZipExtFile, "read", counted)
    with pytest.raises(ExportError):
        took_in(packed, tmp_path / "new.book", tmp_path)
    assert read < 70 << 20
    assert sorted(tmp_path.iterdir()) == [packed]
