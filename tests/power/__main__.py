"""Power cuts in numbers: ``python -m tests.power --kills 5000`` (the test run does 200).

Each replay of the day is killed 50 times and must come out entry by entry as one
that nobody disturbed.  What this shows: a program that dies at any moment.  What
it does not show: a machine that loses power, whose disk may forget what it said
it kept; that every connection asks for flushing is tested elsewhere.
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ndi.day.clock import SetClock
from ndi.store.verify import verify
from tests.database_server import OWNER, _started
from tests.kept import commit, keep
from tests.power.replaying import Killer, Place, begin, check_photographs, content, the_plan

PER_REPLAY = 50
ENGINES = {"sqlite": 3, "postgresql": 1}  # of four kills


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.power", description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=None)
    parser.add_argument("--calls", type=int, default=None, help="only the first so many calls of the day")
    parser.add_argument("--engine", choices=(*ENGINES, "both"), default="both")
    parser.add_argument(
        "--minutes", type=float, help="begin no further replay after so long, and say how many kills it were"
    )
    parser.add_argument("--keep", action="store_true", help="write what came out to tests/power/last.md")
    args = parser.parse_args()
    seed = random.randrange(10**6) if args.seed is None else args.seed
    if args.engine == "both":
        return _both(args, seed)
    return prove(args.engine, args.kills, seed, args.calls or len(the_plan().calls), args.minutes)


def _both(args: argparse.Namespace, seed: int) -> int:
    """The engines beside each other, each in its own process; what they said is kept with ``--keep``."""
    running, began, of = [], time.monotonic(), commit()
    for engine, share in ENGINES.items():
        command = [sys.executable, "-m", "tests.power", "--engine", engine, "--seed", str(seed)]
        command += ["--kills", str(args.kills * share // 4)]
        command += [] if args.calls is None else ["--calls", str(args.calls)]
        command += [] if args.minutes is None else ["--minutes", str(args.minutes)]
        running.append(subprocess.Popen(command, stdout=subprocess.PIPE, text=True))
    said: list[str] = []
    readers = [threading.Thread(target=_pass_on, args=(process.stdout, said)) for process in running]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    code = max(abs(process.wait()) for process in running)
    if args.keep:
        said.sort(key=lambda line: line.partition(":")[0])
        lines = [*said, f"exit code {code}"]
        facts = {
            "commit": of,
            "seed": str(seed),
            "kills asked for": str(args.kills),
            "took": f"{time.monotonic() - began:.0f} s",
        }
        keep(Path(__file__).with_name("last.md"), "Power cuts in numbers: the last long run", facts, lines)
    return code


def _pass_on(lines: Iterable[str], said: list[str]) -> None:
    for line in lines:
        said.append(line.rstrip("\n"))
        _say(said[-1])


def prove(engine: str, kills: int, seed: int, calls: int, minutes: float | None = None) -> int:
    """Kill and compare; prints the seed first, so that a failure can be repeated."""
    _say(f"{engine}: seed {seed}, {kills} kills")
    chance, began, counts = random.Random(f"{engine} {seed}"), time.monotonic(), {}  # type: ignore[var-annotated]
    with tempfile.TemporaryDirectory() as scratch:
        expected = _undisturbed(Path(scratch) / "undisturbed", calls)
        for number, start in enumerate(range(0, kills, PER_REPLAY), 1):
            if minutes is not None and time.monotonic() - began > 60 * minutes:
                kills = start
                _say(f"{engine}: stopped by the time given, after {number - 1} whole replays")
                break
            place = _place(engine, Path(scratch) / str(number))
            begin(place)
            killer = Killer(place, calls, chance)
            killer.run(min(PER_REPLAY, kills - start))
            _compare(place, expected)
            if isinstance(place.where, Path):
                shutil.rmtree(place.where.parent)
            for point, count in killer.counts.items():
                counts[point] = counts.get(point, 0) + count
    for point, count in sorted(counts.items()):
        _say(f"{engine}: {count:5d} {point}")
    done = sum(counts.values())
    _say(f"{engine}: {done} kills in {time.monotonic() - began:.0f} s, nothing lost, nothing twice")
    return 0 if done == kills and done else 1


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _place(engine: str, folder: Path) -> Place:
    folder.mkdir()
    where: str | Path = folder / "day.book"
    owner = None
    if engine == "postgresql":
        server = _started()
        if isinstance(server, str):
            raise SystemExit(f"PostgreSQL cannot be run here: {server}")
        database = server.database()
        where, owner = server.url(database), server.url(database, OWNER)
    return Place(where, folder / "keys", folder / "acknowledged", owner)


def _undisturbed(folder: Path, calls: int) -> dict[str, list[Any]]:
    place = _place("sqlite", folder)
    begin(place)
    Killer(place, calls, random.Random(0)).run(0)
    with place.open(_clock()) as book:
        return content(book)


def _compare(place: Place, expected: dict[str, list[Any]]) -> None:
    with place.open(_clock()) as book:
        result = verify(book)
        assert result.ok, result.message
        pictures = check_photographs(book, place)
        assert not pictures.without_entry, f"files that were never attached: {pictures.without_entry}"
        found = content(book)
    for table, rows in expected.items():
        differing = [(mine, its) for mine, its in zip(rows, found[table], strict=False) if mine != its]
        assert not differing, f"{table}: undisturbed {differing[0][0]}, killed {differing[0][1]}"
        assert len(rows) == len(found[table]), (
            f"{table}: {len(rows)} rows undisturbed, {len(found[table])} after the kills"
        )


def _clock() -> SetClock:
    return SetClock(the_plan().begins.at, 0)


if __name__ == "__main__":
    sys.exit(main())
