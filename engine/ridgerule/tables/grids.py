"""A table as it was read: rows of cells, each with its place, and the bounds on all of them."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.formulas import unguarded
from ridgerule.plain_data import CONTROLS, MOST_PROBLEMS, MOST_TEXT, character
from ridgerule.problems import InputRejected, Location, Problem

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

MOST_ROWS = 20_000
"""Rows of one table that hold anything."""
MOST_COLUMNS = 400
MOST_CELLS = 200_000
"""Cells of one table that hold anything."""
MOST_SHEETS = 40
"""Sheets of one workbook."""


class Holds(StrEnum):
    """What a cell holds, where its text does not say all of it."""

    TEXT = "text"
    NUMBER = "a number"
    YES_NO = "a logical value"
    DATE = "a date"
    TIME = "a time of day"
    FORMULA = "a formula"
    ERROR = "an error"


class Cell(Struct, frozen=True):
    """A cell that is not blank."""

    column: int
    text: str
    """What it shows; a number as the decimal that was typed, a date as year-month-day."""
    holds: Holds = Holds.TEXT


class Row(Struct, frozen=True):
    """A row that is not blank: its number as a spreadsheet shows it, and its cells by column."""

    number: int
    cells: Mapping[int, Cell]

    def text(self, column: int) -> str:
        """Return what a column shows in this row, without the blanks around it."""
        cell = self.cells.get(column)
        return "" if cell is None else unguarded(cell.text.strip())


class Grid(Struct, frozen=True):
    """A table: a CSV file, or one sheet of a workbook."""

    file: str
    name: str
    """The sheet's name, or the CSV file's without its ending."""
    rows: tuple[Row, ...]
    is_sheet: bool = False

    @property
    def label(self) -> str:
        """The table as messages name it."""
        return f"{self.file}[{self.name}]" if self.is_sheet else self.file

    def location(self, row: int = 0, column: int = 0) -> Location:
        """Return the place of a row, or of a cell, of this table."""
        return Location(self.label, row, column, is_cell=True)


class GridBuilder:
    """Takes the cells of a table one after the other and holds them to their bounds.

    Raises `InputRejected` where there is more than a table of readings can hold.
    """

    def __init__(self, file: str, name: str, *, is_sheet: bool = False) -> None:
        self._empty = Grid(file, name, (), is_sheet=is_sheet)
        self._rows: list[Row] = []
        self._cells = 0
        self.problems: list[Problem] = []

    def take(self, number: int, cells: Iterable[Cell]) -> None:
        """Take the cells of a row, those left out that hold nothing but blanks."""
        found = {cell.column: cell for cell in cells if cell.text.strip()}
        if not found:
            return
        if max(found) > MOST_COLUMNS:
            self._stop(number, max(found), f"at most {MOST_COLUMNS} columns")
        if len(self._rows) == MOST_ROWS:
            self._stop(number, 0, f"at most {MOST_ROWS:,} rows in a table")
        self._cells += len(found)
        if self._cells > MOST_CELLS:
            self._stop(number, 0, f"at most {MOST_CELLS:,} cells in a table")
        for cell in found.values():
            self._check(number, cell)
        self._rows.append(Row(number, found))

    def grid(self) -> Grid:
        """Return the table; raises `InputRejected` with what is wrong with its cells."""
        if self.problems:
            raise InputRejected(self.problems)
        return Grid(self._empty.file, self._empty.name, tuple(self._rows), self._empty.is_sheet)

    def refuse(self, number: int, column: int, expected: str, found: str, advice: str) -> None:
        """Note what is wrong at a place; stop where there is too much to be of use."""
        where = self._empty.location(number, column)
        self.problems.append(Problem(where, expected, found, advice))
        if len(self.problems) == MOST_PROBLEMS:
            raise InputRejected(self.problems)

    def _check(self, number: int, cell: Cell) -> None:
        if len(cell.text) > MOST_TEXT:
            told = f"at most {MOST_TEXT:,} characters in one cell"
            advice = "keep long texts in a file of their own and name it here"
            self.refuse(number, cell.column, told, f"{len(cell.text):,}", advice)
        elif not cell.text.isprintable() and (control := CONTROLS.search(cell.text)):
            told = "text without control characters"
            self.refuse(number, cell.column, told, character(control.group()), "take it out")

    def _stop(self, number: int, column: int, expected: str) -> None:
        self.refuse(number, column, expected, "more than that", "split the table")
        raise InputRejected(self.problems)
