"""What the columns of a table are: named as our own tables name them, as facts, or by a mapping.

A fact's column is titled `gap`, `station.gap` or `Gap`; the side it is of and the unit of bare
numbers may follow, and the part of a reading it holds: `setback (S) [mm]`, `gap how`.
"""

from __future__ import annotations

import re
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import SECTIONS, Element
from ridgerule.misreadings import Mistake
from ridgerule.problems import shown, suggestion, with_article
from ridgerule.quantities import Dimension, read
from ridgerule.record import STRUCTURE
from ridgerule.tables.keys import Part
from ridgerule.tables.mappings import IGNORE, READINGS, STATIONS, Meaning, one_spelling
from ridgerule.units import OFFERED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.facts import Fact, Vocabulary
    from ridgerule.tables.grids import Grid


class Role(StrEnum):
    """What a column is for."""

    SECTION = "section"
    PLACE = "place"
    STATION = "station"
    POSITION = "position"
    SIDE = "side"
    FACT = "fact"
    UNIT = "unit"
    PART = "part"
    """Of the reading that a row is."""
    READING = "reading"
    """Of a fact, or a part of it, where a row is a station or another place."""
    STRUCTURE = "structure"
    """No fact, such as a place's name or the planes beside a line."""
    IGNORED = "ignored"


class Column(Struct, frozen=True):
    """One column of a table."""

    index: int
    title: str
    role: Role
    section: str = ""
    """For a place: the section it is in, where the column says so."""
    key: str = ""
    element: Element | None = None
    """For a reading: what its fact is about."""
    side: str = ""
    part: Part = Part.VALUE
    unit: str = ""


class Layout(Struct, frozen=True):
    """A table with its columns known."""

    grid: Grid
    rows: str
    """What a row is: `readings`, `stations`, or the section of a place."""
    header: int
    """The row that names the columns."""
    columns: tuple[Column, ...]
    host: str = ""
    """For stations: the section of what they lie on, where the table's name says so."""

    def of(self, *roles: Role) -> tuple[Column, ...]:
        """Return the columns of some roles."""
        return tuple(column for column in self.columns if column.role in roles)


STATION_SHEETS: Mapping[str, str] = MappingProxyType(
    {"stations": "", "stations on lines": "lines", "stations on planes": "planes"}
)
"""Names of tables of stations, and the section of what they lie on."""

_ROLES: Mapping[str, Role] = MappingProxyType(
    {
        "section": Role.SECTION,
        "place": Role.PLACE,
        "id": Role.PLACE,
        "station": Role.STATION,
        "position": Role.POSITION,
        "at": Role.POSITION,
    }
)
_READING_ROLES: Mapping[str, Role] = MappingProxyType(
    {"side": Role.SIDE, "fact": Role.FACT, "unit": Role.UNIT, **dict.fromkeys(Part, Role.PART)}
)
TO_BE_READ = ("question", "rule", "written as")
"""Columns of a sheet to fill by hand that are for whoever fills it."""

_BRACKETED = re.compile(r"^(.*\S)\s*\[([^\[\]]*)\]$", re.DOTALL)
_QUALIFIED = re.compile(r"^\s*([A-Za-z]+)\.(.*)$", re.DOTALL)
_PARENTHESISED = re.compile(r"^(.*?)\s*\(([^()]*)\)\s*(.*)$", re.DOTALL)
_AFTER_NAME = re.compile(r"\s*[\[(].*$", re.DOTALL)
_NOUNS = MappingProxyType({str(element): section for element, section in SECTIONS.items()})
_NOT_PLACES_OF_THEIR_OWN = ("line", "plane")


class Titles(Struct, frozen=True):
    """Tells what a title means in a table whose rows are of one kind."""

    vocabulary: Vocabulary
    rows: str

    @property
    def element(self) -> Element | None:
        """What a row is about; None where it is one reading of anything."""
        if self.rows == STATIONS:
            return Element.STATION
        return next((e for e, section in SECTIONS.items() if section == self.rows), None)

    def column(self, index: int, title: str, meaning: Meaning | None) -> Column | Mistake:
        """Return the column under a title, or by what a mapping says that it means."""
        text, unit = (title, "") if meaning is None else (meaning.name, meaning.unit)
        if text == IGNORE or (meaning is None and one_spelling(text) in TO_BE_READ):
            return Column(index, title, Role.IGNORED)
        if bracketed := _BRACKETED.match(text.strip()):
            text, unit = bracketed[1], unit or bracketed[2].strip()
        found = self._plain(index, title, text, unit) or self._reading(index, title, text, unit)
        if meaning is None or isinstance(found, Mistake):
            return found
        return self._meant(found, meaning)

    def _meant(self, column: Column, meaning: Meaning) -> Column | Mistake:
        """Return a column with what else a mapping says of it."""
        if (meaning.side or meaning.part) and column.role is not Role.READING:
            return Mistake("a fact beside `side:` and `part:`", f"`{shown(meaning.name)}`", "")
        return Column(
            column.index, column.title, column.role, column.section, column.key, column.element,
            meaning.side or column.side,
            Part(meaning.part) if meaning.part in frozenset(Part) else column.part,
            column.unit,
        )  # fmt: skip

    def _plain(self, index: int, title: str, text: str, unit: str) -> Column | Mistake | None:
        """Return a column that is no fact's, None where the title is none of theirs."""
        name = one_spelling(text)
        if not unit and (aside := _PARENTHESISED.match(text)) and not aside[3]:
            name, unit = one_spelling(aside[1]), aside[2].strip()
            if name not in ("position", "at"):
                return None
        role = _ROLES.get(name)
        if role in (Role.STATION, Role.POSITION) and self.rows not in (READINGS, STATIONS):
            return None
        if self.rows == READINGS:
            role = role or _READING_ROLES.get(name)
        if role is not None:
            if role is Role.POSITION and unit and (wrong := _no_unit(unit, Dimension.LENGTH)):
                return wrong
            part = Part(name) if role is Role.PART else Part.VALUE
            return Column(index, title, role, unit=unit, part=part)
        return self._place_or_structure(index, title, text)

    def _place_or_structure(self, index: int, title: str, text: str) -> Column | None:
        name, element = one_spelling(text), self.element
        qualified = _QUALIFIED.match(text)
        if qualified is not None and element is not None and qualified[1].lower() == element:
            name = one_spelling(qualified[2])
        is_host = self.rows in (STATIONS, READINGS) and name in _NOT_PLACES_OF_THEIR_OWN
        if is_host or name == element:
            return Column(index, title, Role.PLACE, section=_NOUNS[name])
        if element is not None and name in (STRUCTURE[element] | {"note", "photo"}):
            return Column(index, title, Role.STRUCTURE, key=name)
        return None

    def _reading(self, index: int, title: str, text: str, unit: str) -> Column | Mistake:
        element, name = self.element, text
        qualified = _QUALIFIED.match(text)
        if qualified is not None and qualified[1].lower() in frozenset(Element):
            element, name = Element(qualified[1].lower()), qualified[2]
        if element is None:
            return self._unknown(text)
        aside, side = "", ""
        if parted := _PARENTHESISED.match(name):
            name, aside = f"{parted[1]} {parted[3]}", parted[2].strip()
        fact, part = self._fact(element, name)
        if fact is None:
            return self._unknown(text)
        if aside and fact.per_side:
            side = aside
        elif aside:
            unit = unit or aside
        if unit and (wrong := _no_unit(unit, fact.dimension)):
            return wrong
        return Column(index, title, Role.READING, "", fact.name, element, side, part, unit)

    def _fact(self, element: Element, name: str) -> tuple[Fact | None, Part]:
        """Return the fact of a title and the part of its reading; a whole fact's name first."""
        known = self.vocabulary.by_element[element]
        words = one_spelling(name).split()
        whole = known.get("_".join(words))
        if whole is not None and whole.derivation is None:
            return whole, Part.VALUE
        if words and words[-1] in frozenset(Part):
            fact = known.get("_".join(words[:-1]))
            if fact is not None and fact.derivation is None:
                return fact, Part(words[-1])
        return None, Part.VALUE

    def _unknown(self, text: str) -> Mistake:
        """Return that a title names nothing that this table can have, and what is near to it."""
        element, name = self.element, text
        qualified = _QUALIFIED.match(text)
        if qualified is not None and qualified[1].lower() in frozenset(Element):
            element, name = Element(qualified[1].lower()), qualified[2]
        known = [*_ROLES] if element is self.element else []
        if element is not None:
            facts = self.vocabulary.by_element[element].values()
            known += [fact.name for fact in facts if fact.derivation is None]
            known += [*STRUCTURE[element], "note", "photo"]
        else:
            known += _READING_ROLES
        name = "_".join(one_spelling(_AFTER_NAME.sub("", name)).split())
        near = suggestion(name, known) if qualified is not None else ""
        kind = "reading" if self.rows == READINGS else str(self.element)
        return Mistake(
            f"a column that a table with one {kind} a row can have",
            f"`{shown(text)}`",
            near
            or self._elsewhere(name)
            or suggestion(name, known)
            or "say in a mapping file what it is, or that it is to be ignored",
        )

    def _elsewhere(self, name: str) -> str:
        """Return what to do with a fact that a row of this table is not about."""
        owners = [element for element in Element if name in self.vocabulary.by_element[element]]
        if not owners or self.rows == READINGS:
            return ""
        hosts = [owner for owner in owners if owner in (Element.LINE, Element.PLANE)]
        if self.rows == STATIONS and hosts:
            return f"write {' or '.join(f'`{host}.{name}`' for host in hosts)} for what they lie on"
        return f"`{name}` belongs to {' or '.join(map(with_article, owners))}"


def _no_unit(unit: str, dimension: object) -> Mistake | None:
    """Return what is wrong with the unit of a column, if anything is."""
    if not isinstance(dimension, Dimension) or dimension is Dimension.COUNT:
        return Mistake(
            "no unit over a column without quantities", f"`{shown(unit)}`", "take it out"
        )
    number = f"1{'' if unit.startswith(':') else ' '}{unit}"
    if isinstance(read(number, dimension), Mistake):
        offered = " or ".join(f"`{ending.strip()}`" for ending in OFFERED[dimension])
        return Mistake(f"a unit of {dimension}, such as {offered}", f"`{shown(unit)}`", "")
    return None


def kind_of_rows(table: str, names: list[str]) -> str:
    """Return what one row is of a table with columns of these names; empty where they don't say."""
    spelled = {one_spelling(_AFTER_NAME.sub("", name)) for name in names}
    if {"fact", "value"} <= spelled:
        return READINGS
    title = one_spelling(table)
    if title in STATION_SHEETS:
        return STATIONS
    if title in SECTIONS.values():
        return title
    qualified = {m[1].lower() for name in names if (m := _QUALIFIED.match(name))}
    if spelled & {"position", "at", "station"} or Element.STATION in qualified:
        return STATIONS
    own = [noun for noun in _NOUNS if noun in spelled and noun not in _NOT_PLACES_OF_THEIR_OWN]
    hosts = [noun for noun in _NOT_PLACES_OF_THEIR_OWN if noun in spelled]
    nouns = own or hosts or [noun for noun in _NOUNS if noun in qualified]
    return _NOUNS[nouns[0]] if len(nouns) == 1 else ""
