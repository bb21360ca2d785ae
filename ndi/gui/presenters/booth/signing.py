"""The signature: meaning and cover are shown, the secret is typed on the keypad (or a keyboard), never shown, never kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, ClassVar

from ndi.gui.presenters.booth.screen import ENTER, Screen
from ndi.gui.presenters.scene import Asked, Form, KeyHint, Part, Row, Rows, Said, Side
from ndi.services import signing
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth


class Signing(Screen):
    """``sign`` gets the proof; ``then`` is called when it was taken.  In a practice book Enter is enough."""

    name: ClassVar[str] = "signing"
    is_secret: ClassVar[bool] = True

    def __init__(
        self,
        booth: Booth,
        *,
        title: str = "",
        meaning: Meaning = Meaning.PERFORMED,
        covers: Sequence[str] = (),
        sign: Callable[[Proof | None], object] | None = None,
        then: Callable[[], None] | None = None,
    ) -> None:
        super().__init__(booth)
        self._title, self.meaning, self.covers = title, meaning, tuple(covers)
        self._sign, self._then = sign, then
        self.typing = None if booth.work.practice else ""

    def load(self, session: Session) -> None:
        if self._sign is None:
            raise ValueError("a signature is begun from what is to be signed")

    def title(self) -> str:
        return self._title

    def parts(self) -> tuple[Part | Side, ...]:
        who = self.booth.hand.person or "nobody: scan your badge"
        shown = Rows(tuple(Row(line) for line in self.covers), f"{who} signs: {self.meaning}")
        if self.typing is None:
            return shown, Said("Practice book: Enter signs, no secret is asked", "Signature")
        kind = "PIN" if self.booth.hand.badge else "Password"
        return shown, Form((Asked(kind, "•" * len(self.typing), secret=True),), "Signature")

    def keys(self) -> tuple[KeyHint, ...]:
        if self.typing is None:
            return (KeyHint("Enter", "sign"), KeyHint(".", "back"))
        return (KeyHint("Enter", "sign"), KeyHint("-", "delete, back"))

    def press(self, key: str) -> bool:
        if key == ENTER and self.typing is None:
            self._signed(None)
            return True
        if key == "-" and self.typing == "":
            self.booth.back()
            return True
        return False

    def entered(self, typed: str) -> None:
        self._prove(typed)

    def text(self, text: str) -> bool:
        if self.typing is None or text.startswith(("badge:", "person:")):
            return False
        self._prove(self.typing + text)
        return True

    def _prove(self, secret: str) -> None:
        booth = self.booth
        self.typing = ""
        person, badge = booth.person(), booth.hand.badge
        proof = booth.do(lambda: signing.prove(booth.work, person, secret, self.meaning, self.covers, badge=badge))
        if proof is not None:
            self._signed(proof)

    def _signed(self, proof: Proof | None) -> None:
        booth, sign = self.booth, self._sign
        assert sign is not None
        if booth.do(lambda: (sign(proof),)) is None:
            return
        if booth.screen is self:
            booth.stack.pop()
        booth.reload()
        booth.say("signed and saved")
        if self._then is not None:
            self._then()

    def keep(self) -> dict[str, Any]:
        return {}
