"""One pair of hands where there should be two: two persons' secrets within seconds, and records on which too few worked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.moment import Moment, duration_text
from ndi.domain.quantity import Number
from ndi.domain.secrets import LEAST_GAP
from ndi.rules.inquiry import Inquiry
from ndi.rules.record import doer, processing
from ndi.services.ports import Line, Session
from ndi.services.state import Standing
from ndi.services.workplace import Workplace

# key of the least number of persons by class of part
PERSONS_KEYS = {1: "persons_min_class_1", 2: "persons_min_class_2", 3: "persons_min_class_3"}


# --- two signatures within seconds ----------------------------------------------------------------


def soon_after(work: Workplace, session: Session, person: str) -> str | None:
    """Whose secret was typed right on this station less than the least gap ago, if it was another person's."""
    now = work.now().at
    tried = [
        line
        for line in session.lines(f.SecretTried, now - LEAST_GAP, None)
        if line.body["station"] == work.station and line.body["right"] and line.body["person"] != person
    ]
    close = [line for line in tried if abs(now - utc_from_text(line.at)) < LEAST_GAP]
    return str(close[-1].body["person"]) if close else None


@dataclass(frozen=True)
class Hasty:
    """Two persons' secrets on one station, the second within seconds of the first."""

    station: str
    first: str
    second: str
    at: Moment

    def sentence(self) -> str:
        """What the supervisor is to ask about."""
        return (
            f"{self.second} typed a secret at {self.at.clock()} less than {duration_text(LEAST_GAP)} after {self.first}: "
            "were both there, and did each type their own?"
        )


def hasty_signatures(session: Session, day: date, offset_min: int) -> tuple[Hasty, ...]:
    """Those of a local day, by time."""
    begins = datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(minutes=offset_min)
    lines = session.lines(f.SecretTried, begins, begins + timedelta(days=1))
    return tuple(_hasty(line) for line in lines if line.body.get("soon_after"))


def _hasty(line: Line) -> Hasty:
    body = line.body
    at = Moment(utc_from_text(line.at), line.offset_min)
    return Hasty(body["station"], body["soon_after"], body["person"], at)


# --- too few persons ------------------------------------------------------------------------------


@dataclass(frozen=True)
class FewHands:
    """A decided record on which fewer persons worked than its procedure wants for its class of part."""

    inspection: str
    item_class: int
    wanted: int
    persons: tuple[str, ...]

    def sentence(self) -> str:
        """Who did all of it, and what helps."""
        who = ", ".join(self.persons) or "nobody"
        return (
            f"{who} processed, looked and decided; the procedure wants {self.wanted} persons for class {self.item_class}: "
            "another person looks, or verifies it"
        )


def persons_of(q: Inquiry) -> tuple[str, ...]:
    """Everybody who processed, looked at, or decided a record, in the order of their first act."""
    acts = [(r.at, doer(r)) for r in processing(q)]
    acts += [(view.started.at, view.started.fact.person) for view in q.all_views]
    acts += [(look.saved.at, look.saved.fact.person) for look in q.second_looks if look.saved]
    acts += [(r.at, r.fact.person) for r in q.facts.of(f.DecisionSigned, q.inspection)]
    return tuple(dict.fromkeys(person for _, person in sorted(acts)))


def few_hands(standings: Iterable[Standing]) -> tuple[FewHands, ...]:
    """Decided records that nobody verified yet and on which too few persons worked; a procedure without a number asks none."""
    found = []
    for standing in standings:
        row, q = standing.row, standing.judgement.inquiry
        key = PERSONS_KEYS.get(q.master.item_class, "")
        wanted = q.procedure.parameters.get(key)
        if row.decision is None or row.verified or wanted is None or not isinstance(wanted.value, Number):
            continue
        persons = persons_of(q)
        if len(persons) < wanted.value.value:
            found.append(FewHands(row.inspection, q.master.item_class, int(wanted.value.value), persons))
    return tuple(found)
