"""``ndi photo clock``, ``annotate``, ``erase`` and ``export``: the camera's clock, what is drawn beside a photograph, copies of it."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.quantity import Number
from ndi.services import annotating, camera_clock, photographs
from ndi.services.photograph_facts import photograph_facts
from ndi.services.workplace import Workplace

Actions = argparse._SubParsersAction  # the type has no public name


def add_to(actions: Actions[argparse.ArgumentParser]) -> None:
    clock = actions.add_parser("clock", help="compare a camera's clock with the station's, by a photograph of it")
    clock.add_argument("book", type=bootstrap.where)
    clock.add_argument("file", type=Path, help="a photograph, just taken, of a screen that shows the station's time")
    clock.add_argument("--shows", required=True, metavar="HH:MM:SS", help="the time that is seen in the photograph")
    _by(clock)
    clock.set_defaults(run=run_clock)
    annotate = actions.add_parser("annotate", help="draw beside a photograph: an arrow, a circle, a text, a scale bar")
    _photograph(annotate)
    annotate.add_argument("shape", choices=[shape.replace(" ", "-") for shape in annotating.Shape])
    annotate.add_argument(
        "points", nargs="+", metavar="X,Y", help="percent of width and height from the upper left corner, e.g. 41.2,55"
    )
    annotate.add_argument("--text", help="words beside it")
    annotate.add_argument("--length", metavar="LENGTH", help="what a scale bar stands for, e.g. '10 mm'")
    annotate.add_argument("--inspection", help="the record, where it is attached to several")
    _by(annotate)
    annotate.set_defaults(run=run_annotate)
    erase = actions.add_parser("erase", help="take away what was drawn under a name (ndi photo show lists it)")
    _photograph(erase)
    erase.add_argument("name", help="e.g. 1f2e3d4c/2")
    _by(erase)
    erase.set_defaults(run=run_erase)
    export = actions.add_parser(
        "export", help="write a copy with its record facts: .dcm (DICONDE), .jpg or .png (XMP); --annotated: drawn in"
    )
    _photograph(export)
    export.add_argument("file", type=Path, help="where to; its ending says what is written; never over a file")
    export.add_argument(
        "--annotated", action="store_true", help="a full-size .png with what is drawn beside it drawn in"
    )
    export.add_argument("--inspection", help="the record, where it is attached to several")
    export.set_defaults(run=run_export)


def _photograph(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("photograph", metavar="HASH", help="the beginning of its hash")


def _by(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--by", required=True, metavar="PERSON")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")


def run_clock(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    examined = photographs.archive_of(work).examine(bootstrap.read_photograph(args.file), str(args.file))
    recorded = camera_clock.compare_clocks(work, examined, args.shows, args.by)
    fact = recorded.fact
    assert isinstance(fact, f.ProcessCheckRecorded) and fact.ahead is not None
    said = camera_clock.in_words(round(fact.ahead.in_unit("s")))
    print(
        f"clock of {fact.object}: {said} ({fact.detail}), entry {recorded.position}; its photographs are corrected by it"
    )
    return 0


def run_annotate(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    photo = _found(work, args.photograph, args.inspection)
    fact = f.PhotographAnnotated(
        photo.inspection,
        photo.sha256,
        "",
        args.shape.replace("-", " "),
        tuple(annotating.point(text) for text in args.points),
        args.text,
        None if args.length is None else _length(args.length),
    )
    recorded = annotating.annotate(work, fact, args.by)
    assert isinstance(recorded.fact, f.PhotographAnnotated)
    print(f"{annotating.in_words(recorded.fact)} drawn as {recorded.fact.annotation}, entry {recorded.position}")
    return 0


def _length(text: str) -> Number:
    typed, _, unit = text.strip().partition(" ")
    if not unit:
        raise InputError(f"{text!r} has no unit: type the length with it, as '10 mm'")
    return Number(typed, unit.strip())


def run_erase(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    photo = _found(work, args.photograph, None)
    recorded = annotating.erase(work, photo.sha256, args.name, args.by)
    print(f"{args.name} taken away, entry {recorded.position}")
    return 0


def _found(work: Workplace, start: str, inspection: str | None) -> f.PhotoAttached:
    with work.look() as session:
        attached = [r.fact for r in photographs.named_like(session, start) if inspection in (None, r.fact.inspection)]
    if not attached:
        raise InputError(f"this photograph is not attached to {inspection}")
    return attached[-1]


def run_export(args: argparse.Namespace) -> int:
    """The archive's file stays as it is; nothing is written over."""
    work = bootstrap.open_book(args.book)
    ending = args.file.suffix.lower()
    with work.look() as session:
        photo, facts = photograph_facts(work, session, args.photograph, args.inspection)
        drawn = annotating.layer_of(session, photo.sha256, photo.inspection)
    if args.annotated and ending != ".png":
        raise InputError(f"{args.file}: a copy with what is drawn in is written as .png, which loses nothing")
    content = photographs.original(work, photo.sha256)
    if args.annotated:
        content = photographs.archive_of(work).annotated(photo.sha256, drawn.shapes, None)
    written = bootstrap.photograph_copy(content, facts, photo.media_type or "", ending, drawn_in=args.annotated)
    bootstrap.write_photograph(args.file, written)
    said = "pixels as in the original"
    if args.annotated:
        said = f"{len(drawn.drawn)} annotations drawn in"
    elif ending == ".dcm":
        said = "pixels uncompressed and upright, grey as stored, colour as RGB"
    print(f"{len(written)} bytes written to {args.file}: {said}, facts of {photo.inspection}")
    return 0
