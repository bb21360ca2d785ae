"""``ndi rules``: every rule that this program can ask, and what each procedure makes of it."""

from __future__ import annotations

import argparse
import importlib.util
import json
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import ndi
from ndi import bootstrap
from ndi.rules import registry

UNSAID = "from memory"  # a rule whose parameters name no publication
_RULE_ID = re.compile(r"(?<![A-Za-z0-9])([GLPMDKglpmdk]\d\d)(?![0-9])")


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("rules", help="list the rules with parameters, facts needed and sources")
    parser.add_argument("--json", action="store_true", help="the same for machines, with the number of tests of each")
    parser.set_defaults(run=run)


def rule_rows(tests: Mapping[str, int] | None = None) -> list[dict[str, Any]]:
    """One row for each rule: id, version, scope, question, parameters, facts, severity by demonstration procedure, sources.

    ``tests``: how many tests name each rule, where they were counted.
    """
    procedures = bootstrap.load_procedures(bootstrap.data_folder("procedures"))
    rows = []
    for rule_id, rule in sorted(registry.load_all().items()):
        settings = {p.name: p.rules[rule_id] for p in procedures if rule_id in p.rules}
        sources = {p.parameters[key].source for p in procedures for key in rule.keys if key in p.parameters}
        rows.append(
            {
                "id": rule_id,
                "version": rule.version,
                "scope": rule.scope,
                "question": rule.question,
                "parameters": list(rule.keys),
                "facts": list(rule.facts),
                "severity": {name: str(setting.severity) for name, setting in settings.items()},
                "sources": sorted(sources) or [UNSAID],
                "tests": None if tests is None else tests.get(rule_id, 0),
            }
        )
    return rows


def count_tests(test_ids: Iterable[str]) -> Counter[str]:
    """How many tests name each rule, in the test's name or in its case: ``test_l02_at_the_limit_passes``, ``...[L02-uv_min]``."""
    found: Counter[str] = Counter()
    for test_id in test_ids:
        name = test_id.rpartition("::")[2].replace("_", " ")
        found.update({rule.upper() for rule in _RULE_ID.findall(name)})
    return found


def tests_found(place: Path | None = None) -> Counter[str] | None:
    """The tests that lie beside the program, as pytest finds them; None where the program was installed without them."""
    root = place or Path(ndi.__file__).resolve().parents[1]
    if not (root / "tests" / "rules").is_dir() or importlib.util.find_spec("pytest") is None:
        return None
    command = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-p", "no:cacheprovider", "tests"]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    return count_tests(line for line in done.stdout.splitlines() if "::" in line and not line.startswith("ERROR"))


def run(args: argparse.Namespace) -> int:
    if args.json:
        json.dump(rule_rows(tests_found()), sys.stdout, indent=1, ensure_ascii=False)
        print()
        return 0
    rows = rule_rows()
    for row in rows:
        severity = "/".join(sorted(set(row["severity"].values()))) or "-"
        print(f"{row['id']:4} {severity:3} {row['question']}")
        for label, texts in (("limits", row["parameters"]), ("facts", row["facts"]), ("source", row["sources"])):
            if texts:
                print(f"         {label:7} {', '.join(texts) if label != 'source' else '; '.join(texts)}")
    print(f"{len(rows)} rules")
    return 0
