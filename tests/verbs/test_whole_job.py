"""The whole job by command line in a real book: receive, open, record, judge, sign, second look, tag; on both engines."""

from __future__ import annotations

from pathlib import Path

from tests.verbs.conftest import Desk

GEAR = """
07:50:00 RCV-H: record BOOK part-listed work_order=W26-0148 part_no=T6-10501 quantity=1 serial=CG-1
07:50:00 RCV-H: receive BOOK W26-0148 CG-1 --again CG-1
07:50:00 CLN-J: record BOOK confirm about=W26-0148/T6-10501/CG-1 item='pre-clean visual'
07:50:00 CLN-J: record BOOK confirm about=CG-1 item='cleaning started'
07:50:00 CLN-J: record BOOK confirm about=W26-0148/T6-10501/CG-1 item='visible dye history' value=never
07:50:00 CLN-J: record BOOK confirm about=W26-0148/T6-10501/CG-1 item='worked since last etch' value=no
07:50:00 L2-A: inspection open BOOK --part CG-1 --technique MT-T-6050 --booth 'MT booth'
07:50:10 L2-A: record BOOK confirm about=MT-001 item=clean
07:50:10 L2-A: record BOOK confirm about=MT-001 item=dry
07:50:10 L2-A: record BOOK confirm about=MT-001 item='bearings and trapped parts removed'
07:50:30 L2-A: record BOOK shot inspection=MT-001 bench=MT-01 shot=1 pulses='1200 A:0.7 s+1200 A:0.7 s' current_type=FWDC bath_mode=continuous
07:51:00 L2-A: record BOOK shot inspection=MT-001 bench=MT-01 shot=2 pulses='1200 A:0.7 s+1200 A:0.7 s' current_type=FWDC bath_mode=continuous
07:51:00 L2-A: record BOOK booth-closed station='MT booth'
07:51:30 L2-A: record BOOK shot inspection=MT-001 bench=MT-01 shot=3 pulses='1200 A:0.7 s+1200 A:0.7 s' current_type=FWDC bath_mode=continuous
07:52:00 L2-A: record BOOK shot inspection=MT-001 bench=MT-01 shot=4 pulses='1 kA:0.7 s' pulses='1000 A:0.7 s' current_type=FWDC bath_mode=continuous coil_turns=5 position='1 in' extension='8 in' stacked=2
07:52:30 L2-A: record BOOK confirm about=MT-001 item='no arc burn after head shot'
07:53:00 L2-A: record BOOK view-start view=MT-001/view inspection=MT-001 lamps=LP-1 station='MT booth'
08:03:00 L2-A: record BOOK view-end view=MT-001/view zones=TOOTH-RIM+WEB+BORE+KEYWAY nothing_seen={nothing}
08:03:30 L2-A: record BOOK demagnetised inspection=MT-001 method='reversing step-down'
08:04:00 L2-A: record BOOK residual inspection=MT-001 point='gear seat bore' value='1 G' meter=GM-1 away_from_bench=yes
08:04:00 L2-A: record BOOK residual inspection=MT-001 point='tooth rim' value='0.1 mT' meter=GM-1 away_from_bench=yes
08:05:00 L2-A: record BOOK confirm about=MT-001 item='post-process: clean'
08:05:00 L2-A: record BOOK confirm about=MT-001 item='post-process: dry'
08:05:00 L2-A: record BOOK confirm about=MT-001 item='post-process: preserve'
"""

CRACK = """
08:05:30 L2-A: record BOOK indication indication=IND-01 inspection=MT-001 zone=WEB position='at 90 deg' form=linear length='0.20 in' width='0.01 in' orientation=radial clock='90 deg'
08:06:00 L2-A: record BOOK indication-test indication=IND-01 step=wiped outcome=returned
08:06:00 L2-A: record BOOK indication-test indication=IND-01 step=re-shot outcome=returned
08:06:30 L2-A: record BOOK interpretation indication=IND-01 interpretation=relevant basis='returned, sharp' type='grinding crack'
08:06:30 L2-A: record BOOK evaluation indication=IND-01 evaluation='over limit' limit='none allowed'
08:07:00 L2-A: record BOOK moved part=CG-1 place=quarantine
"""

SUMP = """
07:50:00 RCV-H: record BOOK part-listed part=W26-0148/T6-11020/SP-1 work_order=W26-0148 part_no=T6-11020 quantity=1 serial=SP-1
07:50:00 RCV-H: receive BOOK W26-0148 SP-1 --scanned
07:50:00 CLN-J: record BOOK confirm about=W26-0148/T6-11020/SP-1 item='pre-clean visual'
07:50:00 CLN-J: record BOOK confirm about=W26-0148/T6-11020/SP-1 item='cleaning started'
07:50:00 CLN-J: record BOOK confirm about=W26-0148/T6-11020/SP-1 item='visible dye history' value=never
07:50:00 CLN-J: record BOOK confirm about=W26-0148/T6-11020/SP-1 item='worked since last etch' value=no
07:50:00 L2-B: inspection open BOOK --part SP-1 --technique PT-T-6111 --booth 'PT booth' --number PT-001
07:50:10 L1-D: record BOOK basket basket=B1 method=A line='Method A line' inspections=PT-001 attempt=1
07:50:20 L1-D: record BOOK confirm about=PT-001 item=clean
07:50:20 L1-D: record BOOK confirm about=PT-001 item=dry
07:50:20 L1-D: record BOOK confirm about=B1 item='dry before wetting'
07:50:30 L1-D: record BOOK confirm about=B1 item='wetted by' value=flow
07:50:30 L1-D: record BOOK confirm about=B1 item='no contact, cavities drain'
07:51:00 L1-D: record BOOK step-start on=B1 step=wet pieces=1
07:51:00 L1-D: record BOOK step-reading on=B1 step=wet quantity='part temperature' value='72 degF'
07:52:00 L1-D: record BOOK step-end on=B1 step=wet
08:24:00 L1-D: record BOOK step-start on=B1 step=wash pieces=1
08:24:00 L1-D: record BOOK step-reading on=B1 step=wash quantity='nozzle distance' value='14 in'
08:24:00 L1-D: record BOOK confirm about=B1 item='penetrant did not dry on'
08:26:00 L1-D: record BOOK step-end on=B1 step=wash outcome=clean
08:26:00 L1-D: record BOOK confirm about=B1 item='rinse checked under UV-A'
08:26:30 L1-D: record BOOK step-start on=B1 step=dry
08:40:00 L1-D: record BOOK step-end on=B1 step=dry
08:40:00 L1-D: record BOOK confirm about=B1 item='dry at dryer out'
08:40:30 L1-D: record BOOK step-start on=B1 step=develop
08:41:00 L1-D: record BOOK step-end on=B1 step=develop
08:41:00 L1-D: record BOOK confirm about=B1 item='developer form' value=a
08:41:00 L1-D: record BOOK confirm about=B1 item='developer on all zones'
08:49:00 L2-B: record BOOK booth-closed station='PT booth'
08:52:00 L2-B: record BOOK view-start view=PT-001/view inspection=PT-001 lamps=LP-3 station='PT booth'
09:00:00 L2-B: record BOOK view-end view=PT-001/view zones=FLANGE+WALLS+DRAIN-BOSS+INDUCTION-BOSS+PICKUP-BOSS nothing_seen=yes
"""


def test_a_cracked_gear_from_receiving_to_its_tag(desk: Desk, tmp_path: Path) -> None:
    desk.play(GEAR.format(nothing="no"))
    desk.play(CRACK)
    assert "D07" in desk.run("inspection judge BOOK MT-001 --open", code=1)
    alone = desk.at("08:08").run("sign BOOK MT-001 REJECT", by="L2-A", code=1)
    assert "second look" in alone.err
    own = desk.run(
        "second-look start BOOK SC-01 MT-001 --indication IND-01 --lamps LP-1 --booth 'MT booth'", by="L2-A", code=1
    )
    assert "L2-A viewed MT-001 and cannot be its second person" in own.err
    desk.play(
        """
        08:09 L2-C: record BOOK booth-closed station='MT booth'
        08:11 L2-C: second-look start BOOK SC-01 MT-001 --indication IND-01 --lamps LP-1 --booth 'MT booth'
        08:13 L2-C: second-look save BOOK SC-01 interpretation=relevant form=linear length='0.20 in'
        08:14 L2-A: sign BOOK MT-001 REJECT
        """
    )
    listed = desk.run("inspection list BOOK")
    assert "MT-001 | W26-0148/T6-10501/CG-1 | 1 pc | MT-T-6050 | L2-A | REJECT" in listed.out
    _tagged(desk, tmp_path, "MT-001", "08:15", "L2-A")


def test_a_clean_sump_from_receiving_to_its_tag(desk: Desk, tmp_path: Path) -> None:
    desk.play(SUMP)
    assert desk.at("09:00:30").run("inspection judge BOOK PT-001 --open", code=None).code in (0, 1)
    desk.play(
        """
        09:01 L2-C: record BOOK booth-closed station='PT booth'
        09:03 L2-C: second-look start BOOK SC-02 PT-001 --lamps LP-3 --booth 'PT booth'
        09:09 L2-C: second-look save BOOK SC-02 none_seen=yes --zones FLANGE+WALLS+DRAIN-BOSS+INDUCTION-BOSS+PICKUP-BOSS
        09:10 L2-B: sign BOOK PT-001 ACCEPT
        """
    )
    assert "ACCEPT PROVISIONAL" in desk.run("inspection list BOOK --part SP-1")
    _tagged(desk, tmp_path, "PT-001", "09:11", "L2-B")
    shown = desk.run("inspection show BOOK PT-001")
    assert "SecondLookSaved" in shown and "DecisionSigned" in shown and "TagScannedBack" in shown


def _tagged(desk: Desk, folder: Path, inspection: str, time: str, person: str) -> None:
    """Its tag is printed, wired on, scanned, and found current; the book holds."""
    paper = folder / "tag.pdf"
    printed = desk.at(time).run(f"tag print BOOK {inspection} --out {paper}", by=person)
    assert printed.out.startswith("tag 1, original") and paper.read_bytes().startswith(b"%PDF")
    desk.run("tag scan BOOK 1", by=person)
    code = printed.out.partition("check code ")[2].split()[0]
    desk.run(f"tag check BOOK 1 {code}", code=None)
    assert "entries hold" in desk.run("verify BOOK")


def test_a_clean_gear_is_accepted_by_the_one_who_viewed_it_and_a_correction_takes_it_back(
    desk: Desk, tmp_path: Path
) -> None:
    desk.play(GEAR.format(nothing="yes"))
    desk.at("08:06").run("sign BOOK MT-001 ACCEPT", by="L2-A")
    desk.run(f"tag print BOOK MT-001 --out {tmp_path / 'tag.pdf'}", by="L2-A")
    shown = desk.run("inspection show BOOK MT-001").out
    (line,) = [line for line in shown.splitlines() if "ResidualRead" in line and "gear seat bore" in line]
    entry = line.split(":")[0].removeprefix("entry ")
    wrong = desk.at("08:20").run(f"correct BOOK {entry} value='1.4 G' --reason typo", by="L2-A", code=2)
    assert "10 letters" in wrong.err
    looked = desk.run(f"correct BOOK {entry} value='1.4 G' --reason 'meter showed 1.4' --check", by="L2-A")
    assert "value: 1 G -> 1.4 G" in looked.out and "not corrected" in looked.out
    done = desk.run(f"correct BOOK {entry} value='1.4 G' --reason 'meter showed 1.4'", by="L2-A")
    assert "DecisionUndone" in done.out and "TagVoided" in done.out
    assert "NO DECISION" in desk.run("inspection list BOOK --open")
    again = desk.run(f"correct BOOK {entry} value='1.5 G' --reason 'meter showed 1.5'", by="L2-A", code=2)
    assert "was corrected by entry" in again.err
    untold = desk.at("08:22").run("sign BOOK MT-001 ACCEPT", by="L2-A", code=1)
    assert "D18" in untold.err  # a tag was out: somebody has to be told
    desk.run(
        "record BOOK confirm about=MT-001 item='change after a tag was out told to Level III or quality'", by="L2-A"
    )
    desk.run("sign BOOK MT-001 ACCEPT", by="L2-A")
