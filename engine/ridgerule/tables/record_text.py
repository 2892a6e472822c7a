"""A record's data -> YAML as a person writes it: block style, short readings on one line.

Whether text can stand without quotes is asked of the engine's own YAML reader, which is the judge
of what is written here.
"""

from __future__ import annotations

import json
from functools import lru_cache
from typing import TYPE_CHECKING

from ridgerule.documents import read_document
from ridgerule.problems import InputRejected
from ridgerule.tables.keys import ALL_SECTIONS, PLACE_SECTIONS, ROOF_SECTIONS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridgerule.documents import Data, Path

WIDTH = 100
"""What is longer than a line of so many characters is written on several."""
STEP = 2
SECTION_ORDER = ("record", *ALL_SECTIONS)
"""In which a person writes the sections of a record."""


def record_text(data: Mapping[str, Data]) -> str:
    """Return a record as a YAML text, its sections in the usual order."""
    lines: list[str] = []
    for section in sorted(data, key=place_in_order):
        if section in PLACE_SECTIONS:
            lines.append("")
        lines.extend(entry_lines(section, data[section], 0, (section,)))
    return "\n".join(lines) + "\n"


def place_in_order(section: str) -> int:
    """Return where a section stands among those of a record; what is no section comes last."""
    return SECTION_ORDER.index(section) if section in SECTION_ORDER else len(SECTION_ORDER)


def entry_lines(key: str, value: Data, indent: int, path: Path) -> list[str]:
    """Return the lines of a key and its value, at `path` in a record."""
    head = f"{' ' * indent}{key_text(key)}:"
    one_line = _one_line(value, path)
    if one_line is not None and len(head) + 1 + len(one_line) <= WIDTH:
        return [f"{head} {one_line}" if one_line else head]
    match value:
        case str() if "\n" in value and (block := _block_text(value, indent + STEP)):
            return [f"{head} {block[0]}", *block[1:]]
        case dict() if value:
            return [head, *_inner_lines(value, indent + STEP, path)]
        case list() if value:
            return [head, *items_lines(value, indent + STEP, path)]
        case _:
            return [f"{head} {flow_text(value)}"]


def items_lines(items: Sequence[Data], indent: int, path: Path, *, first: int = 0) -> list[str]:
    """Return the lines of the items of a list at `path`, the first of them numbered `first`."""
    lines: list[str] = []
    for i, item in enumerate(items, start=first):
        if isinstance(item, dict) and item:
            inner = _inner_lines(item, indent + STEP, (*path, i))
            lines.extend([f"{' ' * indent}- {inner[0].lstrip()}", *inner[1:]])
        else:
            lines.append(f"{' ' * indent}- {flow_text(item, in_flow=False)}")
    return lines


def _inner_lines(data: Mapping[str, Data], indent: int, path: Path) -> list[str]:
    return [
        line
        for key, value in data.items()
        for line in entry_lines(key, value, indent, (*path, key))
    ]


def _one_line(value: Data, path: Path) -> str | None:
    """Return a value that reads well on one line, None for what is better on several."""
    if isinstance(value, dict):
        if not value or not _is_reading(path):
            return None if value else "{}"
        return _plain_flow(value)
    if isinstance(value, list):
        has_places = any(isinstance(item, dict) for item in value)
        return None if has_places or not value else flow_text(value)
    if isinstance(value, str) and "\n" in value:
        return None
    return scalar_text(value, in_flow=False)


def _is_reading(path: Path) -> bool:
    """Tell whether what is at a path is a reading, or part of one, rather than a place."""
    if path[0] in ROOF_SECTIONS:
        return len(path) > 1
    if path[0] in PLACE_SECTIONS:
        return len(path) > (4 if "stations" in path[2:3] else 2)
    return False


def _plain_flow(value: Data) -> str | None:
    """Return a mapping in braces, None where quotes would be needed or a text has lines."""
    text = flow_text(value)
    return None if '"' in text and _needs_quotes(value) else text


def _needs_quotes(value: Data) -> bool:
    match value:
        case str():
            return scalar_text(value, in_flow=True) != value
        case dict():
            return any(map(_needs_quotes, value.values()))
        case list():
            return any(map(_needs_quotes, value))
        case _:
            return False


def flow_text(value: Data, *, in_flow: bool = True) -> str:
    """Return a value on one line, lists in brackets and mappings in braces."""
    match value:
        case dict():
            inner = (f"{key_text(k, in_flow=True)}: {flow_text(v)}" for k, v in value.items())
            return f"{{{', '.join(inner)}}}"
        case list():
            return f"[{', '.join(map(flow_text, value))}]"
        case _:
            return scalar_text(value, in_flow=in_flow) or "null"


def scalar_text(value: Data, *, in_flow: bool, quoted: bool = False) -> str:
    """Return a value that is no list and no mapping; text in quotes only where it needs them."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if not isinstance(value, str):
        return str(value)
    if not quoted and _reads_back(value, in_flow=in_flow):
        return value
    return json.dumps(value, ensure_ascii=False)


def key_text(key: str, *, in_flow: bool = False) -> str:
    """Return a key, in quotes only where it needs them."""
    return key if _reads_back_as_key(key, in_flow=in_flow) else json.dumps(key, ensure_ascii=False)


@lru_cache(4096)
def _reads_back(text: str, *, in_flow: bool) -> bool:
    return _read(f"{{k: {text}}}" if in_flow else f"k: {text}") == {"k": text}


@lru_cache(4096)
def _reads_back_as_key(key: str, *, in_flow: bool) -> bool:
    return _read(f"{{{key}: k}}" if in_flow else f"{key}: k") == {key: "k"}


def _block_text(text: str, indent: int) -> list[str] | None:
    """Return a text of several lines as a block with its header; None where it would not do."""
    header = "|" if text.endswith("\n") else "|-"
    body = text.removesuffix("\n").split("\n")
    lines = [header, *(f"{' ' * indent}{line}" if line else "" for line in body)]
    alone = [header, *(f"  {line}" if line else "" for line in body)]
    read_back = _read("k: " + "\n".join(alone) + "\n")
    return lines if read_back == {"k": text} else None


def _read(text: str) -> Data:
    """Return what the engine reads from a text, None where it refuses it."""
    try:
        return read_document(text.encode("utf-8", "surrogatepass"), name="text").data
    except InputRejected:
        return None
