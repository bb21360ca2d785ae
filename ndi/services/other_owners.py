"""What belongs to other owners, kept out of what one owner is given: names of their orders, engines, pieces and records."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from ndi.domain import facts as f
from ndi.domain.quantity import Number
from ndi.services.lookup import every
from ndi.services.ports import Session

T = TypeVar("T")

OTHERS = "[of another owner]"
_NAME = re.compile(r"[^\s,;:()\[\]\"'+]+")
_SHORTEST = 3  # shorter names are in every text, and tell nobody anything
_SHORTEST_NUMBER = 5  # a serial number of few digits cannot be told from a reading


class OtherOwners:
    """Knows every name of the other owners' things, and takes them out of texts."""

    def __init__(self, others: Iterable[str], own: Iterable[str]) -> None:
        mine = {part for name in own for part in _parts_of(name)}
        self._names = frozenset(
            name for each in others for name in (each, *_parts_of(each)) if name not in mine and _is_telling(name)
        )
        self._whole = frozenset(each for each in others if each not in mine and _is_telling(each))

    def named_in(self, text: str) -> bool:
        """Whether a text names something of another owner."""
        return self.without(text) != text

    def without(self, text: str) -> str:
        """The text with such names replaced; a text that is nothing but such a name becomes ``OTHERS``."""
        if text in self._whole:
            return OTHERS
        return _NAME.sub(lambda match: OTHERS if self._is_theirs(match[0]) else match[0], text)

    def _is_theirs(self, name: str) -> bool:
        return any(each in self._names for each in (name, name.strip("."), *_parts_of(name)))

    def clean(self, value: T) -> T:
        """A model with the names taken out of every text in it; numbers with a unit and bytes stay as they are."""
        found: Any = value
        if isinstance(found, str):
            found = self.without(found)
        elif isinstance(found, tuple):
            found = tuple(self.clean(item) for item in found)
        elif is_dataclass(found) and not isinstance(found, (type, Number)):
            changed = {each.name: self.clean(getattr(found, each.name)) for each in fields(found) if each.init}
            found = replace(found, **changed)
        return found  # type: ignore[no-any-return]


def _parts_of(name: str) -> Iterator[str]:
    """``W26-0148/T6-11020/SP-1`` holds an order, a part number and a serial number."""
    yield from (part.strip(".") for part in name.split("/"))


def _is_telling(name: str) -> bool:
    return len(name) >= (_SHORTEST_NUMBER if name.isdecimal() else _SHORTEST)


def others_than(session: Session, work_order: str) -> OtherOwners:
    """The names of everything that belongs to other work orders.

    Part numbers and descriptions are the trade's; a name that this work order uses too is its own.
    """
    own: set[str] = {work_order}
    others: set[str] = set()
    public: set[str] = set()  # part numbers, which many engines share
    for recorded in every(session, f.WorkOrderOpened):
        order = recorded.fact
        (own if order.work_order == work_order else others).update((order.work_order, order.engine_serial))
    records: dict[str, bool] = {}
    for part in session.parts():
        mine = part.work_order == work_order
        public.add(part.part_no)
        (own if mine else others).update(each for each in (part.part, part.serial, part.lot) if each)
    for row in session.inspections():
        records[row.inspection] = row.work_order == work_order
        (own if records[row.inspection] else others).add(row.inspection)
    _of_records(session, records, own, others)
    return OtherOwners(others - public, own | public)


_NAMED = {
    f.ViewStarted: "view",
    f.IndicationSeen: "indication",
    f.SecondLookSaved: "second_look",
    f.TagPrinted: "tag",
}


def _of_records(session: Session, records: dict[str, bool], own: set[str], others: set[str]) -> None:
    """Views, indications, second looks and tags, pieces and photographs, by the record that they are of."""
    for kind, name in _NAMED.items():
        for line in session.lines(kind):
            mine = records.get(str(line.body.get("inspection")), False)
            found = {str(line.body[name])} | ({str(line.body["piece"])} if line.body.get("piece") else set())
            (own if mine else others).update(found)
    for line in session.lines(f.PhotoAttached):
        mine = records.get(str(line.body.get("inspection")), False)
        (own if mine else others).update(
            str(line.body[key]) for key in ("sha256", "original_name", "tag_in_frame") if line.body.get(key)
        )
