"""``ndi backup`` copies a book that may be in use to another place; ``ndi restore`` makes a book from such a copy."""

from __future__ import annotations

import argparse
from datetime import timedelta
from pathlib import Path

from ndi import bootstrap
from ndi.domain.errors import InputError
from ndi.domain.moment import duration_text
from ndi.services.copies import backup_age, record_backup
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "backup", help="copy a book to another place while it is in use, and read the copy back"
    )
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("destination", type=Path, nargs="?", help="folder on another disk or machine")
    parser.add_argument(
        "--with-keys", type=Path, metavar="FOLDER", help="copy the keys too, into a folder apart from the backup"
    )
    parser.add_argument(
        "--photographs",
        type=Path,
        metavar="FOLDER",
        help="where the photographs lie (default: NAME-photographs beside the book)",
    )
    parser.add_argument(
        "--full", action="store_true", help="walk the whole chain of the copy and every photograph, not only its head"
    )
    parser.add_argument("--age", action="store_true", help="only say how old the last backup is")
    parser.add_argument("--most", type=float, metavar="HOURS", help="with --age: exit 1 when it is older")
    parser.add_argument("--by", help="who makes it (default: the station)")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)
    back = commands.add_parser("restore", help="make a book from a backup; never over a book that is there")
    back.add_argument("backup", type=Path)
    back.add_argument("book", type=Path, help="file of the restored book")
    back.add_argument(
        "--keys",
        type=Path,
        metavar="FOLDER",
        help="copy the stations' keys from this folder to where the restored book looks for them",
    )
    back.add_argument(
        "--against", metavar="HEAD", help="a head from paper, POSITION:16 CHARACTERS, that must be in the chain"
    )
    back.set_defaults(run=run_restore)


def run(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    if args.age:
        return _age(work, args.most)
    if args.destination is None:
        raise InputError("name the folder that the backup goes to (or --age)")
    if args.with_keys is not None and _is_inside(args.with_keys, args.destination):
        raise InputError(
            f"{args.with_keys} lies in {args.destination}: keys are kept apart from the book, name another folder"
        )
    made = bootstrap.back_up(work, args.destination, photographs=args.photographs, whole_chain=args.full)
    pictures = made.photographs
    by = args.by or work.station
    record_backup(
        work,
        str(made.path.resolve()),
        made.head,
        by,
        photographs=pictures.copied + pictures.kept,
        missing=pictures.missing,
    )
    print(f"{made.path}")
    print(f"compared: head of the copy {made.head} = entry {made.head.position} of the book")
    print(
        f"{made.entries} entries and signatures walked in the copy" if args.full else "chain not walked (--full does)"
    )
    print(f"photographs: {pictures.copied} copied, {pictures.kept} there already, {len(pictures.missing)} missing")
    for name in pictures.missing:
        print(f"  missing or changed: {name}")
    if made.same_disk:
        print("the backup lies on the same disk as the book: it is lost with it; copy it further")
    if args.with_keys is not None:
        print(f"{bootstrap.copy_keys(bootstrap.key_folder(args.book), args.with_keys)} key files in {args.with_keys}")
    else:
        print("keys are not in it: keep a copy of the key folder apart (--with-keys)")
    return 1 if pictures.missing else 0


def _is_inside(folder: Path, other: Path) -> bool:
    folder, other = folder.resolve(), other.resolve()
    return folder == other or other in folder.parents


def _age(work: Workplace, most: float | None) -> int:
    with work.book.session(readonly=True) as session:
        found = backup_age(work, session)
    if found is None:
        print("no backup of this book was ever made")
        return 1
    fact = found.made.fact
    print(
        f"last backup {duration_text(found.age)} ago ({found.made.when}), up to entry {fact.position}, in {fact.place}"
    )
    print(f"{found.entries_since} entries since (its own among them)")
    return 1 if most is not None and found.age > timedelta(hours=most) else 0


def run_restore(args: argparse.Namespace) -> int:
    keys = bootstrap.key_folder(args.book)
    if args.keys is not None and not args.keys.is_dir():
        raise InputError(f"there is no key folder {args.keys}")
    made = bootstrap.restore(args.backup, args.book, against=args.against)
    print(f"{made.path}")
    print(
        f"compared: head of the backup {made.head} = head of the restored book; {made.entries} entries and signatures hold"
    )
    if args.against:
        print(f"compared: the head {args.against} is in the chain")
    pictures = made.photographs
    print(f"photographs: {pictures.copied + pictures.kept} whole, {len(pictures.missing)} missing")
    for name in pictures.missing:
        print(f"  missing or changed: {name}")
    if args.keys is not None:
        print(f"{bootstrap.copy_keys(args.keys, keys)} key files in {keys}")
    else:
        print(f"no station can write until its key lies in {keys}")
    return 1 if pictures.missing else 0
