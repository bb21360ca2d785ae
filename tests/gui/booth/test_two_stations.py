"""Two stations on one PostgreSQL book: they see each other's entries, one of two deciders is refused, a lost connection loses nothing."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from time import monotonic, sleep

import pytest

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.scan_codes import ScanKind
from ndi.gui.presenters.scene import Form, Part, Side
from ndi.store import session as sessions
from ndi.store.book import SqlBook, add_station
from ndi.store.errors import ConnectionLost, SavingUnknown
from ndi.store.postgres import database_url
from tests.database_server import OWNER, Server, server_or_skip, start_another
from tests.gui.booth import real_book
from tests.gui.booth.real_book import PART, badge
from tests.gui.window import PATIENCE, Window
from tests.people.real_shop import LEVEL3, RealShop, pin
from tests.services.shop import STATION
from tests.services.shop import SetClock as ShopClock

SEEN_WITHIN_S = 2.0
OTHER = "PT ROOM"
GEAR = "MT-101"  # a gear, everything recorded, not signed
LOST = "the database server is not reached or the connection to it was lost"


def begin(server: Server, folder: Path) -> str:
    """A real book in a database: a lot on the table, a gear ready to be signed, two stations; the database's name."""
    database = server.database()
    with pytest.MonkeyPatch.context() as patch:
        keys = folder / "keys"
        patch.setenv("NDI_KEYS", str(keys))
        patch.setenv("NDI_PHOTOGRAPHS", str(folder / "photographs"))
        url = server.url(database)
        real_book.begin(folder, address=url, owner_url=server.url(database, OWNER))
        clock = ShopClock()
        shop = RealShop(bootstrap.open_book(url, station=STATION, clock=clock), clock)
        shop.at("09:00").gear(GEAR)
        assert isinstance(shop.work.book, SqlBook)
        add_station(shop.work.book, OTHER, key_folder=keys, by="ADM-Z")
        shop.close()
    return database


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    folder = tmp_path_factory.mktemp("two")
    with real_book.cheap_secrets():
        yield begin(server_or_skip(), folder), folder


@dataclass
class Shared:
    """The book of one test, and how its connections are ended."""

    url: str

    def cut(self) -> None:
        """Ends every connection of the stations to this book, as a server that goes down does."""
        database = database_url(self.url).database
        server_or_skip().run(
            "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity "
            f"WHERE datname = '{database}' AND pid <> pg_backend_pid()"
        )


@pytest.fixture
def shared(template: tuple[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shared]:
    database, folder = template
    server = server_or_skip()
    name = server.database(database)
    monkeypatch.setenv("NDI_KEYS", str(shutil.copytree(folder / "keys", tmp_path / "keys")))
    monkeypatch.setenv("NDI_PHOTOGRAPHS", str(tmp_path / "photographs"))
    yield Shared(server.url(name))
    for window in list(_opened):
        window.close()
        _opened.remove(window)
    server.run(f'DROP DATABASE "{name}" WITH (FORCE)')


_opened: list[Window] = []


@pytest.fixture
def station(display: str) -> Callable[..., Window]:
    """Opens the window of a station; ``shared`` closes it before its database goes."""

    def open_one(url: str, name: str, person: str, clock: str = "10:57", place: str = "MT booth") -> Window:
        one = Window(url, clock, place=place, station=name)
        _opened.append(one)
        return one.scan(ScanKind.BADGE, badge(person))

    return open_one


def until(w: Window, *words: str, seconds: float = SEEN_WITHIN_S) -> bool:
    """Whether a window that nobody touches shows these words in time; its own clock ticks, nothing is pressed."""
    end = monotonic() + seconds
    while monotonic() < end and not w.says(*words):
        w.app.root.update()
        sleep(0.01)
    return w.says(*words)


def typed(w: Window) -> list[str]:
    """What stands in the fields of the form."""
    found: list[str] = []

    def look(parts: tuple[Part | Side, ...]) -> None:
        for part in parts:
            if isinstance(part, Side):
                look(part.left + part.right)
            elif isinstance(part, Form):
                found.extend(field.typed for field in part.fields if field.typed)

    look(w.scene.parts)
    return found


def shots(w: Window) -> list[tuple[int, str]]:
    assert w.work is not None
    with w.work.book.session(readonly=True) as session:
        fired = [r.fact for r in session.facts("MT-102", (f.ShotFired,)) if isinstance(r.fact, f.ShotFired)]
    return [(shot.shot, " ".join(str(pulse.amps) for pulse in shot.pulses)) for shot in fired]


def at_the_first_shot(w: Window) -> Window:
    """The lot's record opened, clean, the view begun; the first shot is in hand."""
    w.scan(ScanKind.LAMP, "LP-1").scan(ScanKind.LAMP, "LP-2").scan(ScanKind.METER, "GM-1").key("*")
    w.at("10:58:30").scan(ScanKind.PART, PART).key("enter", "enter", "enter")
    assert w.says("MT-102", "view begins", "Pulse 1 amps"), w.scene
    return w.at("11:00")


# --- seeing each other ----------------------------------------------------------------------------


def test_two_windows_see_each_others_entries(shared: Shared, station: Callable[..., Window]) -> None:
    one = station(shared.url, STATION, "L2-A")
    other = station(shared.url, OTHER, "L2-B", place="PT booth")
    assert not other.says("MT-102")
    one.at("10:58").scan(ScanKind.PART, PART).key("enter")  # the record is opened
    assert until(other, "MT-102  Rocker arms"), other.scene
    other.scan(ScanKind.PART, PART)
    assert other.says("0 of"), other.scene
    one.key("enter")  # clean, dry, trapped parts removed
    assert until(other, "To do: 1 of"), other.scene
    other.at("10:59").key("-")  # the other person entered nothing: nothing of the first one is undone
    assert other.scene.refused and other.says("L2-B entered nothing"), other.scene
    assert until(one, "To do: 1 of")


def test_numbers_typed_for_one_thing_are_never_taken_for_the_next(
    shared: Shared, station: Callable[..., Window]
) -> None:
    """While one types the first shot the other records it: what was typed is dropped, and said so."""
    one = at_the_first_shot(station(shared.url, STATION, "L2-A"))
    other = station(shared.url, OTHER, "L2-B").at("11:00")
    other.scan(ScanKind.METER, "GM-1").scan(ScanKind.PART, PART)
    for number in ("1015", "0.7", "990", "0.7"):
        one.number(number)
        other.number(number)
    one.at("11:00:30").key("enter")
    assert one.says("saved, entry"), one.scene
    assert until(other, "1 bar", "1015 990 A", "Pulse 1 amps"), other.scene
    assert until(other, "what was typed") and typed(other) == [], other.scene
    other.key("enter")
    assert other.scene.refused and other.says("type what the meter showed"), other.scene
    assert shots(other) == [(1, "1015 A 990 A")]


# --- deciding at once -----------------------------------------------------------------------------


def test_of_two_deciders_the_second_is_refused(shared: Shared, station: Callable[..., Window]) -> None:
    """The viewer and the Level III see the record as it stands and type their PINs; one signature stands, the other is told whose."""
    one = station(shared.url, STATION, "L2-A")
    other = station(shared.url, OTHER, LEVEL3)
    for w, key in ((one, "enter"), (other, "8")):
        w.booth.go(w.booth.make_screen("decision", w.booth, inspection=GEAR))
        w.key(key)
        assert w.scene.name == "signing", w.scene
    word = other.scene.title.removeprefix("Sign ")
    assert word != "ACCEPT"
    one.number(pin("L2-A"))
    assert one.scene.name == "tag" and not one.scene.refused, one.scene
    other.number(pin(LEVEL3))
    assert other.scene.refused and other.says(f"{GEAR} was changed by L2-A", "look again"), other.scene
    other.key("-", "/", ".")
    assert until(other, "ACCEPT", "is signed"), other.scene
    assert other.work is not None
    with other.work.book.session(readonly=True) as session:
        (signed,) = session.facts(GEAR, (f.DecisionSigned,))
    assert isinstance(signed.fact, f.DecisionSigned)
    assert (signed.by, signed.fact.disposition) == ("L2-A", "ACCEPT")


# --- a connection that is lost --------------------------------------------------------------------


def test_a_connection_cut_between_keys_is_made_anew(shared: Shared, station: Callable[..., Window]) -> None:
    one = at_the_first_shot(station(shared.url, STATION, "L2-A"))
    for number in ("1015", "0.7", "990", "0.7"):
        shared.cut()
        one.number(number)
    shared.cut()
    one.key("enter")
    assert one.says("saved, entry") and not one.scene.refused, one.scene
    assert shots(one) == [(1, "1015 A 990 A")]


class CutAt:
    """Cuts the connection once, at a step of a session, as an outage hits it there."""

    def __init__(self, shared: Shared, patch: pytest.MonkeyPatch, step: str, *, after: bool = False) -> None:
        self.armed = True
        real = getattr(sessions.SqlSession, step)

        def cut_then(session: object, *args: object, **more: object) -> object:
            if not self.armed or getattr(session, "_readonly", False):
                return real(session, *args, **more)
            self.armed = False
            if not after:
                shared.cut()
                return real(session, *args, **more)
            done = real(session, *args, **more)
            shared.cut()
            return done

        patch.setattr(sessions.SqlSession, step, cut_then)


def type_a_shot(w: Window) -> None:
    for number in ("1015", "0.7", "990", "0.7"):
        w.number(number)


def test_cut_while_a_key_records_the_numbers_stay_and_go_on(
    shared: Shared, station: Callable[..., Window], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing of the step was saved; the message says so, the numbers are still there, the next Enter saves them once."""
    one = at_the_first_shot(station(shared.url, STATION, "L2-A"))
    type_a_shot(one)
    cut = CutAt(shared, monkeypatch, "append")
    one.event("KP_Enter")
    assert not cut.armed
    assert one.scene.refused and one.says(LOST, "nothing of this step was saved"), one.scene
    assert typed(one) == ["1015", "0.7", "990", "0.7"]
    assert until(one, "the book is reached again"), one.scene
    assert shots(one) == [] and typed(one) == ["1015", "0.7", "990", "0.7"]
    one.key("enter")
    assert one.says("saved, entry") and shots(one) == [(1, "1015 A 990 A")], one.scene


@pytest.mark.parametrize("saved", [False, True])
def test_cut_while_saving_is_said_to_be_unknown_and_looked_up(
    shared: Shared, station: Callable[..., Window], monkeypatch: pytest.MonkeyPatch, saved: bool
) -> None:
    """The answer to the commit never came: the window does not say that nothing was saved, and nothing is entered twice."""
    one = at_the_first_shot(station(shared.url, STATION, "L2-A"))
    type_a_shot(one)
    if saved:
        lose_the_answer(monkeypatch)
    else:
        CutAt(shared, monkeypatch, "commit")
    one.event("KP_Enter")
    assert one.scene.refused and one.says("saved whole or not at all"), one.scene
    assert "not saved" not in one.scene.message and "nothing" not in one.scene.message
    assert until(one, "the book is reached again"), one.scene
    assert shots(one) == ([(1, "1015 A 990 A")] if saved else [])
    assert typed(one) == ([] if saved else ["1015", "0.7", "990", "0.7"])
    one.key("enter")
    assert shots(one) == [(1, "1015 A 990 A")], one.scene
    assert one.scene.refused is saved  # the second shot is in hand, and nobody typed its numbers


def lose_the_answer(patch: pytest.MonkeyPatch) -> None:
    """The next commit is done, and its answer does not come through."""
    real, armed = sessions.SqlSession.commit, [True]

    def commit(session: sessions.SqlSession) -> None:
        real(session)
        if armed:
            armed.clear()
            raise SavingUnknown(
                "the answer to saving never came: this step was saved whole or not at all. Look whether it is in the book"
            )

    patch.setattr(sessions.SqlSession, "commit", commit)


def test_saved_and_then_cut_is_not_called_lost(
    shared: Shared, station: Callable[..., Window], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Saved, but the screen could not be read anew: the message tells the entry, the next key does not act on the old screen."""
    one = at_the_first_shot(station(shared.url, STATION, "L2-A"))
    type_a_shot(one)
    CutAt(shared, monkeypatch, "commit", after=True)
    real, failing = SqlBook.session, [True]

    def session(book: SqlBook, **more: bool) -> object:
        if more.get("readonly") and failing and shots_in(book):
            raise ConnectionLost(f"{LOST}: nothing of this step was saved")
        return real(book, **more)

    def shots_in(book: SqlBook) -> bool:
        with real(book, readonly=True) as reading:
            return bool(reading.facts("MT-102", (f.ShotFired,)))

    monkeypatch.setattr(SqlBook, "session", session)
    one.event("KP_Enter")
    assert one.says("saved, entry", "not reached") and "nothing" not in one.scene.message, one.scene
    one.event("KP_Enter")
    assert one.scene.refused and one.says("not reached"), one.scene
    failing.clear()
    assert until(one, "the book is reached again"), one.scene
    assert shots(one) == [(1, "1015 A 990 A")] and typed(one) == []


def test_a_server_that_is_down_for_a_while(tmp_path: Path, display: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys while the server is down are refused with its reason; when it is back, everything acknowledged is there."""
    server_or_skip()
    server = start_another()
    assert not isinstance(server, str)
    monkeypatch.setenv("NDI_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("NDI_PHOTOGRAPHS", str(tmp_path / "photographs"))
    with real_book.cheap_secrets():
        url = server.url(begin(server, tmp_path))
        one = Window(url, "10:57", station=STATION).scan(ScanKind.BADGE, badge("L2-A"))
        try:
            at_the_first_shot(one)
            type_a_shot(one)
            server.crash()
            for _ in range(2):
                one.event("KP_Enter")
                assert one.scene.refused and one.says(LOST), one.scene
            assert typed(one) == ["1015", "0.7", "990", "0.7"]
            one.shot("booth/server-down")
            server.start()
            assert until(one, "the book is reached again", seconds=PATIENCE), one.scene
            one.key("enter")
            assert one.says("saved, entry") and shots(one) == [(1, "1015 A 990 A")], one.scene
            position = int(one.scene.message.split("saved, entry ")[1])
            server.crash()
            server.start()
            assert one.work is not None
            one.at("11:03").number("790").number("0.7").number("790").number("0.7").key("enter")
            assert one.says("saved, entry"), one.scene
            with one.work.book.session(readonly=True) as session:
                assert isinstance(session.entry(position).fact, f.ShotFired)
            assert bootstrap.verify(one.work.book).ok
        finally:
            one.close()
