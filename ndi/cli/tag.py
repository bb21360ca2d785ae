"""``ndi tag show|check|print``: what a tag says, whether it still stands, and its paper."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.services import tag_checks
from ndi.services.paper_text import local_text
from ndi.services.recording import check_known
from ndi.services.report_models import CHECK_CODE_LABEL
from ndi.services.tagging import print_tags, scan_back

_SHEETS = ("A4", "Letter")


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("tag", help="show, check or print a tag")
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")

    show = verbs.add_parser("show", help="the lines of a tag as printed last, and how it stands")
    show.add_argument("book", type=bootstrap.where)
    show.add_argument("tag", help="its number")
    _end(show, _show)

    check = verbs.add_parser("check", help="does a tag still stand? exit 0 only for current")
    check.add_argument(
        "book", type=bootstrap.where, nargs="?", help="may be left out with --lines: then only the code is recomputed"
    )
    check.add_argument("code", nargs="*", help="the scanned square code, or TAG NUMBER and CHECK CODE")
    check.add_argument(
        "--lines", type=Path, metavar="FILE", help="every line of the tag as copied by hand, top to bottom"
    )
    _end(check, _check)

    scan = verbs.add_parser("scan", help="the tag is wired on and scanned on the part")
    scan.add_argument("book", type=bootstrap.where)
    scan.add_argument("tag", help="its number")
    scan.add_argument("--by", required=True, metavar="PERSON")
    _end(scan, _scan)

    paper = verbs.add_parser("print", help="print the tags of a signed record; again is COPY n")
    paper.add_argument("book", type=bootstrap.where)
    paper.add_argument("inspection")
    paper.add_argument("--by", required=True, metavar="PERSON", help="an inspector of the method")
    paper.add_argument("--out", type=Path, required=True, metavar="FILE", help="PDF to write")
    paper.add_argument("--two-up", choices=_SHEETS, help="two tags beside each other on every sheet")
    _end(paper, _print)


def _end(parser: argparse.ArgumentParser, verb: object) -> None:
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=verb)


# --- show ---


def _show(args: argparse.Namespace) -> int:
    """Exit 0 when the tag is current, else 1."""
    work = bootstrap.open_book(args.book, station=args.station)
    with work.book.session(readonly=True) as session:
        printed = tag_checks.latest_print(session, args.tag)
        standing = tag_checks.standing_of_print(session, printed)
    for line in _tag_text(printed.fact):
        print(line)
    print(f"printed {local_text(printed.when)} by {printed.by}, entry {printed.position}")
    print(f"status: {standing}")
    return 0 if standing.is_current else 1


def _tag_text(tag: f.TagPrinted) -> Iterator[str]:
    width = max(len(line) for line in tag.lines)
    yield "+" + "-" * (width + 2) + "+"
    for line in (*tag.lines, f"{CHECK_CODE_LABEL} {tag.check_code}"):
        yield f"| {line.ljust(width)} |"
    yield "+" + "-" * (width + 2) + "+"


def _scan(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    with work.book.session(readonly=True) as session:
        check_known(session, args.by)
    scan_back(work, args.tag, args.by)
    print(f"tag {args.tag} scanned on the part; saved")
    return 0


# --- check ---


def _check(args: argparse.Namespace) -> int:
    if args.lines is not None:
        return _check_lines(args)
    if args.book is None or not args.code:
        raise InputError(
            "name the book and the scanned code (or the tag's number and its check code), or a file with --lines"
        )
    standing = tag_checks.status_of(bootstrap.open_book(args.book, station=args.station), " ".join(args.code))
    print(standing)
    if standing.practice:
        print("a practice tag: it stands on no part")
    return 0 if standing.is_current else 1


def _check_lines(args: argparse.Namespace) -> int:
    """Exit 0 when the copied lines give the copied code, and with a book when they are what it printed and stand."""
    try:
        copied = tag_checks.copied_tag(args.lines.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{args.lines} cannot be read as text: {error}") from None
    print(f"{len(copied.lines)} lines give check code {copied.computed}")
    if copied.copied is not None:
        print(
            "as copied"
            if copied.agrees
            else f"NOT as copied: the tag says {copied.copied}; a line was copied wrongly, or changed"
        )
    if args.book is None:
        return 0 if copied.agrees else 1
    work = bootstrap.open_book(args.book, station=args.station)
    found = tag_checks.differences(work, copied)
    for line in found:
        print(line)
    if found or not copied.agrees or copied.tag is None:
        return 1
    standing = tag_checks.typed_status(work, copied.tag, copied.computed)
    print(standing)
    return 0 if standing.is_current else 1


# --- print ---


def _print(args: argparse.Namespace) -> int:
    if args.out.suffix.lower() != ".pdf":
        raise InputError(f"{args.out} does not end in .pdf: papers are written as PDF")
    work = bootstrap.open_book(args.book, station=args.station)
    printed = print_tags(work, args.inspection, args.by)
    bootstrap.write_paper(args.out, bootstrap.tags_pdf([tag.model for tag in printed], work, two_up=args.two_up))
    for tag in printed:
        copy = "original" if tag.model.copy == 1 else f"COPY {tag.model.copy}"
        print(
            f"tag {tag.model.tag_no}, {copy}: {tag.model.tag_word}, {tag.model.quantity}, check code {tag.model.check_code}"
        )
    print(f"{len(printed)} tags in {args.out}")
    return 0
