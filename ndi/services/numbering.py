"""The next free name of a record, a view, an indication or a second look."""

from __future__ import annotations

from itertools import count

from ndi.domain import facts as f
from ndi.services.ports import Session

_DIGITS = 3


def next_inspection(session: Session, method: str) -> str:
    """``MT-035`` after ``MT-034``; a number that is taken is never given again."""
    taken = [row.inspection for row in session.inspections() if row.inspection.startswith(f"{method}-")]
    numbers = [int(tail) for name in taken if (tail := name.removeprefix(f"{method}-")).isdigit()]
    return f"{method}-{max(numbers, default=0) + 1:0{_DIGITS}d}"


def next_view(session: Session, inspection: str) -> str:
    """A name for one more view of a record."""
    return _free(session, f.ViewStarted, f"{inspection}/view")


def next_second_look(session: Session, inspection: str) -> str:
    return _free(session, f.ViewStarted, f"{inspection}/second")


def next_indication(session: Session, inspection: str) -> str:
    """Numbered within its record."""
    return next(
        name
        for number in count(1)
        if not session.facts((name := f"{inspection}/IND-{number}"), (f.IndicationSeen,), include_superseded=True)
    )


def _free(session: Session, kind: type[f.Fact], stem: str) -> str:
    for number in count(1):
        name = stem if number == 1 else f"{stem}-{number}"
        if not session.facts(name, (kind,), include_superseded=True):
            return name
    raise AssertionError("unreachable")
