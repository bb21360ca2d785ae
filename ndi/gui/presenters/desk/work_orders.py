"""Work orders and the engine view: every piece accounted for, with its methods, records and place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.procedure import PartMaster
from ndi.domain.vocabulary import NOT_RECEIVED, REASON_CODES
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.services.lookup import about, every, only
from ndi.services.paper_text import local_text
from ndi.services.ports import PartRow, Session
from ndi.services.state import decision_text, not_inspected, piece_counts, piece_states
from ndi.services.workplace import Workplace

_ORDERS = (
    Column("Work order", 13),
    Column("Engine", 24, stretch=True),
    Column("Reason", 12),
    Column("Pieces", 7, right=True),
)
_PARTS = (
    Column("Part number", 11),
    Column("Description", 24, stretch=True),
    Column("Serial or lot", 15),
    Column("Pcs", 4, right=True),
    Column("State", 26, stretch=True),
    Column("Methods and records", 34, stretch=True),
    Column("Place", 12),
)
_RECORDS = (
    Column("Method", 7),
    Column("Technique", 11),
    Column("Zones", 20, stretch=True),
    Column("Record", 9),
    Column("State", 30, stretch=True),
    Column("Opened", 17),
)


@dataclass(frozen=True)
class Count:
    """How many pieces stand so."""

    mark: marks.Mark
    pieces: int


@dataclass(frozen=True)
class EngineView:
    """One work order.  ``balance`` says whether every piece received stands in exactly one class."""

    work_order: str
    identity: tuple[Labelled, ...]
    counts: tuple[Count, ...]
    balance: marks.Mark
    parts: Listing


@dataclass(frozen=True)
class PartView:
    """One piece or lot: what is required of it, and what was recorded."""

    part: str
    title: str
    records: Listing


class WorkOrders:
    """The work orders of the book."""

    def __init__(self, work: Workplace) -> None:
        self._work = work

    def listing(self) -> Listing:
        """Every work order, the latest first."""
        with self._work.book.session(readonly=True) as session:
            orders = sorted(every(session, f.WorkOrderOpened), key=lambda r: r.position, reverse=True)
            rows = []
            for recorded in orders:
                order = recorded.fact
                pieces = sum(part.quantity for part in session.parts(order.work_order) if part.reason_code is None)
                engine = f"{order.engine_model} {order.engine_serial}"
                rows.append(Row((order.work_order, engine, order.reason, str(pieces)), order.work_order))
        return Listing(_ORDERS, tuple(rows), "No work order is open. Receiving (F3) opens one.")

    def engine(self, work_order: str) -> EngineView:
        """One work order with all its pieces."""
        with self._work.book.session(readonly=True) as session:
            order = only(session, f.WorkOrderOpened, work_order)
            counts = piece_counts(self._work, session, work_order)
            received = counts.pop("received")
            others = not_inspected(session, work_order)
            parts = session.parts(work_order)
            rows = tuple(self._part_row(session, part) for part in parts)
            return EngineView(
                work_order,
                _identity(session, order.fact, parts),
                (
                    *(Count(marks.of_state(word), pieces) for word, pieces in counts.items()),
                    *(Count(marks.Mark(marks.NONE, _why_not(code)), pieces) for code, pieces in others.items()),
                ),
                _balance(received, sum(counts.values()), others),
                Listing(_PARTS, rows, "The receiving list is empty. Receiving (F3) brings one in."),
            )

    def _part_row(self, session: Session, part: PartRow) -> Row:
        name = part.serial or part.lot or ""
        if part.reason_code is not None:
            state, records, act = marks.Mark(marks.NONE, f"not inspected: {part.reason_code}"), "none required", False
        else:
            states = piece_states(self._work, session, part)
            words = [f"{count} {word}" for word, count in states.items() if count]
            worst = next((word for word, count in states.items() if count), "NO DECISION")
            state = marks.Mark(marks.of_state(worst).shape, worst if len(words) == 1 else " / ".join(words))
            records = self._records_text(session, part)
            act = set(states) != {"ACCEPT"}
        cells = (
            part.part_no,
            part.description or self._description(session, part),
            name,
            str(part.quantity),
            str(state),
            records,
            part.place or "not scanned",
        )
        return Row(cells, part.part, act)

    def _master(self, session: Session, part_no: str) -> PartMaster | None:
        try:
            return self._work.master(session, part_no)
        except NotFound:
            return None

    def _description(self, session: Session, part: PartRow) -> str:
        master = self._master(session, part.part_no)
        return master.description if master else "no part master adopted"

    def _records_text(self, session: Session, part: PartRow) -> str:
        """``MT MT-012, PT not begun``: each required method with the record that stands for it."""
        master = self._master(session, part.part_no)
        if master is None:
            return "no part master: a Level III adopts it"
        done = session.inspections(part=part.part)
        said = []
        for need in master.required:
            own = [row.inspection for row in done if row.method == need.method and row.technique == need.technique]
            said.append(f"{need.method}: {' → '.join(own)}" if own else f"{need.method}: not begun")
        return ", ".join(dict.fromkeys(said))

    def part(self, part: str) -> PartView:
        """What one piece needs and what was recorded of it."""
        with self._work.book.session(readonly=True) as session:
            row = session.part(part)
            master = self._master(session, row.part_no)
            done = session.inspections(part=part)
            rows = []
            for need in master.required if master else ():
                own = [r for r in done if r.method == need.method and r.technique == need.technique]
                zones = "all zones" if master and len(need.zones) == len(master.zones) else ", ".join(need.zones)
                for record in own:
                    mark = marks.of_disposition(
                        decision_text(session, record), suspended=record.suspended, provisional=record.provisional
                    )
                    opened = local_text(about(session, f.InspectionOpened, record.inspection)[0].when)[:16]
                    rows.append(
                        Row(
                            (need.method, need.technique, zones, record.inspection, str(mark), opened),
                            record.inspection,
                        )
                    )
                if not own:
                    rows.append(
                        Row(
                            (need.method, need.technique, zones, "", str(marks.Mark(marks.OPEN, "not begun")), ""),
                            "",
                            act=True,
                        )
                    )
            name = f"serial {row.serial}" if row.serial else f"lot {row.lot}, {row.quantity} pieces"
            title = f"{row.part_no} {row.description or (master.description if master else '')}, {name}"
        empty = f"Not inspected: {row.reason_code}" if row.reason_code else "No part master of this number is adopted."
        return PartView(part, title, Listing(_RECORDS, tuple(rows), empty))

    def order_of(self, part: str) -> str:
        """The work order that a piece belongs to."""
        with self._work.book.session(readonly=True) as session:
            return session.part(part).work_order


def _identity(session: Session, order: f.WorkOrderOpened, parts: list[PartRow]) -> tuple[Labelled, ...]:
    listed = len(parts)
    here = sum(1 for part in parts if about(session, f.PartReceived, part.part))
    coded = sum(1 for part in parts if part.reason_code is not None)
    directives = about(session, f.DirectivesConfirmed, order.work_order)
    answered = (
        f"{len(directives[-1].fact.answered)} of {len(directives[-1].fact.lines)} answered"
        if directives
        else "list not drawn up"
    )
    return (
        Labelled("Engine", f"{order.engine_model} serial {order.engine_serial}"),
        Labelled("Reason, limits", f"{order.reason}, {order.limits_basis}"),
        Labelled(
            "TSN / TSO", f"{order.time_since_new or 'not recorded'} / {order.time_since_overhaul or 'not recorded'}"
        ),
        Labelled("Lines of the list", f"{listed}, {here} identified on the floor, {coded} with a reason code"),
        Labelled("Directives", answered),
    )


def _why_not(code: str) -> str:
    return f"{code} {REASON_CODES[code]}" if code in REASON_CODES else code


def _balance(received: int, counted: int, others: Mapping[str, int]) -> marks.Mark:
    """Whether every piece received stands in one class: a state, or a reason why it gets no record."""
    if received != counted:
        return marks.Mark(marks.FAILED, f"{received} pieces to inspect, {counted} accounted for: count again")
    aside = sum(pieces for code, pieces in others.items() if code != NOT_RECEIVED)
    also = f" + {aside} not to inspect" if aside else ""
    return marks.Mark(marks.SETTLED, f"{received + aside} received = {counted} in a state{also}")
