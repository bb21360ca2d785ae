"""One complete record of hand-made facts for the general rules; a test changes or leaves out parts of it by name."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Obtained, Recorded
from ndi.domain.moment import Moment
from tests import build as b

Facts = list[Recorded[f.Fact]]
PART, ORDER = "W26-0148/PN-1/S-1", "W26-0148"


def listed(**changed: Any) -> Recorded[f.Fact]:
    base: dict[str, Any] = {"part": PART, "work_order": ORDER, "part_no": "PN-1", "quantity": 1, "serial": "S-1"}
    return b.rec(f.PartListed(**{**base, **changed}), "07:10", "RCV-H")


def received(when: str = "07:20", **changed: Any) -> Recorded[f.Fact]:
    base: dict[str, Any] = {"part": PART, "work_order": ORDER, "quantity": 1, "scanned": True}
    return b.rec(f.PartReceived(**{**base, **changed}), when, "RCV-H")


def tick(item: str, when: str, about: str = "X-001", value: str = "yes", by: str = "L1-D") -> Recorded[f.Fact]:
    return b.rec(f.ConfirmationGiven(about, item, value), when, by)


def step(name: str, start: str | None, end: str | None, on: str = "B1", by: str = "L1-D") -> Facts:
    found: Facts = []
    if start:
        found.append(b.rec(f.StepStarted(on, name, 1), start, by))
    if end:
        found.append(b.rec(f.StepEnded(on, name), end, by))
    return found


def person(name: str, *roles: str, day: str = "2026-01-02") -> Recorded[f.Fact]:
    return b.rec(f.PersonEntered(name, roles or ("inspector",)), "08:00", "SUP-F", day=day)


def certificate(
    name: str, level: int, method: str = "PT", issued: date = date(2024, 1, 1), expires: date = date(2028, 1, 1)
) -> Recorded[f.Fact]:
    return b.rec(f.CertificateEntered(name, method, level, issued, expires), "08:00", "SUP-F", day="2026-01-02")


def vision(name: str, expires: date = date(2026, 9, 14), examined: date = date(2025, 9, 15)) -> Recorded[f.Fact]:
    return b.rec(f.VisionExamEntered(name, examined, expires), "08:00", "SUP-F", day="2026-01-02")


def read(
    name: str, when: str = "08:00", day: str = "2026-01-16", method: str = "PT", revision: str = "D"
) -> Recorded[f.Fact]:
    return b.rec(f.RevisionRead(name, f"{method}-P-01", revision), when, name, day=day)


def closed(when: str | Moment, name: str = "L2-A", station: str = "MT booth") -> Recorded[f.Fact]:
    return b.rec(f.BoothClosed(station, name), when, name)


def other_view(
    inspection: str,
    start: str,
    end: str | None,
    name: str = "L2-A",
    kind: str = "first",
    station: str = "MT booth",
    day: str = b.DAY,
) -> Facts:
    """A view on another record."""
    key = f"V-{inspection}-{start}"
    found: Facts = [b.rec(f.ViewStarted(key, inspection, name, ("LP-1",), kind, station), start, name, day=day)]
    if end:
        found.append(b.rec(f.ViewEnded(key, inspection, ("Z1", "Z2"), True), end, name, day=day))
    return found


def decision(
    when: str = "09:13", disposition: str = "ACCEPT", name: str = "L2-A", inspection: str = "X-001", **changed: Any
) -> Recorded[f.Fact]:
    base: dict[str, Any] = {"children": (), "provisional": False, "answers": (), "reasons": (), "snapshot": "0"}
    fact = f.DecisionSigned(inspection, PART, name, "PT level 2", disposition, **{**base, **changed})
    return b.rec(fact, when, name)


def photo(
    taken: str = "08:55",
    sha256: str = "aa",
    inspection: str = "X-001",
    reuse_reason: str | None = None,
    codes_read: tuple[str, ...] | None = None,
) -> Recorded[f.Fact]:
    fact = f.PhotoAttached(inspection, sha256, b.at(taken), reuse_reason=reuse_reason, codes_read=codes_read)
    return b.rec(fact, "09:00", "L2-A")


def indication(when: str = "08:58", name: str = "IND-01", inspection: str = "X-001") -> Recorded[f.Fact]:
    fact = f.IndicationSeen(name, inspection, "Z1", "edge", "linear", b.num("0.1 in"), b.num("0.01 in"))
    return b.rec(fact, when, "L2-A")


def typed(
    recorded: Recorded[f.Fact], minutes_late: str, how: Obtained = Obtained.TYPED_LATE, why: str | None = None
) -> Recorded[f.Fact]:
    """The same fact, entered at a later local time of the day."""
    return replace(recorded, recorded_at=b.at(minutes_late).at, how=how, why=why)


def shot(number: int, when: str, by: str = "L2-A") -> Recorded[f.Fact]:
    pulse = f.Pulse(b.num("1000 A"), b.num("0.7 s"))
    return b.rec(f.ShotFired("X-001", "MT-01", number, (pulse, pulse), "FWDC", "continuous"), when, by)


def parts(method: str = "PT") -> dict[str, Facts]:
    """A record by L2-A from receipt to the end of the view, by name; PT: basket B1, MT: two shots and a demagnetisation."""
    found: dict[str, Facts] = {
        "listed": [listed()],
        "received": [received()],
        "visual": [tick("pre-clean visual", "07:21", PART)],
        "cleaning": [tick("cleaning started", "07:22", PART)],
        "directives": [
            b.rec(f.DirectivesConfirmed(ORDER, ("crankshaft line",), ("crankshaft line",)), "07:15", "SUP-F")
        ],
        "opened": [b.opened(method)],
        "clean": [tick("clean", "07:32")],
        "dry": [tick("dry", "07:33")],
        "people": [person("L2-A"), person("L1-D", "operator"), person("NL3-E")],
        "certificates": [
            certificate("L2-A", 2, method),
            certificate("L1-D", 1, method),
            certificate("NL3-E", 3, method),
        ],
        "vision": [vision("L2-A")],
        "read": [read("L2-A", method=method)],
        "check-in": [b.rec(f.CheckedIn("L2-A", "MT booth", True), "06:30", "L2-A")],
        "closed": [closed("08:48")],
        "view": [*b.view("08:50", "09:12")],
    }
    if method == "PT":
        found |= {
            "basket": [b.rec(f.BasketLoaded("B1", "A", "Method A line", ("X-001",), 1), "07:34", "L1-D")],
            "wet": step("wet", "07:35", "07:38"),
            "wash": step("wash", "08:10", "08:14"),
            "dryer": step("dry", "08:16", "08:34"),
            "develop": step("develop", "08:36", "08:37"),
        }
    else:
        found |= {
            "shots": [shot(1, "08:40"), shot(2, "08:45")],
            "demag": [b.rec(f.Demagnetised("X-001", "reversing step-down"), "09:12")],
            "residual": [
                b.rec(f.ResidualRead("X-001", point, b.num("1 G"), "GM-1", True), "09:13")
                for point in ("flange", "pin")
            ],
            "post": [tick(f"post-process: {item}", "09:14") for item in ("clean", "dry", "preserve")],
        }
    return found


def facts(method: str = "PT", **changed: Facts | Recorded[f.Fact] | None) -> Facts:
    """The complete record with parts replaced (``check_in`` for ``check-in``), left out (None) or added."""
    base = parts(method)
    for name, value in changed.items():
        key = name.replace("_", "-") if name == "check_in" else name
        base[key] = [] if value is None else value if isinstance(value, list) else [value]
    return [recorded for group in base.values() for recorded in group]


def named(name: str, value: Facts | Recorded[f.Fact] | None) -> dict[str, Any]:
    """One changed part whose name is a test parameter."""
    return {name: value}


def ask(
    rule_id: str,
    method: str = "PT",
    *,
    asked: str | Moment = "17:00",
    inquiry: dict[str, Any] | None = None,
    **changed: Any,
) -> Answer:
    """Ask a rule of the complete record with ``changed`` parts; ``inquiry`` changes fields of the inquiry."""
    return b.ask(rule_id, method, facts(method, **changed), asked, **(inquiry or {}))
