"""``ndi technique draft``: a technique sheet drafted from a part's dimensions, as TOML that a Level III completes.

The draft has no approver, and a record made with it fails the question for an
approved technique until a Level III has proven it on a part and adopts it.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path

from ndi.calc import published
from ndi.calc.technique_draft import CIRCULAR, COIL, HEAD, Draft, DraftShot, Part, draft
from ndi.cli.technique_input import NEEDED, OPTIONAL, Sheet, read_file
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

EXAMPLE = """
dimensions file (TOML; JSON with the same keys):

  number = "MT-T-9001"
  procedure = "MT-P-01"
  applies_to = ["T0-10410"]
  effective_from = 2026-12-01
  current_type = "FWDC"
  pulses = 2
  length_in = 3.90
  maker = { head_a = 1000 }
  coil = { diameter_in = 12, turns = 5, position = "side" }
  bars = [{ diameter_in = 0.5, placed = "centred" }]
  [[sections]]
  zone = "BODY"
  from_in = 0
  to_in = 3.90
  od_in = 1.125
  id_in = 0.75
"""


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("technique", help="technique sheets from dimensions")
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")
    drafting = verbs.add_parser(
        "draft",
        help="draft a magnetizing technique from a part's dimensions",
        description=f"Keys needed: {', '.join(NEEDED)}. May be left out: {', '.join(OPTIONAL)}.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    drafting.add_argument("file", type=Path, help="dimensions, TOML or JSON")
    drafting.add_argument(
        "--out", type=Path, metavar="FILE", help="write the draft there; a file that is there is kept"
    )
    drafting.set_defaults(run=run_draft)


def run_draft(args: argparse.Namespace) -> int:
    """Exit 0; what the draft lacks stands in it as a warning."""
    part, sheet = read_file(args.file)
    found = draft(part)
    text = draft_text(part, sheet, found)
    if args.out is None:
        print(text, end="")
        return 0
    try:
        with args.out.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise InputError(f"{args.out} is there already; name another file") from None
    except OSError as error:
        raise InputError(f"{args.out} cannot be written ({error})") from None
    print(
        f"draft of {sheet.number} in {args.out}: {len(found.shots)} shots, {len(found.warnings)} warnings, not approved"
    )
    for warning in found.warnings:
        print(f"  {warning}")
    return 0


def draft_text(part: Part, sheet: Sheet, found: Draft) -> str:
    """The technique file: what was reckoned as comments, then the sheet without an approver."""
    lines = [f"# DRAFT of technique sheet {sheet.number}: calculated, not proven, not approved."]
    lines += ["# A Level III proves it (notched shims or a field meter), records the proof in basis, and approves it."]
    lines += ["", *_comments(part, sheet, found), "", *_head(part, sheet)]
    for shot in found.shots:
        lines += ["", *_shot(shot, sheet)]
    return "\n".join(lines) + "\n"


def _comments(part: Part, sheet: Sheet, found: Draft) -> Iterable[str]:
    low, high = part.amps_per_in
    yield f"# Windows of current, A peak ({shown(low)} to {shown(high)} A/in {sheet.amps_per_in_source}; coil within 10 %)"
    for w in found.windows:
        span = f"{shown(w.window.amps_min, digits=1)} to {shown(w.window.amps_max, digits=1)} A"
        yield f"#   {w.kind:<5} {_one_line(w.zone):<20} counted diameter {shown(w.counted)} in: {span}"
    yield "# Coverage: zone, directions with their shots"
    for surface, row in found.matrix.items():
        told = "; ".join(f"{direction} {', '.join(shots)}" for direction, shots in row.items()) or "none"
        lack = "" if surface not in found.lacking else f"  <- fewer than {published.DIRECTIONS.value} directions"
        yield f"#   {_one_line(surface):<28} {told}{lack}"
    yield "# Maker's table beside the formula"
    yield from [f"#   {_one_line(line)}" for line in found.maker] or ["#   no currents of the maker given"]
    yield "# Warnings"
    yield from [f"#   {_one_line(line)}" for line in found.warnings] or ["#   none"]


def _one_line(text: str) -> str:
    """No name may end a comment early."""
    return "".join(character if character.isprintable() else " " for character in text)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _list(texts: Sequence[str]) -> str:
    return "[" + ", ".join(_quoted(text) for text in texts) + "]"


def _head(part: Part, sheet: Sheet) -> Iterable[str]:
    yield f"number = {_quoted(sheet.number)}"
    yield f"revision = {_quoted(sheet.revision)}"
    yield 'method = "MT"'
    yield f"procedure = {_quoted(sheet.procedure)}"
    yield f"applies_to = {_list(sheet.applies_to)}"
    yield f"effective_from = {sheet.effective_from.isoformat()}"
    yield 'approved_by = ""  # draft'
    yield f"zones = {_list([zone for section in part.sections for zone in section.surfaces])}"
    yield f"post_process = {_list(sheet.post_process)}"
    yield f"plugs = {sheet.plugs}"
    yield f"needs_authorisation = {'true' if sheet.needs_authorisation else 'false'}"
    yield f"forbidden_contact = {_list(sheet.forbidden_contact)}"
    yield f"residual_points = {_list(sheet.residual_points)}"
    yield 'basis = "DRAFT, calculated from dimensions; not proven on a part."'


def _shot(shot: DraftShot, sheet: Sheet) -> Iterable[str]:
    window = f"{shown(shot.window.amps_min, digits=1)} to {shown(shot.window.amps_max, digits=1)} A"
    yield f"[[shots]]  # {_one_line(shot.governed_by)} governs, window {window}"
    yield f"shot = {shot.number}"
    yield f"kind = {_quoted(shot.kind)}"
    yield f"direction = {_quoted(shot.direction)}"
    yield f'amps = "{shot.amps} A"'
    if shot.kind == COIL:
        yield f"turns = {shot.turns}"
        yield f'position = "{_inches(shot.position or Fraction(0))} in"'
        yield f"fill = {_quoted(shot.fill or '')}"
    if shot.conductor is not None:
        yield f'conductor = "{_inches(shot.conductor)} in"'
    if shot.placements is not None:
        yield "offset = true"
        yield f"rotations = {shot.placements}"
    if shot.kind != HEAD and sheet.master_section:
        yield f"section = {_quoted(sheet.master_section)}"
    # a circular field crosses the part's length, a longitudinal one lies along it
    angle = "90 deg" if shot.direction == CIRCULAR else "0 deg"
    yield f"fields = {{ {', '.join(f'{_quoted(zone)} = {_quoted(angle)}' for zone in shot.surfaces)} }}"
    yield f"current_type = {_quoted(sheet.current_type)}"
    yield f"bath_mode = {_quoted(sheet.bath_mode)}"
    yield f"pulses = {sheet.pulses}"


def _inches(value: Fraction) -> str:
    """To the nearest thousandth."""
    return shown(Fraction(round(value * 1000), 1000))
