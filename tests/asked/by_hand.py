"""The forty questions counted from the demonstration day's tables, by their definitions and the csv module alone.

Nothing of the program is imported (a test sees to it): what is expected here
follows from the tables and from nothing else.
"""

from __future__ import annotations

import csv
import hashlib
import math
import re
import tomllib
from collections import Counter, defaultdict
from datetime import date, datetime, timedelta
from pathlib import Path

LEAST_UV = 1000  # uW/cm2 at 15 in, the day's procedures
MOST_RESIDUAL = 3  # G
Z_95 = 1.959963984540054  # two-sided 95 percent of the normal distribution, from memory


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def listed(text: str) -> list[str]:
    return text.split("+") if text else []


def clock(text: str) -> datetime:
    """A time of the day; only differences are taken."""
    return datetime.strptime(text, "%H:%M:%S" if text.count(":") == 2 else "%H:%M")  # noqa: DTZ007


def minutes(start: str, stop: str) -> float:
    return (clock(stop) - clock(start)) / timedelta(minutes=1)


class Day:
    """The tables of the day and of what lies before it."""

    def __init__(self, demo: Path, folder: Path | None = None, name: str = "2026-03-10") -> None:
        self.date = name
        self._day, self._before, self.procedures = folder or demo / name, demo / "before", demo.parent / "procedures"

    def of(self, name: str) -> list[dict[str, str]]:
        return table(self._day / f"{name}.csv")

    def before(self, name: str) -> list[dict[str, str]]:
        return table(self._before / f"{name}.csv")

    @property
    def records(self) -> list[dict[str, str]]:
        """MT and PT records alike; ``lamps`` of the first view, ``begun`` and ``ended`` of it."""
        mt = [{**r, "method": "MT", "begun": r["start"], "ended": r["end"]} for r in self.of("inspections_mt")]
        pt = [
            {**r, "method": "PT", "begun": r["view_start"], "ended": r["view_end"]} for r in self.of("inspections_pt")
        ]
        return [*mt, *pt]

    def looks(self) -> list[tuple[str, str, str, str, str]]:
        """Every look under lamps: lamps, record, kind and name, begin, end."""
        of_mark = {r["ind"]: r["insp"] for r in self.of("indications")}
        found = [(r["lamps"], r["insp"], "first", r["begun"], r["ended"]) for r in self.records]
        found += [(r["lamps"], r["insp"], "re-view", r["view_start"], r["view_end"]) for r in self.of("reviews")]
        for r in self.of("second_looks"):
            record = of_mark.get(r["ind_or_insp"]) or r["ind_or_insp"].split()[0]
            found.append((r["lamps"], record, r["sc"], r["start"], r["end"]))
        return found

    def place(self, item: str) -> str:
        """Where a part is by its last scan; a single piece of a lot does not move the lot."""
        scans = [r for r in self.of("locations") if r["serial_or_lot"] == item and not r["piece"]]
        return max(scans, key=lambda r: r["time"])["place"] if scans else "not scanned"


def f1(day: Day, lamp: str, until: str) -> dict[tuple[str, str], str]:
    """Record and look -> place now; looks that began up to the bad reading, all of that day (the last good one was at opening)."""
    item = {r["insp"]: r["serial_or_lot"] for r in day.records}
    return {
        (record, name): day.place(item[record])
        for lamps, record, name, begun, _ in day.looks()
        if lamp in listed(lamps) and begun <= until
    }


def f2_bath(day: Day, after: str) -> set[str]:
    """Records shot after the last result of the bath."""
    return {r["insp"] for r in day.of("shots") if r["time"] > after}


def f2_dryer(day: Day) -> set[str]:
    """Records of every basket that was not voided: both lines share the dryer, all were worked after its reading."""
    return {name for r in day.of("baskets") if not r["voided_at"] for name in listed(r["inspections"])}


def f5(day: Day, bands: dict[str, str]) -> dict[tuple[str, str], tuple[int, int, str, str, str]]:
    """Part number and band -> inspected, cracked, share, Wilson interval in percent."""
    pieces: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    cracked: dict[tuple[str, str], set[tuple[str, str]]] = defaultdict(set)
    of = {}
    for r in day.records:
        key = of[r["insp"]] = (r["part_no"], bands[r["wo"]])
        pieces[key][r["serial_or_lot"]] = int(r["qty"])
    item = {r["insp"]: r["serial_or_lot"] for r in day.records}
    for r in day.of("indications"):
        if r["interpretation"] == "relevant" and "crack" in r["type"]:
            cracked[of[r["insp"]]].add((item[r["insp"]], r["piece"]))
    for r in day.before("history"):
        key = r["part_no"], "not recorded"
        pieces[key][r["work_order"]] = 1
        if "crack" in r["type"]:
            cracked[key].add((r["work_order"], ""))
    return {
        key: (sum(p.values()), len(cracked[key]), *wilson(len(cracked[key]), sum(p.values())))
        for key, p in pieces.items()
    }


def wilson(x: int, n: int) -> tuple[str, str, str]:
    """Share and interval in percent (Wilson 1927), to one decimal."""
    p, z2 = x / n, Z_95**2
    middle = (p + z2 / (2 * n)) / (1 + z2 / n)
    half = Z_95 * math.sqrt(p * (1 - p) / n + z2 / (4 * n * n)) / (1 + z2 / n)
    return f"{100 * p:.1f}", f"{100 * max(middle - half, 0):.1f}", f"{100 * min(middle + half, 1):.1f}"


def f7(day: Day) -> dict[tuple[str, str], tuple[float, float]]:
    """Basket and what -> minutes it took, limit in minutes as the day's procedures have it."""
    found: dict[tuple[str, str], tuple[float, float]] = {}
    for r in day.of("baskets"):
        name, pieces, remover = r["basket"], int(r["pieces"]), bool(r["remover_start"])

        def put(what: str, took: float, limit: float, name: str = name) -> None:
            found[name, what] = (took, limit)

        put("shortest penetrant dwell", minutes(r["wet_end"], r["wash_start"]), 30)
        put("longest penetrant dwell", minutes(r["wet_start"], r["wash_end"]), 120)
        if remover:  # what the table calls wash is the prewash
            put("longest prewash", minutes(r["wash_start"], r["wash_end"]), 1)
            put("shortest remover contact", minutes(r["remover_start"], r["remover_end"]), 0.5)
            put("longest remover contact", minutes(r["remover_start"], r["remover_end"]), 2)
            put("longest rinse after remover", minutes(r["rinse_start"], r["rinse_end"]), 1)
        else:
            put("longest wash", minutes(r["wash_start"], r["wash_end"]), 3 * pieces)
        if r["dry_in"]:
            put("longest wash to dryer", minutes(r["rinse_end"] or r["wash_end"], r["dry_in"]), 10)
            put("longest dryer", minutes(r["dry_in"], r["dry_out"]), 30)
            put("longest dryer to developer", minutes(r["dry_out"], r["dev_start"]), 30)
            views = [v for v in day.records if v["insp"] in listed(r["inspections"])]
            put("shortest developing", minutes(r["dev_end"], min(v["begun"] for v in views)), 10)
            put("longest developing", minutes(r["dev_start"], max(v["ended"] for v in views)), 240)
    return found


def f8(day: Day, lamps: list[str]) -> dict[tuple[str, str], tuple[str, int]]:
    """Lamp and day of the month so far -> answer, number of inspections that used it."""
    readings = [{**r, "date": day.date} for r in day.of("readings")] + day.before("readings")
    first, last = date.fromisoformat(day.date).replace(day=1), date.fromisoformat(day.date)
    found = {}
    for lamp in lamps:
        for n in range((last - first).days + 1):
            on = str(first + timedelta(days=n))
            uv = [
                float(r["value"])
                for r in readings
                if r["date"] == on
                and r["object"] == lamp
                and r["quantity"].startswith("UV-A")
                and r["condition"] == "as-found"
            ]
            used = {
                r["inspection"]
                for r in day.before("paper_acceptances")
                if r["date"] == on and lamp in listed(r["lamps"])
            }
            if on == day.date:
                used |= {record for lamps_, record, *_ in day.looks() if lamp in listed(lamps_)}
            word = ("PASS" if min(uv) >= LEAST_UV else "FAIL") if uv else "NOT RECORDED" if used else "NOT APPLICABLE"
            found[lamp, on] = word, len(used)
    return found


def f9(day: Day, serial: str) -> Counter[str]:
    """Kinds of what happened to a serial number that was inspected once."""
    records = [r["insp"] for r in day.records if r["serial_or_lot"] == serial]
    marks = [r["ind"] for r in day.of("indications") if r["insp"] in records]
    return Counter(
        {
            "part listed": sum(r["serial_or_lot"] == serial for r in day.of("receiving")),
            "part received": sum(r["serial_or_lot"] == serial for r in day.of("receiving")),
            "part moved": sum(r["serial_or_lot"] == serial for r in day.of("locations")),
            "inspection opened": len(records),
            "indication seen": len(marks),
            "second look saved": sum(r["ind_or_insp"] in marks for r in day.of("second_looks")),
            "decision signed": len(records),
        }
    )


def f11(day: Day, order: str) -> Counter[tuple[str, str]]:
    """What stops the engine: records that do not stand, methods that the part master asks and nobody opened."""
    found: Counter[tuple[str, str]] = Counter()
    closed = {r["previous"] for r in day.records if r["previous"]}
    viewed_again = {r["insp"] for r in day.of("reviews")}
    methods: dict[tuple[str, str], set[str]] = defaultdict(set)
    for r in day.records:
        if r["wo"] != order:
            continue
        methods[r["part_no"], r["serial_or_lot"]].add(r["method"])
        end = r.get("end_of_day") or r["inspector_decision"]
        stands = (end.startswith("ACCEPT") or r["insp"] in viewed_again) and "SUSPENDED" not in end
        if not stands and r["insp"] not in closed:
            found["record", r["insp"]] += 1
    for r in day.of("receiving"):
        if r["wo"] == order and not r["reason_code"]:
            master = tomllib.loads((day.procedures / "parts" / f"{r['part_no']}.toml").read_text(encoding="utf-8"))
            done = methods[r["part_no"], r["serial_or_lot"]]
            for method in {each["method"] for each in master.get("required", [])} - done:
                found["method", f"{r['part_no']} {r['serial_or_lot']} {method}"] += 1
    return found


def f12(day: Day) -> set[str]:
    """Accepted and not suspended, with a lamp of the look in force that nobody read afterwards."""
    last = {
        lamp: max(r["time"] for r in day.of("readings") if r["object"] == lamp and r["condition"] == "as-found")
        for lamp in ("LP-1", "LP-2", "LP-3", "LP-4", "LP-5")
    }
    again = {r["insp"]: (r["lamps"], r["view_end"]) for r in day.of("reviews")}
    found = set()
    for r in day.records:
        lamps, ended = again.get(r["insp"], (r["lamps"], r["ended"]))
        accepted = r["insp"] in again or (r.get("end_of_day") or r["inspector_decision"]).split()[0] in (
            "ACCEPT",
            "SPLIT",
        )
        if accepted and any(last[lamp] < ended for lamp in listed(lamps)):
            found.add(r["insp"])
    return found


def f13_uv(day: Day, meter: str, percent: float, since: str) -> list[tuple[str, str]]:
    """Day and object of lamp readings that hold as read and do not once divided."""
    readings = [{**r, "date": day.date} for r in day.of("readings")] + day.before("readings")
    return sorted(
        (r["date"], r["object"])
        for r in readings
        if r["meter"] == meter
        and r["quantity"].startswith("UV-A")
        and r["date"] >= since
        and float(r["value"]) >= LEAST_UV > float(r["value"]) / (1 + percent / 100)
    )


def f13_residual(day: Day, meter: str, percent: float) -> Counter[str]:
    """Records with residual readings that hold as read and do not once divided."""
    return Counter(
        r["insp"]
        for r in day.of("residual_points")
        if r["meter"] == meter
        and abs(float(r["value"])) <= MOST_RESIDUAL < abs(float(r["value"])) / (1 + percent / 100)
    )


def f17(day: Day, until: str) -> set[tuple[str, str]]:
    """Person and what ends up to a day: vision, certificates, authorisations, the latest of each."""
    latest: dict[tuple[str, str], str] = {}
    for name, what, ends in (
        *((r["person"], "vision", r["expires"]) for r in day.before("vision")),
        *(
            (r["person"], f"certificate {r['method']} level {r['level']}", r["expires"])
            for r in day.before("certificates")
        ),
        *((r["person"], f"authorisation {r['technique']}", r["valid_to"]) for r in day.before("authorisations")),
    ):
        latest[name, what] = max(latest.get((name, what), ""), ends)
    return {key for key, ends in latest.items() if ends <= until}


def f18(day: Day, until: str, intervals: dict[str, int], out: set[str]) -> set[tuple[str, str]]:
    """Object and last valid day: calibrations, and checks of the tables done last so many days ago."""
    found = {(r["equipment"], r["due"]) for r in day.before("calibrations") if r["due"] <= until}
    last: dict[tuple[str, str], str] = {}
    for r in day.before("checks"):
        key = r["object"], r["check"]
        last[key] = max(last.get(key, ""), r["date"])
    for (thing, check), on in last.items():
        due = str(date.fromisoformat(on) + timedelta(days=intervals[check]))
        if due <= until and thing not in out:
            found.add((thing, due))
    return found


def f20(day: Day) -> dict[str, str]:
    """Second look at an indication -> difference of lengths in inches, empty where no second length was taken."""
    first = {r["ind"]: r["len_in"] for r in day.of("indications")}
    found = {}
    for r in day.of("second_looks"):
        if r["ind_or_insp"] in first:
            number = re.fullmatch(r"0\.\d+", r["own_len"])
            found[r["sc"]] = f"{float(r['own_len']) - float(first[r['ind_or_insp']]):.2f}" if number else ""
    return found


def f21(day: Day) -> dict[str, tuple[int, int, int]]:
    """Part number -> clean records, those with a second look at the whole part, looks that saw something."""
    marked = {r["insp"] for r in day.of("indications")}
    whole = {
        r["ind_or_insp"].split()[0]: r["own_len"]
        for r in day.of("second_looks")
        if not r["ind_or_insp"].startswith("IND-")
    }
    found: dict[str, list[str]] = defaultdict(list)
    for r in day.records:
        if r["insp"] not in marked:
            found[r["part_no"]].append(r["insp"])
    return {
        part: (len(names), sum(n in whole for n in names), sum(whole.get(n, "none seen") != "none seen" for n in names))
        for part, names in found.items()
    }


def f22(day: Day, percent: float) -> dict[str, str]:
    """Record -> share of the technique's expected viewing time in percent, where below ``percent``."""
    found = {}
    for r in day.records:
        path = day.procedures / "techniques" / f"{r['technique']}.toml"
        expected = float(tomllib.loads(path.read_text(encoding="utf-8"))["expected_view_min"])
        took = minutes(r["begun"], r["ended"]) / int(r["qty"])
        if took * 100 < expected * percent:
            found[r["insp"]] = f"{100 * took / expected:.0f}"
    return found


def f23(day: Day) -> tuple[Counter[tuple[str, str]], Counter[tuple[str, str]]]:
    """Technique and shot -> records fired on; technique and last shot or tens of developer minutes -> indications."""
    record = {r["insp"]: r for r in day.records}
    fired = Counter((record[i]["technique"], f"shot {s}") for i, s in {(r["insp"], r["shot"]) for r in day.of("shots")})
    found: Counter[tuple[str, str]] = Counter()
    for mark in day.of("indications"):
        r = record[mark["insp"]]
        if r["method"] == "MT":
            before = [
                s for s in day.of("shots") if s["insp"] == mark["insp"] and clock(s["time"]) <= clock(mark["seen"])
            ]
            where = f"shot {max(before, key=lambda s: clock(s['time']))['shot']}"
        else:
            (basket,) = (b for b in day.of("baskets") if mark["insp"] in listed(b["inspections"]) and b["dev_end"])
            tens = int(minutes(basket["dev_end"], mark["seen"]) // 10) * 10
            where = f"{tens:03d}-{tens + 10:03d} min"
        found[r["technique"], where] += 1
    return fired, found


def f27(day: Day, person: str) -> int:
    """What one person entered that day: check-in, booth closed, looks begun, ended and saved, readings and samples."""
    looks = 3 * sum(r["by"] == person for r in day.of("second_looks"))
    return looks + sum(
        r[column] == person
        for name, column in (("checkins", "person"), ("booths", "person"), ("readings", "by"), ("locations", "by"))
        for r in day.of(name)
    )


def f28(day: Day) -> int:
    """Photographs without the tag read, or used for two indications."""
    uses: dict[str, set[str]] = defaultdict(set)
    for r in day.of("photos"):
        uses[r["file"]].add(r["ind"])
    return sum(r["tag_in_frame"] != "read" or len(uses[r["file"]]) > 1 for r in day.of("photos"))


def f30(names: list[str], seed: str, size: int) -> list[str]:
    """The names in order of SHA-256 over seed, a zero byte and the name."""
    return sorted(names, key=lambda name: hashlib.sha256(f"{seed}\0{name}".encode()).digest())[:size]


def f33(day: Day) -> dict[str, tuple[int, int, str, str]]:
    """Object -> records, pieces, minutes of view, shots."""
    qty = {r["insp"]: int(r["qty"]) for r in day.records}
    used: dict[str, set[str]] = defaultdict(set)
    view: Counter[str] = Counter()
    for lamps, record, _, begun, ended in day.looks():
        for lamp in listed(lamps):
            used[lamp].add(record)
            view[lamp] += round(minutes(begun, ended))
    for r in day.of("shots"):
        used["MT-01"].add(r["insp"])
        used["MTB-26-07"].add(r["insp"])
    tanks = {r["line"]: listed(r["batches"]) for r in day.before("tanks")}
    for r in day.of("baskets"):
        for batch in tanks[r["line"]]:
            used[batch] |= set(listed(r["inspections"]))
    shots = str(len(day.of("shots")))
    return {
        name: (
            len(records),
            sum(qty[each] for each in records),
            str(view[name]) if name.startswith("LP-") else "",
            shots if name == "MT-01" else "",
        )
        for name, records in used.items()
    }


def f34(day: Day) -> dict[str, tuple[int, int]]:
    """Hour -> attempts voided, acts refused (events whose expected answer refuses)."""
    hours: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for r in day.of("baskets"):
        if r["voided_at"]:
            hours[r["voided_at"][:2]][0] += len(listed(r["inspections"]))
    for r in day.of("events"):
        if re.search(r"refused|may not view|needs quarantine", r["Expected answer"]):
            hours[r["Time"][:2]][1] += 1
    return {hour: (voided, refused) for hour, (voided, refused) in hours.items()}


def f35(day: Day, order: str) -> tuple[int, int]:
    """Pieces inspected (each once), relevant indications of a work order."""
    pieces = {(r["part_no"], r["serial_or_lot"]): int(r["qty"]) for r in day.records if r["wo"] == order}
    of = {r["insp"]: r["wo"] for r in day.records}
    marks = [r for r in day.of("indications") if r["interpretation"] == "relevant" and of[r["insp"]] == order]
    return sum(pieces.values()), len(marks)
