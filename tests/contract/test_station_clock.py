"""A station whose clock is off the database server's: more than 2 s is said, more than 60 s refuses timed steps."""

from __future__ import annotations

from datetime import timedelta

import pytest

from ndi import procedure_files
from ndi.domain import facts as f
from ndi.domain.entry import Draft
from ndi.domain.errors import NotPermitted
from ndi.domain.moment import Moment
from ndi.services import recording
from ndi.services.station_clock import check_station_clock, clock_warning
from ndi.services.workplace import Workplace
from ndi.store.book import SqlBook
from ndi.store.postgres import clock_offset
from tests.contract.conftest import Place
from tests.contract.test_connection import Shifted
from tests.store.conftest import STATION

SWITCHED = f.EquipmentSwitched("LAMP-1", "on")


def entered(book: SqlBook) -> int:
    """The position at which the person who works here was entered."""
    with book.session() as session:
        draft = Draft(f.PersonEntered("L1-A", ("operator",)), Moment(book.clock.now(), -300), "L1-A")
        (recorded,) = session.append([draft])
        session.commit()
    return recorded.position


@pytest.fixture
def engine_name() -> str:
    return "postgresql"


@pytest.mark.parametrize(
    ("seconds", "says"),
    [
        (None, None),
        (0, None),
        (2, None),
        (-2, None),
        (2.1, "2.1 s ahead of the database server's. Set the clock"),
        (-2.1, "2.1 s behind the database server's. Set the clock"),
        (60, "60.0 s ahead of the database server's. Set the clock"),
        (60.1, "60.1 s ahead of the database server's (limit 60 s): nothing is timed here. Set the clock"),
        (-3600, "3600.0 s behind the database server's (limit 60 s)"),
    ],
)
def test_what_is_said_of_the_clock(seconds: float | None, says: str | None) -> None:
    offset = None if seconds is None else timedelta(seconds=seconds)
    warning = clock_warning(offset)
    if says is None:
        assert warning is None
    else:
        assert warning is not None
        assert says in warning
    if seconds is not None and abs(seconds) > 60:
        with pytest.raises(NotPermitted, match="nothing is timed here"):
            check_station_clock(offset)
    else:
        check_station_clock(offset)


@pytest.mark.parametrize(("seconds", "refused"), [(0, False), (30, False), (61.5, True), (-61.5, True)])
def test_timed_step_at_a_station_whose_clock_is_off(place: Place, seconds: float, refused: bool) -> None:
    with place.open(clock=Shifted(seconds)) as book:
        work = Workplace(book, book.clock, procedure_files.document_from_text, STATION, True)
        work.clock_offset = lambda: clock_offset(book)
        begun = entered(book)
        if refused:
            with pytest.raises(NotPermitted, match="nothing is timed here"):
                recording.record(work, [SWITCHED], "L1-A")
            assert book.head().position == begun
        else:
            recording.record(work, [SWITCHED], "L1-A")
            assert book.head().position == begun + 1


def test_what_was_kept_on_paper_is_entered_though_the_clock_is_off(place: Place) -> None:
    with place.open(clock=Shifted(90)) as book:
        work = Workplace(book, book.clock, procedure_files.document_from_text, STATION, True)
        work.clock_offset = lambda: clock_offset(book)
        begun = entered(book)
        earlier = Moment(book.clock.now() - timedelta(minutes=10), -300)
        recording.record(work, [SWITCHED], "L1-A", when=earlier, why="the network was down")
        assert book.head().position == begun + 1
