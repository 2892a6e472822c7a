"""Keys that reports are signed and checked with: their files, and the extra that they need."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, NoReturn

from ridgerule.documents import load_document
from ridgerule.problems import InputRejected, Location, Problem, shown

if TYPE_CHECKING:
    from pathlib import Path

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

MOST_BYTES = 64 * 1024
"""Of a key's file; an Ed25519 key's has a hundred and twenty."""
_ED25519 = "an Ed25519 key in PEM, without a passphrase"
_NEW_KEY = "`ridgerule sign --new-key KEY.pem` makes one"


def need_cryptography(option: str) -> None:
    """Raise `InputRejected` where the library that signs is not installed."""
    try:
        import cryptography.hazmat.primitives.asymmetric.ed25519  # noqa: F401, PLC0415 - an extra
    except ImportError:
        told = "the extra `sign`, which signs and checks signatures"
        advice = "install it with `pip install 'ridgerule[sign]'`"
        problem = Problem(Location(option), told, "an installation without it", advice)
        raise InputRejected([problem]) from None


def private_key(path: Path) -> Ed25519PrivateKey:
    """Return the private key in a file; raises `InputRejected` where there is none."""
    from ridgerule.review.signatures import read_private_key  # noqa: PLC0415 - needs the extra

    key = read_private_key(_pem(path))
    if isinstance(key, str):
        _refuse(path, f"the private half of {_ED25519}", key, _NEW_KEY)
    return key


def public_key(path: Path) -> bytes:
    """Return the public key in a file; raises `InputRejected` where there is none."""
    from ridgerule.review.signatures import read_public_key  # noqa: PLC0415 - needs the extra

    key = read_public_key(_pem(path))
    if isinstance(key, str):
        _refuse(path, f"the public half of {_ED25519}", key, "ask the signer for it")
    return key


def write_new_key(path: Path) -> Path:
    """Write a new private key to a file that only its owner may read; return its public key's.

    Raises `InputRejected`, with neither written, where one is there already or can't be written.
    """
    from ridgerule.review.signatures import new_key  # noqa: PLC0415 - needs the extra

    public_path = path.with_name(f"{path.name.removesuffix('.pem')}.pub.pem")
    private, public = new_key()
    _create(path, private, 0o600)
    try:
        _create(public_path, public, 0o644)
    except BaseException:
        path.unlink()
        raise
    return public_path


def _pem(path: Path) -> bytes:
    if not path.is_file():
        load_document(path)  # which says what there is instead
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError:
        load_document(path)
        raise
    if len(raw) > MOST_BYTES:
        _refuse(path, _ED25519, f"a file of more than {MOST_BYTES >> 10} KiB", _NEW_KEY)
    return raw


def _refuse(path: Path, expected: str, found: str, advice: str) -> NoReturn:
    raise InputRejected([Problem(Location(shown(path)), expected, found, advice)])


def _create(path: Path, data: bytes, mode: int) -> None:
    """Write a file that is not there yet, whole or not at all."""
    advice = "choose another place"
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    except FileExistsError:
        advice = "a key is never written over: choose another name"
        _refuse(path, "no file there yet", "one", advice)
    except FileNotFoundError:
        _refuse(path, "a file that can be written", "no such folder", advice)
    except OSError as error:
        found = (error.strerror or "an error of the file system").lower()
        _refuse(path, "a file that can be written", found, advice)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        path.unlink()
        raise
