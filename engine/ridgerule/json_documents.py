"""JSON texts -> plain data with places.

The `json` module says whether the text is JSON and what it holds; a scan of our own over the
same text says where each node stands, which `json` does not tell.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.plain_data import (
    MOST_DEPTH,
    MOST_NODES,
    MOST_TEXT,
    ReadingStopped,
    character,
    whole_or_text,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.plain_data import Data, Path, Place, Sheet

_MOST_PIECES = 5 * MOST_NODES
"""A value, its key and colon, its comma, and if it is a list or a mapping its two brackets."""
_MOST_ESCAPED = 12 * MOST_TEXT
"""Characters of a text written with two `\\u` escapes for each character."""

# Strings first, so that nothing inside one is taken for a bracket or a number. Possessive, and a
# string left open runs to the end of its line: nothing is gone through twice.
_TOKEN = re.compile(r'"[^"\\\n]*+(?:\\.[^"\\\n]*+)*+"|[\[\]{}:,]|\n\s*+|[^\s\[\]{}:,"]++|"[^\n]*+')
_NOT_NUMBERS = ("NaN", "Infinity", "-Infinity")

# How the `json` module begins its complaint -> what was expected, what to do.
_COMPLAINTS = (
    ("Expecting property name", "a key in double quotes", 'write `"key": value`'),
    ("Expecting ',' delimiter", "`,` or the closing bracket", "look for a comma left out before"),
    ("Expecting ':' delimiter", "`:` after the key", ""),
    ("Expecting value", "a value", "text needs double quotes in JSON"),
    ("Extra data", "one value in the file", "take out what comes after it"),
    ("Unterminated string", "a closing double quote", "close the quote that opens here"),
    ("Invalid control character", "text on one line", "write a line break as `\\n`"),
    ("Invalid \\", "an escape JSON knows", "write a backslash as `\\\\`"),
)


def read_json(sheet: Sheet) -> Data:
    """Return the data of the sheet's JSON text, its places noted on the sheet.

    Numbers with a fraction or an exponent stay text as written. An empty text gives None.
    Raises ReadingStopped where the text is no JSON.
    """
    if not sheet.text.strip():
        sheet.add_node((), (1, 1))
        return None
    _check_brackets(sheet)
    try:
        data: Data = json.loads(
            sheet.text, parse_float=str, parse_int=whole_or_text, parse_constant=str
        )
    except json.JSONDecodeError as error:
        _refuse_syntax(sheet, error)
        raise ReadingStopped from error
    _note_places(sheet)
    return data


def _pieces(text: str) -> Iterator[tuple[str, Place]]:
    """Yield each piece of a JSON text with its place, line ends left out."""
    line, start = 1, 0
    for match in _TOKEN.finditer(text):
        piece = match.group()
        if piece[0] == "\n":  # with the white space after it, however much
            line += piece.count("\n")
            start = match.start() + piece.rindex("\n") + 1
        else:
            yield piece, (line, match.start() - start + 1)


def _check_brackets(sheet: Sheet) -> None:
    """Refuse NaN and infinities, and texts so deep or full that `json` should not try them."""
    depth = commas = 0
    for count, (piece, place) in enumerate(_pieces(sheet.text)):
        if piece in ("[", "{"):
            depth += 1
            if depth > MOST_DEPTH:
                sheet.stop_too_deep(place)
        elif piece in ("]", "}"):
            depth -= 1
        elif piece == ",":
            commas += 1
        elif piece in _NOT_NUMBERS:
            sheet.refuse(place, expected="a number", found=f"`{piece}`", advice="write `null`")
        elif len(piece) > MOST_TEXT:
            _refuse_long(sheet, piece, place)
        if commas >= MOST_NODES or count > _MOST_PIECES:
            sheet.stop_too_full(place)


def _refuse_long(sheet: Sheet, piece: str, place: Place) -> None:
    """Refuse a text too long for a value before `json` takes its escapes apart, and stop."""
    length = len(piece) - 2 * piece.startswith('"')
    is_escaped = "\\" in piece
    if length > (_MOST_ESCAPED if is_escaped else MOST_TEXT):
        sheet.stop(
            place,
            expected=f"at most {MOST_TEXT:,} characters in one text",
            found=f"{length:,} with its escapes" if is_escaped else f"{length:,}",
            advice="keep long texts in a file of their own and name it here",
        )


def _refuse_syntax(sheet: Sheet, error: json.JSONDecodeError) -> None:
    """Say in plain words what the `json` module complains of."""
    found = sheet.text[error.pos : error.pos + 1]
    before = sheet.text[: error.pos].rstrip()
    # Python 3.13 points at a trailing comma, earlier ones at the bracket after it.
    if found == "," and error.msg.startswith("Illegal trailing comma"):
        before += found
    if before.endswith(",") and found in ("]", "}", ","):
        sheet.refuse(
            sheet.place(before.rindex(",")),
            expected="no comma after the last value",
            found="`,`",
            advice="JSON has commas between values only: take this one out",
        )
        return
    told = [rest for beginning, *rest in _COMPLAINTS if error.msg.startswith(beginning)]
    expected, advice = told[0] if told else ("JSON", error.msg)
    is_open = error.msg.startswith("Unterminated string")
    sheet.refuse(
        (error.lineno, error.colno),
        expected=expected,
        found="none up to the end of the file" if is_open else character(found),
        advice=advice,
    )


class _Open(Struct):
    """A list or mapping whose closing bracket is still to come."""

    path: Path
    index: int = 0
    key: str | None = None
    is_mapping: bool = False
    awaits_key: bool = False

    def next_path(self) -> Path:
        """Return the path of the value about to be read in here."""
        return (*self.path, self.index if self.key is None else self.key)


def _note_places(sheet: Sheet) -> None:
    """Note the place of every node and key of a text known to be JSON."""
    opened: list[_Open] = []
    for piece, place in _pieces(sheet.text):
        inside = opened[-1] if opened else None
        if piece in ("]", "}"):
            opened.pop()
        elif piece == ":":
            continue
        elif piece == ",":
            if inside is not None:
                inside.index += 1
                inside.awaits_key = inside.is_mapping
        elif inside is not None and inside.awaits_key:
            _note_key(sheet, inside, piece, place)
        else:
            path = inside.next_path() if inside is not None else ()
            sheet.add_node(path, place)
            if piece in ("[", "{"):
                opened.append(_Open(path, is_mapping=piece == "{", awaits_key=piece == "{"))
            elif piece.startswith('"'):
                sheet.check_text(_unquoted(piece), place)
            else:
                sheet.check_text(piece, place)


def _note_key(sheet: Sheet, inside: _Open, piece: str, place: Place) -> None:
    key = _unquoted(piece)
    inside.key, inside.awaits_key = key, False
    sheet.check_text(key, place)
    sheet.add_key((*inside.path, key), place)


def _unquoted(piece: str) -> str:
    """Return the text of a JSON string."""
    if "\\" not in piece:
        return piece[1:-1]
    text: str = json.loads(piece)
    return text
