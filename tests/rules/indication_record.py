"""One record with one indication, seen, proven, interpreted, evaluated, photographed and looked at twice."""

from __future__ import annotations

from datetime import date
from typing import Any

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.procedure import ZoneLimit
from tests import build as b

Facts = list[Recorded[f.Fact]]
PART, ORDER, IND = "W26-0148/PN-1/S-1", "W26-0148", "IND-01"
REFERENCE = "LS-1 rev 1"


def limit(form: str, most: str | None, **more: Any) -> ZoneLimit:
    """A zone's limit; ``blend`` is a depth."""
    blend = more.pop("blend", None)
    return ZoneLimit(form, b.num(most) if most else None, REFERENCE, b.num(blend) if blend else None, **more)


def part(*limits: ZoneLimit, item_class: int = 1, method: str = "MT") -> Any:
    """A part master whose zone Z1 has these limits."""
    steel = method == "MT"
    return b.master(
        method,
        item_class=item_class,
        zones=(b.zone("Z1", ferromagnetic=steel, limits=limits), b.zone("Z2", ferromagnetic=steel)),
    )


def mark(x: str, y: str = "2.000", size: str = "0.03", name: str = "P") -> f.Mark:
    return f.Mark(name, b.num(f"{x} in"), b.num(f"{y} in"), b.num(f"{size} in"), b.num(f"{size} in"))


def seen(
    length: str | None = "0.31 in", width: str | None = "0.02 in", name: str = IND, when: str = "10:05", **changed: Any
) -> Recorded[f.Fact]:
    base: dict[str, Any] = {"zone": "Z1", "position": "165 deg", "form": "linear", "orientation": "axial"}
    sizes = {"length": b.num(length) if length else None, "width": b.num(width) if width else None}
    return b.rec(f.IndicationSeen(**{"indication": name, "inspection": "X-001", **sizes, **base, **changed}), when)


def tried(step: str, outcome: str | None = None, when: str = "10:08", name: str = IND) -> Recorded[f.Fact]:
    return b.rec(f.IndicationTested(name, step, outcome), when)


def called(
    word: str = "relevant", type_: str | None = "fatigue crack", basis: str = "sharp, returned", name: str = IND
) -> Recorded[f.Fact]:
    return b.rec(f.IndicationInterpreted(name, word, basis, type_), "10:12")


def evaluated(word: str = "over limit", name: str = IND) -> Recorded[f.Fact]:
    return b.rec(f.IndicationEvaluated(name, word), "10:13")


def photo(scale: bool | None = True, tag: str | None = "read", name: str = IND) -> Recorded[f.Fact]:
    return b.rec(f.PhotoAttached("X-001", "ab12", b.at("10:14"), name, scale, tag), "10:15")


def look(
    person: str = "NL3-E",
    start: str = "11:00",
    name: str = "SL1",
    lamps: tuple[str, ...] = ("LP-1",),
    indication: str | None = IND,
    saved: bool = True,
    length: str | None = "0.31 in",
    **changed: Any,
) -> Facts:
    """A second look of ten minutes; ``saved`` False leaves its result open."""
    end = f"{start[:3]}{int(start[3:5]) + 10:02d}"
    found = b.view(start, end, lamps, name, person, kind="second look", indication=indication)
    if saved:
        base: dict[str, Any] = {"interpretation": "relevant", "form": "linear"} if indication else {}
        size = b.num(length) if length and indication else None
        found.append(
            b.rec(
                f.SecondLookSaved(
                    name, "X-001", person, **{"indication": indication, "length": size, **base, **changed}
                ),
                end,
                person,
            )
        )
    return found


def certificate(person: str, level: int = 2, expires: date = date(2028, 1, 1), method: str = "MT") -> Recorded[f.Fact]:
    return b.rec(
        f.CertificateEntered(person, method, level, date(2024, 1, 1), expires), "08:00", "SUP-F", day="2026-01-02"
    )


def vision(person: str, expires: date = date(2026, 9, 14)) -> Recorded[f.Fact]:
    return b.rec(f.VisionExamEntered(person, date(2025, 9, 15), expires), "08:00", "SUP-F", day="2026-01-02")


def ordered(zone: str = "Z1", inspection: str = "X-001") -> Recorded[f.Fact]:
    return b.rec(f.ReworkOrdered(inspection, PART, IND, zone, "blend", "L2-A"), "11:20")


def dimension(value: str = "0.544 in", new: str | None = "0.540 in", service: str | None = "0.530 in") -> f.Dimension:
    return f.Dimension("beam thickness", b.num(value), b.num(new) if new else None, b.num(service) if service else None)


def done(
    depth: str | None = "0.006 in",
    when: str = "12:20",
    dimensions: tuple[f.Dimension, ...] | None = None,
    inspection: str = "X-001",
    **more: Any,
) -> Recorded[f.Fact]:
    sizes = (dimension(),) if dimensions is None else dimensions
    base: dict[str, Any] = {"person": "RWK-N", "zone": "Z1"}
    day = more.pop("day", b.DAY)
    body = {"inspection": inspection, "part": PART, "depth": b.num(depth) if depth else None, "dimensions": sizes}
    return b.rec(f.ReworkDone(**{**body, **base, **more}), when, "RWK-N", day=day)


def again(when: str = "12:20:01", inspection: str = "X-002", method: str = "MT", **changed: Any) -> Recorded[f.Fact]:
    """The re-inspection of a rework that X-001 ordered."""
    return b.opened(method, when, inspection, **{"reason": "rework", "previous": "X-001", **changed})


def order(basis: str = "new limits") -> Recorded[f.Fact]:
    return b.rec(f.WorkOrderOpened(ORDER, "Tavelin 6H-515", "6H-1", "overhaul", basis), "06:10")


def moved(place: str = "quarantine", when: str = "11:30", piece: str | None = None) -> Recorded[f.Fact]:
    return b.rec(f.PartMoved(PART, place, piece=piece), when)


def record(**changed: Facts | Recorded[f.Fact] | None) -> Facts:
    """The complete record; a share may be replaced, or left out with None."""
    shares: dict[str, Any] = {
        "opened": b.opened("MT"),
        "meter": b.meter(),
        "readings": [b.lamp_reading("LP-1", "06:42"), b.lamp_reading("LP-1", "16:22")],
        "view": b.view("10:00", "10:20", nothing_seen=False),
        "seen": seen(),
        "tests": [tried("wiped", "returned"), tried("re-shot", "returned", "10:10")],
        "called": called(),
        "evaluated": evaluated(),
        "photo": photo(),
        "look": look(),
        "people": [
            certificate("L2-A"),
            vision("L2-A"),
            certificate("NL3-E", 3),
            vision("NL3-E"),
            certificate("L2-B"),
            vision("L2-B"),
        ],
        "order": order(),
        "more": None,
    }
    unknown = set(changed) - set(shares)
    assert not unknown, unknown
    found: Facts = []
    for share in (shares | changed).values():
        found += [] if share is None else share if isinstance(share, list) else [share]
    return found


def ask(rule_id: str, facts: Facts | None = None, asked: str = "17:00", method: str = "MT", **changed: Any) -> Answer:
    return b.ask(rule_id, method, record() if facts is None else facts, asked, **changed)
