"""CSV files -> grids: UTF-8 text, its cells parted by commas, semicolons or tabs."""

from __future__ import annotations

import csv
from io import StringIO
from pathlib import PurePath
from typing import TYPE_CHECKING, NoReturn

from ridgerule.problems import InputRejected, Location, Problem
from ridgerule.tables.grids import MOST_COLUMNS, Cell, Grid, GridBuilder

if TYPE_CHECKING:
    from collections.abc import Iterator

SEPARATORS = (",", ";", "\t")
"""In this order where a header line has as many of one as of another."""

_SAVE_AS_UTF8 = 'save it again as "CSV UTF-8"'
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
# Where Windows-1252 has letters, signs and quotes: all of 0x80 to 0xFF but these five.
_NOT_IN_WINDOWS_1252 = frozenset(b"\x81\x8d\x8f\x90\x9d")
_SEPARATOR_LINE = "sep="
"""How some spreadsheets say in a line of its own what parts the cells."""


def read_csv(raw: bytes, *, name: str) -> Grid:
    """Return the table in the bytes of a CSV file called `name` in messages.

    Raises `InputRejected` with every problem that could be told.
    """
    text = _decoded(raw, name)
    first, _, rest = text.partition("\n")
    builder = GridBuilder(name, PurePath(name).stem)
    begins = 0
    if first.strip('"').casefold().startswith(_SEPARATOR_LINE):
        separator = first.strip('"')[len(_SEPARATOR_LINE) :] or ","
        text, begins = rest, 1
    else:
        separator = _separator(text)
    if separator not in SEPARATORS:
        told = "cells parted by commas, semicolons or tabs"
        builder.refuse(1, 1, told, f"`{first}`", "save it with one of those")
        raise InputRejected(builder.problems)
    for number, cells in _rows(text, separator, builder, begins):
        columns = enumerate(cells, start=1)
        builder.take(number, (Cell(column, text) for column, text in columns))
    return builder.grid()


def _rows(
    text: str, separator: str, builder: GridBuilder, begins: int
) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of the text, numbered as a spreadsheet numbers them."""
    reader = csv.reader(StringIO(text, newline=""), delimiter=separator, strict=True)
    number = begins
    try:
        for number, cells in enumerate(reader, start=begins + 1):
            yield number, cells
    except csv.Error as error:
        found = f"a row that can't be read ({error})"
        advice = "look for a double quote left open, or followed by more text"
        builder.refuse(number + 1, 0, "cells, in double quotes or without", found, advice)
        raise InputRejected(builder.problems) from error


def _separator(text: str) -> str:
    """Return what parts the cells, as the first line that is not blank shows."""
    header = next((line for line in text.split("\n") if line.strip()), "")[: MOST_COLUMNS * 200]
    quoted = header.split('"')
    outside = "".join(quoted[::2])
    return max(SEPARATORS, key=outside.count)


def _decoded(raw: bytes, name: str) -> str:
    if raw.startswith(_UTF16):
        _refuse(Location(name), "UTF-16 text", _SAVE_AS_UTF8)
    if raw.startswith(b"PK\x03\x04"):
        _refuse(Location(name), "a workbook or a ZIP file", "give a workbook a name in .xlsx")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = error.object[: error.start].decode("utf-8").replace("\r\n", "\n")
        where = Location(name, before.count("\n") + 1, len(before) - before.rfind("\n"))
        byte = error.object[error.start]
        found = f"byte 0x{byte:02X}"
        if byte >= 0x80 and byte not in _NOT_IN_WINDOWS_1252:
            found += f", which is `{bytes([byte]).decode('cp1252')}` in Windows-1252"
        _refuse(where, found, f"a spreadsheet saved it in an older encoding: {_SAVE_AS_UTF8}")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _refuse(where: Location, found: str, advice: str) -> NoReturn:
    raise InputRejected([Problem(where, "UTF-8 text", found, advice)])
