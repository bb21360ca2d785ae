"""A real book in the window, with real keys: badge, a clean lot, the PIN that nobody sees, the tag on paper and back on the part."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
import zxingcpp

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.scan_codes import ScanKind
from ndi.gui.presenters.booth.outside import Outside
from ndi.gui.presenters.scene import Form, Rows, Side
from ndi.services.report_models import TagModel
from tests.gui.booth import real_book
from tests.gui.booth.real_book import PART, badge, files_with
from tests.gui.booth.test_clean_lot import MOST_PRESSES, shoot
from tests.gui.window import Window
from tests.people.real_shop import password, pin
from tests.printing.pdf_text import picture

OPENED = "MT-001"
RESIDUALS = (("11:18:30", "0.8"), ("11:19:10", "1.7"))


class Printer:
    """Draws tags as the program does, and keeps the sheets."""

    def __init__(self) -> None:
        self.sheets: list[bytes] = []
        self.work: Any = None

    def __call__(self, models: Sequence[TagModel]) -> str:
        self.sheets.append(bootstrap.tags_pdf(list(models), self.work))
        return f"{len(models)} tag(s) printed"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    with real_book.cheap_secrets():
        yield real_book.begin(tmp_path_factory.mktemp("real"))


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return real_book.copy(made, tmp_path / "real")


@pytest.fixture
def printer() -> Printer:
    return Printer()


@pytest.fixture
def booth(window: Callable[..., Window], book: Path, printer: Printer) -> Window:
    opened = window("10:57", book=book, outside=Outside(print_tags=printer))
    printer.work = opened.work
    return opened


def to_the_decision(w: Window) -> int:
    """From the badge to the decision without a red line; returns the presses that are not counted."""
    w.at("10:57:10").scan(ScanKind.BADGE, badge("L2-A"))
    w.scan(ScanKind.LAMP, "LP-1").scan(ScanKind.LAMP, "LP-2").scan(ScanKind.METER, "GM-1")
    w.key("*")  # curtain closed
    w.at("10:58:30").scan(ScanKind.PART, PART)
    assert w.scene.name == "record" and w.says("Open a record", "MT-T-6030"), w.scene
    w.key("enter", "enter", "enter")  # open; clean, dry, trapped parts removed; the view begins
    assert w.says(OPENED, "view begins"), w.scene
    exempt = shoot(w)
    w.at("11:17").key("enter", "enter")  # no arc burn; spaced on the bar
    w.at("11:18").key("1")  # demagnetised, how
    for clock, number in RESIDUALS:
        w.at(clock).number(number).key("enter")
        exempt += 1
    w.at("11:19:50").key("enter")  # to the zones
    for _ in range(5 + 12):
        w.key("0")
    exempt += 17
    w.at("11:20").key("enter", "enter", "enter")  # view ends; cleaned, dried, preserved; to the decision
    assert w.scene.name == "decision", w.scene
    (side,) = w.scene.parts
    assert isinstance(side, Side)
    red = side.left[0]
    assert isinstance(red, Rows)
    assert red.rows == (), [(r.text, r.detail) for r in red.rows]
    return exempt


def secret_field(w: Window) -> str:
    (form,) = [part for part in w.scene.parts if isinstance(part, Form)]
    return form.fields[0].typed


def test_a_clean_lot_from_badge_to_the_tag_on_the_part(booth: Window, book: Path, printer: Printer) -> None:
    w = booth
    assert not w.scene.practice
    exempt = to_the_decision(w)
    w.at("11:21").key("enter")  # sign ACCEPT
    assert w.scene.name == "signing" and w.says("L2-A signs: performed", f"{OPENED} ACCEPT", "PIN"), w.scene
    counted = len(w.pressed)
    for number, digit in enumerate(pin("L2-A"), 1):
        w.key(digit)
        assert secret_field(w) == "•" * number
        assert not w.says(pin("L2-A")[:2] if number > 1 else "typed='" + digit)
        assert files_with(book.parent, pin("L2-A")) == []
    w.shot("booth/pin")
    w.key("enter")
    del w.pressed[counted:]  # the secret
    assert w.scene.name == "tag" and w.says("signed and saved", "ACCEPT"), w.scene
    w.key("enter")  # the tag
    assert w.says("check code", "1 tag(s) printed"), w.scene
    assert len(w.pressed) - exempt <= MOST_PRESSES, (len(w.pressed) - exempt, w.pressed)
    (sheet,) = printer.sheets
    (code,) = zxingcpp.read_barcodes(picture(sheet, 203))
    w.at("11:22").type(code.text)
    assert w.says("is on the part") and not w.scene.refused, w.scene
    w.shot("booth/tag-on-the-part")
    assert w.work is not None
    with w.work.book.session(readonly=True) as session:
        row = session.inspection(OPENED)
        (back,) = session.of_kind(f.TagScannedBack)
        (signed,) = session.facts(OPENED, (f.DecisionSigned,))
    assert row.disposition == "ACCEPT" and back.by == signed.by == "L2-A"
    assert isinstance(signed.fact, f.DecisionSigned) and "badge and PIN" in str(signed.fact.proof)
    w.close()
    assert files_with(book.parent, pin("L2-A")) == []


def test_a_printed_tag_is_scanned_back_after_a_restart(
    window: Callable[..., Window], booth: Window, book: Path, printer: Printer
) -> None:
    """The tag hangs out of the printer when the window is killed: it needs no second print."""
    w = booth
    to_the_decision(w)
    w.at("11:21").key("enter").number(pin("L2-A")).key("enter")
    w.close()
    again = window("11:23", book=book)
    assert again.scene.name == "tag" and again.says("check code"), again.scene
    (code,) = zxingcpp.read_barcodes(picture(printer.sheets[0], 203))
    again.type(code.text)
    assert again.says("is on the part") and not again.scene.refused, again.scene


def test_undo_until_the_signature_and_not_after(booth: Window) -> None:
    w = booth
    to_the_decision(w)
    w.key("-")
    assert not w.scene.refused and w.says("undone: post-process"), w.scene
    w.key("-", "-")
    assert w.says("undone: post-process"), w.scene
    w.key(".", "enter", "enter")  # back to the record; the ticks again; to the decision
    assert w.scene.name == "decision", w.scene
    w.key("enter").number(pin("L2-A"))
    assert w.scene.name == "tag", w.scene
    w.key("-")
    assert w.scene.refused and w.says(f"{OPENED} is signed ACCEPT", "corrected with a reason, not undone"), w.scene
    w.key(".", "-")
    assert w.scene.refused and w.says("not undone"), w.scene


def test_five_wrong_pins_make_the_person_wait(booth: Window, book: Path) -> None:
    w = booth
    to_the_decision(w)
    w.at("11:21").key("enter")
    wrong = "724911"
    for _ in range(4):
        w.number(wrong)
        assert w.scene.refused and w.says("person or secret is not right") and not w.says("wait"), w.scene
        assert secret_field(w) == "" and w.scene.name == "signing"
    w.number(wrong)
    assert w.scene.refused and w.says("too many wrong tries: wait 1 min"), w.scene
    w.number(pin("L2-A"))
    assert w.scene.refused and w.says("too many wrong tries: wait") and w.scene.name == "signing", w.scene
    w.at("11:22:01").number(pin("L2-A"))
    assert w.scene.name == "tag" and not w.scene.refused, w.scene
    assert files_with(book.parent, wrong) == files_with(book.parent, pin("L2-A")) == []
    assert w.work is not None
    with w.work.book.session(readonly=True) as session:
        tries = [r.fact for r in session.of_kind(f.SecretTried) if r.fact.person == "L2-A"]
    assert [(t.right, t.waiting) for t in tries[-7:]] == [(False, False)] * 5 + [(False, True), (True, False)]


def test_a_password_typed_on_a_keyboard_is_dots_too(booth: Window, book: Path) -> None:
    """Without a badge the password is asked for; its letters come in like a scan, and no scene has them."""
    w = booth
    to_the_decision(w)
    w.scan(ScanKind.PERSON, "L2-A").at("11:21").key("enter")
    assert w.scene.name == "signing" and w.says("Password"), w.scene
    secret = password("L2-A")
    for character in secret:
        w.app.keypad.key(character, character)
    w.wait()
    canvas: Any = w.app.canvas
    shown = [canvas.itemcget(item, "text") for item in canvas.find_all() if canvas.type(item) == "text"]
    assert any("•••" in text for text in shown) and not any("heron" in text for text in shown)
    w.shot("booth/password")
    w.app.keypad.key("Return", "\r")
    w.wait()
    assert w.scene.name == "tag" and not w.scene.refused, w.scene
    assert files_with(book.parent, secret) == []


def test_a_window_killed_at_the_signature_comes_back_before_it(
    window: Callable[..., Window], booth: Window, book: Path
) -> None:
    """The half-typed PIN is gone with the window; nothing else is."""
    w = booth
    to_the_decision(w)
    w.key("enter", *pin("L2-A")[:4])
    w.close()
    again = window("11:22", book=book)
    assert again.scene.name == "decision" and again.says("L2-A", OPENED), again.scene
    again.key("enter")
    assert secret_field(again) == ""
    again.number(pin("L2-A"))
    assert again.scene.name == "tag", again.scene


def test_another_persons_pin_signs_nothing(booth: Window) -> None:
    w = booth
    to_the_decision(w)
    w.at("11:21").key("enter").number(pin("L2-B"))
    assert w.scene.refused and w.scene.name == "signing" and w.says("not right"), w.scene
