"""``ndi record``, ``ndi ledger`` and ``ndi correct`` on real books of both engines: late, signed, several at once, once only."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.entry import Obtained, Recorded
from ndi.services.workplace import Workplace
from tests.people.real_shop import password
from tests.verbs.conftest import Desk
from tests.verbs.test_whole_job import CRACK, GEAR


def book(desk: Desk) -> Workplace:
    return bootstrap.open_book(bootstrap.where(desk.where), clock=desk.clock)


def head(desk: Desk) -> int:
    with book(desk).book.session(readonly=True) as session:
        return session.head().position


def since(desk: Desk, position: int) -> list[Recorded[f.Fact]]:
    with book(desk).book.session(readonly=True) as session:
        return [session.entry(n) for n in range(position + 1, session.head().position + 1)]


def test_a_late_time_needs_a_reason_and_is_kept_as_typed_late(desk: Desk) -> None:
    before = head(desk)
    line = "record BOOK switch equipment=LP-2 state=off --at 07:30"
    assert "give a reason for the late entry" in desk.run(line, by="L1-D", code=2)
    assert "later than now" in desk.run("record BOOK switch equipment=LP-2 state=off --at 09:30", by="L1-D", code=2)
    assert head(desk) == before
    desk.run(f"{line} --why 'hands were wet'", by="L1-D")
    (written,) = since(desk, before)
    assert (written.how, written.why, str(written.when)) == (Obtained.TYPED_LATE, "hands were wet", "2026-03-10 07:30")
    live = desk.run("record BOOK switch equipment=LP-2 state=on", by="L1-D")
    assert live.out.splitlines()[-1] == "saved" and since(desk, before)[-1].how is Obtained.TIMER
    assert "leave --at out" in desk.run("record BOOK check-in clear_glasses=yes --at 07:49", by="L1-D", code=2)


def test_what_is_wrong_changes_nothing_and_says_one_thing(desk: Desk) -> None:
    before = head(desk)
    for line, says, code in (
        ("record BOOK shott shot=1", "nearest is 'shot'", 2),
        ("record BOOK switch equipment=LP-2 stat=on", "nearest is 'state'", 2),
        ("record BOOK switch equipment=LP-2", "missing: state (on | off)", 2),
        ("record BOOK reading object=LP-2 quantity='UV-A at 15 in' value='1700 lx'", "is illuminance, UV-A at 15 in is irradiance", 2),
        ("record BOOK confirm about=MT-404 item=clean", "MT-404", 3),
        ("record BOOK confirm about=SN-404 item='pre-clean visual'", "no part SN-404", 3),
        ("record BOOK shot inspection=MT-404 bench=MT-01 shot=1 pulses='1 A:1 s'", "MT-404", 3),
        ("record BOOK view-start view=v inspection=MT-404 lamps=LP-1 person=L2-B", "recorded by the person whose it is", 2),
        ("record BOOK view-end view=none zones=WEB", "no view none was started", 3),
    ):  # fmt: skip
        said = desk.run(line, by="L2-A", code=None)
        assert (said.code, says in said.err) == (code, True), (line, said)
        assert len(said.err.strip().splitlines()) == 1, said.err
    assert "no person of this book" in desk.run("record BOOK switch equipment=LP-2 state=on", by="NOBODY", code=2)
    assert head(desk) == before


def test_a_bad_lamp_is_withdrawn_and_the_command_says_what_follows(desk: Desk) -> None:
    line = "record BOOK reading object=LP-2 quantity='UV-A at 15 in' value='900 uW/cm2' condition=as-found meter=RM-1 distance='15 in'"
    said = desk.run(line, by="L1-D")
    assert "follows: EquipmentStatusSet LP-2, withdrawn" in said.out and "ContainmentOpened" in said.out
    strange = line.replace("900 uW/cm2", "1 uW/cm2")
    assert "look at the unit" in desk.run(strange, by="L1-D", code=1)
    desk.run(f"{strange} --sure", by="L1-D")


def test_objects_of_json_are_recorded_all_or_none(desk: Desk, tmp_path: Path) -> None:
    desk.play(GEAR.format(nothing="no").split("07:50:10")[0])
    before = head(desk)
    items = [
        {"kind": "confirm", "about": "MT-001", "item": "clean"},
        {"kind": "view-start", "view": "MT-001/view", "inspection": "MT-001", "lamps": ["LP-1"], "station": "MT booth"},
        {"kind": "view-end", "view": "MT-001/view", "zones": ["WEB"], "nothing_seen": True},
        {"kind": "shot", "inspection": "MT-001", "bench": "MT-01", "shot": 1, "pulses": [{"amps": "1200 A", "seconds": "0.7 s"}],
         "at": "07:40:10", "why": "typed after the shift's start"},
    ]  # fmt: skip
    broken = [*items, {"kind": "plugs", "inspection": "MT-001", "direction": "up", "count": 4}]
    said = desk.run("record BOOK --json -", typed=json.dumps(broken), by="L2-A", code=2)
    assert "item 5: direction: 'up' is none of in, out" in said.err
    twice = "\n".join(json.dumps(each) for each in [*items, items[1]])  # wrong only once the others are written
    again = desk.run("record BOOK --json -", typed=twice, by="L2-A", code=2)
    assert "item 5: view MT-001/view was started already" in again.err and head(desk) == before
    file = tmp_path / "items.json"
    file.write_text(json.dumps(items), encoding="utf-8")
    done = json.loads(desk.run(f"record BOOK --json {file}", by="L2-A").out)
    assert [each["kind"] for each in done["entries"]] == ["ConfirmationGiven", "ViewStarted", "ViewEnded", "ShotFired"]
    assert len(since(desk, before)) == 4


def test_a_refusal_among_several_is_kept_and_nothing_else(desk: Desk) -> None:
    desk.play(GEAR.format(nothing="no"))
    before = head(desk)
    items = [
        {"kind": "confirm", "about": "MT-001", "item": "plugged"},
        {"kind": "meter", "meter": "RM-2"},  # out of calibration
    ]
    said = desk.run("record BOOK --json -", typed=json.dumps(items), by="L2-A", code=1)
    assert "L10" in said.err
    assert [type(r.fact) for r in since(desk, before)] == [f.ActionRefused]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "nothing to record"),
        ("{", "line 1 is no JSON"),
        ("[1]", "item 1 is no object"),
        ('{"shot": 1}', "item 1: has no kind"),
        ('{"kind": "plugs", "kind": "shot"}', "a key stands twice"),
        ('{"kind": "plugs", "inspection": "X", "direction": "in", "count": 4.5}', "'4.5' is not a whole number"),
        ("[" * 100_000, "line 1 is no JSON"),
    ],
)
@pytest.mark.parametrize("engine", ["sqlite"])
def test_hostile_json_is_one_message(desk: Desk, text: str, says: str) -> None:
    said = desk.run("record BOOK --json -", typed=text, by="L2-A", code=2)
    assert says in said.err and len(said.err.strip().splitlines()) == 1


def test_a_call_under_a_key_of_the_caller_is_done_once(desk: Desk) -> None:
    before = head(desk)
    line = "record BOOK switch equipment=LP-2 state=off --key call-7"
    first = desk.run(line, by="L1-D")
    again = desk.run(line, by="L1-D")
    assert again.out == first.out and "done before under call-7" in again.err
    assert len(since(desk, before)) == 1
    desk.play(GEAR.format(nothing="no").split("07:50:00 L2-A")[0])
    opening = "inspection open BOOK --part CG-1 --technique MT-T-6050 --key open-1"
    assert desk.run(opening, by="L2-A").out == desk.run(opening, by="L2-A").out
    assert desk.run("inspection list BOOK").out.count("MT-00") == 1


def test_rework_is_ordered_signed_done_and_stands_in_the_ledger(desk: Desk) -> None:
    desk.play(GEAR.format(nothing="no"))
    desk.play(
        CRACK.replace("'grinding crack'", "'forging lap'").replace(
            "08:07:00 L2-A: record BOOK moved part=CG-1 place=quarantine", ""
        )
    )
    order = "record BOOK rework-order inspection=MT-001 indication=IND-01 zone=WEB operation='blend to 0.010 in'"
    assert "second look by another qualified person comes first" in desk.at("08:08").run(order, by="L2-A", code=1)
    desk.play(
        """
        08:09 L2-C: record BOOK booth-closed station='MT booth'
        08:11 L2-C: second-look start BOOK SC-01 MT-001 --indication IND-01 --lamps LP-1 --booth 'MT booth'
        08:13 L2-C: second-look save BOOK SC-01 interpretation=relevant form=linear length='0.20 in'
        """
    )
    before = head(desk)
    wrong = desk.run(order + " --secret-file -", typed="not the password\n", by="L2-A", code=1)
    assert "not right" in wrong.err
    assert [type(r.fact) for r in since(desk, before)] == [f.SecretTried]
    desk.run(order, by="L2-A")
    desk.play(
        """
        08:15 L2-A: sign BOOK MT-001 REWORK
        08:20 RWK-N: record BOOK rework-start inspection=MT-001
        08:40 RWK-N: record BOOK rework-done inspection=MT-001 zone=WEB depth='0.004 in' dimensions='web:0.310 in:0.305 in:0.300 in'
        08:41 L2-A: record BOOK past-rework part_no=T6-10501 serial=CG-1 zone=WEB depth='0.1 mm' done=2019-06-03 source='card 17'
        08:41 L2-A: record BOOK past-rework part_no=T6-10501 serial=CG-1 zone=WEB done=2012-01-09 source='card 3'
        """
    )
    said = desk.run("ledger BOOK --serial CG-1").out.splitlines()
    assert said[0] == "T6-10501 CG-1, zone WEB"
    assert [line.split()[0] for line in said[1:4]] == ["2012-01-09", "2019-06-03", "2026-03-10"]
    assert "depth not recorded" in said[1] and "0.1 mm" in said[2] and "0.004 in" in said[3]
    # 0.1 mm + 0.004 in = 0.1 + 0.1016 mm, exactly (1 in = 25.4 mm)
    assert (
        said[4]
        == "  sum at least: 1 without a depth 0.2016 mm; limit in the part master: 0.010 in (limits sheet LS-10501 rev 3)"
    )
    as_json = json.loads(desk.run("ledger BOOK --serial CG-1 --zone WEB --json").out)
    assert as_json[0]["sum"] == "0.2016 mm" and as_json[0]["without_depth"] == 1
    assert desk.run("ledger BOOK --serial CG-1 --zone BORE").out == "CG-1: no rework recorded in zone BORE\n"
    assert "no piece with serial number" in desk.run("ledger BOOK --serial CG-9", code=3)
    closing = "inspection open BOOK --part CG-1 --technique MT-T-6050 --closes MT-001"
    assert desk.at("08:50").run(closing, by="L2-A").out.startswith("MT-002: MT on")


@pytest.mark.parametrize("engine", ["sqlite"])
def test_two_part_numbers_with_one_serial_number_are_asked_apart(desk: Desk) -> None:
    for number in ("T6-10501", "T6-10502"):
        desk.run(
            f"record BOOK past-rework part_no={number} serial=777 zone=WEB depth='0.003 in' done=2019-06-03", by="L2-A"
        )
    assert "name the part number too" in desk.run("ledger BOOK --serial 777", code=2)
    assert "sum 0.003 in" in desk.run("ledger BOOK --serial 777 --part-no T6-10502")


def test_a_co_signature_asks_for_the_secret_and_a_tick_does_not(desk: Desk) -> None:
    desk.play(GEAR.format(nothing="no").split("07:50:30")[0])
    before = head(desk)
    desk.run("record BOOK confirm about=MT-001 item='trainee work co-signed'", by="L2-C")
    tried, signed = since(desk, before)
    assert isinstance(tried.fact, f.SecretTried) and isinstance(signed.fact, f.ConfirmationGiven)
    typed = desk.run(
        "record BOOK confirm about=MT-001 item='trainee work co-signed' --secret-file -",
        typed=password("L2-A"),
        by="L2-C",
        code=1,
    )
    assert "not right" in typed.err


def test_receiving_asks_the_serial_number_of_the_work_order(desk: Desk) -> None:
    desk.run("record BOOK part-listed work_order=W26-0148 part_no=T6-10501 quantity=1 serial=6H-20417", by="RCV-H")
    twice = desk.run(
        "record BOOK part-listed work_order=W26-0148 part_no=T6-10501 quantity=2 serial=6H-20417", by="RCV-H", code=2
    )
    assert "listed already" in twice.err
    assert "scanned (--scanned) or typed twice" in desk.run("receive BOOK W26-0148 6H-20417", by="RCV-H", code=2)
    assert "look at the part again" in desk.run("receive BOOK W26-0148 6H-20417 --again 6H-20147", by="RCV-H", code=2)
    swapped = desk.run("receive BOOK W26-0148 6H-20147 --again 6H-20147", by="RCV-H", code=1)
    assert "6H-20417" in swapped.err
    desk.run("receive BOOK W26-0148 6H-20417 --again 6H-20417", by="RCV-H")
    desk.run("record BOOK part-listed work_order=W26-0148 part_no=T6-10503 quantity=12 lot=LOT-7", by="RCV-H")
    assert "12 are listed: count again" in desk.run("receive BOOK W26-0148 LOT-7 --scanned --quantity 11", by="RCV-H")


def test_signed_and_computed_entries_and_times_that_cannot_be_are_not_corrected(desk: Desk) -> None:
    desk.play(GEAR.format(nothing="yes"))
    desk.at("08:06").run("sign BOOK MT-001 ACCEPT", by="L2-A")
    entries = {type(r.fact): r for r in since(desk, 0)}
    for kind in (f.DecisionSigned, f.InspectionOpened, f.CertificateEntered, f.SecretTried):
        said = desk.run(
            f"correct BOOK {entries[kind].position} person=L2-B --reason 'it was somebody else'", by="L2-B", code=2
        )
        assert "has an action of its own" in said.err
    end = entries[f.ViewEnded].position
    early = desk.run(f"correct BOOK {end} --at 07:51 --reason 'looked at the clock'", by="L2-A", code=2)
    assert "before it began" in early.err
    assert "says that already" in desk.run(
        f"correct BOOK {end} nothing_seen=yes --reason 'no change at all'", by="L2-A", code=2
    )
    assert "cannot be empty" in desk.run(f"correct BOOK {end} view= --reason 'no change at all'", by="L2-A", code=2)
    desk.run(f"correct BOOK {end} nothing_seen= --at 08:02 --reason 'nobody said so, and earlier'", by="L2-A")
    assert "NO DECISION" in desk.run("inspection list BOOK")
    assert "ViewEnded" in desk.run("inspection show BOOK MT-001").out


def test_facts_of_a_penetrant_line_and_a_bench_are_all_recorded(desk: Desk) -> None:
    """Logs, sets of batches, re-wettings, seconds, plugs, breaks, coatings."""
    desk.play(GEAR.format(nothing="no").split("07:50:10")[0])
    before = head(desk)
    desk.play(
        """
        07:51:00 L1-D: record BOOK switch equipment=MT-01 state=off
        07:51:00 L1-D: record BOOK switch equipment=dryer state=on
        07:51:00 L1-D: record BOOK batch batch=PEN-2 material=penetrant expires=2027-12-31 system=FP-1 type=1 method=A sensitivity=2 alloys=aluminium+steel
        07:51:00 L1-D: record BOOK tank line='Method A line' batches=PEN-1+PEN-2+DEV-1
        07:51:05 L1-D: record BOOK step-start on=B9 step=wet pieces=4
        07:51:35 L1-D: record BOOK step-end on=B9 step=wet
        07:52:00 L1-D: record BOOK step-start on=B9 step=wet pieces=1
        07:52:10 L1-D: record BOOK step-end on=B9 step=wet
        07:53:00 L2-A: record BOOK plugs inspection=MT-001 direction=in count=9
        07:53:30 L2-A: record BOOK plugs inspection=MT-001 direction=out count=8
        07:53:40 L2-A: record BOOK coating part=CG-1 coating=chrome thickness='0.002 in' zone=BORE meter=GM-1
        07:53:50 L2-A: record BOOK break mark=began station='MT booth'
        07:53:55 L2-A: record BOOK field-shown inspection=MT-001 point='tooth rim' how=QQI clear=yes shot=1
        07:54:00 L2-A: record BOOK shot-void inspection=MT-001 shot=1 fired_at=07:50:30 reason='contact slipped'
        """
    )
    facts = [r.fact for r in since(desk, before)]
    assert f.TankFilled("Method A line", ("PEN-1", "PEN-2", "DEV-1")) in facts
    assert [x.pieces for x in facts if isinstance(x, f.StepStarted)] == [4, 1]
    assert [x.count for x in facts if isinstance(x, f.PlugsCounted)] == [9, 8]
    assert any(isinstance(x, f.CoatingMeasured) and x.part == "W26-0148/T6-10501/CG-1" for x in facts)
    assert {f.BreakMarked, f.FieldShown, f.ShotVoided, f.EquipmentSwitched, f.BatchEntered} <= {type(x) for x in facts}
    judged = desk.run("inspection judge BOOK MT-001 --json", code=1)
    answers = {a["id"]: a for a in json.loads(judged.out)["answers"]}
    assert answers["G29"]["answer"] in ("FAIL", "NOT APPLICABLE")
