"""A small invented shop on a real record book: its morning, and complete records built through the use cases.

Everything goes in as a person would put it in, at a time that the test sets.
A record is a list of named steps, so that a test leaves one out or changes it.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from ndi.services import deciding, inspecting, receiving, recording
from ndi.services.judging import Judgement, judge
from ndi.services.ports import InspectionRow
from ndi.services.workplace import Workplace
from tests import build as b
from tests.build import num

F = TypeVar("F", bound=f.Fact)

STATION = "BENCH 1"
ORDER = "W26-0148"
GEAR, GEAR_SHEET = "T6-10501", "MT-T-6050"  # class 1, serial numbers
IDLERS, IDLERS_SHEET = "T6-10503", "MT-T-6052"  # class 2, lots
SUMP, SUMP_SHEET = "T6-11020", "PT-T-6111"  # class 2, serial numbers, penetrant
CYLINDER = "T6-12001"  # head by penetrant, barrel by magnetic particle
LINE = "Method A line"

_FILES = (
    "MT-P-01/rev-F.toml",
    "PT-P-01/rev-D.toml",
    *(f"parts/{number}.toml" for number in (GEAR, "T6-10502", IDLERS, "T6-10504", SUMP, CYLINDER)),
    *(
        f"techniques/{number}.toml"
        for number in (GEAR_SHEET, "MT-T-6051", IDLERS_SHEET, SUMP_SHEET, "PT-T-6120", "MT-T-6120")
    ),
)


class SetClock:
    """Stands at the time of the demonstration day that it was set to; both clocks move together."""

    def __init__(self) -> None:
        self.at, self.offset = b.at("05:00").at, b.OFFSET

    def now(self) -> datetime:
        return self.at

    def offset_min(self) -> int:
        return self.offset

    def boot_ms(self) -> int:
        return int((self.at - datetime(2026, 1, 1, tzinfo=UTC)).total_seconds() * 1000)

    def boot_id(self) -> str:
        return "boot-a"


@dataclass(frozen=True)
class Step:
    """One thing that a person does: seconds after the record was opened, and the call."""

    name: str
    seconds: int
    make: Callable[[], object]


class Shop:
    """The shop at one station, with a clock to set."""

    def __init__(self, work: Workplace, clock: SetClock) -> None:
        self.work, self.clock = work, clock

    def close(self) -> None:
        self.work.book.close()  # type: ignore[attr-defined]

    # --- time -------------------------------------------------------------------------------------

    def at(self, text: str, day: str = b.DAY) -> Shop:
        """Set the clock to a local time of the day."""
        self.clock.at = b.at(text, day).at
        return self

    def after(self, seconds: int) -> Shop:
        self.clock.at += timedelta(seconds=seconds)
        return self

    # --- reading ----------------------------------------------------------------------------------

    def row(self, inspection: str) -> InspectionRow:
        with self.work.book.session(readonly=True) as session:
            return session.inspection(inspection)

    def judge(self, inspection: str, **about: Any) -> Judgement:
        with self.work.book.session(readonly=True) as session:
            return judge(self.work, session, inspection, **about)

    def facts(self, kind: type[F], subject: str | None = None) -> list[Recorded[F]]:
        with self.work.book.session(readonly=True) as session:
            found = session.of_kind(kind) if subject is None else session.facts(subject, [kind])
        return found  # type: ignore[return-value]

    def head(self) -> int:
        with self.work.book.session(readonly=True) as session:
            return session.head().position

    def since(self, position: int) -> list[f.Fact]:
        """Every fact after a position, in the book's order."""
        with self.work.book.session(readonly=True) as session:
            return [session.entry(n).fact for n in range(position + 1, session.head().position + 1)]

    # --- doing ------------------------------------------------------------------------------------

    def record(self, *facts: f.Fact, by: str = "L2-A", **more: Any) -> tuple[Recorded[f.Fact], ...]:
        return recording.record(self.work, facts, by, **more)

    def read_lamp(
        self, lamp: str, value: str, *, when: Moment | None = None, why: str | None = None, **changed: Any
    ) -> Recorded[f.Fact]:
        confirmed = changed.pop("confirmed", False)
        base: dict[str, Any] = {"condition": "as-found", "meter": "RM-1", "distance": num("15 in")}
        reading = f.ReadingRecorded(
            lamp, "UV-A at 15 in", num(value if " " in value else f"{value} uW/cm2"), **{**base, **changed}
        )
        return recording.record_reading(self.work, reading, "L1-D", when=when, why=why, confirmed=confirmed)

    def receive(self, part_no: str, name: str, quantity: int = 1, *, lot: bool = False) -> str:
        """List, receive and clean one part or lot at the present time; its key."""
        key = receiving.part_key(ORDER, part_no, name)
        listed = f.PartListed(key, ORDER, part_no, quantity, None if lot else name, name if lot else None)
        self.record(listed, by="RCV-H")
        receiving.receive(self.work, key, "RCV-H", quantity=quantity, typed_twice=True, scanned=None)
        self.record(*(f.ConfirmationGiven(key, item, value) for item, value in PART_TICKS), by="CLN-J")
        return key

    def play(self, steps: Iterable[Step]) -> None:
        """Do the steps, each at its time after now."""
        begin = self.clock.at
        for step in sorted(steps, key=lambda s: s.seconds):
            self.clock.at = max(self.clock.at, begin + timedelta(seconds=step.seconds))
            step.make()

    def sign(self, inspection: str, disposition: str = "ACCEPT", person: str = "L2-A", **more: Any) -> Judgement:
        return deciding.sign_decision(self.work, inspection, person, disposition, **more)

    # --- whole records ----------------------------------------------------------------------------

    def magnetic_steps(
        self, inspection: str, part: str, sheet: str, quantity: int = 1, *, nothing_seen: bool = True, **more: Any
    ) -> list[Step]:
        """Opening to post-process of a magnetic particle record of the gear or of a lot of idlers; 16 minutes."""
        do, view = self.record, f"{inspection}/view"
        zones = ("TOOTH-RIM", "WEB", "BORE", "KEYWAY")
        points = ("gear seat bore", "tooth rim") if sheet == GEAR_SHEET else ("bore", "tooth rim")
        amps = ("1200", "1200", "1200", "1000") if sheet == GEAR_SHEET else ("1000", "1000")
        opening = {"quantity": quantity, "station": "MT booth", **more}
        steps = [
            Step("open", 0, lambda: inspecting.open_inspection(self.work, inspection, part, sheet, "L2-A", **opening)),
            Step("clean", 10, lambda: do(f.ConfirmationGiven(inspection, "clean"))),
            Step("dry", 10, lambda: do(f.ConfirmationGiven(inspection, "dry"))),
            Step("trapped", 10, lambda: do(f.ConfirmationGiven(inspection, "bearings and trapped parts removed"))),
        ]
        for number, current in enumerate(amps, start=1):
            shot = self._shot(inspection, number, current, coil=number == len(amps))
            steps.append(Step(f"shot {number}", 30 * number, lambda shot=shot: do(shot)))  # type: ignore[misc]
        steps += [
            Step("arc", 150, lambda: do(f.ConfirmationGiven(inspection, "no arc burn after head shot"))),
            Step("spaced", 150, lambda: do(f.ConfirmationGiven(inspection, "spaced on the bar, viewed all round"))),
            Step("closed", 60, lambda: do(f.BoothClosed("MT booth", "L2-A"))),
            Step(
                "view",
                180,
                lambda: inspecting.start_view(self.work, view, inspection, "L2-A", ["LP-1"], station="MT booth"),
            ),
            Step("view end", 780, lambda: inspecting.end_view(self.work, view, zones=zones, nothing_seen=nothing_seen)),
            Step("demag", 810, lambda: do(f.Demagnetised(inspection, "reversing step-down"))),
            *(
                Step(f"residual {p}", 840, lambda p=p: do(f.ResidualRead(inspection, p, num("1 G"), "GM-1", True)))
                for p in points
            ),  # type: ignore[misc]
            *(
                Step(f"post {w}", 900, lambda w=w: do(f.ConfirmationGiven(inspection, f"post-process: {w}")))
                for w in ("clean", "dry", "preserve")
            ),  # type: ignore[misc]
        ]
        return steps

    def _shot(self, inspection: str, number: int, amps: str, *, coil: bool) -> f.ShotFired:
        pulse = f.Pulse(num(f"{amps} A"), num("0.7 s"))
        fired = f.ShotFired(inspection, "MT-01", number, (pulse, pulse), "FWDC", "continuous", 5 if coil else None)
        # gear or two idlers in the middle of the coil, between extensions of their own diameter
        return replace(fired, position=num("1 in"), extension=num("8 in"), stacked=2) if coil else fired

    def gear(self, inspection: str = "MT-001", serial: str = "CG-1") -> str:
        """A class 1 gear without indications, ready to be signed 16 minutes from now."""
        self.play(self.magnetic_steps(inspection, self.receive(GEAR, serial), GEAR_SHEET))
        self.after(30)
        return inspection

    def idlers(self, inspection: str = "MT-002", lot: str = "LOT-1", quantity: int = 12, **more: Any) -> str:
        """A class 2 lot, ready to be signed; needs 16 minutes of viewing for 12 pieces."""
        part = self.receive(IDLERS, lot, quantity, lot=True)
        longer = {"view end": 1380, "demag": 1400, "residual bore": 1410, "residual tooth rim": 1420}
        steps = self.magnetic_steps(inspection, part, IDLERS_SHEET, quantity, **more)
        self.play(
            Step(s.name, longer.get(s.name, 1440 if s.name.startswith("post") else s.seconds), s.make) for s in steps
        )
        self.after(30)
        return inspection

    def crack(
        self,
        inspection: str,
        part: str,
        indication: str = "IND-01",
        *,
        piece: str | None = None,
        zone: str = "WEB",
        at: tuple[str, str] | None = None,
    ) -> None:
        """A relevant linear indication with all its evidence but the second look, and the piece in quarantine.

        ``at``: its place on the outline, in millimetres.
        """
        seen = f.IndicationSeen(
            indication,
            inspection,
            zone,
            "at 90 deg",
            "linear",
            num("0.20 in"),
            num("0.01 in"),
            "radial",
            num("90 deg"),
            piece,
            x_mm=num(f"{at[0]} mm") if at else None,
            y_mm=num(f"{at[1]} mm") if at else None,
        )
        self.record(seen)
        self.record(
            f.IndicationTested(indication, "wiped", "returned"), f.IndicationTested(indication, "re-shot", "returned")
        )
        inspecting.interpret(
            self.work, f.IndicationInterpreted(indication, "relevant", "returned, sharp", "grinding crack"), "L2-A"
        )
        self.record(
            f.IndicationEvaluated(indication, "over limit", "none allowed"),
            f.PartMoved(part, "quarantine", None, piece),
        )

    def second_look(
        self, inspection: str, indication: str | None, name: str = "SC-01", person: str = "L2-C", **saved: Any
    ) -> None:
        """A blind second look of two minutes under LP-1."""
        self.record(f.BoothClosed("MT booth", person), by=person)
        self.after(90)
        inspecting.start_view(
            self.work, name, inspection, person, ["LP-1"], kind="second look", station="MT booth", indication=indication
        )
        self.after(120)
        inspecting.end_view(self.work, name)
        inspecting.save_second_look(self.work, f.SecondLookSaved(name, inspection, person, indication, **saved))

    def sump_steps(self, inspection: str, part: str, basket: str, lamp: str = "LP-3", attempt: int = 1) -> list[Step]:
        """A penetrant record alone in its basket, to the end of the view; 65 minutes."""
        do, view = self.record, f"{inspection}/view {attempt}"
        zones = ("FLANGE", "WALLS", "DRAIN-BOSS", "INDUCTION-BOSS", "PICKUP-BOSS")
        tick = f.ConfirmationGiven

        def line(name: str, seconds: int, *facts: f.Fact) -> Step:
            return Step(name, seconds, lambda: do(*facts, by="L1-D"))

        def span(step: str, start: int, end: int, outcome: str | None = None) -> list[Step]:
            first = line(f"{step} start", start, f.StepStarted(basket, step, 1))
            return [first, line(f"{step} end", end, f.StepEnded(basket, step, outcome))]

        opening = {"quantity": 1, "station": "PT booth"}
        steps = (
            []
            if attempt > 1
            else [
                Step(
                    "open",
                    0,
                    lambda: inspecting.open_inspection(self.work, inspection, part, SUMP_SHEET, "L2-B", **opening),
                )
            ]
        )
        return [
            *steps,
            line("load", 10, f.BasketLoaded(basket, "A", LINE, (inspection,), attempt)),
            line(
                "clean and dry",
                20,
                tick(inspection, "clean"),
                tick(inspection, "dry"),
                tick(basket, "dry before wetting"),
            ),
            line("wetted", 30, tick(basket, "wetted by", "flow"), tick(basket, "no contact, cavities drain")),
            *span("wet", 60, 120),
            line("temperature", 60, f.StepObserved(basket, "wet", "part temperature", num("72 degF"))),
            *span("wash", 2040, 2160, "clean"),
            line("nozzle", 2040, f.StepObserved(basket, "wash", "nozzle distance", num("14 in"))),
            line("still wet", 2040, tick(basket, "penetrant did not dry on")),
            line("rinse", 2160, tick(basket, "rinse checked under UV-A")),
            *span("dry", 2190, 3000),
            line("dry out", 3000, tick(basket, "dry at dryer out")),
            *span("develop", 3030, 3060),
            line("developer", 3060, tick(basket, "developer form", "a"), tick(basket, "developer on all zones")),
            Step("closed", 3540, lambda: do(f.BoothClosed("PT booth", "L2-B"), by="L2-B")),
            Step(
                "view",
                3720,
                lambda: inspecting.start_view(self.work, view, inspection, "L2-B", [lamp], station="PT booth"),
            ),
            Step("view end", 4200, lambda: inspecting.end_view(self.work, view, zones=zones, nothing_seen=True)),
        ]

    def sump(self, inspection: str = "PT-001", serial: str = "SP-1", basket: str = "B1", lamp: str = "LP-3") -> str:
        """A penetrant record ready to be signed by L2-B 71 minutes from now."""
        self.play(self.sump_steps(inspection, self.receive(SUMP, serial), basket, lamp))
        self.after(30)
        return inspection


PART_TICKS = (
    ("pre-clean visual", "yes"),
    ("cleaning started", "yes"),
    ("visible dye history", "never"),
    ("worked since last etch", "no"),
)


# --- the shop before its first record --------------------------------------------------------------


def documents(folder: Path, files: Iterable[str] = _FILES) -> list[receiving.Document]:
    """The few procedures, techniques and parts that the shop works with."""
    source = bootstrap.data_folder("procedures")
    for name in files:
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(source / name, target)
    return bootstrap.library_documents(folder)


def begin(folder: Path, *, adapt: Callable[[Path], None] | None = None) -> None:
    """A book in ``folder`` that stands at 07:50 of the day: people, equipment, checks and readings are in.

    ``adapt`` may change the files of procedures, techniques and parts before they are adopted.

    A practice book: the rules are the same, and nobody types a secret at each signature.
    """
    clock = SetClock()
    work = bootstrap.new_book(folder / "shop.book", shop="TEST", station=STATION, practice=True, clock=clock)
    why = "kept on paper before this book"
    recording.transcribe(work, _people(), person="SUP-F", why=why)
    adopted = documents(folder / "procedures")
    if adapt is not None:
        adapt(folder / "procedures")
        adopted = bootstrap.library_documents(folder / "procedures")
    receiving.adopt(work, adopted, "NL3-E")
    recording.transcribe(work, [*_equipment(), *_history()], person="SUP-F", why=why)
    _morning(Shop(work, clock))
    Shop(work, clock).close()


def open_copy(source: Path, target: Path) -> Shop:
    """A copy of a book, opened, with a clock at 07:50."""
    shutil.copytree(source, target, dirs_exist_ok=True, ignore=shutil.ignore_patterns("procedures"))
    clock = SetClock()
    shop = Shop(bootstrap.open_book(target / "shop.book", station=STATION, clock=clock), clock)
    return shop.at("07:50")


def _people() -> list[tuple[f.Fact, Moment]]:
    long_ago = b.at("08:00", "2026-02-01")
    roles = {
        "NL3-E": ("level3",),
        "L2-A": ("inspector",),
        "L2-B": ("inspector",),
        "L2-C": ("inspector", "second"),
        "L1-D": ("operator",),
    }
    roles |= {"RCV-H": ("receiving",), "CLN-J": ("cleaner",), "SUP-F": ("supervisor",), "RWK-N": ("rework",)}
    found: list[f.Fact] = [f.PersonEntered(person, held) for person, held in roles.items()]
    levels = {"NL3-E": 3, "L2-A": 2, "L2-B": 2, "L2-C": 2, "L1-D": 1, "SUP-F": 2}
    for person, level in levels.items():
        found += [certificate(person, method, level) for method in ("MT", "PT")]
        found.append(f.VisionExamEntered(person, date(2025, 9, 15), date(2026, 9, 14)))
        found += [f.RevisionRead(person, number, revision) for number, revision in (("MT-P-01", "F"), ("PT-P-01", "D"))]
    return [(fact, long_ago) for fact in found]


def certificate(
    person: str, method: str, level: int, *, issued: date = date(2023, 3, 6), expires: date = date(2028, 3, 5)
) -> f.CertificateEntered:
    return f.CertificateEntered(person, method, level, issued, expires)


def calibration(
    asset: str, item: str, done: date = date(2025, 9, 20), due: date = date(2026, 9, 20), **more: Any
) -> f.CalibrationRecorded:
    return f.CalibrationRecorded(asset, item, done, due, "within tolerance", **more)


def lamp(name: str, place: str = "MT booth") -> f.EquipmentEntered:
    return f.EquipmentEntered(name, "lamp", place, battery_powered=False, lamp_type="LED")


def _equipment() -> list[tuple[f.Fact, Moment]]:
    long_ago = b.at("09:00", "2026-02-01")
    alloys = ("aluminium", "steel")
    found: list[f.Fact] = [
        f.EquipmentEntered(
            "MT-01",
            "bench",
            "MT booth",
            current_type="FWDC",
            max_amps=num("4000 A"),
            coil_turns=5,
            tank_bath="MTB-1",
            coil_diameter=num("12 in"),
        ),
        f.EquipmentEntered("MTB-1", "bath", "MT-01", vehicle="oil"),
        *(lamp(name) for name in ("LP-1", "LP-2")),
        *(lamp(name, "PT booth") for name in ("LP-3", "LP-4")),
        f.EquipmentEntered(LINE, "line", wash_station="wash station", water="PT line", dryer="dryer"),
        *(calibration(meter, "UV-A channel") for meter in ("RM-1", "GM-1")),
        calibration("RM-2", "UV-A channel", date(2025, 3, 6), date(2026, 3, 6)),
        *(calibration("MT-01", item) for item in ("ammeter", "shot timer", "quick break")),
        f.BatchEntered("PEN-1", "penetrant", date(2026, 12, 31), "FP-1", "1", "A", "2", alloys=alloys),
        f.BatchEntered("DEV-1", "developer", date(2026, 12, 31), "FP-1", form="a", alloys=alloys),
        f.TankFilled(LINE, ("PEN-1", "DEV-1")),
    ]
    return [(fact, long_ago) for fact in found]


def _history() -> list[tuple[f.Fact, Moment]]:
    day = b.at("09:00", "2026-03-05")
    check = f.ProcessCheckRecorded
    found: list[f.Fact] = [
        f.TankFilled("MT-01", ("MTB-1",)),
        *(check("lamp integrity", name, True) for name in ("LP-1", "LP-2", "LP-3", "LP-4")),
        check("bath contamination", "MTB-1", True),
        check("restore test", "record copies", True),
        check("vehicle and viscosity", "MTB-1", True),
        check("removability and sensitivity", "PEN-1", True, LINE),
        f.ReadingRecorded("PEN-1", "water content", num("1.5 %")),
        f.ReadingRecorded("PEN-1", "brightness", num("98 %")),
    ]
    yesterday = [f.EquipmentSwitched("MT-01", "on"), f.EquipmentSwitched("MT-01", "off")]
    times = [b.at("06:00", "2026-03-09"), b.at("21:00", "2026-03-09")]
    return [*((fact, day) for fact in found), *zip(yesterday, times, strict=True)]


def _morning(shop: Shop) -> None:
    """From 06:00 to 07:50: switched on, read, checked in, checked; the booth is dark at 07:49."""
    shop.at("06:00").record(
        f.WorkOrderOpened(ORDER, "Tavelin 6H-515", "6H-0231", "overhaul", "service limits"),
        f.DirectivesConfirmed(ORDER, ()),
        by="NL3-E",
    )
    for person, station in (
        ("L2-A", "MT booth"),
        ("L2-B", "PT booth"),
        ("L2-C", "MT booth"),
        ("NL3-E", None),
        ("SUP-F", None),
    ):
        recording.check_in(shop.work, person, station=station, clear_glasses=True)
    shop.at("06:02").record(
        *(f.EquipmentSwitched(asset, "on") for asset in ("MT-01", "LP-1", "LP-2", "LP-3", "LP-4")), by="L1-D"
    )
    shop.at("06:36").record(f.BathSampled("MTB-1", True))
    for name in ("LP-1", "LP-2", "LP-3", "LP-4"):
        shop.at("06:40").read_lamp(name, "1700")
    reading = f.ReadingRecorded
    for fact in (
        *(
            reading(booth, "ambient visible", num("0.9 fc"), meter="RM-1", screen_on=True)
            for booth in ("MT booth", "PT booth")
        ),
        reading("wash station", "UV-A at part", num("180 uW/cm2"), meter="RM-1"),
        reading("wash station", "ambient visible", num("4.0 fc"), meter="RM-1"),
        reading("PT line", "water temperature", num("68 degF")),
        reading("PT line", "water pressure", num("28 psi")),
        reading("dryer", "dryer temperature", num("150 degF")),
        reading("DEV-1", "specks", num("2 pcs")),
    ):
        recording.record_reading(shop.at("06:45").work, fact, "L1-D")
    recording.record_check(shop.at("06:52").work, f.ProcessCheckRecorded("penetrant tank look", "PEN-1", True), "L1-D")
    panel = f.ProcessCheckRecorded("known-defect panel", "KP-2", True, LINE, ("PEN-1",), compared_with_reference=True)
    recording.record_check(shop.at("07:31").work, panel, "L2-B")
    concentration = reading("MTB-1", "bath concentration", num("0.20 mL"), contamination=num("0.01 mL"))
    recording.record_reading(shop.at("07:38").work, concentration, "L2-A")
    ring = f.ProcessCheckRecorded("tool-steel ring", "MT-01", True, holes=6, amps=num("2500 A"))
    recording.record_check(shop.at("07:44").work, ring, "L2-A")
    shop.at("07:49").record(f.BoothClosed("MT booth", "L2-A"))
