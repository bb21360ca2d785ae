"""Papers from a real book: the inspection record, tags as they stand later, the shift sheet, the papers of a day."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
import zxingcpp

from ndi import bootstrap
from ndi.calc import selftest
from ndi.cli import demo_papers
from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.domain.check_code import check_code
from ndi.domain.errors import InputError
from ndi.services import recording, tag_checks
from ndi.services.paper_text import on_paper
from ndi.services.record_report import NOT_SIGNED, record_model
from ndi.services.report_models import RecordModel, TagModel
from ndi.services.shift_report import shift_model
from ndi.services.tagging import print_tags, printed_model
from tests import build as b
from tests.printing.pdf_text import page_count, picture, printed_lines, words
from tests.services.shop import IDLERS, Shop

NEVER = re.compile(r"\b(serviceable|airworthy|overhauled|ok|okay|good|passed)\b", re.IGNORECASE)


def model_of(shop: Shop, inspection: str) -> RecordModel:
    with shop.work.book.session(readonly=True) as session:
        return record_model(shop.work, session, inspection)


def text_of(shop: Shop, inspection: str) -> str:
    return words(bootstrap.record_pdf(model_of(shop, inspection), shop.work))


@pytest.fixture
def split(shop: Shop) -> Shop:
    """A lot of twelve idlers, one of them rejected: ID-07, with a crack that a second person saw too."""
    part = shop.receive(IDLERS, "LOT-1", 12, lot=True)
    steps = shop.magnetic_steps("MT-002", part, "MT-T-6052", 12, nothing_seen=False)
    view_end = next(step for step in steps if step.name == "view end")
    shop.play(step for step in steps if step.seconds < view_end.seconds)
    shop.crack("MT-002", part, piece="ID-07", zone="WEB")
    shop.second_look("MT-002", "IND-01", interpretation="relevant", form="linear", length=b.num("0.21 in"))
    shop.after(900)
    for step in steps:
        if step.seconds >= view_end.seconds:
            shop.after(10)
            step.make()
    shop.after(30)
    shop.sign("MT-002", "SPLIT", children=(f.Child("ACCEPT", 11), f.Child("REJECT", 1, "ID-07")))
    return shop


# --- the record -----------------------------------------------------------------------------------


def test_record_prints_every_rule_of_the_revision_with_its_answer(accepted: Shop) -> None:
    model, judgement = model_of(accepted, "MT-001"), accepted.judge("MT-001")
    assert [(a.rule, a.verdict) for a in model.answers] == [(a.rule, str(a.verdict)) for a in judgement.answers]
    assert model.rules_asked == f"{len(judgement.answers)} of MT-P-01 Rev F"
    assert all(line.text and line.paragraph for line in model.answers)
    printed = text_of(accepted, "MT-001")
    for answer in judgement.answers:
        assert re.search(rf"\b{answer.rule} [SBW] . {answer.verdict}", printed), answer.rule


def test_record_carries_snapshot_head_and_the_hash_of_its_tag(accepted: Shop) -> None:
    (tag,) = print_tags(accepted.work, "MT-001", "L2-A")
    model = model_of(accepted, "MT-001")
    (signed,) = accepted.facts(f.DecisionSigned, "MT-001")
    assert model.record_hash == signed.fact.snapshot == tag.model.record_hash
    assert int(model.head.split(":")[0]) == accepted.head()
    assert f"Record hash {signed.fact.snapshot}" in text_of(accepted, "MT-001")


def test_record_that_is_not_signed_says_so_and_what_is_in_the_way(shop: Shop) -> None:
    part = shop.receive("T6-10501", "CG-1")
    shop.play(step for step in shop.magnetic_steps("MT-001", part, "MT-T-6050") if step.name != "demag")
    model = model_of(shop, "MT-001")
    assert (model.word, model.record_hash, model.signatures) == ("NO DECISION", NOT_SIGNED, ())
    open_lines = [a.rule for a in shop.judge("MT-001").answers if a.severity.blocks and not a.settled]
    assert open_lines and all(rule in model.standing[0] for rule in open_lines)
    assert "Not signed." in text_of(shop, "MT-001")


def test_record_provisional_names_what_it_waits_for_and_the_exception(accepted: Shop) -> None:
    model = model_of(accepted, "MT-001")
    assert model.word == "ACCEPT - PROVISIONAL"
    (signed,) = accepted.facts(f.DecisionSigned, "MT-001")
    assert signed.fact.waits_for is not None
    assert on_paper(signed.fact.waits_for) in model.standing[0]
    assert any(text.startswith("L11 NOT YET") for text in model.exceptions)


def test_record_says_which_answers_changed_since_the_signature(accepted: Shop) -> None:
    assert model_of(accepted, "MT-001").changed == ()
    accepted.at("12:38").read_lamp("LP-1", "1700")
    model = model_of(accepted, "MT-001")
    assert model.changed == ("L11: NOT YET when it was signed, PASS now",)
    assert (model.word, model.exceptions) == ("ACCEPT", ())
    assert "no longer provisional" in [line.meaning for line in model.signatures]


def test_record_suspended_names_the_reading_and_the_recall_set(accepted: Shop) -> None:
    accepted.at("12:38").read_lamp("LP-1", "900")
    model = model_of(accepted, "MT-001")
    assert (model.word, model.suspended) == ("ACCEPT - SUSPENDED", True)
    assert "LP-1 read 900 µW/cm² as-found at 12:38" in model.standing[0]
    assert model.containments[0].startswith("CT-01: LP-1 read 900 µW/cm²")
    assert "reprocess" in model.containments[0]
    assert "ACCEPT - SUSPENDED" in text_of(accepted, "MT-001")


def test_record_of_a_split_lot_shows_the_piece_on_the_outline_and_both_words(split: Shop) -> None:
    model = model_of(split, "MT-002")
    assert "11 ACCEPT / 1 REJECT" in model.word
    (mark,) = model.indications
    assert (mark.disposition, mark.zone, mark.size) == ("REJECT", "WEB", "0.20 in x 0.01 in")
    assert mark.length_mm == pytest.approx(5.08)  # 0.20 in of 25.4 mm
    assert "piece ID-07" in mark.note
    assert "re-shot" in mark.basis and "returned" in mark.basis
    (look,) = model.second_looks
    assert (look.person, look.blind, look.found) == ("L2-C", "yes", "relevant, linear, 0.21 in")
    assert [line.meaning for line in model.signatures] == ["second look", "performed"]
    assert len(model.outline) > 2 and {zone.code for zone in model.zones} >= {"WEB", "TOOTH-RIM"}
    printed = text_of(split, "MT-002")
    assert "SPLIT 11 ACCEPT / 1 REJECT" in printed
    assert "IND-01" in printed and "grinding crack" in printed


def test_record_lists_only_readings_that_an_answer_was_read_from(accepted: Shop) -> None:
    readings = {(row.object, row.value) for row in model_of(accepted, "MT-001").readings}
    assert ("LP-1", "1700 µW/cm²") in readings
    assert ("gear seat bore", "1 G") in readings
    assert ("MT-01", "as required, 6 holes at 2500 A") in readings
    assert not [name for name, _ in readings if name in ("LP-3", "dryer", "KP-2")]  # of the other booth and line


def test_record_shows_shots_beside_what_the_technique_asks(accepted: Shop) -> None:
    shots = model_of(accepted, "MT-001").shots
    assert [(row.shot, row.current, row.nominal) for row in shots][-1] == ("4", "1000 A FWDC 5 turns", "1000 A FWDC")
    assert shots[0].pulses == "2 of 0.7 s\nbath: continuous"


def test_penetrant_record_shows_its_void_attempt_and_its_steps(shop: Shop) -> None:
    part = shop.receive("T6-11020", "SP-1")
    first = [step for step in shop.sump_steps("PT-001", part, "B1") if step.seconds <= 2160]
    shop.play(first)
    shop.record(f.AttemptVoided("PT-001", "B1", 1, "wash water too hot"), by="L2-B")
    shop.after(60).play(shop.sump_steps("PT-001", part, "B2", attempt=2))
    model = model_of(shop, "PT-001")
    assert "VOID" in model.attempts[0] and "wash water too hot" in model.attempts[0]
    assert model.attempts[1].startswith("Attempt 2: basket B2")
    wash = [row for row in model.steps if row.step == "wash"]
    assert [(row.attempt, row.on, row.duration) for row in wash] == [("1", "B1", "2 min"), ("2", "B2", "2 min")]
    assert wash[0].observed == "nozzle distance 14 in; clean"
    assert next(row for row in model.steps if row.step == "wet").observed == "part temperature 72 °F"


@pytest.mark.parametrize(
    "typed, printed",
    [
        ("880 uW/cm2", "880 µW/cm²"),
        ("72 degF", "72 °F"),
        ("165 deg; 24 in", "165°; 24 in"),
        ("2 degrees", "2 degrees"),
        ("10 mW/cm2", "10 mW/cm²"),
    ],
)
def test_units_read_on_paper_as_print_shows_them(typed: str, printed: str) -> None:
    assert on_paper(typed) == printed


# --- tags later -----------------------------------------------------------------------------------


def tag_of(shop: Shop, inspection: str = "MT-001") -> TagModel:
    return print_tags(shop.work, inspection, "L2-A")[0].model


def status(shop: Shop, model: TagModel) -> str:
    """By the square code as the renderer draws it, not as the model says it."""
    pdf = bootstrap.tags_pdf([model], shop.work)
    (code,) = zxingcpp.read_barcodes(picture(pdf, 203))
    return str(tag_checks.status_of(shop.work, code.text))


def test_tag_goes_from_provisional_to_current_to_void(accepted: Shop) -> None:
    tag = tag_of(accepted)
    assert "WAITS FOR" in " ".join(printed_lines(bootstrap.tags_pdf([tag], accepted.work)))
    assert status(accepted, tag) == "provisional"
    accepted.at("12:38").read_lamp("LP-1", "1700")
    assert status(accepted, tag) == "current; printed as provisional, cleared since"
    again = tag_of(accepted)
    assert (again.tag_no, again.copy, again.tag_word) == (tag.tag_no, 2, "ACCEPT")
    assert "COPY 2" in printed_lines(bootstrap.tags_pdf([again], accepted.work))[0]
    assert status(accepted, again) == "current, copy 2"
    residual = accepted.facts(f.ResidualRead, "MT-001")[-1]
    recording.correct(
        accepted.work, residual.uid, residual.fact, "L2-A", when=residual.when, why="read from another part"
    )
    assert status(accepted, again).startswith("void: record corrected after signature")
    assert not tag_checks.typed_status(accepted.work, str(tag.tag_no), again.check_code).is_current


def test_tag_is_suspended_when_its_lamp_is_and_the_new_one_says_suspended(accepted: Shop) -> None:
    tag = tag_of(accepted)
    accepted.at("12:38").read_lamp("LP-1", "900")
    assert status(accepted, tag) == "suspended"
    warning = tag_of(accepted)
    assert (warning.disposition, warning.tag_no) == ("SUSPENDED", tag.tag_no + 1)
    assert "SUSPENDED" in printed_lines(bootstrap.tags_pdf([warning], accepted.work))
    assert status(accepted, warning) == "suspended"


def test_typed_code_tells_which_copy_it_is(accepted: Shop) -> None:
    accepted.at("12:38").read_lamp("LP-1", "1700")
    first, second = tag_of(accepted), tag_of(accepted)
    number = str(first.tag_no)
    assert first.check_code != second.check_code
    assert str(tag_checks.typed_status(accepted.work, number, first.check_code)) == "current; COPY 2 was printed later"
    assert str(tag_checks.status_of(accepted.work, f"{number} {second.check_code.lower()}")) == "current, copy 2"
    wrong = ("0" if second.check_code[0] != "0" else "1") + second.check_code[1:]
    assert tag_checks.typed_status(accepted.work, number, wrong).word == "unknown"
    assert tag_checks.typed_status(accepted.work, "77", first.check_code).word == "unknown"


def test_square_code_of_another_book_record_or_tag_is_unknown(accepted: Shop) -> None:
    tag = tag_of(accepted)
    book = tag.book_id
    for code in (
        f"ndi:{'X' + book[1:]}:{tag.tag_no}:{tag.record_hash[:16]}",
        f"ndi:{book}:{tag.tag_no}:{'0' * 16}",
        f"ndi:{book}:9:{tag.record_hash[:16]}",
    ):
        assert tag_checks.status_of(accepted.work, code).word == "unknown"
    with pytest.raises(InputError, match="neither the square code"):
        tag_checks.status_of(accepted.work, "hello")


def test_copied_lines_give_the_code_and_a_slip_of_the_pen_is_found(accepted: Shop) -> None:
    tag = tag_of(accepted)
    printed = printed_lines(bootstrap.tags_pdf([tag], accepted.work))
    copied = tag_checks.copied_tag("\n".join(printed))
    assert copied.copied == copied.computed == tag.check_code == check_code(tag.lines)
    assert (copied.tag, copied.agrees) == (str(tag.tag_no), True)
    assert tag_checks.differences(accepted.work, copied) == []
    slip = tag_checks.copied_tag("\n".join(printed).replace("QUANTITY 1", "QUANTITY 4"))
    assert not slip.agrees
    assert tag_checks.differences(accepted.work, slip) == [
        f"line {tag.lines.index('QUANTITY 1') + 1}: printed 'QUANTITY 1', copied 'QUANTITY 4'"
    ]


def test_tag_is_drawn_again_from_the_book_exactly_as_it_was_printed(split: Shop) -> None:
    models = [tag.model for tag in print_tags(split.work, "MT-002", "L2-A")]
    assert [(m.disposition, m.quantity, m.piece) for m in models] == [("ACCEPT", 11, None), ("REJECT", 1, "ID-07")]
    split.at("12:38").read_lamp("LP-1", "1700")  # the first is no longer provisional; its print stays what it was
    with split.work.book.session(readonly=True) as session:
        drawn = [printed_model(split.work, session, r) for r in session.of_kind(f.TagPrinted)]  # type: ignore[arg-type]
    assert drawn == models


def test_tag_numbers_have_no_gap(shop: Shop) -> None:
    for number, name in enumerate(("MT-001", "MT-002", "MT-003"), start=1):
        shop.gear(name, f"CG-{number}")
        shop.sign(name)
        assert tag_of(shop, name).tag_no == number


# --- shift sheet and the papers of a day ------------------------------------------------------------


def test_shift_sheet_shows_people_lamps_open_lines_refusals_and_head(accepted: Shop, tmp_path: Path) -> None:
    accepted.at("12:38").read_lamp("LP-1", "900")
    with pytest.raises(PermissionError):
        print_tags(accepted.work, "MT-001", "L1-D")
    day = accepted.work.now().local.date()
    model = shift_model(accepted.work, day)
    printed = words(bootstrap.shift_pdf(model, accepted.work))
    assert model.head in printed and f"SHIFT SHEET {day}" in printed
    tables = {table.heading: table for table in model.tables}
    assert "L2-A" in [row[0] for row in tables["People"].rows]
    lamp = next(row for row in tables["Lamps (UV-A)"].rows if row[0] == "LP-1")
    assert lamp[1] == "FAIL" and "12:38 900 µW/cm²" in lamp[2] and lamp[4] == "withdrawn"
    assert [row[0] for row in tables["Open records"].rows] == ["MT-001"]
    assert tables["Recall sets"].rows[0][0] == "CT-01"
    assert tables["Refusals"].rows[-1][1:3] == ("L1-D", "print tags")
    assert tables["Baths"].rows[0][4] == "PASS"
    asked = len(accepted.judge("MT-001").answers)
    assert f"MT-P-01 Rev F ({asked})" in printed
    line = selftest.run().line()
    assert line in printed and line.endswith("passed")  # said of the calculators, the only thing of which it is said
    assert not NEVER.search(printed.replace(line, ""))


def test_shift_sheet_of_a_day_without_work_says_so(shop: Shop) -> None:
    model = shift_model(shop.work, b.at("08:00", "2026-02-14").local.date())
    printed = words(bootstrap.shift_pdf(model, shop.work))
    assert "Nobody checked in." in printed and "Nothing was refused." in printed


def test_papers_of_a_day_print_what_has_no_tag_and_copy_nothing(split: Shop, tmp_path: Path) -> None:
    split.after(60).gear("MT-003", "CG-3")
    split.sign("MT-003")
    before = [tag.model for tag in print_tags(split.work, "MT-002", "L2-A")]
    paths = demo_papers.write(split.work, tmp_path)
    names = {path.name for path in paths}
    assert names >= {
        "tags.pdf",
        "tag-LOT-1-accept.pdf",
        "tag-LOT-1-reject.pdf",
        "record-MT-002.pdf",
        "shift-2026-03-10.pdf",
    }
    printed = [r.fact for r in split.facts(f.TagPrinted)]
    assert [(tag.inspection, tag.copy) for tag in printed] == [("MT-002", 1), ("MT-002", 1), ("MT-003", 1)]
    assert split.facts(f.TagPrinted)[-1].by == "SUP-F"
    assert page_count((tmp_path / "tags.pdf").read_bytes()) == 3
    alone = printed_lines((tmp_path / "tag-LOT-1-reject.pdf").read_bytes())
    assert [line for line in alone if line in before[1].lines] == list(before[1].lines)
    assert not NEVER.search(words((tmp_path / "record-MT-002.pdf").read_bytes()))


# --- the command line -------------------------------------------------------------------------------

Say = Callable[..., tuple[int, str]]


@pytest.fixture
def ndi(accepted: Shop, capsys: pytest.CaptureFixture[str]) -> Say:
    book = str(accepted.work.book.path)  # type: ignore[attr-defined]

    def say(*words_: str) -> tuple[int, str]:
        code = main([word.replace("BOOK", book) for word in words_])
        said = capsys.readouterr()
        return code, said.out + said.err

    return say


def test_command_line_prints_shows_and_checks_a_tag(ndi: Say, accepted: Shop, tmp_path: Path) -> None:
    accepted.at("12:38").read_lamp("LP-1", "1700")
    out = tmp_path / "tag.pdf"
    code, said = ndi("tag", "print", "BOOK", "MT-001", "--by", "L2-A", "--out", str(out))
    assert code == 0 and "tag 1, original: ACCEPT" in said
    (tag,) = accepted.facts(f.TagPrinted)
    code, said = ndi("tag", "show", "BOOK", "1")
    assert code == 0 and f"CHECK CODE {tag.fact.check_code}" in said and "status: current" in said
    assert ndi("tag", "check", "BOOK", "1", tag.fact.check_code)[0] == 0
    lines = tmp_path / "copied.txt"
    lines.write_text("\n".join(printed_lines(out.read_bytes())), encoding="utf-8")
    assert ndi("tag", "check", "--lines", str(lines))[0] == 0
    assert ndi("tag", "check", "BOOK", "--lines", str(lines))[0] == 0
    lines.write_text(lines.read_text(encoding="utf-8").replace("CG-1", "CG-7"), encoding="utf-8")
    code, said = ndi("tag", "check", "BOOK", "--lines", str(lines))
    assert code == 1 and "copied 'SERIAL CG-7'" in said
    code, said = ndi("tag", "print", "BOOK", "MT-001", "--by", "L2-A", "--out", str(out), "--two-up", "Letter")
    assert code == 0 and "COPY 2" in said


def test_command_line_check_exits_1_for_all_but_current_and_2_for_nonsense(
    ndi: Say, accepted: Shop, tmp_path: Path
) -> None:
    tag = tag_of(accepted)
    code, said = ndi("tag", "check", "BOOK", tag.qr)
    assert code == 1 and said.startswith("provisional")
    assert ndi("tag", "check", "BOOK", "hello")[0] == 2
    assert ndi("tag", "check", "BOOK")[0] == 2
    assert ndi("tag", "show", "BOOK", "9")[0] == 3
    assert ndi("tag", "check", "--lines", str(tmp_path / "none.txt"))[0] == 2
    assert ndi("tag", "print", "BOOK", "MT-001", "--by", "RCV-H", "--out", str(tmp_path / "t.pdf"))[0] == 1
    assert ndi("tag", "print", "BOOK", "MT-001", "--by", "L2-A", "--out", str(tmp_path / "t.txt"))[0] == 2
    assert len(accepted.facts(f.TagPrinted)) == 1  # nothing was printed under a name that cannot be written


def test_command_line_shift_sheet(ndi: Say, tmp_path: Path) -> None:
    out = tmp_path / "shift.pdf"
    code, said = ndi("shift", "BOOK", "--date", "2026-03-10", "--out", str(out))
    assert code == 0 and "head " in said
    assert "SHIFT SHEET 2026-03-10, Tuesday" in words(out.read_bytes())
    assert ndi("shift", "BOOK", "--date", "10.3.2026", "--out", str(out))[0] == 2
