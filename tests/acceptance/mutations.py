"""Changes of the day, each with what it must come to, worked out by hand from the rules before it was first run.

``records`` holds every record that stands elsewhere than on the unchanged day
(no record that is not named may move), ``events`` every event that is answered
otherwise, ``containments`` all of them where they differ.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from tests.acceptance.day import Change, Day

# --- groups of records ----------------------------------------------------------------------------

B1 = ("PT-001", "PT-002")
B2 = tuple(f"PT-{n:03d}" for n in range(3, 12))
B3 = tuple(f"PT-{n:03d}" for n in range(12, 18))
B4 = tuple(f"PT-{n:03d}" for n in range(19, 23))
B5 = ("PT-018",)
B6 = tuple(f"PT-{n:03d}" for n in range(23, 28))
LINE_A = (*B1, *B2, *B3, *B4, *B6)
PT = (*LINE_A, *B5)
MT = tuple(f"MT-{n:03d}" for n in range(1, 35))
MORNING = tuple(f"MT-{n:03d}" for n in range(1, 16))  # begun before the mid-day readings
W148_MT = (*(f"MT-{n:03d}" for n in range(1, 27)), "MT-034")
W151_MT = tuple(f"MT-{n:03d}" for n in range(27, 34))
OVER_THE_STRETCH = ("MT-008", "MT-009", *W151_MT, "PT-018")  # warned by G22, with a reason
OTHER_WORDS = {"MT-001": "REJECT", "MT-032": "REJECT", "PT-024": "REJECT", "MT-006": "REWORK", "PT-001": "HOLD-ENG"}
UNDECIDED = "NO DECISION"
CRACKED = (
    "MT-001",
    "MT-006",
    "MT-012",
    "MT-032",
    "PT-024",
)  # an indication over its limit stands against an acceptance
ACCEPTED_OF_LOT = {"MT-012": "SPLIT 11 ACCEPT / 1 REJECT"}

_OPEN_THAT_DAY = {  # fail, missing, not yet on the unchanged day
    "PT-001": ("G30 L11", "D05", "D07"),
    "PT-003": ("G30 L11", "", "D07"),
    **dict.fromkeys((*B1[1:], *B2[1:]), ("G30 L11", "", "")),
}


def stands(name: str, decision: str, *, fail: str = "", missing: str = "", not_yet: str = "", warn: str = "") -> str:
    """A record's line: the lines open on the unchanged day and those given; nobody has decided what is undecided (D13)."""
    if decision == UNDECIDED:
        not_yet += " D13"
        fail += " D12" if name in CRACKED else ""
        missing += " D12" if name == "PT-001" else ""
    was = _OPEN_THAT_DAY.get(name, ("", "", ""))
    stretch = "G22" if name in OVER_THE_STRETCH else ""
    words = [decision]
    parts = (
        ("fail", was[0], fail),
        ("missing", was[1], missing),
        ("not yet", was[2], not_yet),
        ("warn", stretch, warn),
    )
    for label, first, second in parts:
        rules = sorted({*first.split(), *second.split()})
        if rules:
            words.append(f"{label} {' '.join(rules)}")
    return "; ".join(words)


def refused(names: Iterable[str], *, guarded: bool = False, **lines: str) -> dict[str, str]:
    """Acceptances that were not signed.  Rejects, rework and hold are signed all the same, unless ``guarded``."""
    found = {}
    for name in names:
        word = UNDECIDED if guarded else OTHER_WORDS.get(name, UNDECIDED)
        held = " suspended" if word == "HOLD-ENG" else ""
        found[name] = stands(name, word + held, **lines)
    return found


def suspended(names: Iterable[str], **lines: str) -> dict[str, str]:
    """Decisions that were signed and that a later fact took the ground from."""
    return {
        name: stands(name, OTHER_WORDS.get(name, ACCEPTED_OF_LOT.get(name, "ACCEPT")) + " suspended", **lines)
        for name in names
    }


def without(names: Iterable[str], *gone: str) -> tuple[str, ...]:
    return tuple(name for name in names if name not in gone)


# --- changes --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Mutation:
    """A change and everything that it must make different."""

    name: str
    change: Change
    records: dict[str, str] = field(default_factory=dict)
    events: dict[str, str] = field(default_factory=dict)
    containments: dict[str, str] | None = None


MUTATIONS: list[Mutation] = []


def mutation(
    name: str,
    records: dict[str, str] | None = None,
    events: dict[str, str] | None = None,
    containments: dict[str, str] | None = None,
) -> Callable[[Change], Change]:
    def keep(change: Change) -> Change:
        MUTATIONS.append(Mutation(name, change, records or {}, events or {}, containments))
        return change

    return keep


def setting(
    name: str,
    table: str,
    where: dict[str, str],
    cells: dict[str, str],
    records: dict[str, str] | None = None,
    events: dict[str, str] | None = None,
    containments: dict[str, str] | None = None,
) -> None:
    """One cell or some cells of one row changed."""
    mutation(name, records, events, containments)(lambda day: day.set(table, where, **cells))


def dropping(
    name: str,
    table: str,
    where: dict[str, str],
    records: dict[str, str] | None = None,
    events: dict[str, str] | None = None,
    containments: dict[str, str] | None = None,
) -> None:
    """Rows deleted."""
    mutation(name, records, events, containments)(lambda day: day.drop(table, **where))


CT01 = "LP-3: 17 records, 18 pieces, second looks SC-03 SC-10 SC-11"


def nothing_held(object_: str) -> dict[str, str]:
    """Beside the day's own recall: one that holds no record, which takes no number that people speak of."""
    return {"CT-01": CT01, "CT-E01": f"{object_}: 0 records, 0 pieces"}


VERIFY, CLEARED = {"E28": "D20 PASS"}, {"E26": "L11 PASS"}
NOT_CLEARED = {"E26": "L11 NOT YET"}

# --- penetrant times: at the limit and one second beyond ----------------------------------------------

setting(
    "wash one second over 180 s a part",
    "baskets",
    {"basket": "B4b"},
    {"wash_end": "15:08:01"},
    refused(B4, fail="P16"),
    CLEARED | VERIFY,
)
setting(
    "prewash one second over", "baskets", {"basket": "B5"}, {"wash_end": "10:57:01"}, refused(B5, fail="P11"), VERIFY
)
setting("remover at the limit", "baskets", {"basket": "B5"}, {"remover_start": "10:57:30"})
setting(
    "remover one second over",
    "baskets",
    {"basket": "B5"},
    {"remover_start": "10:57:29"},
    refused(B5, fail="P12"),
    VERIFY,
)
setting("dwell at the minimum", "baskets", {"basket": "B1"}, {"wash_start": "08:08"})
setting(
    "dwell one second short",
    "baskets",
    {"basket": "B1"},
    {"wash_start": "08:07:59", "wash_end": "08:13"},
    refused(B1, fail="P06"),
    CLEARED,
)
setting(
    "developer one second short for the first view",
    "baskets",
    {"basket": "B6"},
    {"dev_end": "14:15:01"},
    refused(("PT-023",), fail="P24"),
    {"E20": "P24 NOT YET"} | CLEARED | VERIFY,
)
setting(
    "developer at the minimum for the first view",
    "baskets",
    {"basket": "B6"},
    {"dev_end": "14:15"},
    {},
    {"E20": "P24 NOT YET"},
)
NO_BREAK = refused(("PT-026", "PT-027"), warn="G22")  # nine minutes to the next view are no break
setting(
    "re-view ends at the developer's limit",
    "reviews",
    {"insp": "PT-017"},
    {"view_end": "14:16", "signed_at": "14:17"},
    NO_BREAK,
    CLEARED | VERIFY,
)
setting(
    "re-view ends one second after the developer's limit",
    "reviews",
    {"insp": "PT-017"},
    {"view_end": "14:16:01", "signed_at": "14:17"},
    suspended(("PT-017",), fail="P25 P41") | NO_BREAK,
    CLEARED | VERIFY,
)
IN_DRYER = {"E08": "I.12 FAIL"}  # B5 must come out of the dryer before anybody is back from lunch
setting(
    "dryer at the limit",
    "baskets",
    {"basket": "B5"},
    {"dry_out": "11:32", "dev_start": "11:33", "dev_end": "11:34"},
    {},
    IN_DRYER,
)
setting(
    "dryer one second over",
    "baskets",
    {"basket": "B5"},
    {"dry_out": "11:32:01", "dev_start": "11:33", "dev_end": "11:34"},
    refused(B5, fail="P21"),
    IN_DRYER | VERIFY,
)
setting("wash to dryer at the limit", "baskets", {"basket": "B5"}, {"dry_in": "11:10:30"})
setting(
    "wash to dryer one second over",
    "baskets",
    {"basket": "B5"},
    {"dry_in": "11:10:31"},
    refused(B5, fail="P19"),
    VERIFY,
)
setting(
    "dryer to developer at the limit",
    "baskets",
    {"basket": "B5"},
    {"dev_start": "11:44", "dev_end": "11:45"},
    {},
    {"E08": "I.12 PASS"},  # at 11:25 the basket still waits for its developer, and the look-ahead names it
)
setting(
    "dryer to developer one second over, no reason",
    "baskets",
    {"basket": "B5"},
    {"dev_start": "11:44:01", "dev_end": "11:45"},
    refused(B5, warn="P22"),
    VERIFY | {"E08": "I.12 PASS"},  # at 11:25 the basket still waits for its developer, and the look-ahead names it
)
setting("part at 120 F", "baskets", {"basket": "B6"}, {"part_temperature_F": "120"})
setting(
    "part at 125 F: warm enough to wet, no dwell in the table",
    "baskets",
    {"basket": "B6"},
    {"part_temperature_F": "125"},
    refused(B6, missing="P06"),
    CLEARED | VERIFY,
)
setting(
    "part at 125.1 F",
    "baskets",
    {"basket": "B6"},
    {"part_temperature_F": "125.1"},
    refused(B6, fail="P02", missing="P06"),
    CLEARED | VERIFY,
)
setting(
    "part at 59.9 F: twice the dwell",
    "baskets",
    {"basket": "B6"},
    {"part_temperature_F": "59.9"},
    refused(B6, fail="P06"),
    CLEARED | VERIFY,
)
setting(
    "nozzle at 11.9 in", "baskets", {"basket": "B6"}, {"nozzle_in": "11.9"}, refused(B6, fail="P15"), CLEARED | VERIFY
)
setting(
    "over-washed", "baskets", {"basket": "B6"}, {"background": "over-washed"}, refused(B6, fail="P18"), CLEARED | VERIFY
)
setting(
    "background of the wash not said",
    "baskets",
    {"basket": "B6"},
    {"background": ""},
    refused(B6, missing="P17 P18"),
    CLEARED | VERIFY,
)
setting(
    "no pre-clean before the second attempt",
    "baskets",
    {"basket": "B4b"},
    {"preclean_start": "", "preclean_end": "", "preclean_by": ""},
    refused(B4, fail="P39"),
    {"E17": "P39 FAIL"} | CLEARED | VERIFY,
)

# a failed check opens a containment back to the last good one; what then names CT-01 for the lamp is refused

# --- lamps and light ----------------------------------------------------------------------------------

NO_CONTAINMENT = {
    "PT-001": "HOLD-ENG; missing D05",
    **dict.fromkeys((*B1[1:], *B2), "ACCEPT"),
    **dict.fromkeys(("PT-016", "PT-017"), "ACCEPT; warn G22"),  # the first acceptance stands, with its reason
}
NO_RECALL_EVENTS = {
    "E11": "L02 PASS, L12 FAIL",
    "E12": "L02 PASS, L12 PASS",
    "E13": "",
    "E26": "L11 PASS",
    "E27": "F8 NOT RECORDED",
    "E28": "D20 PASS",
}
setting(
    "LP-3 at mid-day 1010: no containment",
    "readings",
    {"object": "LP-3", "time": "12:35"},
    {"value": "1010"},
    NO_CONTAINMENT,
    NO_RECALL_EVENTS,
    {},
)
setting(
    "LP-3 at mid-day exactly 1000",
    "readings",
    {"object": "LP-3", "time": "12:35"},
    {"value": "1000"},
    NO_CONTAINMENT,
    NO_RECALL_EVENTS,
    {},
)
setting("LP-3 at mid-day 999.9", "readings", {"object": "LP-3", "time": "12:35"}, {"value": "999.9"})
setting("LP-3 read in milliwatts", "readings", {"object": "LP-3", "time": "12:35"}, {"value": "0.88", "unit": "mW/cm2"})
setting(
    "LP-3 cleaned and back on its trend",
    "readings",
    {"object": "LP-3", "time": "12:36"},
    {"value": "1490"},
    {},
    {"E12": "L02 PASS, L12 PASS"},
)

LP1_RECORDS = {
    **suspended(without(MORNING, "MT-001", "MT-006", "MT-012", "MT-014", "MT-015"), fail="G30 L11"),
    **suspended(("MT-001", "MT-006", "MT-012", "MT-014", "MT-015"), fail="G30 L11", not_yet="D07"),
    **suspended(("MT-001", "MT-012"), fail="G30 L11", not_yet="D07 D09"),
    **refused(("MT-016",), fail="G30 L11"),
    **refused(("MT-034",), fail="L02 L11 L16", not_yet="D07"),
    **refused(without(MT, *MORNING, "MT-016", "MT-032", "MT-034"), fail="L02 L11 L16"),
    **refused(("MT-032",), guarded=True, fail="L02 L11 L16", not_yet="D07"),
}
setting(
    "LP-1 bad at mid-day",
    "readings",
    {"object": "LP-1", "time": "12:38"},
    {"value": "900"},
    LP1_RECORDS,
    {"E26": "L11 PASS", "E27": "F8 FAIL, F8 NOT RECORDED, F8 FAIL", "E28": "D20 PASS", "E29": "G.3 PASS"},
    {"CT-01": CT01, "CT-02": "LP-1: 16 records, 62 pieces, second looks SC-01 SC-02 SC-04 SC-05 SC-06"},
)
setting(
    "LP-4 bad at closing",
    "readings",
    {"object": "LP-4", "time": "16:29"},
    {"value": "950"},
    suspended(("PT-019", "PT-020"), fail="G30 L11") | suspended(("PT-024",), fail="G30 L11", not_yet="D07 D09"),
    {"E26": "L11 PASS", "E27": "F8 NOT RECORDED, F8 FAIL, F8 FAIL", "E28": "D20 PASS"},
    {"CT-01": CT01, "CT-02": "LP-4: 3 records, 3 pieces, second looks SC-08"},
)


@mutation(
    "no closing readings",
    {
        **{
            name: stands(name, "ACCEPT provisional", not_yet="L11")
            for name in (*(f"MT-{n:03d}" for n in range(16, 32)), "MT-033", "MT-034", *B3, *B4, *without(B6, "PT-024"))
        },
        **{name: stands(name, "REJECT", not_yet="L11") for name in ("MT-032", "PT-024")},
    },
    {"E26": "L11 NOT YET", "E28": "D20 PASS"},
)
def _no_closing(day: Day) -> None:
    day.drop("readings", time="16:28")
    day.drop("readings", time="16:29")


LP2_MISSING = {
    "MT-001": "REJECT; fail L11; missing L01 L06; not yet D07 D09; warn L18",
    "MT-006": "REWORK; fail L11; missing L01 L06; warn L18",
    **refused(("MT-012",), fail="L11", missing="L01 L06", warn="L18"),
}
dropping(
    "LP-2 not read in the morning",
    "readings",
    {"object": "LP-2", "time": "06:41"},
    LP2_MISSING,
    {"E27": "F8 NOT RECORDED, F8 FAIL", "E28": "D20 PASS", "E29": ""},
)
setting(
    "LP-2 typed in the wrong unit",
    "readings",
    {"object": "LP-2", "time": "06:41"},
    {"unit": "mW/cm2"},
    LP2_MISSING,
    {"E27": "F8 NOT RECORDED, F8 FAIL", "E28": "D20 PASS", "E29": ""},
)
setting(
    "LP-2 negative",
    "readings",
    {"object": "LP-2", "time": "06:41"},
    {"value": "-2310"},
    LP2_MISSING,
    {"E27": "F8 NOT RECORDED, F8 FAIL", "E28": "D20 PASS", "E29": ""},
)
setting(
    "LP-2 with a huge number",
    "readings",
    {"object": "LP-2", "time": "06:41"},
    {"value": "9" * 60},
    LP2_MISSING,
    {"E27": "F8 NOT RECORDED, F8 FAIL", "E28": "D20 PASS", "E29": ""},
)
setting(
    "LP-2 read in milliwatts, the right number",
    "readings",
    {"object": "LP-2", "time": "06:41"},
    {"value": "2.31", "unit": "mW/cm2"},
    {},
    {"E27": "F8 NOT RECORDED, F8 FAIL"},
)
setting(
    "LP-4 read at 12 in at mid-day",
    "readings",
    {"object": "LP-4", "time": "12:40"},
    {"quantity": "UV-A 12in"},
    refused(("PT-019", "PT-020", "PT-024"), fail="L03"),
    CLEARED | VERIFY,
)
setting(
    "LP-5 switched on too late",
    "switches",
    {"equipment": "LP-5"},
    {"time": "13:00:01"},
    suspended(B3, fail="L06") | refused((*B4, *B6), fail="L06"),
    {"E30": "G05 FAIL"} | CLEARED | VERIFY,
)
setting("LP-5 switched on five minutes before it was read", "switches", {"equipment": "LP-5"}, {"time": "13:00"})
setting(
    "LP-4 bad before the day's first view",
    "readings",
    {"object": "LP-4", "time": "06:43"},
    {"value": "999"},
    {
        "PT-001": "HOLD-ENG suspended; fail G30 L02 L11 L16; missing D05; not yet D07",
        **refused(("PT-002",), fail="L02 L16"),
        **refused(("PT-018",), fail="L02 L11 L16"),
        **refused(("PT-019", "PT-020", "PT-024"), fail="L16"),
    },
    {"E26": "L11 PASS", "E27": "F8 NOT RECORDED, F8 FAIL, F8 FAIL", "E28": "D20 PASS"},
    nothing_held("LP-4"),
)
setting("ambient light at the limit", "readings", {"object": "MT booth"}, {"value": "2.0"})
setting(
    "ambient light over the limit",
    "readings",
    {"object": "MT booth"},
    {"value": "2.01"},
    refused(MT, fail="L05"),
    {"E26": "L11 PASS", "E28": "D20 PASS", "E29": ""},
)
setting(
    "ambient light, screen not said",
    "readings",
    {"object": "MT booth"},
    {"condition": ""},
    refused(MT, missing="L05"),
    {"E26": "L11 PASS", "E28": "D20 PASS", "E29": ""},
)
setting(
    "wash station exactly 100 lx", "readings", {"object": "wash station", "quantity": "ambient"}, {"value": "9.290304"}
)
setting(
    "wash station a hair over 100 lx",
    "readings",
    {"object": "wash station", "quantity": "ambient"},
    {"value": "9.290305"},
    refused(PT, fail="L15"),
    CLEARED | VERIFY,
)
setting(
    "wash station 99 uW/cm2",
    "readings",
    {"object": "wash station", "quantity": "removal UV"},
    {"value": "99"},
    refused(PT, fail="L15"),
    CLEARED | VERIFY,
)
# no reading of the day can be compared, so nothing is withdrawn, nothing recalled, and no interval is ever closed
METER_EXPIRED = {
    **refused((*MT, *B4, *B5, *B6), fail="L10", not_yet="L11"),
    "PT-001": "HOLD-ENG; fail L10; missing D05; not yet L11",
    **dict.fromkeys((*B1[1:], *B2, *B3), "NO DECISION; fail L10; not yet D13 L11"),
    **dict.fromkeys(("PT-016", "PT-017"), "NO DECISION; fail L10; not yet D13 L11; warn G22"),
}
METER_EXPIRED_EVENTS = {
    "E11": "L02 FAIL, L12 FAIL",
    "E12": "L02 PASS, L12 FAIL",
    "E13": "",
    "E27": ", ".join(["F8 NOT RECORDED"] * 6),
    "E29": "",
    **CLEARED,
    **VERIFY,
}
setting(
    "UV-A channel of RM-1 out of calibration",
    "before/calibrations",
    {"equipment": "RM-1", "item": "UV-A channel"},
    {"due": "2026-03-09"},
    METER_EXPIRED,
    METER_EXPIRED_EVENTS,
    {},
)


def _later_calibration(error: str) -> Change:
    def change(day: Day) -> None:
        day.add(
            "calibrations",
            equipment="RM-1",
            item="UV-A channel",
            done="2026-09-18",
            due="2027-09-18",
            result="out of tolerance",
            as_found_error_percent=error,
        )

    return change


mutation("RM-1 found 9 % high in September")(_later_calibration("9"))
mutation("RM-1 found 49 % high: 1490 is exactly 1000")(_later_calibration("49"))
mutation("RM-1 found 50 % high", suspended(without((*B1, *B2)), fail="L02"))(_later_calibration("50"))
mutation("RM-1 found 9 % low")(_later_calibration("-9"))


@mutation(
    "the same lamp value four times running",
    refused((*(f"MT-{n:03d}" for n in range(17, 35)),), warn="L13"),
    CLEARED | VERIFY,
)
def _same_value(day: Day) -> None:
    for time in ("12:38:10", "12:38:20", "12:38:30"):
        day.copy("readings", {"object": "LP-1", "time": "12:38"}, time=time)


dropping(
    "LP-2 integrity check never done",
    "before/checks",
    {"object": "LP-2"},
    refused(("MT-001", "MT-006", "MT-012", "MT-027", "MT-032", "MT-034"), warn="L08"),
    {"E29": ""} | CLEARED | VERIFY,
)

# --- bath, bench, shots -------------------------------------------------------------------------------

dropping(
    "no second bath result",
    "readings",
    {"object": "MTB-26-07", "time": "15:31"},
    refused(("MT-031", "MT-032", "MT-033"), fail="M04"),
    {"E23": "M03 PASS"} | CLEARED | VERIFY,
)


@mutation(
    "no second bath result, last shot of MT-030 one second late",
    refused(("MT-030", "MT-031", "MT-032", "MT-033"), fail="M04"),
    {"E23": "M03 PASS"} | CLEARED | VERIFY,
)
def _late_shot(day: Day) -> None:
    day.drop("readings", object="MTB-26-07", time="15:31")
    day.set("shots", {"insp": "MT-030", "shot": "3"}, time="15:38:01")
    day.set("demagnetisations", {"insp": "MT-030"}, time="15:38:05")
    day.set("residual_points", {"insp": "MT-030"}, time="15:38:20")
    day.set("ticks", {"about": "MT-030", "time": "15:38"}, time="15:38:30")
    day.set("inspections_mt", {"insp": "MT-030"}, end="15:39", signed_at="15:39:40")
    day.set("reasons", {"insp": "MT-030"}, time="15:39:30")


setting(
    "bath too thin in the afternoon",
    "readings",
    {"object": "MTB-26-07", "time": "15:31"},
    {"value": "0.09"},
    suspended((*(f"MT-{n:03d}" for n in range(1, 29)), "MT-034"), fail="G30")
    | refused(("MT-029",), fail="G30")  # signed in the minute of the reading
    | refused(("MT-030", "MT-031", "MT-032", "MT-033"), fail="M03 M04"),
    {"E23": "M03 FAIL", "E26": "L11 PASS", "E28": "D20 PASS", "E29": "G.3 PASS"},
    {"CT-01": CT01, "CT-02": "MTB-26-07: 30 records, 96 pieces"},
)
setting("bath at the hard limit", "readings", {"object": "MTB-26-07", "time": "15:31"}, {"value": "0.10"})
setting(
    "tube read after 59 min 59 s",
    "readings",
    {"object": "MTB-26-07", "time": "07:38"},
    {"time": "07:35:59"},
    refused((*(f"MT-{n:03d}" for n in range(1, 30)), "MT-034"), fail="M02"),
    {"E26": "L11 PASS", "E28": "D20 PASS", "E29": ""},
)
setting("pump on for 30 min before the sample", "readings", {"object": "MT-01", "quantity": "pump"}, {"time": "06:06"})
setting(
    "pump on for 29 min 59 s before the sample",
    "readings",
    {"object": "MT-01", "quantity": "pump"},
    {"time": "06:06:01"},
    refused((*(f"MT-{n:03d}" for n in range(1, 30)), "MT-034"), fail="M01"),
    {"E26": "L11 PASS", "E28": "D20 PASS", "E29": ""},
)
setting("ring with five holes", "readings", {"object": "MT-01", "quantity": "ring holes at 2500 A"}, {"value": "5"})
setting(
    "ring with four holes",
    "readings",
    {"object": "MT-01", "quantity": "ring holes at 2500 A"},
    {"value": "4"},
    refused(MT, fail="M09"),
    {"E29": ""} | CLEARED | VERIFY,
    nothing_held("MT-01"),
)
ROD = {"insp": "MT-003"}
setting("amps at plus 10 %", "shots", {**ROD, "shot": "1"}, {"amps": "1650+1515"})
setting(
    "amps one over plus 10 %",
    "shots",
    {**ROD, "shot": "1"},
    {"amps": "1651+1515"},
    refused(("MT-003",), fail="M11"),
    VERIFY,
)
setting(
    "amps just under minus 10 %",
    "shots",
    {**ROD, "shot": "1"},
    {"amps": "1349.9+1515"},
    refused(("MT-003",), fail="M11"),
    VERIFY,
)
setting("amps not typed", "shots", {**ROD, "shot": "1"}, {"amps": ""}, refused(("MT-003",), missing="M11 M12"), VERIFY)
setting(
    "pulse too short", "shots", {**ROD, "shot": "1"}, {"pulse_s": "0.7+0.49"}, refused(("MT-003",), fail="M12"), VERIFY
)
setting("pulses at both limits", "shots", {**ROD, "shot": "1"}, {"pulse_s": "0.5+1.5"})
setting(
    "one pulse",
    "shots",
    {**ROD, "shot": "1"},
    {"amps": "1510", "pulse_s": "0.7"},
    refused(("MT-003",), fail="M12"),
    VERIFY,
)
setting(
    "alternating current",
    "shots",
    {**ROD, "shot": "1"},
    {"current_type": "AC"},
    refused(("MT-003",), fail="M13"),
    VERIFY,
)
setting("three turns of five", "shots", {**ROD, "shot": "3"}, {"turns": "3"}, refused(("MT-003",), fail="M20"), VERIFY)
setting("turns not typed", "shots", {**ROD, "shot": "3"}, {"turns": ""}, refused(("MT-003",), missing="M20"), VERIFY)
dropping(
    "the coil shot is missing",
    "shots",
    {**ROD, "shot": "3"},
    refused(("MT-003",), fail="M19", missing="M14 M15 M20 M21 M22 M23"),
    VERIFY,
)
setting(
    "current of another technique, shot not given up",
    "shots",
    {"insp": "MT-013", "time": "11:22"},
    {"void_at": "", "void_reason": ""},
    refused(("MT-013",), fail="M11"),
    {"E07": "M11 FAIL, M11 FAIL"} | VERIFY,
)
dropping(
    "never demagnetised",
    "demagnetisations",
    ROD,
    refused(("MT-003",), missing="G17 G28 M19 M29 M30", warn="M31"),
    VERIFY,
)
setting("residual field at the limit", "residual_points", {**ROD, "point": "beam"}, {"value": "-3.0"})
setting(
    "residual field over the limit",
    "residual_points",
    {**ROD, "point": "beam"},
    {"value": "-3.01"},
    refused(("MT-003",), fail="M30"),
    VERIFY,
)
setting(
    "residual field in millitesla",
    "residual_points",
    {**ROD, "point": "beam"},
    {"value": "0.31", "unit": "mT"},
    refused(("MT-003",), fail="M30"),
    VERIFY,
)
dropping(
    "one residual point not read",
    "residual_points",
    {**ROD, "point": "beam"},
    refused(("MT-003",), missing="M30"),
    VERIFY,
)
setting(
    "residual read before the demagnetisation",
    "residual_points",
    {**ROD, "point": "big end"},
    {"time": "09:06:20"},
    refused(("MT-003",), missing="M30"),
    VERIFY,
)
setting("residual field all zeros", "residual_points", ROD, {"value": "0"}, refused(("MT-003",), warn="M31"), VERIFY)
setting(
    "gaussmeter out of calibration",
    "before/calibrations",
    {"equipment": "GM-1"},
    {"due": "2026-03-09"},
    refused(MT, fail="K10 M30"),
    {"E10": "M30 FAIL, M30 FAIL", "E29": ""} | CLEARED | VERIFY,
)


@mutation(
    "the gear was demagnetised once only", refused(("MT-015",), fail="M30"), {"E10": "M30 FAIL, M30 FAIL"} | VERIFY
)
def _one_demag(day: Day) -> None:
    day.drop("demagnetisations", insp="MT-015", time="12:35")
    day.drop("residual_points", insp="MT-015", time="12:36")


# --- line checks --------------------------------------------------------------------------------------

setting(
    "panel of the Method A line not all seen",
    "readings",
    {"object": "KP-2"},
    {"value": "star 3 not seen"},
    refused(without(LINE_A, *B3), fail="P28 P29") | refused(B3, fail="P28 P29"),
    CLEARED | VERIFY,
    nothing_held("Method A line"),
)
dropping("no panel on the Method D line", "readings", {"object": "KP-3"}, refused(B5, missing="P28 P29"), VERIFY)
setting("dryer at 160 F", "readings", {"object": "dryer"}, {"value": "160"})
setting(
    "dryer at 161 F",
    "readings",
    {"object": "dryer"},
    {"value": "161"},
    refused(PT, fail="P20"),
    CLEARED | VERIFY,
    nothing_held("dryer"),
)
setting(
    "water at 41 psi",
    "readings",
    {"object": "PT line"},
    {"value": "68 F / 41 psi"},
    refused(PT, fail="P15"),
    CLEARED | VERIFY,
    nothing_held("PT line"),
)
setting("ten specks", "readings", {"object": "DEV-a-092"}, {"value": "10"})
setting(
    "eleven specks",
    "readings",
    {"object": "DEV-a-092"},
    {"value": "11"},
    refused(PT, fail="P30"),
    CLEARED | VERIFY,
    nothing_held("DEV-a-092"),
)
setting("remover at 23 %", "readings", {"object": "EMU-031"}, {"value": "23"})
setting(
    "remover at 23.1 %",
    "readings",
    {"object": "EMU-031"},
    {"value": "23.1"},
    refused(B5, fail="P13"),
    VERIFY,
    nothing_held("EMU-031"),
)
setting(
    "water layer in the tank",
    "readings",
    {"object": "PEN-D-064"},
    {"value": "water layer"},
    refused(B5, fail="P31"),
    VERIFY,
    nothing_held("PEN-D-064"),
)
setting(
    "penetrant expired yesterday",
    "before/batches",
    {"batch": "PEN-D-064"},
    {"expires": "2026-03-09"},
    refused(B5, fail="P35"),
    VERIFY,
)
setting("penetrant expires today", "before/batches", {"batch": "PEN-D-064"}, {"expires": "2026-03-10"})
setting(
    "penetrant at 89 % brightness",
    "before/readings",
    {"object": "PEN-D-064", "quantity": "brightness"},
    {"value": "89"},
    refused(B5, fail="P33"),
    VERIFY,
)

# --- people -------------------------------------------------------------------------------------------

setting(
    "vision of L2-B ended yesterday",
    "before/vision",
    {"person": "L2-B"},
    {"expires": "2026-03-09"},
    refused(PT, guarded=True, fail="G13"),
    CLEARED | VERIFY,
)
setting("vision of L2-B ends today", "before/vision", {"person": "L2-B"}, {"expires": "2026-03-10"})
setting(
    "certificate of L2-A ended yesterday",
    "before/certificates",
    {"person": "L2-A", "method": "MT"},
    {"expires": "2026-03-09"},
    # MT-006 stays undecided, so no second record of that rod is opened; without its view L2-A had a break before MT-027
    refused(MT, guarded=True, fail="G12")
    | dict.fromkeys(("MT-027", "MT-028"), f"{UNDECIDED}; fail G12; not yet D13")
    | {"MT-034": "gone"},
    {"E05": "G22 FAIL, G22 FAIL, G22 PASS", "E18": "", "E26": "L11 PASS", "E28": "D20 PASS", "E29": ""},
)
dropping(
    "L2-A did not read the revision",
    "before/read_and_understood",
    {"person": "L2-A", "procedure": "MT-P-01"},
    refused(MT, missing="G16"),
    {"E26": "L11 PASS", "E28": "D20 PASS", "E29": ""},
)
setting(
    "crankshaft authorisation ended yesterday",
    "before/authorisations",
    {"technique": "MT-T-4001"},
    {"valid_to": "2026-03-09"},
    refused(("MT-027",), fail="G14"),
    CLEARED | VERIFY,
)
setting(
    "glasses of L2-A not clear",
    "checkins",
    {"person": "L2-A"},
    {"clear_glasses": "no"},
    refused(MT, fail="G24"),
    {"E26": "L11 PASS", "E28": "D20 PASS", "E29": ""},
)
setting(
    "glasses of L2-A not said",
    "checkins",
    {"person": "L2-A"},
    {"clear_glasses": ""},
    refused(MT, missing="G24"),
    {"E26": "L11 PASS", "E28": "D20 PASS", "E29": ""},
)
setting(
    "viewed by a level 1",
    "inspections_pt",
    {"insp": "PT-027"},
    {"viewer": "L1-D"},
    refused(("PT-027",), fail="G12", missing="G23"),
    CLEARED | VERIFY,
)
setting(
    "viewed by a stranger",
    "inspections_mt",
    ROD,
    {"inspector": "L2-X"},
    refused(("MT-003",), missing="G12 G13 G15 G16 G23 G24"),
    VERIFY,
)
setting("60 s in the dark", "booths", {"time": "08:46", "person": "L2-A"}, {"time": "08:47"})
setting(
    "59 s in the dark",
    "booths",
    {"time": "08:46", "person": "L2-A"},
    {"time": "08:47:01"},
    refused(("MT-002",), fail="G23"),
    VERIFY,
)


@mutation(
    "one person at two parts at once", refused(("MT-003",), fail="G20") | refused(("MT-004",), fail="G10 G20"), VERIFY
)
def _overlap(day: Day) -> None:
    day.set("inspections_mt", {"insp": "MT-004"}, opened_at="09:07", start="09:07")


dropping("no reason for the long stretch", "reasons", {"insp": "MT-008"}, refused(("MT-008",), guarded=True), VERIFY)
setting(
    "second look by the first inspector",
    "second_looks",
    {"sc": "SC-04"},
    {"by": "L2-A"},
    refused(("MT-012",), guarded=True),
    {"E29": ""} | VERIFY,
)
dropping(
    "no second look at the crack",
    "second_looks",
    {"sc": "SC-01"},
    refused(("MT-001",), guarded=True, not_yet="D06 D07"),
    VERIFY,
)
dropping(
    "no second look at the closing of the rework",
    "second_looks",
    {"sc": "SC-07"},
    refused(("MT-034",), guarded=True, not_yet="D07"),
    CLEARED | VERIFY,
)
setting(
    "second size differs by more than 20 %",
    "second_looks",
    {"sc": "SC-01"},
    {"own_len": "0.247"},
    refused(("MT-001",), guarded=True, missing="D08"),
    VERIFY,
)
setting("second size differs by exactly 20 %", "second_looks", {"sc": "SC-01"}, {"own_len": "0.248"})

# --- identity, counts, order --------------------------------------------------------------------------

setting(
    "eleven of twelve inspected",
    "inspections_mt",
    {"insp": "MT-011"},
    {"qty": "11"},
    refused(("MT-011",), fail="G03"),
    VERIFY,
)
setting(
    "thirteen received",
    "receiving",
    {"serial_or_lot": "LOT-148-TAP"},
    {"qty": "13"},
    refused(("MT-011",), fail="G03"),
    VERIFY,
)
setting(
    "a look-alike that nobody told apart",
    "receiving",
    {"serial_or_lot": "FA-0077"},
    {"told_apart": ""},
    refused(("PT-008",), missing="G01 G02 G18"),
)
setting(
    "a split that does not add up",
    "inspections_mt",
    {"insp": "MT-012"},
    {"inspector_decision": "SPLIT 10 ACCEPT / 1 REJECT"},
    refused(("MT-012",), guarded=True),
    {"E29": ""} | VERIFY,
)
GONE = {"E28": "D20 PASS"}
setting("technique of another part", "inspections_mt", ROD, {"technique": "MT-T-6011"}, {"MT-003": "gone"}, GONE)
setting("technique that nobody adopted", "inspections_mt", ROD, {"technique": "MT-T-9999"}, {"MT-003": "gone"}, GONE)
setting(
    "arrived after it was viewed",
    "receiving",
    {"serial_or_lot": "R-7741"},
    {"received_at": "09:30"},
    refused(("MT-003",), fail="G18"),
    VERIFY,
)
setting(
    "signed before the view ended",
    "inspections_mt",
    ROD,
    {"signed_at": "09:07"},
    refused(("MT-003",), guarded=True),
    VERIFY,
)
setting(
    "view ends before it starts: it never ended",
    "inspections_mt",
    ROD,
    {"end": "09:00"},
    refused(without(MT, "MT-001", "MT-002", "MT-003"), missing="G20")
    | refused(("MT-003",), missing="G20 G26 G27 L11", warn="G22"),
    {"E29": ""} | CLEARED | VERIFY,
)
setting(
    "lamp of the other booth",
    "inspections_mt",
    ROD,
    {"lamps": "LP-3"},
    refused(("MT-003",), fail="G30 L11 L16"),
    VERIFY | {"E11": "L02 FAIL, L12 FAIL", "E13": "P41 PASS"},
    {"CT-01": "LP-3: 18 records, 19 pieces, second looks SC-03 SC-10 SC-11"},
)
setting(
    "a zone not ticked",
    "inspections_mt",
    ROD,
    {"zones": "BOLT-SEATS+BIG-END-BORE+BEAM-FLANGE+OIL-HOLE"},
    refused(("MT-003",), missing="G26"),
    VERIFY,
)
setting(
    "nothing said about what was seen",
    "inspections_mt",
    ROD,
    {"nothing_seen": ""},
    refused(("MT-003",), missing="G27"),
    VERIFY,
)
dropping("no look before cleaning", "before/ticks", {"about": "R-7741"}, refused(("MT-003",), missing="G09"), VERIFY)
dropping("clean not ticked", "ticks", {"about": "MT-003", "item": "clean"}, refused(("MT-003",), missing="G10"), VERIFY)
dropping(
    "preservation not ticked",
    "ticks",
    {"about": "MT-003", "item": "post-process: preserve"},
    refused(("MT-003",), missing="G28"),
    VERIFY,
)
dropping(
    "arc burn not looked for",
    "ticks",
    {"about": "MT-003", "item": "no arc burn after head shot"},
    refused(("MT-003",), missing="M25"),
    VERIFY,
)
setting(
    "eight plugs of nine came out",
    "plugs",
    {"insp": "MT-027", "direction": "out"},
    {"count": "8"},
    refused(("MT-027",), fail="G29"),
    CLEARED | VERIFY,
)
setting(
    "directive not answered",
    "directives",
    {"wo": "W26-0148"},
    {"answered": "no"},
    refused((*W148_MT, *B1, *B2, *B3, *B5), missing="G08"),
    {"E29": ""} | CLEARED | VERIFY,
)

# --- indications, rework, places ----------------------------------------------------------------------

setting("blend at the limit", "rework", {"insp": "MT-006"}, {"depth_in": "0.010"}, {}, {"E18": "D10 PASS, D11 PASS"})
setting(
    "blend too deep",
    "rework",
    {"insp": "MT-006"},
    {"depth_in": "0.011"},
    refused(("MT-006", "MT-034"), fail="D10"),
    {"E18": "D10 FAIL, D11 PASS"} | CLEARED | VERIFY,
)
setting("beam at the limit", "rework", {"insp": "MT-006"}, {"value_in": "0.540"}, {}, {"E18": "D10 PASS, D11 PASS"})
setting(
    "beam too thin",
    "rework",
    {"insp": "MT-006"},
    {"value_in": "0.539"},
    refused(("MT-006", "MT-034"), fail="D10"),
    {"E18": "D10 FAIL, D11 PASS"} | CLEARED | VERIFY,
)
setting(
    "blended after the re-inspection began",
    "rework",
    {"insp": "MT-006"},
    {"ended": "13:11"},
    refused(("MT-006", "MT-034"), fail="D11"),
    {"E18": "D10 NOT YET, D11 NOT RECORDED"} | CLEARED | VERIFY,
)
dropping(
    "no rework recorded before its re-inspection",
    "rework",
    {"insp": "MT-006"},
    refused(("MT-034",), missing="D10 D11"),
    {"E18": "D10 NOT RECORDED, D11 NOT RECORDED"} | CLEARED | VERIFY,
)
setting(
    "rework not ended",
    "rework",
    {"insp": "MT-006"},
    {"ended": ""},
    refused(("MT-006", "MT-034"), missing="D11", not_yet="D10"),
    {"E18": "D10 NOT YET, D11 NOT RECORDED"} | CLEARED | VERIFY,
)
setting(
    "blended by the inspector",
    "rework",
    {"insp": "MT-006"},
    {"by": "L2-A"},
    {"MT-006": "REWORK; fail D13", "MT-034": "NO DECISION; not yet D13"},
    CLEARED | VERIFY,
)
setting(
    "beam not measured",
    "rework",
    {"insp": "MT-006"},
    {"value_in": ""},
    refused(("MT-006", "MT-034"), missing="D10"),
    {"E18": "D10 NOT RECORDED, D11 PASS"} | CLEARED | VERIFY,
)
setting(
    "two pieces under one serial number", "inspections_mt", ROD, {"qty": "2"}, refused(("MT-003",), fail="G03"), VERIFY
)
setting("a width of a third of the length is linear", "indications", {"ind": "IND-05"}, {"wid_in": "0.30"})
setting(
    "too wide for linear",
    "indications",
    {"ind": "IND-05"},
    {"wid_in": "0.31"},
    refused(("MT-015",), guarded=True, fail="D03"),
    VERIFY,
)
setting(
    "length not measured",
    "indications",
    {"ind": "IND-05"},
    {"len_in": ""},
    refused(("MT-015",), guarded=True, missing="D01 D03"),
    VERIFY,
)
setting(
    "magnetic writing that came back",
    "indication_tests",
    {"ind": "IND-03", "step": "re-shot"},
    {"outcome": "returned"},
    refused(("MT-014",), guarded=True, missing="D02 D12"),
    {"E09": "D02 NOT RECORDED, D02 NOT RECORDED"} | VERIFY,
)
setting(
    "looked again one second too early",
    "indication_tests",
    {"ind": "IND-08", "step": "redeveloped"},
    {"time": "11:47:59"},
    refused(("PT-016",), guarded=True, fail="P26"),
    CLEARED | VERIFY,
)
setting(
    "four pores in line",
    "indications",
    {"ind": "IND-07"},
    {
        "marks": "P1:1.000:2.000:0.03:0.03; P2:1.078:2.004:0.03:0.03; P3:1.150:1.998:0.028:0.028; P4:1.225:2.000:0.03:0.03"
    },
    refused(("PT-003",), guarded=True, fail="D04 D05 D12"),
)
dropping("no photograph of the crack", "photos", {"ind": "IND-01"}, {"MT-001": "REJECT; missing D06"}, VERIFY)
setting(
    "photographs without a scale",
    "photos",
    {"ind": "IND-01"},
    {"scale_in_frame": "no"},
    {"MT-001": "REJECT; missing D06"},
    VERIFY,
)
dropping(
    "reject not in quarantine",
    "locations",
    {"serial_or_lot": "6H-C-3391", "place": "quarantine"},
    refused(("MT-001",), guarded=True),
    VERIFY,
)
dropping(
    "cylinder reject not in quarantine",
    "locations",
    {"serial_or_lot": "CY-3102", "place": "quarantine"},
    refused(("PT-024",), guarded=True),
    {"E21": "D09 NOT RECORDED, D09 NOT RECORDED"} | VERIFY,
)
dropping(
    "cover never went to assembly",
    "locations",
    {"serial_or_lot": "OPC-0205", "place": "assembly"},
    {},
    {"E13": "P41 PASS"},
)
setting(
    "cover went to assembly unsaid: the scan is refused while the acceptance is provisional",
    "locations",
    {"serial_or_lot": "OPC-0205", "place": "assembly"},
    {"reason": ""},
    {},
    {"E13": "P41 PASS"},
)
setting(
    "cover was shipped",
    "locations",
    {"serial_or_lot": "OPC-0205", "place": "assembly"},
    {"place": "shipped"},
    {},
    {"E13": "P41 PASS"},
)
dropping(
    "housing not cleaned: a re-view is lawful",
    "locations",
    {"serial_or_lot": "AH-0412", "place": "post-clean"},
    {},
    {"E13": "P41 PASS"},
)
setting(
    "head cleaned before its re-view",
    "locations",
    {"serial_or_lot": "CY-4401", "place": "post-clean"},
    {"time": "12:00"},
    suspended(("PT-012",), fail="P41"),
    {"E13": "P41 PASS", "E30": "G05 FAIL"} | CLEARED | VERIFY,
)


@mutation(
    "the same crack on the same half last time",
    {"PT-001": "HOLD-ENG suspended; fail G30 L11; missing D05; not yet D07; warn D17"},
)
def _same_place(day: Day) -> None:
    day.copy(
        "before/history",
        {"serial": "CC-L-0469"},
        serial="CC-L-0871",
        date="2025-08-01",
        work_order="W25-0500",
        clock_deg="170",
    )


# --- rows twice, other offsets -----------------------------------------------------------------------

mutation("an inspection twice")(lambda day: day.copy("inspections_mt", ROD))
mutation("a receiving row twice")(lambda day: day.copy("receiving", {"serial_or_lot": "R-7741"}))
mutation("a demagnetisation twice")(lambda day: day.copy("demagnetisations", ROD))
mutation("a tick twice")(lambda day: day.copy("ticks", {"about": "MT-003", "item": "clean"}))
mutation("a lamp reading twice")(lambda day: day.copy("readings", {"object": "LP-1", "time": "06:40"}))
mutation("a second look twice")(lambda day: day.copy("second_looks", {"sc": "SC-02"}))
mutation("a coil shot twice")(lambda day: day.copy("shots", {**ROD, "shot": "3"}))
mutation("an unknown part in receiving")(
    lambda day: day.copy("receiving", {"serial_or_lot": "R-7741"}, serial_or_lot="R-9999", part_no="T9-99999")
)


@mutation("the shop one hour further west")
def _offset(day: Day) -> None:
    day.toml = day.toml.replace('utc_offset = "-05:00"', 'utc_offset = "-06:00"')
