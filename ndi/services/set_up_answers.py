"""The answers that begin a record book, read from what was typed: all of them checked, each wrong one named by its field."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from ndi.domain import facts as f
from ndi.domain.errors import InputError, WrongAnswers
from ndi.domain.secrets import SecretKind, checked
from ndi.domain.vocabulary import LEVEL_THREE, Method
from ndi.services import people
from ndi.services.workplace import Workplace

T = TypeVar("T")


@dataclass(frozen=True)
class SetUpAnswers:
    """What a book begins with besides its keys: its shop, its first station, its first two persons."""

    shop: str
    station: str
    administrator: people.Newcomer
    level_three: people.Newcomer
    qualifications: tuple[people.Qualification, ...]

    def enter(self, work: Workplace) -> object:
        """Enter the two persons into the new book."""
        return people.set_up(work, self.administrator, self.level_three, qualifications=self.qualifications)


# --- one answer -----------------------------------------------------------------------------------


def text(answer: str) -> str:
    """Something that is not empty."""
    if not answer.strip():
        raise InputError("an answer is needed")
    return answer


def person(answer: str) -> str:
    """The code of a person."""
    return people.check_code(answer, "person")


def password(answer: str, of: str) -> str:
    """A password that this person may have."""
    checked(SecretKind.PASSWORD, answer, of)
    return answer


def day(answer: str) -> date:
    """A date as YYYY-MM-DD."""
    try:
        return date.fromisoformat(answer)
    except ValueError:
        raise InputError(f"{answer!r} is not a date YYYY-MM-DD") from None


def day_or_none(answer: str) -> date | None:
    """A date, or None for an empty answer or a dash."""
    return None if answer in ("", "-") else day(answer)


# --- all answers ----------------------------------------------------------------------------------


def issued_name(method: Method) -> str:
    """The field of a level III certificate's day of issue."""
    return f"{method.lower()} issued"


def expires_name(method: Method) -> str:
    """The field of the day a level III certificate ends."""
    return f"{method.lower()} expires"


class _Reading:
    """Reads one field after the other and collects what is wrong."""

    def __init__(self, values: Mapping[str, str]) -> None:
        self.values = values
        self.problems: dict[str, str] = {}

    def read(self, name: str, how: Callable[[str], T]) -> T | None:
        try:
            return how(self.values.get(name, ""))
        except InputError as error:
            self.problems.setdefault(name, str(error))
            return None

    def check(self, name: str, call: Callable[[], object]) -> None:
        self.read(name, lambda _answer: call())


def read(values: Mapping[str, str]) -> SetUpAnswers:
    """All answers from what was typed; WrongAnswers names every field that cannot be used.

    Names: ``shop``, ``station``, ``administrator``, ``administrator password``, ``level3``, ``level3 password``,
    ``mt issued``, ``mt expires``, ``pt issued``, ``pt expires``, ``vision examined``, ``vision expires``.
    """
    reading = _Reading(values)
    shop, station = reading.read("shop", text), reading.read("station", text)
    administrator = _newcomer(reading, "administrator")
    level_three = _newcomer(reading, "level3")
    if administrator is not None and level_three is not None:
        same = administrator.person.casefold() == level_three.person.casefold()
        reading.check("level3" if same else "level3 password", lambda: people.check_two(administrator, level_three))
    qualifications = _qualifications(reading, level_three.person if level_three else values.get("level3", ""))
    if reading.problems or None in (shop, station, administrator, level_three):
        raise WrongAnswers(reading.problems)
    assert shop is not None and station is not None and administrator is not None and level_three is not None
    return SetUpAnswers(shop, station, administrator, level_three, qualifications)


def _newcomer(reading: _Reading, name: str) -> people.Newcomer | None:
    code = reading.read(name, person)
    secret = reading.read(f"{name} password", lambda answer: password(answer, code or ""))
    return people.Newcomer(code, secret) if code is not None and secret is not None else None


def _qualifications(reading: _Reading, holder: str) -> tuple[people.Qualification, ...]:
    found: list[people.Qualification] = []
    certificates = 0
    for method in Method:
        days = _from_to(reading, issued_name(method), expires_name(method))
        certificates += days is not None
        if isinstance(days, tuple):
            certificate = f.CertificateEntered(holder, method, LEVEL_THREE, *days)
            reading.check(expires_name(method), lambda certificate=certificate: people.check_days(certificate))  # type: ignore[misc]
            found.append(certificate)
    if not certificates:
        first = issued_name(next(iter(Method)))
        who = holder or "the Level III"
        reading.problems.setdefault(
            first, f"{who} holds no level {LEVEL_THREE} certificate: procedures are adopted by somebody who does"
        )
    days = _from_to(reading, "vision examined", "vision expires")
    if isinstance(days, tuple):
        exam = f.VisionExamEntered(holder, *days)
        reading.check("vision expires", lambda: people.check_days(exam))
        found.append(exam)
    return tuple(found)


def _from_to(reading: _Reading, first: str, last: str) -> tuple[date, date] | str | None:
    """Both days; None where there is nothing; a word where something of it is wrong."""
    begun = reading.read(first, day_or_none)
    if begun is None:
        given = first in reading.problems or reading.values.get(last, "") not in ("", "-")
        if given:
            reading.problems.setdefault(first, "an answer is needed: the day it ends is given")
        return "wrong" if given else None
    end = reading.read(last, day)
    return (begun, end) if end is not None else "wrong"
