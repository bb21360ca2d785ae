"""The closed word lists of the trade that facts, rules and papers share."""

from __future__ import annotations

from enum import StrEnum


class Method(StrEnum):
    MT = "MT"
    PT = "PT"


class Disposition(StrEnum):
    """What is decided of a part (``SPLIT`` of a lot: its children carry the words)."""

    NO_DECISION = "NO DECISION"
    ACCEPT = "ACCEPT"
    REWORK = "REWORK"
    REJECT = "REJECT"
    SCRAP = "SCRAP"
    RETURN_UNSERVICEABLE = "RETURN UNSERVICEABLE"
    HOLD_ENG = "HOLD-ENG"


SPLIT = "SPLIT"  # said of a lot whose shares carry different dispositions


# worst first; SUSPENDED is an overlay and stands between HOLD-ENG and REWORK
PART_STATE_ORDER = (
    "SCRAP",
    "RETURN UNSERVICEABLE",
    "REJECT",
    "HOLD-ENG",
    "SUSPENDED",
    "REWORK",
    "NO DECISION",
    "ACCEPT",
)


# why a piece on the receiving list gets no record; a shop may have codes of its own beside these
REASON_CODES: dict[str, str] = {
    "REPLACE-100": "mandatory replacement",
    "VISUAL-ONLY": "visual or dimensional only",
    "SENT-OUT": "sent out",
    "OTHER-METHOD": "another method",
    "NOT-RECEIVED": "not received",
}
NOT_RECEIVED = "NOT-RECEIVED"


class Interpretation(StrEnum):
    RELEVANT = "relevant"
    NONRELEVANT = "nonrelevant"
    FALSE = "false"


def is_crack_type(discontinuity: str | None) -> bool:
    """Whether a discontinuity type is a crack of some kind (fatigue, grinding, heat-treat, stress-corrosion ...)."""
    return discontinuity is not None and ("crack" in discontinuity or "stress-corrosion" in discontinuity)


class Form(StrEnum):
    LINEAR = "linear"
    ROUNDED = "rounded"
    ALIGNED_GROUP = "aligned group"
    CLUSTER = "cluster"
    DIFFUSE = "diffuse"
    NETWORK = "network"


class Quantity(StrEnum):
    """What a reading measures."""

    UV_A = "UV-A at 15 in"
    UV_A_AT_PART = "UV-A at part"
    AMBIENT = "ambient visible"
    WHITE_LIGHT = "white light"
    PARTICLE_VOLUME = "bath concentration"
    CONTAMINATION = "contamination"
    WATER_TEMPERATURE = "water temperature"
    WATER_PRESSURE = "water pressure"
    DRYER_TEMPERATURE = "dryer temperature"
    REMOVER_CONCENTRATION = "remover concentration"
    SPECKS = "specks"
    WATER_CONTENT = "water content"
    BRIGHTNESS = "brightness"
    VISCOSITY = "viscosity"
    RING_HOLES = "ring holes"


class Condition(StrEnum):
    AS_FOUND = "as-found"
    AS_LEFT = "as-left"
    AFTER_CLEANING = "after-cleaning"


class Step(StrEnum):
    """Steps of the penetrant line and of the bench, in the order they are worked."""

    PRECLEAN = "preclean"
    ETCH = "etch"
    WET = "wet"
    IMMERSE = "immerse"  # in the penetrant tank; the rest of the dwell is drain
    PREWASH = "prewash"
    REMOVER = "remover"
    WASH = "wash"  # Method A wash, Method D rinse
    DRY = "dry"
    DEVELOP = "develop"
    POSTCLEAN = "postclean"
    PRESERVE = "preserve"


class Observed(StrEnum):
    """Numbers read at a step of a basket."""

    PART_TEMPERATURE = "part temperature"
    NOZZLE_DISTANCE = "nozzle distance"
    AIR_PRESSURE = "air pressure"


class Material(StrEnum):
    """What a batch of consumables is."""

    PENETRANT = "penetrant"
    REMOVER = "remover"
    DEVELOPER = "developer"
    BATH = "bath"


# places where a developed part is cleaned or handled, and places where only a look is taken
HANDLING_PLACES = ("post-clean", "assembly", "shipped", "stores", "rework")
RE_VIEW_PLACES = ("booth", "re-view rack")


class ViewKind(StrEnum):
    FIRST = "first"
    RE_VIEW = "re-view"
    SECOND_LOOK = "second look"


class ShotKind(StrEnum):
    """How a shot is put into the part; ``HEAD`` and ``BETWEEN_HEADS`` pass current through contacts."""

    HEAD = "head"
    BETWEEN_HEADS = "between heads"
    BAR = "bar"
    COIL = "coil"


class Fill(StrEnum):
    """How much of the coil's opening the part takes up; decides which formula holds."""

    LOW = "low"
    INTERMEDIATE = "intermediate"
    HIGH = "high"


class FieldProof(StrEnum):
    """How the field at a point is shown."""

    QQI = "QQI"
    HALL = "Hall probe"


class BathMode(StrEnum):
    """When the bath flowed, by the last pulse; ``CONTINUOUS`` is attested as off before it."""

    CONTINUOUS = "continuous"
    OFF_BEFORE_LAST_PULSE = "bath off before last pulse"
    AFTER_LAST_PULSE = "bath after last pulse"
    RESIDUAL = "residual"


class CheckKind(StrEnum):
    """Process checks that are not a single reading."""

    PANEL = "known-defect panel"
    RING = "tool-steel ring"
    TANK = "penetrant tank look"
    DEVELOPER = "developer check"
    LAMP_INTEGRITY = "lamp integrity"
    BATH_CONTAMINATION = "bath contamination"
    VEHICLE = "vehicle and viscosity"
    WATER_BREAK = "water break"
    WATER_CONTENT = "penetrant water content"
    BRIGHTNESS = "penetrant brightness"
    REMOVABILITY = "removability and sensitivity"
    REMOVER = "remover concentration"
    BOOTH_CLEAN = "booth cleanliness"
    CLOCK_OFFSET = "clock offsets"
    RESTORE = "restore test"


# certificate levels of the trade: 1 may process, 2 may decide, 3 runs the method
PROCESSING_LEVEL = 1
DECIDING_LEVEL = 2
LEVEL_THREE = 3
