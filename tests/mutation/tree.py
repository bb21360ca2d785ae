"""A copy of the tree in which one module can be mutated, and the tests that belong to that module.

The tool leaves functions under a decorator alone, which here would be every
rule and every property.  In the copy they are written as what they mean,
``name = decorator(name)`` below the function; caches are left out, so that no
answer of the sound program is handed to a mutant.
"""

from __future__ import annotations

import ast
import hashlib
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PARTS = ("ndi", "tests", "demo", "procedures", "README.md", "DEVELOPERS.md", "pyproject.toml")
KEPT_DECORATORS = frozenset({"staticmethod", "classmethod"})  # the tool knows these two
CACHES = frozenset({"cache", "lru_cache"})
# these run the other tests, or the whole program: they would be run for every mutant
NOT_ASKED = ("test_answers.py", "test_list_of_rules.py")
_RULE_ID = re.compile(r'@rule\(\s*"([A-Z]\d\d)"')
CONFIGURATION = """
[tool.mutmut]
source_paths = ["ndi"]
only_mutate = ["{source}"]
pytest_add_cli_args = ["-p", "tests.mutation.steady", "-p", "no:cacheprovider"]
pytest_add_cli_args_test_selection = {tests}
also_copy = ["tests", "demo", "procedures", "README.md", "DEVELOPERS.md"]
use_git_change_detection = false
"""


def source(module: str) -> Path:
    """``calc.dwell`` is ``ndi/calc/dwell.py``; FileNotFoundError for a module that is not there."""
    path = ROOT / "ndi" / (module.replace(".", "/") + ".py")
    if not path.is_file():
        raise FileNotFoundError(f"no module {module}: name it like calc.dwell or rules.light")
    return path


def every_module() -> list[str]:
    """All modules of calc and rules, and law 2."""
    found = [path for room in ("calc", "rules") for path in sorted((ROOT / "ndi" / room).rglob("*.py"))]
    names = [".".join(path.relative_to(ROOT / "ndi").with_suffix("").parts) for path in found]
    return ["domain.acceptance", *(name for name in names if not name.endswith("__init__"))]


def tests_of(module: str) -> list[str]:
    """The test files that belong to a module, as paths from the root."""
    room, _, name = module.partition(".")
    if room == "calc":
        return _paths(ROOT / "tests" / "calc")
    if room == "rules":
        return [path for path in _paths(ROOT / "tests" / "rules") if _asks(path, module)]
    return [
        path for path in (f"tests/{room}/test_{name}.py", f"tests/properties/test_{name}.py") if (ROOT / path).is_file()
    ]


def _paths(folder: Path) -> list[str]:
    found = sorted(folder.rglob("test_*.py"))
    return [str(path.relative_to(ROOT)) for path in found if path.name not in NOT_ASKED]


def _asks(test: str, module: str) -> bool:
    """Whether a test file names the module or one of its rules; a module without rules is asked by all."""
    ids = _RULE_ID.findall(source(module).read_text(encoding="utf-8"))
    text = (ROOT / test).read_text(encoding="utf-8")
    return not ids or f"ndi.{module} " in text or any(re.search(rf"\b{rule}\b", text, re.IGNORECASE) for rule in ids)


def fingerprint(module: str) -> tuple[str, str]:
    """What the module's text is, and what its tests and their helpers are."""
    tests = tests_of(module)
    folders = sorted({(ROOT / test).parent for test in tests})
    helpers = [path for folder in folders for path in sorted(folder.glob("*.py")) if not path.name.startswith("test_")]
    return _digest([source(module)]), _digest([*(ROOT / test for test in tests), *helpers])


def _digest(paths: list[Path]) -> str:
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.read_bytes() + b"\0")
    return digest.hexdigest()[:16]


def copy_for(module: str, folder: Path) -> None:
    """Make the folder anew: the tree, this module without decorators, and the tool's configuration."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for part in PARTS:
        where = ROOT / part
        if where.is_dir():
            shutil.copytree(where, folder / part, ignore=shutil.ignore_patterns("__pycache__", "*.db", "gui"))
        else:
            shutil.copy2(where, folder / part)
    shutil.copytree(ROOT / "ndi" / "gui", folder / "ndi" / "gui", ignore=shutil.ignore_patterns("__pycache__"))
    path = source(module).relative_to(ROOT)
    (folder / path).write_text(undecorated((folder / path).read_text(encoding="utf-8")), encoding="utf-8")
    with (folder / "pyproject.toml").open("a", encoding="utf-8") as configuration:
        tests = "[" + ", ".join(f'"{test}"' for test in tests_of(module)) + "]"
        configuration.write(CONFIGURATION.format(source=path.as_posix(), tests=tests))


def undecorated(text: str) -> str:
    """The same program with ``name = decorator(name)`` in place of decorators of functions and methods."""
    lines = text.splitlines()
    for function in sorted(_decorated(ast.parse(text)), key=lambda found: -found.lineno):
        indent = " " * function.col_offset
        applied = function.name
        for decorator in reversed(function.decorator_list):
            said = ast.unparse(decorator)
            if said.partition("(")[0] not in CACHES:
                applied = f"{said}({applied})"
        if applied != function.name:
            lines.insert(function.end_lineno or function.lineno, f"{indent}{function.name} = {applied}")
        del lines[function.decorator_list[0].lineno - 1 : function.lineno - 1]
    return "\n".join([*lines, ""])


def _decorated(program: ast.Module) -> Iterator[ast.FunctionDef]:
    classes = [node for node in program.body if isinstance(node, ast.ClassDef)]
    for node in [*program.body, *(inner for outer in classes for inner in outer.body)]:
        if not isinstance(node, ast.FunctionDef) or not node.decorator_list:
            continue
        if not any(isinstance(d, ast.Name) and d.id in KEPT_DECORATORS for d in node.decorator_list):
            yield node
