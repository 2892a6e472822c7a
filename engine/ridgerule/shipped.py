"""Where the files that ship with the engine are: inside the installed package, or in a checkout."""

from __future__ import annotations

import pathlib
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
