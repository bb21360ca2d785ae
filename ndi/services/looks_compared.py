"""First and second looks side by side, as counts and sizes of a process; who looked is not read here (I.9)."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any

from ndi.domain import facts as f
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Interpretation
from ndi.services.ports import Line, Session

UNIT = "in"


@dataclass(frozen=True)
class SizePair:
    """One indication measured twice, the second time without knowing the first size."""

    inspection: str
    indication: str
    first: Fraction
    second: Fraction


@dataclass(frozen=True)
class Looks:
    """What blind second looks say of one process.

    ``places``: relevant indications at which a second person was sent to look, and how many of them were seen as
    relevant again.  ``clean``: records whose whole part was looked at again while
    the first look had marked nothing, and how many of those looks saw something
    relevant.  ``first``, ``second``, ``both``: records fully viewed twice on which the first,
    the second, both looks saw something relevant.  ``clean_records``: decided without an indication.
    """

    places: int
    places_again: int
    nonrelevant: int
    nonrelevant_again: int
    clean: int
    clean_finds: tuple[str, ...]
    clean_records: int
    first: int
    second: int
    both: int
    twice: int
    not_blind: int
    pairs: tuple[SizePair, ...]


def looks_compared(session: Session, method: str, since: datetime | None = None) -> Looks:
    """Every saved second look of one method, from a time on."""
    records = {row.inspection: row for row in session.inspections() if row.method == method}
    seen: dict[str, list[Line]] = defaultdict(list)
    by_name: dict[str, Line] = {}
    for line in session.lines(f.IndicationSeen):
        seen[line.body["inspection"]].append(line)
        by_name[line.body["indication"]] = line
    said = {line.body["indication"]: line.body["interpretation"] for line in session.lines(f.IndicationInterpreted)}
    looks = [line for line in session.lines(f.SecondLookSaved, since) if line.body["inspection"] in records]
    blind = [line for line in looks if line.body.get("blind", True)]
    count = dict.fromkeys(("places", "again", "other", "other again"), 0)
    pairs = []
    whole: dict[str, Line] = {}
    for look in blind:
        name = look.body.get("indication")
        if name is None:
            whole.setdefault(look.body["inspection"], look)  # the first one: later ones may know more
            continue
        call = said.get(name)
        if call == Interpretation.RELEVANT:
            count["places"] += 1
            count["again"] += look.body.get("interpretation") == Interpretation.RELEVANT
        elif call is not None:
            count["other"] += 1
            count["other again"] += look.body.get("interpretation") == call
        pair = _pair(by_name.get(name), look)
        if pair is not None:
            pairs.append(pair)
    clean, finds, first, second, both = 0, [], 0, 0, 0
    for inspection, look in whole.items():
        before = [line for line in seen[inspection] if line.at <= look.at]
        one = any(said.get(line.body["indication"]) == Interpretation.RELEVANT for line in before)
        two = not look.body.get("none_seen") and look.body.get("interpretation") in (None, Interpretation.RELEVANT)
        first, second, both = first + one, second + two, both + (one and two)
        if not before:
            clean += 1
            finds += [inspection] if two else []
    decided = [
        row for row in records.values() if row.decided_at is not None and (since is None or row.decided_at >= since)
    ]
    return Looks(
        count["places"],
        count["again"],
        count["other"],
        count["other again"],
        clean,
        tuple(finds),
        sum(not seen[row.inspection] for row in decided),
        first,
        second,
        both,
        len(whole),
        len(looks) - len(blind),
        tuple(pairs),
    )


def _pair(first: Line | None, look: Line) -> SizePair | None:
    if first is None:
        return None
    one, two = _size(first.body.get("length")), _size(look.body.get("length"))
    if one is None or two is None:
        return None
    return SizePair(look.body["inspection"], look.body["indication"], one, two)


def _size(value: Any) -> Fraction | None:
    return None if value is None else Number(value["typed"], value["unit"]).in_unit(UNIT)
