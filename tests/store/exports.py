"""Exports for tests: of a small book with photographs, whole or with one file of it replaced."""

from __future__ import annotations

import hashlib
import json
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ndi.domain import facts as f
from ndi.photo.archive import FolderArchive
from ndi.store.book import SqlBook
from ndi.store.export import Exported, export_book
from ndi.store.host import flush_folder
from ndi.store.import_book import Imported, Photographs, import_book
from tests.store.conftest import FakeClock, draft, moment, put
from tests.store.shop_day import fill

PICTURES = (b"first photograph", b"second photograph" * 5000)


def archive_in(folder: Path) -> FolderArchive:
    return FolderArchive(folder, folder.with_name(f"{folder.name}-thumbnails"), flush_folder)


def attach(book: SqlBook, archive: FolderArchive, content: bytes) -> str:
    """A photograph in the archive and in the book; its name."""
    name = archive.keep(content)
    put(book, draft(f.PhotoAttached("I1", name, moment(7), size=len(content), media_type="image/jpeg")))  # type: ignore[arg-type]
    return name


def filled(book: SqlBook, folder: Path) -> FolderArchive:
    """A day of entries with letters of many tongues, two photographs (one attached twice), and a remembered call."""
    archive = archive_in(folder / "shop-photographs")
    fill(book)  # type: ignore[arg-type]
    for content in (*PICTURES, PICTURES[0]):
        attach(book, archive, content)
    with book.session() as session:
        note = "\u00b5W/cm\u00b2 Jos\u00e9 \U0001f4a1 'quoted' \\ \n\ttab \x01"
        recorded = session.append([draft(f.ConfirmationGiven("I1", note), on_behalf_of="\u0141uk")])
        session.keep_client_key("call-1", [recorded[0].position])
        session.commit()
    return archive


def exported(book: SqlBook, folder: Path, name: str = "out") -> Exported:
    return export_book(book, folder / name, filled(book, folder))


def took_in(export: Path, where: Any, folder: Path, **more: Any) -> Imported:
    places = Photographs(lambda _book: folder / "new-photographs", archive_in)
    return import_book(export, where, clock=FakeClock(), photographs=places, **more)


# --- changed exports ----------------------------------------------------------------------------------


def changed(export: Path, copy: Path, change: Callable[[Path], None], *, honest: bool = True) -> Path:
    """A copy of an exported folder with something changed in it; ``honest``: the manifest made to fit its files again."""
    shutil.copytree(export, copy)
    change(copy)
    if honest:
        fit_manifest(copy)
    return copy


def fit_manifest(folder: Path) -> None:
    """Sizes and hashes of the manifest as somebody would write them who hides a change."""
    content = json.loads((folder / "manifest.json").read_bytes())
    for each in content["files"]:
        path = folder / each["path"]
        if path.is_file():
            each["bytes"], each["sha256"] = path.stat().st_size, hashlib.sha256(path.read_bytes()).hexdigest()
    (folder / "manifest.json").write_text(json.dumps(content), encoding="utf-8")


def edit_lines(name: str, edit: Callable[[list[bytes]], list[bytes]]) -> Callable[[Path], None]:
    """Edit the lines of one file of an export."""

    def change(folder: Path) -> None:
        path = folder / name
        path.write_bytes(b"".join(line + b"\n" for line in edit(path.read_bytes().split(b"\n")[:-1])))

    return change


def edit_manifest(edit: Callable[[dict[str, Any]], None]) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        content = json.loads((folder / "manifest.json").read_bytes())
        edit(content)
        (folder / "manifest.json").write_text(json.dumps(content), encoding="utf-8")

    return change


def zipped(folder: Path, target: Path) -> Path:
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as file:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                file.write(path, path.relative_to(folder).as_posix())
    return target
