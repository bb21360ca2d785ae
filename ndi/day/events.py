"""The moments at which the tool is expected to speak: what was asked, what it answered.

Each row of ``events.csv`` asks one thing at one or more times.  Its verb is a
question to the book, or an attempt that a person made and that may be refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

from ndi.day.calls import Call, Turn
from ndi.day.files import Folder, Row
from ndi.day.rows import DayIndex, photo_fact
from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.domain.errors import NdiError, NotPermitted
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import ViewKind
from ndi.services import containment as recall
from ndi.services import deciding, inspecting, lamps, line_questions, receiving, recording, tagging, verifying
from ndi.services import questions as q
from ndi.services.judging import ask
from ndi.services.workplace import Workplace

_RULE = re.compile(r"([A-Z]{1,2}\.?\d+) (PASS|FAIL|NOT RECORDED|NOT YET|NOT APPLICABLE)\Z")


# asked before anything else of that second, between what ends and what begins in it, or after all
TURNS = {"before": Turn.ASKED_BEFORE, "between": Turn.ASKED_BETWEEN, "after": Turn.ASKED_AFTER}


@dataclass(frozen=True)
class Said:
    """What the tool answered at one time: answers to rules, and one text."""

    answers: tuple[Answer, ...]
    text: str


@dataclass(frozen=True)
class EventResult:
    """One row of ``events.csv`` with what was expected and what was said."""

    id: str
    time: str
    who: str
    expected: str
    answers: tuple[Answer, ...]
    text: str
    missing: tuple[str, ...]

    @property
    def as_expected(self) -> bool:
        return not self.missing


Ask = Callable[[Workplace], Said]


def said(answers: Sequence[Answer], text: str = "") -> Said:
    return Said(tuple(answers), text or "; ".join(in_words(answer) for answer in answers))


def in_words(answer: Answer) -> str:
    """What an answer says, with its ways out while it stands in the way."""
    words = answer.says or f"{answer.found}{f' (limit {answer.limit})' if answer.limit else ''}" or str(answer.verdict)
    if answer.ways_out and not answer.settled:
        words += f" -> {' / '.join(answer.ways_out)}"
    return words


def attempt(make: Callable[[Workplace], object], work: Workplace) -> Said:
    """Try something that may be refused, and say what came of it."""
    try:
        make(work)
    except NotPermitted as refused:
        ways = [way for answer in refused.answers for way in answer.ways_out]
        text = refused.message + (f" -> {' / '.join(dict.fromkeys(ways))}" if ways else "")
        return Said(refused.answers, text)
    except NdiError as error:
        return Said((), f"refused: {error}")
    return Said((), "done")


class Asker:
    """Turns the verb of an event row into a question."""

    def __init__(self, folder: Folder, index: DayIndex) -> None:
        self.folder, self.index = folder, index

    def ask(self, row: Row, verb: str) -> Ask:
        known = {name.removeprefix("_do_"): getattr(self, name) for name in dir(self) if name.startswith("_do_")}
        if verb not in known:
            raise row.error("verb", f"{verb!r} is not known; use one of {', '.join(sorted(known))}")
        found: Ask = known[verb](row)
        return found

    # --- receiving and bench ----------------------------------------------------------------------

    def _do_meter(self, row: Row) -> Ask:
        meter = row.text("subject")

        def question(work: Workplace) -> Said:
            with work.book.session(readonly=True) as session:
                answer = recording.meter_answer(work, session, meter)
                refused = [r.fact.message for r in q.refusals_about(session, meter)]
            return said([answer], f"{meter}: {'; '.join(refused) or answer.says or answer.found}")

        return question

    def _do_identify(self, row: Row) -> Ask:
        return partial(
            attempt,
            partial(
                receiving.identify, work_order=row.text("subject"), typed=row.text("argument"), person=row.text("by")
            ),
        )

    def _do_scan(self, row: Row) -> Ask:
        method, *zones = row.text("argument").split()
        return partial(
            attempt,
            partial(
                inspecting.scan_into, part_no=row.text("subject"), method=method, zones=zones, person=row.text("by")
            ),
        )

    def _do_bench(self, row: Row) -> Ask:
        bench = row.text("subject")
        return lambda work: said([q.first_accept_answer(work, bench)])

    # --- one record -------------------------------------------------------------------------------

    def _do_judge(self, row: Row) -> Ask:
        """``M30``, or ``D09 as REJECT``: with the disposition that is about to be signed."""
        inspection = row.text("subject")
        rules, _, disposition = row.text("argument").partition(" as ")
        about = {"disposition": disposition, "decider": row.text("by")} if disposition else {}

        def question(work: Workplace) -> Said:
            with work.book.session(readonly=True) as session:
                return said(ask(work, session, inspection, rules.split(), **about))

        return question

    def _do_sign(self, row: Row) -> Ask:
        make = partial(
            deciding.sign_decision,
            inspection=row.text("subject"),
            person=row.text("by"),
            disposition=row.text("argument"),
        )
        rules = row.many("rules")

        def question(work: Workplace) -> Said:
            outcome = attempt(make, work)
            chosen = tuple(a for a in outcome.answers if not rules or a.rule in rules)
            return Said(
                chosen,
                f"{row.text('argument')} refused: {'; '.join(in_words(a) for a in chosen)}" if chosen else outcome.text,
            )

        return question

    def _do_interpret(self, row: Row) -> Ask:
        interpretation, _, type_ = row.text("argument").partition(": ")
        call = f.IndicationInterpreted(row.text("subject"), interpretation, "looks like it", type_ or None)
        return partial(attempt, partial(inspecting.interpret, call=call, person=row.text("by")))

    def _do_second_look(self, row: Row) -> Ask:
        target = row.text("subject")
        indication = self.index.indications.get(target)
        inspection = indication.text("insp") if indication else target
        make = partial(
            inspecting.start_view,
            view=f"{target}/own",
            inspection=inspection,
            person=row.text("by"),
            lamps=(),
            kind=ViewKind.SECOND_LOOK,
            indication=target if indication else None,
        )
        return partial(attempt, make)

    def _do_photo(self, row: Row) -> Ask:
        name = row.text("argument")
        source = next((r for r in self.folder.rows("photos") if r.text("file") == name), None)
        if source is None:
            raise row.error("argument", f"{name} is not in photos.csv")
        photo = photo_fact(source, row.text("subject"), None)
        return partial(attempt, partial(inspecting.attach_photo, photo=photo, person=row.text("by")))

    def _do_end_view(self, row: Row) -> Ask:
        inspection, typed = row.text("subject"), row.moment_of("argument", row.text("argument"))
        return partial(attempt, partial(inspecting.end_view, view=f"{inspection}/view", when=typed))

    def _do_ind(self, row: Row) -> Ask:
        """How the record of an indication answers the interpretation rule."""
        indication = self.index.indications.get(row.text("subject"))
        inspection = indication.text("insp") if indication else row.text("subject")

        def question(work: Workplace) -> Said:
            with work.book.session(readonly=True) as session:
                return said(ask(work, session, inspection, ["D02"]))

        return question

    # --- people -----------------------------------------------------------------------------------

    def _do_check_in(self, row: Row) -> Ask:
        make = partial(
            recording.check_in, person=row.text("by"), station=row.opt("subject"), clear_glasses=True, viewing=True
        )
        return partial(attempt, make)

    def _do_stretch(self, row: Row) -> Ask:
        person = row.text("subject")
        return lambda work: said([q.stretch_answer(work, person)])

    # --- line -------------------------------------------------------------------------------------

    def _do_lunch(self, row: Row) -> Ask:
        return lambda work: said([line_questions.can_i_leave(work)])

    def _do_dwell(self, row: Row) -> Ask:
        basket = row.text("subject")
        return lambda work: said(*line_questions.dwell_of(work, basket))

    def _do_basket(self, row: Row) -> Ask:
        basket = row.text("subject")
        return lambda work: said([line_questions.can_still_finish(work, basket)])

    # --- lamps, bath, containment -----------------------------------------------------------------

    def _do_lamp(self, row: Row) -> Ask:
        lamp = row.text("subject")
        return lambda work: said(*q.lamp_answers(work, lamp))

    def _do_bath(self, row: Row) -> Ask:
        bath = row.text("subject")
        return lambda work: said(*q.bath_answer(work, bath))

    def _do_actions(self, row: Row) -> Ask:
        name = row.text("subject")

        def question(work: Workplace) -> Said:
            with work.book.session(readonly=True) as session:
                if not any(r.fact.containment == name for r in recall.all_containments(session)):
                    return Said((), f"no containment {name} is open")
            proposed = recall.propose_actions(work, name)
            lines = "; ".join(f"{a.inspection}: {a.action} ({a.because})" for a in proposed.actions)
            counts = {
                word: sum(a.action == word for a in proposed.actions) for word in ("re-view", "reprocess", "retrieve")
            }
            summary = ", ".join(f"{count} {word}" for word, count in counts.items())
            return Said((Answer("P41", 1, Verdict.PASS, summary, "cheapest lawful action"),), f"{summary}. {lines}")

        return question

    def _do_cleared(self, row: Row) -> Ask:
        since = row.moment_of("argument", row.text("argument"))
        return lambda work: said(*q.cleared_since(work, since))

    def _do_lamp_calendar(self, row: Row) -> Ask:
        first, last = (date.fromisoformat(text) for text in row.text("argument").split(".."))

        def question(work: Workplace) -> Said:
            days = [
                day for day in lamps.calendar(work, first, last) if day.verdict in (Verdict.FAIL, Verdict.NOT_RECORDED)
            ]
            answers = [
                Answer("F8", 1, d.verdict, f"{d.lamp} {d.day}", "read on each day of use", d.says, facts=d.facts)
                for d in days
            ]
            return said(
                answers, "; ".join(f"{d.lamp}: {d.says}" for d in days) or "every lamp in limits on every day of use"
            )

        return question

    # --- papers and signatures --------------------------------------------------------------------

    def _do_verify(self, row: Row) -> Ask:
        def question(work: Workplace) -> Said:
            try:
                done = verifying.verify_records(work, row.text("by"))
            except NotPermitted as refused:
                return Said(refused.answers, refused.message)
            return said([done.answer], done.answer.found)

        return question

    def _do_tags(self, row: Row) -> Ask:
        inspection = row.text("subject")

        def question(work: Workplace) -> Said:
            try:
                tags = tagging.print_tags(work, inspection, row.text("by"))
            except NotPermitted as refused:
                return Said(refused.answers, refused.message)
            text = ", ".join(
                f"one {t.model.disposition} tag qty {t.model.quantity}{f' ({t.model.piece})' if t.model.piece else ''}"
                for t in tags
            )
            return Said(
                (
                    Answer(
                        "G.3", 1, Verdict.PASS, text, "one tag for each disposition of a lot", severity=Severity.BLOCK
                    ),
                ),
                text,
            )

        return question

    def _do_accept_part(self, row: Row) -> Ask:
        part = self.index.part(row, "subject")
        return partial(attempt, partial(q.accept_part, part=part, person=row.text("by")))


def event_calls(folder: Folder, index: DayIndex, results: list[EventResult]) -> list[Call]:
    """The calls of ``events.csv``; each appends its result when its last time was asked."""
    asker = Asker(folder, index)
    calls = []
    for row in folder.rows("events"):
        if not row.opt("verb"):
            continue
        calls += _calls_of(row, asker, results)
    return calls


def _calls_of(row: Row, asker: Asker, results: list[EventResult]) -> list[Call]:
    times = (row.opt("asked_at") or row.text("Time")).split(" / ")
    verbs = row.text("verb").split(" / ")
    orders = (row.opt("order") or "after").split(" / ")
    heard: list[Said] = []
    calls = []
    for number, text in enumerate(times):
        question = asker.ask(_share(row, number, len(times)), verbs[min(number, len(verbs) - 1)])
        order = orders[min(number, len(orders) - 1)]
        if order not in TURNS:
            raise row.error("order", f"{order!r}: say {', '.join(TURNS)}")
        when: Moment = row.moment_of("Time", text)
        finish = partial(_finish, row, times, heard, results) if number == len(times) - 1 else None
        make = partial(_hear, question, heard, finish)
        calls.append(
            Call(
                when,
                TURNS[order],
                f"event {row.text('#')}",
                row.opt("by") or "",
                row.opt("subject") or "",
                make,
                row.file,
                row.line,
            )
        )
    return calls


def _share(row: Row, number: int, times: int) -> Row:
    """The row as asked at one of its times: ``a / b`` in subject and argument means a first, then b."""
    cells = dict(row.cells)
    for column in ("subject", "argument"):
        parts = cells.get(column, "").split(" / ")
        if len(parts) == times:
            cells[column] = parts[number]
    return Row(row.file, row.line, cells, row.day, row.offset)


def _hear(question: Ask, heard: list[Said], finish: Callable[[], None] | None, work: Workplace) -> None:
    try:
        heard.append(question(work))
    except NdiError as error:
        heard.append(Said((), str(error)))
    if finish is not None:
        finish()


def _finish(row: Row, times: list[str], heard: list[Said], results: list[EventResult]) -> None:
    answers = tuple(answer for one in heard for answer in one.answers)
    text = "; then ".join(one.text for one in heard)
    missing = tuple(missing_of(row.opt("expect") or "", answers, text))
    results.append(
        EventResult(
            row.text("#"),
            " / ".join(times),
            row.text("Who does what"),
            row.text("Expected answer"),
            answers,
            text,
            missing,
        )
    )


def missing_of(expect: str, answers: Sequence[Answer], text: str) -> list[str]:
    """What was expected and not said: ``L10 FAIL`` asks for that answer, anything else for those words.

    The answers must be those expected, in order, and no others.
    """
    wanted = [part.strip() for part in expect.split(";") if part.strip()]
    rules = [part for part in wanted if _RULE.match(part)]
    words = [part for part in wanted if not _RULE.match(part)]
    got = [f"{answer.rule} {answer.verdict}" for answer in answers]
    missing = [] if rules == got else [f"answers {rules}, got {got}"]
    everything = " ".join([text, *(f"{a.found} {a.limit} {a.says}" for a in answers)])
    missing += [f"words {word!r}" for word in words if word not in everything]
    if not wanted:
        missing.append("nothing is expected in this row")
    return missing
