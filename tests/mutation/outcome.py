"""Run inside the copy: what became of each mutant, as JSON (name, status, difference)."""

from __future__ import annotations

import json
import sys

from mutmut.mutation.data import SourceFileMutationData
from mutmut.mutation.diff_apply import get_diff_for_mutant
from mutmut.stats import status_by_exit_code
from mutmut.utils.file_utils import walk_mutatable_files

CAUGHT = frozenset({"killed", "timeout", "segfault", "caught by type check"})


def main() -> None:
    found = []
    for path in walk_mutatable_files():
        data = SourceFileMutationData(path=path)
        data.load()
        for name, code in data.exit_code_by_key.items():
            status = status_by_exit_code[code]
            difference = "" if status in CAUGHT or code is None else get_diff_for_mutant(name, path=path)
            found.append({"name": name, "status": status, "difference": difference})
    json.dump(found, sys.stdout)


if __name__ == "__main__":
    main()
