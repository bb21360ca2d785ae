"""Loading a basket: what waits for one, into which line, under which name, as which attempt.

A basket is used again and again; each use is a time line of its own, so each
has a name of its own (``B4``, ``B4/2`` ...).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count, takewhile

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.vocabulary import Material, Method
from ndi.services.basket_orders import refuse_mixed
from ndi.services.bearing import bearing_on
from ndi.services.deciding import reconsider
from ndi.services.line_basket import OFF_THE_LINE
from ndi.services.line_state import loads_on, state_of
from ndi.services.lookup import about, every
from ndi.services.ports import InspectionRow, Session
from ndi.services.recording import check_known
from ndi.services.workplace import Refused, Workplace

LINE_KIND, BASKET_KIND = "line", "basket"


@dataclass(frozen=True)
class Waiting:
    """An open penetrant record whose part is in no basket now; ``attempt`` is the one that would begin."""

    inspection: str
    part: str
    called: str
    quantity: int
    attempt: int
    pt_method: str | None
    work_order: str


def waiting_for_basket(work: Workplace, session: Session) -> tuple[Waiting, ...]:
    """Every open penetrant record that is not in a basket: never loaded, or its last attempt given up."""
    rows = [row for row in session.inspections() if row.method == Method.PT and row.decision is None]
    found = []
    for row in rows:
        attempt = next_attempt(session, row.inspection)
        if attempt is not None:
            piece = session.part(row.part)
            called = f"{row.part_no} {piece.serial or piece.lot or ''}".strip()
            method = work.technique(session, row.technique).pt_method
            found.append(Waiting(row.inspection, row.part, called, row.quantity, attempt, method, row.work_order))
    return tuple(found)


def next_attempt(session: Session, inspection: str) -> int | None:
    """The attempt that a basket would begin for a record; None while one is under way."""
    loads = [r.fact for r in about(session, f.BasketLoaded, inspection) if inspection in r.fact.inspections]
    if not loads:
        return 1
    latest = max(fact.attempt for fact in loads)
    voided = [r.fact.attempt for r in about(session, f.AttemptVoided, inspection) if r.fact.inspection == inspection]
    return latest + 1 if latest in voided else None


def lines_for(session: Session, pt_method: str) -> tuple[str, ...]:
    """The lines whose tanks hold a penetrant of a method."""
    names = sorted({r.fact.equipment for r in every(session, f.EquipmentEntered) if r.fact.kind == LINE_KIND})
    return tuple(name for name in names if pt_method in _methods_in(session, name))


def _methods_in(session: Session, line: str) -> set[str | None]:
    filled = about(session, f.TankFilled, line)
    batches = [
        r.fact for name in (filled[-1].fact.batches if filled else ()) for r in about(session, f.BatchEntered, name)
    ]
    return {batch.method for batch in batches if batch.material == Material.PENETRANT}


def baskets_known(work: Workplace, session: Session) -> tuple[str, ...]:
    """The baskets of the shop that are not on the line now."""
    names = sorted({r.fact.equipment for r in every(session, f.EquipmentEntered) if r.fact.kind == BASKET_KIND})
    return tuple(name for name in names if not is_in_use(work, session, current_run(session, name)))


def current_run(session: Session, basket: str) -> str:
    """The latest use of a basket by that name: ``B4/2`` for ``B4`` when it was used twice."""
    return [basket, *_runs(session, basket)][-1]


def base_of(run: str) -> str:
    """The basket of a use: ``B4`` of ``B4/2``."""
    basket, _, number = run.rpartition("/")
    return basket if basket and number.isdigit() else run


def next_run(session: Session, basket: str) -> str:
    """A name for one more use of a basket."""
    taken = set(_runs(session, basket))
    return next(name for name in _names(basket) if name not in taken)


def is_in_use(work: Workplace, session: Session, basket: str) -> bool:
    """Whether a basket stands on a line with parts that were neither viewed nor given up."""
    if basket not in {load.fact.basket for load in loads_on(work, session)}:
        return False
    try:
        return state_of(work, session, basket).stage not in OFF_THE_LINE
    except NotFound:
        return False


def _runs(session: Session, basket: str) -> list[str]:
    """The uses of a basket so far, in order."""
    return list(takewhile(lambda name: session.facts(name, (f.BasketLoaded,)), _names(basket)))


def _names(basket: str) -> Iterator[str]:
    yield basket
    yield from (f"{basket}/{number}" for number in count(2))


def load_basket(
    work: Workplace,
    basket: str,
    inspections: Sequence[str],
    person: str,
    *,
    line: str | None = None,
    mixed_orders: bool | None = None,
) -> Recorded[f.Fact]:
    """Put the parts of some records into a basket, as the next attempt of each.

    ``line`` may be left out where one line alone holds their penetrant.
    Refused: parts of different methods or attempts, a part that is in a basket
    already, a basket that is in use, parts of more than one work order unless
    ``mixed_orders`` says that this is meant.
    """
    if not inspections:
        raise InputError(f"{basket} is empty: scan the parts that go into it")
    with work.act("load basket", person, basket) as session:
        check_known(session, person)
        if is_in_use(work, session, basket):
            raise Refused((), f"{basket} is on the line with parts in it: take another basket, or end it first")
        if session.facts(basket, (f.BasketLoaded,)):
            raise Refused((), f"{basket} was used before: a new use has a name of its own, {next_run(session, basket)}")
        rows = [session.inspection(name) for name in dict.fromkeys(inspections)]
        method, attempt = _one_method(work, session, rows), _one_attempt(session, rows)
        refuse_mixed(basket, rows, mixed_orders)
        named = tuple(row.inspection for row in rows)
        fact = f.BasketLoaded(basket, method, line or _one_line(session, method), named, attempt, mixed_orders)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        reconsider(work, session, bearing_on(session, recorded), recorded.position)
        return recorded


def _one_method(work: Workplace, session: Session, rows: list[InspectionRow]) -> str:
    methods = {row.inspection: work.technique(session, row.technique).pt_method for row in rows}
    unknown = [name for name, method in methods.items() if method is None]
    if unknown:
        raise InputError(f"{', '.join(unknown)}: the technique gives no removal method, a Level III completes it")
    found = sorted({method for method in methods.values() if method})
    if len(found) > 1:
        listed = ", ".join(f"{name} Method {method}" for name, method in methods.items())
        raise Refused((), f"two removal methods in one basket ({listed}): split it")
    return found[0]


def _one_attempt(session: Session, rows: list[InspectionRow]) -> int:
    attempts = {row.inspection: next_attempt(session, row.inspection) for row in rows}
    held = [name for name, attempt in attempts.items() if attempt is None]
    if held:
        raise Refused((), f"{', '.join(held)}: in a basket already; give that attempt up first, or leave the part out")
    found = {attempt for attempt in attempts.values() if attempt is not None}
    if len(found) > 1:
        listed = ", ".join(f"{name} attempt {attempt}" for name, attempt in attempts.items())
        raise Refused((), f"different attempts in one basket ({listed}): load them apart")
    return found.pop()


def _one_line(session: Session, method: str) -> str:
    lines = lines_for(session, method)
    if len(lines) != 1:
        what = "no line holds" if not lines else f"{', '.join(lines)} hold"
        raise InputError(f"{what} a penetrant of Method {method}: say into which line the basket goes")
    return lines[0]


def give_up(work: Workplace, session: Session, basket: str, reason: str) -> tuple[f.AttemptVoided, ...]:
    """The facts that give an attempt up, one for each record in the basket."""
    state = state_of(work, session, basket)
    return tuple(f.AttemptVoided(name, basket, state.attempt, reason) for name in state.inspections)
