"""Commented files to begin from.  Every value that a Level III must decide is left empty or is a marked placeholder."""

from __future__ import annotations

from ndi.domain.errors import InputError
from ndi.domain.parameter_keys import KEYS, ParameterKey
from ndi.procedure_files.tables import unknown_word
from ndi.procedure_files.words import (
    ALL_RULES,
    NEVER_DEVIATED,
    PARAMETER_LISTS,
    PARAMETER_TIMES,
    PARAMETER_WORDS,
    ROLES,
    SECOND_PERSON_FOR,
)

_PROCEDURE = """\
# A new procedure revision. Fill in what is empty; a parameter with an empty value has no value,
# and every rule that needs it answers NOT RECORDED.
# Measures are written in quotes ("0.165"), so that they stay as typed. Dates are written without quotes.

number = "NEW"
revision = "A"
title = "New procedure"
method = "MT"  # MT or PT
effective_from = 2999-12-31  # first day in force: far away until a Level III releases it
# effective_to = 2999-12-31  # last day in force, once a later revision takes over
approved_by = ""  # role code of the Level III of this method
source_documents = []  # e.g. ["specification ..., revision ..., date ...", "maker's manual ..."]

# What needs a second person. Words to choose from:
#   {second}
second_person_for = []

# --- parameters --------------------------------------------------------------------------------
# value, unit (any unit of the same dimension), paragraph of the written procedure, and source:
# the publication the value is taken from, or "from memory".
# tolerance_percent = "10" may be added. Leave out the lines of the other method.

[parameters]
{parameters}

# --- rules ---------------------------------------------------------------------------------------
# Only rules that stand here are asked. severity: S stops the process, B blocks acceptance, W wants a reason.
# may_deviate names who may sign a deviation from a rule of severity B: {roles}.
# Nobody may deviate from {never}.
# Rules that this program knows:
{rules}
# For example:
#   L02 = {{ severity = "B", paragraph = "4.1" }}
#   L03 = {{ severity = "B", paragraph = "4.1", may_deviate = ["L3"] }}

[rules]

# --- cautions: shown before a step where the work can hurt somebody ---------------------------------
# [[cautions]]
# before = "head shot"
# text = "..."
"""

_TECHNIQUE = """\
# A new technique sheet. Counts are written without quotes, measures with quotes and unit.

number = "NEW"
revision = "1"
method = "MT"  # MT or PT
procedure = "NEW"  # the procedure it stands under
applies_to = ["NEW"]  # part numbers
effective_from = 2999-12-31
approved_by = ""
zones = ["ALL"]  # in viewing order, codes of the part master
post_process = []  # demag, plugs out, flush, clean, dry, oil, bake, preserve
plugs = 0  # plugs and masks that must be in before the first step
expected_view_min = ""  # minutes for one piece, from a time study
needs_authorisation = false  # true: the inspector needs an authorisation for this technique
coating_max = ""  # e.g. "0.003 in"
uv_at_part = []  # zones on whose surface UV-A is read in the view, e.g. a deep bore
white_light = false  # true: the part is also looked at under white light

# --- MT only (a PT sheet takes these out) ---------------------------------------------------------------
basis = ""  # formula and table value, reason for the choice, proof
forbidden_contact = []  # zones that a head must not touch
field_points = []  # where a shim (QQI) or a Hall probe has to show the field
residual_points = ["NEW"]  # where the residual field is read, 1 to 12 points

[[shots]]
shot = 1
kind = "head"  # head, bar, coil, between heads
direction = "circular"  # circular or longitudinal
amps = "100 A"  # placeholder: put the proven current here
current_type = "FWDC"  # FWDC, HWDC, AC
bath_mode = "continuous"  # continuous or residual
pulses = 1
# turns = 5             # coil only
# position = "5 in"     # from the datum
# group = "all"         # shots of one group are viewed together
# demag_before = true
# fields = { "ALL" = "90 deg" }  # direction of the field in each zone it reaches, from the part's axis
# section = "WHOLE"     # coil and bar: section of the part master
# fill = "low"          # coil: low, intermediate, high
# conductor = "1.0 in"  # bar: diameter
# offset = true         # bar against the bore
# rotations = 5         # offset bar: places round the bore for this one shot

# --- PT only ----------------------------------------------------------------------------------------------
# type = "1"            # 1 fluorescent, 2 visible
# pt_method = "A"       # A, B, C, D
# sensitivity = "2"
# developer_form = "a"  # a dry, b soluble, c suspendable, d and e nonaqueous

# --- windows: values that replace the procedure's for this technique, written like its parameters ------------
# [windows]
# develop_min = { value = "", unit = "min", paragraph = "", source = "" }
"""

_PART = """\
# A new part master. Corners in millimetres, measures in quotes with unit, counts without quotes.

number = "NEW"
revision = "1"
description = "New part"
item_class = 1  # 1, 2 or 3
serialised = true
models = ["NEW"]
alloy = ""  # PT: alloy that a batch must be approved for
coating = ""  # e.g. "0 in" for bare metal
similar_parts = []  # look-alikes
datum = ""  # from where distances are measured
clock_reference = ""  # where 0 degrees lies
outline = [["0", "0"], ["100", "0"], ["100", "50"], ["0", "50"]]

# Stretches that a coil or bar works on (MT): outside diameter, and inside diameter where hollow.
# sections = [{ code = "WHOLE", length = "9.6 in", od = "1.10 in" }]

# A zone group that needs an accepted inspection by this method before the part is accepted:
# [[required]]
# group = "whole part"
# method = "MT"
# technique = ""
# zones = ["ALL"]

# limits = [] means: no limit in the data, every relevant indication goes to engineering.
# A limit without max_length means: none allowed.
#   { form = "rounded", max_length = "", reference = "" }      form: linear, rounded, any
#   { form = "any", discontinuity = "forging lap", blend_depth = "", reference = "" }
[[zones]]
code = "ALL"
name = "All surfaces"
material = "not stated"
ferromagnetic = false
polygon = [["0", "0"], ["100", "0"], ["100", "50"], ["0", "50"]]
limits = []
"""


def template(kind: str = "procedure") -> str:
    """A commented file with empty values to begin a procedure, technique or part from; it loads."""
    texts = {"procedure": _PROCEDURE, "technique": _TECHNIQUE, "part": _PART}
    if kind not in texts:
        raise InputError(unknown_word(kind, tuple(texts), "kind of document"))
    return _procedure_text() if kind == "procedure" else texts[kind]


def _procedure_text() -> str:
    return _PROCEDURE.format(
        second=", ".join(SECOND_PERSON_FOR),
        parameters="\n".join(_parameter_lines(key) for key in KEYS.values()),
        roles=", ".join(ROLES),
        never=", ".join(sorted(NEVER_DEVIATED)),
        rules="\n".join(_rule_lines()),
    )


def _parameter_lines(key: ParameterKey) -> str:
    unit = "" if key.unit in ("yes/no", "word") else f', unit = "{key.unit}"'
    return f'# {key.meaning}{_hint(key)}\n{key.key} = {{ value = ""{unit}, paragraph = "", source = "" }}'


def _hint(key: ParameterKey) -> str:
    if key.key in PARAMETER_TIMES:
        return ', e.g. "06:00"'
    if key.key in PARAMETER_LISTS:
        return ', e.g. ["one", "two"]'
    if key.unit == "yes/no":
        return "; true or false without quotes"
    words = PARAMETER_WORDS.get(key.key)
    return f" ({' or '.join(words)})" if words else ""


def _rule_lines() -> list[str]:
    letters = dict.fromkeys(rule[0] for rule in ALL_RULES)
    spans = ([rule for rule in ALL_RULES if rule[0] == letter] for letter in letters)
    return [f"#   {rules[0]} to {rules[-1]}" for rules in spans]
