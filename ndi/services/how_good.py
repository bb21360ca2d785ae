"""How good a process is: what two blind looks both missed, and how their sizes agree (I.9).  About the process, never about a person."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from fractions import Fraction

from ndi.calc import agreement, crack_rate, published
from ndi.domain.quantity import shown
from ndi.domain.vocabulary import Method
from ndi.services.chart_models import Chart, Dash, Level, Picture, Points
from ndi.services.looks_compared import UNIT, Looks, SizePair, looks_compared
from ndi.services.paper_text import on_paper
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.study import Limit, Study, count_of, midnight, percent, strictest
from ndi.services.workplace import Workplace

PAIRS = 3  # a spread of differences and an interval of it need more than two
PROCESS_ONLY = "About the process. It is no ranking: looks are few, parts differ, and nobody is named or told apart in these figures."
_NAMES = {Method.MT: "magnetic particle", Method.PT: "penetrant"}
_SOURCES = (
    "two looks: D. G. Chapman 1951, variance G. Seber 1970; finds are not independent (what is easy for one is easy for "
    "both), so the estimate is a lower bound",
    f"finds on both looks that an estimate needs: {published.TWO_LOOKS_BOTH.source}",
    "shares with the interval of E. B. Wilson 1927; none found: 1 - 0.05^(1/n)",
    "limits of agreement: J. M. Bland and D. G. Altman 1986 (bias -/+ 1.96 sd, each known to t sqrt(3/n) sd)",
)


def how_good(work: Workplace, method: Method, *, since: date | None = None) -> Study:
    """What the blind second looks of one method say of the process."""
    with work.look() as session:
        start = midnight(since, work.now().offset_min) if since is not None else None
        looks = looks_compared(session, method, start)
        limit = strictest(work, session, "size_agreement", least=False, method=method)
    name = _NAMES[method]
    pairs_say, pair_lines = _sizes(looks.pairs, limit)
    says = [_missed(looks, name), pairs_say]
    lines = (
        Labelled("What it is about", PROCESS_ONLY),
        *_look_lines(looks),
        *pair_lines,
    )
    left_out = []
    if looks.not_blind:
        left_out.append(f"{count_of(looks.not_blind, 'second look')} made after the first result was shown")
    if looks.places + looks.nonrelevant:
        left_out.append(
            f"{count_of(looks.places + looks.nonrelevant, 'look')} at a place that was named: counted for agreement, not for "
            "what was missed, because whoever looked knew where"
        )
    return Study(
        f"how good {method}",
        f"How good is {name} inspection here?",
        " ".join(says),
        lines,
        _charts(looks.pairs),
        (_pairs_table(looks.pairs),),
        tuple(left_out),
        (*((limit.source,) if limit else ()), *_SOURCES),
        enough=looks.clean > 0 or looks.both >= published.TWO_LOOKS_BOTH.value,
        figures=_figures(looks),
    )


def _missed(looks: Looks, name: str) -> str:
    """What the whole-part looks say of misses; what cannot be said is said."""
    said = []
    if looks.both >= published.TWO_LOOKS_BOTH.value:
        found = crack_rate.two_looks(looks.first, looks.second, looks.both)
        said.append(
            f"Of {count_of(looks.twice, 'record')} fully viewed twice, the first look found something relevant on "
            f"{looks.first}, the second on {looks.second}, both on {looks.both}: about {found.missed:.1f} more at least were "
            f"missed by both (total {found.total:.1f}, sd {found.sd:.2f})."
        )
    elif looks.twice:
        said.append(
            f"Too few finds for what both looks missed: {looks.both} of {published.TWO_LOOKS_BOTH.value} records on which both "
            f"saw something relevant, of {looks.twice} fully viewed twice."
        )
    else:
        said.append(f"No {name} record was fully viewed twice, blind: how much is missed is not known.")
    if looks.clean:
        hits = len(looks.clean_finds)
        span = crack_rate.wilson(hits, looks.clean)
        if hits:
            said.append(
                f"Of {looks.clean} clean records looked at again, {hits} showed something relevant: {percent(span.estimate)} "
                f"({percent(span.low)} to {percent(span.high)})."
            )
        else:
            most = crack_rate.upper_after_none(looks.clean)
            said.append(
                f"Of {count_of(looks.clean, 'clean record')} looked at again, none showed anything relevant: with 95 % "
                f"confidence fewer than {percent(most)} hold a miss that the second look would find."
            )
    return " ".join(said)


def _look_lines(looks: Looks) -> list[Labelled]:
    lines = [
        Labelled(
            "Clean records",
            f"{looks.clean_records} decided without an indication, {looks.clean} of them looked at again blind"
            + (f", finds on {', '.join(looks.clean_finds)}" if looks.clean_finds else ""),
        )
    ]
    if looks.places:
        span = crack_rate.wilson(looks.places_again, looks.places)
        lines.append(
            Labelled(
                "Relevant, seen again",
                f"{looks.places_again} of {looks.places} named places, {percent(span.estimate)} "
                f"({percent(span.low)} to {percent(span.high)})",
            )
        )
    if looks.nonrelevant:
        lines.append(
            Labelled(
                "Other calls, agreed", f"{looks.nonrelevant_again} of {looks.nonrelevant} nonrelevant or false calls"
            )
        )
    return lines


def _sizes(pairs: Sequence[SizePair], limit: Limit | None) -> tuple[str, list[Labelled]]:
    if len(pairs) < PAIRS:
        return f"Too few sizes measured twice: {len(pairs)} of {PAIRS}.", []
    found = agreement.agreement([(pair.first, pair.second) for pair in pairs])
    half = float(found.half_width)
    error = agreement.limit_error(found, len(pairs))
    says = (
        f"{len(pairs)} sizes measured twice differ by {float(found.bias):+.3f} {UNIT} on the whole (first less second); "
        f"95 of 100 differences lie within {half:.3f} {UNIT} of that."
    )
    lines = [
        Labelled(
            "Limits of agreement",
            f"{float(found.bias) - half:+.3f} to {float(found.bias) + half:+.3f} {UNIT}, each known to {error:.3f} {UNIT}",
        )
    ]
    if limit is not None:
        within = sum(abs(pair.first - pair.second) <= limit.number.in_unit(UNIT) for pair in pairs)
        lines.append(
            Labelled(
                "Asked of two looks", f"within {limit.text}: {within} of {len(pairs)} are (rule D08 also takes a share)"
            )
        )
    return says, lines


def _charts(pairs: Sequence[SizePair]) -> tuple[Picture, ...]:
    if len(pairs) < PAIRS:
        return ()
    found = agreement.agreement([(pair.first, pair.second) for pair in pairs])
    bias, half = float(found.bias), float(found.half_width)
    return (
        Chart(
            "Sizes measured twice",
            f"mean of both sizes, {UNIT}",
            f"first less second, {UNIT}",
            (
                Level(f"on the whole {bias:+.3f} {UNIT}", bias, Dash.SOLID),
                Level(
                    f"limits of agreement {bias - half:+.3f} and {bias + half:+.3f} {UNIT}", bias + half, Dash.DOTTED
                ),
                Level("", bias - half, Dash.DOTTED),
                Points(
                    "one indication",
                    tuple(float(pair.first + pair.second) / 2 for pair in pairs),
                    tuple(float(pair.first - pair.second) for pair in pairs),
                ),
            ),
        ),
    )


def _pairs_table(pairs: Sequence[SizePair]) -> SheetTable:
    def size(value: Fraction) -> str:
        return on_paper(shown(value, UNIT))

    rows = tuple(
        (pair.indication, pair.inspection, size(pair.first), size(pair.second), size(pair.first - pair.second))
        for pair in pairs
    )
    columns = (("Indication", 0.2), ("Record", 0.2), ("First", 0.2), ("Second", 0.2), ("Difference", 0.2))
    return SheetTable("Sizes measured twice", columns, rows, "No size was measured twice.")


def _figures(looks: Looks) -> dict[str, object]:
    figures: dict[str, object] = {
        "places": looks.places,
        "places_again": looks.places_again,
        "clean": looks.clean,
        "clean_finds": len(looks.clean_finds),
        "clean_records": looks.clean_records,
        "twice": looks.twice,
        "first": looks.first,
        "second": looks.second,
        "both": looks.both,
        "pairs": len(looks.pairs),
    }
    if looks.both >= published.TWO_LOOKS_BOTH.value:
        found = crack_rate.two_looks(looks.first, looks.second, looks.both)
        figures |= {"total": found.total, "missed": found.missed, "sd": found.sd}
    if len(looks.pairs) >= PAIRS:
        sizes = agreement.agreement([(pair.first, pair.second) for pair in looks.pairs])
        figures |= {"bias_in": sizes.bias, "sd_in": sizes.sd, "half_width_in": sizes.half_width}
    return figures
