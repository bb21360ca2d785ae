"""The manifest of an export, read with every doubt: what it says of files, counts and the head, and nothing that it could not say."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ndi.domain.errors import ExportError
from ndi.services.ports import Head
from ndi.store.export import CALLS, PHOTOGRAPHS
from ndi.store.export_text import FORMAT, FORMAT_VERSION
from ndi.store.package import ENTRIES, MANIFEST, README
from ndi.store.package_reader import Source, pieces

LARGEST_MANIFEST = 32 << 20
LARGEST_README = 1 << 20
MOST = 2**62  # above every count and size; what is larger was not written by this program

CHANGED = "the export was changed after it was made, or not copied whole: bring it again from where it was made"
SHA256 = re.compile(r"[0-9a-f]{64}\Z", re.ASCII)


@dataclass(frozen=True)
class Stated:
    """What the manifest says."""

    book: str
    head: Head
    sizes: Mapping[str, int]
    hashes: Mapping[str, str]
    missing: tuple[str, ...]
    counts: Mapping[str, int]


def read_manifest(source: Source, sizes: Mapping[str, int]) -> Stated:
    """What the manifest of a whole book says; ExportError for anything else, and where it does not fit the files."""
    if MANIFEST not in sizes:
        raise ExportError(source.name, None, None, f"has no {MANIFEST}: name the folder or ZIP file of a whole export")
    if sizes[MANIFEST] > LARGEST_MANIFEST:
        raise ExportError(source.name, MANIFEST, None, "is too large to be the manifest of an export")
    try:
        content = json.loads(b"".join(pieces(source, MANIFEST, sizes[MANIFEST])).decode("utf-8"))
        if not isinstance(content, dict) or content.get("format") != FORMAT:
            raise ExportError(source.name, MANIFEST, None, "is no manifest of an exported record book")
        if content.get("format_version") != FORMAT_VERSION:
            raise ExportError(
                source.name,
                MANIFEST,
                None,
                f"is of format version {content.get('format_version')!r:.20}, this program reads {FORMAT_VERSION}: use the "
                "program that fits",
            )
        if content.get("what") != "book":
            raise ExportError(
                source.name, MANIFEST, None, "is not of a whole book: the pack of one work order cannot become a book"
            )
        return _stated(source, sizes, content)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        if isinstance(error, ExportError):
            raise
        raise ExportError(source.name, MANIFEST, None, f"cannot be read: {CHANGED}") from error


def _stated(source: Source, sizes: Mapping[str, int], content: dict[str, Any]) -> Stated:
    files = {str(each["path"]): each for each in content["files"]}
    for name in (README, ENTRIES, CALLS, PHOTOGRAPHS):
        if name not in files or name not in sizes:
            raise ExportError(source.name, name, None, f"is missing: {CHANGED}")
        if sizes[name] != whole(files[name]["bytes"]):
            raise ExportError(source.name, name, None, f"is not as long as the manifest says: {CHANGED}")
    if set(files) != {README, ENTRIES, CALLS, PHOTOGRAPHS}:
        raise ExportError(source.name, MANIFEST, None, "lists files that are no part of an export")
    if sizes[README] > LARGEST_README:
        raise ExportError(source.name, README, None, "is too large")
    missing = tuple(sha256_text(each) for each in content["missing_photographs"])
    head = Head(whole(content["head"]["position"]), sha256_text(content["head"]["hash"]))
    return Stated(
        str(content["book"]),
        head,
        {name: whole(each["bytes"]) for name, each in files.items()},
        {name: sha256_text(each["sha256"]) for name, each in files.items()},
        missing,
        {str(name): whole(value) for name, value in content["counts"].items()},
    )


def whole(value: Any) -> int:
    """A count or size; ValueError for what is none."""
    if type(value) is not int or not 0 <= value < MOST:
        raise ValueError("no count")
    return int(value)


def sha256_text(value: Any) -> str:
    """A SHA-256 in hexadecimal; ValueError for what is none."""
    if not isinstance(value, str) or not SHA256.match(value):
        raise ValueError("no SHA-256")
    return value


def compare_count(source: Source, stated: Stated, what: str, found: int) -> None:
    """ExportError unless the manifest names as many as were found."""
    if stated.counts.get(what) != found:
        said = stated.counts.get(what, "no")
        raise ExportError(source.name, MANIFEST, None, f"names {said} {what}, found are {found}: {CHANGED}")
