"""Secrets on the command line: typed without echo, or read line by line from a file or standard input; never an argument."""

from __future__ import annotations

import argparse
import getpass
import sys
from collections.abc import Sequence
from pathlib import Path

from ndi.domain.errors import InputError
from ndi.services import signing
from ndi.services.proof import Meaning, Proof
from ndi.services.workplace import Workplace


class Typed:
    """Hands out secrets one after the other."""

    def __init__(self, source: str | None) -> None:
        self._lines: list[str] | None = None
        if source is not None:
            try:
                text = sys.stdin.read() if source == "-" else Path(source).read_text(encoding="utf-8")
            except (OSError, UnicodeDecodeError) as error:
                raise InputError(f"secrets cannot be read from {source}: {error}") from error
            self._lines = text.splitlines()

    def ask(self, prompt: str) -> str:
        """The next secret."""
        if self._lines is None:
            try:
                return getpass.getpass(f"{prompt}: ")
            except EOFError:
                raise InputError(f"{prompt}: nothing was typed") from None
        if not self._lines:
            raise InputError(f"{prompt}: the secret file has no further line")
        return self._lines.pop(0)

    def ask_new(self, prompt: str) -> str:
        """A new secret; at a terminal it is typed twice."""
        first = self.ask(prompt)
        if self._lines is None and self.ask(f"{prompt} once more") != first:
            raise InputError("the two are not the same: nothing was changed, begin again")
        return first


def add_signer(parser: argparse.ArgumentParser, *, required: bool = True) -> None:
    """The options of every command that somebody signs."""
    parser.add_argument("--by", required=required, metavar="PERSON", help="who signs; the secret is typed without echo")
    add_source(parser)


def add_source(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--badge", metavar="CODE", help="badge code: the secret is then the PIN, without it the password"
    )
    parser.add_argument(
        "--secret-file",
        metavar="FILE",
        help="read secrets from this file (- for standard input), one a line, in the order in which they are asked",
    )
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")


def proof_of(
    work: Workplace, args: argparse.Namespace, meaning: Meaning, covers: Sequence[str], typed: Typed | None = None
) -> Proof | None:
    """Shows what is signed and what it means, asks for the secret, proves; None in a practice book."""
    if work.practice:
        return None
    print(f"{args.by} signs ({meaning}):", file=sys.stderr)
    for line in covers:
        print(f"  {line}", file=sys.stderr)
    secret = (typed or Typed(args.secret_file)).ask(f"{'PIN' if args.badge else 'password'} of {args.by}")
    return signing.prove(work, args.by, secret, meaning, covers, badge=args.badge)
