"""``ndi``: parses the command line, calls one service, prints what came back.

Exit codes: 0 done, 1 refused by a rule, 2 wrong input, 3 the record book.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

import ndi
from ndi.cli import open as open_window
from ndi.domain.errors import InputError, NdiError, NotPermitted, StoreError


def parser(command: str = "") -> argparse.ArgumentParser:
    """The command line with all its commands; for ``open`` with that one alone, whose window is not to wait for the rest."""
    top = argparse.ArgumentParser(prog="ndi", description="Inspection records that check themselves.")
    top.add_argument("--version", action="version", version=f"ndi {ndi.__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    if command == "open":
        open_window.add_to(commands)
    else:
        _add_all(commands)
    return top


def _add_all(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    from ndi.cli import (
        ask,
        backup,
        codes,
        correct,
        demo,
        export,
        gather,
        how_good,
        imports,
        inspection,
        judge,
        ledger,
        new,
        outage,
        people,
        photo,
        printing,
        procedure,
        recall,
        receive,
        recheck,
        record,
        report,
        rules,
        scrap,
        second_look,
        selftest,
        serious,
        shift,
        sign,
        tag,
        technique,
        trend,
        verify,
    )

    for command in (
        demo,
        open_window,
        new,
        people,
        procedure,
        imports,
        receive,
        inspection,
        record,
        correct,
        judge,
        second_look,
        sign,
        verify,
        photo,
        tag,
        shift,
        recall,
        scrap,
        serious,
        ledger,
        ask,
        trend,
        gather,
        how_good,
        backup,
        export,
        codes,
        printing,
        recheck,
        report,
        outage,
        rules,
        selftest,
        technique,
    ):
        command.add_to(commands)
    computing = commands.add_parser("compute", help="one formula: JSON in, JSON out (--list shows all)")
    computing.add_argument("name", nargs="?", help="which computation")
    computing.add_argument("--list", action="store_true", help="every computation with its keys and an example")
    computing.set_defaults(run=_compute)


def _compute(args: argparse.Namespace) -> int:
    from ndi.cli import compute

    words = ["--list"] if args.list else [args.name] if args.name else []
    return compute.main(words, sys.stdin, sys.stdout, sys.stderr)


def _close_books() -> None:
    """Every book that this command opened; what was never loaded opened none."""
    bootstrap = sys.modules.get("ndi.bootstrap")
    if bootstrap is not None:
        bootstrap.close_all()


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the way out of every error is in its message."""
    words = sys.argv[1:] if argv is None else list(argv)
    args = parser(words[0] if words else "").parse_args(words)
    try:
        code: int = args.run(args)
        return code
    except BrokenPipeError:
        # whoever read our output stopped reading; nothing of the book is lost by that
        sys.stdout = None
        return 0
    except NotPermitted as refused:
        print(f"ndi: {refused}", file=sys.stderr)
        for answer in refused.answers:
            print(f"  {answer.line()}", file=sys.stderr)
        return 1
    except InputError as error:
        print(f"ndi: {error}", file=sys.stderr)
        return 2
    except StoreError as error:
        print(f"ndi: {error}", file=sys.stderr)
        return 3
    except NdiError as error:
        print(f"ndi: {error}", file=sys.stderr)
        return 2
    finally:
        _close_books()


if __name__ == "__main__":
    sys.exit(main())
