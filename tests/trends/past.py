"""Writes years of readings, shots, looks and visits straight into the journal: only what a study reads of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from itertools import count

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained
from ndi.domain.moment import Moment
from ndi.services.workplace import Workplace
from tests import build as b
from tests.build import num
from tests.services.shop import GEAR, GEAR_SHEET, ORDER, Shop, lamp

LAMP = "LP-90"
BATH, BENCH = "MTB-90", "MT-90"
PEOPLE = ("L2-A", "L2-B", "L2-C", "NL3-E", "L1-D", "SUP-F")


def on(day: str, clock: str = "06:42") -> Moment:
    return b.at(clock, day)


def after(first: str, days: int) -> str:
    """The day so many days after one."""
    return (date.fromisoformat(first) + timedelta(days=days)).isoformat()


class Past:
    """The journal of one shop, written without the use cases; nothing written here is judged."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self._records = count(1)
        shop.at("06:30")
        entered = on("2026-02-01", "09:00")
        bench = f.EquipmentEntered(BENCH, "bench", "MT booth", tank_bath=BATH)
        self.put(
            (lamp(LAMP), entered), (f.EquipmentEntered(BATH, "bath", BENCH, vehicle="oil"), entered), (bench, entered)
        )

    @property
    def work(self) -> Workplace:
        return self.shop.work

    def put(self, *pairs: tuple[f.Fact, Moment], by: str = "L2-A") -> None:
        drafts = [Draft(fact, when, by, Obtained.TRANSCRIBED, why="kept on paper") for fact, when in pairs]
        with self.work.book.session() as session:
            session.append(drafts)
            session.commit()

    # --- readings ---------------------------------------------------------------------------------

    def lamp_read(
        self,
        first: str,
        days: Sequence[int],
        values: Iterable[float | str],
        *,
        condition: str = "as-found",
        distance: str = "15 in",
        clock: str = "06:42",
    ) -> None:
        pairs = zip(days, values, strict=True)
        self.put(
            *(
                (
                    f.ReadingRecorded(LAMP, "UV-A at 15 in", num(f"{value} uW/cm2"), condition, "RM-1", num(distance)),
                    on(after(first, day), clock),
                )
                for day, value in pairs
            )
        )

    def read(self, object_: str, quantity: str, first: str, values: Iterable[str]) -> None:
        """One reading a day, each with its unit."""
        self.put(
            *(
                (f.ReadingRecorded(object_, quantity, num(value)), on(after(first, day)))
                for day, value in enumerate(values)
            )
        )

    # --- records ----------------------------------------------------------------------------------

    def record(
        self, day: str = "2026-03-01", *, part_no: str = GEAR, quantity: int = 1, method: str = "MT", order: str = ORDER
    ) -> str:
        """Opened and nothing else."""
        number = next(self._records)
        name, part = f"{method}-9{number:03d}", f"{order}/{part_no}/S-{number}"
        procedure, revision = ("MT-P-01", "F") if method == "MT" else ("PT-P-01", "D")
        self.put(
            (f.PartListed(part, order, part_no, quantity, f"S-{number}"), on(day, "05:00")),
            (
                f.InspectionOpened(
                    name, part, order, quantity, method, GEAR_SHEET, "1", procedure, revision, "L2-A", "MT booth"
                ),
                on(day, "05:01"),
            ),
        )
        return name

    def order(self, name: str, hours: str | None, day: str = "2026-02-20") -> None:
        self.put(
            (f.WorkOrderOpened(name, "Tavelin 6H-515", f"E-{name}", "overhaul", "new limits", "4000", hours), on(day))
        )

    def relevant(
        self,
        record: str,
        indication: str,
        *,
        zone: str = "WEB",
        clock: str | None = None,
        type_: str = "fatigue crack",
        length: str | None = "0.20",
        day: str = "2026-03-01",
        call: str = "relevant",
        piece: str | None = None,
        place: tuple[str, str] | None = None,
    ) -> None:
        seen = f.IndicationSeen(
            indication,
            record,
            zone,
            None,
            "linear",
            num(f"{length} in") if length else None,
            None,
            clock=num(f"{clock} deg") if clock is not None else None,
            piece=piece,
            x_mm=num(f"{place[0]} mm") if place else None,
            y_mm=num(f"{place[1]} mm") if place else None,
        )
        self.put(
            (seen, on(day, "05:10")),
            (f.IndicationInterpreted(indication, call, "returned", type_), on(day, "05:12")),
        )

    def look(self, record: str, indication: str | None = None, *, day: str = "2026-03-01", **saved: object) -> None:
        """A second look, saved."""
        name = f"SC-9{next(self._records):03d}"
        fact = f.SecondLookSaved(name, record, "L2-C", indication, **saved)  # type: ignore[arg-type]
        self.put((fact, on(day, "05:30")), by="L2-C")

    def shots(self, record: str, first: Moment, number: int) -> Moment:
        """So many shots, one a minute; the time of the last one."""
        pulse = f.Pulse(num("1000 A"), num("0.7 s"))
        times = [Moment(first.at + timedelta(minutes=n), first.offset_min) for n in range(number)]
        self.put(*((f.ShotFired(record, BENCH, 1, (pulse,)), when) for when in times))
        return times[-1]
