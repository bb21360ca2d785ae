"""Secrets: keyed with the book's secret file, then Argon2id; nothing typed is ever kept.

The book secret file (32 random bytes, mode 0600) lies in the key folder, outside
the book, under the book's own id.  Every station of a book needs the same file:
the administrator copies it.  Without it no secret can be compared, so it has a
backup of its own, apart from that of the book.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets as random
from pathlib import Path

from argon2 import Parameters, PasswordHasher, Type
from argon2.exceptions import Argon2Error, InvalidHashError

from ndi.domain.check_code import CROCKFORD_ALPHABET
from ndi.domain.errors import StoreError
from ndi.domain.secrets import normalised
from ndi.store.host import write_private

# Argon2id, 64 MiB, 3 passes, 4 lanes: RFC 9106 section 4, second recommendation (memory-constrained), the default of
# argon2-cffi 25.1; the OWASP Password Storage Cheat Sheet asks 19 MiB, 2 passes, 1 lane at least.
PARAMETERS = Parameters(
    Type.ID, version=19, salt_len=16, hash_len=32, time_cost=3, memory_cost=64 * 1024, parallelism=4
)

SECRET_BYTES = 32
CODE_LENGTH = 10  # characters of 5 bits: one in 10^15, and five tries


class BookSecrets:
    """Makes and compares verifiers under one book's secret file (:class:`ndi.services.ports.Secrets`)."""

    def __init__(self, key: bytes, parameters: Parameters | None = None) -> None:
        self._key, self._hasher = key, PasswordHasher.from_parameters(parameters or PARAMETERS)

    def verifier(self, secret: str, of: str) -> str:
        """What is kept of a secret; ``of`` says whose and of which kind, so that it fits nobody else."""
        return self._hasher.hash(self._keyed(secret, of))

    def matches(self, secret: str, of: str, verifier: str | None) -> bool:
        """Whether a typed secret is the one behind a verifier; without a verifier it takes as long and is wrong."""
        if verifier is None:
            self._hasher.hash(self._keyed(secret, of))
            return False
        try:
            return self._hasher.verify(verifier, self._keyed(secret, of))
        except (Argon2Error, InvalidHashError):
            return False

    def outdated(self, verifier: str) -> bool:
        """Whether a verifier was made with weaker parameters than today's."""
        return self._hasher.check_needs_rehash(verifier)

    def one_time_code(self) -> str:
        """A random code to be told to a person."""
        return "".join(random.choice(CROCKFORD_ALPHABET) for _ in range(CODE_LENGTH))

    def pseudonym(self, name: str) -> str:
        """Stands for a name that the book does not know: it may be a secret typed into the wrong field."""
        return hmac.new(self._key, b"name\n" + normalised(name).encode(), hashlib.sha256).hexdigest()[:12]

    def _keyed(self, secret: str, of: str) -> bytes:
        return hmac.new(self._key, f"{of}\n{normalised(secret)}".encode(), hashlib.sha256).digest()


def secret_file(key_folder: Path, book: str) -> Path:
    """Where a station keeps the secret file of a book."""
    return key_folder / f"{book}.pepper"


def make_secret_file(key_folder: Path, book: str) -> None:
    """Begin the secret file of a new book; StoreError if there is one."""
    write_private(secret_file(key_folder, book), random.token_hex(SECRET_BYTES) + "\n")


def load_secrets(key_folder: Path, book: str) -> BookSecrets | None:
    """The secrets of a book, None if its secret file is not here; StoreError if it cannot be used."""
    path = secret_file(key_folder, book)
    try:
        key = bytes.fromhex(path.read_text(encoding="ascii").strip())
    except FileNotFoundError:
        return None
    except OSError as error:
        raise StoreError(f"the book secret file {path} cannot be read ({error.strerror}): check its rights") from error
    except ValueError as error:
        raise StoreError(
            f"{path} is not a book secret file: copy it again from another station or from its own backup"
        ) from error
    if len(key) != SECRET_BYTES:
        raise StoreError(f"{path} is not whole: copy it again from another station or from its own backup")
    return BookSecrets(key)
