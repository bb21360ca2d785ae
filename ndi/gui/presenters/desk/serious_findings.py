"""Findings that may have to be reported, with their clock; releases to service that others signed, as facts from outside."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.moment import Moment
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.services import serious
from ndi.services.lookup import about, every
from ndi.services.paper_text import on_paper
from ndi.services.proof import Meaning, Proof
from ndi.services.workplace import Workplace

_FINDINGS = (
    Column("Finding", 10),
    Column("Stands", 22, stretch=True),
    Column("First seen", 17),
    Column("Judge by", 17),
    Column("Report by", 17),
    Column("Left", 12),
    Column("About", 44, stretch=True),
)
_RELEASES = (
    Column("Work order", 12),
    Column("Engine", 24, stretch=True),
    Column("Released", 11),
    Column("Document", 24, stretch=True),
    Column("Signed by", 18, stretch=True),
    Column("Kept to", 11),
)
NOBODY = "choose who stands at the desk first (above, at the right)"
SERIOUS, NOT_SERIOUS = "serious: it is reported", "not serious"


@dataclass(frozen=True)
class FindingView:
    """One finding with everything that a report asks for."""

    name: str
    lines: tuple[Labelled, ...]
    goes_to: tuple[str, str]  # screen and key of what it was found on


class SeriousFindings:
    """Serious findings and releases."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    # --- looking ------------------------------------------------------------------------------------

    def red(self) -> int:
        """How many findings are late: a crack that nobody judged, a serious one that was not reported."""
        return serious.late(self._work)

    def listing(self) -> Listing:
        """Red ones first, then what is open by time of discovery, then what is settled."""
        now = self._work.now()
        found = sorted(serious.findings(self._work), key=lambda each: _order(each, now))
        rows = tuple(Row(_cells(each, now), each.name, act=_is_open(each)) for each in found)
        return Listing(_FINDINGS, rows, "No relevant crack and no recall set is in the book.")

    def finding(self, name: str) -> FindingView:
        """One finding."""
        now = self._work.now()
        each = next((each for each in serious.findings(self._work) if each.name == name), None)
        if each is None:
            raise InputError(f"{name or 'no finding'} is not in the list: put the bar on a finding")
        facts = [line.partition(": ") for line in each.about]
        goes = next((value for label, _, value in facts if label == "record"), "")
        lines = (
            Labelled(name, on_paper(each.state(now))),
            *(Labelled(label.capitalize(), on_paper(value)) for label, _, value in facts),
        )
        return FindingView(name, lines, ("record", goes) if goes else ("recalls", name))

    def releases(self) -> Listing:
        """Every work order, with its release if one was noted."""
        noted = {r.fact.work_order: r.fact for r in serious.releases(self._work)}
        with self._work.book.session(readonly=True) as session:
            orders = [r.fact for r in every(session, f.WorkOrderOpened)]
        rows = []
        for order in reversed(orders):
            release = noted.get(order.work_order)
            told = (
                (str(release.released), release.reference, release.person, str(serious.keep_until(release)))
                if release
                else ("not noted", "", "", "no end yet")
            )
            rows.append(Row((order.work_order, f"{order.engine_model} {order.engine_serial}", *told), order.work_order))
        return Listing(_RELEASES, tuple(rows), "No work order is open.")

    # --- doing --------------------------------------------------------------------------------------

    def _by(self) -> str:
        if not self._person():
            raise InputError(NOBODY)
        return self._person()

    def judge_form(self, name: str) -> Form:
        """A Level III says whether it is reported; both answers have a name and a reason."""
        view = self.finding(name)
        fields = (
            Field("judgement", "Judgement", "", choices=(SERIOUS, NOT_SERIOUS), free=False, needed=True),
            Field("reason", "Reason", needed=True, hint="kept with your name"),
            Field("registration", "Registration", hint="of the aircraft, where it is known"),
            Field("cause", "Apparent cause"),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by, is_serious = self._by(), values["judgement"] == SERIOUS
            more = {"registration": values.get("registration") or None, "cause": values.get("cause") or None}
            shown = serious.judgement_covers(name, is_serious, values["reason"], **more)

            def make(proof: Proof | None) -> str:
                serious.judge_seriousness(
                    self._work, name, by, serious=is_serious, reason=values["reason"], proof=proof, **more
                )
                return f"{name} judged {'serious' if is_serious else 'not serious'} by {by}"

            return Act(f"Judge {name}", by, make, Meaning.APPROVED, shown)

        lines = tuple(f"{line.label}: {line.value}" for line in view.lines[1:])
        return Form(f"Is {name} a serious finding?", fields, act, lines)

    def sent_form(self, name: str) -> Form:
        """The report went out."""
        self.finding(name)
        fields = (
            Field("reference", "Report", needed=True, hint="number or date of the report"),
            Field("sent_to", "Sent to", needed=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by = self._by()

            def make(_proof: object) -> str:
                serious.report_sent(self._work, name, by, reference=values["reference"], sent_to=values["sent_to"])
                return f"{name}: report {values['reference']} sent to {values['sent_to']}"

            return Act(f"Report of {name} sent", by, make, notes=(f"{values['reference']}, to {values['sent_to']}",))

        return Form(f"The report of {name} went out", fields, act, ("The report itself is written elsewhere.",))

    def release_form(self, work_order: str) -> Form:
        """Somebody else released the engine to service; only noted here."""
        with self._work.book.session(readonly=True) as session:
            if not about(session, f.WorkOrderOpened, work_order):
                raise InputError("put the bar on a work order below")
        fields = (
            Field("released", "Released on", day=True, needed=True),
            Field("reference", "Document", needed=True, hint="number of the release document"),
            Field("person", "Signed by", needed=True, hint="as the document says"),
            Field("years", "Keep for years", hint="empty: as the procedures say; never shorter than they say"),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by, released, years = self._by(), _day(values["released"]), _years(values.get("years", ""))

            def make(_proof: object) -> str:
                noted = serious.note_release(
                    self._work, work_order, released, values["reference"], values["person"], by, years=years
                )
                assert isinstance(noted.fact, f.ReleaseNoted)
                return f"{work_order}: release of {released} noted, records kept to {serious.keep_until(noted.fact)}"

            notes = (f"{values['reference']}, signed by {values['person']} on {released}.",)
            return Act(f"Release of {work_order}, as signed elsewhere", by, make, notes=notes)

        lines = (
            "This tool releases nothing. It notes what the release document says; the keeping of records starts there.",
        )
        return Form(f"Note the release to service of {work_order}", fields, act, lines)


def _is_open(each: serious.Finding) -> bool:
    return each.reported is None and (each.judged.serious if each.judged is not None else each.is_crack)


def _order(each: serious.Finding, now: Moment) -> tuple[bool, bool, float]:
    return not each.is_red(now), not _is_open(each), each.discovered.at.timestamp()


def _cells(each: serious.Finding, now: Moment) -> tuple[str, ...]:
    about_it = "; ".join(value for line in each.about for label, _, value in [line.partition(": ")] if label in _SHORT)
    return (
        each.name,
        str(_mark(each, now)),
        str(each.discovered)[:16],
        _due(each.judge_by) if each.is_crack else "",
        _due(each.report_by),
        _left(each, now),
        on_paper(about_it),
    )


_SHORT = ("part", "piece", "where", "type", "length", "object", "holds")


def _mark(each: serious.Finding, now: Moment) -> marks.Mark:
    if each.reported is not None:
        return marks.Mark(marks.SETTLED, f"reported {each.reported.reference}")
    if each.judged is not None and not each.judged.serious:
        return marks.Mark(marks.SETTLED, f"not serious ({each.judged.person})")
    word = "serious, to be reported" if each.judged is not None else "not judged"
    if each.is_red(now):
        return marks.Mark(marks.FAILED, f"RED: {word}")
    return marks.Mark(marks.WAITING if _is_open(each) else marks.NONE, word)


def _due(moment: Moment | None) -> str:
    return str(moment)[:16] if moment else "not set"


def _left(each: serious.Finding, now: Moment) -> str:
    """Time to what is due next; ``over`` when it has passed."""
    if not _is_open(each):
        return ""
    due = each.report_by if each.judged is not None else each.judge_by
    if due is None:
        return ""
    left = due.at - now.at
    return _hours(left) if left >= timedelta(0) else f"{_hours(-left)} over"


def _hours(duration: timedelta) -> str:
    minutes = int(duration.total_seconds()) // 60
    return f"{minutes // 60} h {minutes % 60} min"


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is no day: type it like 2026-03-10") from None


def _years(text: str) -> int | None:
    if not text.strip():
        return None
    if not text.strip().isdecimal() or not int(text):
        raise InputError(f"{text!r} is no number of years: type a whole number from 1 on, or nothing")
    return int(text)
