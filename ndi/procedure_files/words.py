"""The closed word lists of procedure, technique and part files.  Words and ids only, no limits."""

from __future__ import annotations

ALL_RULES: tuple[str, ...] = tuple(
    f"{letter}{number:02}"
    for letter, last in (("G", 30), ("L", 18), ("P", 42), ("M", 37), ("D", 20), ("K", 20))
    for number in range(1, last + 1)
)

# identity, certificate, vision, independence of the second look, open lines, open containment
NEVER_DEVIATED = frozenset({"G01", "G02", "G12", "G13", "G30", "D07", "D12"})

ROLES = ("L3", "supervisor", "quality", "engineering")

SECOND_PERSON_FOR = (
    "class 1 relevant",
    "class 1 nonrelevant",
    "class 1 false",
    "reject",
    "rework order",
    "rework closing",
    "hold release",
    "scrap",
)

METHODS = ("MT", "PT")
SHOT_KINDS = ("head", "bar", "coil", "between heads")
DIRECTIONS = ("circular", "longitudinal")
CURRENT_TYPES = ("FWDC", "HWDC", "AC")
FILLS = ("low", "intermediate", "high")
BATH_MODES = ("continuous", "residual")
POST_PROCESS = ("demag", "plugs out", "flush", "clean", "dry", "oil", "bake", "preserve")

PENETRANT_TYPES = ("1", "2")
PENETRANT_METHODS = ("A", "B", "C", "D")
SENSITIVITIES = ("1/2", "1", "2", "3", "4")
DEVELOPER_FORMS = ("a", "b", "c", "d", "e", "f")

LIMIT_FORMS = ("linear", "rounded", "any")

# parameters that are one word of a list
PARAMETER_WORDS: dict[str, tuple[str, ...]] = {
    "last_direction": DIRECTIONS,
    "dwell_band_edge": ("middle", "longer"),
}
PARAMETER_TIMES = ("shop_day_start", "shop_day_end")  # HH:MM
PARAMETER_LISTS = ("calibration_items_mt",)

# "none at all" is a lawful limit only here
MAY_BE_ZERO = frozenset(
    {
        "rewets_max",
        "wipes_max",
        "specks_max",
        "second_look_on_clean_percent",
        # on each day of use, before it
        "lamp_reading_interval",
        "ambient_interval",
        "system_check_interval",
        "panel_interval",
        "tank_interval",
        "developer_interval",
        "gauge_interval",
        "booth_interval",
        "clock_interval",
    }
)
