"""The cells that say which station a row is: where it is, and its number along its line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.misreadings import Mistake
from ridgerule.plain_data import whole_or_text
from ridgerule.problems import Problem, shown
from ridgerule.record import unknown_reason
from ridgerule.tables.cell_values import data_of
from ridgerule.tables.columns import Role
from ridgerule.tables.keys import Asked, Form, Station

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.documents import Data
    from ridgerule.tables.columns import Column, Layout
    from ridgerule.tables.grids import Row


def station_of(
    row: Row,
    layout: Layout,
    words: Mapping[str, str],
    problems: list[Problem],
    *,
    is_row: bool = False,
) -> Station | None:
    """Return the station that a row is about, None where it names none.

    `is_row` is for tables whose every row is a station, said where it is or not. What is wrong
    with the cells is added to `problems`.
    """
    position, number = _filled(layout, row, Role.POSITION), _filled(layout, row, Role.STATION)
    if position is None and number is None and not is_row:
        return None
    data: Data = None
    if position is not None:
        cell = row.cells[position.index]
        found = data_of(cell, Asked(Form.POSITION, unit=position.unit), words)
        if isinstance(found, Mistake):
            problems.append(_problem(layout, row, position, found))
        else:
            meant = words.get(" ".join(cell.text.casefold().split()), "")
            data = meant if unknown_reason(meant) and meant else found
    return Station(
        position=data,
        number=0 if number is None else _number(row, layout, number, problems),
        row=row.number if is_row else 0,
    )


def _number(row: Row, layout: Layout, column: Column, problems: list[Problem]) -> int:
    text = row.text(column.index)
    number = whole_or_text(text)
    if isinstance(number, int) and number > 0:
        return number
    advice = "count them from 1 along their line or plane, or leave it blank"
    mistake = Mistake("the number of a station, from 1", f"`{shown(text)}`", advice)
    problems.append(_problem(layout, row, column, mistake))
    return 0


def _filled(layout: Layout, row: Row, role: Role) -> Column | None:
    return next((column for column in layout.of(role) if row.text(column.index)), None)


def _problem(layout: Layout, row: Row, column: Column, mistake: Mistake) -> Problem:
    where = layout.grid.location(row.number, column.index)
    return Problem(where, mistake.expected, mistake.found, mistake.advice)
