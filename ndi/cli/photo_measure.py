"""``ndi photo measure``, ``candidates`` and ``judge``: sizes off a photograph, proposals on it, what became of each."""

from __future__ import annotations

import argparse
from fractions import Fraction
from pathlib import Path

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.quantity import Number
from ndi.services import candidates, photographs
from ndi.services.measuring import PRINT_SHARE, Marked, measure
from ndi.services.photo_lengths import outline_place, place_from_datum, read_attached, record_length, share_of
from ndi.services.photograph_words import measured_in_words, read_in_words
from ndi.services.picture_ports import Point
from ndi.services.workplace import Workplace

_CHECK_MM = 150  # the check lines of a sheet of cards
_RULE_MM = 0.2  # how well a calibrated rule of an ordinary kind is read: from memory, no source
_POINTS = "pixels of the picture shown upright, like '618,902 905,861'"
_LENGTH = "with its unit, like '1.125 in' or '28.6 mm'"


def add_to(actions: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    one = actions.add_parser("measure", help="measure on a photograph with a scale card; recorded with --by")
    _picture(one)
    one.add_argument(
        "--line", action="append", default=[], metavar="POINTS", help=f"{_POINTS}; once more marks it anew"
    )
    one.add_argument("--across", metavar="POINTS", help="two points, from edge to edge of the line: its width")
    one.add_argument("--axis", metavar="POINTS", help="two points along the part's axis")
    one.add_argument("--datum", metavar="POINTS", help="a datum point, or two on a straight datum edge")
    one.add_argument("--radius", metavar="LENGTH", help=f"of the journal that the line goes round, {_LENGTH}")
    one.add_argument("--off-plane", metavar="LENGTH", help="how far the indication may lie above or below the card")
    one.add_argument("--camera", metavar="LENGTH", help="from card to camera, where the camera wrote no focal length")
    one.add_argument("--crack", metavar="LENGTH", help="how wide the crack itself can be at most")
    one.add_argument(
        "--click",
        type=float,
        metavar="PIXELS",
        help="how well a point is marked (one standard deviation); 1, or a pixel of the screen if left out",
    )
    one.add_argument("--check-line", metavar="LENGTH", help="what the 150 mm check line of the card's sheet measures")
    one.add_argument("--indication", help="the indication that the line is of, to record it")
    one.add_argument(
        "--place", metavar="X,Y", help="where it lies on the part's outline, from its datum, like '612 mm, 12 mm'"
    )
    one.add_argument(
        "--datum-at",
        metavar="X,Y",
        help="where the marked datum lies on the outline: its place is then worked out from --datum and --axis",
    )
    one.add_argument("--inspection", help="where the photograph is on several records")
    one.add_argument("--by", metavar="PERSON", help="who measured; without it nothing is recorded")
    one.set_defaults(run=run_measure)
    one = actions.add_parser("candidates", help="propose what may be an indication in a photograph; never a finding")
    _picture(one)
    one.add_argument(
        "--look", choices=candidates.LOOKS, required=True, help="yellow-green on dark, or dark and red on white"
    )
    one.add_argument("--inspection", help="where the photograph is on several records")
    one.add_argument("--out", type=Path, metavar="FILE", help="a full-size .png with a numbered circle round each")
    one.add_argument("--by", required=True, metavar="PERSON", help="who asked")
    one.set_defaults(run=run_candidates)
    one = actions.add_parser("judge", help="say what became of a candidate: accepted, rejected, redrawn")
    _picture(one)
    one.add_argument("number", type=int)
    one.add_argument("outcome", choices=candidates.OUTCOMES)
    one.add_argument("--indication", help="the indication that was recorded for it")
    one.add_argument("--reason", help="what a rejected one is")
    one.add_argument("--outline", metavar="POINTS", help=f"as redrawn, {_POINTS}")
    one.add_argument("--inspection", help="where the photograph is on several records")
    one.add_argument("--by", required=True, metavar="PERSON")
    one.set_defaults(run=run_judge)


def _picture(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("photograph", metavar="HASH", help="the beginning of its hash")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")


# --- measure --------------------------------------------------------------------------------------


def run_measure(args: argparse.Namespace) -> int:
    """Without a line it says what was read off the picture."""
    work = bootstrap.open_book(args.book, station=args.station)
    photo = _attached(work, args)
    if not args.line:
        for said in read_in_words(read_attached(work, photo.sha256)):
            print(said)
        return 0
    marked = _marked(args)
    place = None if args.place is None else outline_place(args.place)
    if args.datum_at is not None:
        if place is not None:
            raise InputError("--place and --datum-at: give one; the other follows from it")
        place = place_from_datum(read_attached(work, photo.sha256), marked, outline_place(args.datum_at))
    if args.by is None:
        found = measure(read_attached(work, photo.sha256), marked)
        said = "not recorded: give --by and the indication to record it"
    else:
        indication = args.indication or photo.indication
        if indication is None:
            raise InputError("a length is recorded for an indication: name it with --indication")
        found, recorded = record_length(work, photo.inspection, indication, photo.sha256, marked, args.by, place)
        said = f"recorded for {indication}, entry {recorded.position}; the larger of this and the length on the part counts"
    for line in measured_in_words(found):
        print(line)
    print(said)
    return 0


def _marked(args: argparse.Namespace) -> Marked:
    return Marked(
        tuple(_points(text, "--line") for text in args.line),
        _points(args.across, "--across"),
        _points(args.axis, "--axis"),
        _points(args.datum, "--datum"),
        _millimetres(args.radius, "--radius"),
        args.click,
        _print_share(_millimetres(args.check_line, "--check-line")),
        _millimetres(args.off_plane, "--off-plane"),
        _millimetres(args.camera, "--camera"),
        _millimetres(args.crack, "--crack"),
    )


def _print_share(check_mm: float | None) -> float:
    """By what share the print may be off: as the sheet asks, or as its check line was measured."""
    if check_mm is None:
        return PRINT_SHARE
    off = abs(check_mm - _CHECK_MM) + _RULE_MM
    if off > PRINT_SHARE * _CHECK_MM + _RULE_MM:
        raise InputError(
            f"a check line of {check_mm:g} mm is off by more than {100 * PRINT_SHARE:g} % of {_CHECK_MM} mm: throw the cards of this "
            "sheet away, print at 100 % and photograph again"
        )
    return off / _CHECK_MM


def _points(text: str | None, option: str) -> tuple[Point, ...]:
    if text is None:
        return ()
    found = []
    for pair in text.split():
        x, comma, y = pair.partition(",")
        try:
            found.append((float(x), float(y)))
        except ValueError:
            raise InputError(f"{option}: {pair!r} is no point; give {_POINTS}") from None
        if not comma or not all(abs(value) < 1e9 for value in found[-1]):
            raise InputError(f"{option}: {pair!r} is no point; give {_POINTS}")
    return tuple(found)


def _millimetres(text: str | None, option: str) -> float | None:
    if text is None:
        return None
    figures = text.strip().rstrip("abcdefghijklmnopqrstuvwxyz ")
    unit = text.strip()[len(figures) :].strip()
    if unit not in ("mm", "in", "cm", "m", "ft"):
        raise InputError(f"{option}: {text!r} has no unit of length; type it {_LENGTH}")
    value: Fraction = Number(figures.strip(), unit).in_unit("mm")
    return float(value)


# --- candidates -----------------------------------------------------------------------------------


def run_candidates(args: argparse.Namespace) -> int:
    if args.out is not None and args.out.suffix.lower() != ".png":
        raise InputError(f"{args.out} does not end in .png: the copy is written as PNG")
    work = bootstrap.open_book(args.book, station=args.station)
    photo = _attached(work, args)
    recorded = candidates.propose(work, photo.inspection, photo.sha256, args.look, args.by)
    fact = recorded.fact
    assert isinstance(fact, f.CandidatesProposed)
    for each in fact.candidates:
        size = "" if each.length_mm is None else f", {each.length_mm} x {each.width_mm}"
        at = each.line[len(each.line) // 2]
        print(f"{each.number}: {each.form} at {at.x} {at.y} of the picture{size}, stands out {each.strength}")
    if args.out is not None:
        bootstrap.write_photograph(args.out, candidates.drawn(work, fact))
        print(f"a copy with a circle round each: {args.out}")
    print(
        f"{len(fact.candidates)} candidates, none of them a finding (entry {recorded.position}): look at each on the part and "
        "say what it is (ndi photo judge)"
    )
    return 0


def run_judge(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    photo = _attached(work, args)
    outline: tuple[f.PicturePoint, ...] = ()
    if args.outline:
        read = read_attached(work, photo.sha256)
        points = _points(args.outline, "--outline")
        if any(not (0 <= x <= read.width and 0 <= y <= read.height) for x, y in points):
            raise InputError(f"--outline leaves the picture of {read.width} x {read.height} pixels")
        outline = tuple(share_of(point, read) for point in points)
    recorded = candidates.judge_candidate(
        work,
        photo.inspection,
        photo.sha256,
        args.number,
        args.outcome,
        args.by,
        indication=args.indication,
        reason=args.reason,
        outline=outline,
    )
    with work.book.session(readonly=True) as session:
        left = candidates.standing(session, photo.inspection, photo.sha256).open
    print(f"candidate {args.number} {args.outcome}, entry {recorded.position}; {len(left)} not judged yet")
    return 0


def _attached(work: Workplace, args: argparse.Namespace) -> f.PhotoAttached:
    """The one attachment that is meant."""
    with work.book.session(readonly=True) as session:
        attached = [recorded.fact for recorded in photographs.named_like(session, args.photograph)]
    named = sorted({fact.inspection for fact in attached})
    chosen = [fact for fact in attached if args.inspection in (None, fact.inspection)]
    if args.inspection is None and len(named) > 1:
        raise InputError(f"this photograph is on {', '.join(named)}: say which with --inspection")
    if not chosen:
        raise InputError(f"this photograph is on {', '.join(named)}, not on {args.inspection}")
    wanted = getattr(args, "indication", None)
    return next((fact for fact in chosen if fact.indication == wanted), chosen[0])
