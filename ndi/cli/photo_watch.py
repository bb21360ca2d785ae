"""``ndi photo watch``: pictures are attached to a record as a camera leaves them in a folder."""

from __future__ import annotations

import argparse
import threading
from pathlib import Path

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NdiError
from ndi.services import photographs
from ndi.services.workplace import Workplace

LOOK_EVERY_S = 0.5
Actions = argparse._SubParsersAction  # the type has no public name


def add_to(actions: Actions[argparse.ArgumentParser]) -> None:
    watch = actions.add_parser(
        "watch", help="attach pictures to a record as a tethered camera leaves them in a folder, until Ctrl-C"
    )
    watch.add_argument("book", type=bootstrap.where)
    watch.add_argument("folder", type=Path)
    watch.add_argument("--inspection", required=True)
    watch.add_argument("--indication", help="the indication that they show")
    watch.add_argument("--by", required=True, metavar="PERSON")
    watch.add_argument("--scale", action=argparse.BooleanOptionalAction, help="a scale lies beside the indication")
    watch.add_argument("--tag", choices=photographs.TAG_IN_FRAME, help="the part's tag in the frame")
    watch.add_argument("--light", choices=photographs.LIGHTS)
    watch.add_argument("--for", dest="seconds", type=float, metavar="SECONDS", help="end after so long")
    watch.add_argument("--station", help="the station that stands here, where the key folder holds several")
    watch.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when it was ended, 1 when one of the pictures was refused."""
    if not args.folder.is_dir():
        raise InputError(f"{args.folder} is no folder: name the one where the camera leaves its pictures")
    if args.seconds is not None and args.seconds < 0:
        raise InputError("--for is a number of seconds from 0 up")
    work = bootstrap.open_book(args.book, station=args.station)
    with work.look() as session:
        session.inspection(args.inspection)
    print(f"watching {args.folder} for {args.indication or args.inspection}; Ctrl-C ends it", flush=True)
    watching = _Watching(work, args)
    ended, steps = threading.Event(), 0
    try:
        while True:
            watching.look()
            if args.seconds is not None and steps * LOOK_EVERY_S >= args.seconds:
                break
            steps += 1
            ended.wait(LOOK_EVERY_S)
    except KeyboardInterrupt:
        print()
    print(f"{watching.attached} attached, {watching.refused} refused")
    return 1 if watching.refused else 0


class _Watching:
    """Takes each whole file once, as it is then; the files stay where they are."""

    def __init__(self, work: Workplace, args: argparse.Namespace) -> None:
        self._work, self._args = work, args
        self._folder = bootstrap.watched_folder(args.folder)
        self._done: set[tuple[str, int, float]] = set()
        self.attached = self.refused = 0

    def look(self) -> None:
        for file in reversed(self._folder.files()):
            key = file.name, file.size, file.changed.timestamp()
            if key not in self._done:
                self._done.add(key)
                self._attach(file.path)

    def _attach(self, path: Path) -> None:
        work, args = self._work, self._args
        try:
            content = bootstrap.read_photograph(path)
            if self._is_attached(content, path.name):
                return
            recorded = photographs.attach_photograph(
                work,
                args.inspection,
                content,
                path.name,
                args.by,
                indication=args.indication,
                shown=photographs.Shown(args.scale, args.tag, args.light),
            )
        except NdiError as error:
            self.refused += 1
            said = str(error)
            print(f"not attached: {said if path.name in said else f'{path.name}: {said}'}", flush=True)
            return
        fact = recorded.fact
        assert isinstance(fact, f.PhotoAttached)
        self.attached += 1
        print(
            f"{path.name}: attached, entry {recorded.position}, taken {fact.taken_at}, {fact.sha256[:16]}", flush=True
        )

    def _is_attached(self, content: bytes, name: str) -> bool:
        """Whether it is on this record already, e.g. since the folder was watched before."""
        sha256 = photographs.archive_of(self._work).examine(content, name).sha256
        with self._work.look() as session:
            facts = session.facts(self._args.inspection, (f.PhotoAttached,))
        return any(isinstance(r.fact, f.PhotoAttached) and r.fact.sha256 == sha256 for r in facts)
