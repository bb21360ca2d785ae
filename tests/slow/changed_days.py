"""Plays every changed day: ``python -m tests.slow.changed_days [words of a name]``. Exit 0 only when all come out as written."""

from __future__ import annotations

import sys
import time

from tests.acceptance.mutations import MUTATIONS
from tests.acceptance.test_changed_days import check


def main(words: list[str]) -> int:
    """Play the changes whose name holds the words; say of each how it came out."""
    chosen = [mutation for mutation in MUTATIONS if all(word in mutation.name for word in words)]
    wrong = 0
    for mutation in chosen:
        began = time.monotonic()
        try:
            check(mutation)
        except AssertionError as difference:
            wrong += 1
            sys.stdout.write(f"WRONG  {mutation.name}\n{difference}\n")
        else:
            sys.stdout.write(f"right  {mutation.name} ({time.monotonic() - began:.1f} s)\n")
    sys.stdout.write(f"{len(chosen) - wrong} of {len(chosen)} changed days as written\n")
    return 1 if wrong or not chosen else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
