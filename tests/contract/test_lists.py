"""What the lists of questions read without decoding entries, on every engine, against the same from decoded entries."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

from ndi.domain import facts as f
from ndi.domain.codec import utc_text
from ndi.store.book import SqlBook
from tests.store.conftest import draft, moment, put
from tests.store.shop_day import fill, opened, signed

# texts that look like another answer, with quotes and backslashes as a canonical body writes them
FALSE_FRIEND = 'x","rule":"Z99","severity":"S","verdict":"NOT RECORDED'
ANSWERS = (
    f.KeptAnswer("G01", 1, "PASS", "S", FALSE_FRIEND, "\\", (1,)),
    f.KeptAnswer("L11", 1, "NOT YET", "W", 'said "NOT RECORDED"', "\u00b5W", ()),
    f.KeptAnswer("D05", 2, "NOT RECORDED", "B", "", "", (2, 3)),
)
WAITS = 'LP-1 "overhead" \\ from 16:28'


def decided(inspection: str, part: str, **more: Any) -> f.DecisionSigned:
    plain = signed(inspection, part)
    values = {name: getattr(plain, name) for name in plain.__dataclass_fields__}
    reasons = (f.Reason("G22", "no relief", "ann"),)  # names a rule too, and is no answer
    return f.DecisionSigned(**{**values, "answers": ANSWERS, "reasons": reasons, **more})


def test_entries_by_what_they_are_about_and_by_whom(book: SqlBook) -> None:
    fill(book)
    put(book, replace(draft(f.PartMoved("P9", "rack"), 95), by="bob"))
    with book.session(readonly=True) as session:
        for kind in (f.PartMoved, f.ViewStarted, f.DecisionSigned):
            wanted = [(r.position, r.fact.subjects()[0], r.by) for r in session.of_kind(kind)]
            assert [(n.position, n.subject, n.by) for n in session.named(kind)] == wanted != []
        of_bob = session.named_by("bob", moment(90).at, moment(100).at)
        assert [(n.kind, n.subject) for n in of_bob] == [("PartMoved", "P9")]
        assert not session.named_by("bob", moment(90).at, moment(95).at)  # the last instant is left out


def test_fields_of_bodies_as_text(book: SqlBook) -> None:
    fill(book)
    with book.session(readonly=True) as session:
        shots = session.fields(f.ShotFired, ("inspection", "shot", "bath_mode"))
        assert [s.values for s in shots] == [("I1", "1", None)]
        (load,) = session.fields(f.BasketLoaded, ("basket", "inspections"))
        assert load.values[0] == "B1" and "".join((load.values[1] or "").split()) == '["I2","I3"]'
        (lengthy,) = session.fields(f.StepEnded, ("on",), moment(50).at, moment(51).at)
        assert lengthy.values == ("B1",) and lengthy.at == utc_text(moment(50).at)
        assert not session.fields(f.StepEnded, ("on",), moment(51).at)


def test_what_decisions_were_signed_on_is_read_off_as_it_is_decoded(book: SqlBook) -> None:
    fill(book)
    put(book, draft(decided("I1", "P1", waits_for=WAITS, provisional=True), 100), draft(decided("I3", "P3"), 101))
    with book.session(readonly=True) as session:
        decisions = [r for r in session.of_kind(f.DecisionSigned) if isinstance(r.fact, f.DecisionSigned)]
        asked = Counter(answer.rule for r in decisions for answer in r.fact.answers)
        missing = [r.position for r in decisions if any(a.verdict == "NOT RECORDED" for a in r.fact.answers)]
        kept = {each.rule: each for each in session.kept("NOT RECORDED")}
        assert {rule: each.asked for rule, each in kept.items()} == dict(asked) == {"G01": 2, "L11": 2, "D05": 2}
        assert kept["D05"].positions == tuple(missing) and not kept["G01"].positions
        assert [each.asked for each in session.kept("PASS", moment(101).at)] == [1, 1, 1]
        for r in decisions:
            assert session.verdicts(r.position) == [(a.rule, a.verdict) for a in r.fact.answers]
        found = session.signed(["I1", "I2", "I3", "nothing"])
        assert (found["I1"].by, found["I1"].waits_for) == ("P. Example", WAITS)
        assert found["I3"].waits_for is None and "nothing" not in found


def test_several_records_and_parts_at_once(book: SqlBook) -> None:
    fill(book)
    many = [draft(opened(f"M{n:03d}", "P1"), 20) for n in range(205)]
    put(book, *many)
    with book.session(readonly=True) as session:
        rows = {row.inspection: row for row in session.inspections()}
        assert session.inspections_in([*rows, "none", *rows]) == rows and len(rows) == 208
        assert session.inspections_in([]) == {}
        assert session.parts_in(["P1", "P2", "none"]) == {name: session.part(name) for name in ("P1", "P2")}
        briefs = session.briefs()
        assert briefs.keys() == rows.keys()
        for name, brief in briefs.items():
            row, part = rows[name], session.part(rows[name].part)
            assert (brief.part_no, brief.quantity, bool(brief.suspended)) == (row.part_no, row.quantity, row.suspended)
            assert brief.item == (part.serial or part.lot or part.part)
        assert session.briefs(["I1", "none"]) == {"I1": briefs["I1"]}
        inspected = {order: 0 for _, order, _ in session.pieces_inspected()}
        for _, order, pieces in session.pieces_inspected():
            inspected[order] += pieces
        parts = {row.part: row.quantity for row in rows.values()}  # each part once
        assert inspected == {"WO-1": sum(parts.values())}
        assert session.records_of_orders() == {"WO-1": 208}
        assert set(session.decided()) == {name for name, row in rows.items() if row.decision is not None}
        assert [row.inspection for row in session.inspections(follows_another=True)] == []
        assert len(session.inspections(follows_another=False)) == 208


def test_sums_of_uses(book: SqlBook) -> None:
    fill(book)
    with book.session(readonly=True) as session:
        for name in ("LAMP-1", "BENCH-1", "PEN-2", "nothing"):
            uses = [u for u in session.uses(name, None, None) if u.started >= moment(0).at]
            records = {u.inspection for u in uses}
            total = session.use_total(name, moment(0).at, moment(1000).at)
            assert total.records == len(records)
            assert total.pieces == sum(session.inspection(each).quantity for each in records)
            assert total.shots == sum(u.kind == "shots" for u in uses)
            times = session.use_times(name, moment(0).at, moment(1000).at)
            assert sorted(t.started for t in times) == sorted(utc_text(u.started) for u in uses)


def test_entries_about_something_undecoded(book: SqlBook) -> None:
    fill(book)
    with book.session(readonly=True) as session:
        for subject in ("I1", "P1", "B1", "BENCH-1"):
            wanted = [(r.position, type(r.fact).__name__) for r in session.facts(subject)]
            assert [(line.position, line.kind) for line in session.lines_about(subject)] == wanted != []
