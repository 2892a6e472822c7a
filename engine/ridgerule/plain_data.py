"""Plain data with places: what reading a YAML or a JSON text comes to, and the bounds on both."""

from __future__ import annotations

import re
from typing import TypeAlias

from msgspec import Struct

from ridgerule.problems import Location, Problem, shown

Scalar: TypeAlias = str | int | bool | None
Data: TypeAlias = "Scalar | list[Data] | dict[str, Data]"
Path: TypeAlias = tuple[str | int, ...]
Place: TypeAlias = tuple[int, int]
"""Line and column of a character, both from 1."""

MOST_BYTES = 16 * 1024 * 1024
MOST_DEPTH = 64
MOST_NODES = 25_000
"""Values in one file: ten times those of the largest that ships, and as many as a second reads."""
MOST_TEXT = 64 * 1024
"""Characters in one scalar."""
MOST_DIGITS = 15
"""A whole number longer than this stays text: not every JSON reader would give it back."""
MOST_PROBLEMS = 100
"""A file with more problems than this is read no further: it is not the kind of file we read."""

_WHOLE = re.compile(r"0|-?[1-9][0-9]*")
# Tab and line feed are text. The two separators end a line in YAML and nowhere else; half a
# surrogate pair (from a `\ud800` escape) can be written to no file.
CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]")


class ReadingStopped(Exception):  # noqa: N818 - says what happened; caught in `documents` alone
    """The text can't be read any further; the sheet holds the problem that says why."""


class Sheet(Struct):
    """The text being read, and what has been noted about it so far."""

    name: str
    text: str
    problems: list[Problem] = []
    positions: dict[Path, Place] = {}
    keys: dict[Path, Place] = {}

    def place(self, index: int) -> Place:
        """Return line and column of the character at `index`."""
        start = self.text.rfind("\n", 0, index) + 1
        return self.text.count("\n", 0, index) + 1, index - start + 1

    def line_end(self, index: int) -> int:
        """Return the index where the line of the character at `index` ends."""
        end = self.text.find("\n", index)
        return end if end >= 0 else len(self.text)

    def refuse(self, place: Place, *, expected: str, found: str, advice: str = "") -> None:
        """Note a problem; stop the reading when there are too many to be of use."""
        location = Location(self.name, *place)
        self.problems.append(Problem(location, expected, found, advice))
        if len(self.problems) >= MOST_PROBLEMS:
            raise ReadingStopped

    def stop(self, place: Place, *, expected: str, found: str, advice: str = "") -> None:
        """Note a problem after which nothing more can be read."""
        self.refuse(place, expected=expected, found=found, advice=advice)
        raise ReadingStopped

    def add_node(self, path: Path, place: Place) -> None:
        """Note where a node begins; stop where the file nests too deep or holds too much."""
        self.positions[path] = place
        if len(path) > MOST_DEPTH:
            self.stop_too_deep(place)
        if len(self.positions) > MOST_NODES:
            self.stop_too_full(place)

    def stop_too_deep(self, place: Place) -> None:
        """Note that lists and mappings nest too deep here, and stop."""
        self.stop(
            place,
            expected=f"lists and mappings at most {MOST_DEPTH} deep",
            found="more than that",
            advice="a record or rulebook needs fewer than ten levels",
        )

    def stop_too_full(self, place: Place) -> None:
        """Note that the file holds too many values, and stop."""
        self.stop(
            place,
            expected=f"at most {MOST_NODES:,} values in a file",
            found="more than that",
            advice="split the file",
        )

    def add_key(self, path: Path, place: Place) -> bool:
        """Note where a key stands; return whether it is new in its mapping, refusing it if not."""
        first = self.keys.setdefault(path, place)
        if first is place:
            return True
        self.refuse(
            place,
            expected="each key once",
            found=f"`{shown(path[-1])}` again",
            advice=f"it is already on line {first[0]}; keep one of the two",
        )
        return False

    def check_text(self, text: str, place: Place) -> None:
        """Refuse text too long to be a value, or with control characters in it."""
        if len(text) > MOST_TEXT:
            self.refuse(
                place,
                expected=f"at most {MOST_TEXT:,} characters in one text",
                found=f"{len(text):,}",
                advice="keep long texts in a file of their own and name it here",
            )
        # Nearly every text is printable, which is quicker to ask than to search.
        elif not text.isprintable() and (control := CONTROLS.search(text)):
            self.refuse(
                place,
                expected="text without control characters",
                found=character(control.group()),
                advice="take it out",
            )


def character(char: str) -> str:
    """Return a character as a message names it: itself, its name or its code."""
    named = {
        "": "the end of the file",
        "\n": "the end of the line",
        "\t": "a tab",
        "`": "a backtick",
    }
    if char in named:
        return named[char]
    return f"`{char}`" if char.isprintable() else f"the control character U+{ord(char):04X}"


_STARTS_A_NUMBER = frozenset("-0123456789")


def whole_or_text(text: str) -> int | str:
    """Return a whole number for plain digits as anyone would write them, else `text` itself."""
    if text[:1] in _STARTS_A_NUMBER and len(text) <= MOST_DIGITS + 1 and _WHOLE.fullmatch(text):
        digits = len(text) - text.startswith("-")
        return int(text) if digits <= MOST_DIGITS else text
    return text


def mapping_in(data: Data) -> dict[str, Data]:
    """Return a mapping as it is, an empty one for anything else: the schema tells of that."""
    return data if isinstance(data, dict) else {}


def items_in(data: Data) -> list[Data]:
    """Return a list as it is, an empty one for anything else: the schema tells of that."""
    return data if isinstance(data, list) else []


def words_in(data: Data) -> str:
    """Return text or a whole number as text, an empty one for anything else."""
    return str(data) if isinstance(data, (str, int)) and not isinstance(data, bool) else ""
