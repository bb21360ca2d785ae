"""What the demonstration day has none of: entered into copies of its book, then asked; and a book that was tampered with."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.day.clock import SetClock
from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.services.lookup import about, every
from ndi.services.workplace import Workplace
from tests.asked.conftest import OFFSET, copy_at
from tests.asked.test_demo_day import ask, column
from tests.gui.window import instant

Enter = Callable[..., Recorded[f.Fact]]


@pytest.fixture
def own(day_book: Path, tmp_path: Path) -> Iterator[Workplace]:
    opened = copy_at(day_book, tmp_path / "own", "17:30")
    yield opened
    bootstrap.close(opened.book)


@pytest.fixture
def enter(own: Workplace) -> Enter:
    """Puts a fact into the book as it stands there: what a question reads, whoever let it in."""

    def entered(
        fact: f.Fact,
        clock: str = "17:00",
        *,
        by: str = "NL3-E",
        how: Obtained = Obtained.TIMER,
        corrects: Recorded[f.Fact] | None = None,
        why: str | None = None,
    ) -> Recorded[f.Fact]:
        when = corrects.when if corrects else Moment(instant(clock), OFFSET)
        with own.book.session() as session:
            draft = Draft(fact, when, by, how, supersedes=corrects.uid if corrects else None, why=why)
            (recorded,) = session.append([draft])
            session.commit()
            return recorded

    return entered


def first(own: Workplace, kind: type[f.Fact], subject: str) -> Recorded[f.Fact]:
    with own.book.session(readonly=True) as session:
        return about(session, kind, subject)[0]


def test_f4_quarantined_while_a_basket_was_wetted(own: Workplace, enter: Enter) -> None:
    """PEN-D-064 was in quarantine from 09:00 to 12:00; B5 with the pistons of PT-018 went in at 10:20."""
    enter(f.EquipmentStatusSet("PEN-D-064", "quarantine", "smells of solvent"), "09:00")
    enter(f.EquipmentStatusSet("PEN-D-064", "in service", "checked, was the drum"), "12:00")
    (row,) = ask(own, "F4").rows
    assert row.cells[:3] == ("PEN-D-064", "quarantine: smells of solvent", "PT-018")
    assert row.cells[4:7] == ("L1-D", "L2-B", "T6-10410 LOT-148-PST")


def test_f4_expired_when_it_was_used_and_not_what_was_entered_again(own: Workplace, enter: Enter) -> None:
    old = first(own, f.BatchEntered, "EMU-031")
    assert isinstance(old.fact, f.BatchEntered)
    enter(replace(old.fact, expires=date(2026, 3, 9)), corrects=old, why="the label says 9 March")
    assert column(ask(own, "F4"), "Record") == ["PT-018"]
    assert ask(own, "F4").rows[0].cells[1] == "expired 2026-03-09"
    assert not ask(own, "F16").rows  # a correction of a batch is no correction of a record


def test_f4_a_batch_whose_last_day_is_the_day_of_use_is_in_date(own: Workplace, enter: Enter) -> None:
    old = first(own, f.BatchEntered, "EMU-031")
    assert isinstance(old.fact, f.BatchEntered)
    enter(replace(old.fact, expires=date(2026, 3, 10)), corrects=old, why="the label says 10 March")
    assert not ask(own, "F4").rows


def test_f14_and_f34_what_was_typed_late(own: Workplace, enter: Enter) -> None:
    for clock, by in (("09:10", "L2-A"), ("09:50", "L2-A"), ("14:05", "L2-A"), ("14:10", "L1-D")):
        enter(f.BoothClosed("MT booth", by), clock, by=by, how=Obtained.TYPED_LATE, why="the screen was off")
    assert [r.cells for r in ask(own, "F14").rows] == [
        ("L1-D", "14", "1", "100"),
        ("L2-A", "09", "2", "67"),
        ("L2-A", "14", "1", "33"),
    ]
    late = {r.cells[0]: r.cells[3] for r in ask(own, "F34").rows if r.cells[3] != "0"}
    assert late == {"09": "2", "14": "2"}
    assert not ask(own, "F14", **{"to": "2026-03-09"}).rows


def test_f15_and_f38_deviations_up_to_their_last_day(own: Workplace, enter: Enter) -> None:
    for expires in ("2026-03-09", "2026-03-10", "2026-03-11"):
        fact = f.DeviationSigned("MT-014", "M30", "NL3-E", "level3", f"until {expires}", date.fromisoformat(expires))
        enter(fact)
    assert column(ask(own, "F15"), "Until") == ["2026-03-10", "2026-03-11"]
    assert column(ask(own, "F15", day="2026-03-11"), "Until") == ["2026-03-11"]
    enter(f.ConcessionGiven("PT-001", "ER-118", "B", "look again at 500 h", "ENG-P"))
    promises = [r.cells[:4] for r in ask(own, "F38").rows]
    assert ("concession", "PT-001", "look again at 500 h", "ER-118 rev B") in promises
    assert sum(cells[0] == "deviation" for cells in promises) == 3


def test_f16_before_and_after_of_a_correction_behind_a_signature(own: Workplace, enter: Enter) -> None:
    shot = first(own, f.ShotFired, "MT-006")
    assert isinstance(shot.fact, f.ShotFired)
    enter(replace(shot.fact, bench="MT-02"), corrects=shot, by="L2-A", why="typed the wrong bench")
    (row,) = ask(own, "F16").rows
    assert row.cells[:6] == ("MT-006", str(shot.position), "shot fired", "bench MT-01", "bench MT-02", "L2-A")
    assert row.cells[7] == "typed the wrong bench"


def test_f17_a_lower_certificate_does_not_block_and_a_higher_one_does(own: Workplace, enter: Enter) -> None:
    for person, level in (("L2-B", 1), ("SUP-F", 3)):  # both hold PT level 2 to 2028
        enter(f.CertificateEntered(person, "PT", level, date(2020, 1, 1), date(2025, 1, 1)))
    enter(f.AuthorisationEntered("L2-A", "MT-T-6020", date(2025, 1, 1), date(2025, 12, 31)), "16:00")
    enter(f.AuthorisationEntered("L2-A", "MT-T-6020", date(2026, 1, 1), None), "16:30")
    enter(f.VisionExamEntered("NL3-E", date(2026, 3, 10), date(2026, 3, 20)))  # found shorter than before
    assert [r.cells[:3] for r in ask(own, "F17").rows] == [
        ("SUP-F", "certificate PT level 3", "2025-01-01"),
        ("L2-M", "vision", "2026-03-08"),
        ("NL3-E", "vision", "2026-03-20"),
        ("L2-B", "vision", "2026-03-31"),
    ]


def test_f20_who_saw_something_else(own: Workplace, enter: Enter) -> None:
    """A second look at IND-02 that saw 0.32 in and calls it nonrelevant; the first said 0.22 in, relevant."""
    look = f.SecondLookSaved("SC-13", "MT-006", "L2-C", "IND-02", "nonrelevant", "linear", Number("0.32", "in"))
    enter(look)
    row = next(r for r in ask(own, "F20").rows if r.cells[0] == "SC-13")
    assert row.cells[5:7] == ("0.1 in", "no")


def test_f25_a_scrapped_piece_with_its_witness(own: Workplace, enter: Enter) -> None:
    tag = ask(own, "F25").rows[0]
    with own.book.session(readonly=True) as session:
        printed = session.entry(tag.evidence[0]).fact
    assert isinstance(printed, f.TagPrinted)
    enter(f.PartScrapped(printed.part, "T6-10301", None, "L2-A", "SUP-F", True, piece=printed.piece))
    enter(f.TagScannedBack(printed.tag, "MT-012", "L2-A"))
    (row,) = ask(own, "F25").rows
    assert row.cells[5:] == ("yes", "2026-03-10 17:00", "SUP-F")
    enter(f.TagVoided(printed.tag, "MT-012", printed.part, "torn"))
    assert not ask(own, "F25").rows


def test_f28_photographs_that_prove_little(own: Workplace, enter: Enter) -> None:
    at, a, b = Moment(instant("16:00"), OFFSET), "a" * 64, "b" * 64
    enter(f.PhotoAttached("MT-032", a, at, "IND-09", True, "not in frame"))
    enter(f.PhotoAttached("MT-032", b, at, "IND-09", True, "read", camera_ahead_s=300))  # five minutes are allowed
    enter(f.PhotoAttached("MT-033", b, at, None, True, "seen by person", camera_ahead_s=-301))
    found = {(r.cells[0], r.cells[3]): r.cells[4] for r in ask(own, "F28").rows}
    assert found == {
        ("MT-032", a[:16]): "no tag in frame",
        ("MT-032", b[:16]): "used more than once",
        ("MT-033", b[:16]): "used more than once, camera -301 s ahead",
    }


def test_f32_the_years_run_from_the_release(own: Workplace, enter: Enter) -> None:
    enter(f.ReleaseNoted("W26-0148", date(2024, 3, 9), "release 1", "somebody", 2))
    enter(f.ReleaseNoted("W26-0151", date(2024, 3, 10), "release 2", "somebody", 2))
    assert [r.cells[3:] for r in ask(own, "F32").rows] == [
        ("2024-03-09", "2026-03-09", "yes"),
        ("2024-03-10", "2026-03-10", "no"),  # its last day is today
    ]


def test_f36_accepted_to_a_technique_that_was_replaced(own: Workplace, enter: Enter) -> None:
    with own.book.session(readonly=True) as session:
        old = next(r for r in every(session, f.DocumentAdopted) if r.fact.number == "MT-T-6010")
    content = old.fact.content.replace(f'revision = "{old.fact.revision}"', 'revision = "ZZ"', 1)
    assert content != old.fact.content
    enter(replace(old.fact, revision="ZZ", content=content, sha256="0" * 64))
    # six rods and the re-inspection of one; R-7744 was sent to rework as MT-006 and accepted as MT-034
    assert column(ask(own, "F36"), "Record") == ["MT-003", "MT-004", "MT-005", "MT-007", "MT-008", "MT-034"]


def test_f37_the_next_morning(day_book: Path, tmp_path: Path) -> None:
    work = copy_at(day_book, tmp_path / "morning", "17:30")
    bootstrap.close(work.book)
    later = SetClock(instant("17:30") + timedelta(hours=12), OFFSET)
    work = bootstrap.open_book(tmp_path / "morning" / day_book.name, clock=later)
    try:
        found = {(r.cells[0], r.cells[1]) for r in ask(work, "F37").rows}
    finally:
        bootstrap.close(work.book)
    assert found == {("recall set", "CT-01"), ("equipment", "LP-3")}


def test_times_are_those_of_the_wall_clock_where_it_happened(day_book: Path, tmp_path: Path) -> None:
    """Asked from another offset (or after the clocks were put forward) an answer has the same words and the same hash."""
    here = copy_at(day_book, tmp_path / "here", "17:30")
    there = bootstrap.open_book(tmp_path / "here" / day_book.name, clock=SetClock(instant("17:30"), 0))
    try:
        for id_ in ("F1", "F2", "F6", "F10", "F26", "F30"):
            one, other = ask(here, id_), ask(there, id_)
            assert one.rows and one.hash == other.hash, id_
        assert ask(there, "F6").rows[0].cells[2] == "2026-03-10 09:35"  # PT-002
    finally:
        bootstrap.close(here.book)
        bootstrap.close(there.book)


def test_f39_the_same_crack_twice_in_one_lot(own: Workplace, enter: Enter) -> None:
    assert not ask(own, "F39").rows  # IND-04 alone
    enter(f.IndicationSeen("IND-90", "MT-012", "BORE", None, "linear", Number("0.1", "in"), None, piece="RA-09"))
    enter(f.IndicationInterpreted("IND-90", "relevant", "returned", "fatigue crack"))
    (row,) = ask(own, "F39").rows
    assert row.cells == ("T6-10301", "LOT-148-RKR", "fatigue crack", "2", "2", "BORE, SOCKET-RADIUS")


def test_f1_what_a_recall_opened_now_would_do(day_book: Path, tmp_path: Path) -> None:
    """At 13:30 B6 is not viewed yet; under LP-4, read at 12:40, nothing was seen since: no recall, no doubt.

    Asked of the spare lamp as if its evening reading were not there: B4b was post-cleaned, so it is processed again.
    """
    work = copy_at(day_book, tmp_path / "lamp", "17:30")
    try:
        with work.book.session(readonly=True) as session:
            last = [r for r in about(session, f.ReadingRecorded, "LP-5") if r.fact.object == "LP-5"][-1]
        with work.book.session() as session:
            gone = f.EntryWithdrawn("ReadingRecorded", last.position, last.fact.subjects())
            session.append([Draft(gone, last.when, "SUP-F", supersedes=last.uid, why="read with the wrong meter")])
            session.commit()
        rows = ask(work, "F1", lamp="LP-5").rows
    finally:
        bootstrap.close(work.book)
    # since 13:05: six re-views of B3 and SC-12, then B6 and B4b with SC-08
    assert len(rows) == 6 + 1 + 5 + 4 + 1
    assert all(r.cells[8].startswith("would be: reprocess") for r in rows)
    assert {r.cells[7] for r in rows} == {"post-clean", "quarantine"}


def test_a_book_begun_before_an_index_was_thought_of_answers_the_same(day_book: Path, tmp_path: Path) -> None:
    work = copy_at(day_book, tmp_path / "old", "17:30")
    wanted = ask(work, "F27", person="L2-A")
    bootstrap.close(work.book)
    with sqlite3.connect(tmp_path / "old" / day_book.name) as bare:
        bare.execute("DROP INDEX ix_entry_by")
    bare.close()
    work = bootstrap.open_book(tmp_path / "old" / day_book.name, clock=SetClock(instant("17:30"), OFFSET))
    try:
        assert ask(work, "F27", person="L2-A").hash == wanted.hash and wanted.count > 100
    finally:
        bootstrap.close(work.book)


def test_f31_names_the_entry_that_was_altered(day_book: Path, tmp_path: Path) -> None:
    work = copy_at(day_book, tmp_path / "altered", "17:30")
    assert ask(work, "F31").rows[0].cells[0] == "holds"
    bootstrap.close(work.book)
    path = tmp_path / "altered" / day_book.name
    with sqlite3.connect(path) as bare:
        (position, body) = bare.execute(
            "SELECT position, body FROM entry WHERE kind = 'ReadingRecorded' AND body LIKE '%\"880\"%'"
        ).fetchone()
        for (name,) in bare.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            bare.execute(f"DROP TRIGGER {name}")
        bare.execute("UPDATE entry SET body = ? WHERE position = ?", (body.replace('"880"', '"1080"'), position))
    bare.close()
    work = bootstrap.open_book(path, clock=SetClock(instant("17:30"), OFFSET))
    try:
        (row,) = ask(work, "F31").rows
    finally:
        bootstrap.close(work.book)
    assert (row.cells[0], row.evidence) == ("broken", (position,))
    shutil.rmtree(tmp_path / "altered")
