"""Recall sets: what was in doubt, where it is, what is to be done with each record, by whom; closed by two.

A set is named ``CT-01``, or ``entry:1234`` where somebody asks what would be
recalled if that entry were bad: the same set, and nothing is written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed, signed_by_two
from ndi.gui.presenters.desk.listing import Labelled, Listing, Row
from ndi.gui.presenters.desk.recall_rows import ITEMS, ORDER, SETS, detail_of, lines_of, row_of, set_mark
from ndi.services import recall_work
from ndi.services.containment import NOTIFY, RETRIEVE, all_containments, propose_actions
from ndi.services.lookup import about, every
from ndi.services.paper_text import on_paper
from ndi.services.proof import Meaning, Proof
from ndi.services.recall_contents import Contents, Item, contents, done_items, supposed
from ndi.services.record_signatures import cause_text
from ndi.services.workplace import Workplace

ENTRY = "entry:"
NOBODY = "choose who stands at the desk first (above, at the right)"


@dataclass(frozen=True)
class RecallView:
    """One recall set; ``entry`` is the bad reading, ``details`` what is said of a record when the bar is on it."""

    name: str
    heading: str
    entry: int
    is_supposed: bool
    lines: tuple[Labelled, ...]
    items: Listing
    details: Mapping[str, tuple[Labelled, ...]]


class Recalls:
    """Every recall set of the book."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    # --- looking ------------------------------------------------------------------------------------

    def listing(self) -> Listing:
        """The latest first."""
        with self._work.book.session(readonly=True) as session:
            rows = []
            closed = {r.fact.containment for r in every(session, f.ContainmentClosed)}
            for recorded in reversed(all_containments(session)):
                fact = recorded.fact
                is_closed = fact.containment in closed
                left = 0 if is_closed else len(set(fact.inspections) - set(done_items(session, fact.containment)))
                mark = set_mark(fact, left, is_closed)
                doubt = f"{fact.last_good or 'from the first use'} to {fact.first_bad}"
                rows.append(
                    Row(
                        (fact.containment, fact.object, doubt, str(len(fact.inspections)), str(fact.pieces), str(mark)),
                        fact.containment,
                        act=mark.shape in (marks.RUNNING, marks.WAITING),
                    )
                )
        return Listing(SETS, tuple(rows), "No recall set was opened.")

    def suspect(self, position: int) -> str:
        """The key of what an entry recalls: the set that was opened from it, else the set as it would be."""
        with self._work.book.session(readonly=True) as session:
            opened = [r.fact.containment for r in all_containments(session) if r.fact.trigger == position]
        if opened:
            return opened[-1]
        supposed(self._work, position)  # InputError for an entry that nothing relies upon
        return f"{ENTRY}{position}"

    def recall(self, key: str) -> RecallView:
        """One recall set with each of its records, frozen or supposed."""
        is_supposed = key.startswith(ENTRY)
        if is_supposed:
            entry = int(key.removeprefix(ENTRY))
            found = supposed(self._work, entry)
        else:
            found = contents(self._work, key)
            with self._work.book.session(readonly=True) as session:
                entry = next(r.fact.trigger for r in all_containments(session) if r.fact.containment == key)
        with self._work.book.session(readonly=True) as session:
            cause = on_paper(cause_text(session, entry))
        heading = f"Suppose {cause} had been bad" if is_supposed else f"Recall set {key}"
        closed, orders = found.closed is not None, {item.work_order for item in found.items}
        rows = tuple(row_of(item, closed=closed, order=len(orders) > 1) for item in found.items)
        columns = ITEMS if len(orders) > 1 else tuple(column for column in ITEMS if column is not ORDER)
        return RecallView(
            key,
            heading,
            entry,
            is_supposed,
            lines_of(found, cause, is_supposed),
            Listing(columns, rows, "Nothing relied on it."),
            {item.inspection: detail_of(item) for item in found.items},
        )

    # --- doing --------------------------------------------------------------------------------------

    def _by(self) -> str:
        if not self._person():
            raise InputError(NOBODY)
        return self._person()

    def propose(self, name: str) -> Act:
        """Work out the cheapest lawful action for each record as things stand now, and keep it."""

        def make(_proof: object) -> str:
            found = propose_actions(self._work, name)
            return f"{name}: {len(found.actions)} actions proposed anew"

        return Act(f"Propose the actions of {name} anew", self._person() or self._work.station, make)

    def open_form(self, entry: int) -> Form:
        """The entry was bad: freeze its set and suspend what no longer stands."""
        found = supposed(self._work, entry)
        fields = (Field("reason", "Why it is taken to be bad", needed=True, hint="kept with the set"),)

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by = self._by()

            def make(_proof: object) -> str:
                opened = recall_work.recall_from(self._work, entry, by, values["reason"])
                return f"{opened.containment} opened: {len(opened.inspections)} records, {opened.pieces} pieces"

            notes = (
                f"{len(found.items)} records, {found.pieces} pieces: {', '.join(i.inspection for i in found.items) or 'none'}",
                "Acceptances among them that no longer stand are suspended at once.",
                f"Reason: {values['reason']}",
            )
            return Act(f"Open a recall set from entry {entry}", by, make, notes=notes)

        lines = (f"{len(found.items)} records relied on {found.object}. The set is frozen; it is never taken back.",)
        return Form(f"Entry {entry} was bad", fields, act, lines)

    def assign_form(self, name: str, inspection: str) -> Form:
        """Give the action of one record, or of all with the same action, to a person."""
        found = contents(self._work, name)
        item = _item_of(found, inspection)
        alike = [each.inspection for each in found.items if not each.done and each.action == item.action]
        everything = f"all {len(alike)} to {item.action}"
        which = (inspection, everything) if len(alike) > 1 else (inspection,)
        fields = (
            Field("which", "Records", inspection, choices=which, free=False, needed=True),
            Field("person", "Given to", "", choices=self._people(), needed=True),
            Field("due", "Done by", "", day=True, needed=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by, due = self._by(), _day(values["due"])
            chosen = alike if values["which"] == everything else [inspection]

            def make(_proof: object) -> str:
                with self._work.together():
                    for each in chosen:
                        recall_work.assign(self._work, name, each, values["person"], due, by)
                return f"{name}: {', '.join(chosen)} given to {values['person']}, by {due}"

            notes = (f"{', '.join(chosen)}: {item.action}", f"To {values['person']}, done by {due}.")
            return Act(f"Give out actions of {name}", by, make, notes=notes)

        return Form(f"Who does it: {item.inspection} {item.action}", fields, act, (item.because,))

    def done_form(self, name: str, inspection: str) -> Form:
        """The part was brought back, or its owner told; a look or a process again is done by signing the record anew."""
        item = _item_of(contents(self._work, name), inspection)
        if item.action not in (RETRIEVE, NOTIFY):
            raise InputError(
                f"{inspection} is to be looked at or processed again ({item.action}): "
                "it is done when the record is signed anew; nothing is noted here"
            )
        label = "Where it is now" if item.action == RETRIEVE else "Letter or message"
        lines = (item.because, "Scan the part at its new place too.") if item.action == RETRIEVE else (item.because,)
        fields = (Field("reference", label, needed=True),)

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by = self._by()

            def make(_proof: object) -> str:
                recall_work.action_done(self._work, name, inspection, item.action, by, values["reference"])
                return f"{name}: {inspection} {item.action} done, {values['reference']}"

            return Act(f"{inspection}: {item.action} done", by, make, notes=(f"{label}: {values['reference']}",))

        return Form(f"{inspection}: {item.action} is done", fields, act, lines)

    def close_form(self, name: str) -> Form:
        """Both who sign that every record is done."""
        with self._work.book.session(readonly=True) as session:
            people = [r.fact for r in every(session, f.PersonEntered)]
        quality = tuple(dict.fromkeys(p.person for p in people if "quality" in p.roles))
        level_three = tuple(dict.fromkeys(p.person for p in people if "level3" in p.roles))
        by = self._person()
        fields = (
            Field("level_three", "Level III", by if by in level_three else "", choices=level_three, needed=True),
            Field("quality", "Of quality", by if by in quality else "", choices=quality, needed=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            first, second = values["level_three"], values["quality"]
            shown = recall_work.closing_covers(self._work, name)

            def make(proof: Proof | None, other: Proof | None) -> str:
                recall_work.close(self._work, name, first, second, proof=proof, quality_proof=other)
                return f"{name} closed by {first} and {second}"

            return signed_by_two(f"Close {name}", (first, Meaning.APPROVED), (second, Meaning.VERIFIED), make, shown)

        return Form(f"Close {name}: two persons sign", fields, act, ("Every record of the set must be done.",))

    def _people(self) -> tuple[str, ...]:
        with self._work.book.session(readonly=True) as session:
            gone = {r.fact.person for r in every(session, f.PersonRemoved)}
            return tuple(
                dict.fromkeys(r.fact.person for r in every(session, f.PersonEntered) if r.fact.person not in gone)
            )

    def of_object(self, object_: str) -> str:
        """The entry that an object's records would be recalled from: its last reading, calibration or check; InputError."""
        with self._work.book.session(readonly=True) as session:
            kinds = (f.ReadingRecorded, f.CalibrationRecorded, f.ProcessCheckRecorded)
            found = [
                r.position
                for kind in kinds
                for r in about(session, kind, object_)
                if object_ in (getattr(r.fact, "object", None), getattr(r.fact, "equipment", None))
            ]
        if not found:
            raise InputError(f"{object_} was never read, checked or calibrated: nothing can be found bad")
        return self.suspect(max(found))


def _item_of(found: Contents, inspection: str) -> Item:
    item = next((each for each in found.items if each.inspection == inspection), None)
    if item is None:
        raise InputError(f"{inspection or 'no record'} is not in {found.name}: put the bar on a record of the set")
    if item.done:
        raise InputError(f"{inspection} is done in {found.name} already: {item.done}")
    return item


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is no day: type it like 2026-03-12") from None
