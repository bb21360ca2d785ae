"""``python -m tests.bench``: prints the table of times beside their floors; ``--out FILE`` writes it as Markdown too."""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from tests.bench import book as books
from tests.bench import candidates, measures, paper, photographs, questions, trends
from tests.bench import window as windows
from tests.bench.measures import Line

MILLION = 1_000_000
HOUR = 3600
FEW = 2_000


def say(text: str) -> None:
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench", description="Times of the record book, each beside its floor."
    )
    parser.add_argument(
        "--records",
        type=int,
        default=20_000,
        help="inspections in the synthetic book (a book of 2,000 is measured as well)",
    )
    parser.add_argument("--engines", default="sqlite", choices=["sqlite"], help="database engines to measure")
    parser.add_argument("--out", type=Path, help="write the table as Markdown into this file")
    args = parser.parse_args(arguments)
    sizes = sorted({min(FEW, args.records), args.records})
    tables: dict[int, list[Line]] = {}
    builds: list[str] = []
    for size in sizes:
        built = books.book_of(size, say)
        builds.append(
            f"{size:,} inspections: "
            + ("from the cache" if built.seconds is None else f"built in {built.seconds:.0f} s")
        )
        say(builds[-1])
        tables[size] = _measure(built, size)
    lines_of_paper = [*paper.tags(), *paper.reports(), *trends.charts()]
    lines_of_photographs = [*photographs.photographs(), *candidates.candidates()]
    lines_of_window = windows.window()
    text = "\n".join(_report(sizes, tables, lines_of_paper, lines_of_photographs, lines_of_window, builds)) + "\n"
    sys.stdout.write(text)
    if args.out:
        args.out.write_text(text, encoding="utf-8")
    return 0


def _measure(built: books.Built, size: int) -> list[Line]:
    with (
        tempfile.TemporaryDirectory(dir=books.CACHE) as scratch,
        measures.copied(built.path, Path(scratch), size) as bench,
    ):
        found: list[Line] = []
        for step in (
            lambda: measures.opening(bench),
            lambda: measures.judging(bench),
            lambda: measures.snapshots(bench),
            lambda: measures.recalling(bench),
            lambda: measures.prefixes(bench),
            lambda: questions.questions(bench),
            lambda: trends.trends(bench),
            lambda: measures.whole(bench),
            lambda: measures.appending(bench, Path(scratch)),
        ):
            found += step()
            say(f"  {found[-1].what}")
        return found


# --- the table ------------------------------------------------------------------------------------


def _report(
    sizes: list[int],
    tables: dict[int, list[Line]],
    tags: list[Line],
    photos: list[Line],
    window: list[Line],
    builds: list[str],
) -> list[str]:
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    ).stdout.strip()
    dirty = subprocess.run(
        ["git", "status", "--porcelain", "ndi"], capture_output=True, text=True, check=False
    ).stdout.strip()
    lines = [
        "# Last benchmark",
        "",
        f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC, commit {commit}{' with changes' if dirty else ''}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, "
        f"{platform.machine()}, {platform.system()}, Python {platform.python_version()}.",
        "`python -m tests.bench` writes this table with `--out tests/bench/last.md`. Times are medians; ratio = time / floor, floors measured in the same run.",
        "",
        *(f"- {text}" for text in builds),
    ]
    for size in sizes:
        lines += ["", f"## {size:,} inspections", "", *_table(tables[size])]
    lines += ["", "## Papers", "", *_table(tags)]
    lines += ["", "## Photographs", "", *_table(photos)]
    lines += ["", "## The window", "", *(_table(window) if window else ["NOT RUN: no Xvfb."])]
    lines += [
        "",
        "## At 1,000,000 inspections, from the largest book measured",
        "",
        *_projected(sizes[-1], tables[sizes[-1]], [line for size in sizes for line in tables[size]]),
    ]
    return lines


def _table(lines: list[Line]) -> list[str]:
    rows = ["| what | time | floor | ratio | goal | |", "|---|---:|---:|---:|---:|---|"]
    for line in lines:
        floor = "" if line.floor is None else _time(line.floor)
        ratio = "" if line.ratio is None else f"{line.ratio:.2f}"
        goal = (
            ""
            if line.goal is None
            else f"{line.goal:g}" + ("" if line.ratio is not None and line.ratio <= line.goal else " missed")
        )
        shown = f"{line.ours:,.0f} bytes" if line.unit == "bytes" else _time(line.ours)
        rows.append(f"| {line.what} | {shown} | {floor} | {ratio} | {goal} | {line.note} |")
    return rows


def _time(seconds: float) -> str:
    for factor, unit in ((1, "s"), (1e3, "ms"), (1e6, "us")):
        if seconds * factor >= 1:
            return f"{seconds * factor:.3g} {unit}"
    return f"{seconds * 1e9:.0f} ns"


def _projected(size: int, lines: list[Line], every: list[Line]) -> list[str]:
    by_name = {
        line.what: line for line in (*every, *lines)
    }  # what the largest book was not measured for: the one before
    entries = int(by_name[measures.SIZE].note.split(", ")[1].split(" ")[0]) * MILLION
    judged = sum(line.ours for name, line in by_name.items() if name.startswith("judge one")) / 2
    book = by_name[measures.SIZE].ours
    longer = by_name[measures.SNAPSHOT_NOW].ours - by_name[measures.SNAPSHOT_HELD].ours
    return [
        f"- {entries / 1e6:.1f} million entries, {book * MILLION / 1e9:.1f} GB; with answers as they are signed now {(book + longer) * MILLION / 1e9:.1f} GB",
        f"- verify the chain: {by_name[measures.VERIFY].ours * entries / 1e5 / HOUR:.1f} h",
        f"- rebuild and compare: {by_name[measures.REBUILD].ours * entries / 1e5 / HOUR:.1f} h",
        f"- judge every inspection in memory once: {judged * MILLION / HOUR:.1f} h; gathered and judged: {by_name['open a record not seen before'].ours * MILLION / HOUR:.1f} h",
        f"- append every entry with a commit of its own: {by_name['append one entry durably'].ours * entries / HOUR:.1f} h",
        "",
        "Straight proportion from the book measured; a book of that size was not built.",
    ]


if __name__ == "__main__":
    sys.exit(main())
