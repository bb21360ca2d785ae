"""``ndi record BOOK KIND key=value ... --by PERSON``: one verb for everything that is recorded; ``--list`` shows the kinds."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from ndi import bootstrap
from ndi.cli.said import say
from ndi.cli.typed_secret import Typed, add_signer, proof_of
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.facts import Fact
from ndi.services.proof import Proof
from ndi.services.recordable import RECORDABLE, Recordable
from ndi.services.typed_facts import pairs
from ndi.services.typed_recording import Item, Ready, item_of, prepare, record_all, recordable
from ndi.services.workplace import Workplace

JSON_LIMIT = 16 * 1024 * 1024  # bytes: no shift types more


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "record",
        help="record a shot, a step, a reading, a tick ... (--list shows all kinds)",
        epilog="A value with a space is quoted: amps='1200 A'. A key that comes again adds a value. "
        "A key that is left out is not recorded, never a default.",
    )
    parser.add_argument("book", type=bootstrap.where, nargs="?")
    parser.add_argument("kind", nargs="?")
    parser.add_argument("keys", nargs="*", metavar="key=value")
    parser.add_argument(
        "--list", action="store_true", help="the kinds with keys, types, units and an example; or one kind"
    )
    parser.add_argument(
        "--json",
        metavar="FILE",
        help="record objects of JSON (- for standard input): one, a list, or one a line; all of them or none",
    )
    parser.add_argument("--at", metavar="TIME", help="when it happened: HH:MM[:SS] of today, or YYYY-MM-DD HH:MM[:SS]")
    parser.add_argument("--why", help="why it is entered more than two minutes late")
    parser.add_argument("--sure", action="store_true", help="a number that looks like a wrong unit really is so")
    parser.add_argument("--key", help="a name of your own for this call: typed again under it, nothing is done twice")
    add_signer(parser, required=False)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when everything is saved."""
    if args.list:
        return _list(args.kind or (str(args.book) if args.book else None))
    if args.book is None or args.by is None:
        raise InputError(
            "name the book, a kind with its keys, and the person with --by (ndi record --list shows the kinds)"
        )
    items, typed = _items(args)
    work = bootstrap.open_book(args.book, station=args.station)
    say(do(work, args, items, typed), as_json=args.json is not None)
    return 0


def do(
    work: Workplace, args: argparse.Namespace, items: Sequence[Item], typed: Typed | None = None
) -> Sequence[Recorded[Fact]]:
    """Check, have signed what is signed, record; what was written, now or the first time."""
    if args.key and (done := _done_before(work, args.key)):
        print(f"done before under {args.key}", file=sys.stderr)
        return done
    ready = prepare(work, items, args.by)
    proofs = _proofs(work, args, ready, typed)
    written: list[Recorded[Fact]] = []

    def make() -> None:
        written.extend(record_all(work, ready, args.by, proofs=proofs, sure=args.sure))

    if not args.key:
        make()
        return written
    work.once(args.key, make)
    return written or _done_before(work, args.key)


def _done_before(work: Workplace, key: str) -> list[Recorded[Fact]]:
    with work.book.session(readonly=True) as session:
        return [session.entry(position) for position in session.seen_client_key(key) or ()]


def _proofs(
    work: Workplace, args: argparse.Namespace, ready: Sequence[Ready], typed: Typed | None
) -> list[Proof | None]:
    """A secret for everything that is signed, in the order of the items."""
    signed = [one.signs for one in ready if one.signs]
    source = typed or (Typed(args.secret_file) if signed and not work.practice else None)
    return [None if one.signs is None else proof_of(work, args, *one.signs, typed=source) for one in ready]


# --- what is to be recorded -------------------------------------------------------------------------


def _items(args: argparse.Namespace) -> tuple[list[Item], Typed | None]:
    if args.json is None:
        if args.kind is None:
            raise InputError("name a kind with its keys (ndi record --list shows the kinds)")
        return [Item(args.kind, pairs(args.keys), args.at, args.why)], None
    if args.kind is not None or args.at:
        raise InputError("with --json every object has its own kind, keys and (where it is late) at and why")
    if args.json == "-" and args.secret_file == "-":
        raise InputError("JSON and secrets cannot both come from standard input: name a file for one of them")
    return items_of_file(args.json), None


def items_of_file(source: str) -> list[Item]:
    """What a file of JSON (- for standard input) wants recorded."""
    return [item_of(given, f"item {number}") for number, given in enumerate(_objects(source), start=1)]


def _objects(source: str) -> Iterator[dict[str, Any]]:
    """One object, a list of them, or one a line; numbers keep their digits."""
    text = _text(source)
    try:
        whole = _loaded(text)
        found = whole if isinstance(whole, list) else [whole]
    except ValueError:
        found = []
        for number, line in enumerate(text.splitlines(), start=1):
            if line.strip():
                try:
                    found.append(_loaded(line))
                except ValueError as error:
                    raise InputError(f"line {number} is no JSON: {error}") from None
    for number, each in enumerate(found, start=1):
        if not isinstance(each, dict):
            raise InputError(f"item {number} is no object with keys")
        yield each


def _loaded(text: str) -> Any:
    try:
        return json.loads(text, parse_float=_no_float, object_pairs_hook=_once_each)
    except RecursionError:
        raise ValueError("brackets inside brackets without end") from None


def _no_float(digits: str) -> str:
    """A number with a point has a unit, so it is a text; as a text its digits stay, and the key says what is missing."""
    return digits


def _once_each(found: list[tuple[str, Any]]) -> dict[str, Any]:
    names = [name for name, _ in found]
    if len(set(names)) != len(names):
        raise ValueError(
            f"a key stands twice in one object: {', '.join(sorted(n for n in set(names) if names.count(n) > 1))}"
        )
    return dict(found)


def _text(source: str) -> str:
    try:
        text = sys.stdin.read(JSON_LIMIT + 1) if source == "-" else Path(source).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{source} cannot be read: {error}") from None
    if len(text) > JSON_LIMIT:
        raise InputError(f"more than {JSON_LIMIT // (1024 * 1024)} MB: record it in parts")
    return text


# --- the list ---------------------------------------------------------------------------------------


def _list(name: str | None) -> int:
    kinds = list(RECORDABLE.values()) if name is None else [recordable(name)]
    for kind in kinds:
        for line in lines(kind):
            print(line)
    return 0


def lines(kind: Recordable) -> Iterator[str]:
    """A kind for reading: what it is, its keys with types and units, an example."""
    signs = "; signed: asks for the secret" if kind.is_signed else ""
    yield f"{kind.name}: {kind.about}{signs}"
    for key in kind.keys:
        told = kind.told(key)
        yield f"    {key.name}{f' ({told})' if told else ''}: {key.form}"
    if not kind.timed:
        yield "    counts from the moment at which it is entered"
    yield f"    e.g. ndi record BOOK {kind.name} {kind.example} --by PERSON"
