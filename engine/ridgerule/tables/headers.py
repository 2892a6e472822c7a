"""The header of a table: found, each of its columns told apart, and what is wrong with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.problems import InputRejected, Problem, shown
from ridgerule.tables.columns import STATION_SHEETS, Column, Layout, Role, Titles, kind_of_rows
from ridgerule.tables.mappings import ROW_KINDS, one_spelling

if TYPE_CHECKING:
    from ridgerule.facts import Vocabulary
    from ridgerule.tables.grids import Grid, Row
    from ridgerule.tables.mappings import Mapped


def layout_of(grid: Grid, mapped: Mapped, vocabulary: Vocabulary) -> Layout | None:
    """Return a table with its columns known, None where it is blank.

    Raises `InputRejected` with all that is wrong with its header.
    """
    header = _header(grid, mapped)
    if header is None and grid.rows:
        where, expected = grid.location(mapped.header), "the row that names the columns"
        raise InputRejected(
            [Problem(where, expected, "a blank row", "mend `header:` in the mapping")]
        )
    if header is None:
        return None
    problems: list[Problem] = []
    titles = {index: shown(cell.text.strip(), most=200) for index, cell in header.cells.items()}
    meanings = {index: mapped.columns.get(one_spelling(title)) for index, title in titles.items()}
    names = [m.name if (m := meanings[i]) is not None else title for i, title in titles.items()]
    rows = mapped.rows or kind_of_rows(grid.name, names)
    if not rows:
        listed = ", ".join(f"`{kind}`" for kind in ROW_KINDS)
        expected = "columns that show what a row is, such as `position` for a station"
        advice = f"say so under `rows:` in a mapping file, one of {listed}"
        found = ", ".join(f"`{title}`" for title in [*titles.values()][:8])
        raise InputRejected([Problem(grid.location(header.number), expected, found, advice)])
    filled = _filled(grid, header.number)
    columns = []
    for index, title in titles.items():
        column = Titles(vocabulary, rows).column(index, title, meanings[index])
        if isinstance(column, Column):
            columns.append(column)
        elif index in filled or meanings[index] is not None:
            meaning = meanings[index]
            where = grid.location(header.number, index) if meaning is None else meaning.where
            problems.append(Problem(where, column.expected, column.found, column.advice))
    problems.extend(_untitled(grid, header, filled))
    problems.extend(_twice(grid, header.number, columns))
    if problems:
        raise InputRejected(problems)
    host = STATION_SHEETS.get(one_spelling(grid.name), "")
    return Layout(grid, rows, header.number, tuple(columns), host)


def titles_in(grid: Grid, mapped: Mapped) -> tuple[str, ...]:
    """Return the titles in a table's header, as they are written."""
    header = _header(grid, mapped)
    return () if header is None else tuple(c.text.strip() for c in header.cells.values())


def _header(grid: Grid, mapped: Mapped) -> Row | None:
    """Return the row that names the columns: the one that a mapping says, else the first."""
    if not mapped.header:
        return grid.rows[0] if grid.rows else None
    return next((row for row in grid.rows if row.number == mapped.header), None)


def _filled(grid: Grid, header: int) -> dict[int, int]:
    """Return the columns with anything under the header, each with its first row that has."""
    filled: dict[int, int] = {}
    for row in grid.rows:
        if row.number > header:
            for index in row.cells:
                filled.setdefault(index, row.number)
    return filled


def _untitled(grid: Grid, header: Row, filled: dict[int, int]) -> list[Problem]:
    """Tell of columns with something in them and no title."""
    told = []
    for index, row in sorted(filled.items()):
        if index not in header.cells:
            cell = next(r for r in grid.rows if r.number == row).cells[index]
            found = f"`{shown(cell.text)}` under none"
            advice = "name the column, or put double quotes round a cell with a separator in it"
            expected = "a title over every column"
            told.append(Problem(grid.location(row, index), expected, found, advice))
    return told


def _twice(grid: Grid, header: int, columns: list[Column]) -> list[Problem]:
    """Tell of two columns that say the same."""
    told = []
    seen: dict[tuple[object, ...], Column] = {}
    for column in columns:
        if column.role is Role.IGNORED:
            continue
        key = (
            column.role, column.section, column.key, column.element, column.side,
            column.part if column.role in (Role.PART, Role.READING) else "",
        )  # fmt: skip
        first = seen.setdefault(key, column)
        if first is not column:
            where = grid.location(header, column.index)
            found = f"`{column.title}`, which says what `{first.title}` does"
            told.append(Problem(where, "each column once", found, "take one of the two out"))
    return told
