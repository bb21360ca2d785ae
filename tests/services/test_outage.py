"""Trap 64: two hours of paper.  What is typed in afterwards stands behind no acceptance until a second person has compared it.

The scenes are invented.  That copies are compared with their original by a second
person is common practice, no source.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.domain.entry import Obtained, Recorded
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.services import correction, outage, outage_paper
from ndi.services.handover import open_lines
from ndi.services.record_report import record_model
from tests import build as b
from tests.build import num
from tests.photo.picture_files import picture
from tests.services.shop import GEAR, GEAR_SHEET, Shop

WHY = "written on paper, no power"
ON_PAPER = ("demag", "residual gear seat bore", "residual tooth rim")


@pytest.fixture
def paper(shop: Shop) -> Shop:
    """Gear MT-001, of which the power failed between the view and the residual field; back at 08:30, typed in by SUP-F.

    Sheet OF-0001 was used from 08:00 to 08:20; nothing is tied to it yet.
    """
    outage_paper.number_forms(shop.work, "mt", 2, "SUP-F")
    steps = shop.magnetic_steps("MT-001", shop.receive(GEAR, "CG-1"), GEAR_SHEET)
    shop.play(step for step in steps if step.name not in ON_PAPER and step.seconds <= 780)
    shop.at("08:30")
    outage_paper.declare(shop.work, b.at("08:00"), b.at("08:20"), "no power", ["OF-0001"], "SUP-F")
    shop.record(f.Demagnetised("MT-001", "reversing step-down"), by="SUP-F", when=b.at("08:06"), why=WHY)
    for point in ("gear seat bore", "tooth rim"):
        shop.record(f.ResidualRead("MT-001", point, num("1 G"), "GM-1", True), by="SUP-F", when=b.at("08:08"), why=WHY)
    shop.record(*(f.ConfirmationGiven("MT-001", f"post-process: {word}") for word in ("clean", "dry", "preserve")))
    return shop


def late(shop: Shop) -> list[int]:
    """The entries that were typed late."""
    with shop.work.book.session(readonly=True) as session:
        every = [session.entry(n) for n in range(1, session.head().position + 1)]
    return [r.position for r in every if r.how is Obtained.TYPED_LATE and not isinstance(r.fact, f.OutageDeclared)]


def tie(shop: Shop, **more: Any) -> Recorded[f.Fact]:
    given = {"person": "SUP-F", "written_by": "L2-A", "entries": late(shop), "paper": "binder 3", **more}
    return outage_paper.tie(shop.work, given.pop("form", "OF-0001"), **given)


def states(shop: Shop) -> dict[str, str]:
    with shop.work.book.session(readonly=True) as session:
        return {sheet.form: str(sheet.state) for sheet in outage.sheets(session)}


def test_acceptance_waits_for_the_second_person(paper: Shop) -> None:
    """Untied, tied, different, corrected, compared: only at the end may the gear be accepted."""
    with pytest.raises(NotPermitted, match=r"entries copied from paper in OUT-01; entries .*: tie them to the sheet"):
        paper.sign("MT-001")
    tie(paper)
    with pytest.raises(NotPermitted, match="OF-0001: a second person compares the sheet"):
        paper.sign("MT-001")
    outage_paper.compare(paper.work, "OF-0001", "L2-B", differences="tooth rim reads 2 G on the sheet")
    assert states(paper) == {"OF-0001": "differs"}
    with pytest.raises(NotPermitted, match="OF-0001"):
        paper.sign("MT-001")
    wrong = paper.facts(f.ResidualRead, "MT-001")[-1]
    right = correction.prepare(paper.work, wrong.position, {"value": "2 G"})
    correction.correct_entry(paper.work, right, "SUP-F", "typed 1 G, the sheet says 2 G")
    assert states(paper) == {"OF-0001": "not compared"}
    outage_paper.compare(paper.work, "OF-0001", "L2-B")
    assert states(paper) == {"OF-0001": "compared"}
    paper.sign("MT-001")
    assert paper.row("MT-001").disposition == "ACCEPT"


def test_what_was_not_in_the_outage_or_taken_live_waits_for_nobody(accepted: Shop) -> None:
    """A record without paper is signed as ever, also after an outage was declared for another time."""
    accepted.at("09:30")
    outage_paper.declare(accepted.work, b.at("09:10"), b.at("09:20"), "no network", [], "SUP-F")
    accepted.gear("MT-002", "CG-2")
    accepted.sign("MT-002")
    assert accepted.row("MT-002").disposition == "ACCEPT"


def test_nobody_compares_what_they_typed(paper: Shop) -> None:
    tie(paper, person="L1-D")
    for typist in ("SUP-F", "L1-D"):  # who typed the entries; who said that they are the sheet's
        with pytest.raises(NotPermitted, match=f"{typist} typed OF-0001 in"):
            outage_paper.compare(paper.work, "OF-0001", typist)
    outage_paper.compare(paper.work, "OF-0001", "L2-A")  # who wrote it by hand may read it against the book
    assert states(paper) == {"OF-0001": "compared"}


def test_signature_shows_every_value_and_a_hash_over_the_entries(paper: Shop) -> None:
    tie(paper)
    covers = outage_paper.form_covers(paper.work, "OF-0001")
    assert len(covers) == 1 + len(late(paper))
    assert "ResidualRead: inspection MT-001, point tooth rim, value 1 G, meter GM-1" in covers[-1]
    with paper.work.book.session(readonly=True) as session:
        hashes = [seal.hash for seal in session.seals(late(paper))]
    assert hashlib.sha256("\n".join(hashes).encode()).hexdigest()[:16] in covers[0]
    outage_paper.compare(paper.work, "OF-0001", "L2-B")
    (kept,) = paper.facts(f.FormCompared, "OF-0001")
    assert kept.fact.covers == covers and kept.fact.meaning == "verified" and kept.fact.agrees


def test_open_sheets_stand_on_the_handover_and_the_record_says_where_it_came_from(paper: Shop) -> None:
    def lines() -> list[str]:
        return [line.line for line in open_lines(paper.work) if line.kind == "outage form"]

    assert lines() == ["OF-0001: not typed in (OUT-01)"]
    tie(paper)
    assert lines() == ["OF-0001: not compared (OUT-01)"]
    with paper.work.book.session(readonly=True) as session:
        (told,) = [line for line in record_model(paper.work, session, "MT-001").attempts if "OF-0001" in line]
    assert told.startswith(
        "3 entries copied from paper OF-0001 (OUT-01), written by L2-A, typed in by SUP-F; NOT COMPARED"
    )
    outage_paper.compare(paper.work, "OF-0001", "L2-B")
    assert lines() == []


def test_picture_of_the_sheet_is_kept(paper: Shop) -> None:
    content = picture()
    fact = tie(paper, picture=content, name="sheet.jpg").fact
    assert isinstance(fact, f.FormTranscribed)
    assert fact.sha256 == hashlib.sha256(content).hexdigest() and fact.size == len(content)
    assert paper.work.photographs is not None
    assert paper.work.photographs.original(fact.sha256) == content
    with pytest.raises(InputError):
        tie(paper, picture=b"no picture", name="sheet.jpg")
    found = bootstrap.check_photographs(paper.work)
    assert found.whole == (fact.sha256,) and found.without_entry == ()
    copy = bootstrap.back_up(paper.work, paper.work.book.path.parent / "copies")  # type: ignore[attr-defined]
    assert (copy.photographs.copied, copy.photographs.missing) == (1, ())


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"form": "OF-0099"}, "no blank form OF-0099 was printed"),
        ({"form": "OF-0002"}, "not among the sheets of a declared outage"),
        ({"entries": []}, "name the entries"),
        ({"entries": [1]}, "only what was typed late"),
        ({"paper": " "}, "where the sheet itself is kept"),
        ({"written_by": "L2-X"}, "no person of this book"),
    ],
)
def test_what_cannot_be_tied_says_why(paper: Shop, changed: dict[str, Any], said: str) -> None:
    head = paper.head()
    with pytest.raises((InputError, NotFound), match=said):
        tie(paper, **changed)
    assert paper.head() == head


def test_a_sheet_is_typed_in_once_and_only_for_the_time_of_its_outage(paper: Shop) -> None:
    paper.record(f.BoothClosed("PT booth", "L2-B"), by="SUP-F", when=b.at("08:25"), why=WHY)
    with pytest.raises(InputError, match="outside OUT-01"):
        tie(paper)
    tie(paper, entries=late(paper)[:-1])
    with pytest.raises(InputError, match="typed in already"):
        tie(paper)


@pytest.mark.parametrize(
    ("began", "ended", "forms", "said"),
    [
        ("08:20", "08:20", [], "cannot end"),
        ("08:20", "08:10", [], "cannot end"),
        ("08:20", "08:31", [], "later than now"),
        ("08:21", "08:25", ["OF-0001"], "was used in OUT-01 already"),
        ("08:21", "08:25", ["OF-0009"], "was printed by this book"),
    ],
)
def test_outage_that_cannot_be_is_refused(paper: Shop, began: str, ended: str, forms: list[str], said: str) -> None:
    with pytest.raises(InputError, match=said):
        outage_paper.declare(paper.work, b.at(began), b.at(ended), "no power", forms, "SUP-F")


def test_a_declared_outage_is_put_right_and_keeps_what_is_typed_in(paper: Shop) -> None:
    def amended(began: str, ended: str, *forms: str) -> None:
        outage_paper.amend(paper.work, "OUT-01", b.at(began), b.at(ended), forms, "SUP-F", "the power came back later")

    amended("08:00", "08:25", "OF-0001", "OF-0002")
    assert states(paper) == {"OF-0001": "not typed in", "OF-0002": "not typed in"}
    amended("08:00", "08:25", "OF-0001")  # the other one was blank after all
    assert states(paper) == {"OF-0001": "not typed in"}
    tie(paper)
    for times, forms, said in (
        (("08:00", "08:25"), [], "OF-0001 is typed in already"),
        (("08:07", "08:25"), ["OF-0001"], "outside OUT-01"),
        (("08:00", "08:31"), ["OF-0001"], "later than now"),
        (("08:00", "08:25"), ["OF-0001", "OF-0009"], "no blank form OF-0009"),
    ):
        with pytest.raises(InputError, match=said):
            amended(*times, *forms)
    with pytest.raises(NotFound, match="OUT-07"):
        outage_paper.amend(paper.work, "OUT-07", b.at("08:00"), b.at("08:20"), [], "SUP-F", "a reason that is long")
    assert len(paper.facts(f.OutageDeclared)) == 1  # the corrected ones are not in force


def test_numbers_of_forms_are_never_given_twice(shop: Shop) -> None:
    given = [number for _ in range(3) for number in outage_paper.number_forms(shop.work, "pt", 4, "SUP-F")]
    assert given == [f"OF-{number:04d}" for number in range(1, 13)]
    for count in (0, -1, 501):
        with pytest.raises(InputError, match="print 1 to 500"):
            outage_paper.number_forms(shop.work, "pt", count, "SUP-F")


@pytest.mark.parametrize(
    ("text", "found"), [("7", [7]), ("7-9,12", [7, 8, 9, 12]), (" 7 - 8 , 9", [7, 8, 9]), ("9-7", [])]
)
def test_entries_as_a_person_types_them(text: str, found: list[int]) -> None:
    assert outage.positions_of(text) == found


@pytest.mark.parametrize("text", ["", "7-", "-7", "a", "7,,8", "1-999999999", "٧", "7-8-9", "1" * 40])
def test_entries_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"entries|entry"):
        outage.positions_of(text)


# --- the command line -----------------------------------------------------------------------------------


def test_from_blank_forms_to_a_compared_sheet(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The verbs one after the other on a book of a file, at the machine's own time: all or nothing, then the second person."""
    where = str(shop.work.book.path)  # type: ignore[attr-defined]
    shop.close()
    assert (
        main(["outage", "forms", where, "readings", "--count", "2", "--by", "SUP-F", "--out", str(tmp_path / "f.pdf")])
        == 0
    )
    assert (tmp_path / "f.pdf").read_bytes().startswith(b"%PDF")
    times = ("2026-03-10 12:00", "2026-03-10 13:00")
    assert (
        main(
            [
                "outage",
                "declare",
                where,
                "OF-0002",
                "--from",
                times[0],
                "--until",
                times[1],
                "--why",
                "x",
                "--by",
                "SUP-F",
            ]
        )
        == 0
    )
    sheet = tmp_path / "sheet.json"
    good = {"kind": "booth-closed", "station": "MT booth", "person": "L2-A", "at": "2026-03-10 12:20"}
    enter = ["outage", "enter", where, "OF-0002", "--written-by", "L1-D", "--paper", "binder 3", "--by", "SUP-F"]
    for items, said in (
        ([good, {**good, "at": "2026-03-10 14:20"}], "outside OUT-01"),
        ([{key: value for key, value in good.items() if key != "at"}], "has no time"),
    ):
        sheet.write_text(json.dumps(items))
        capsys.readouterr()
        assert main([*enter, "--json", str(sheet)]) == 2
        assert said in capsys.readouterr().err
    sheet.write_text(json.dumps([good]))
    assert main([*enter, "--json", str(sheet)]) == 0
    said = capsys.readouterr().out
    assert "BoothClosed MT booth, L2-A, 12:20, late: written on OF-0002 by L1-D in an outage" in said
    assert main(["outage", "list", where]) == 1
    assert main(["outage", "compare", where, "OF-0002", "--by", "SUP-F"]) == 1
    assert main(["outage", "compare", where, "OF-0002", "--by", "L2-B"]) == 0
    capsys.readouterr()
    assert main(["outage", "list", where]) == 0
    assert "OF-0002 OUT-01 compared: written by L1-D, typed in by SUP-F, compared by L2-B" in capsys.readouterr().out
