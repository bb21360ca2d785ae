"""Appending: envelope, chain, corrections, client keys, what a session leaves behind."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained
from ndi.domain.errors import InputError, NotFound, ReadOnly, StoreError
from ndi.domain.moment import Boot, Moment, Precision
from ndi.domain.quantity import Number
from ndi.store.book import SqliteBook
from ndi.store.journal import Remembered
from ndi.store.verify import verify
from tests.store.conftest import START, FakeClock, draft, forger, moment, put


def reading(typed: str = "1200", lamp: str = "LAMP-1", **more: Any) -> f.ReadingRecorded:
    return f.ReadingRecorded(lamp, "UV-A at 15 in", Number(typed, "uW/cm2"), **more)


def test_new_book_begins_with_its_name_and_the_station_key(book: SqliteBook) -> None:
    with book.session() as session:
        first, second = session.entry(1), session.entry(2)
    assert first.fact == f.BookBegun(book.book_id, "GW", True)
    assert second.fact == f.StationKeyEntered("BOOTH 1", book.key.public_hex)
    assert len(book.book_id) == 10
    assert book.practice


def test_append_gives_back_what_was_put_in(book: SqliteBook) -> None:
    given = Draft(
        reading(meter="M-1", screen_on=False),
        Moment(START, 60, Precision.MINUTE),
        by="P. Example",
        how=Obtained.TRANSCRIBED,
        on_behalf_of="Q. Example",
        why="paper of the outage",
    )
    (recorded,) = put(book, given)
    with book.session() as session:
        assert session.entry(3) == recorded
        assert session.facts("M-1") == session.facts("LAMP-1") == session.of_kind(f.ReadingRecorded) == [recorded]
    assert (recorded.fact, recorded.when, recorded.by, recorded.how) == (given.fact, given.when, given.by, given.how)
    assert (recorded.on_behalf_of, recorded.why, recorded.position) == (given.on_behalf_of, given.why, 3)
    assert recorded.when.precision is Precision.MINUTE


def test_entries_read_by_another_process_are_the_same(book: SqliteBook, reopen: Any) -> None:
    recorded = put(book, draft(reading()), draft(reading("1150")))
    with reopen().session() as session:
        assert session.facts("LAMP-1") == recorded


@pytest.mark.parametrize("how", list(Obtained))
@pytest.mark.parametrize(("late", "near"), [(0, True), (1, True), (1.001, False), (-1, True), (-1.001, False)])
def test_boot_clock_belongs_to_the_event_only_where_it_was_taken_live(
    book: SqliteBook, clock: FakeClock, how: Obtained, late: float, near: bool
) -> None:
    when = Moment(clock.now() - timedelta(seconds=late), -300)
    (recorded,) = put(book, Draft(reading(), when, by="P", how=how))
    live = how in (Obtained.TIMER, Obtained.SCANNER, Obtained.INSTRUMENT)
    assert recorded.when.boot == (Boot("boot-a", 1_000_000) if live and near else None)


def test_seals_are_what_the_hashes_were_taken_over(book: SqliteBook) -> None:
    """FIPS 180-4 by hashlib over the text alone; each text names the hash before it; a station's own signature is beside it."""
    put(book, *(draft(reading(str(1000 + n), f"L\u00e4mpchen {n}")) for n in range(30)))
    with book.session(readonly=True) as session:
        found = session.seals([9, 3, 3, *range(1, 33)])
        assert [seal.position for seal in found] == list(range(1, 33))
        before = "0" * 64
        for seal in found:
            assert hashlib.sha256(seal.text.encode()).hexdigest() == seal.hash
            told = json.loads(seal.text)
            assert (told["prev_hash"], told["position"], seal.station) == (before, seal.position, told["station"])
            assert seal.text == json.dumps(told, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
            Ed25519PublicKey.from_public_bytes(bytes.fromhex(book.key.public_hex)).verify(
                bytes.fromhex(seal.signature), bytes.fromhex(seal.hash)
            )
            before = seal.hash
        assert session.head().hash == before
        assert session.seals([]) == []
        with pytest.raises(NotFound, match="entry 33"):
            session.seals([1, 33])


def test_uids_sort_by_recorded_time_and_sequence(book: SqliteBook, clock: FakeClock) -> None:
    uids = []
    for _ in range(3):
        uids += [each.uid for each in put(book, draft(reading()), draft(reading()))]
        clock.tick()
    assert uids == sorted(uids)
    assert len(set(uids)) == 6


def test_facts_come_by_event_time_then_position(book: SqliteBook) -> None:
    put(book, draft(reading("3"), 30), draft(reading("1"), 10), draft(reading("2"), 10))
    with book.session() as session:
        assert [each.fact.value.typed for each in session.facts("LAMP-1")] == ["1", "2", "3"]  # type: ignore[attr-defined]
        inside = session.facts("LAMP-1", [f.ReadingRecorded], since=moment(10).at, until=moment(10).at)
        assert [each.position for each in inside] == [4, 5]
        assert session.facts("LAMP-1", since=moment(10.001).at, until=moment(29.999).at) == []
        assert session.facts("LAMP-1", [f.ViewStarted]) == []


def test_text_is_kept_in_nfc(book: SqliteBook) -> None:
    (recorded,) = put(
        book, replace(draft(reading(note="Jose\u0301")), by="Jose\u0301", why="caf\u0065\u0301 light was on")
    )
    assert (recorded.fact.note, recorded.by, recorded.why) == ("Jos\u00e9", "Jos\u00e9", "caf\u00e9 light was on")


def test_float_in_a_body_is_refused_and_nothing_is_kept(book: SqliteBook) -> None:
    with book.session() as session:
        with pytest.raises(InputError, match=r"0\.5"):
            session.append([draft(reading()), draft(f.ConfirmationGiven("I-1", "item", value=0.5))])  # type: ignore[arg-type]
        session.commit()
    assert book.head().position == 2


@pytest.mark.parametrize("bad", [replace(draft(reading()), by="  "), Draft("no fact", moment(), by="P")])
def test_entry_without_person_or_fact_is_refused(book: SqliteBook, bad: Draft) -> None:
    with book.session() as session, pytest.raises(InputError):
        session.append([bad])


def test_entry_that_is_not_there(book: SqliteBook) -> None:
    with book.session() as session, pytest.raises(NotFound, match="no entry 99"):
        session.entry(99)


# --- corrections ---


def correction(uid: str, fact: f.Fact | None = None, why: str = "wrong digit") -> Draft:
    return draft(fact or reading("1100"), 1, supersedes=uid, why=why)


def test_corrected_entry_disappears_from_answers_but_stays_in_the_chain(book: SqliteBook) -> None:
    (old,) = put(book, draft(reading(meter="M-1")))
    (new,) = put(book, correction(old.uid))
    with book.session() as session:
        assert session.facts("LAMP-1") == session.of_kind(f.ReadingRecorded) == [new]
        assert session.facts("M-1") == []
        assert session.facts("LAMP-1", include_superseded=True) == [old, new]
        assert session.entry(old.position) == old
        assert new.supersedes == old.uid


def test_correction_of_a_correction_must_name_the_latest(book: SqliteBook) -> None:
    (old,) = put(book, draft(reading()))
    (second,) = put(book, correction(old.uid))
    with book.session() as session, pytest.raises(InputError, match="corrected already"):
        session.append([correction(old.uid)])
    (third,) = put(book, correction(second.uid))
    with book.session() as session:
        assert session.facts("LAMP-1") == [third]


def test_two_corrections_of_one_entry_at_once_are_refused(book: SqliteBook) -> None:
    (old,) = put(book, draft(reading()))
    with book.session() as session, pytest.raises(InputError, match="corrected already"):
        session.append([correction(old.uid), correction(old.uid)])


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"why": "123456789"}, "at least 10"),
        ({"why": "  123456789 "}, "at least 10"),
        ({"why": None}, "at least 10"),
        ({"fact": reading("1100", "LAMP-2")}, "about LAMP-1"),
        ({"fact": f.EquipmentSwitched("LAMP-1", "on")}, "ReadingRecorded"),
    ],
)
def test_correction_that_does_not_fit_is_refused(book: SqliteBook, more: dict[str, Any], says: str) -> None:
    (old,) = put(book, draft(reading()))
    with book.session() as session, pytest.raises(InputError, match=says):
        session.append([correction(old.uid, **more)])
    with book.session() as session:
        assert session.facts("LAMP-1") == [old]


def test_reason_of_ten_characters_is_enough(book: SqliteBook) -> None:
    (old,) = put(book, draft(reading()))
    assert put(book, correction(old.uid, why="1234567890"))


def test_correction_of_an_unknown_entry_is_refused(book: SqliteBook) -> None:
    with book.session() as session, pytest.raises(InputError, match="not in this book"):
        session.append([correction("NO-SUCH-UID")])


# --- sessions ---


def test_leaving_without_commit_leaves_nothing(book: SqliteBook) -> None:
    with book.session() as session:
        session.append([draft(reading())])
        session.keep_client_key("call-1", [3])
        assert session.head().position == 3
        assert session.facts("LAMP-1")
    with book.session() as session:
        assert (session.head().position, session.facts("LAMP-1"), session.seen_client_key("call-1")) == (2, [], None)


def test_what_was_taken_back_is_not_remembered(book: SqliteBook) -> None:
    with book.session() as session:
        session.append([draft(reading("1"))])
        session.facts("LAMP-1")
    put(book, draft(reading("2")))
    with book.session() as session:
        assert session.entry(3).fact == reading("2")


def test_exception_inside_a_session_takes_everything_back(book: SqliteBook) -> None:
    with pytest.raises(ZeroDivisionError), book.session() as session:
        session.append([draft(reading())])
        raise ZeroDivisionError
    assert book.head().position == 2


def test_session_goes_on_after_a_commit(book: SqliteBook) -> None:
    with book.session() as session:
        session.append([draft(reading())])
        session.commit()
        session.append([draft(reading())])
        session.commit()
        session.append([draft(reading())])
    assert book.head().position == 4


def test_session_goes_on_behind_what_others_wrote_after_its_commit(book: SqliteBook, reopen: Any) -> None:
    other = reopen()
    with book.session() as session:
        session.append([draft(reading())])
        session.commit()
        put(other, draft(reading()))
        (last,) = session.append([draft(reading())])
        session.commit()
    assert last.position == 5
    assert verify(book).ok


def test_memory_of_entries_is_bounded(book: SqliteBook) -> None:
    recorded = put(book, *(draft(reading(str(n))) for n in range(5)))
    remembered = Remembered(most=3)
    remembered.put(recorded)
    assert [remembered.get(each.position) for each in recorded] == [None, None, *recorded[2:]]


@pytest.mark.parametrize("change", ["kind_version = 2", "kind = 'FactOfTomorrow'"])
def test_entry_of_a_newer_program_is_not_guessed_at(book: SqliteBook, reopen: Any, change: str) -> None:
    put(book, draft(reading()))
    with forger(book.path) as connection:
        connection.execute(f"UPDATE entry SET {change} WHERE position = 3")
    with reopen().session() as session, pytest.raises(StoreError, match="newer program"):
        session.entry(3)


def test_entry_that_cannot_be_read_is_named(book: SqliteBook, reopen: Any) -> None:
    put(book, draft(reading()))
    with forger(book.path) as connection:
        connection.execute("UPDATE entry SET body = '{' WHERE position = 3")
    with reopen().session() as session, pytest.raises(StoreError, match="entry 3 cannot be read"):
        session.entry(3)


def test_failure_in_the_middle_of_an_append_cannot_be_committed(
    book: SqliteBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("projection")

    monkeypatch.setattr("ndi.store.session.apply", broken)
    with book.session() as session:
        with pytest.raises(RuntimeError):
            session.append([draft(reading())])
        with pytest.raises(StoreError, match="do the whole again"):
            session.commit()
    assert book.head().position == 2


def test_reading_session_does_not_write(book: SqliteBook) -> None:
    with book.session(readonly=True) as session:
        with pytest.raises(ReadOnly):
            session.append([draft(reading())])
        with pytest.raises(ReadOnly):
            session.keep_client_key("call", [1])


def test_reader_sees_the_state_before_a_writer_that_is_not_done(book: SqliteBook) -> None:
    with book.session() as writer:
        writer.append([draft(reading())])
        with book.session(readonly=True) as reader:
            assert reader.head().position == 2


def test_second_writer_in_one_thread_is_told_at_once(book: SqliteBook) -> None:
    with book.session(), pytest.raises(StoreError, match="in this thread"), book.session():
        pass
    with book.session() as session:
        session.append([draft(reading())])


def test_client_key_is_remembered(book: SqliteBook) -> None:
    with book.session() as session:
        assert session.seen_client_key("call-1") is None
        recorded = session.append([draft(reading()), draft(reading())])
        session.keep_client_key("call-1", [each.position for each in recorded])
        session.keep_client_key("call-2", [])
        session.commit()
    with book.session() as session:
        assert session.seen_client_key("call-1") == (3, 4)
        assert session.seen_client_key("call-2") == ()
        with pytest.raises(InputError, match="done already"):
            session.keep_client_key("call-1", [3])


def test_reading_many_entries_keeps_their_order(book: SqliteBook, reopen: Any) -> None:
    put(book, *(draft(reading(str(n)), minutes=n % 7) for n in range(1200)))
    with reopen().session() as session:
        found = session.facts("LAMP-1")
    assert len(found) == 1200
    assert [(e.at, e.position) for e in found] == sorted((e.at, e.position) for e in found)
