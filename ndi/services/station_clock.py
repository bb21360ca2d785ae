"""The station's clock against that of the database server, where the book has one (law 5).

Not limits of a process but of the tool's own clock: more than ``SAID`` apart is
said, more than ``REFUSED`` apart and nothing is timed at this station.
"""

from __future__ import annotations

from datetime import timedelta

from ndi.domain.errors import NotPermitted

SAID = timedelta(seconds=2)
REFUSED = timedelta(seconds=60)


def clock_warning(offset: timedelta | None) -> str | None:
    """What to tell the person: None while the clocks agree or there is no server.

    ``offset``: how much the station is ahead of the server.
    """
    if offset is None or abs(offset) <= SAID:
        return None
    whole, tenths = divmod(abs(offset) // timedelta(milliseconds=100), 10)
    side = "ahead of" if offset > timedelta(0) else "behind"
    text = f"the clock of this station is {whole}.{tenths} s {side} the database server's"
    if abs(offset) > REFUSED:
        text += f" (limit {REFUSED.seconds} s): nothing is timed here"
    return f"{text}. Set the clock of this station by the time service, or have the server's checked"


def check_station_clock(offset: timedelta | None) -> None:
    """NotPermitted when the station is too far off for anything to be timed by it."""
    warning = clock_warning(offset)
    if warning is not None and offset is not None and abs(offset) > REFUSED:
        raise NotPermitted(warning)
