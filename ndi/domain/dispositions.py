"""Which disposition may follow which, by whom, under which guard: the one table that the code runs.

A state is a disposition word, or one of the overlays: ``SUSPENDED`` (an
acceptance that is not relied upon), ``CLAIM SUSPENDED`` (a rejection or a
rework order whose claim of no other indications is not relied upon) and
``REJECT CORRECTED`` (a fact under a rejection was corrected: the signature is
gone, the piece is not free).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from ndi.domain.vocabulary import SPLIT, Disposition

SUSPENDED = "SUSPENDED"
CLAIM_SUSPENDED = "CLAIM SUSPENDED"
REJECT_CORRECTED = "REJECT CORRECTED"

NO_DECISION, ACCEPT, REWORK, REJECT, HOLD, SCRAP, RETURN = (
    str(word)
    for word in (
        Disposition.NO_DECISION,
        Disposition.ACCEPT,
        Disposition.REWORK,
        Disposition.REJECT,
        Disposition.HOLD_ENG,
        Disposition.SCRAP,
        Disposition.RETURN_UNSERVICEABLE,
    )
)
FINAL = (SCRAP, RETURN)
STATES = (NO_DECISION, ACCEPT, SPLIT, REWORK, REJECT, HOLD, SUSPENDED, CLAIM_SUSPENDED, REJECT_CORRECTED, *FINAL)

# what the owner of a rejected piece wants done with it
OWNER_SCRAP, OWNER_RETURN = "scrap", "return"


class Who(StrEnum):
    """Who makes a transition."""

    INSPECTOR = "inspector"  # level 2 or 3 of the method: G12, G13 and D13 ask it of the person
    LEVEL_THREE_AND_QUALITY = "Level III and quality"
    QUALITY = "quality"
    QUALITY_AND_WITNESS = "quality and a witness"
    SYSTEM = "system"  # follows from facts, nobody asks for it


# acts of a procedure's ``second_person_for`` that a transition is
REJECT_ACT, REWORK_ACT, HOLD_RELEASE, SCRAP_ACT = "reject", "rework order", "hold release", "scrap"

# Rules that must be settled; an acceptance needs all of them (``acceptance.standing``).
_PERSON = ("G12", "G13")
_ON_REJECT = (*_PERSON, "D01", "D02", "D05", "D07", "D08", "D09", "D13")
_ON_REWORK = (*_PERSON, "D01", "D02", "D05", "D07", "D08", "D13")
_ON_HOLD = (*_PERSON, "D01", "D02", "D13")
_OFF_HOLD = ("D14",)  # engineering's reference, revision and conditions, given after the hold
ALL_RULES = ("D12",)


@dataclass(frozen=True)
class Transition:
    """One allowed step.

    ``acts``: what the procedure may want two persons for; ``reason``: why somebody
    did it is kept; ``owner``: what the owner of the piece must have answered.
    """

    origin: str
    to: str
    who: Who
    guard: tuple[str, ...] = ()
    acts: tuple[str, ...] = ()
    reason: bool = False
    owner: str | None = None


def _signed(origin: str, *, held: bool = False) -> tuple[Transition, ...]:
    """What an inspector may sign from a state."""
    release, engineering = ((HOLD_RELEASE,), _OFF_HOLD) if held else ((), ())
    who = Who.INSPECTOR
    return (
        Transition(origin, ACCEPT, who, (*ALL_RULES, *engineering), release),
        Transition(origin, REWORK, who, (*_ON_REWORK, *engineering), (REWORK_ACT, *release)),
        Transition(origin, REJECT, who, (*_ON_REJECT, *engineering), (REJECT_ACT, *release)),
        Transition(origin, HOLD, who, _ON_HOLD),
        Transition(origin, SPLIT, who, (), release),  # each share by the row of its own word
    )


TABLE: tuple[Transition, ...] = (
    *_signed(NO_DECISION),
    *_signed(SUSPENDED),
    *_signed(HOLD, held=True),
    # a rejection or rework order stands: under a containment it is signed again, never turned
    Transition(CLAIM_SUSPENDED, REJECT, Who.INSPECTOR, _ON_REJECT, (REJECT_ACT,)),
    Transition(CLAIM_SUSPENDED, REWORK, Who.INSPECTOR, _ON_REWORK, (REWORK_ACT,)),
    Transition(REJECT_CORRECTED, REJECT, Who.INSPECTOR, _ON_REJECT, (REJECT_ACT,)),
    # what follows from facts
    *(Transition(origin, SUSPENDED, Who.SYSTEM) for origin in (ACCEPT, SPLIT, HOLD)),
    *(Transition(origin, CLAIM_SUSPENDED, Who.SYSTEM) for origin in (REJECT, REWORK)),
    *(
        Transition(origin, NO_DECISION, Who.SYSTEM, reason=True)  # a fact was corrected after the signature
        for origin in (ACCEPT, SPLIT, REWORK, HOLD, SUSPENDED, CLAIM_SUSPENDED)
    ),
    *(Transition(origin, REJECT_CORRECTED, Who.SYSTEM, reason=True) for origin in (REJECT, CLAIM_SUSPENDED)),
    *(Transition(overlay, overlay, Who.SYSTEM) for overlay in (SUSPENDED, CLAIM_SUSPENDED)),
    # a rejected piece; a mistake is taken back only by a Level III and quality, neither of whom signed it
    *(
        Transition(origin, NO_DECISION, Who.LEVEL_THREE_AND_QUALITY, reason=True)
        for origin in (REJECT, REJECT_CORRECTED)
    ),
    *(
        step
        for origin in (REJECT, CLAIM_SUSPENDED)
        for step in (
            Transition(origin, SCRAP, Who.QUALITY_AND_WITNESS, ("D15",), (SCRAP_ACT,), reason=True, owner=OWNER_SCRAP),
            Transition(origin, RETURN, Who.QUALITY, reason=True, owner=OWNER_RETURN),
        )
    ),
)

_BY_STEP: dict[tuple[str, str, Who], Transition] = {(t.origin, t.to, t.who): t for t in TABLE}
assert len(_BY_STEP) == len(TABLE), "each step stands once"


def state_of(
    disposition: str, *, decided: bool, suspended: bool, held: bool = False, rejected_before: bool = False
) -> str:
    """The state of a record from its row.

    ``held``: a share of a split lot waits for engineering; ``rejected_before``: the
    last signature was a rejection that a correction undid and nobody took back.
    """
    if not decided:
        return REJECT_CORRECTED if rejected_before else NO_DECISION
    if suspended:
        return CLAIM_SUSPENDED if disposition in (REJECT, REWORK) else SUSPENDED
    return HOLD if held and disposition == SPLIT else disposition


def transition(origin: str, to: str, who: Who) -> Transition | None:
    """The row of a step, or None where the table has none: then it is not allowed."""
    return _BY_STEP.get((origin, to, who))


def signable(state: str, standing: str, to: str) -> bool:
    """Whether an inspector may sign ``to``; ``standing`` is the word that an overlay lies over."""
    if transition(state, to, Who.INSPECTOR) is None:
        return False
    return state != CLAIM_SUSPENDED or to == standing


def words_signed() -> tuple[str, ...]:
    """Every word that an inspector signs, SPLIT apart."""
    return tuple(dict.fromkeys(t.to for t in TABLE if t.who is Who.INSPECTOR and t.to != SPLIT))


def guard_of(word: str) -> tuple[str, ...]:
    """The rules that must be settled before a word other than ACCEPT is signed, from whatever state."""
    rows = [t.guard for t in TABLE if t.to == word and t.who is Who.INSPECTOR and word != ACCEPT]
    return tuple(dict.fromkeys(rule for guard in rows for rule in guard))


def acts_of(words: Iterable[str], *, held: bool) -> tuple[str, ...]:
    """What a procedure may want two persons for, when these words are signed; ``held``: from an engineering hold."""
    origin = HOLD if held else NO_DECISION
    every = tuple(words)
    rows = [row for row in (transition(origin, word, Who.INSPECTOR) for word in every) if row is not None]
    return tuple(dict.fromkeys(act for row in rows for act in row.acts))
