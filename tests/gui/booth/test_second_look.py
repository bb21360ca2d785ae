"""The second look in the window: what waits for whom, blind until saved, then both results; by keypad and scanner alone."""

from __future__ import annotations

from collections.abc import Callable

from ndi.domain import facts as f
from ndi.domain.scan_codes import ScanKind
from ndi.gui.presenters.scene import Row, Rows
from tests.gui.booth.test_light import MOST_LUMINANCE, MOST_OTHER
from tests.gui.booth.test_sizes import faults, texts
from tests.gui.screens import keep, mean_luminance, most_green_or_blue, picture
from tests.gui.window import Window

FIRST = ("0.22", "0.01", "axial", "forging lap", "curved")  # what the first person found of IND-02
CLOCK = "09:31"


def is_blind(w: Window) -> bool:
    """Nothing that the first person found is in the scene or on the screen; what may be chosen is."""
    shown = repr(w.scene) + " ".join(text for text, _ in texts(w))
    return not any(word in shown for word in FIRST)


def is_dark(w: Window, name: str) -> bool:
    image = picture()
    keep(image, f"booth/second look, {name}")
    return most_green_or_blue(image) <= MOST_OTHER and mean_luminance(image) <= MOST_LUMINANCE


def waiting(w: Window) -> list[Row]:
    rows = w.scene.parts[0]
    assert w.scene.name == "second look" and isinstance(rows, Rows), w.scene
    return list(rows.rows)


def to_the_look(w: Window) -> None:
    """NL3-E with LP-1, eyes adapted, at IND-02 of MT-006."""
    w.scan(ScanKind.PERSON, "NL3-E").scan(ScanKind.LAMP, "LP-1").key("*")
    w.later(minutes=2).key("8")
    names = [row.text.split("  ")[0] for row in waiting(w)]
    w.key(str(names.index("MT-006") + 1))
    assert w.scene.title == "Second look at MT-006" and w.says("Connecting rod 4"), w.scene


def saved_of(w: Window) -> list[f.SecondLookSaved]:
    assert w.work is not None
    with w.work.book.session(readonly=True) as session:
        found = [r.fact for r in session.facts("IND-02", (f.SecondLookSaved,))]
    return [fact for fact in found if isinstance(fact, f.SecondLookSaved)]


def test_second_look_of_another_person_is_blind_until_it_is_saved(window: Callable[..., Window]) -> None:
    """NL3-E looks at IND-02: the length of the first look is shown nowhere before the own one is signed."""
    w = window(CLOCK)
    to_the_look(w)
    assert is_blind(w) and is_dark(w, "where"), w.scene
    w.key("enter")  # the look begins
    assert not w.scene.refused and w.says("What do you see?") and is_blind(w), w.scene
    assert is_dark(w, "form")
    w.key("1")  # linear
    assert w.says("Length") and is_blind(w)
    w.later(minutes=2).number("0.20")
    assert w.says("It is") and is_blind(w) and is_dark(w, "call")
    w.key("1")  # relevant
    assert w.says("0.20 in", "Enter signs") and is_blind(w), w.scene
    assert saved_of(w) == []
    w.key("enter")
    assert w.scene.name == "signing" and w.says("NL3-E signs", "second look"), w.scene
    assert is_blind(w) and is_dark(w, "signing")
    assert saved_of(w) == []
    w.key("enter")
    assert w.says("first look", "0.22 in", "your look", "0.20 in"), w.scene
    assert is_dark(w, "both results") and faults(w) == []
    (saved,) = saved_of(w)
    assert (saved.person, saved.inspection, saved.form, saved.interpretation) == (
        "NL3-E",
        "MT-006",
        "linear",
        "relevant",
    )
    assert str(saved.length) == "0.20 in" and saved.none_seen is None
    w.key("enter")
    assert w.scene.name == "board"
    w.key("8")
    assert "MT-006" not in [row.text.split("  ")[0] for row in waiting(w)]


def test_who_viewed_the_part_is_not_offered_it(window: Callable[..., Window]) -> None:
    """L2-A viewed MT-006; nobody is offered anything before a badge was scanned."""
    w = window(CLOCK)
    w.key("8")
    assert waiting(w) == [] and w.says("Scan your badge"), w.scene
    w.scan(ScanKind.PERSON, "L2-A")
    assert "MT-006" not in [row.text.split("  ")[0] for row in waiting(w)]
    w.scan(ScanKind.PERSON, "NL3-E")
    assert "MT-006" in [row.text.split("  ")[0] for row in waiting(w)]


def test_nothing_seen_is_saved_as_it_is(window: Callable[..., Window]) -> None:
    """Where the first saw something: taken back once, then signed; both results are shown."""
    w = window(CLOCK)
    to_the_look(w)
    w.key("enter").later(minutes=2).key("0")
    assert w.says("nothing seen", "Enter signs") and is_blind(w), w.scene
    w.key("-")  # not sure: what do you see?
    assert w.says("What do you see?")
    w.key("0", "enter", "enter")
    (saved,) = saved_of(w)
    assert (saved.none_seen, saved.length, saved.form, saved.interpretation) == (True, None, None, None)
    assert w.says("first look", "0.22 in", "your look", "nothing seen"), w.scene
    assert is_dark(w, "nothing seen")


def test_nothing_seen_where_the_first_saw_something_is_a_disagreement(window: Callable[..., Window]) -> None:
    """Who decides is said."""
    w = window(CLOCK)
    to_the_look(w)
    w.key("enter").later(minutes=2).key("0", "enter", "enter")
    assert saved_of(w) != []
    assert w.says("Level III"), w.scene


def test_second_look_needs_a_lamp(window: Callable[..., Window]) -> None:
    w = window(CLOCK)
    w.scan(ScanKind.PERSON, "NL3-E").key("8")
    names = [row.text.split("  ")[0] for row in waiting(w)]
    w.key(str(names.index("MT-006") + 1), "enter")
    assert w.scene.refused and w.says("no lamp in use"), w.scene
    w.scan(ScanKind.LAMP, "LP-1").key("enter")
    assert w.says("What do you see?") or w.scene.refused, w.scene
