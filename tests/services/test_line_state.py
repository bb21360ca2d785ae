"""Where baskets stand, what comes next and by when, what is missing; loading; "can I go to lunch?"."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.domain.procedure import Procedure
from ndi.domain.vocabulary import Step
from ndi.services import loading
from ndi.services.line_basket import BasketState, Level, Where
from ndi.services.line_questions import back_by, can_i_leave, leave_answer
from ndi.services.line_state import line_now, state_of
from ndi.services.workplace import Workplace
from tests.build import at, num
from tests.gui.booth.line_day import B1, B4, B5, begin
from tests.services import shop as s


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("line")
    begin(folder)
    return folder


@pytest.fixture
def shop(morning: Path, tmp_path: Path) -> Iterator[s.Shop]:
    one = s.open_copy(morning, tmp_path / "book").at("08:00")
    yield one
    one.close()


def load(shop: s.Shop, basket: str, inspections: tuple[str, ...], clock: str) -> None:
    loading.load_basket(shop.at(clock).work, basket, inspections, "L1-D")


def step(shop: s.Shop, basket: str, name: str, start: str, end: str | None = None, **more: Any) -> None:
    shop.at(start).record(f.StepStarted(basket, name, more.get("pieces")), by="L1-D")
    if end is not None:
        shop.at(end).record(f.StepEnded(basket, name, more.get("outcome")), by="L1-D")


def state(shop: s.Shop, basket: str) -> BasketState:
    with shop.work.book.session(readonly=True) as session:
        return state_of(shop.work, session, basket)


def line(shop: s.Shop) -> tuple[BasketState, ...]:
    with shop.work.book.session(readonly=True) as session:
        return line_now(shop.work, session)


def limits(one: BasketState) -> list[tuple[str, str | None, str | None, str | None]]:
    """Words, earliest, latest start, limit of every action."""
    return [
        (a.words, *(moment.clock() if moment else None for moment in (a.earliest, a.latest, a.limit)))
        for a in one.actions
    ]


# --- every stage ----------------------------------------------------------------------------------


def test_method_a_stage_by_stage(shop: s.Shop) -> None:
    """B1 an hour later: 2 pieces, so 6 min of wash; windows of PT-P-01 rev D."""
    load(shop, "B1", B1, "08:33")
    found = [(state(shop, "B1").stage, limits(state(shop, "B1")))]

    def then(name: str, start: str, end: str, **more: Any) -> None:
        for part in (start, end):
            if part == start:
                step(shop, "B1", name, start, pieces=2 if name == "wet" else None)
            else:
                shop.at(end).record(f.StepEnded("B1", name, more.get("outcome")), by="L1-D")
            found.append((state(shop, "B1").stage, limits(state(shop, "B1"))))

    then("wet", "08:35", "08:38")
    then("wash", "09:10", "09:14", outcome="clean")
    then("dry", "09:16", "09:34")
    then("develop", "09:36", "09:37")
    assert found == [
        (Where.LOADED, [("Wet", None, None, None)]),
        (Where.WETTING, [("End of wetting", None, None, None), ("Wash", None, "10:29", "10:35")]),
        (Where.DWELLING, [("Wash", "09:08", "10:29", "10:35")]),
        (Where.WASHING, [("End of wash", None, "09:16", "09:16"), ("End of wash", None, "10:35", "10:35")]),
        (Where.WASHED, [("Into the dryer", None, "09:24", "09:24")]),
        (Where.DRYING, [("Out of the dryer", None, "09:46", "09:46")]),
        (Where.DRIED, [("Developer on", None, "10:04", "10:04")]),
        # two halves of 16.8 min expected each
        (Where.COATING, [("End of developer", None, None, None), ("View", None, "13:02:24", "13:36")]),
        (Where.DEVELOPING, [("View", "09:47", "13:02:24", "13:36")]),
    ]


def test_method_d_stage_by_stage(shop: s.Shop) -> None:
    """B5: the dwell ends with the prewash; remover at least 30 s by its technique, else the windows of PT-P-02 rev B."""
    load(shop, "B5", B5, "10:19")
    step(shop, "B5", "wet", "10:20", "10:23", pieces=6)
    assert limits(state(shop, "B5")) == [("Prewash", "10:53", "12:19", "12:20")]
    step(shop, "B5", "prewash", "10:56")
    assert limits(state(shop, "B5")) == [
        ("End of prewash", None, "10:57", "10:57"),
        ("End of prewash", None, "12:20", "12:20"),
    ]
    shop.at("10:56:50").record(f.StepEnded("B5", "prewash"), by="L1-D")
    assert (state(shop, "B5").stage, limits(state(shop, "B5"))) == (Where.PREWASHED, [("Remover", None, None, None)])
    step(shop, "B5", "remover", "10:58")
    assert limits(state(shop, "B5")) == [("End of remover", "10:58:30", "11:00", "11:00")]
    shop.at("10:59:30").record(f.StepEnded("B5", "remover"), by="L1-D")
    assert (state(shop, "B5").stage, limits(state(shop, "B5"))) == (
        Where.OUT_OF_REMOVER,
        [("Rinse", None, None, None)],
    )
    step(shop, "B5", "wash", "10:59:40")
    assert limits(state(shop, "B5")) == [("End of rinse", None, "11:00:40", "11:00:40")]


def test_questions_come_with_their_stage_and_go_when_answered(shop: s.Shop) -> None:
    load(shop, "B5", B5, "10:19")
    asked = [[q.item for q in state(shop, "B5").questions]]
    tick = f.ConfirmationGiven

    def then(*facts: f.Fact) -> None:
        shop.after(1).record(*facts, by="L1-D")
        asked.append([q.item for q in state(shop, "B5").questions])

    then(tick("B5", "dry before wetting", "yes", 1), f.StepStarted("B5", "wet", 6))
    then(tick("B5", "wetted by", "brush"), f.StepObserved("B5", "wet", "part temperature", num("70 degF")))
    then(tick("B5", "no contact, cavities drain", "no"), f.StepEnded("B5", "wet"))
    then(f.StepStarted("B5", "prewash"))
    then(tick("B5", "penetrant did not dry on"), f.StepEnded("B5", "prewash"))
    then(f.StepStarted("B5", "remover"), f.StepEnded("B5", "remover"), f.StepStarted("B5", "wash"))
    then(f.StepObserved("B5", "wash", "nozzle distance", num("14 in")), f.StepEnded("B5", "wash", "clean"))
    then(tick("B5", "rinse checked under UV-A"), f.StepStarted("B5", "dry"), f.StepEnded("B5", "dry"))
    then(tick("B5", "dry at dryer out"), f.StepStarted("B5", "develop"))
    then(tick("B5", "developer form", "a"), f.StepEnded("B5", "develop"))
    then(tick("B5", "developer on all zones"))
    assert asked == [
        ["dry before wetting"],
        ["wetted by", "no contact, cavities drain", "part temperature"],
        ["no contact, cavities drain"],
        [],
        ["penetrant did not dry on"],
        [],
        ["nozzle distance"],
        ["rinse checked under UV-A"],
        ["dry at dryer out"],
        ["developer form"],
        ["developer on all zones"],
        [],
    ]


def test_a_tick_of_another_attempt_does_not_answer(shop: s.Shop) -> None:
    load(shop, "B1", B1, "08:33")
    shop.record(f.ConfirmationGiven("B1", "dry before wetting", "yes", 2), by="L1-D")
    assert [q.item for q in state(shop, "B1").questions] == ["dry before wetting"]


def test_a_step_without_its_end_is_missing_not_running(shop: s.Shop) -> None:
    load(shop, "B1", B1, "08:33")
    step(shop, "B1", "wet", "08:35", pieces=2)
    step(shop, "B1", "wash", "09:10", "09:14", outcome="clean")
    one = state(shop, "B1")
    assert one.stage is Where.WASHED and "end of wetting not recorded" in one.missing


# --- what is missing ------------------------------------------------------------------------------


def without(shop: s.Shop, monkeypatch: pytest.MonkeyPatch, *keys: str) -> None:
    """The procedure as if it gave no value for some keys."""
    full = Workplace.procedure

    def procedure(work: Workplace, session: Any, number: str, revision: str) -> Procedure:
        found = full(work, session, number, revision)
        return replace(found, parameters={k: v for k, v in found.parameters.items() if k not in keys})

    monkeypatch.setattr(Workplace, "procedure", procedure)


@pytest.mark.parametrize(
    "key",
    [
        "dwell_base",
        "dwell_max",
        "wet_total_max",
        "wash_per_part_max",
        "wash_to_dryer_max",
        "dryer_time_max",
        "dryer_to_developer_max",
        "develop_min",
        "develop_max",
        "wetting_temperature_min",
        "nozzle_distance_min",
        "lunch_margin",
    ],
)
def test_a_parameter_that_is_not_there_is_said_and_nothing_crashes(
    shop: s.Shop, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    without(shop, monkeypatch, key)
    load(shop, "B1", B1, "08:33")
    said: list[str] = []

    def look() -> None:
        for one in line(shop):
            said.extend(one.missing)
            one.level(at("23:00"))
            one.where(at("23:00"))
        leave_answer(line(shop), shop.work.now())
        can_i_leave(shop.work)

    for name, start, end in (
        ("wet", "08:35", "08:38"),
        ("wash", "09:10", "09:14"),
        ("dry", "09:16", "09:34"),
        ("develop", "09:36", "09:37"),
    ):
        step(shop, "B1", name, start, pieces=2)
        look()
        shop.at(end).record(f.StepEnded("B1", name, "clean" if name == "wash" else None), by="L1-D")
        look()
    silent = {"wetting_temperature_min", "nozzle_distance_min"}  # of these only the unit is asked
    assert any(key in text for text in said) is (key not in silent)


def test_no_developer_limit_leaves_the_start_open(shop: s.Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    load(shop, "B1", B1, "08:33")
    step(shop, "B1", "wet", "08:35", "08:38", pieces=2)
    step(shop, "B1", "wash", "09:10", "09:14", outcome="clean")
    step(shop, "B1", "dry", "09:16", "09:34")
    without(shop, monkeypatch, "dryer_to_developer_max")
    one = state(shop, "B1")
    assert limits(one) == [("Developer on", None, None, None)]
    assert one.level(at("23:00")) is Level.CALM and "dryer_to_developer_max" in one.missing[0]


def test_pieces_not_counted(shop: s.Shop) -> None:
    """The wash cannot be planned; its limit stands, and lunch is not known."""
    load(shop, "B1", B1, "08:33")
    step(shop, "B1", "wet", "08:35", "08:38")
    one = state(shop, "B1")
    assert any("pieces in B1 not counted" in text for text in one.missing)
    assert limits(one) == [("Wash", "09:08", "10:35", "10:35")]
    answer = can_i_leave(shop.work)
    assert answer.verdict is Verdict.NOT_RECORDED and "pieces in B1 not counted" in answer.says


# --- can I go to lunch? ---------------------------------------------------------------------------


def test_lunch_with_an_empty_line(shop: s.Shop) -> None:
    assert can_i_leave(shop.work).verdict is Verdict.PASS and back_by(line(shop)) is None


def test_lunch_while_parts_wait_for_the_dryer(shop: s.Shop) -> None:
    """10 min to the dryer are less than the margin of 15: nobody leaves."""
    load(shop, "B1", B1, "08:33")
    step(shop, "B1", "wet", "08:35", "08:38", pieces=2)
    shop.record(f.StepObserved("B1", "wet", "part temperature", num("72 degF")), by="L1-D")
    step(shop, "B1", "wash", "09:10", "09:14", outcome="clean")
    answer = can_i_leave(shop.work)
    assert answer.verdict is Verdict.FAIL
    assert "Into the dryer B1, start at the latest 09:24 (09:14 + 10 min)" in answer.says


def test_lunch_with_two_baskets_that_cannot_both_be_washed(shop: s.Shop) -> None:
    """Two washes of 12 and 6 min whose limits lie 5 min apart."""
    load(shop, "B4a", B4, "11:17")
    step(shop, "B4a", "wet", "11:18", "11:21", pieces=4)
    load(shop, "B1", B1, "11:22")
    step(shop, "B1", "wet", "11:23", "11:24", pieces=2)
    for basket in ("B1", "B4a"):
        shop.record(f.StepObserved(basket, "wet", "part temperature", num("72 degF")), by="L1-D")
    early = leave_answer(line(shop), at("11:30"))
    assert early.verdict is Verdict.PASS and "back by 12:51" in early.says
    late = leave_answer(line(shop), at("13:06"))
    assert late.verdict is Verdict.FAIL and "Not all can be done in time: B1 1 min late" in late.says


# --- loading --------------------------------------------------------------------------------------


def test_what_waits_for_a_basket(shop: s.Shop) -> None:
    with shop.work.book.session(readonly=True) as session:
        before = {w.inspection: (w.attempt, w.quantity) for w in loading.waiting_for_basket(shop.work, session)}
    load(shop, "B4a", B4, "11:17")
    shop.record(*(f.AttemptVoided(name, "B4a", 1, "over-dwell") for name in B4[:2]), by="L1-D")
    with shop.work.book.session(readonly=True) as session:
        after = {w.inspection: w.attempt for w in loading.waiting_for_basket(shop.work, session)}
    assert before["PT-018"] == (1, 6) and len(before) == 7
    assert after == {"PT-001": 1, "PT-002": 1, "PT-018": 1, "PT-019": 2, "PT-020": 2}
    assert state(shop, "B4a").stage is Where.LOADED  # two of its parts go on


def test_different_attempts_are_not_mixed(shop: s.Shop) -> None:
    load(shop, "B4a", B4, "11:17")
    shop.record(*(f.AttemptVoided(name, "B4a", 1, "over-dwell") for name in B4), by="L1-D")
    with pytest.raises(NotPermitted, match="different attempts in one basket"):
        load(shop, "B7", (*B4, "PT-001"), "11:30")


def test_a_basket_in_use_and_an_empty_one_are_refused(shop: s.Shop) -> None:
    load(shop, "B1", B1, "08:33")
    with pytest.raises(NotPermitted, match="B1 is on the line with parts in it"):
        load(shop, "B1", B5, "08:40")
    with pytest.raises(InputError, match="B7 is empty"):
        load(shop, "B7", (), "08:40")
    with pytest.raises(NotPermitted, match="in a basket already"):
        load(shop, "B7", ("PT-001",), "08:40")


def test_the_line_is_the_one_that_holds_the_penetrant(shop: s.Shop) -> None:
    load(shop, "B1", B1, "08:33")
    load(shop, "B5", B5, "08:40")
    assert (state(shop, "B1").line, state(shop, "B5").line) == ("Method A line", "Method D line")
    shop.record(f.TankFilled("Method A line", ("DEV-1",)), by="L1-D")
    with pytest.raises(InputError, match="no line holds a penetrant of Method A"):
        load(shop, "B4a", B4, "08:50")


def test_a_later_attempt_begins_with_the_pre_clean(shop: s.Shop) -> None:
    load(shop, "B4a", B4, "11:17")
    shop.record(*(f.AttemptVoided(name, "B4a", 1, "over-dwell") for name in B4), by="L1-D")
    load(shop, "B4b", B4, "13:36")
    assert limits(state(shop, "B4b"))[0][0] == "Pre-clean"
    step(shop, "B4b", Step.PRECLEAN, "13:36", "14:15")
    assert limits(state(shop, "B4b"))[0][0] == "Wet"
    with pytest.raises(NotFound):
        state(shop, "B4a")  # its parts went on


def test_an_undone_load_leaves_the_name_free(shop: s.Shop) -> None:
    from ndi.services import undoing

    load(shop, "B1", B1, "08:33")
    undoing.undo_last(shop.work, "L1-D")
    with shop.work.book.session(readonly=True) as session:
        assert loading.next_run(session, "B1") == "B1"
    load(shop, "B1", B1, "08:35")
    with shop.work.book.session(readonly=True) as session:
        assert (loading.next_run(session, "B1"), loading.base_of("B1/2")) == ("B1/2", "B1")
