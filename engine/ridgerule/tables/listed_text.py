"""Several values in one cell: names, photos, repeats, parted so that none is lost.

Names are parted by commas, other values by semicolons. What could not be told apart again that way
(a file name with a semicolon, a photo with its digest) is written as JSON, which begins with `[`,
`{` or a double quote as no plain cell does.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, cast

from ridgerule.misreadings import Mistake
from ridgerule.plain_data import CONTROLS, whole_or_text
from ridgerule.problems import shown
from ridgerule.record import unknown_reason

if TYPE_CHECKING:
    from ridgerule.documents import Data

NONE_OF_THEM = "(none)"
"""How a cell says that a list is there and empty: a station made for no facts."""
_JSON = ("[", "{", '"')
_DEEPEST = 4
"""Levels of lists and mappings in one cell; a list of photos with their digests has two."""
_PARTED = re.compile(r"[;\n]")
_NAMES_PARTED = re.compile(r"[,;\n]")


def joined(data: Data, *, is_names: bool = False) -> str:
    """Return a list, or one value of it, as the text of a cell; `split` gives it back."""
    if data == [] and is_names:
        return NONE_OF_THEM
    items = data if isinstance(data, list) else [data]
    parted = _NAMES_PARTED if is_names else _PARTED
    # One word for not knowing is no list with a name in it.
    is_unknown = isinstance(data, list) and len(items) == 1 and unknown_reason(items[0])
    if not is_unknown and all(_is_plain(item, parted) for item in items):
        return (", " if is_names else "; ").join(str(item) for item in items)
    return json.dumps(data, ensure_ascii=False)


def split(text: str, *, is_names: bool = False) -> Data | Mistake:
    """Return the list in the text of a cell, or what is wrong with it.

    One value alone comes back by itself, unless it is a name.
    """
    text = text.strip()
    if is_names and text == NONE_OF_THEM:
        return []
    if text.startswith(_JSON):
        return _from_json(text)
    if unknown_reason(text):
        return text
    parted = _NAMES_PARTED if is_names else _PARTED
    items: list[Data] = [whole_or_text(part) for p in parted.split(text) if (part := p.strip())]
    return items[0] if len(items) == 1 and not is_names else items


def joined_points(data: Data) -> str:
    """Return points in plan as the text of a cell, `18 ft 4 in, 12 ft; 20 ft, 12 ft`."""
    points = data if isinstance(data, list) else [data]
    if not all(
        isinstance(point, list) and point and all(map(_is_length, point)) for point in points
    ):
        return json.dumps(data, ensure_ascii=False)
    return "; ".join(", ".join(map(str, cast("list[Data]", point))) for point in points)


def split_points(text: str) -> Data | Mistake:
    """Return the points in the text of a cell, or what is wrong with it."""
    text = text.strip()
    if text.startswith(_JSON):
        return _from_json(text)
    points = [part for part in _PARTED.split(text) if part.strip()]
    return [[whole_or_text(length.strip()) for length in p.split(",")] for p in points]


def _is_length(item: Data) -> bool:
    """Tell whether one of a point's lengths can stand between commas."""
    return _is_plain(item, _NAMES_PARTED)


def _is_plain(item: Data, parted: re.Pattern[str]) -> bool:
    if isinstance(item, int) and not isinstance(item, bool):
        return True
    return (
        isinstance(item, str)
        and bool(item)
        and item == item.strip()
        and not item.startswith(_JSON)
        and item != NONE_OF_THEM
        and parted.search(item) is None
    )


def _from_json(text: str) -> Data | Mistake:
    try:
        data: Data = json.loads(text, parse_float=str, parse_int=whole_or_text, parse_constant=str)
    except (ValueError, RecursionError):
        data = None
    if data is None or not _is_sound(data, _DEEPEST):
        advice = "begin with another character, or write it as JSON"
        return Mistake("JSON, as a cell that begins so is read", f"`{shown(text)}`", advice)
    return data


def _is_sound(data: Data, levels: int) -> bool:
    """Tell whether data holds nothing that a record could not."""
    if isinstance(data, str):
        return CONTROLS.search(data) is None
    if isinstance(data, list):
        return levels > 0 and all(_is_sound(item, levels - 1) for item in data)
    if isinstance(data, dict):
        inside = (*data, *data.values())
        return levels > 0 and all(_is_sound(item, levels - 1) for item in inside)
    return True
