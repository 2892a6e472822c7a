"""Plain data -> canonical JSON (RFC 8785), and the SHA-256 of it.

Two files that hold the same data give the same bytes here, whatever the order of their keys, their
line ends, their comments, or whether they are YAML or JSON. Exact values are text in our data, so
nothing depends on how a machine prints a float: a float is refused, as a mistake of ours.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

_WHOLE = 2**53 - 1
"""The largest whole number that every reader of JSON gives back (RFC 8785, 3.2.2.3; RFC 7493)."""


def canonical_json(data: object) -> bytes:
    """Return `data` as canonical JSON, in UTF-8.

    Raises TypeError for a float or anything else that our data never holds, ValueError for a whole
    number beyond 2^53 - 1 and for half a surrogate pair.
    """
    from rfc8785 import dumps  # noqa: PLC0415 - only where a digest is asked for

    # The library would print a float as RFC 8785 says, and we want none.
    return dumps(_plain(data))


def canonical_digest(data: object) -> str:
    """Return the SHA-256 of the canonical JSON of `data`, in hexadecimal; raises as that does."""
    return hashlib.sha256(canonical_json(data)).hexdigest()


def _plain(data: object) -> Any:  # noqa: ANN401 - what a JSON library takes
    """Return the data as a JSON library takes it, tuples as lists."""
    if data is None or isinstance(data, (bool, str)):
        return data
    if isinstance(data, int):
        if abs(data) > _WHOLE:
            raise ValueError(f"{data} is beyond what every reader of JSON gives back: write text")
        return data
    if isinstance(data, (list, tuple)):
        return [_plain(item) for item in data]
    if isinstance(data, Mapping):
        return {_key(key): _plain(value) for key, value in data.items()}
    raise TypeError(f"our data holds no {type(data).__name__}: write an exact value as text")


def _key(key: object) -> str:
    if not isinstance(key, str):
        raise TypeError(f"a key is text, not a {type(key).__name__}")
    return key
