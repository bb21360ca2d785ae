"""The plain words of the report to an engine's owner: states, the sentence that says it all, what follows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from ndi.domain.vocabulary import REASON_CODES

# the worst first: the order of the sentence and of the table's columns, with what an owner reads
STATE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "REJECT": "Rejected",
        "SCRAP": "Scrapped",
        "RETURN UNSERVICEABLE": "Returned",
        "HOLD-ENG": "On hold",
        "SUSPENDED": "Suspended",
        "REWORK": "In rework",
        "NO DECISION": "Undecided",
        "ACCEPT": "Accepted",
    }
)
_SENTENCE: Mapping[str, str] = MappingProxyType(
    {
        "REJECT": "rejected",
        "SCRAP": "made unusable and scrapped",
        "RETURN UNSERVICEABLE": "rejected and returned",
        "HOLD-ENG": "waiting for an engineering decision",
        "SUSPENDED": "to be inspected again (decision suspended)",
        "REWORK": "in rework",
        "NO DECISION": "not decided yet",
        "ACCEPT": "accepted by this inspection",
    }
)
_BY_NAME = ("REJECT", "SCRAP", "RETURN UNSERVICEABLE", "HOLD-ENG", "REWORK")
_MOST_NAMES = 6
_CONSEQUENCE: Mapping[str, str] = MappingProxyType(
    {
        "REJECT": "the piece does not meet the limits used and is not to be put into the engine; replace it, or tell the shop what is to become of it.",
        "REWORK": "the ordered rework is done, then the piece is inspected anew; only that inspection decides.",
        "HOLD-ENG": "the data in hand give no limit; engineering decides, and until then the piece stays apart.",
        "SCRAP": "the piece was made unusable before a witness; replace it.",
        "RETURN UNSERVICEABLE": "the piece goes back marked as rejected; it is not to be put into an engine.",
        "ACCEPT": "within the limits used; recorded so that it is looked at again at the next shop visit.",
    }
)
_NOT_DECIDED = "no decision is signed yet; the piece stays apart until one is."

LIMITS_OF_INSPECTION = (
    "Magnetic particle inspection finds flaws at the surface or just under it, and penetrant inspection only flaws open to "
    "the surface. What lies deeper is not seen.",
    "Surfaces that were covered, coated or out of reach were not inspected; the records name the zones that were seen.",
    "No smallest crack that is surely found is claimed here: this report states no measured probability of detection.",
    "Nothing is said of dimensions, of other inspections, of parts that were not received, or of how long a part will last.",
)


def left_out(code: str | None) -> str:
    """Why a piece is not inspected, in words behind the code of the receiving list."""
    words = REASON_CODES.get(code or "")
    return f"{code}: {words}" if words else code or "no reason recorded"


def bottom_line(counts: Mapping[str, int], named: Mapping[str, Sequence[str]]) -> str:
    """One sentence: of all pieces received, how many stand how; what is rejected, held or in rework by name."""
    said = []
    for word, phrase in _SENTENCE.items():
        count = counts.get(word, 0)
        if not count:
            continue
        names = named.get(word, ()) if word in _BY_NAME else ()
        listed = ", ".join(names[:_MOST_NAMES]) + (" and others" if len(names) > _MOST_NAMES else "")
        said.append(f"{count} {phrase}" + (f" ({listed})" if listed else ""))
    states = "; ".join(said) if said else "none is inspected yet"
    return f"Of {_pieces(counts)} received for inspection: {states}."


def _pieces(counts: Mapping[str, int]) -> str:
    return f"{counts['received']} piece{'' if counts['received'] == 1 else 's'}"


def reconciled(counts: Mapping[str, int]) -> str:
    """``50 pieces received = 1 rejected + ...``, or that the sum does not come out."""
    parts = [f"{counts[word]} {name.lower()}" for word, name in STATE_WORDS.items() if counts.get(word)]
    total = sum(counts.get(word, 0) for word in STATE_WORDS)
    if total == counts["received"]:
        return f"{_pieces(counts)} received = {' + '.join(parts) or 'none'}."
    return f"NOT RECONCILED: {_pieces(counts)} received, {total} stand in a state ({' + '.join(parts)})."


def suspension(disposition: str, *, claim_only: bool) -> str:
    """What a suspension leaves standing: with ``claim_only`` the decision, but not that nothing else is there."""
    if claim_only:
        return f"{disposition} stands; that there is nothing else to find on the piece is not relied upon until it is looked at or processed again"
    return f"decided before as {disposition}; that is not relied upon until the piece is looked at or processed again"


def consequence(disposition: str, suspended: str = "", followed_by: str = "") -> str:
    """What a decision means for the owner; ``suspended`` and ``followed_by`` are what became of it since."""
    told = _CONSEQUENCE.get(disposition, _NOT_DECIDED)
    if suspended and disposition == "ACCEPT":  # nothing that an acceptance says is relied upon now
        return f"{suspended}."
    return " ".join(filter(None, (told, f"SUSPENDED: {suspended}." if suspended else "", followed_by)))
