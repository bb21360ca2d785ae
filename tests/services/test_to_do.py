"""What is to be done next on a record, followed along a crankshaft (MT-001) and a crankcase half (PT-001) of the day.

The order expected here is written down from the technique sheets by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from ndi import bootstrap
from ndi.cli.practice import practice_copy
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import FactSet
from ndi.rules.inquiry import Inquiry
from ndi.services.assemble import inquiry_for
from ndi.services.to_do import Kind, Task, next_task, tasks
from ndi.services.workplace import Workplace

UNTIL = "09:26"  # MT-001, PT-001 and three connecting rods are signed
Entry = Recorded[f.Fact]


@pytest.fixture(scope="module")
def work(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workplace]:
    """The day's book; only read here."""
    opened = bootstrap.open_book(practice_copy(tmp_path_factory.mktemp("day"), UNTIL, lambda _said: None))
    yield opened
    bootstrap.close(opened.book)


def inquiry(work: Workplace, inspection: str) -> Inquiry:
    with work.book.session(readonly=True) as session:
        return inquiry_for(work, session, inspection)


@pytest.fixture(scope="module")
def crankshaft(work: Workplace) -> Inquiry:
    return inquiry(work, "MT-001")


@pytest.fixture(scope="module")
def crankcase(work: Workplace) -> Inquiry:
    return inquiry(work, "PT-001")


def where(q: Inquiry, keep: Callable[[Entry], bool]) -> Inquiry:
    """The record with some of its facts only; decided where its decision is among them."""
    kept = FactSet([recorded for recorded in q.facts if keep(recorded)])
    signed = kept.last(f.DecisionSigned, q.inspection)
    return replace(q, facts=kept, disposition=signed.fact.disposition if signed else None)


def walk(q: Inquiry) -> list[tuple[str, str]]:
    """Clock and title each time that another task is next, entry by entry as the book got them."""
    found: list[tuple[str, str]] = []
    entries = sorted((r for r in q.facts if r.position >= q.opened.position), key=lambda r: r.position)
    for entry in entries:
        task = next_task(where(q, lambda r, last=entry.position: r.position <= last))  # type: ignore[misc]
        title = "nothing" if task.done else task.title
        if not found or found[-1][1] != title:
            found.append((entry.when.clock(), title))
    return found


def open_titles(q: Inquiry) -> list[str]:
    return [task.title for task in tasks(q) if not task.done]


SHOTS = [
    ("07:50", "Before the first shot"),
    ("07:50", "Plugs in: technique says 9"),
    ("07:50", "1 head 2000 A"),  # the view began with the record
    ("07:51", "Looked at the part after shot 1"),
    ("07:57", "2 head 2000 A"),
    ("07:57:30", "Looked at the part after shot 2"),
    ("08:03:30", "3 bar 1500 A"),
    ("08:04", "Looked at the part after shot 3"),
    ("08:08:30", "Demagnetise before shot 4"),
    ("08:09", "4 coil 1000 A 5 turns at 5 in"),
    ("08:11", "Looked at the part after shot 4"),
    ("08:16", "5 coil 1000 A 5 turns at 15 in"),
    ("08:16:30", "Looked at the part after shot 5"),
    ("08:21:30", "6 coil 1000 A 5 turns at 25 in"),
    ("08:22", "Looked at the part after shot 6"),
    ("08:27", "7 coil 1000 A 5 turns at 35 in"),
]
AFTER_THE_SHOTS = [
    ("08:31", "Demagnetise"),
    ("08:43", "Residual field at flange rim"),
    ("08:43:30", "Residual field at pin 1"),
    ("08:43:50", "Residual field at cheek 5"),
    ("08:44:20", "Residual field at pin 6"),
    ("08:44:40", "Residual field at gear seat"),
    ("08:45:10", "Residual field at counterweight lug"),
    ("08:45:30", "Look at every zone, end the view"),
]


def test_crankshaft_shot_by_shot(crankshaft: Inquiry) -> None:
    assert walk(crankshaft)[: len(SHOTS)] == SHOTS


def test_crankshaft_from_the_last_shot_on(crankshaft: Inquiry) -> None:
    """The contacts were looked at after the head shots, and one part on a bar is no lot: demagnetising is next."""
    rest = walk(crankshaft)[len(SHOTS) :]
    assert rest[: len(AFTER_THE_SHOTS)] == AFTER_THE_SHOTS
    assert rest[-1] == ("08:47", "nothing")


def test_nothing_is_open_on_what_the_rules_let_pass(work: Workplace) -> None:
    """MT-003 to MT-005 are accepted: no rule misses anything on them, so no list may."""
    for name in ("MT-003", "MT-004", "MT-005"):
        q = inquiry(work, name)
        assert q.disposition == "ACCEPT" and open_titles(q) == [], name


def test_crankcase_step_by_step(crankcase: Inquiry) -> None:
    """Ticks, line, view, what the indication is, the view to its end, the decision."""
    assert walk(crankcase) == [
        ("07:33", "Before the basket"),
        ("07:33", "Start the view"),  # its basket was loaded with it
        ("08:50", "Look at every zone, end the view"),
        ("08:58", "What is IND-06 at MAIN3-THROUGH-BOLT-BOSS?"),
        ("09:11:30", "Look at every zone, end the view"),
        ("09:12", "Decide"),
    ]


def test_penetrant_part_that_is_in_no_basket_goes_to_the_line(crankcase: Inquiry) -> None:
    task = next_task(where(crankcase, lambda r: not isinstance(r.fact, f.BasketLoaded | f.ViewStarted)))
    assert (task.kind, task.title) == (Kind.BASKET, "Into a basket, through the line")


# --- what is missing is what is asked ------------------------------------------------------------------


def _ticked(item: str, value: str | None = None) -> Callable[[f.Fact], bool]:
    return lambda fact: isinstance(fact, f.ConfirmationGiven) and fact.item == item and value in (None, fact.value)


def _shot(number: int) -> Callable[[f.Fact], bool]:
    return lambda fact: isinstance(fact, f.ShotFired) and fact.shot == number


AFTER_IT = ("Residual field", "Demagnetise", "Look at every zone")  # they count only when they come after it
MISSING: dict[str, tuple[Callable[[f.Fact], bool], Kind, str]] = {
    "dry": (_ticked("dry"), Kind.TICKS, "Before the first shot"),
    "plugs in": (
        lambda fact: isinstance(fact, f.PlugsCounted) and fact.direction == "in",
        Kind.PLUGS_IN,
        "Plugs in: technique says 9",
    ),
    "plugs out": (
        lambda fact: isinstance(fact, f.PlugsCounted) and fact.direction == "out",
        Kind.PLUGS_OUT,
        "Plugs out: 9 went in",
    ),
    "view": (lambda fact: isinstance(fact, f.ViewStarted), Kind.VIEW, "Start the view"),
    "end of view": (lambda fact: isinstance(fact, f.ViewEnded), Kind.VIEW, "Look at every zone, end the view"),
    "head shot": (_shot(2), Kind.SHOT, "2 head 2000 A"),
    "last shot": (_shot(7), Kind.SHOT, "7 coil 1000 A 5 turns at 35 in"),
    "look": (_ticked("viewed after shot", "4"), Kind.LOOK, "Looked at the part after shot 4"),
    "evaluation": (
        lambda fact: isinstance(fact, f.IndicationEvaluated),
        Kind.EVIDENCE,
        "What is IND-01 at PIN4-REAR-FILLET?",
    ),
    "demagnetising": (lambda fact: isinstance(fact, f.Demagnetised), Kind.DEMAGNETISE, "Demagnetise"),
    "residual field": (
        lambda fact: isinstance(fact, f.ResidualRead) and fact.point == "pin 6",
        Kind.RESIDUAL,
        "Residual field at pin 6",
    ),
    "flushed": (_ticked("post-process: flush"), Kind.TICKS, "After the view"),
    "decision": (lambda fact: isinstance(fact, f.DecisionSigned), Kind.DECIDE, "Decide"),
}


@pytest.mark.parametrize("name", MISSING)
def test_what_is_missing_is_asked_and_nothing_before_it(crankshaft: Inquiry, name: str) -> None:
    """The signed record without one of its facts: that task opens, and those that stood done stay done."""
    is_left_out, kind, title = MISSING[name]
    left = where(crankshaft, lambda r: not is_left_out(r.fact))
    opened = [task for task in tasks(left) if not task.done and task.title not in open_titles(crankshaft)]
    assert (opened[0].kind, opened[0].title) == (kind, title)
    others = [task.title for task in opened[1:]]
    assert all(other.startswith(AFTER_IT) for other in others), others


def test_only_what_is_missing_of_a_list_is_asked(crankshaft: Inquiry) -> None:
    left = where(crankshaft, lambda r: not _ticked("plugged")(r.fact))
    task = next_task(left)
    assert [tick.item for tick in task.ticks] == ["plugged"]
    assert task.detail == "clean, dry, bearings and trapped parts removed, plugged"


def test_a_tick_that_says_no_is_asked_again(crankshaft: Inquiry) -> None:
    """Not dry: the list stays open until it is."""
    said = [
        replace(r, fact=replace(r.fact, value="no"))
        if isinstance(r.fact, f.ConfirmationGiven) and _ticked("dry")(r.fact)
        else r
        for r in crankshaft.facts
    ]
    task = next_task(replace(crankshaft, facts=FactSet(said)))
    assert (task.kind, [tick.item for tick in task.ticks]) == (Kind.TICKS, ["dry"])


def test_residual_field_read_before_the_last_demagnetising_is_asked_again(crankshaft: Inquiry) -> None:
    last = crankshaft.facts.last(f.Demagnetised, "MT-001")
    assert last is not None
    early = [
        replace(r, when=replace(last.when, at=last.at.replace(second=0, minute=last.at.minute - 1)))
        if isinstance(r.fact, f.ResidualRead) and r.fact.point == "cheek 5"
        else r
        for r in crankshaft.facts
    ]
    opened: list[Task] = [task for task in tasks(replace(crankshaft, facts=FactSet(early))) if not task.done]
    assert "Residual field at cheek 5" in [task.title for task in opened]
    assert "Residual field at pin 1" not in [task.title for task in opened]


def test_each_shot_carries_the_sheet_and_each_task_what_it_is_about(crankshaft: Inquiry) -> None:
    every = tasks(crankshaft)
    fired = [task.shot.shot for task in every if task.kind is Kind.SHOT and task.shot is not None]
    assert fired == [1, 2, 3, 4, 5, 6, 7]
    assert [task.point for task in every if task.kind is Kind.RESIDUAL] == list(crankshaft.technique.residual_points)
    assert {task.about for task in every if task.kind is not Kind.EVIDENCE} == {"MT-001"}
