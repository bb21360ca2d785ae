"""Asks a person at the terminal; where no terminal is there, answers are the lines of the standard input."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Callable
from typing import TypeVar

from ndi.domain.errors import InputError

T = TypeVar("T")


def ask(question: str, read: Callable[[str], T]) -> T:
    """An answer in the form that is needed; at a terminal a wrong one is asked again, from a file it is an error."""
    while True:
        try:
            return read(_line(f"{question}: ").strip())
        except InputError as error:
            if not sys.stdin.isatty():
                raise InputError(f"{question}: {error}") from None
            print(f"  {error}")


def ask_new_secret(question: str, check: Callable[[str], object]) -> str:
    """A new secret without echo (``check`` says what it must be like); at a terminal it is typed twice."""
    if not sys.stdin.isatty():
        secret = _line(f"{question}: ")
        check(secret)
        return secret
    while True:
        secret = getpass.getpass(f"{question}: ")
        try:
            check(secret)
        except InputError as error:
            print(f"  {error}")
            continue
        if getpass.getpass(f"{question}, again: ") == secret:
            return secret
        print("  the two are not the same; type both again")


def _line(prompt: str) -> str:
    print(prompt, end="" if sys.stdin.isatty() else "\n", flush=True)
    line = sys.stdin.readline()
    if not line:
        raise InputError(f"the answers end before {prompt.rstrip(': ')!r}; answer every question")
    return line.rstrip("\r\n")
