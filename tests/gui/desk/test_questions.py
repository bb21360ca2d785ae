"""The forty questions at the desk: one key answers, the filter leaves, rows lead to evidence, answers are kept and written."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.day.clock import SetClock
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.presenters.desk.questions import Questions
from ndi.gui.views.desk.questions_screen import QuestionsScreen
from ndi.services.lookup import every
from tests.gui.desk.conftest import open_at
from tests.gui.desk.seat import Seat
from tests.gui.screens import keep, picture
from tests.gui.window import instant

Sit = Callable[[Desk], Seat]


def at_questions(seat: Seat) -> QuestionsScreen:
    seat.key("Alt-q")
    here = seat.frame.here
    assert isinstance(here, QuestionsScreen)
    return here


def choose(seat: Seat, here: QuestionsScreen, number: int) -> None:
    here.list.move_to(number - 1)
    seat.wait()


def shown(here: QuestionsScreen) -> int:
    return here.rows._source.count()


def test_one_key_answers_each_of_the_forty(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    here = at_questions(seat)
    for number in range(1, 41):
        assert here._view is not None, f"F{number}: {seat.message}"
        assert here._view.answered.question.id == f"F{number}"
        assert str(here.heading.cget("text")) == f"Questions: F{number}, {here._view.answered.count} rows"
        assert shown(here) == here._view.answered.count
        seat.key("Down")
    assert not seat.message.startswith("✗")


def test_the_rows_of_another_question_never_stand_under_a_definition(
    sit: Sit, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    seat = sit(desk)
    here = at_questions(seat)
    choose(seat, here, 8)
    assert shown(here) > 0
    begin = Questions.begin

    def nothing_proposed(self: Questions, id_: str) -> object:
        begun = begin(self, id_)
        return type(begun)(begun.id, "lamp=", begun.lines, is_ready=False)

    monkeypatch.setattr(Questions, "begin", nothing_proposed)
    choose(seat, here, 1)
    assert (shown(here), here.typed.get(), str(here.heading.cget("text"))) == (0, "lamp=", "Questions: F1")
    seat.key("Control-z")
    assert seat.message.startswith("Ask first")
    seat.key("Control-e")
    assert here.panel is None and seat.message.startswith("Ask first")


def test_parameters_are_typed_and_a_wrong_one_is_refused_in_words(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    here = at_questions(seat)
    choose(seat, here, 17)
    assert shown(here) == 2
    seat.key("Control-w", "BackSpace", "BackSpace")
    seat.type("0")
    seat.key("Return")
    assert shown(here) == 1  # within 0 days: the one that has passed
    seat.type("x")
    seat.key("Return")
    assert "days=0x is no number" in seat.message and shown(here) == 1


def test_the_filter_leaves_rows_as_it_is_typed_and_the_file_holds_those(
    sit: Sit, desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    seat = sit(desk)
    here = at_questions(seat)
    choose(seat, here, 7)
    seat.key("Control-g")
    seat.type("prewash")
    assert shown(here) == 1 and str(here.heading.cget("text")) == "Questions: F7, 1 of 54 rows"
    seat.key("Control-e")
    assert here.panel is not None
    seat.shot("questions-export")
    seat.key("Return", "space")  # the file is proposed; then the button
    assert seat.message == f"1 of 54 rows written: {tmp_path / 'F7-2026-03-10.csv'}"
    with (tmp_path / "F7-2026-03-10.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = list(csv.reader(file))
    assert head[:3] == ["Basket", "Attempt", "What"] and head[-1] == "Evidence"
    assert [row[:4] for row in rows] == [["B5", "1", "longest prewash", "1 min"]]


def test_an_answer_as_json_is_the_answer(desk: Desk, tmp_path: Path) -> None:
    view = desk.questions.ask("F17", "days=60")
    form = desk.questions.export_form(view.answered, view.answered.rows)
    target = tmp_path / "papers.json"
    desk.carry_out(form.act({"file": str(target)}))
    read = json.loads(target.read_text(encoding="utf-8"))
    assert (read["question"], read["count"], read["shown"], read["hash"]) == ("F17", 2, 2, view.answered.hash)
    assert [row["Person"] for row in read["rows"]] == ["L2-M", "L2-B"]
    with pytest.raises(InputError, match="not overwritten"):
        desk.carry_out(form.act({"file": str(target)}))
    with pytest.raises(InputError, match="neither"):
        form.act({"file": "papers.txt"})


def test_an_answer_is_frozen_with_the_person_and_stands_below_the_definition(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    here = at_questions(seat)
    choose(seat, here, 6)
    seat.key("Control-z")
    assert "F6 frozen as entry" in seat.message
    with desk.work.book.session(readonly=True) as session:
        (kept,) = every(session, f.AnswerFrozen)
    assert here._view is not None
    assert (kept.by, kept.fact.question, kept.fact.count) == ("SUP-F", "F6", 11)
    assert kept.fact.hash == here._view.answered.hash
    frozen = [line.value for line in here._view.lines if line.label == "Frozen"]
    assert len(frozen) == 1 and frozen[0].endswith("the book still says the same")
    seat.shot("questions-frozen")


def test_a_row_leads_to_its_record_and_to_each_of_its_entries_and_back(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    here = at_questions(seat)
    choose(seat, here, 20)
    seat.key("Return", "Down")  # into the rows, to SC-02 of MT-006
    seat.key("Return")
    assert seat.frame.here is not None
    assert (seat.frame.here.name, seat.frame.here.key) == ("record", "MT-006")
    seat.key("Alt-Left")
    assert seat.frame.here is here and here.rows.index == 1 and here.rows.has_focus
    assert here._view is not None
    entries = here._view.answered.rows[1].evidence
    for nth, position in enumerate(entries):
        seat.key("Shift-Return")
        assert (seat.frame.here.name, seat.frame.here.key) == ("correction", str(position))
        if nth == 0:
            assert seat.message == f"Entry 1 of {len(entries)} of the row."
        seat.key("Alt-Left")
        assert seat.frame.here is here and here.rows.index == 1


def test_a_row_about_no_record_leads_to_its_reading(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    here = at_questions(seat)
    choose(seat, here, 8)
    seat.key("Control-g")
    seat.type("NOT RECORDED")
    assert shown(here) == 1  # LP-2 on Monday
    seat.key("Return", "Return")
    assert seat.frame.here is not None and seat.frame.here.name == "correction"
    seat.key("Alt-Left")
    choose(seat, here, 33)
    seat.key("Control-g", "Return", "Return")
    assert seat.frame.here is here and "no single entry" in seat.message


def test_every_row_of_every_question_leads_somewhere_or_says_why(reading: Desk) -> None:
    """On the demonstration day, each question as it is proposed."""
    led = 0
    for each in reading.questions.listing().all_rows:
        begun = reading.questions.begin(each.key)
        assert begun.is_ready, each.key
        answered = reading.questions.ask(each.key, begun.typed).answered
        for row in answered.rows[:6]:
            lead = reading.questions.leads_to(row)
            assert lead.screen or lead.says
            if lead.screen == "record":
                assert reading.records.record(lead.key) is not None
            elif lead.screen:
                assert reading.corrections.entry(int(lead.key)).lines
            led += bool(lead.screen)
    assert led > 60


@pytest.fixture
def bare(tmp_path: Path) -> Iterator[Desk]:
    """A practice book with nothing in it but its beginning."""
    work = bootstrap.new_book(
        tmp_path / "bare.ndibook", shop="GW", station="S-1", practice=True, clock=SetClock(instant("08:00"), -300)
    )
    yield Desk(work)
    bootstrap.close(work.book)


def test_a_book_with_nothing_in_it_answers_in_words(bare: Desk) -> None:
    answers = {}
    for each in bare.questions.listing().all_rows:
        begun = bare.questions.begin(each.key)
        if begun.is_ready:
            try:
                answers[each.key] = bare.questions.ask(each.key, begun.typed).answered.count
            except Exception as error:
                assert bare.explain(error) is not None, (each.key, error)
    assert answers["F6"] == answers["F40"] == 0 and answers["F31"] == 1
    assert not bare.questions.begin("F1").is_ready


def test_a_screen_of_1920_by_1080(
    day_book: Path, tmp_path: Path, display_of: Callable[[str, int], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing of the list is cut: the rows reach to the message line."""
    work = open_at(day_book, tmp_path / "copy", "17:30")
    try:
        monkeypatch.setenv("DISPLAY", display_of("1920x1080", 96))  # kept to the end: see the fixture
        seat = Seat(Desk(work, "SUP-F"), "1920x1080")
        here = at_questions(seat)
        choose(seat, here, 27)
        keep(picture(), "desk/questions-1920")
        assert here.rows.visible > 20
        seat.close()
    finally:
        bootstrap.close(work.book)
