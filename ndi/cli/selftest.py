"""``ndi selftest``: every golden value of the calculators, and whether they are locked."""

from __future__ import annotations

import argparse

from ndi.calc import golden, selftest


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("selftest", help="check every golden value of the calculators")
    parser.add_argument("--list", action="store_true", help="name every golden value with its source")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when every value is met, 1 when the calculators are locked."""
    found = selftest.run()
    if args.list:
        for value in golden.VALUES:
            print(f"{value.name}: {', '.join(f'{place} {told}' for place, told in value.expected)}  [{value.source}]")
    for failure in found.failures:
        print(f"not met: {failure}")
    print(f"self-test {found.passed} of {found.total} passed")
    if found.failures:
        print("ndi compute is locked until every value is met; records are not touched by that")
    return 1 if found.failures else 0
