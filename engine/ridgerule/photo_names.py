"""The photos that a record names: under any `photo:`, by file name, a list, or with a digest."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from ridgerule.plain_data import words_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.documents import Document
    from ridgerule.plain_data import Data


def photo_names(data: Data) -> tuple[str, ...]:
    """Return the photos that stand under one `photo:`, in their order."""
    if isinstance(data, list):
        return tuple(chain.from_iterable(photo_names(item) for item in data))
    if isinstance(data, dict):
        return photo_names(data.get("file"))
    return (data,) if isinstance(data, str) and data else ()


def photos_named(document: Document) -> dict[str, str]:
    """Return the photos that a record names, in its order, each with the SHA-256 given for it."""
    found: dict[str, str] = {}
    for data in _photo_entries(document.data):
        for name in photo_names(data):
            digest = words_in(data.get("sha256")) if isinstance(data, dict) else ""
            found[name] = digest or found.get(name, "")
    return found


def _photo_entries(data: Data) -> Iterator[Data]:
    """Yield what stands under every `photo:`, lists taken apart."""
    if isinstance(data, list):
        for item in data:
            yield from _photo_entries(item)
    elif isinstance(data, dict):
        for key, item in data.items():
            if key == "photo":
                yield from item if isinstance(item, list) else [item]
            else:
                yield from _photo_entries(item)
