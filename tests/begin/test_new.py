"""A new book: two persons with secrets of their own, or nothing at all is made."""

from __future__ import annotations

from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.services.lookup import every
from tests.begin.conftest import Run

ANSWERS = (
    "ADM-1",
    "the quiet river bends",
    "L3-A",
    "seven lamps in a row",
    "2024-02-01",
    "2029-01-31",
    "-",
    "2026-02-01",
    "2027-01-31",
)


def typed(**changed: str) -> str:
    """The answers with some of them replaced, by their number (``a3`` is the fourth)."""
    return "".join(f"{changed.get(f'a{number}', answer)}\n" for number, answer in enumerate(ANSWERS))


def test_new_book_has_an_administrator_and_a_level_three_and_keys_outside(tmp_path: Path, ndi: Run) -> None:
    book = tmp_path / "shop.ndibook"
    said = ndi("new", book, "--shop", "H3", "--station", "DESK", typed=typed())
    assert (said.code, said.err) == (0, "")
    work = bootstrap.open_book(book)
    assert not work.practice
    with work.book.session(readonly=True) as session:
        assert {r.fact.person: r.fact.roles for r in every(session, f.PersonEntered)} == {
            "ADM-1": ("administrator",),
            "L3-A": ("level3", "inspector"),
        }
        (certificate,) = every(session, f.CertificateEntered)
        assert (certificate.fact.method, certificate.fact.level, str(certificate.fact.expires)) == (
            "MT",
            3,
            "2029-01-31",
        )
        assert {r.fact.person for r in every(session, f.SecretSet)} == {"ADM-1", "L3-A"}
    work.book.close()  # type: ignore[attr-defined]
    content = book.read_bytes()
    assert b"quiet river" not in content and b"seven lamps" not in content
    for key in (tmp_path / "shop-keys").iterdir():
        assert key.stat().st_mode & 0o077 == 0
        assert key.read_bytes().strip() not in content


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (typed(a1="short"), "12 characters"),
        (typed(a1="ADM-1 is my password"), "your own code"),
        (typed(a2="ADM-1"), "two persons"),
        (typed(a3=ANSWERS[1]), "same secret"),
        (typed(a4="1.2.2024"), "is not a date"),
        (typed(a4="2030-02-01"), "lies before"),
        (typed(a4="-", a5="-", a6="-", a7="-"), "no level 3 certificate"),
        (typed(a0=" "), "code of the person"),
        ("ADM-1\n", "the answers end"),
        ("", "the answers end"),
    ],
)
def test_answer_that_cannot_be_used_leaves_nothing_behind(tmp_path: Path, ndi: Run, answers: str, words: str) -> None:
    said = ndi("new", tmp_path / "shop.ndibook", "--shop", "H3", "--station", "DESK", typed=answers)
    assert said.code == 2 and words in said.err
    assert list(tmp_path.iterdir()) == []


def test_book_or_keys_that_are_there_are_left_alone(tmp_path: Path, ndi: Run) -> None:
    book = tmp_path / "shop.ndibook"
    book.write_text("mine")
    assert ndi("new", book, "--shop", "H3", "--station", "DESK", typed=typed()).code == 2
    assert book.read_text() == "mine"
    book.unlink()
    (tmp_path / "shop-keys").mkdir()
    (tmp_path / "shop-keys" / "old.key").write_text("mine")
    assert ndi("new", book, "--shop", "H3", "--station", "DESK", typed=typed()).code == 2
    assert not book.exists() and (tmp_path / "shop-keys" / "old.key").read_text() == "mine"


def test_shop_and_station_are_asked_for_when_not_given(tmp_path: Path, ndi: Run) -> None:
    assert ndi("new", tmp_path / "shop.ndibook", typed="H3\nDESK\n" + typed()).code == 0
    work = bootstrap.open_book(tmp_path / "shop.ndibook")
    assert work.station == "DESK"
    work.book.close()  # type: ignore[attr-defined]


def test_tables_of_a_real_book_are_signed_and_qualifications_wait_for_another(tmp_path: Path, ndi: Run) -> None:
    book, secret, wrong = tmp_path / "shop.ndibook", tmp_path / "secret", tmp_path / "wrong"
    ndi("new", book, "--shop", "H3", "--station", "DESK", typed=typed())
    secret.write_text(ANSWERS[1] + "\n")
    wrong.write_text("not the quiet river\n")
    people, certificates = tmp_path / "people.csv", tmp_path / "certificates.csv"
    people.write_text("person,roles\nL2-A,inspector\n")
    certificates.write_text("person,method,level,issued,expires\nL2-A,MT,2,2024-01-01,2029-01-01\n")

    mixed = ndi("import", book, people, certificates, "--by", "ADM-1", "--secret-file", secret)
    assert mixed.code == 2 and "one after another" in mixed.err
    assert ndi("import", book, people, "--by", "ADM-1", "--secret-file", wrong).code == 1
    assert "L2-A" not in ndi("person", "list", book).out
    assert ndi("import", book, people, "--by", "ADM-1", "--secret-file", secret).code == 0
    assert "QP-001" in ndi("import", book, certificates, "--by", "ADM-1", "--secret-file", secret).out
    assert "L2-A | inspector | no qualification today" in ndi("person", "list", book).out
    assert ndi("person", "confirm", book, "QP-001", "--by", "ADM-1", "--secret-file", secret).code == 1
    secret.write_text(ANSWERS[3] + "\n")
    assert ndi("import", book, people, "--by", "L3-A", "--check").code == 2  # L2-A is there already
    assert ndi("person", "confirm", book, "QP-001", "--by", "L3-A", "--secret-file", secret).code == 0
    assert "L2-A | inspector | MT level 2 to 2029-01-01" in ndi("person", "list", book).out
