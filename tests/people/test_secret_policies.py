"""What a secret must be like, and how it is kept."""

from __future__ import annotations

import stat
import unicodedata
from pathlib import Path

import pytest
from argon2 import extract_parameters
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi.domain.errors import InputError, StoreError
from ndi.domain.secrets import SecretKind, checked, wait_after, wrong_in_a_row
from ndi.store.secrets import PARAMETERS, BookSecrets, load_secrets, make_secret_file, secret_file
from tests.people.real_shop import CHEAP

PIN, PASSWORD = SecretKind.PIN, SecretKind.PASSWORD


@pytest.mark.parametrize("pin", ["204816", "112358132", "100000", "999990"])
def test_pin_of_six_digits_or_more_is_taken(pin: str) -> None:
    assert checked(PIN, pin, "L2-A") == pin


@pytest.mark.parametrize(
    "pin",
    [
        "20481",
        "",
        "20481a",
        "２０４８１６",
        "000000",
        "7777777",
        "123456",
        "0123456789",
        "654321",
        "890123",
        "321098",
        " 204816",
    ],
)
def test_pin_too_short_not_digits_one_digit_or_a_run_is_refused(pin: str) -> None:
    with pytest.raises(InputError):
        checked(PIN, pin, "L2-A")


@pytest.mark.parametrize("secret", ["abcdefghijkL", "grüne wiese 7 km", "пять серых цапель", "twelve chars"])
def test_password_of_twelve_characters_of_any_kind_is_taken(secret: str) -> None:
    assert checked(PASSWORD, secret, "L2-A") == unicodedata.normalize("NFC", secret)


@pytest.mark.parametrize(
    "secret",
    [
        "eleven char",
        "l2-a is here today",
        "xL2-Ayyyyyyyyy",
        "aaaaaaaaaaaaaaaa",
        "abababababab",
        "passwordpassword1",
        "qwertyqwerty",
        "x" * 257,
    ],
)
def test_password_too_short_with_own_code_or_trivial_is_refused(secret: str) -> None:
    with pytest.raises(InputError):
        checked(PASSWORD, secret, "L2-A")


def test_waits_are_1_5_15_15_minutes_after_each_five() -> None:
    minutes = {wrong: wait_after(wrong).total_seconds() / 60 for wrong in range(26)}
    assert {wrong: m for wrong, m in minutes.items() if m} == {5: 1, 10: 5, 15: 15, 20: 15, 25: 15}


@given(st.lists(st.booleans()))
@settings(derandomize=True, max_examples=200)
def test_wrong_tries_are_counted_from_the_last_right_one(tries: list[bool]) -> None:
    after = len(tries) - 1 - tries[::-1].index(True) if True in tries else -1
    assert wrong_in_a_row(tries) == len(tries) - 1 - after


# --- how it is kept -----------------------------------------------------------------------------------


def test_real_parameters_are_those_of_rfc_9106_and_above_owasp() -> None:
    """OWASP Password Storage Cheat Sheet: Argon2id with at least 19 MiB, 2 passes, 1 lane; RFC 9106 section 4: 64 MiB, 3, 4."""
    secrets = BookSecrets(b"k" * 32, PARAMETERS)
    kept = secrets.verifier("seven grey herons", "password of L2-A")
    found = extract_parameters(kept)
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert found.memory_cost >= 19 * 1024 and found.time_cost >= 2 and found.parallelism >= 1
    assert (found.memory_cost, found.time_cost, found.parallelism, found.salt_len) == (65536, 3, 4, 16)
    assert secrets.matches("seven grey herons", "password of L2-A", kept)
    assert not secrets.matches("seven grey heron", "password of L2-A", kept)


def test_a_verifier_fits_one_secret_of_one_person_under_one_key() -> None:
    secrets, other = BookSecrets(b"k" * 32, CHEAP), BookSecrets(b"j" * 32, CHEAP)
    kept = secrets.verifier("caf\u00e9 at the quay", "password of L2-A")
    assert secrets.matches("cafe\u0301 at the quay", "password of L2-A", kept)  # the same characters otherwise composed
    assert not secrets.matches("caf\u00e9 at the quay", "pin of L2-A", kept)
    assert not secrets.matches("caf\u00e9 at the quay", "password of L2-B", kept)
    assert not other.matches("caf\u00e9 at the quay", "password of L2-A", kept)
    assert not secrets.matches("caf\u00e9 at the quay", "password of L2-A", None)
    assert not secrets.matches("caf\u00e9 at the quay", "password of L2-A", "not a verifier")
    assert kept != secrets.verifier("caf\u00e9 at the quay", "password of L2-A")  # salted


def test_the_secret_file_is_private_random_and_never_overwritten(tmp_path: Path) -> None:
    make_secret_file(tmp_path, "BOOK1")
    make_secret_file(tmp_path, "BOOK2")
    one, two = (secret_file(tmp_path, name) for name in ("BOOK1", "BOOK2"))
    assert stat.S_IMODE(one.stat().st_mode) == 0o600
    assert len(bytes.fromhex(one.read_text().strip())) == 32
    assert one.read_text() != two.read_text()
    with pytest.raises(StoreError):
        make_secret_file(tmp_path, "BOOK1")


def test_a_missing_secret_file_is_none_and_a_spoiled_one_an_error(tmp_path: Path) -> None:
    assert load_secrets(tmp_path, "BOOK1") is None
    for text in ("", "zz", "ab" * 31):
        secret_file(tmp_path, "BOOK1").write_text(text)
        with pytest.raises(StoreError, match="copy it again"):
            load_secrets(tmp_path, "BOOK1")


def test_one_time_codes_are_ten_characters_that_cannot_be_misread() -> None:
    codes = {BookSecrets(b"k" * 32, CHEAP).one_time_code() for _ in range(200)}
    assert len(codes) == 200
    assert all(len(code) == 10 and not set(code) & set("ILOUilou") for code in codes)
