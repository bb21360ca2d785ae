"""The check code against a second implementation, and the QR text read back."""

from __future__ import annotations

import base64
import hashlib
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.domain.check_code import CROCKFORD_ALPHABET, check_code, parse_qr, qr_text, typed_code
from ndi.domain.errors import InputError

# RFC 4648 section 6 gives base 32 its alphabet, which the standard library implements;
# Douglas Crockford's public description of base 32 gives the other one, symbol for symbol
RFC_4648 = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
HASH = "0123456789abcdef" * 4


def second_opinion(lines: list[str]) -> str:
    text = unicodedata.normalize("NFC", "\n".join(line.strip() for line in lines))
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return base64.b32encode(digest).decode("ascii").translate(str.maketrans(RFC_4648, CROCKFORD))[:8]


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"])), max_size=30))
def test_check_code_any_lines_equals_base32_of_the_standard_library(lines: list[str]) -> None:
    assert check_code(lines) == second_opinion(lines)


def test_alphabet_is_crockfords_without_i_l_o_u() -> None:
    assert CROCKFORD_ALPHABET == CROCKFORD
    assert set("ILOU").isdisjoint(CROCKFORD_ALPHABET)


def test_check_code_of_the_abc_of_fips_180() -> None:
    # SHA-256("abc") begins ba7816bf8f (FIPS 180-2, appendix B.1); 40 bits by hand:
    # 10111 01001 11100 00001 01101 01111 11100 01111 = Q 9 W 1 D F W F
    assert check_code(["abc"]) == "Q9W1DFWF"


def test_check_code_composed_and_decomposed_accents_are_one() -> None:
    assert check_code(["forg\u00e9e"]) == check_code(["forge\u0301e"])


def test_check_code_blanks_at_the_ends_do_not_count() -> None:
    assert check_code(["  TAG 5512 ", "REJECT"]) == check_code(["TAG 5512", "REJECT\t"])


@pytest.mark.parametrize(
    "changed",
    [["TAG 5513", "REJECT"], ["REJECT", "TAG 5512"], ["TAG 5512 REJECT"], ["TAG 5512", "REJECT", ""], ["TAG 5512"]],
)
def test_check_code_changed_swapped_joined_added_or_lost_line_differs(changed: list[str]) -> None:
    assert check_code(changed) != check_code(["TAG 5512", "REJECT"])


def test_qr_text_read_back_gives_the_three() -> None:
    text = qr_text("7Q2M4K9XWD", 5512, HASH)
    assert text == "ndi:7Q2M4K9XWD:5512:0123456789abcdef"
    assert parse_qr(text) == ("7Q2M4K9XWD", 5512, "0123456789abcdef")
    assert parse_qr(f" {text}\r\n").tag_no == 5512


@pytest.mark.parametrize(
    "text",
    [
        "",
        "5512",
        "ndi:7Q2M4K9XWD:5512",
        "ndi:7Q2M4K9XWD:0:0123456789abcdef",
        "ndi:7Q2M4K9XWD:05512:0123456789abcdef",
        "ndi::5512:0123456789abcdef",
        "ndi:7Q2M4K9XWD:5512:0123456789abcde",
        "ndi:7Q2M4K9XWD:5512:0123456789ABCDEF",
        "ndi:7Q2M4K9XWD:5512:0123456789abcdef0",
        "xndi:7Q2M4K9XWD:5512:0123456789abcdef",
        "ndi:7Q2M4K9XWD:٥٥:0123456789abcdef",
    ],
)
def test_parse_qr_something_else_scanned_says_what_and_what_to_do(text: str) -> None:
    with pytest.raises(InputError) as refused:
        parse_qr(text)
    assert repr(text) in str(refused.value)
    assert "scan the square code of the tag again or type the tag number" in str(refused.value)


@pytest.mark.parametrize(
    ("book", "number", "record_hash"),
    [("", 1, HASH), ("A:B", 1, HASH), ("A B", 1, HASH), ("AB", 0, HASH), ("AB", -1, HASH), ("AB", 1, HASH[:16])],
)
def test_qr_text_what_could_not_be_read_back_is_refused(book: str, number: int, record_hash: str) -> None:
    with pytest.raises(InputError):
        qr_text(book, number, record_hash)


@pytest.mark.parametrize(
    ("typed", "code"), [("4nvcj7x5", "4NVCJ7X5"), (" OIL0o1il ", "01100111"), ("HTX0AAMD", "HTX0AAMD")]
)
def test_typed_code_is_read_as_its_alphabet_asks(typed: str, code: str) -> None:
    """Crockford: case does not count, O is 0, I and L are 1."""
    assert typed_code(typed) == code


@pytest.mark.parametrize("typed", ["", "4NVCJ7X", "4NVCJ7X55", "4NVCJ7XU", "4NVC-7X5"])
def test_typed_code_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(InputError, match="check code"):
        typed_code(typed)
