"""The pieces of a work order as its owner's report lists them: the table, what is not finished, what was left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ndi.domain.errors import NotFound
from ndi.domain.procedure import PartMaster
from ndi.services import owner_words as words
from ndi.services import paper_blocks as b
from ndi.services.ports import InspectionRow, PartRow, Session
from ndi.services.report_models import SheetTable
from ndi.services.state import piece_states
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class Line:
    """One part or lot of the work order.  ``missing``: required methods that nobody decided by yet."""

    part: PartRow
    name: str
    methods: str
    states: Counter[str]
    rows: tuple[InspectionRow, ...]
    missing: tuple[str, ...] = ()

    @property
    def item(self) -> str:
        """Serial number or lot."""
        return item_of(self.part)

    @property
    def full_name(self) -> str:
        return f"{self.name} {self.item}".strip()


def item_of(part: PartRow) -> str:
    """Serial number or lot of a part."""
    return part.serial or (f"lot {part.lot}" if part.lot else "")


def line_of(work: Workplace, session: Session, part: PartRow) -> Line:
    """A part with its records, as the book stands."""
    rows = tuple(session.inspections(part=part.part))
    master = _master(work, session, part.part_no)
    methods = ", ".join(dict.fromkeys(need.method for need in master.required)) if master else "no data"
    name = part.description or (master.description if master else part.part_no)
    return Line(part, name, methods, piece_states(work, session, part), rows, _missing(master, rows))


def _master(work: Workplace, session: Session, part_no: str) -> PartMaster | None:
    try:
        return work.master(session, part_no)
    except NotFound:
        return None


def _missing(master: PartMaster | None, rows: Sequence[InspectionRow]) -> tuple[str, ...]:
    if master is None:
        return ("no part master of this number is adopted",)
    found = []
    for method in dict.fromkeys(need.method for need in master.required):
        own = [row for row in rows if row.method == method]
        if not own:
            found.append(f"{method} not begun")
        elif own[-1].decision is None:
            found.append(f"{method} not decided ({own[-1].inspection})")
    return tuple(found)


def named(lines: Sequence[Line]) -> dict[str, list[str]]:
    """The names of what stands in each state, for the states that an owner must know by name."""
    found: dict[str, list[str]] = {}
    for line in lines:
        for word, count in line.states.items():
            pieces = f", {count} of {line.part.quantity}" if line.part.quantity > 1 else ""
            found.setdefault(word, []).append(f"{line.full_name}{pieces}")
    return found


def table(lines: Sequence[Line], left_out: Sequence[PartRow], counts: Mapping[str, int]) -> Iterator[b.Block]:
    """Every piece received with its state, the sum that must come out, what is not finished and why."""
    used = [word for word in words.STATE_WORDS if counts.get(word)]
    rows = [
        (
            line.name,
            line.part.part_no,
            line.item,
            line.methods,
            str(line.part.quantity),
            *(str(line.states[word] or "") for word in used),
        )
        for line in lines
    ]
    total = ("All pieces", "", "", "", str(counts["received"]), *(str(counts[word]) for word in used))
    # with many states the other columns give way, and each state gets what its word takes
    first = (0.2, 0.1, 0.14, 0.08, 0.07) if len(used) < 6 else (0.18, 0.085, 0.135, 0.065, 0.055)
    heads = [words.STATE_WORDS[word] for word in used]
    each = (1 - sum(first)) / max(1, sum(len(head) for head in heads))
    columns = (
        *zip(("Part", "Part number", "Serial or lot", "Methods", "Pieces"), first, strict=True),
        *((head, each * len(head)) for head in heads),
    )
    act = frozenset(n for n, line in enumerate(lines) if set(line.states) - {"ACCEPT"}) | {len(rows)}
    yield SheetTable("Every piece received", columns, (*rows, total), emphasised=act)
    yield b.Text(words.reconciled(counts))
    yield from _unfinished(lines)
    if left_out:
        told = tuple(
            (p.description or "", p.part_no, item_of(p), str(p.quantity), words.left_out(p.reason_code))
            for p in left_out
        )
        columns = (("Part", 0.26), ("Part number", 0.12), ("Serial or lot", 0.16), ("Pieces", 0.08), ("Why not", 0.38))
        yield SheetTable("Received and not inspected", columns, told)


def _unfinished(lines: Sequence[Line]) -> Iterator[b.Block]:
    grouped: dict[str, list[str]] = {}
    for line in lines:
        if line.missing and line.states["NO DECISION"]:
            grouped.setdefault(", ".join(line.missing), []).append(line.full_name)
    if grouped:
        yield b.Text("Not finished when this was printed:")
        yield b.Bullets(tuple(f"{why}: {', '.join(names)}" for why, names in grouped.items()))
