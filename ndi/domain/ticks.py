"""The one list of things a person confirms with a tick: item, what it is about, allowed values."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tick:
    """``about`` is ``part``, ``inspection`` or ``basket``: the key that the tick is recorded under.

    ``values`` are the words allowed; none listed means that any text is.
    """

    item: str
    about: str
    values: tuple[str, ...] = ("yes", "no")


PRE_CLEAN_VISUAL = Tick("pre-clean visual", "part")
CLEANING_STARTED = Tick("cleaning started", "part", ("yes",))
VISIBLE_DYE = Tick("visible dye history", "part", ("never", "used", "released by Level III"))
WORKED_SINCE_ETCH = Tick("worked since last etch", "part")
ETCHED = Tick("etched and neutralised", "part", ("yes",))
CLEAN = Tick("clean", "inspection")
DRY = Tick("dry", "inspection")
PLUGGED = Tick("plugged", "inspection")
TRAPPED_REMOVED = Tick("bearings and trapped parts removed", "inspection")
ARC_BURN = Tick("no arc burn after head shot", "inspection")
VIEWED_AFTER_SHOT = Tick("viewed after shot", "inspection", ())  # value: number of the shot
RESIDUE = Tick("passages flushed, no bath residue under UV-A", "inspection")
SPACED_ON_BAR = Tick("spaced on the bar, viewed all round", "inspection")
POST_FLUSH = Tick("post-process: flush", "inspection")
POST_CLEAN = Tick("post-process: clean", "inspection")
POST_DRY = Tick("post-process: dry", "inspection")
POST_PRESERVE = Tick("post-process: preserve", "inspection")
DRY_BEFORE_WETTING = Tick("dry before wetting", "basket")
WETTED_BY = Tick("wetted by", "basket", ("flow", "spray", "brush", "immersion"))
STILL_WET = Tick("penetrant did not dry on", "basket")
NO_CONTACT = Tick("no contact, cavities drain", "basket")
RINSE_CHECKED = Tick("rinse checked under UV-A", "basket")
DRY_AT_DRYER_OUT = Tick("dry at dryer out", "basket")
DEVELOPER_COAT = Tick("developer on all zones", "basket")
DEVELOPER_FORM = Tick("developer form", "basket", ("a", "b", "c", "d", "e", "f"))
CO_SIGNED = Tick("trainee work co-signed", "inspection")
CHANGE_TOLD = Tick("change after a tag was out told to Level III or quality", "inspection")

TICKS: dict[str, Tick] = {value.item: value for value in list(globals().values()) if isinstance(value, Tick)}

BACKGROUNDS = ("clean", "light background", "over-washed")  # outcome of the wash, judged under UV-A
