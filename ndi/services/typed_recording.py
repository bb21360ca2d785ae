"""Recording by name: what was typed becomes facts, and all of them go through their use cases in one transaction."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.facts import Fact
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number, dimension
from ndi.domain.ticks import TICKS
from ndi.services.lookup import about
from ndi.services.ports import PartRow, Session
from ndi.services.proof import Proof
from ndi.services.recordable import RECORDABLE, Recordable, Said, Signature, Values, measure_of
from ndi.services.recording import check_known
from ndi.services.typed_facts import build, moment_of, units_of, unknown, values_of
from ndi.services.workplace import Workplace

AT, WHY = "at", "why"  # keys of an item of several: its own time, and why it is entered late


@dataclass(frozen=True)
class Item:
    """One thing to record: kind by name, keys with values as typed, the time at which it happened."""

    kind: str
    given: Mapping[str, Any]
    at: str | None = None
    why: str | None = None
    name: str = ""  # how a message calls it, where there are several


@dataclass(frozen=True)
class Ready:
    """An item that can be recorded; ``signs``: what has to be signed for it."""

    item: Item
    kind: Recordable
    values: Values
    when: Moment | None
    signs: Signature | None


def recordable(name: str) -> Recordable:
    """The kind of that name; InputError with the nearest one."""
    if name not in RECORDABLE:
        raise InputError(unknown(name, list(RECORDABLE), "kind") + " (ndi record --list shows all)")
    return RECORDABLE[name]


def item_of(given: Mapping[str, Any], name: str) -> Item:
    """An object of JSON: ``kind``, the keys of that kind, ``at`` and ``why`` of its own where it has them."""
    keys = dict(given)
    kind = keys.pop("kind", None)
    if not isinstance(kind, str):
        raise InputError(f"{name}: has no kind (ndi record --list shows all)")
    texts = {key: keys.pop(key) for key in (AT, WHY) if isinstance(keys.get(key), str)}
    return Item(kind, keys, texts.get(AT), texts.get(WHY), name)


def prepare(work: Workplace, items: Sequence[Item], by: str) -> list[Ready]:
    """Check everything that can be checked before anything is signed or written."""
    if not items:
        raise InputError("nothing to record: name a kind with its keys, or give JSON")
    with work.book.session(readonly=True) as session:
        check_known(session, by)
    return [_named(item, lambda item=item: _prepare(work, item, by)) for item in items]


def _named(item: Item, make: Any) -> Any:
    """Messages about one of several say which."""
    try:
        return make()
    except InputError as error:
        raise InputError(f"{item.name}: {error}" if item.name else f"{item.kind}: {error}") from None


def _prepare(work: Workplace, item: Item, by: str) -> Ready:
    kind, now = recordable(item.kind), work.now()
    values = values_of(kind.keys, item.given, now)
    for name in kind.who:
        if values.setdefault(name, by) != by and kind.is_own:
            raise InputError(
                f"{name}={values[name]}: {item.kind} is recorded by the person whose it is; --by {values[name]}"
            )
    values = {**kind.usual, **values}
    _check_measure(values)
    when = None if item.at is None else moment_of(item.at, now)
    if when is not None and not kind.timed:
        raise InputError("counts from the moment at which it is entered: leave --at out")
    if when is not None:
        work.obtained(when, item.why)  # not later than now; late only with a reason
    with work.book.session(readonly=True) as session:
        _spell_out(session, kind, values)
    signs = None
    if kind.signs is not None:
        signs = kind.signs(_fact(work, kind, values))
    return Ready(item, kind, values, when, signs)


def _check_measure(values: Values) -> None:
    """A reading has a unit of what it measures."""
    value, quantity = values.get("value"), values.get("quantity")
    measure = measure_of(quantity) if isinstance(quantity, str) else None
    if isinstance(value, Number) and measure is not None and dimension(value.unit) != measure:
        raise InputError(
            f"value={value} is {dimension(value.unit)}, {quantity} is {measure}: use {', '.join(units_of(measure))}"
        )


def _spell_out(session: Session, kind: Recordable, values: Values) -> None:
    """A serial number or lot in the place of a part's whole key, where the book has exactly one such part.

    What a fact is about has to be in the book: a tick under a mistyped name would be lost.
    """
    if kind.fact is f.PartListed:
        _refuse_listed(session, kind, values)
    elif isinstance(values.get("part"), str):
        values["part"] = part_named(session, values["part"]).part
    tick = TICKS.get(str(values.get("item"))) if kind.fact is f.ConfirmationGiven else None
    if tick is not None and isinstance(values.get("about"), str):
        if tick.about == "part":
            values["about"] = part_named(session, values["about"]).part
        elif tick.about == "inspection":
            session.inspection(values["about"])


def _refuse_listed(session: Session, kind: Recordable, values: Values) -> None:
    """A part stands once on a receiving list."""
    assert kind.fill is not None
    key = {**kind.fill(session, values), **values}.get("part", "")
    if about(session, f.PartListed, key):
        raise InputError(f"{key} is listed already: correct that entry if it is wrong")


def part_named(session: Session, text: str, work_order: str | None = None) -> PartRow:
    """A part by its key, or by its serial number or lot where only one part has it."""
    try:
        return session.part(text)
    except NotFound:
        pass
    rows = [row for row in session.parts_by_serial(text) if row.serial == text]
    rows = rows or [row for row in session.parts(work_order) if row.lot == text]
    rows = [row for row in rows if work_order in (None, row.work_order)]
    if not rows:
        raise NotFound(f"no part {text} in the book: type WORK ORDER/PART NUMBER/SERIAL NUMBER OR LOT as it was listed")
    if len(rows) > 1:
        raise InputError(f"{text} is {len(rows)} parts: type one of {', '.join(row.part for row in rows)}")
    return rows[0]


def _fact(work: Workplace, kind: Recordable, values: Values) -> Fact:
    """The fact, with what the book tells of it."""
    if kind.fill is not None:
        with work.look() as session:
            told = kind.fill(session, values)
        known = {each.name for each in fields(kind.fact)}  # type: ignore[arg-type]
        values = {**{name: value for name, value in told.items() if name in known and value is not None}, **values}
    fact: Fact = build(kind.fact, kind.all_keys, values)
    return fact


def record_all(
    work: Workplace,
    ready: Sequence[Ready],
    by: str,
    *,
    proofs: Sequence[Proof | None] = (),
    sure: bool = False,
    then: Callable[[Sequence[Recorded[Fact]]], object] | None = None,
) -> list[Recorded[Fact]]:
    """Everything through its use case, all or nothing; what was written, with what followed from it.

    ``then`` is called with what the items wrote, before it is kept: what it adds is kept with them or not at all.
    """
    given = list(proofs) or [None] * len(ready)
    with work.together() as session:
        before = session.head().position
        for one, proof in zip(ready, given, strict=True):

            def do(one: Ready = one, proof: Proof | None = proof) -> object:
                fact = _fact(work, one.kind, one.values)
                return one.kind.do(work, Said(fact, by, one.when, one.item.why, proof, sure))

            _named(one.item, do)
        if then is not None:
            then([session.entry(position) for position in range(before + 1, session.head().position + 1)])
        return [session.entry(position) for position in range(before + 1, session.head().position + 1)]
