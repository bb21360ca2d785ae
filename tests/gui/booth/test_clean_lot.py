"""A clean lot of twelve rocker arms from scan to tag, with real keys: how many presses it takes, and what the book then holds."""

from __future__ import annotations

from collections.abc import Callable

from ndi.domain import facts as f
from ndi.domain.scan_codes import ScanKind
from ndi.gui.presenters.scene import Rows, Side
from tests.gui.window import Window

PART = "W26-0148/T6-10301/LOT-148-RKR"
MOST_PRESSES = 14
SHOTS = (
    ("11:00", ("1015", "0.7", "990", "0.7")),
    ("11:03", ("790", "0.7", "790", "0.7")),
    ("11:16", ("1210", "0.7", "1180", "0.7", "5", "6")),
)


def shoot(w: Window) -> int:
    """The shots of the technique as the meter showed them; returns the presses that fired them."""
    fired = 0
    for clock, numbers in SHOTS:
        w.at(clock)
        for number in numbers:
            w.number(number)
        w.key("enter")
        fired += 1
    return fired


def test_twelve_rocker_arms_from_scan_to_tag(window: Callable[..., Window]) -> None:
    w = window("10:57")
    w.at("10:57:10").scan(ScanKind.PERSON, "L2-A")
    w.scan(ScanKind.LAMP, "LP-1").scan(ScanKind.LAMP, "LP-2").scan(ScanKind.METER, "GM-1")
    w.key("*")  # curtain closed
    w.at("10:58:30").scan(ScanKind.PART, PART)
    assert w.scene.name == "record" and w.says("Open a record", "MT-T-6030")
    w.key("enter")  # open it with the technique that is proposed
    assert w.says("MT-012", "clean", "bearings and trapped parts removed")
    w.key("enter")  # clean, dry, trapped parts removed
    w.key("enter")  # the view begins
    assert w.says("view begins") and w.scene.name == "record", w.scene
    exempt = shoot(w)
    w.at("11:17").key("enter")  # no arc burn
    w.key("enter")  # spaced on the bar, viewed all round
    w.at("11:18").key("1")  # demagnetised, how
    w.at("11:18:30").number("0.8").key("enter")
    w.at("11:19:10").number("1.7").key("enter")
    exempt += 2  # with the numbers that were read
    w.at("11:19:50").key("enter")  # to the zones
    for _ in range(5 + 12):  # each zone, each piece
        w.key("0")
    exempt += 17
    assert w.says("nothing seen") and w.scene.name == "viewing"
    w.at("11:20").key("enter")  # the view ends
    w.key("enter")  # cleaned, dried, preserved
    w.key("enter")  # to the decision
    assert w.scene.name == "decision", w.scene
    side = w.scene.parts[0]
    assert isinstance(side, Side)
    red = side.left[0]
    assert isinstance(red, Rows) and red.rows == (), [(r.text, r.detail) for r in red.rows]
    w.shot("booth/decision")
    w.at("11:21").key("enter")  # sign ACCEPT: meaning and cover are shown
    assert w.says("performed", "MT-012 ACCEPT"), w.scene
    w.key("enter")  # signed; in a practice book without a secret
    assert w.scene.name == "tag", w.scene
    w.key("enter")  # the tag
    assert w.says("check code"), w.scene
    assert len(w.pressed) - exempt <= MOST_PRESSES, (len(w.pressed) - exempt, w.pressed)
    assert w.work is not None
    with w.work.book.session(readonly=True) as session:
        row = session.inspection("MT-012")
        ended = session.facts("MT-012", (f.ViewEnded,))
    assert (row.disposition, row.provisional) == ("ACCEPT", True)
    last = ended[-1].fact
    assert isinstance(last, f.ViewEnded)
    assert (len(last.zones), last.pieces, last.nothing_seen) == (5, 12, True)


def test_nothing_is_confirmed_that_nobody_pressed(window: Callable[..., Window]) -> None:
    """Enter alone never counts a zone, a piece or a current."""
    w = window("10:57")
    w.scan(ScanKind.PERSON, "L2-A").scan(ScanKind.LAMP, "LP-1").at("10:58").scan(ScanKind.PART, PART)
    w.key("enter", "enter", "enter", "enter", "enter")
    assert w.scene.refused and w.says("type what the meter showed"), w.scene
    w.key("*")  # an interruption ends the view with what was seen: nothing
    w.key("enter", "enter")
    assert w.scene.refused and w.says("not looked at yet", "SOCKET-RADIUS"), w.scene
    for _ in range(5):
        w.key("0")
    w.key("enter")
    assert w.scene.refused and w.says("0 of 12 pieces looked at")
