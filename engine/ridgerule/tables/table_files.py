"""Files of tables: read whole, told apart by their endings, each turned into grids."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.documents import load_document
from ridgerule.plain_data import MOST_BYTES
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.tables.csv_grids import read_csv
from ridgerule.tables.workbook_grids import read_workbook

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridgerule.tables.grids import Grid

A_TABLE = "a table: a CSV file (.csv) or a workbook (.xlsx)"
_CSV = (".csv", ".tsv", ".txt")
_LONGEST_NAME = 4096
_OTHERS = {
    ".xls": "an older workbook (.xls)",
    ".xlsb": "a binary workbook (.xlsb)",
    ".xlsm": "a workbook with macros (.xlsm)",
    ".ods": "a workbook of another kind (.ods)",
}


def load_grids(path: Path, *, sheets: Sequence[str] = ()) -> tuple[Grid, ...]:
    """Return the tables in the file at `path`: of a workbook those of `sheets`, else of all.

    Raises `InputRejected` with every problem that could be told.
    """
    name = shown(path, most=_LONGEST_NAME)
    suffix = path.suffix.lower()
    raw = _read(path, name)
    if suffix == ".xlsx":
        return read_workbook(raw, name=name, sheets=sheets)
    if suffix in _CSV:
        return (read_csv(raw, name=name),)
    found = _OTHERS.get(suffix, f"`{shown(suffix)}`" if suffix else "a name without an ending")
    raise _rejected(name, A_TABLE, found, "save it as .xlsx, or as CSV UTF-8")


def _read(path: Path, name: str) -> bytes:
    """Return the bytes of a file; a file that can't be read is told as a record would be."""
    if not path.is_file():
        load_document(path)  # which says what there is instead
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError:
        load_document(path)
        raise
    if len(raw) > MOST_BYTES:
        told = f"a file of at most {MOST_BYTES >> 20} MiB"
        raise _rejected(name, told, "a larger one", "split the table")
    return raw


def _rejected(name: str, expected: str, found: str, advice: str) -> InputRejected:
    return InputRejected([Problem(Location(name), expected, found, advice)])
