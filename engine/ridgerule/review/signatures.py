"""Ed25519 signatures (RFC 8032) over reports as canonical JSON; needs the extra `sign`.

What is signed is the data, not the layout: keys in another order or other white space leave a
signature good. Keys are PEM files, PKCS #8 for the private and SubjectPublicKeyInfo for the public.
"""

from __future__ import annotations

import base64
import json
from typing import TYPE_CHECKING

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)
from msgspec import Struct

from ridgerule.canonical import canonical_digest, canonical_json
from ridgerule.problems import InputRejected, Problem
from ridgerule.review.verification import Validity
from ridgerule.schemas import problems_of
from ridgerule.shipped import shipped

if TYPE_CHECKING:
    from ridgerule.documents import Data, Document

FORM = 1
"""The version of the signature file's form."""
ALGORITHM = "Ed25519"


class Signature(Struct, frozen=True):
    """A signature, what it is of, and the key that it can be checked with."""

    digest: str
    """SHA-256 of the canonical JSON that was signed."""
    public_key: bytes
    value: bytes

    @property
    def public_key_text(self) -> str:
        """The public key in Base64."""
        return base64.b64encode(self.public_key).decode()


def new_key() -> tuple[bytes, bytes]:
    """Return a new private key and its public key, both as PEM."""
    private = Ed25519PrivateKey.generate()
    public = private.public_key()
    return (
        private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()),
        public.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo),
    )


def read_private_key(pem: bytes) -> Ed25519PrivateKey | str:
    """Return the private key in a PEM file, or in words what was found instead."""
    if b"PUBLIC KEY-----" in pem:
        return "a public key"
    try:
        key = load_pem_private_key(pem, password=None)
    except TypeError:
        return "a key locked with a passphrase"
    except (ValueError, UnsupportedAlgorithm):
        return "no key that can be read"
    return key if isinstance(key, Ed25519PrivateKey) else "a key of another kind"


def read_public_key(pem: bytes) -> bytes | str:
    """Return the 32 bytes of the public key in a PEM file, or in words what was found instead."""
    if b"PRIVATE KEY-----" in pem:
        return "a private key"
    try:
        key = load_pem_public_key(pem)
    except (ValueError, UnsupportedAlgorithm):
        return "no key that can be read"
    if not isinstance(key, Ed25519PublicKey):
        return "a key of another kind"
    return key.public_bytes_raw()


def signature_of(data: Data, key: Ed25519PrivateKey) -> Signature:
    """Return the signature of data as canonical JSON."""
    return Signature(
        digest=canonical_digest(data),
        public_key=key.public_key().public_bytes_raw(),
        value=signed(canonical_json(data), key),
    )


def signed(message: bytes, key: Ed25519PrivateKey) -> bytes:
    """Return the 64 bytes of a message's signature, the same each time."""
    return key.sign(message)


def is_signed(message: bytes, value: bytes, public_key: bytes) -> bool:
    """Tell whether a signature is a message's, by a public key of 32 bytes."""
    try:
        Ed25519PublicKey.from_public_bytes(public_key).verify(value, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def validity(signature: Signature, data: Data, public_key: bytes | None) -> Validity:
    """Return what a signature shows of data, by the public key of whoever should have signed."""
    if signature.digest != canonical_digest(data):
        return Validity.OTHER_REPORT
    if not is_signed(canonical_json(data), signature.value, signature.public_key):
        return Validity.NOT_VALID
    if public_key is None:
        return Validity.KEY_NOT_GIVEN
    return Validity.VALID if public_key == signature.public_key else Validity.OTHER_KEY


def as_file(signature: Signature) -> str:
    """Return a signature as the text of a file, in the form of `schemas/signature.schema.json`."""
    data = {
        "signature": FORM,
        "algorithm": ALGORITHM,
        "canonical_digest": signature.digest,
        "public_key": signature.public_key_text,
        "value": base64.b64encode(signature.value).decode(),
    }
    return json.dumps(data, indent=2) + "\n"


def read_signature(document: Document) -> Signature:
    """Return the signature in a document.

    Raises `InputRejected` with what it does otherwise than the schema of signatures asks.
    """
    schema = json.loads((shipped("schemas") / "signature.schema.json").read_text("utf-8"))
    data = document.data
    if not isinstance(data, dict) or "signature" not in data:
        found = "something else"
        advice = "`ridgerule sign` makes one"
        raise InputRejected([Problem(document.location(), schema["expects"], found, advice)])
    if problems := problems_of(document, schema):
        raise InputRejected(problems)
    return Signature(
        digest=str(data["canonical_digest"]),
        public_key=base64.b64decode(str(data["public_key"])),
        value=base64.b64decode(str(data["value"])),
    )
