"""Process checks due and done: every object that is checked, when it was checked last, until when that holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import CheckKind, Material, Method
from ndi.rules import checking, process_checks
from ndi.rules.checking import Kind
from ndi.rules.inquiry import Inquiry
from ndi.services.lookup import about, every
from ndi.services.paper_text import on_paper
from ndi.services.ports import Session
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.workplace import Workplace

_METHOD_A = "A"  # penetrants that are washed off with water alone take up water
_DONE_AS = (f.ReadingRecorded, f.ProcessCheckRecorded)
LATE = timedelta(days=35)  # a month: most checks come again within it
_OF_LAMP = (process_checks.LAMP_READ, process_checks.LAMP_WHOLE)
_OF_BOOTH = (process_checks.BOOTH_READ, process_checks.BOOTH_CLEAN, process_checks.CLOCKS)
_OF_BATH = (process_checks.BATH_READ, process_checks.BATH_DIRT, process_checks.VEHICLE)
_OF_PENETRANT = (process_checks.TANK, process_checks.REMOVABILITY, process_checks.BRIGHTNESS)


@dataclass(frozen=True)
class CheckDue:
    """One check of one object; texts.  PASS: done in time and met; without ``every`` the procedure sets no interval."""

    object: str
    name: str
    every: str
    last: str
    due: str
    verdict: Verdict
    says: str
    way_out: str

    @property
    def settled(self) -> bool:
        return self.verdict is Verdict.PASS


def checks_due(work: Workplace) -> tuple[CheckDue, ...]:
    """Every check of every object in service, judged by the procedures in force now; ones that are not met first."""
    with work.look() as session:
        shop = _Shop(work, session)
        found = [_due(shop, kind, thing, method) for kind, thing, method in _asked(session)]
    order = (Verdict.FAIL, Verdict.NOT_YET, Verdict.NOT_RECORDED, Verdict.NOT_APPLICABLE, Verdict.PASS)
    return tuple(sorted(found, key=lambda check: (order.index(check.verdict), not check.every)))


def _asked(session: Session) -> Iterator[tuple[Kind, str, Method | None]]:
    """Which check is asked of which object, with the method whose procedure sets the interval."""
    things = {r.fact.equipment: r.fact for r in every(session, f.EquipmentEntered)}
    withdrawn = {name for name in things if _is_out(session, name)}
    booths: dict[str, None] = {}
    for thing in things.values():
        if thing.equipment in withdrawn:
            continue
        if thing.kind == "lamp":
            yield from ((kind, thing.equipment, None) for kind in _OF_LAMP)
            if thing.place:
                booths.setdefault(thing.place)
        elif thing.kind == "bath":
            yield from ((kind, thing.equipment, Method.MT) for kind in _OF_BATH)
        elif thing.kind == "bench":
            yield process_checks.RING, thing.equipment, Method.MT
        elif thing.kind == "line":
            yield process_checks.PANEL, thing.equipment, Method.PT
    yield from ((kind, booth, None) for booth in booths for kind in _OF_BOOTH)
    yield from _of_batches(session)
    yield process_checks.RESTORE, process_checks.RECORD_COPIES, None


def _is_out(session: Session, thing: str) -> bool:
    status = about(session, f.EquipmentStatusSet, thing)
    return bool(status) and status[-1].fact.state != "in service"


def _of_batches(session: Session) -> Iterator[tuple[Kind, str, Method | None]]:
    """The batches that the lines draw on now."""
    filled = {r.fact.line: r.fact.batches for r in every(session, f.TankFilled)}
    in_use = dict.fromkeys(batch for batches in filled.values() for batch in batches)
    entered = {r.fact.batch: r.fact for r in every(session, f.BatchEntered)}
    for name in in_use:
        batch = entered.get(name)
        if batch is None:
            continue
        if batch.material == Material.PENETRANT:
            yield from ((kind, name, Method.PT) for kind in _OF_PENETRANT)
            if batch.method == _METHOD_A:
                yield process_checks.WATER_CONTENT, name, Method.PT
        elif batch.material == Material.REMOVER:
            yield process_checks.REMOVER, name, Method.PT
        elif batch.material == Material.DEVELOPER:
            yield process_checks.SPECKS, name, Method.PT


class _Shop:
    """What was read and checked of each thing, read once: of late, or all of it where nothing was done of late."""

    def __init__(self, work: Workplace, session: Session) -> None:
        self._work, self._session = work, session
        self._held: dict[tuple[str, Method | None, bool], Inquiry] = {}

    def inquiry(self, thing: str, method: Method | None, *, late: bool = True) -> Inquiry:
        key = thing, method, late
        if key not in self._held:
            since = self._work.now().at - LATE if late else None
            self._held[key] = shop_inquiry(
                self._work, self._session, [thing], method=method, kinds=_DONE_AS, since=since
            )
        return self._held[key]

    def done(self, kind: Kind, thing: str, method: Method | None) -> tuple[Inquiry, Sequence[checking.Done]]:
        """The checks of a kind of late, else of all time, with the inquiry that holds them."""
        for late in (True, False):
            q = self.inquiry(thing, method, late=late)
            done = _panels(q, thing) if kind is process_checks.PANEL else kind.done(q, thing)
            if done:
                return q, done
        return q, ()

    def now(self) -> Moment:
        return self._work.now()


def _due(shop: _Shop, kind: Kind, thing: str, method: Method | None) -> CheckDue:
    try:
        interval = shop.inquiry(thing, method).limit(kind.interval)
    except (Missing, NotFound) as missing:
        says = f"no interval: {missing}"
        return CheckDue(
            thing, kind.name, "", "", "", Verdict.NOT_RECORDED, says, "a Level III sets it in the procedure"
        )
    text = checking.every_text(interval)
    q, done = shop.done(kind, thing, method)
    if not done:
        return CheckDue(thing, kind.name, text, "", "now", Verdict.NOT_RECORDED, "never done", kind.way_out)
    last, now = done[-1], shop.now()
    due = checking.due_text(last.when, interval)
    if checking.overdue(last.when, now, interval):
        return CheckDue(
            thing,
            kind.name,
            text,
            str(last.when),
            due,
            Verdict.NOT_RECORDED,
            f"due {due}, last done {last.when}",
            kind.way_out,
        )
    verdict, says = _met(q, kind, last)
    return CheckDue(
        thing, kind.name, text, str(last.when), due, verdict, says, "" if verdict is Verdict.PASS else kind.way_out
    )


def _panels(q: Inquiry, line: str) -> list[Recorded[f.ProcessCheckRecorded]]:
    """The panels run on a line; which batches a basket was wetted from is asked of its record, not here."""
    return [r for r in q.facts.of(f.ProcessCheckRecorded, line) if r.fact.check == CheckKind.PANEL]


def _met(q: Inquiry, kind: Kind, last: checking.Done) -> tuple[Verdict, str]:
    try:
        met = checking.was_passed(q, last) if kind is process_checks.PANEL else kind.met(q, last)
    except Missing as missing:
        return Verdict.NOT_RECORDED, str(missing)
    said = on_paper(met.says or met.found)
    return (Verdict.PASS, said or "met") if met.verdict is Verdict.PASS else (met.verdict, said or "not met")
