"""The first screen while no book is named, and the ways between desk and booth; the real window with real keys."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import threading
from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from time import monotonic

import pytest
from PIL import Image

from ndi import bootstrap
from ndi.cli import new
from ndi.cli import open as opening
from ndi.cli.practice import PRACTICE_BOOK, practice_copy
from ndi.domain import facts as f
from ndi.domain.errors import WrongAnswers
from ndi.gui import books_file
from ndi.gui.app import App, Start
from ndi.gui.views.start_frame import NewPage, OpenPage
from ndi.services.lookup import every
from ndi.store import secrets
from tests.gui.screens import keep, mean_luminance, most_green_or_blue, picture, screen
from tests.gui.window import has_xvfb
from tests.people.real_shop import CHEAP

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 60.0
MOST_OTHER = 20
MOST_LUMINANCE = 5 / 300
ANSWERS = {
    "shop": "HANGAR 3",
    "station": "DESK",
    "administrator": "ADM-1",
    "administrator password": "the quiet river bends",
    "administrator password again": "the quiet river bends",
    "level3": "L3-A",
    "level3 password": "seven lamps in a row",
    "level3 password again": "seven lamps in a row",
    "mt issued": "2024-02-01",
    "mt expires": "2029-01-31",
    "vision examined": "2026-02-01",
    "vision expires": "2027-01-31",
}


@pytest.fixture(scope="module")
def display() -> Iterator[str]:
    """A screen that lives to the end of the tests, for Tk stays connected to it."""
    if not has_xvfb():
        pytest.skip("no Xvfb: apt-get install xvfb")
    with pytest.MonkeyPatch.context() as patch:
        name = _screens.enter_context(screen("1366x768"))
        patch.setenv("DISPLAY", name)
        yield name


_screens = ExitStack()


@pytest.fixture(scope="session", autouse=True)
def screens_go_at_the_end() -> Iterator[None]:
    yield
    _screens.close()


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home and a working folder of its own."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(secrets, "PARAMETERS", CHEAP)
    return tmp_path


@pytest.fixture(scope="module")
def practice(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return practice_copy(tmp_path_factory.mktemp("practice"), "10:57", lambda _said: None)


def asked(*words: str) -> Namespace:
    parser = ArgumentParser()
    opening.add_arguments(parser)
    return parser.parse_args(["--size", "1366x768", *words])


class Window:
    """The window as ``ndi open`` makes it, driven from inside."""

    def __init__(self, *words: str) -> None:
        args = asked(*words)
        asks = args.book is None and args.practice is None

        def open_it(said: Callable[[str], None]) -> object:
            from ndi.cli import open_book

            return open_book.open_for_window(args, args.book, said)

        self.app = App(
            open_it,  # type: ignore[arg-type]
            lambda: datetime.now(UTC).astimezone(),
            desk=args.desk,
            size=args.size,
            start=Start(opening.ways(args), dark=args.booth) if asks else None,
        )
        self.said: list[str] = []
        self.errors: list[BaseException] = []
        self.app.root.report_callback_exception = lambda _kind, error, _trace: self.errors.append(error)  # type: ignore[method-assign,assignment]
        self.rest()

    def rest(self) -> None:
        """Until the window has nothing to do; what it says meanwhile is noted."""
        end, quiet = monotonic() + PATIENCE, 0
        while quiet < 3:
            self.app.root.update()
            quiet = 0 if self.app.worker.is_busy else quiet + 1
            shown = self.message if self.app.start_frame is not None else repr(self.app.canvas.scene)
            if not self.said or self.said[-1] != shown:
                self.said.append(shown)
            assert monotonic() < end, "the window does not come to rest"
            self.app.worker.pump()
        assert not self.errors, self.errors

    def key(self, *keys: str) -> None:
        for key in keys:
            root = self.app.root
            if root.focus_get() is None:  # no window manager gives the window the focus
                (root.focus_lastfor() or root).focus_force()
                root.update()
            (root.focus_get() or root).event_generate(f"<{key}>")
            self.rest()

    @property
    def message(self) -> str:
        return str(self.app.start_frame.message.cget("text")) if self.app.start_frame is not None else ""

    @property
    def open_page(self) -> OpenPage:
        assert self.app.start_frame is not None
        page = self.app.start_frame.pages[1]
        assert isinstance(page, OpenPage)
        return page

    @property
    def new_page(self) -> NewPage:
        assert self.app.start_frame is not None
        page = self.app.start_frame.pages[2]
        assert isinstance(page, NewPage)
        return page

    def shot(self, name: str) -> Image.Image:
        self.app.root.update()
        image = picture()
        keep(image, f"start/{name}")
        return image


@pytest.fixture
def window(display: str) -> Iterator[Callable[..., Window]]:
    opened: list[Window] = []

    def one(*words: str) -> Window:
        opened.append(Window(*words))
        return opened[-1]

    yield one
    for each in opened:
        each.app.close()


# --- the choice -----------------------------------------------------------------------------------


def test_the_practice_copy_is_made_with_its_progress_shown_and_is_usable_at_once(
    window: Callable[..., Window], home: Path
) -> None:
    w = window()
    w.shot("choice")
    w.key("Key-1", "Return")
    assert w.app.opened is not None and w.app.opened.booth.work.practice
    assert (home / "ndi-practice" / PRACTICE_BOOK).is_file()
    assert [said for said in w.said if "working the day up to" in said], w.said
    assert not w.app.in_booth and w.app.start_frame is None  # chosen in the light: goes on at the desk
    w.shot("desk-of-the-practice-copy")
    w.key("Control-b")
    assert w.app.in_booth and w.app.canvas.scene is not None and w.app.canvas.scene.practice
    assert books_file.remembered() == ()  # the practice copy has a choice of its own


def test_the_dark_choice_has_keys_and_no_bright_pixel(window: Callable[..., Window], practice: Path) -> None:
    books_file.remember(str(practice))
    w = window("--booth")
    image = w.shot("dark-choice")
    assert most_green_or_blue(image) <= MOST_OTHER and mean_luminance(image) <= MOST_LUMINANCE
    w.key("KP_7")  # no such row
    assert w.app.opened is None
    w.key("KP_2")
    assert w.app.opened is not None and w.app.in_booth and w.app.canvas.scene is not None
    assert w.app.canvas.scene.name == "board"
    assert most_green_or_blue(picture()) <= MOST_OTHER


def test_a_book_is_typed_or_chosen_from_the_list(window: Callable[..., Window], practice: Path) -> None:
    w = window()
    w.key("Key-2")
    w.open_page.put(f"{practice.parent}/nothing.ndibook")
    w.key("Return")
    assert "is not there" in w.message and w.app.opened is None
    w.open_page.put(f"{practice.parent}/")
    w.shot("open")
    names = [w.open_page.list.item(row, "text") for row in w.open_page.list.get_children()]
    assert PRACTICE_BOOK in names
    w.key("Down")
    for _ in range(names.index(PRACTICE_BOOK)):
        w.key("Down")
    w.key("Return")
    assert w.app.opened is not None, w.message
    assert books_file.remembered() == (str(practice),)


def test_the_books_opened_last_are_offered_first(window: Callable[..., Window], practice: Path, home: Path) -> None:
    books_file.remember(str(practice))
    books_file.remember(str(home / "gone.ndibook"))
    w = window()
    w.key("Key-2")
    rows = [w.open_page.list.item(row, "text") for row in w.open_page.list.get_children()]
    assert rows == [str(practice)]  # what is gone is not offered
    w.key("Down", "Return")
    assert w.app.opened is not None
    w.app.close()
    assert books_file.place() == home / ".config" / "ndi" / "books.json"


def test_something_that_is_no_book_is_said_and_nothing_typed_is_lost(window: Callable[..., Window], home: Path) -> None:
    (home / "letter.ndibook").write_text("dear shop")
    w = window()
    w.key("Key-2")
    w.open_page.put(str(home / "letter.ndibook"))
    w.key("Return")
    assert w.message.startswith("✗") and "Traceback" not in w.message
    assert w.open_page.path.get() == str(home / "letter.ndibook")
    w.key("Alt-Key-1")  # everything can be pressed again
    assert w.app.start_frame is not None and w.app.start_frame.here == 1


# --- a new book -----------------------------------------------------------------------------------


def fill(w: Window, **other: str) -> None:
    for name, text in {**ANSWERS, **other}.items():
        entry = w.new_page.inputs[name]
        entry.delete(0, "end")
        entry.insert(0, text)


def test_a_new_book_is_made_from_the_form_and_opened(window: Callable[..., Window], home: Path) -> None:
    w = window()
    w.key("Key-3")
    w.shot("new")
    fill(w)
    w.shot("new-filled")
    w.new_page.go.focus_set()
    w.key("space")
    assert w.app.opened is not None, w.message
    work = w.app.opened.booth.work
    assert not work.practice and work.station == "DESK" and (home / "shop.ndibook").is_file()
    with work.book.session(readonly=True) as session:
        people = {r.fact.person: r.fact.roles for r in every(session, f.PersonEntered)}
        certificates = [(r.fact.person, r.fact.method, r.fact.level) for r in every(session, f.CertificateEntered)]
        exams = [r.fact.person for r in every(session, f.VisionExamEntered)]
    assert people == {"ADM-1": ("administrator",), "L3-A": ("level3", "inspector")}
    assert certificates == [("L3-A", "MT", 3)] and exams == ["L3-A"]
    assert books_file.remembered() == (str(home / "shop.ndibook"),)
    w.shot("new-book-at-the-desk")


def test_what_is_wrong_stands_beside_its_field_and_nothing_is_made_or_lost(
    window: Callable[..., Window], home: Path
) -> None:
    w = window()
    w.key("Key-3")
    fill(w, shop="", level3="adm-1", **{"mt expires": "2029-13-31", "administrator password again": "another"})
    w.new_page.go.focus_set()
    w.key("space")
    assert under(w, "administrator password again").startswith("✗ the two are not the same")
    fill(w, shop="", level3="adm-1", **{"mt expires": "2029-13-31"})
    w.key("Alt-Key-3")
    w.new_page.go.focus_set()
    w.key("space")
    assert under(w, "shop") == "✗ an answer is needed"
    assert "two persons" in under(w, "level3")
    assert "is not a date" in under(w, "mt expires")
    assert under(w, "mt issued") == "YYYY-MM-DD" and w.app.root.focus_get() is w.new_page.inputs["shop"]
    assert w.new_page.inputs["administrator password"].get() == ANSWERS["administrator password"]
    assert list(home.glob("shop*")) == [] and w.app.opened is None
    w.shot("new-wrong")
    assert clipped(w) == []


@pytest.mark.parametrize(("size", "dpi"), [("1920x1080", 96), ("1920x1080", 192)])
def test_nothing_is_clipped_at_other_sizes(size: str, dpi: int, monkeypatch: pytest.MonkeyPatch) -> None:
    if not has_xvfb():
        pytest.skip("no Xvfb: apt-get install xvfb")
    monkeypatch.setenv("DISPLAY", _screens.enter_context(screen(size, dpi)))
    w = Window("--size", size)
    try:
        for number, name in enumerate(("practice", "open", "new"), 1):
            w.key(f"Alt-Key-{number}")
            w.shot(f"{size}-{dpi}-{name}")
        fill(w, shop="", level3="adm-1", **{"mt expires": "2029-13-31"})
        w.new_page.go.focus_set()
        w.key("space")
        w.shot(f"{size}-{dpi}-wrong")
        assert clipped(w) == []
    finally:
        w.app.close()


def under(w: Window, name: str) -> str:
    return str(w.new_page._under[name].cget("text"))


def clipped(w: Window) -> list[str]:
    """Fields and buttons of the form that are cut off when the focus comes to them."""
    found = []
    bottom, right = w.new_page.winfo_rooty() + w.new_page.winfo_height(), w.app.root.winfo_width()
    for name, each in [*w.new_page.inputs.items(), ("button", w.new_page.go)]:
        each.focus_force()
        w.rest()
        if each.winfo_rooty() + each.winfo_height() > bottom or each.winfo_rootx() + each.winfo_width() > right:
            found.append(name)
    return found


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"file": "book.txt"}, "file"),
        ({"file": "nowhere/book.ndibook"}, "file"),
        ({"file": "there.ndibook"}, "file"),
        ({"station": " "}, "station"),
        ({"administrator": ""}, "administrator"),
        ({"administrator password": "short"}, "administrator password"),
        ({"level3 password": ANSWERS["administrator password"]}, "level3 password"),
        ({"mt issued": "", "mt expires": ""}, "mt issued"),
        ({"mt issued": ""}, "mt issued"),
        ({"mt expires": ""}, "mt expires"),
        ({"mt expires": "2020-01-31"}, "mt expires"),
        ({"pt issued": "yesterday"}, "pt issued"),
        ({"vision expires": "2025-01-31"}, "vision expires"),
    ],
)
def test_each_wrong_answer_names_its_field_alone(change: dict[str, str], field: str, home: Path) -> None:
    (home / "there.ndibook").touch()
    before = sorted(home.iterdir())
    with pytest.raises(WrongAnswers) as caught:
        new.make_from_form({"file": str(home / "book.ndibook"), **ANSWERS, **change}, lambda _said: None)
    assert list(caught.value.problems) == [field], caught.value.problems
    assert sorted(home.iterdir()) == before


# --- between desk and booth -----------------------------------------------------------------------


def test_desk_and_booth_change_by_key_button_and_code(window: Callable[..., Window], practice: Path) -> None:
    w = window(str(practice))
    assert w.app.in_booth
    w.key("F12")
    assert not w.app.in_booth
    w.key("F12")
    assert w.app.in_booth
    w.app.scan("command:DESK")
    w.rest()
    assert not w.app.in_booth and w.app.opened is not None and not w.app.opened.booth.wants_desk
    assert w.app.desk is not None
    buttons = [each for each in inside(w.app.desk) if "Dark booth (Ctrl+B)" in text_of(each)]
    assert len(buttons) == 1 and buttons[0].winfo_viewable()  # type: ignore[attr-defined]
    buttons[0].invoke()  # type: ignore[attr-defined]
    w.rest()
    assert w.app.in_booth


def inside(widget: object) -> Iterator[object]:
    yield widget
    for child in widget.winfo_children():  # type: ignore[attr-defined]
        yield from inside(child)


def text_of(widget: object) -> str:
    try:
        return str(widget.cget("text"))  # type: ignore[attr-defined]
    except Exception:
        return ""


def test_going_to_the_dark_never_flashes(window: Callable[..., Window], practice: Path) -> None:
    """Pictures from before the key to after it: the desk as it was, then darkness; nothing brighter between, no desk after."""
    w = window(str(practice), "--desk")
    for _ in range(4):
        assert not w.app.in_booth
        at_desk = mean_luminance(picture())
        pictures: list[Image.Image] = []
        done = threading.Event()
        begun = threading.Event()

        def watch(
            pictures: list[Image.Image] = pictures, done: threading.Event = done, begun: threading.Event = begun
        ) -> None:
            while not done.is_set():
                pictures.append(picture())
                begun.set()

        watcher = threading.Thread(target=watch)
        watcher.start()
        begun.wait(10)
        try:
            w.key("Control-b")
            w.app.root.update()
            dark_from = len(pictures) + 1  # the picture being taken now may have begun before
            end = monotonic() + 0.3
            while monotonic() < end or len(pictures) < dark_from + 2:
                w.app.root.update()
                w.app.worker.pump()
        finally:
            done.set()
            watcher.join()
        levels = [mean_luminance(image) for image in pictures]
        assert max(levels) <= at_desk * 1.02
        first_dark = next(n for n, level in enumerate(levels) if level <= MOST_LUMINANCE)
        assert first_dark <= dark_from
        for image in pictures[first_dark:]:
            assert most_green_or_blue(image) <= MOST_OTHER and mean_luminance(image) <= MOST_LUMINANCE
        w.key("F12")


# --- the command ----------------------------------------------------------------------------------


def test_no_store_is_loaded_before_the_window_is_seen(display: str, practice: Path) -> None:
    """What ``ndi open BOOK`` imported when its window was drawn the first time."""
    program = (
        "import sys, tkinter as tk\n"
        "from ndi.gui.app import App\n"
        "def seen(self, opening):\n"
        "    print(self.canvas.winfo_viewable(), sorted(m for m in sys.modules if m.startswith(('sqlalchemy', 'ndi.store', 'ndi.bootstrap'))))\n"
        "    sys.stdout.flush(); import os; os._exit(0)\n"
        "App._open = seen\n"
        "from ndi.cli.main import main\n"
        "main(['open', sys.argv[1], '--size', '800x600'])\n"
    )
    done = subprocess.run([sys.executable, "-c", program, str(practice)], capture_output=True, text=True, cwd=ROOT)
    assert done.stdout.strip() == "1 []", done.stdout + done.stderr


def test_wrong_calls_say_what_to_do(practice: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def call(*words: str) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "ndi", *words], capture_output=True, text=True, cwd=ROOT, env={**os.environ}
        )
        assert done.returncode == 2
        return done.stderr

    monkeypatch.delenv("DISPLAY", raising=False)
    assert "is not there" in call("open", "nothing.ndibook")
    assert "leave one of them out" in call("open", str(practice), "--practice")
    assert "no screen here" in call("open", str(practice))
    assert "--out" in call("demo", "--window")


def test_the_demo_without_a_screen_says_how_to_open_its_book(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    done = subprocess.run(
        [sys.executable, "-m", "ndi", "demo", "--out", str(home / "out"), "--window"],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    last = done.stdout.splitlines()[-1]
    assert last.startswith("no screen here") and f"ndi open {home}/out/demo.ndibook" in last


def test_the_demo_opens_its_window_on_the_book_just_made(display: str, home: Path) -> None:
    """The clock of that window goes on from the end of the day."""
    program = (
        "import sys\n"
        "from ndi.gui.app import App\n"
        "was = App._is_open\n"
        "def is_open(self, opened):\n"
        "    was(self, opened)\n"
        "    print('OPEN', opened.now().isoformat(), opened.booth.work.practice, flush=True)\n"
        "    self.root.after(200, self.close)\n"
        "App._is_open = is_open\n"
        "from ndi.cli.main import main\n"
        "sys.exit(main(['demo', '--out', sys.argv[1], '--window']))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(home / "out")], capture_output=True, text=True, cwd=ROOT, timeout=300
    )
    assert done.returncode == 0, done.stderr
    found = re.search(r"^OPEN (\S+) True$", done.stdout, re.MULTILINE)
    assert found, done.stdout + done.stderr
    work = bootstrap.open_book(home / "out" / "demo.ndibook")
    try:
        with work.book.session(readonly=True) as session:
            last = session.entry(session.head().position).recorded_at
    finally:
        bootstrap.close(work.book)
    after = (datetime.fromisoformat(found[1]) - last).total_seconds()
    assert 0 <= after < 120
