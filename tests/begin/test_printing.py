"""Papers sent to a real print server of its own, whose backend writes what arrives to a file; and answers kept in the book."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.printing import host_queue
from ndi.printing.queue import SystemPrinter
from ndi.services.lookup import every
from ndi.services.ports import QueueState
from ndi.services.print_jobs import print_paper
from ndi.services.workplace import Workplace
from tests.begin.conftest import Run

PORT = 8731
SERVER = f"127.0.0.1:{PORT}"
CUPSD, SYSTEM_BIN = shutil.which("cupsd", path="/usr/sbin:/usr/bin:/sbin"), Path("/usr/lib/cups")

BACKEND = """#!/bin/sh
# argv: job user title copies options [file]; the queue's address says where to
[ $# -eq 0 ] && { echo 'direct tofile "Unknown" "to a file"'; exit 0; }
dir="${DEVICE_URI#tofile:}"
[ -e "$dir/offline" ] && exit 4
cat ${6:+"$6"} > "$dir/.$1" && mv "$dir/.$1" "$dir/job-$1"
"""


@dataclass(frozen=True)
class PrintServer:
    """A private CUPS: its folder of printed papers."""

    out: Path

    def lpadmin(self, *words: str) -> None:
        subprocess.run(["lpadmin", *words], check=True, capture_output=True, env={**os.environ, "CUPS_SERVER": SERVER})

    def arrived(self, job: str) -> bytes:
        path = self.out / f"job-{job.rpartition('-')[2]}"
        for _ in range(100):
            if path.exists():
                return path.read_bytes()
            time.sleep(0.05)
        raise AssertionError(f"{job} did not arrive")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PrintServer]:
    if CUPSD is None or shutil.which("lpadmin", path="/usr/sbin:/usr/bin") is None or shutil.which("lp") is None:
        pytest.skip("no CUPS on this machine (apt-get install cups)")
    if os.geteuid() != 0:
        pytest.skip("a private CUPS is started as root only")
    root = tmp_path_factory.mktemp("cups")
    for folder in (root.parent.parent, root.parent, root):
        folder.chmod(folder.stat().st_mode | 0o011)  # the server's filters run as another user
    out = root / "out"
    for name in ("out", "run", "cache", "state", "tmp", "spool", "bin/backend", "etc"):
        (root / name).mkdir(parents=True)
    for path in SYSTEM_BIN.iterdir():
        if path.name != "backend":
            (root / "bin" / path.name).symlink_to(path)
    backend = root / "bin/backend/tofile"
    backend.write_text(BACKEND)
    backend.chmod(0o700)
    conf, files = root / "etc/cupsd.conf", root / "etc/cups-files.conf"
    conf.write_text(
        f"Listen {SERVER}\nLogLevel warn\nBrowsing Off\nDefaultAuthType None\n"
        "<Location />\nOrder allow,deny\nAllow all\n</Location>\n<Location /admin>\nOrder allow,deny\nAllow all\n</Location>\n"
        "<Policy default>\n<Limit All>\nOrder allow,deny\nAllow all\n</Limit>\n</Policy>\n"
    )
    files.write_text(
        f"ServerRoot {root}/etc\nServerBin {root}/bin\nStateDir {root}/state\nCacheDir {root}/cache\nTempDir {root}/tmp\nRequestRoot {root}/spool\n"
        f"AccessLog {root}/access\nErrorLog {root}/error\nPageLog {root}/page\nSystemGroup root\nFileDevice No\n"
    )
    process = subprocess.Popen(
        [CUPSD, "-f", "-c", str(conf), "-s", str(files)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    found = PrintServer(out)
    try:
        for _ in range(100):
            asked = subprocess.run(
                ["lpstat", "-r"],
                capture_output=True,
                text=True,
                env={**os.environ, "CUPS_SERVER": SERVER, "LC_ALL": "C"},
            )
            if "is running" in asked.stdout:
                break
            time.sleep(0.05)
        found.lpadmin("-p", "tags", "-E", "-v", f"tofile:{out}", "-m", "raw")
        yield found
    finally:
        process.terminate()
        process.wait(10)


@pytest.fixture
def paper(tmp_path: Path) -> Path:
    path = tmp_path / "tag 1 — größe.pdf"
    path.write_bytes(b"%PDF-1.4\n" + bytes(range(256)) * 50)
    return path


@pytest.fixture(autouse=True)
def own_server(monkeypatch: pytest.MonkeyPatch) -> None:
    """Never the machine's own print server."""
    monkeypatch.setenv("CUPS_SERVER", SERVER)


def test_paper_is_queued_arrives_as_it_was_and_the_answer_is_kept(
    server: PrintServer, empty: Workplace, paper: Path
) -> None:
    answer, recorded = print_paper(empty, SystemPrinter(), paper, "tags", "CLERK")
    assert answer.state is QueueState.QUEUED and answer.job is not None and answer.job.startswith("tags-")
    assert server.arrived(answer.job) == paper.read_bytes()
    with empty.book.session(readonly=True) as session:
        (kept,) = every(session, f.PrintJob)
    assert kept.position == recorded.position
    assert kept.fact.sha256 == hashlib.sha256(paper.read_bytes()).hexdigest()
    assert (kept.fact.queue, kept.fact.file, kept.fact.state, kept.fact.job, kept.by) == (
        "tags",
        paper.name,
        "queued",
        answer.job,
        "CLERK",
    )


def test_unknown_queue_is_refused_and_the_known_ones_are_named(
    server: PrintServer, empty: Workplace, paper: Path
) -> None:
    answer, _ = print_paper(empty, SystemPrinter(), paper, "labels", "CLERK")
    assert answer.state is QueueState.REFUSED and "queues here: tags" in answer.detail
    with empty.book.session(readonly=True) as session:
        assert [r.fact.state for r in every(session, f.PrintJob)] == ["refused"]


def test_printer_that_is_off_keeps_the_job_and_says_so(server: PrintServer, paper: Path) -> None:
    (server.out / "offline").touch()
    try:
        first = SystemPrinter().send(paper, "tags")
        for _ in range(100):
            again = host_queue._trouble("tags")
            if again:
                break
            time.sleep(0.05)
        second = SystemPrinter().send(paper, "tags")
    finally:
        (server.out / "offline").unlink()
        subprocess.run(["cupsenable", "tags"], check=True, env={**os.environ, "CUPS_SERVER": SERVER})
    assert first.state is second.state is QueueState.QUEUED
    assert "disabled" in second.detail
    assert first.job is not None and server.arrived(first.job) == paper.read_bytes()


def test_command_line_prints_and_names_the_entry(
    server: PrintServer, empty: Workplace, paper: Path, ndi: Run, tmp_path: Path
) -> None:
    said = ndi("print", paper, "--queue", "tags", "--book", tmp_path / "empty.ndibook")
    assert said.code == 0 and said.out.startswith("queued as tags-") and "(entry " in said.out
    assert ndi("print", paper, "--queue", "labels").code == 1


# --- without a print server -----------------------------------------------------------------------------


def fake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, **commands: str) -> None:
    """Commands of a print system that answer as a test wants."""
    tools = tmp_path / "tools"
    tools.mkdir()
    for name, body in commands.items():
        (tools / name).write_text(f"#!/bin/sh\n{body}\n")
        (tools / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{tools}:/usr/bin:/bin" if commands else str(tools))


def test_machine_without_lp_refuses(tmp_path: Path, paper: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fake(tmp_path, monkeypatch)
    answer = SystemPrinter().send(paper, "tags")
    assert answer.state is QueueState.REFUSED and "install CUPS" in answer.detail


def test_print_server_that_is_down_refuses(tmp_path: Path, paper: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fake(tmp_path, monkeypatch, lpstat="echo 'scheduler is not running'", lp="exit 9")
    answer = SystemPrinter().send(paper, "tags")
    assert answer.state is QueueState.REFUSED and "start CUPS" in answer.detail


@pytest.mark.parametrize("lp", ["exec sleep 30", "echo 'thank you'", "true"])
def test_answer_that_does_not_come_or_says_nothing_is_unknown(
    tmp_path: Path, paper: Path, monkeypatch: pytest.MonkeyPatch, lp: str
) -> None:
    monkeypatch.setattr(host_queue, "TIMEOUT_SECONDS", 0.5)
    fake(tmp_path, monkeypatch, lpstat="echo 'scheduler is running'", lp=lp)
    answer = SystemPrinter().send(paper, "tags")
    assert answer.state is QueueState.UNKNOWN and "look at the printer" in answer.detail


@pytest.mark.parametrize("queue", ["", "-o", "a b", "a/b", 'a"b', "a\nb"])
def test_name_that_cannot_be_a_queue_is_refused(paper: Path, queue: str) -> None:
    with pytest.raises(InputError, match="print queue"):
        SystemPrinter().send(paper, queue)


def test_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no file"):
        SystemPrinter().send(tmp_path / "none.pdf", "tags")
