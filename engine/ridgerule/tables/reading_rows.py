"""Tables with one reading a row: its place, position, side and fact, its value and the like."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.misreadings import Mistake
from ridgerule.problems import Problem, shown
from ridgerule.tables.cell_values import data_of
from ridgerule.tables.columns import Role
from ridgerule.tables.keys import (
    INSTRUMENTS,
    Asked,
    Form,
    Part,
    Spot,
    Told,
    asked_of,
    is_structure,
)
from ridgerule.tables.mappings import one_spelling
from ridgerule.tables.reading_spots import ReadingSpots

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.tables.columns import Column, Layout
    from ridgerule.tables.grids import Row
    from ridgerule.tables.naming import Known

RULEBOOKS = "rulebooks"
TO_FILL = "question"
"""The column that shows a table to be one to fill in by hand, as `ridgerule plan` writes it."""
MADE_FOR = "only"


class ReadingRows:
    """Reads a table of readings; keeps the problems it meets so that all are told at once."""

    def __init__(self, layout: Layout, known: Known, words: Mapping[str, str]) -> None:
        self._layout = layout
        self._vocabulary = known.vocabulary
        self._words = words
        self._spots = ReadingSpots(layout, known, words)

    @property
    def problems(self) -> list[Problem]:
        """What is wrong with the rows that were read."""
        return self._spots.problems

    def told(self) -> Iterator[Told]:
        """Yield what each row says; a row whose cells are left to be filled says nothing."""
        rows = (row for row in self._layout.grid.rows if row.number > self._layout.header)
        told = [each for row in rows for each in self._row(row)]
        if any(one_spelling(c.title) == TO_FILL for c in self._layout.of(Role.IGNORED)):
            # What a planned station is for stands there from the start: nobody has been there yet.
            visited = {each.spot for each in told if each.key != MADE_FOR}
            told = [each for each in told if each.key != MADE_FOR or each.spot in visited]
        yield from told

    def _row(self, row: Row) -> Iterator[Told]:
        filled = self._spots.columns(Role.PART, row)
        if not filled and self._spots.names_a_fact(row):
            return
        found = self._spots.find(row)
        if found is None:
            return
        spot, key = found
        cells = self._spots.cells(row)
        if not key and spot.section != RULEBOOKS:
            if filled:
                advice = "say what is told, such as `gap`"
                self._spots.tell(row, Role.FACT, "a fact", "none", advice)
            elif spot.place:
                here = self._spots.at(row, Role.PLACE)
                yield Told(spot, "", Part.VALUE, None, here, cells=cells)
            return
        side = self._side(row, spot, key)
        for column in filled:
            asked = self._asked(row, spot, key, column)
            if asked is None:
                continue
            at = self._layout.grid.location(row.number, column.index)
            data = data_of(row.cells[column.index], asked, self._words)
            if isinstance(data, Mistake):
                self.problems.append(Problem(at, data.expected, data.found, data.advice))
            else:
                yield Told(spot, key, column.part, data, at, side, cells)

    def _asked(self, row: Row, spot: Spot, key: str, column: Column) -> Asked | None:
        """Return what a cell is to say; None, and it is told, where nothing can stand in it."""
        unit = self._spots.text(row, Role.UNIT)
        asked = asked_of(self._vocabulary, spot, key, column.part, unit)
        if asked.fact is not None or column.part is Part.VALUE:
            return asked
        if is_structure(spot, key) or spot.section in ("complete", RULEBOOKS, INSTRUMENTS):
            at = self._layout.grid.location(row.number, column.index)
            told = f"nothing here beside `{key or RULEBOOKS}`, which is no reading"
            found = f"`{shown(row.text(column.index))}`"
            self.problems.append(Problem(at, told, found, "take it out"))
            return None
        return Asked(Form.WORDS)  # of a fact that is not known, which is told by itself

    def _side(self, row: Row, spot: Spot, key: str) -> str:
        side = self._spots.text(row, Role.SIDE)
        fact = asked_of(self._vocabulary, spot, key).fact
        if side and fact is not None and not fact.per_side:
            told = f"no side beside `{key}`, which is not measured per side"
            self._spots.tell(row, Role.SIDE, told, f"`{shown(side)}`", "take it out")
            return ""
        return side
