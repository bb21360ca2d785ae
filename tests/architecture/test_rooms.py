"""Which room may look into which, and what no room does; each rule of the guard is shown a violation."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

from tests.architecture import guard

ROOT = Path(__file__).resolve().parents[2]
SOURCES = {str(path.relative_to(ROOT)): path.read_text("utf-8") for path in sorted((ROOT / "ndi").rglob("*.py"))}


def room_of(path: str) -> str:
    """``ndi/rules/light.py`` lies in ``rules``, ``ndi/bootstrap.py`` is a room of its own."""
    parts = Path(path).parts
    if parts[1:2] == ("gui",) and len(parts) > 3:  # a room of three: presenters, views, and what joins them
        return f"gui.{parts[2]}"
    return parts[1] if len(parts) > 2 else Path(path).stem


def wrong(check: str, path: str) -> list[str]:
    function = getattr(guard, check)
    source = SOURCES[path]
    found = function(source) if check in BY_TEXT_ALONE else function(room_of(path), source)
    return [f"{path}, {each}" for each in found]


BY_ROOM = ("broken_imports", "clock_reads", "hands_on", "numbers")
BY_TEXT_ALONE = ("naive_times", "missing_docstring", "forbidden_words")


def test_every_room_has_its_rule() -> None:
    rooms = {room_of(path) for path in SOURCES}
    assert rooms - set(guard.ROOMS) == set(), "a new room: write into tests/architecture/guard.py what it may import"
    assert {
        "domain",
        "calc",
        "rules",
        "services",
        "store",
        "printing",
        "procedure_files",
        "day",
        "cli",
        "bootstrap",
    } <= rooms


@pytest.mark.parametrize("check", [*BY_ROOM, *BY_TEXT_ALONE])
def test_tree_keeps_the_rule(check: str) -> None:
    assert [line for path in SOURCES for line in wrong(check, path)] == []


def test_rooms_that_must_not_know_each_other_meet_in_bootstrap_alone() -> None:
    """Store, printing and procedure files are joined nowhere else, tests apart."""
    apart = ("ndi.store", "ndi.printing", "ndi.procedure_files", "ndi.photo")
    for path, source in SOURCES.items():
        known = {
            prefix
            for each in guard.imports(ast.parse(source))
            for prefix in apart
            if (each.module + ".").startswith(prefix + ".")
        }
        known.discard(f"ndi.{room_of(path)}")
        assert not known or path == "ndi/bootstrap.py", f"{path} knows {known}"


def test_nobody_but_the_doors_imports_bootstrap() -> None:
    for room, rule in guard.ROOMS.items():
        assert ("ndi.bootstrap" in rule.ndi) == (room == "cli")


# --- the guard bites ------------------------------------------------------------------------------

ALLOWED = [
    ("domain", "from ndi.domain.quantity import Number\nfrom datetime import UTC, datetime\nimport math"),
    ("domain", "import ndi"),
    ("calc", "def f():\n    from scipy import special\n    import numpy as np"),
    ("calc", "from ndi.calc.exact import root\nfrom ndi.domain import facts as f"),
    ("rules", "from ndi.rules import registry\nfrom ndi.calc import grouping"),
    ("services", "from ndi.rules import light\nfrom ndi.services.ports import Session"),
    (
        "store",
        "import sqlite3\nfrom sqlalchemy import select\nfrom ndi.services.ports import Book\nfrom ndi.store.book import x",
    ),
    ("printing", "from fpdf import FPDF\nfrom ndi.services.report_models import Tag\nfrom pathlib import Path"),
    ("photo", "import os\nfrom ndi.services.ports import Picture\ndef f():\n    from PIL import Image"),
    ("gui.presenters", "from ndi.services.workplace import Workplace\nfrom ndi.gui.presenters.scene import Scene"),
    ("gui.views", "import tkinter as tk\nfrom ndi.gui.presenters.scene import Scene"),
    (
        "gui",
        "import tkinter\nfrom ndi.gui.presenters.booth.booth import Booth\nfrom ndi.gui.views.keypad import Keypad",
    ),
    ("procedure_files", "import tomllib\nfrom ndi.domain.procedure import Procedure"),
    ("day", "import csv\nfrom ndi.services.deciding import x"),
    ("cli", "import argparse\nfrom ndi import bootstrap\nfrom ndi.bootstrap import open_book"),
    (
        "bootstrap",
        "import time\nfrom ndi.store import book\nfrom ndi.printing import tag\nfrom ndi import procedure_files",
    ),
    ("__main__", "from ndi.cli.main import main"),
]

BROKEN = [
    ("domain", "import time"),
    ("domain", "import random"),
    ("domain", "import sqlite3"),
    ("domain", "import tkinter"),
    ("domain", "import os"),
    ("domain", "from pathlib import Path"),
    ("domain", "import numpy"),
    ("domain", "from ndi.rules import registry"),
    ("domain", "from ndi import calc"),
    ("domain", "def f():\n    from ndi.services import ports"),
    ("domain", "if TYPE_CHECKING:\n    from ndi.store.book import Book"),
    ("domain", "from . import facts"),
    ("calc", "import numpy"),
    ("calc", "from scipy import special"),
    ("calc", "from ndi.rules.light import bracket"),
    ("calc", "import pandas"),
    ("rules", "from ndi.services.ports import Session"),
    ("rules", "def f():\n    import numpy"),
    ("rules", "import time"),
    ("rules", "from threading import Lock"),
    ("services", "from ndi.store.book import Book"),
    ("services", "from ndi import printing"),
    ("services", "from ndi.procedure_files import library"),
    ("services", "from ndi import bootstrap"),
    ("services", "import ndi.day.replay"),
    ("services", "from sqlalchemy import select"),
    ("services", "import tkinter.ttk"),
    ("services", "import os.path"),
    ("store", "from ndi.services.judging import judge"),
    ("store", "from ndi.services import report_models"),
    ("store", "from ndi.printing.page import Page"),
    ("store", "from ndi import rules"),
    ("store", "import fpdf"),
    ("store", "import time"),
    ("printing", "from ndi.store.book import Book"),
    ("printing", "from ndi.services.tagging import tag"),
    ("printing", "import sqlalchemy"),
    ("printing", "from ndi.procedure_files import library"),
    ("photo", "from ndi.store.host import flush_folder"),
    ("photo", "from ndi.services.photographs import original"),
    ("photo", "from PIL import Image"),
    ("photo", "import time"),
    ("gui.presenters", "import tkinter"),
    ("gui.presenters", "from ndi.gui.views.keypad import Keypad"),
    ("gui.presenters", "from ndi.store import book"),
    ("gui.presenters", "from ndi import bootstrap"),
    ("gui.views", "from ndi.services import recording"),
    ("gui.views", "from ndi.rules import registry"),
    ("gui", "from ndi.store import book"),
    ("procedure_files", "from ndi.store import book"),
    ("procedure_files", "from ndi.rules import registry"),
    ("procedure_files", "from ndi.services import receiving"),
    ("day", "from ndi.store.book import create_book"),
    ("day", "from ndi import bootstrap"),
    ("day", "from ndi.rules import registry"),
    ("tables", "from ndi.services import receiving"),
    ("shop_files", "from ndi.rules.light import bracket"),
    ("shop_files", "from ndi.store import book"),
    ("cli", "import sqlalchemy"),
    ("cli", "import tkinter"),
    ("cli", "from ndi.store.book import open_book"),
    ("cli", "from ndi import printing"),
    ("cli", "import ndi.procedure_files"),
    ("cli", "import sqlite3"),
    ("bootstrap", "from ndi.cli import main"),
    ("bootstrap", "from ndi import gui"),
    ("__init__", "from ndi.domain import facts"),
]


@pytest.mark.parametrize(("room", "source"), ALLOWED)
def test_lawful_import_is_let_through(room: str, source: str) -> None:
    assert guard.broken_imports(room, source) == []


@pytest.mark.parametrize(("room", "source"), BROKEN)
def test_unlawful_import_is_caught(room: str, source: str) -> None:
    assert len(guard.broken_imports(room, source)) == 1


@pytest.mark.parametrize("room", sorted(guard.WITHOUT_CLOCK))
@pytest.mark.parametrize(
    "source",
    [
        "from datetime import datetime, UTC\nx = datetime.now(UTC)",
        "from datetime import datetime as d\nx = d.utcnow()",
        "import datetime\nx = datetime.datetime.now(tz=None)",
        "import datetime as dt\nx = dt.date.today()",
        "from datetime import date\ndef f(on=date.today()):\n    return on",
        "from datetime import datetime\nx = [datetime.fromtimestamp(0)]",
    ],
)
def test_clock_read_is_caught(room: str, source: str) -> None:
    assert len(guard.clock_reads(room, source)) == 1


def test_the_stations_clock_and_other_todays_are_let_through() -> None:
    source = "from datetime import datetime\nfrom ndi.rules import basket as b\nx = clock.now()\ny = work.now().at\nz = b.today(q)\nw = self.clock.now()"
    assert guard.clock_reads("services", source) == []
    assert guard.clock_reads("bootstrap", "from datetime import datetime\nx = datetime.now()") == []


@pytest.mark.parametrize("room", sorted(guard.WITHOUT_FILES))
@pytest.mark.parametrize("name", ["open", "print", "input", "eval", "exec", "__import__"])
def test_opening_printing_and_running_are_caught(room: str, name: str) -> None:
    assert guard.hands_on(room, f"def f(x):\n    return {name}(x)") == [f"line 2: {room} may not call {name}()"]
    assert guard.hands_on(room, f"def f(x):\n    return x.{name}()") == []  # a method of that name is something else
    assert guard.hands_on("store", f"{name}(x)") == []


@pytest.mark.parametrize("room", sorted(guard.WITHOUT_FILES))
@pytest.mark.parametrize("name", ["read_text", "read_bytes", "write_text", "write_bytes", "unlink", "mkdir"])
def test_touching_a_file_is_caught(room: str, name: str) -> None:
    assert len(guard.hands_on(room, f"def f(path):\n    path.parent.{name}()")) == 1
    assert guard.hands_on("printing", f"path.{name}()") == []


@pytest.mark.parametrize(
    "source",
    [
        "from datetime import datetime\nx = datetime(2026, 3, 10)",
        "import datetime\nx = datetime.datetime(2026, 3, 10, 12, 0)",
        "import datetime as dt\nx = dt.datetime(2026, 3, 10)",
        "from datetime import datetime as d\nx = d(2026, 3, 10)",
        "from datetime import datetime\nx = datetime.strptime(t, f)",
        "from datetime import datetime\nx = datetime.strptime(t, f).replace(hour=1)",
        "from datetime import date, datetime, time\nx = datetime.combine(date(2026, 3, 10), time(12))",
        "from datetime import datetime\nx = datetime.utcnow()",
    ],
)
def test_naive_time_is_caught(source: str) -> None:
    assert len(guard.naive_times(source)) == 1


@pytest.mark.parametrize(
    "source",
    [
        "from datetime import UTC, datetime\nx = datetime(2026, 3, 10, tzinfo=UTC)",
        "from datetime import UTC, datetime\nx = datetime(2026, 3, 10, 12, 0, 0, 0, UTC)",
        "from datetime import UTC, datetime\nx = datetime.strptime(t, f).replace(tzinfo=UTC)",
        "from datetime import UTC, datetime\nx = datetime.combine(d, t, UTC)",
        "from datetime import UTC, datetime\nx = datetime.combine(d, t, tzinfo=UTC)",
        "from datetime import date, time, timedelta\nx = date(2026, 3, 10), time(12), timedelta(1)",
        "x = datetime(2026, 3, 10)",  # of this name, but not the library's
    ],
)
def test_time_with_a_zone_is_let_through(source: str) -> None:
    assert guard.naive_times(source) == []


@pytest.mark.parametrize(
    "source",
    [
        "x = 2",
        "x = 1000",
        "x = 0.5",
        "x = -2",
        "x = y[2]",
        "x = timedelta(minutes=5)",
        "x = Fraction('0.5')",
        "x = Number('1000', 'uW/cm2')",
        "x = quantity.Number('15', 'in')",
        "x = Decimal('3')",
        "def f(limit=100): ...",
        "x = 1j * 2j and 1 if x else 2j",
        "x = Memo(limit=5)",
        "@lru_cache(maxsize=4096)\ndef f(x=3): ...",
        "limit(version=2)",
        '@rule("L02", "q?", least=2)\ndef f(): ...',
    ],
)
def test_number_in_a_rule_is_caught(source: str) -> None:
    assert guard.numbers("rules", source) != []
    assert guard.numbers("calc", source) == []  # constants of a published formula may stand there


@pytest.mark.parametrize(
    "source",
    [
        "x = 0",
        "x = y[-1]",
        "x = y[1:]",
        "x = True",
        "x = Fraction(0)",
        "x = f'{y:.4f}'",
        "x = 1.0",
        "x = 'L02'",
        "x = FLAT['a']",
        "x = Memo(64)",
        "@lru_cache(maxsize=4096)\ndef f(): ...",
        '@rule("L02", "q?", version=2)\ndef f(): ...',
    ],
)
def test_zero_one_and_texts_in_a_rule_are_let_through(source: str) -> None:
    assert guard.numbers("rules", source) == []


@pytest.mark.parametrize("source", ["", "import math", "x = 'text'\n'''not the first thing'''", "'''   '''"])
def test_missing_docstring_is_caught(source: str) -> None:
    assert guard.missing_docstring(source) == ["line 1: no docstring says what belongs here"]


@pytest.mark.parametrize(
    "text", ["part is serviceable", "Airworthy", "OVERHAULED", "overhauled/inspected", "airworthiness"]
)
def test_forbidden_word_is_caught(text: str) -> None:
    assert len(guard.forbidden_words(f"x = {text!r}")) == 1
    assert len(guard.forbidden_words(f"x = f'{{y}} {text}'")) == 1


@pytest.mark.parametrize("text", ["RETURN UNSERVICEABLE", "unserviceable", "overhaul", "time_since_overhaul"])
def test_words_that_are_ours_are_let_through(text: str) -> None:
    assert guard.forbidden_words(f"x = {text!r}") == []


# --- the package as it is built ---------------------------------------------------------------------


def test_packages_listed_are_the_packages_there_are() -> None:
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
    there = {".".join(path.parent.relative_to(ROOT).parts) for path in (ROOT / "ndi").rglob("__init__.py")}
    inside = set(listed["package-dir"])  # folders beside the package that are installed inside it
    assert set(listed["packages"]) == there | inside
    assert all((ROOT / folder).is_dir() for folder in listed["package-dir"].values())


def test_every_folder_with_code_is_a_package() -> None:
    folders = {Path(path).parent for path in SOURCES}
    assert [str(folder) for folder in sorted(folders) if str(folder / "__init__.py") not in SOURCES] == []


_NEVER = tuple(
    a + b
    for a, b in (
        ("walk", "through"),
        ("seed ", "document"),
        ("/work", "/shared"),
        ("shared", "/job"),
        ("H", ".7"),
        ("(", "H."),
    )
)
_READ = (".py", ".md", ".toml", ".csv", ".txt", ".json", ".yml", ".cfg", "")


def test_repository_names_no_working_paper_of_its_making() -> None:
    found = []
    for folder in ("ndi", "tests", "demo", "procedures", ".ci", ".github"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.is_file() and path.suffix in _READ and "__pycache__" not in path.parts:
                text = path.read_text("utf-8", errors="replace")
                found += [f"{path.relative_to(ROOT)}: {word}" for word in _NEVER if word in text]
    for path in sorted(ROOT.glob("*.md")):
        found += [f"{path.name}: {word}" for word in _NEVER if word in path.read_text("utf-8")]
    assert found == []
