"""What is done at the desk: shown first, done by the use cases of the services, refused in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.gui.presenters.desk import acts, marks
from ndi.gui.presenters.desk.corrections import REASON
from ndi.gui.presenters.desk.desk import Desk
from ndi.services.lookup import about, every
from ndi.services.proof import Meaning
from tests.people.real_shop import ADMIN, RealShop, password

HEADER = "wo,part_no,serial_or_lot,qty,item,reason_code\n"


def head(desk: Desk) -> int:
    return desk.head()


def kinds_since(desk: Desk, position: int) -> list[str]:
    with desk.work.book.session(readonly=True) as session:
        return [type(session.entry(n).fact).__name__ for n in range(position + 1, desk.head() + 1)]


def shot_of(desk: Desk, inspection: str) -> int:
    with desk.work.book.session(readonly=True) as session:
        return about(session, f.ShotFired, inspection)[0].position


def answered(form: acts.Form, **changed: str) -> dict[str, str]:
    """The values of a form as it opens, some of them changed."""
    return {**{field.name: field.value for field in form.fields}, **changed}


# --- corrections --------------------------------------------------------------------------------------


def test_a_correction_shows_what_would_happen_and_keeps_nothing_of_it(desk: Desk) -> None:
    position, before = shot_of(desk, "MT-006"), head(desk)
    form = desk.corrections.entry(position).form
    assert form is not None
    act = form.act(answered(form, bench="MT-02", **{REASON: "typed the wrong bench"}))
    assert head(desk) == before  # shown, not done
    assert any(change.startswith("bench: MT-01") for change in act.covers)
    assert "Then: MT-006: the decision is undone, it is signed again" in act.notes
    said = desk.carry_out(act)
    assert f"Entry {position} corrected" in said
    assert kinds_since(desk, before)[:2] == ["ShotFired", "DecisionUndone"]
    assert desk.records.record("MT-006").mark == marks.Mark(marks.OPEN, "NO DECISION")
    assert desk.corrections.entry(position).form is None  # corrected already


def test_a_correction_without_a_reason_or_a_change_is_refused(desk: Desk) -> None:
    form = desk.corrections.entry(shot_of(desk, "MT-006")).form
    assert form is not None
    with pytest.raises(InputError, match="reason"):
        form.act(answered(form, bench="MT-02", **{REASON: "oops"}))
    with pytest.raises(InputError, match="nothing to correct"):
        form.act(answered(form, **{REASON: "nothing was wrong with it"}))


def test_what_was_signed_is_not_corrected(desk: Desk) -> None:
    with desk.work.book.session(readonly=True) as session:
        signed = about(session, f.DecisionSigned, "MT-006")[-1].position
    view = desk.corrections.entry(signed)
    assert view.form is None and "signed" in view.why_not


# --- receiving ----------------------------------------------------------------------------------------


def test_a_wrong_part_list_names_line_and_column_and_brings_in_nothing(desk: Desk, tmp_path: Path) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text(
        HEADER + "W26-0148,T6-10101,R-9999,1,,\nW26-0148,T6-99999,R-9998,1,,\nW26-0148,T6-10101,R-9997,x,,\n"
    )
    before = head(desk)
    check = desk.receiving.check(str(listed))
    assert check.act is None and head(desk) == before
    assert [row.cells[:2] for row in check.errors.all_rows] == [("3", "part_no"), ("4", "qty")]


def test_a_right_part_list_comes_in_whole_and_its_pieces_are_received(desk: Desk, tmp_path: Path) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text(HEADER + "W26-0148,T6-10101,R-9999,1,Connecting rod,\n")
    check = desk.receiving.check(str(listed))
    assert check.act is not None and "1 line brought in" in desk.carry_out(check.act)
    guard = desk.receiving.guard("W26-0148", "R-9999", "R-9999")
    assert guard.part == "W26-0148/T6-10101/R-9999"
    form = desk.receiving.floor_form(guard, typed_twice=True)
    before = head(desk)
    act = form.act({"quantity": "1", "visual": "yes"})
    assert act.notes == ()
    desk.carry_out(act)
    assert kinds_since(desk, before) == ["PartReceived", "ConfirmationGiven"]
    row = next(row for row in desk.receiving.floor("W26-0148").parts.all_rows if row.key == guard.part)
    assert row.cells[3:] == ("✓ 1 counted, typed twice", "✓ looked at")


def test_the_serial_guard_answers_before_anything_is_recorded(desk: Desk) -> None:
    before = head(desk)
    near = desk.receiving.guard("W26-0148", "R-7747", "R-7747")
    assert near.part == "" and near.mark.shape == marks.FAILED and "R-774" in near.lines[0]
    unlike = desk.receiving.guard("W26-0148", "R-7744", "R-7745")
    assert unlike.part == "" and "not the same" in unlike.mark.word
    assert desk.receiving.guard("W26-0148", "part:W26-0148/T6-10101/R-7744", None).part == "W26-0148/T6-10101/R-7744"
    assert head(desk) == before


def test_a_count_is_never_filled_in_and_a_difference_is_said(desk: Desk) -> None:
    guard = desk.receiving.guard("W26-0148", "LOT-148-RKR", "LOT-148-RKR")
    form = desk.receiving.floor_form(guard, typed_twice=True)
    assert [field.value for field in form.fields] == ["", ""]
    with pytest.raises(InputError, match="count"):
        form.act({"quantity": "", "visual": "yes"})
    assert "The list says 12, you counted 11." in form.act({"quantity": "11", "visual": "yes"}).notes


def test_a_work_order_is_opened_once(desk: Desk) -> None:
    form = desk.receiving.order_form()
    values = answered(
        form,
        work_order="W26-0200",
        engine_model="Tavelin 4H-345",
        engine_serial="4H-1",
        reason="overhaul",
        limits_basis="new limits",
    )
    desk.carry_out(form.act(values))
    assert desk.receiving.work_orders()[0] == "W26-0200"
    with pytest.raises(InputError, match="open already"):
        form.act(values)


# --- people -------------------------------------------------------------------------------------------


def certificate(desk: Desk, person: str) -> acts.Act:
    form = desk.persons.certificate_form(person)
    return form.act({"person": person, "method": "MT", "level": "2", "first": "2026-01-01", "last": "2031-01-01"})


def test_a_certificate_is_entered_by_one_and_confirmed_by_another(desk: Desk) -> None:
    act = certificate(desk, "L2-M")
    assert act.meaning is Meaning.PERFORMED and act.covers == ("L2-M certificate MT level 2 2026-01-01 to 2031-01-01",)
    desk.carry_out(act)
    (waiting,) = desk.persons.waiting().all_rows
    with pytest.raises(NotPermitted, match="a third person confirms"):
        desk.carry_out(desk.persons.confirm(waiting.key))
    desk.stand("NL3-E")
    desk.carry_out(desk.persons.confirm(waiting.key))
    assert desk.persons.waiting().count() == 0
    held = desk.persons.person("L2-M").held.all_rows
    assert any(row.cells[:2] == ("certificate", "MT level 2") and row.cells[5] == "SUP-F, NL3-E" for row in held)


def test_in_a_real_book_a_secret_is_asked_for_and_a_wrong_one_is_refused(real: RealShop) -> None:
    desk = Desk(real.work, ADMIN)
    assert desk.banner == "" and not desk.practice
    act = certificate(desk, "L2-A")
    assert desk.asks_secret(act)
    with pytest.raises(InputError, match="types the secret"):
        desk.carry_out(act)
    with pytest.raises(NotPermitted, match="not right"):
        desk.carry_out(act, "not the password at all")
    assert desk.carry_out(act, password(ADMIN)).startswith("QP-")


def test_a_practice_book_asks_no_secret_and_says_so(desk: Desk) -> None:
    assert not desk.asks_secret(certificate(desk, "L2-M"))
    assert desk.banner.startswith("PRACTICE") and "no secret" in acts.PRACTICE_TEXT


def test_nobody_at_the_desk_signs_nothing(desk: Desk) -> None:
    desk.stand("")
    with pytest.raises(InputError, match="nobody stands at the desk"):
        certificate(desk, "L2-M")


def test_the_person_at_the_desk_is_handed_to_the_shell(desk: Desk) -> None:
    kept: list[str] = []
    other = Desk(desk.work, keep=kept.append)
    other.stand("L2-A")
    assert other.person == "L2-A" and kept == ["L2-A"]


# --- readings, checks, materials ------------------------------------------------------------------------


def test_a_reading_with_a_wrong_unit_is_asked_again(desk: Desk) -> None:
    form = desk.equipment.reading_form("LP-1")
    with pytest.raises(InputError, match="unit"):
        form.act(answered(form, value="1700"))
    implausible = form.act(answered(form, value="1.7 uW/cm2", condition="as-found", meter="RM-1", distance="15 in"))
    with pytest.raises(NotPermitted, match="look at the unit"):
        desk.carry_out(implausible)


def test_a_check_of_the_list_is_recorded_and_is_no_longer_due(desk: Desk) -> None:
    form = desk.checks.form("MT booth|cleanliness")
    desk.carry_out(form.act(answered(form, passed="yes")))
    with desk.work.book.session(readonly=True) as session:
        last = every(session, f.ProcessCheckRecorded)[-1].fact
    assert (last.check, last.object, last.passed) == ("booth cleanliness", "MT booth", True)
    rows = {row.key: row for row in desk.checks.due()[0].all_rows}
    assert rows["MT booth|cleanliness"].cells[4].startswith("2026-03-10 17:30")


def test_whether_a_ring_showed_enough_is_not_asked_of_the_person(desk: Desk) -> None:
    form = desk.checks.form("MT-01|system performance")
    assert "passed" not in {field.name for field in form.fields}
    desk.carry_out(form.act(answered(form, holes="1", amps="2500 A")))
    with desk.work.book.session(readonly=True) as session:
        assert every(session, f.ProcessCheckRecorded)[-1].fact.passed is False


def test_a_tank_is_filled_with_every_batch_of_the_line(desk: Desk) -> None:
    form = desk.materials.tank_form("Method A line")
    assert answered(form)["batches"] == "PEN-A-118+DEV-a-092"
    desk.carry_out(form.act(answered(form, batches="PEN-A-118")))
    assert {row.key: row.cells[1] for row in desk.materials.tanks().all_rows}["Method A line"] == "PEN-A-118"


# --- handover -----------------------------------------------------------------------------------------


def test_open_lines_are_read_one_by_one_and_kept(desk: Desk) -> None:
    listing, _ = desk.handover.lines()
    first = listing.all_rows[0].key
    assert first.startswith("W26-0148/T6-11031/OPC-0205: at assembly") and all(row.act for row in listing.all_rows)
    assert listing.all_rows[1].key.startswith("CT-01: LP-3")
    before = head(desk)
    desk.handover.acknowledge(first)
    assert kinds_since(desk, before) == ["HandoverAcknowledged"]
    again, said = desk.handover.lines()
    assert [row.act for row in again.all_rows].count(False) == 1 and "SUP-F has read 1" in said
    with pytest.raises(InputError, match="read this line already"):
        desk.handover.acknowledge(first)
    desk.stand("L2-A")
    assert all(row.act for row in desk.handover.lines()[0].all_rows)  # somebody else has read nothing yet


def test_a_line_that_says_something_else_now_is_read_again(desk: Desk) -> None:
    lines = [row.key for row in desk.handover.lines()[0].all_rows]
    old = next(line for line in lines if line.startswith("LP-3: withdrawn"))
    desk.handover.acknowledge(old)
    form = desk.equipment.status_form("LP-3")
    desk.carry_out(form.act(answered(form, state="repair", reason="sent to the maker")))
    now = next(row for row in desk.handover.lines()[0].all_rows if row.key.startswith("LP-3: repair"))
    assert now.act
    with pytest.raises(InputError, match="not open in these words"):
        desk.handover.acknowledge(old)


# --- decisions of others --------------------------------------------------------------------------------


def test_a_deviation_from_what_has_none_is_refused_in_words(desk: Desk) -> None:
    desk.stand("NL3-E")
    case = desk.level_three.case("PT-001")
    form = desk.level_three.deviation_form(case, "G30")
    act = form.act(answered(form, justification="none at all", expires="2026-12-31"))
    with pytest.raises(NotPermitted, match="G30") as refused:
        desk.carry_out(act)
    failure = Desk.explain(refused.value)
    assert failure is not None and "G30" in failure.text


def test_a_record_that_changed_since_it_was_looked_at_is_not_decided(desk: Desk) -> None:
    desk.stand("NL3-E")
    case = desk.level_three.case("PT-001")
    form = desk.level_three.disagreement_form(case)
    values = answered(form, decision="crack, 0.62 in")
    desk.carry_out(form.act(values))
    with pytest.raises(Exception, match="look again"):
        desk.carry_out(form.act(values))


def test_a_mistake_of_the_program_is_not_explained_away() -> None:
    assert Desk.explain(KeyError("x")) is None
