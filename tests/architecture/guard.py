"""The guard of the rooms: what a source text may import, call and write, by the room it lies in.

Each function takes a room and a source text and returns what is wrong with it,
one line each; the tests run them over the tree, and over small texts that break
each rule, so that no rule of the guard is dead.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

# the part of the standard library that reads no clock, file, chance or machine
PURE = frozenset(
    [
        "__future__",
        "abc",
        "bisect",
        "calendar",
        "collections",
        "contextlib",
        "copy",
        "dataclasses",
        "decimal",
        "difflib",
        "enum",
        "fractions",
        "functools",
        "graphlib",
        "hashlib",
        "heapq",
        "hmac",
        "itertools",
        "json",
        "math",
        "operator",
        "re",
        "statistics",
        "string",
        "textwrap",
        "types",
        "typing",
        "unicodedata",
        "zlib",
        "datetime",
    ]
)
WINDOW = frozenset({"tkinter", "ttkbootstrap"})
HEAVY = frozenset({"numpy", "scipy"})
UNLIMITED = frozenset(sys.stdlib_module_names) - WINDOW - {"time", "random", "sqlite3"}


@dataclass(frozen=True)
class Room:
    """``ndi``: prefixes of the project's modules that may be imported; ``others``: outside packages, standard ones included."""

    ndi: tuple[str, ...]
    others: frozenset[str] = PURE
    lazily: frozenset[str] = field(default=frozenset())  # only inside a function


ROOMS: Mapping[str, Room] = {
    "domain": Room(("ndi.domain",)),
    "calc": Room(("ndi.domain", "ndi.calc"), lazily=HEAVY),
    "rules": Room(("ndi.domain", "ndi.calc", "ndi.rules")),
    "services": Room(
        ("ndi.domain", "ndi.calc", "ndi.rules", "ndi.services"), PURE | {"csv", "io", "pathlib", "weakref"}
    ),  # names of files, never their content
    "store": Room(
        ("ndi.domain", "ndi.services.ports", "ndi.store"),
        UNLIMITED | {"sqlalchemy", "cryptography", "argon2", "sqlite3", "psycopg"},
    ),
    "printing": Room(
        (
            "ndi.domain",
            "ndi.services.ports",
            "ndi.services.chart_models",
            "ndi.services.paper_blocks",
            "ndi.services.report_models",
            "ndi.printing",
        ),
        UNLIMITED | {"fpdf", "zxingcpp", "PIL"},
        lazily=frozenset({"matplotlib", "numpy"}),
    ),
    "photo": Room(
        ("ndi.domain", "ndi.services.ports", "ndi.services.picture_ports", "ndi.photo"),
        UNLIMITED,
        lazily=frozenset({"PIL", "cv2", "numpy", "pydicom", "zxingcpp"}),
    ),
    "procedure_files": Room(("ndi.domain", "ndi.services.ports", "ndi.procedure_files"), UNLIMITED),
    "tables": Room(("ndi.domain", "ndi.tables"), UNLIMITED),
    "day": Room(("ndi.domain", "ndi.services", "ndi.tables", "ndi.day"), UNLIMITED),
    "shop_files": Room(("ndi.domain", "ndi.rules.registry", "ndi.services", "ndi.tables", "ndi.shop_files"), UNLIMITED),
    "gui.presenters": Room(
        (
            "ndi.domain",
            "ndi.gui.presenters",
            "ndi.rules.inquiry",
            "ndi.rules.registry",
            "ndi.services",
            "ndi.shop_files",
        ),
        UNLIMITED - {"threading"},
    ),
    "gui.views": Room(
        ("ndi.domain.answer", "ndi.domain.errors", "ndi.gui.presenters", "ndi.gui.views", "ndi.gui.worker"),
        UNLIMITED | WINDOW | {"PIL"},
        lazily=frozenset({"PIL"}),
    ),
    "gui": Room(
        ("ndi.domain", "ndi.gui", "ndi.services"),
        UNLIMITED | WINDOW | {"time"},
        lazily=frozenset({"miniaudio", "pyttsx3"}),
    ),
    "cli": Room(
        (
            "ndi.bootstrap",
            "ndi.machine_clock",
            "ndi.calc",
            "ndi.cli",
            "ndi.day",
            "ndi.domain",
            "ndi.gui",
            "ndi.rules",
            "ndi.services",
            "ndi.shop_files",
            "ndi.tables",
        ),
        UNLIMITED,
    ),
    "bootstrap": Room(
        (
            "ndi.day",
            "ndi.domain",
            "ndi.machine_clock",
            "ndi.photo",
            "ndi.printing",
            "ndi.procedure_files",
            "ndi.services",
            "ndi.shop_files",
            "ndi.store",
        ),
        UNLIMITED | {"time"},
    ),
    "machine_clock": Room((), UNLIMITED | {"time"}),
    "__init__": Room((), PURE),
    "__main__": Room(("ndi.cli.main",), PURE | {"sys"}),
}
WITHOUT_CLOCK = frozenset(ROOMS) - {"bootstrap", "machine_clock"}
WITHOUT_FILES = frozenset({"domain", "calc", "rules", "services"})
_CLOCKS = frozenset({"now", "utcnow", "today", "fromtimestamp", "utcfromtimestamp"})
_HANDS_ON = frozenset({"open", "print", "input", "exec", "eval", "compile", "__import__", "breakpoint"})
_ON_FILES = frozenset(
    {"read_text", "read_bytes", "write_text", "write_bytes", "unlink", "mkdir", "iterdir", "glob", "rglob"}
)


class Import(NamedTuple):
    module: str
    line: int
    in_function: bool
    level: int  # of a relative import


def imports(tree: ast.AST) -> Iterator[Import]:
    """Every import of a module; ``from ndi.x import y`` names ``ndi.x.y`` because y may be a module."""

    def walk(node: ast.AST, inside: bool) -> Iterator[Import]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.Import):
                for alias in child.names:
                    yield Import(alias.name, child.lineno, inside, 0)
            elif isinstance(child, ast.ImportFrom):
                for alias in child.names:
                    module = child.module or ""
                    yield Import(
                        f"{module}.{alias.name}" if module.split(".")[0] == "ndi" else module,
                        child.lineno,
                        inside,
                        child.level,
                    )
            else:
                yield from walk(child, inside or isinstance(child, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)))

    return walk(tree, False)


def _within(module: str, prefix: str) -> bool:
    return module == prefix or module.startswith(prefix + ".")


def broken_imports(room: str, source: str) -> list[str]:
    """Imports that the room may not make."""
    rule, found = ROOMS[room], []
    for each in imports(ast.parse(source)):
        top = each.module.split(".")[0]
        if each.level:
            found.append(f"line {each.line}: relative import")
        elif top == "ndi":
            if (
                each.module != "ndi"
                and not each.module.startswith("ndi.__")
                and not any(_within(each.module, prefix) for prefix in rule.ndi)
            ):
                found.append(f"line {each.line}: {room} may not import {each.module}")
        elif top in rule.lazily:
            if not each.in_function:
                found.append(f"line {each.line}: {top} is heavy: import it inside the function that needs it")
        elif top not in rule.others:
            found.append(f"line {each.line}: {room} may not import {top}")
    return found


def _bound_to(tree: ast.AST, module: str) -> set[str]:
    """Names that a source binds to a module or to something of it."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.asname or alias.name.split(".")[0] for alias in node.names if _within(alias.name, module)}
        elif isinstance(node, ast.ImportFrom) and node.module == module:
            names |= {alias.asname or alias.name for alias in node.names}
    return names


def _root(node: ast.expr) -> str | None:
    while isinstance(node, ast.Attribute):
        node = node.value
    return node.id if isinstance(node, ast.Name) else None


def clock_reads(room: str, source: str) -> list[str]:
    """Where a source asks the machine for the time; the station's clock is passed in."""
    if room not in WITHOUT_CLOCK:
        return []
    tree = ast.parse(source)
    dates = _bound_to(tree, "datetime")
    return [
        f"line {node.lineno}: {ast.unparse(node.func)}() reads the machine's clock"
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in _CLOCKS
        and _root(node.func) in dates
    ]


def hands_on(room: str, source: str) -> list[str]:
    """Where a pure room opens, prints or runs something."""
    if room not in WITHOUT_FILES:
        return []
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _HANDS_ON:
            found.append(f"line {node.lineno}: {room} may not call {node.func.id}()")
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in _ON_FILES:
            found.append(f"line {node.lineno}: {room} may not touch files: {ast.unparse(node.func)}()")
    return found


def _is_datetime(node: ast.expr, dates: set[str]) -> bool:
    """Whether an expression is the class ``datetime`` itself, however it was imported."""
    return _root(node) in dates and ast.unparse(node).split(".")[-1] in {
        "datetime",
        *(dates - {"date", "time", "timedelta", "timezone", "UTC"}),
    }


def naive_times(source: str) -> list[str]:
    """Datetimes made without a zone."""
    tree = ast.parse(source)
    dates, given, found = _bound_to(tree, "datetime"), set[int](), []
    for node in ast.walk(tree):  # datetime.strptime(...).replace(tzinfo=...) has its zone
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "replace"):
            continue
        if any(word.arg == "tzinfo" for word in node.keywords):
            given.add(id(node.func.value))
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or id(node) in given:
            continue
        zone = any(word.arg in ("tzinfo", "tz") for word in node.keywords)
        if isinstance(node.func, ast.Attribute) and node.func.attr in (
            "strptime",
            "combine",
            "utcnow",
            "utcfromtimestamp",
        ):
            if (
                _is_datetime(node.func.value, dates)
                and not zone
                and not (node.func.attr == "combine" and len(node.args) > 2)
            ):
                found.append(f"line {node.lineno}: datetime.{node.func.attr} without a zone")
        elif _is_datetime(node.func, dates) and not zone and len(node.args) < 8:
            found.append(f"line {node.lineno}: datetime(...) without a zone")
    return found


_CACHES = ("lru_cache", "Memo")


def _cache_sizes(tree: ast.AST) -> set[int]:
    """Constants that say how much is remembered, which is no limit of the procedure's."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in _CACHES:
            given = [*node.args, *(word.value for word in node.keywords if word.arg in ("maxsize", "most"))]
            found |= {id(value) for value in given if isinstance(value, ast.Constant)}
    return found


def _rule_versions(tree: ast.AST) -> set[int]:
    """Constants that say which version of itself a rule is, in its declaration."""
    return {
        id(word.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "rule"
        for word in node.keywords
        if word.arg == "version" and isinstance(word.value, ast.Constant)
    }


def numbers(room: str, source: str) -> list[str]:
    """Numbers other than 0 and 1 in a rule, cache sizes and versions of rules apart; also those written as text for Number, Fraction, Decimal."""
    if room != "rules":
        return []
    tree, found = ast.parse(source), []
    sizes = _cache_sizes(tree) | _rule_versions(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float, complex):
            if node.value not in (0, 1) and id(node) not in sizes:
                found.append(f"line {node.lineno}: the number {node.value} belongs into a procedure")
        elif isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in ("Number", "Fraction", "Decimal"):
            texts = [a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
            numeric = [text for text in texts if any(character.isdigit() for character in text)]
            found += [f"line {node.lineno}: the number {text} belongs into a procedure" for text in numeric]
    return found


def missing_docstring(source: str) -> list[str]:
    return (
        [] if (ast.get_docstring(ast.parse(source)) or "").strip() else ["line 1: no docstring says what belongs here"]
    )


def texts(source: str) -> Iterator[tuple[int, str]]:
    """Every text constant with its line, parts of f-strings included."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.lineno, node.value


def forbidden_words(source: str) -> list[str]:
    """What the tool never says of a part.  UNSERVICEABLE (return to owner) and the reason ``overhaul`` are said."""
    found = []
    for line, text in texts(source):
        words = "".join(c if c.isalnum() else " " for c in text.lower()).split()
        found += [
            f"line {line}: {word!r} is not ours to say"
            for word in ("serviceable", "airworthy", "airworthiness", "overhauled")
            if word in words
        ]
    return found
