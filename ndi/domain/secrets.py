"""What a secret must be like, and how long a person waits after wrong tries.  No cryptography is here.

The figures are of the program, not of a procedure: they guard signatures, they
judge no part.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from datetime import timedelta
from enum import StrEnum

from ndi.domain.errors import InputError


class SecretKind(StrEnum):
    """A PIN goes with a badge, in the booth; a password with the person's code, at the desk."""

    PIN = "pin"
    PASSWORD = "password"


PIN_LENGTH = 6  # digits at least; common practice, no source
PASSWORD_LENGTH = 12  # characters at least; OWASP ASVS 5.0, 6.2.1 asks 8 and advises 15
LONGEST = 256  # characters; ASVS 6.2.9 asks that 64 be allowed
FEWEST_DIFFERENT = 5  # different characters in a password; common practice, no source
CODE_VALID = timedelta(hours=24)  # of a one-time code; ASVS 6.4.1 asks for short-lived ones
PROOF_VALID = timedelta(minutes=2)  # from typing the secret to the signature; common practice, no source
# between two persons' secrets on one station, else they are asked about; common practice, no source
LEAST_GAP = timedelta(seconds=5)
TRIES = 5  # wrong ones in a row before a wait
WAITS = (timedelta(minutes=1), timedelta(minutes=5), timedelta(minutes=15))  # then the last again

_TRIVIAL = (
    "password",
    "passwort",
    "qwerty",
    "qwertz",
    "letmein",
    "welcome",
    "admin",
    "inspection",
    "inspector",
    "123456",
    "abcdef",
)
_DIGITS = "01234567890123456789"


def normalised(secret: str) -> str:
    """One way of writing the same characters (NFC), whatever keyboard they came from."""
    return unicodedata.normalize("NFC", secret)


def checked(kind: SecretKind, secret: str, person: str) -> str:
    """The secret as it is kept for comparison; InputError says what it must be like."""
    text = normalised(secret)
    if len(text) > LONGEST:
        raise InputError(f"a secret has at most {LONGEST} characters")
    if kind is SecretKind.PIN:
        _check_pin(text)
    else:
        _check_password(text, person)
    return text


def _check_pin(pin: str) -> None:
    if not (pin.isascii() and pin.isdigit()) or len(pin) < PIN_LENGTH:
        raise InputError(f"a PIN has {PIN_LENGTH} digits or more and nothing else")
    if len(set(pin)) == 1:
        raise InputError("this PIN is one digit again and again: choose another")
    if pin in _DIGITS or pin[::-1] in _DIGITS:
        raise InputError("this PIN only counts up or down: choose another")


def _check_password(password: str, person: str) -> None:
    if len(password) < PASSWORD_LENGTH:
        raise InputError(
            f"a password has {PASSWORD_LENGTH} characters or more, of any kind; a sentence is easy to remember"
        )
    folded = password.casefold()
    code = normalised(person).casefold()
    if code and code in folded:
        raise InputError("a password does not contain your own code: choose another")
    if len(set(folded)) < FEWEST_DIFFERENT:
        raise InputError("this password has too few different characters: choose another")
    rest = folded
    for word in _TRIVIAL:
        rest = rest.replace(word, "")
    if len(set(rest)) < FEWEST_DIFFERENT:
        raise InputError("this password is one of the first that anybody would try: choose another")


def wrong_in_a_row(tries: Iterable[bool]) -> int:
    """Wrong tries since the last right one; ``tries`` in the order they were made, True for right."""
    wrong = 0
    for right in tries:
        wrong = 0 if right else wrong + 1
    return wrong


def wait_after(wrong: int) -> timedelta:
    """How long a person waits on a station after so many wrong tries in a row; zero when the next one is free."""
    rounds, begun = divmod(wrong, TRIES)
    if begun or not rounds:
        return timedelta(0)
    return WAITS[min(rounds, len(WAITS)) - 1]
