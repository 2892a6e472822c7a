"""What a row with one reading is about: its section, place and station, and the fact."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from ridgerule.facts import Element
from ridgerule.misreadings import Mistake
from ridgerule.problems import Location, Problem, shown
from ridgerule.tables.columns import Role
from ridgerule.tables.keys import (
    INSTRUMENTS,
    PLACE_SECTIONS,
    PLAIN_SECTIONS,
    ROOF_SECTIONS,
    Cells,
    Spot,
)
from ridgerule.tables.mappings import one_spelling
from ridgerule.tables.naming import Named
from ridgerule.tables.station_cells import station_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.facts import Fact
    from ridgerule.tables.columns import Column, Layout
    from ridgerule.tables.grids import Row
    from ridgerule.tables.naming import Known

_QUALIFIED = re.compile(r"^([A-Za-z]+)\.(.+)$")


class ReadingSpots:
    """Tells what rows are about; keeps the problems it meets so that all are told at once."""

    def __init__(self, layout: Layout, known: Known, words: Mapping[str, str]) -> None:
        self._layout = layout
        self._known = known
        self._words = words
        self.problems: list[Problem] = []

    def find(self, row: Row) -> tuple[Spot, str] | None:
        """Return where in a record a row belongs and the key it is of; None where it can't be told.

        A row without a fact has an empty key.
        """
        element, key = self._fact(row)
        spot = self._spot(row, element, key)
        if spot is None:
            return None
        section, kept_as = self._known.roof_key(key)
        return spot, kept_as if section == spot.section else key

    def names_a_fact(self, row: Row) -> bool:
        """Tell whether a row says which fact it is of."""
        return bool(self._fact(row)[1])

    def cells(self, row: Row) -> Cells:
        """Return the cells of a row that name what it is about."""
        return Cells(self.at(row, Role.PLACE), self.at(row, Role.POSITION), self.at(row, Role.FACT))

    def columns(self, role: Role, row: Row) -> list[Column]:
        """Return the columns of a role with anything in a row."""
        return [column for column in self._layout.of(role) if row.text(column.index)]

    def text(self, row: Row, role: Role) -> str:
        """Return what a row has in the column of a role."""
        return next((row.text(column.index) for column in self.columns(role, row)), "")

    def at(self, row: Row, role: Role) -> Location:
        """Return the cell of a role in a row, or where it would be; else the row itself."""
        columns = self.columns(role, row) or self._layout.of(role)
        return self._layout.grid.location(row.number, columns[0].index if columns else 0)

    def tell(self, row: Row, role: Role, expected: str, found: str, advice: str) -> None:
        """Note what is wrong with the cell of a role."""
        self.problems.append(Problem(self.at(row, role), expected, found, advice))

    def _fact(self, row: Row) -> tuple[Element | None, str]:
        """Return the fact that a row is about, with its element where the row says it."""
        text = self.text(row, Role.FACT)
        element = None
        if (parted := _QUALIFIED.match(text)) and parted[1].lower() in frozenset(Element):
            element, text = Element(parted[1].lower()), parted[2]
        return element, "_".join(one_spelling(text).split())

    def _spot(self, row: Row, element: Element | None, key: str) -> Spot | None:
        section = self._known.section(self.text(row, Role.SECTION))
        if isinstance(section, Mistake):
            self.tell(row, Role.SECTION, section.expected, section.found, section.advice)
            return None
        station = None
        if element in (None, Element.STATION):
            station = station_of(row, self._layout, self._words, self.problems)
        facts = self._known.facts_named(key, element=element, is_station=station is not None)
        named = self._named(row, section, facts, is_station=station is not None)
        if named is None:
            return None
        is_stations = element is Element.STATION or (
            bool(facts) and all(fact.element is Element.STATION for fact in facts)
        )
        if is_stations and station is None and named.section in PLACE_SECTIONS:
            told = f"a position for `{shown(key)}`, which is read at stations"
            advice = "say where along its line, or where on its plane, it was read"
            self.tell(row, Role.POSITION, told, "none", advice)
            return None
        return Spot(named.section, named.id, station)

    def _named(
        self, row: Row, section: str, facts: list[Fact], *, is_station: bool
    ) -> Named | None:
        columns = self.columns(Role.PLACE, row)
        if len(columns) > 1:
            ids = " and ".join(f"`{shown(row.text(column.index))}`" for column in columns)
            self.tell(row, Role.PLACE, "one place a row", ids, "leave one of them")
            return None
        if not columns:
            return self._without_place(row, section, facts)
        text = row.text(columns[0].index)
        section = section or columns[0].section
        if section == INSTRUMENTS:
            return Named(section, text)
        if section in PLAIN_SECTIONS:
            told = f"no place under `{section}`"
            self.tell(row, Role.PLACE, told, f"`{shown(text)}`", "leave it blank")
            return None
        found = self._known.place(text, section=section, facts=[facts], is_station=is_station)
        if isinstance(found, Named):
            return found
        self.tell(row, Role.PLACE, found.expected, found.found, found.advice)
        return None

    def _without_place(self, row: Row, section: str, facts: list[Fact]) -> Named | None:
        """Return what a row without an id is about: the roof, or what is kept beside it."""
        of_roof = all(fact.element is Element.ROOF for fact in facts)
        if section == ROOF_SECTIONS[0] or (not section and of_roof):
            return Named(self._known.roof_key(self._fact(row)[1])[0])
        if section in PLAIN_SECTIONS:
            return Named(section)
        self.tell(row, Role.PLACE, "a place's id", "none", "write it in every row")
        return None
