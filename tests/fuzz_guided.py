"""Coverage-guided fuzzing of every reader: ``python -m tests.fuzz_guided [--seconds 60] [--keep] [TARGET ...]``.

Needs ``atheris`` (the extra ``slow``), which grows inputs towards code not yet
reached.  A reader may return a value or refuse with an InputError of one line;
anything else is a crash, and the input that made it is kept and named.  Exit 0
only when no target crashed and each was tried at all.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib.util
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

from tests.kept import commit, keep

ROOT = Path(__file__).resolve().parent.parent
TARGETS = ("procedure", "technique", "part", "scan", "table", "shop-table", "day", "photograph", "heads", "export")
_RUNS = re.compile(r"Done (\d+) (?:runs|in \d+ second)")
_COVERED = re.compile(r"cov: (\d+)")


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz_guided", description="Fuzz every reader.")
    parser.add_argument("targets", nargs="*", default=TARGETS, help=f"of {', '.join(TARGETS)}")
    parser.add_argument("--seconds", type=int, default=60, help="for each target")
    parser.add_argument("--keep", action="store_true", help="write what came out to tests/fuzz/last.md")
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args(arguments)
    if importlib.util.find_spec("atheris") is None:
        sys.stdout.write("not run: atheris is not installed (pip install -e .[slow])\n")
        return 2
    if args.one:
        _fuzz(args.targets[0], args.seconds)
    unknown = sorted(set(args.targets) - set(TARGETS))
    if unknown:
        parser.error(f"no such reader: {', '.join(unknown)}")
    of, lines, right = commit(), [], 0
    for target in args.targets:
        is_right, line = _in_process(target, args.seconds)
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()
        lines.append(line)
        right += is_right
    lines.append(f"{right} of {len(args.targets)} readers without a crash")
    sys.stdout.write(f"{lines[-1]}\n")
    if args.keep:
        facts = {"commit": of, "seconds for each reader": str(args.seconds), "fuzzer": f"atheris {version('atheris')}"}
        keep(ROOT / "tests/fuzz/last.md", "Coverage-guided fuzzing: the last long run", facts, lines)
    return 0 if right == len(args.targets) else 1


def _in_process(target: str, seconds: int) -> tuple[bool, str]:
    """One target in a process of its own, because the fuzzer never hands control back; how it came out, in a line."""
    command = [sys.executable, "-m", "tests.fuzz_guided", "--one", "--seconds", str(seconds), target]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, errors="replace", check=False)
    runs, covered = _RUNS.findall(done.stderr), _COVERED.findall(done.stderr)
    executions = int(runs[-1]) if runs else 0
    is_right = done.returncode == 0 and executions > 0
    if not is_right:
        sys.stdout.write("\n".join([*done.stdout.splitlines()[-40:], *done.stderr.splitlines()[-10:]]) + "\n")
    reached = f"{covered[0]} to {covered[-1]} branches reached" if covered else "nothing reached"
    return is_right, f"{'right' if is_right else 'CRASH'}  {target:<11}{executions:>9,} executions, {reached}"


def _fuzz(target: str, seconds: int) -> None:
    import atheris

    with atheris.instrument_imports(include=["ndi"]):
        from ndi import bootstrap  # noqa: F401  instrumented as it is imported
        from ndi.day import replay  # noqa: F401
        from ndi.domain import check_code, scan_codes  # noqa: F401
        from ndi.shop_files import reading  # noqa: F401
        from ndi.store import export_reader, heads  # noqa: F401
    with tempfile.TemporaryDirectory() as scratch:
        corpus = Path(scratch) / "corpus"
        corpus.mkdir()
        reader = _reader(target, Path(scratch), corpus)
        options = [
            f"-max_total_time={seconds}",
            f"-max_len={max(4000, *(path.stat().st_size + 500 for path in corpus.iterdir()))}",
            "-timeout=20",
            f"-artifact_prefix={tempfile.gettempdir()}/",
        ]
        atheris.Setup([sys.argv[0], *options, str(corpus)], reader)
        atheris.Fuzz()


def _reader(target: str, scratch: Path, corpus: Path) -> Callable[[bytes], None]:
    """What is fuzzed, with what it begins from put into ``corpus``."""
    if target in ("procedure", "technique", "part"):
        return _document(target, corpus)
    if target == "scan":
        return _scan(corpus)
    return {"table": _table, "shop-table": _shop_table, "day": _day, "photograph": _photograph, "heads": _heads,
            "export": _export}[target](scratch, corpus)  # fmt: skip


def _seed(corpus: Path, contents: list[bytes]) -> None:
    for number, content in enumerate(contents):
        (corpus / str(number)).write_bytes(content)


def _refused(read: Callable[[], object]) -> None:
    """Read; a refusal must be an InputError, of one line unless it lists several problems."""
    from ndi.domain.errors import InputError
    from ndi.shop_files.reading import TableErrors

    try:
        read()
    except TableErrors as refused:
        assert all(len(str(error).splitlines()) == 1 for error in refused.errors)
    except InputError as refused:
        assert len(str(refused).splitlines()) == 1, str(refused)


def _document(kind: str, corpus: Path) -> Callable[[bytes], None]:
    from ndi.bootstrap import data_folder
    from ndi.procedure_files import document_from_text

    pattern = {"procedure": "*/rev-*.toml", "technique": "techniques/*.toml", "part": "parts/*.toml"}[kind]
    _seed(corpus, [path.read_bytes() for path in sorted(data_folder("procedures").glob(pattern))])
    return lambda data: _refused(lambda: document_from_text(kind, data.decode("utf-8", "replace"), "fuzz.toml"))


def _scan(corpus: Path) -> Callable[[bytes], None]:
    from ndi.domain.check_code import parse_qr
    from ndi.domain.scan_codes import parse_scan

    _seed(corpus, [b"ndi:7Q2M4K9XWD:5512:3f9a07c13f9a07c1", b"ndi:p:L2-A", b"LP-3"])

    def read(data: bytes) -> None:
        text = data.decode("utf-8", "surrogateescape")
        _refused(lambda: parse_qr(text))
        _refused(lambda: parse_scan(text))

    return read


def _table(scratch: Path, corpus: Path) -> Callable[[bytes], None]:
    from datetime import date, timedelta

    from ndi.bootstrap import data_folder
    from ndi.tables.rows import read_table

    _seed(corpus, [path.read_bytes()[:4000] for path in sorted((data_folder("demo") / "2026-03-10").glob("*.csv"))])
    path = scratch / "fuzz.csv"

    def read(data: bytes) -> None:
        path.write_bytes(data)
        _refused(lambda: list(read_table(path, date(2026, 3, 10), timedelta(hours=-5))))

    return read


def _shop_table(scratch: Path, corpus: Path) -> Callable[[bytes], None]:
    """The first byte chooses the kind of table."""
    from datetime import UTC, datetime

    from ndi.domain.moment import Moment
    from ndi.shop_files.kinds import KINDS
    from ndi.shop_files.known import Known
    from ndi.shop_files.reading import read_tables

    now = Moment(datetime(2026, 3, 10, 14, tzinfo=UTC), -300)
    names = sorted(KINDS)
    _seed(
        corpus,
        [
            bytes([number]) + f"{','.join(KINDS[name].columns)}\n{KINDS[name].example}\n".encode()
            for number, name in enumerate(names)
        ],
    )
    path = scratch / "fuzz.csv"

    def read(data: bytes) -> None:
        kind = KINDS[names[(data[0] if data else 0) % len(names)]]
        path.write_bytes(data[1:])
        _refused(lambda: read_tables({path: kind}, Known(now.local.date()), now))

    return read


def _photograph(_scratch: Path, corpus: Path) -> Callable[[bytes], None]:
    """Pictures of every form; large ones are let go, for they cost time and reach nothing more."""
    from ndi.photo import pictures
    from tests.photo.picture_files import picture
    from tests.photo.test_pictures import KINDS

    pictures.MOST_PIXELS = 250_000
    _seed(corpus, [picture(form=form, mode=mode, taken="2026:03:10 08:29:30") for form, mode in KINDS])

    def read(data: bytes) -> None:
        _refused(lambda: pictures.examine(data, "fuzz"))
        _refused(lambda: pictures.small(data, 16))

    return read


def _heads(scratch: Path, corpus: Path) -> Callable[[bytes], None]:
    from ndi.store.heads import read_heads

    _seed(corpus, [b"2026-03-10T19:30:00.000000Z 812:3f9a07c13f9a07c1 MT booth\n", b""])
    path = scratch / "fuzz.heads"

    def read(data: bytes) -> None:
        path.write_bytes(data)
        _refused(lambda: read_heads(path))

    return read


def _export(scratch: Path, corpus: Path) -> Callable[[bytes], None]:
    """An export of a small book: the first byte chooses the file that is replaced, the last choice is the whole ZIP file.

    The manifest is made to fit the replaced file, so that what lies behind its hashes is reached.
    """
    from ndi.domain.errors import NotFound
    from ndi.store.book import create_book
    from ndi.store.export_reader import check
    from ndi.store.package_reader import opened
    from tests.store.conftest import STATION, FakeClock
    from tests.store.exports import exported, fit_manifest, zipped

    book = create_book(
        scratch / "shop.book",
        shop="GW",
        practice=True,
        station=STATION,
        key_folder=scratch / "keys",
        clock=FakeClock(),
    )
    folder = exported(book, scratch).path
    packed = zipped(folder, scratch / "out.zip")
    names = ["entries.jsonl", "calls.jsonl", "photographs.sha256", "manifest.json", "README.txt"]
    contents = [*((folder / name).read_bytes() for name in names), packed.read_bytes()]
    _seed(corpus, [bytes([number]) + content for number, content in enumerate(contents)])
    whole = dict(zip(names, contents, strict=False))

    def read(data: bytes) -> None:
        chosen = (data[0] if data else 0) % (len(names) + 1)
        if chosen == len(names):
            packed.write_bytes(data[1:])
            _refused(lambda: look(packed))
            return
        (folder / names[chosen]).write_bytes(data[1:])
        if names[chosen] != "manifest.json":
            fit_manifest(folder)
        try:
            _refused(lambda: look(folder))
        finally:
            for name, content in whole.items():
                (folder / name).write_bytes(content)

    def look(export: Path) -> None:
        with contextlib.suppress(NotFound), opened(export) as source:
            check(source)

    return read


def _day(scratch: Path, corpus: Path) -> Callable[[bytes], None]:
    """The demonstration day with one file replaced; the first byte chooses which."""
    import shutil

    from ndi.bootstrap import data_folder
    from ndi.day import files, replay

    source = data_folder("demo") / "2026-03-10"
    day = scratch / "day"
    shutil.copytree(source, day)
    names = sorted(path.name for path in source.iterdir())
    _seed(corpus, [bytes([number]) + (source / name).read_bytes()[:3000] for number, name in enumerate(names)])

    def read(data: bytes) -> None:
        name = names[(data[0] if data else 0) % len(names)]
        (day / name).write_bytes(data[1:])
        try:
            _refused(lambda: plan())
        finally:
            shutil.copyfile(source / name, day / name)

    def plan() -> replay.Plan:
        folder = files.read_day(day)
        return replay.plan(folder, files.read_before(source.parent / "before", folder))

    return read


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
