"""A meter found wrong: every reading since its calibration before, by the worst case and by even drift, side by side.

The key is the meter, or ``RM-1|+9 %|UV-A channel`` where an error is supposed that
no calibration in the book tells of.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.quantity import Number
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.services.lookup import about
from ndi.services.meter_recall import Endangered, MeterFound, meter_found, tenth
from ndi.services.paper_text import on_paper
from ndi.services.workplace import Workplace

_COLUMNS = (
    Column("At", 17),
    Column("Read of", 20, stretch=True),
    Column("Quantity", 14, stretch=True),
    Column("As read", 15, right=True),
    Column("Worst case", 15, right=True),
    Column("Even drift", 15, right=True),
    Column("Limit", 18),
    Column("Records that rest on it", 26, stretch=True),
)


@dataclass(frozen=True)
class MeterView:
    """One meter.  ``endangered`` are the readings that hold as typed and not as corrected; ``every`` all of them."""

    meter: str
    lines: tuple[Labelled, ...]
    endangered: Listing
    every: Listing


class Meters:
    """Meters and benches that were found wrong, or are supposed to be."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    def needs_error(self, meter: str) -> bool:
        """Whether no calibration of the meter says what it found: then an error is typed."""
        with self._work.book.session(readonly=True) as session:
            return not any(
                r.fact.equipment == meter and r.fact.as_found_error_percent is not None
                for r in about(session, f.CalibrationRecorded, meter)
            )

    def view(self, key: str) -> MeterView:
        """Every reading between two calibrations, the endangered ones by both estimates."""
        meter, _, rest = key.partition("|")
        error, _, item = rest.partition("|")
        found = meter_found(self._work, meter, error=_percent(error) if error else None, item=item or None)
        # readings that records rest on come first, the latest before the others
        ordered = sorted(found.readings, key=lambda each: each.when.at, reverse=True)
        rows = [(each, _row(each)) for each in sorted(ordered, key=lambda each: not each.inspections)]
        bad = tuple(row for each, row in rows if each.is_endangered)
        return MeterView(
            meter,
            _lines(found, supposed=bool(error)),
            Listing(_COLUMNS, bad, "No reading that was within its limit falls out of it."),
            Listing(
                _COLUMNS, (*bad, *(row for each, row in rows if not each.is_endangered)), "Nothing was read with it."
            ),
        )

    def error_form(self, meter: str, go: Callable[[str], None]) -> Form:
        """Suppose that the meter was found wrong by so much; writes nothing."""
        with self._work.book.session(readonly=True) as session:
            items = tuple(
                dict.fromkeys(
                    r.fact.item for r in about(session, f.CalibrationRecorded, meter) if r.fact.equipment == meter
                )
            )
        if not items:
            raise InputError(f"{meter} was never calibrated: since when it would be wrong is not known")
        fields = (
            Field("error", "Error found, %", "", "signed: +9 reads high, -3 reads low", needed=True),
            Field("item", "Item", items[0] if len(items) == 1 else "", choices=items, free=False, needed=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            error = _percent(values["error"])
            key = f"{meter}|{error.typed} %|{values['item']}"
            self.view(key)  # says now what is wrong with it

            def make(_proof: object) -> str:
                go(key)
                return f"{meter} as if it had been found {error} wrong; nothing is written"

            return Act(f"Suppose {meter} wrong", self._person(), make)

        return Form(f"Suppose that {meter} was found wrong", fields, act, ("Nothing is written.",), "Show")


def _percent(text: str) -> Number:
    typed = text.replace("%", "").strip()
    try:
        return Number(typed, "%")
    except ValueError:
        raise InputError(f"{text!r} is no error in percent: type it like +9 or -3.5") from None


def _row(each: Endangered) -> Row:
    def value(corrected: Fraction, *, holds: bool) -> str:
        text = f"{tenth(corrected)} {each.unit}"
        return on_paper(text if holds else f"{marks.FAILED} {text}")

    cells = (
        str(each.when)[:16],
        each.object,
        each.quantity,
        value(each.read, holds=each.typed_holds),
        value(each.worst, holds=each.worst_holds),
        value(each.linear, holds=each.linear_holds),
        on_paper(each.limit),
        ", ".join(each.inspections) or "none",
    )
    return Row(cells, str(each.position), act=each.is_endangered)


def _lines(found: MeterFound, *, supposed: bool) -> tuple[Labelled, ...]:
    worst, linear = found.inspections(), found.inspections(worst=False)
    what = "supposed, nothing is written" if supposed else "as its calibration found"
    return (
        Labelled("Error", f"{found.error} on {found.item} ({what})"),
        Labelled("Since", f"calibrated {found.calibrated}, found {found.found}"),
        Labelled("Readings", f"{len(found.readings)} in that time, {len(found.endangered)} of them do not hold"),
        Labelled("Worst case", f"wrong all the time: {len(worst)} records {', '.join(worst)}".rstrip()),
        Labelled("Even drift", f"wrong little by little: {len(linear)} records {', '.join(linear)}".rstrip()),
    )
