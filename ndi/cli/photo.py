"""``ndi photo``: attach photographs to a record, look at what was attached, see whether every file is still there."""

from __future__ import annotations

import argparse
from datetime import datetime, timedelta
from pathlib import Path

from ndi import bootstrap
from ndi.cli import photo_layer, photo_measure, photo_watch
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.moment import Moment
from ndi.services import annotating, photograph_words, photographs
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("photo", help="photographs: attach, show, draw beside, export, verify")
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    add = actions.add_parser("add", help="keep picture files as they are and attach them to a record")
    add.add_argument("book", type=bootstrap.where)
    add.add_argument("files", type=Path, nargs="+", metavar="FILE", help="files, or folders of them")
    add.add_argument("--inspection", required=True)
    add.add_argument("--indication", help="the indication that it shows")
    add.add_argument("--by", required=True, metavar="PERSON")
    add.add_argument("--scale", action=argparse.BooleanOptionalAction, help="a scale lies beside the indication")
    add.add_argument("--tag", choices=photographs.TAG_IN_FRAME, help="the part's tag in the frame")
    add.add_argument("--light", choices=photographs.LIGHTS)
    add.add_argument("--taken", metavar="TIME", help="local time (YYYY-MM-DDTHH:MM:SS) where the camera wrote none")
    add.add_argument("--camera-ahead", type=int, metavar="SECONDS", help="by how much the camera's clock is ahead")
    add.add_argument(
        "--reuse-reason", metavar="TEXT", help="why it stands here although it is, or looks like, one of another record"
    )
    add.add_argument("--station", help="the station that stands here, where the key folder holds several")
    add.set_defaults(run=run_add)
    show = actions.add_parser("show", help="what the book says of a photograph; its bytes with --out")
    show.add_argument("book", type=bootstrap.where)
    show.add_argument("photograph", metavar="HASH", help="the beginning of its hash")
    show.add_argument("--out", type=Path, metavar="FILE", help="write the original bytes there")
    show.set_defaults(run=run_show)
    verify = actions.add_parser("verify", help="read every photograph again and compare it with its hash")
    verify.add_argument("book", type=bootstrap.where)
    verify.add_argument(
        "--sweep", action="store_true", help="throw away files that were never finished, older than a day"
    )
    verify.set_defaults(run=run_verify)
    photo_layer.add_to(actions)
    photo_watch.add_to(actions)
    photo_measure.add_to(actions)


def run_add(args: argparse.Namespace) -> int:
    """Every file is looked at before the first is attached; a refusal stops there and says so."""
    work = bootstrap.open_book(args.book, station=args.station)
    taken = None if args.taken is None else _moment(args.taken, work)
    shown = photographs.Shown(args.scale, args.tag, args.light, taken, args.camera_ahead, args.reuse_reason)
    archive = photographs.archive_of(work)
    args.files = [path for given in args.files for path in _pictures_of(given)]
    for path in args.files:
        archive.examine(bootstrap.read_photograph(path), str(path))
    for path in args.files:
        recorded = photographs.attach_photograph(
            work,
            args.inspection,
            bootstrap.read_photograph(path),
            str(path),
            args.by,
            indication=args.indication,
            shown=shown,
        )
        fact = recorded.fact
        assert isinstance(fact, f.PhotoAttached)
        print(f"{path}: attached to {fact.indication or fact.inspection}, entry {recorded.position}, {fact.sha256}")
    return 0


def _pictures_of(given: Path) -> list[Path]:
    """The file itself, or the pictures of a folder by name; InputError for a folder without any."""
    if not given.is_dir():
        return [given]
    found = sorted(file.path for file in bootstrap.watched_folder(given).files())
    if not found:
        raise InputError(f"{given} holds no whole picture: name its files, or wait until the camera has written them")
    return found


def _moment(text: str, work: Workplace) -> Moment:
    try:
        local = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is not a time; type it like 2026-03-10T08:29:30") from None
    if local.tzinfo is not None:
        return Moment(local, work.clock.offset_min())
    now = work.now()
    try:
        at = now.at + (local - now.local.replace(tzinfo=None))
    except OverflowError:
        raise InputError(f"{text!r} is no time that a photograph was taken at") from None
    return Moment(at, now.offset_min)


def run_show(args: argparse.Namespace) -> int:
    """Exit 3 when the file is missing or not what it was."""
    work = bootstrap.open_book(args.book)
    with work.book.session(readonly=True) as session:
        attached = photographs.named_like(session, args.photograph)
        layer = annotating.layer_of(session, attached[0].fact.sha256)
        recorded = photograph_words.recorded_in_words(session, attached[0].fact.sha256)
    drawn = [f"{r.fact.annotation}: {annotating.in_words(r.fact)}, drawn by {r.by} {r.when}" for r in layer.drawn]
    fact = attached[0].fact
    for line in [*_said(attached), *recorded, *drawn]:
        print(line)
    if fact.size is None:
        print("described only: its bytes were never put into the archive")
        return 0
    content = photographs.original(work, fact.sha256)
    print("the file is there and is what it was")
    if args.out is not None:
        bootstrap.write_photograph(args.out, content)
        print(f"{len(content)} bytes written to {args.out}")
    return 0


def _said(attached: list[Recorded[f.PhotoAttached]]) -> list[str]:
    fact = attached[0].fact
    found = [fact.sha256]
    if fact.size is not None:
        found.append(f"{fact.original_name}: {fact.media_type}, {fact.width} x {fact.height} pixels, {fact.size} bytes")
    if fact.camera or fact.camera_time:
        ahead = f", clock {timedelta(seconds=fact.camera_ahead_s)} ahead" if fact.camera_ahead_s else ""
        found.append(f"camera {fact.camera or 'not named'}, its time {fact.camera_time or 'not written'}{ahead}")
    if fact.codes_read is not None:
        codes = ", ".join(fact.codes_read) or "none"
        found.append(f"read off it: scale card {fact.card}, codes in the frame: {codes}")
    for recorded in attached:
        seen = [f"of {recorded.fact.inspection}", recorded.fact.indication or "", recorded.fact.light or ""]
        seen += ["scale in frame" if recorded.fact.scale_in_frame else ""]
        seen += [f"tag {recorded.fact.tag_in_frame}" if recorded.fact.tag_in_frame else ""]
        words = ", ".join(word for word in seen if word)
        if recorded.fact.reuse_reason:
            words += f", although on another record or like one there: {recorded.fact.reuse_reason}"
        found.append(
            f"entry {recorded.position}: {words}; taken {recorded.fact.taken_at}, attached by {recorded.by} {recorded.when}"
        )
    return found


def run_verify(args: argparse.Namespace) -> int:
    """Exit 0 when every photograph of the book is whole, 3 when one is not."""
    work = bootstrap.open_book(args.book)
    if args.sweep:
        print(f"{bootstrap.sweep_photographs(work)} unfinished files thrown away")
    return 0 if say_whether_whole(work) else 3


def say_whether_whole(work: Workplace) -> bool:
    """Read every photograph again; one line for each that is missing or not what it was."""
    found = bootstrap.check_photographs(work)
    said = [f"{len(found.whole)} photographs whole, {len(found.missing)} missing, {len(found.changed)} changed."]
    said += [f"  missing: {name}" for name in found.missing]
    said += [f"  changed: {name}" for name in found.changed]
    if not found.ok:
        said.append("  Bring them back from a backup; until then the rules that need them say NOT RECORDED.")
    if found.without_entry:
        said.append(f"{len(found.without_entry)} files that no entry names: kept, they do no harm.")
    if found.unfinished:
        said.append(f"{len(found.unfinished)} files that were never finished (ndi photo verify --sweep).")
    print("\n".join(said))
    return found.ok
