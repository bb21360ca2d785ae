"""``ndi export`` and ``ndi import-book`` as they are typed, and what the book keeps of it."""

from __future__ import annotations

import shutil
from pathlib import Path

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.services.copies import last_export
from ndi.services.lookup import every
from ndi.services.workplace import Workplace
from tests.begin.conftest import Run, head, put
from tests.photo.picture_files import picture
from tests.store.test_export import stranger


def book_of(tmp_path: Path) -> Path:
    return tmp_path / "empty.ndibook"


def attach(work: Workplace) -> str:
    assert work.photographs is not None
    content = picture()
    name = work.photographs.keep(content)
    put(work, f.PhotoAttached("MT-1", name, work.now(), size=len(content), media_type="image/jpeg"))
    return name


def test_book_moves_to_another_machine_with_its_keys(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    attach(empty)
    before = head(empty)
    said = ndi("export", book_of(tmp_path), tmp_path / "out.zip", "--by", "CLERK")
    assert (said.code, said.err) == (0, "")
    assert f"head {before}" in said.out and "photographs: 1 written, 0 missing" in said.out
    assert stranger(tmp_path / "out.zip", before)[0] == 0
    new = tmp_path / "machine" / "shop.ndibook"
    new.parent.mkdir()
    keys = tmp_path / "empty-keys"
    said = ndi("import-book", tmp_path / "out.zip", new, "--keys", keys, "--against", before)
    assert (said.code, said.err) == (0, "")
    assert f"head of the export, {before}" in said.out and "not here" not in said.out
    assert ndi("verify", new, "--against", before).code == 0
    work = bootstrap.open_book(new)
    assert head(work) == before
    put(work, f.EquipmentEntered("E-1", "lamp"))
    assert "1 photographs whole" in ndi("verify", new).out


def test_book_on_an_empty_machine_says_what_travels_apart_and_verifies(
    empty: Workplace, tmp_path: Path, ndi: Run
) -> None:
    assert ndi("export", book_of(tmp_path), tmp_path / "out").code == 0
    (tmp_path / "machine").mkdir()
    said = ndi("import-book", tmp_path / "out", tmp_path / "machine" / "shop.ndibook")
    assert said.code == 0
    assert "not here: key of station DESK: that station cannot write" in said.out
    assert "not here: secret file of the book: nobody can sign" in said.out
    said = ndi("verify", tmp_path / "machine" / "shop.ndibook")
    assert said.code == 0 and "No station's key is here" in said.out and "entries hold" in said.out
    said = ndi("export", tmp_path / "machine" / "shop.ndibook", tmp_path / "again")
    assert said.code == 2 and "0 station keys" in said.err


def test_export_is_kept_in_the_book_with_its_manifest(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    name = attach(empty)
    shutil.rmtree(tmp_path / "empty-photographs")
    said = ndi("export", book_of(tmp_path), tmp_path / "out", "--by", "CLERK")
    assert said.code == 1 and f"missing or changed: {name}" in said.out
    with empty.book.session(readonly=True) as session:
        (made,) = every(session, f.ExportMade)
        assert last_export(session) == made
    assert (made.by, made.fact.missing, made.fact.photographs, made.fact.work_order) == ("CLERK", (name,), 0, None)
    assert made.fact.position == made.position - 1 == made.fact.entries


def test_wrong_words_are_refused_and_nothing_is_written(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    (tmp_path / "there").mkdir()
    before = head(empty)
    for words in (
        ("export", book_of(tmp_path), tmp_path / "there"),
        ("export", book_of(tmp_path), tmp_path / "no" / "where.zip"),
        ("import-book", tmp_path / "nothing.zip", tmp_path / "new.ndibook"),
        ("import-book", tmp_path / "there", tmp_path / "new.ndibook"),
        ("import-book", tmp_path / "there", tmp_path / "new.ndibook", "--keys", tmp_path / "no keys"),
    ):
        said = ndi(*words)
        assert said.code in (2, 3) and said.out == "" and len(said.err.splitlines()) == 1, words
    assert head(empty) == before
    assert not (tmp_path / "new.ndibook").exists()
