"""Procedure files: one revision of one procedure, TOML text to :class:`Procedure`."""

from __future__ import annotations

from collections.abc import Collection

from ndi.domain.answer import Severity
from ndi.domain.procedure import Caution, Procedure, RuleSetting
from ndi.procedure_files.parameters import read_parameters
from ndi.procedure_files.source import nearest
from ndi.procedure_files.tables import Table, root
from ndi.procedure_files.words import ALL_RULES, METHODS, NEVER_DEVIATED, ROLES, SECOND_PERSON_FOR

_KEYS = (
    "number",
    "revision",
    "title",
    "method",
    "effective_from",
    "effective_to",
    "approved_by",
    "source_documents",
    "second_person_for",
    "parameters",
    "rules",
    "cautions",
)


def load_procedure(text: str, file: str, *, known_rules: Collection[str] = ALL_RULES) -> Procedure:
    """Read one procedure revision; ProcedureFileError names file, line and key of the first problem."""
    return read_procedure(root(text, file), known_rules)


def read_procedure(table: Table, known_rules: Collection[str]) -> Procedure:
    table.only(_KEYS)
    effective_from = table.day("effective_from")
    effective_to = table.optional_day("effective_to")
    if effective_to is not None and effective_to < effective_from:
        raise table.refusal("effective_to", f"{effective_to} is before effective_from, {effective_from}")
    return Procedure(
        number=table.text("number"),
        revision=table.text("revision"),
        title=table.text("title"),
        method=table.choice("method", METHODS),
        effective_from=effective_from,
        effective_to=effective_to,
        approved_by=table.text("approved_by", empty=True),
        source_documents=table.words("source_documents"),
        parameters=read_parameters(table.table("parameters")),
        rules=_rules(table.table("rules"), known_rules),
        second_person_for=table.words("second_person_for", known=SECOND_PERSON_FOR),
        cautions=tuple(_caution(caution) for caution in table.tables("cautions")),
    )


def _rules(table: Table, known_rules: Collection[str]) -> dict[str, RuleSetting]:
    for rule in table.names():
        if rule not in known_rules:
            problem = f"rule {rule} is not known to this program{nearest(rule, known_rules)}"
            raise table.refusal(rule, problem + "; take it out or update the program")
    return {rule: _rule(rule, table.table(rule)) for rule in table.names()}


def _rule(rule: str, table: Table) -> RuleSetting:
    table.only(("severity", "paragraph", "may_deviate"))
    severity = Severity(table.choice("severity", tuple(Severity)))
    roles = table.words("may_deviate", known=ROLES, what="role")
    if roles and rule in NEVER_DEVIATED:
        raise table.refusal("may_deviate", f"nobody may deviate from {rule}; take the line out")
    if roles and severity is not Severity.BLOCK:
        raise table.refusal("may_deviate", f"a deviation exists for severity B only, {rule} has {severity}")
    return RuleSetting(rule, severity, table.text("paragraph"), roles)


def _caution(table: Table) -> Caution:
    table.only(("before", "text"))
    return Caution(table.text("before"), table.text("text"))
