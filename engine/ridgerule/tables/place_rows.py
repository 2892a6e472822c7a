"""Tables with one station, line, plane or other place a row, its facts in columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.facts import SECTIONS, Element
from ridgerule.misreadings import Mistake
from ridgerule.problems import Problem, shown
from ridgerule.tables.cell_values import data_of
from ridgerule.tables.columns import Role
from ridgerule.tables.keys import Cells, Part, Spot, Told, asked_of
from ridgerule.tables.mappings import STATIONS
from ridgerule.tables.station_cells import station_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.facts import Fact
    from ridgerule.problems import Location
    from ridgerule.tables.columns import Column, Layout
    from ridgerule.tables.grids import Row
    from ridgerule.tables.naming import Known


class PlaceRows:
    """Reads a table of places; keeps the problems it meets so that all are told at once."""

    def __init__(self, layout: Layout, known: Known, words: Mapping[str, str]) -> None:
        self._layout = layout
        self._known = known
        self._words = words
        self._is_stations = layout.rows == STATIONS
        self.problems: list[Problem] = []

    def told(self) -> Iterator[Told]:
        """Yield what each row says: that its place is there, and all that stands in its cells."""
        if not self._layout.of(Role.PLACE):
            noun = "line" if self._is_stations else self._layout.rows
            told = "a column that names the place of each row, such as `line`, `plane` or `place`"
            where = self._layout.grid.location(self._layout.header)
            self.problems.append(Problem(where, told, "none", f"add one for the {noun}"))
            return
        for row in self._layout.grid.rows:
            if row.number > self._layout.header and self._says_something(row):
                yield from self._row(row)

    def _says_something(self, row: Row) -> bool:
        """Tell whether a row says more than where a station is to be, left to be filled in.

        A numbered station is there though nothing more is said of it, as any other place is.
        """
        roles = {Role.STRUCTURE, Role.READING, Role.STATION if self._is_stations else Role.PLACE}
        return any(row.text(column.index) for column in self._layout.of(*roles))

    def _row(self, row: Row) -> Iterator[Told]:
        spot = self._spot(row)
        if spot is None:
            return
        place = self._at(row, self._place_columns(row)[0])
        positions = [c for c in self._layout.of(Role.POSITION) if row.text(c.index)]
        cells = Cells(place, self._at(row, positions[0]) if positions else place)
        yield Told(spot, "", Part.VALUE, None, cells.position or place, cells=cells)
        for column in self._layout.of(Role.STRUCTURE, Role.READING):
            if column.index not in row.cells:
                continue
            of = self._owner(spot, column, row)
            asked = asked_of(self._known.vocabulary, of, column.key, column.part, column.unit)
            data = data_of(row.cells[column.index], asked, self._words)
            at = self._at(row, column)
            if isinstance(data, Mistake):
                self._tell(at, data)
            else:
                yield Told(of, column.key, column.part, data, at, column.side, cells)

    def _owner(self, spot: Spot, column: Column, row: Row) -> Spot:
        """Return what a column's fact is of: the row's place, or the line a station lies on."""
        if column.role is Role.STRUCTURE or column.element is spot.element:
            return spot
        host = Spot(spot.section, spot.place)
        if host.element is not column.element:
            expected = f"a fact of {_of(spot)} in this row"
            found = f"`{shown(column.title)}`, which is of a {column.element}"
            advice = "leave the cell blank, or move it to a table of its own"
            at = self._at(row, column)
            self.problems.append(Problem(at, expected, found, advice))
        return host

    def _place_columns(self, row: Row) -> list[Column]:
        """Return the columns that name a place in a row; where none does, those that could."""
        columns = self._layout.of(Role.PLACE)
        return [c for c in columns if row.text(c.index)] or [*columns]

    def _spot(self, row: Row) -> Spot | None:
        """Return what a row is about; None, and it is told, where that can't be said."""
        columns = self._place_columns(row)
        where = self._at(row, columns[0])
        ids = [row.text(c.index) for c in columns if row.text(c.index)]
        if len(ids) != 1:
            found = " and ".join(f"`{shown(id_)}`" for id_ in ids) or "none"
            advice = "leave one of them" if ids else "write it in every row"
            self._tell(where, Mistake("one place a row", found, advice))
            return None
        section = self._section(row, columns[0])
        if section is None:
            return None
        named = self._known.place(
            ids[0],
            section=section,
            facts=[[fact] for fact in self._facts(row)],
            is_station=self._is_stations,
        )
        if isinstance(named, Mistake):
            self._tell(where, named)
            return None
        station = None
        if self._is_stations:
            station = station_of(row, self._layout, self._words, self.problems, is_row=True)
        return Spot(named.section, named.id, station)

    def _section(self, row: Row, column: Column) -> str | None:
        """Return the section of a row's place: empty if not said, None if wrong, which is told."""
        columns = self._layout.of(Role.SECTION)
        said = self._known.section(row.text(columns[0].index)) if columns else ""
        if not isinstance(said, Mistake) and self._is_stations:
            return said or column.section or self._layout.host
        rows = self._layout.rows
        if said in ("", rows):
            return rows
        if not isinstance(said, Mistake):
            said = Mistake(f"a row of `{rows}`", f"`{said}`", "mend the section")
        self._tell(self._at(row, columns[0]), said)
        return None

    def _tell(self, where: Location, mistake: Mistake) -> None:
        self.problems.append(Problem(where, mistake.expected, mistake.found, mistake.advice))

    def _facts(self, row: Row) -> Iterator[Fact]:
        """Yield the facts that a row says something of."""
        for column in self._layout.of(Role.READING):
            if column.index in row.cells and column.element is not None:
                yield self._known.vocabulary.by_element[column.element][column.key]

    def _at(self, row: Row, column: Column) -> Location:
        return self._layout.grid.location(row.number, column.index)


def _of(spot: Spot) -> str:
    host = next(element for element, section in SECTIONS.items() if section == spot.section)
    return f"the station or its {host}" if spot.element is Element.STATION else f"the {host}"
