"""``ndi rules``: every rule that this program can ask, and what each procedure makes of it."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from ndi import bootstrap
from ndi.rules import registry


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("rules", help="list the rules with their parameters")
    parser.add_argument("--json", action="store_true")
    parser.set_defaults(run=run)


def rule_rows() -> list[dict[str, Any]]:
    """One row for each rule: id, version, scope, question, parameters, severity by demonstration procedure."""
    procedures = bootstrap.load_procedures(bootstrap.data_folder("procedures"))
    rows = []
    for rule_id, rule in sorted(registry.load_all().items()):
        settings = {p.name: p.rules[rule_id] for p in procedures if rule_id in p.rules}
        rows.append(
            {
                "id": rule_id,
                "version": rule.version,
                "scope": rule.scope,
                "question": rule.question,
                "parameters": list(rule.keys),
                "severity": {name: str(setting.severity) for name, setting in settings.items()},
                "sources": sorted(
                    {p.parameters[key].source for p in procedures for key in rule.keys if key in p.parameters}
                ),
            }
        )
    return rows


def run(args: argparse.Namespace) -> int:
    rows = rule_rows()
    if args.json:
        json.dump(rows, sys.stdout, indent=1, ensure_ascii=False)
        print()
        return 0
    for row in rows:
        severity = "/".join(sorted(set(row["severity"].values()))) or "-"
        print(f"{row['id']:4} {severity:3} {row['question']}")
        if row["parameters"]:
            print(f"         {', '.join(row['parameters'])}")
    print(f"{len(rows)} rules")
    return 0
