"""A record being added to: its data so far, which cell said what, what has been done to it."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.plain_data import MOST_PROBLEMS, mapping_in, words_in
from ridgerule.problems import Problem
from ridgerule.record import unknown_reason
from ridgerule.tables.keys import label_of

if TYPE_CHECKING:
    from ridgerule.documents import Data, Document, Path
    from ridgerule.problems import Location


class Did(StrEnum):
    """What an import does to a record."""

    NEW_PLACE = "new place"
    NEW_STATION = "new station"
    ADDED = "added"
    ANSWERED = "answered"
    """What was unknown or left blank has a value now."""
    MORE_SAID = "more said"
    """A photo, a note, how it is known … beside a reading that stays as it is."""
    CHANGED = "changed"


class Change(Struct, frozen=True):
    """One thing that an import does to a record."""

    did: Did
    path: Path
    """Of the place or station."""
    what: str
    """The fact, with its side; empty for a place or a station."""
    before: str
    after: str
    where: Location


class Draft(Struct):
    """A record being added to."""

    document: Document | None
    """The record as it was read; None where there was none."""
    data: dict[str, Data]
    origins: dict[Path, Location]
    """The cells that said what has been put in, by the path it has in the record."""
    keys: dict[Path, Location]
    """The cells that named the keys of it."""
    changes: list[Change]
    problems: list[Problem]

    def node(self, path: Path) -> Data:
        """Return what the record holds at a path, None where there is nothing."""
        data: Data = self.data
        for step in path:
            if isinstance(data, list) and isinstance(step, int) and step < len(data):
                data = data[step]
            else:
                data = mapping_in(data).get(str(step))
        return data

    def mapping(self, path: Path) -> dict[str, Data]:
        """Return the mapping at a path; one that is not there yet, or blank, is made."""
        holder: Data = self.data
        for i, step in enumerate(path):
            if isinstance(holder, list) and isinstance(step, int):
                inner = holder[step]
            else:
                inner = mapping_in(holder).get(str(step))
            if inner is None:
                inner = {}
                if isinstance(holder, list) and isinstance(step, int):
                    holder[step] = inner
                else:
                    self.mapping(path[:i])[str(step)] = inner
            holder = inner
        return mapping_in(holder)

    def put(self, path: Path, value: Data, where: Location, key: Location | None = None) -> None:
        """Put a value at a path, and note the cells that said so."""
        self.mapping(path[:-1])[str(path[-1])] = value
        self.origins[path] = where
        self.keys[path] = key or where

    def tell(self, where: Location, expected: str, found: str, advice: str) -> None:
        """Note a problem of a cell; no more of them than are of use."""
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(where, expected, found, advice))

    def recorded_at(self, path: Path) -> str:
        """Return where the record says what it has at a path, in words."""
        if self.document is None:
            return ""
        where = self.document.location(path)
        return f"{where.file} line {where.line}"


def label_at(data: Data, path: Path) -> str:
    """Return a place or station of a record as a report names it: `hip H1 at 2 ft`."""
    section, id_ = str(path[0]), str(path[1]) if len(path) > 1 else ""
    place = mapping_in(mapping_in(mapping_in(data).get(section)).get(id_)) if id_ else {}
    label = label_of(section, id_, place)
    if len(path) < 4 or not isinstance(path[3], int):
        return label
    stations = place.get("stations")
    station = stations[path[3]] if isinstance(stations, list) else None
    at = mapping_in(station).get("at")
    if unknown_reason(at):
        return f"{label} station {path[3] + 1}"
    return f"{label} at {words_in(at)}"
