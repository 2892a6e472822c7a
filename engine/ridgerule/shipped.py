"""Where the files that ship with the engine are: inside the installed package, or in a checkout."""

from __future__ import annotations

import pathlib
from functools import lru_cache
from typing import Literal

_PACKAGE = pathlib.Path(__file__).resolve().parent
_CHECKOUT = _PACKAGE.parent.parent
_IN_CHECKOUT = {"rulebooks": "rulebooks", "schemas": "schemas", "demo": "fixtures/demo"}


def shipped(name: Literal["rulebooks", "schemas", "demo"]) -> pathlib.Path:
    """Return the folder of the rulebooks, schemas or demo files that ship with the engine.

    Raises FileNotFoundError where there is none: the installation is incomplete.
    """
    for folder in (_PACKAGE / "shipped" / name, _CHECKOUT / _IN_CHECKOUT[name]):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(
        f"the installation of ridgerule is incomplete: its {name} folder is missing"
    )


PROVED = "PROVED"
"""Among the shipped rulebooks: the digests of those whose structure and cases are tested."""


@lru_cache(1)
def proved_digests() -> frozenset[str]:
    """Return the SHA-256 digests of the rulebooks that the tests have proved, byte for byte.

    Their structure need not be checked again each time they are read; any other file's is.
    """
    lines = (shipped("rulebooks") / PROVED).read_text(encoding="ascii").splitlines()
    return frozenset(line.split()[0] for line in lines if line and not line.startswith("#"))
