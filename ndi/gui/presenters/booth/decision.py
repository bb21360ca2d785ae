"""The decision: red lines first, one key to each; then the word, and the signature."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain.answer import Answer, Severity, Verdict
from ndi.gui.presenters.booth.red_line import RedLine
from ndi.gui.presenters.booth.screen import ENTER, INDICATION, Screen, number_key
from ndi.gui.presenters.booth.texts import answer_shape
from ndi.gui.presenters.scene import Big, KeyHint, Part, Row, Rows, Said, Shape, Side
from ndi.services import covers, deciding
from ndi.services.ports import InspectionRow, Session
from ndi.services.proof import Meaning, Proof
from ndi.services.proposing import Proposal, proposals

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

LINES = 5  # red lines on a page: keys 1 to 5
_WORD_KEYS = ("6", "7", "8", "9")


class Decision(Screen):
    """``1``-``5`` open a red line, ``enter`` signs ACCEPT when nothing stands in its way, ``6``-``9`` another word."""

    name: ClassVar[str] = "decision"

    def __init__(self, booth: Booth, inspection: str | None = None) -> None:
        super().__init__(booth)
        self.inspection = inspection
        self.row: InspectionRow | None = None
        self.proposals: tuple[Proposal, ...] = ()
        self.asked = 0
        self.page = 0

    def load(self, session: Session) -> None:
        assert self.inspection is not None
        self.row = session.inspection(self.inspection)
        person = self.booth.hand.person
        self.proposals = proposals(self.booth.work, session, self.inspection, person)
        self.asked = self.proposals[0].asked if self.proposals else 0

    @property
    def accept(self) -> Proposal:
        return self.proposals[0]

    @property
    def red(self) -> tuple[Answer, ...]:
        return self.accept.in_the_way

    @property
    def others(self) -> tuple[Proposal, ...]:
        return self.proposals[1 : 1 + len(_WORD_KEYS)]

    def title(self) -> str:
        return f"Decide {self.inspection}"

    def parts(self) -> tuple[Part | Side, ...]:
        assert self.row is not None
        if self.row.decision is not None and not self.row.suspended:
            word = self.row.disposition + (" PROVISIONAL" if self.row.provisional else "")
            return (Big(word, "is signed"), Said("Enter prints the tag", "Next"))
        shown = self.red[self.page * LINES : (self.page + 1) * LINES]
        rows = tuple(
            Row(_says(answer), f"{answer.rule} {answer.verdict}", answer_shape(answer), str(n))
            for n, answer in enumerate(shown, 1)
        )
        more = f", page {self.page + 1} of {self._pages}" if self._pages > 1 else ""
        heading = f"In the way of ACCEPT: {len(self.red)} of {self.asked} questions{more}"
        nothing = f"Nothing stands in the way of ACCEPT: {self.asked} questions asked."
        return (Side((Rows(rows, heading, nothing),), (Rows(self._words(), "Sign"),), 0.64),)

    @property
    def _pages(self) -> int:
        return max(1, -(-len(self.red) // LINES))

    def _words(self) -> tuple[Row, ...]:
        rows = []
        waits = self.accept.waits_for
        if not self.red:
            rows.append(Row("ACCEPT" + (" - PROVISIONAL" if waits else ""), waits, Shape.DONE, "Enter", selected=True))
        for key, proposal in zip(_WORD_KEYS, self.others, strict=False):
            blocked = f"{len(proposal.in_the_way)} in the way" if proposal.in_the_way else proposal.detail
            rows.append(Row(proposal.words, blocked, Shape.CROSS if proposal.in_the_way else Shape.DASH, key))
        return tuple(rows)

    def keys(self) -> tuple[KeyHint, ...]:
        hints = [KeyHint("1-5", "red line")] if self.red else [KeyHint("Enter", "sign ACCEPT")]
        if self._pages > 1:
            hints.append(KeyHint("0", "next page"))
        return (
            *hints,
            KeyHint("6-9", "other word"),
            KeyHint("+", "indication"),
            KeyHint("-", "undo"),
            KeyHint(".", "back"),
        )

    # --- keys ---

    def press(self, key: str) -> bool:
        assert self.row is not None
        booth, number = self.booth, number_key(key)
        if key == INDICATION:
            booth.go(booth.make_screen("indication", booth, inspection=self.inspection))
        elif key == ENTER and self.row.decision is not None and not self.row.suspended:
            booth.swap(booth.make_screen("tag", booth, inspection=self.inspection))
        elif key == ENTER:
            if self.red:
                booth.refuse(f"{len(self.red)} questions stand in the way of ACCEPT: open each by its number")
            else:
                self._sign(self.accept)
        elif key == "0" and self._pages > 1:
            self.page = (self.page + 1) % self._pages
        elif number is not None and 1 <= number <= LINES:
            shown = self.red[self.page * LINES : (self.page + 1) * LINES]
            if number <= len(shown):
                booth.go(RedLine(booth, self.inspection, shown[number - 1]))
        elif key in _WORD_KEYS and _WORD_KEYS.index(key) < len(self.others):
            proposal = self.others[_WORD_KEYS.index(key)]
            if proposal.in_the_way:
                booth.go(RedLine(booth, self.inspection, proposal.in_the_way[0]))
            else:
                self._sign(proposal)
        else:
            return False
        return True

    def _sign(self, proposal: Proposal) -> None:
        booth, inspection, row = self.booth, self.inspection, self.row
        assert inspection is not None and row is not None
        person = booth.person()

        def sign(proof: Proof | None) -> object:
            return deciding.sign_decision(
                booth.work,
                inspection,
                person,
                proposal.disposition,
                children=proposal.children,
                seen=row.version,
                proof=proof,
            )

        def then() -> None:
            booth.swap(booth.make_screen("tag", booth, inspection=inspection))

        booth.go(
            booth.make_screen(
                "signing",
                booth,
                title=f"Sign {proposal.words}",
                meaning=Meaning.PERFORMED,
                covers=covers.decision(row, proposal.disposition, proposal.children),
                sign=sign,
                then=then,
            )
        )

    def keep(self) -> dict[str, Any]:
        return {"inspection": self.inspection, "page": self.page}

    def restore(self, kept: dict[str, Any]) -> None:
        self.inspection, self.page = kept["inspection"], int(kept.get("page", 0))


def _says(answer: Answer) -> str:
    if answer.says:
        return answer.says
    if answer.verdict is Verdict.FAIL:
        return f"found {answer.found}, limit {answer.limit}"
    return "warning, no reason given" if answer.severity is Severity.WARN else str(answer.verdict).lower()
