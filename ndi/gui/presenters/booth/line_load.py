"""Loading a basket from the line screen: which basket, which parts, into which line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ndi.domain.errors import InputError
from ndi.gui.presenters.booth.line_words import counted
from ndi.gui.presenters.booth.screen import number_key
from ndi.gui.presenters.scene import KeyHint, Part, Row, Rows, Said, Shape
from ndi.services import loading
from ndi.services.basket_orders import orders_text
from ndi.services.loading import Waiting
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

ON_A_PAGE = 8


class Loading:
    """A basket on its way to be loaded; nothing of it is a fact before ``enter``."""

    def __init__(self, booth: Booth, basket: str | None = None) -> None:
        self.booth = booth
        self.basket = basket  # as scanned
        self.run = ""  # the name of this use of it
        self.ticked: list[str] = []
        self.line: str | None = None
        self.waiting: tuple[Waiting, ...] = ()
        self.baskets: tuple[str, ...] = ()
        self.lines: tuple[str, ...] = ()
        self.page = 0

    def load(self, session: Session) -> None:
        work = self.booth.work
        self.waiting = loading.waiting_for_basket(work, session)
        names = [each.inspection for each in self.waiting]
        self.ticked = [name for name in self.ticked if name in names]
        if self.basket is None:
            self.baskets = loading.baskets_known(work, session)
        else:
            self.run = loading.next_run(session, self.basket)
        self.lines = self._fitting(session)
        self.page = min(self.page, max(0, (len(self.waiting) - 1) // ON_A_PAGE))

    def _fitting(self, session: Session) -> tuple[str, ...]:
        methods = {each.pt_method for each in self._chosen() if each.pt_method is not None}
        return loading.lines_for(session, methods.pop()) if len(methods) == 1 else ()

    def _chosen(self) -> list[Waiting]:
        return [each for each in self.waiting if each.inspection in self.ticked]

    @property
    def _shown(self) -> tuple[Waiting, ...]:
        return self.waiting[self.page * ON_A_PAGE : (self.page + 1) * ON_A_PAGE]

    @property
    def counted(self) -> int | None:
        """The pieces that were each ticked by themselves; None when a lot is among them, whose pieces are counted."""
        chosen = self._chosen()
        return len(chosen) if chosen and all(each.quantity == 1 for each in chosen) else None

    @property
    def asks_line(self) -> bool:
        """Whether a line has to be chosen by hand."""
        return self.line is None and len(self.lines) > 1

    # --- what is shown ---

    def title(self) -> str:
        return f"Load {self.run}" if self.basket else "Load a basket"

    def parts(self) -> tuple[Part, ...]:
        if self.basket is None:
            rows = tuple(Row(name, key=str(number)) for number, name in enumerate(self.baskets[:9], 1))
            return (Rows(rows, "Which basket? Scan it or choose", "Scan the basket."),)
        rows = tuple(
            Row(
                f"{each.called}  {each.inspection}",
                self._about(each),
                self._shape(each),
                str(number),
            )
            for number, each in enumerate(self._shown, 1)
        )
        pages = f", page {self.page + 1}" if len(self.waiting) > ON_A_PAGE else ""
        found: list[Part] = [Rows(rows, f"Scan or tick each part that goes in{pages}", "No part waits for a basket.")]
        if self.asks_line:
            named = "  ".join(f"+{number} {name}" for number, name in enumerate(self.lines, 1))
            found.append(Said(f"{named}: press + for the next", "Which line?"))
        elif self.lines or self.line:
            found.append(Said(self.line or self.lines[0], "Line"))
        if self.orders:
            text = f"{orders_text(self.orders)}. Look at each part. 0: they are meant to go together"
            found.append(Said(text, "Two engines"))
        pieces = counted(self.counted, "piece") if self.counted else "pieces to be counted"
        found.append(Said(f"{counted(len(self.ticked), 'record')}, {pieces}", "In the basket"))
        return tuple(found)

    @property
    def orders(self) -> list[tuple[str, str]]:
        """Work order and part of everything ticked, where it is of more than one engine; else nothing."""
        chosen = self._chosen()
        found = [(each.work_order, each.called) for each in chosen]
        return found if len({order for order, _ in found}) > 1 else []

    def _shape(self, each: Waiting) -> Shape:
        """A cross where a part is of another engine than the first that was ticked."""
        if each.inspection not in self.ticked:
            return Shape.OPEN
        first = next(one for one in self.waiting if one.inspection == self.ticked[0])
        return Shape.DONE if each.work_order == first.work_order else Shape.CROSS

    def _about(self, each: Waiting) -> str:
        pieces = counted(each.quantity, "piece") if each.quantity > 1 else ""
        attempt = f"attempt {each.attempt}" if each.attempt > 1 else ""
        of = each.work_order if len({one.work_order for one in self.waiting}) > 1 else ""
        return ", ".join(filter(None, [pieces, attempt, f"Method {each.pt_method}" if each.pt_method else "", of]))

    def keys(self) -> tuple[KeyHint, ...]:
        if self.basket is None:
            return (KeyHint("1-9", "basket"), KeyHint(".", "back"))
        more = (KeyHint("9", "next page"),) if len(self.waiting) > ON_A_PAGE else ()
        load = KeyHint("0", "load all the same") if self.orders else KeyHint("enter", "load")
        return (KeyHint("1-8", "part in"), *more, load, KeyHint(".", "back"))

    # --- what is done ---

    def choose(self, key: str) -> bool:
        """A digit: a basket while none is named, else a part in or out; ``+`` the next line."""
        number = number_key(key)
        if key == "+" and len(self.lines) > 1:
            place = self.lines.index(self.line) + 1 if self.line in self.lines else 0
            self.line = self.lines[place % len(self.lines)]
            return True
        if number is None:
            return False
        if self.basket is None:
            if 1 <= number <= len(self.baskets[:9]):
                self.basket = self.baskets[number - 1]
            return True
        if number == 9 and len(self.waiting) > ON_A_PAGE:
            self.page = 0 if (self.page + 1) * ON_A_PAGE >= len(self.waiting) else self.page + 1
        elif 1 <= number <= len(self._shown):
            self.tick(self._shown[number - 1].inspection)
        return True

    def tick(self, inspection: str) -> None:
        """In, or out again."""
        if inspection in self.ticked:
            self.ticked.remove(inspection)
        else:
            self.ticked.append(inspection)

    def part(self, part: str) -> None:
        """A part's code was scanned: it is in; InputError when it does not wait for a basket."""
        found = [each for each in self.waiting if part in (each.part, each.inspection)]
        if not found:
            raise InputError(
                f"{part} does not wait for a basket: open its penetrant record first, or give its attempt up"
            )
        if found[0].inspection not in self.ticked:
            self.ticked.append(found[0].inspection)
        self.booth.say(f"{found[0].called} is in {self.run}")

    def done(self, mixed: bool | None = None) -> bool:
        """Load it; False when refused.  ``mixed``: parts of two engines are meant to go together."""
        if self.basket is None:
            raise InputError("scan the basket first")
        if self.asks_line:
            raise InputError("choose the line: press +")
        booth, run, names = self.booth, self.run, tuple(self.ticked)
        person, line = booth.person(), self.line
        loaded = booth.do(lambda: loading.load_basket(booth.work, run, names, person, line=line, mixed_orders=mixed))
        return loaded is not None

    # --- over a power cut ---

    def keep(self) -> dict[str, Any]:
        return {"basket": self.basket, "ticked": self.ticked, "line": self.line, "page": self.page}

    @classmethod
    def of(cls, booth: Booth, kept: dict[str, Any]) -> Loading:
        """The reverse of :meth:`keep`."""
        found = cls(booth, kept.get("basket"))
        found.ticked, found.line, found.page = list(kept.get("ticked", [])), kept.get("line"), kept.get("page", 0)
        return found
