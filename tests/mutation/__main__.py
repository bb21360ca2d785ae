"""The slow proof of the tests: ``python -m tests.mutation [MODULE ...] [--all] [--left] [--sample N]``.

One module at a time is mutated in a copy of the tree under
``~/.cache/ndi-mutation`` and its own tests are run over every mutant.  A module
that came out before with the same text and the same tests is not run again;
the scores of all that ran are kept in ``tests/mutation/scores.md``.  Exit 0 only
when no asked mutant is left, neither killed nor explained.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

from tests.kept import commit
from tests.mutation import control, tree
from tests.mutation.explained import becomes
from tests.mutation.scores import Mutant, Result, is_killed, is_left, load, store, write_scores

HOME = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "ndi-mutation"


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description="Mutants that the tests must kill.")
    parser.add_argument("modules", nargs="*", help="like calc.dwell, rules.light, domain.acceptance")
    parser.add_argument("--all", action="store_true", help="all modules of calc and rules, and law 2")
    parser.add_argument("--left", action="store_true", help="only what was left; for a module whose tests only grew")
    parser.add_argument("--sample", type=int, metavar="N", help="only N mutants of each, drawn by seed 1; not kept")
    parser.add_argument("--children", type=int, default=1, help="mutants at the same time")
    args = parser.parse_args(arguments)
    modules = tree.every_module() if args.all else [_name(given) for given in args.modules]
    left = 0
    for module in modules:
        try:
            result = _result(module, args)
        except RuntimeError as refused:
            print(f"== {refused}", flush=True)
            left += 1
            continue
        left += sum(is_left(module, mutant) for mutant in result.mutants)
        _say(result)
        if not args.sample:
            store(HOME, result)
            write_scores(HOME, tree.every_module())
    if not modules:
        write_scores(HOME, tree.every_module())
    return 1 if left else 0


def _name(given: str) -> str:
    return given.removeprefix("ndi/").removesuffix(".py").replace("/", ".").removeprefix("ndi.")


def _result(module: str, args: argparse.Namespace) -> Result:
    text, tests = tree.fingerprint(module)
    before = load(HOME, module)
    known = before if before is not None and before.text == text else None
    if known is not None and known.tests == tests and not args.sample and not args.left:
        return known
    state, again = commit(), None
    if args.left and known is not None:
        again = [mutant.name for mutant in known.mutants if is_left(module, mutant)]
    folder = HOME / module
    tree.copy_for(module, folder)
    try:
        if args.sample:
            names = _drawn(folder, args.sample)
            found = [mutant for mutant in _run(folder, names, args.children) if mutant.name in names]
        else:
            found = _run(folder, again, args.children) if again != [] else []
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    if again is not None and known is not None:
        changed = {mutant.name: mutant for mutant in found if mutant.name in again}
        found = [changed.get(mutant.name, mutant) for mutant in known.mutants]
    return Result(module, text, tests, f"{datetime.now(UTC):%Y-%m-%d}", state, tuple(found))


def _run(folder: Path, names: list[str] | None, children: int) -> list[Mutant]:
    """Run all mutants, or those named; RuntimeError with the end of what was said when the tool gave up."""
    if names == []:
        return []
    log = HOME / f"{folder.name}.log"
    command = [sys.executable, "-m", "mutmut", "run", "--max-children", str(children), *(names or [])]
    with log.open("w") as said:
        subprocess.run(command, cwd=folder, stdout=said, stderr=subprocess.STDOUT, check=False, env=_environment())
    found = _outcome(folder)
    asked = [mutant for mutant in found if names is None or mutant.name in names]
    if names is None and all(is_killed(mutant) for mutant in found):
        raise RuntimeError(f"{folder.name}: no mutant lives, not even one of a sentence: false kills, see {log}")
    if not asked or any(mutant.status == "not checked" for mutant in asked):
        raise RuntimeError(f"{folder.name}: not every mutant was checked, see {log}\n{log.read_text()[-1500:]}")
    untrue = control.untrue_kills(folder, asked, _environment())
    if untrue:
        raise RuntimeError(
            f"{folder.name}: said to be killed, but in a process of its own it is not: {', '.join(untrue)}"
        )
    return found


def _drawn(folder: Path, count: int) -> list[str]:
    """The names of some mutants; they are only made, not run."""
    code = "import mutmut.__main__ as m; m.copy_src_dir(); m.copy_also_copy_files(); m.setup_source_paths(); m.create_mutants(1)"
    made = "from pathlib import Path; Path('mutants').mkdir(exist_ok=True); "
    quiet = {"cwd": folder, "stdout": subprocess.DEVNULL, "check": True, "env": _environment()}
    subprocess.run([sys.executable, "-c", made + code], **quiet)
    names = sorted(mutant.name for mutant in _outcome(folder))
    return random.Random(1).sample(names, min(count, len(names)))


def _outcome(folder: Path) -> list[Mutant]:
    command = [sys.executable, "-m", "tests.mutation.outcome"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True, env=_environment())
    return [Mutant(**row) for row in json.loads(done.stdout)]


def _environment() -> dict[str, str]:
    return {**os.environ, "PYTHONHASHSEED": "0", "MUTANT_UNDER_TEST": "", "PYTHONDONTWRITEBYTECODE": "1"}


def _say(result: Result) -> None:
    """The score, and each mutant that is left with its difference."""
    left = [mutant for mutant in result.mutants if is_left(result.module, mutant)]
    print(f"== {result.module}: {len(result.mutants)} mutants, {len(left)} left", flush=True)
    for mutant in left:
        print(f"{mutant.name.rpartition('.')[2]} ({mutant.status}): {becomes(mutant.difference)}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
