"""A record as the tables of a workbook: one row a station, line, plane or other place.

What is said of the roof and of the visit is a table with one thing a row. A reading has a column
for its value and, where any reading in the table has more to say, one for each part of that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.tables.entries import Entry, entries, position_text
from ridgerule.tables.keys import (
    ELEMENTS,
    HOST_SECTIONS,
    PLACE_SECTIONS,
    Part,
    Spot,
    is_structure,
)
from ridgerule.tables.long_table import row_of, used

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ridgerule.documents import Document
    from ridgerule.facts import Fact, Vocabulary


class Heading(Struct, frozen=True):
    """A column: its title and what it is of."""

    title: str
    fact: Fact | None = None
    part: Part = Part.VALUE


class Table(Struct, frozen=True):
    """A table to be written: a name, its columns, and as many texts in each row."""

    name: str
    headings: tuple[Heading, ...]
    rows: tuple[tuple[str, ...], ...]
    keys: int
    """How many of the first columns say what a row is."""


def tables_of(document: Document, vocabulary: Vocabulary) -> tuple[Table, ...]:
    """Return the tables of a record: the roof, its places, the stations on them."""
    said = [*entries(document, vocabulary)]
    tables = [_roof(said)]
    for section in PLACE_SECTIONS:
        places = [e for e in said if e.spot.section == section and e.spot.station is None]
        ids = dict.fromkeys(e.spot.place for e in said if e.spot.section == section)
        if ids:
            # A place of which nothing but its stations is said is there all the same.
            there = [Spot(section, id_) for id_ in ids]
            noun = Heading(str(ELEMENTS[section]))
            tables.append(_table(section, (noun,), there, places, vocabulary))
    for section in HOST_SECTIONS:
        stations = [e for e in said if e.spot.section == section and e.spot.station is not None]
        if stations:
            noun = Heading(str(ELEMENTS[section]))
            keys = (noun, Heading("station"), Heading("position"))
            name = f"stations on {section}"
            tables.append(_table(name, keys, (), stations, vocabulary))
    return tuple(tables)


def _roof(said: Iterable[Entry]) -> Table:
    rows = [row_of(entry) for entry in said if entry.spot.section not in PLACE_SECTIONS]
    columns = used(rows, always=("section", "fact", Part.VALUE))
    parts = frozenset(Part)
    headings = (Heading(c, part=Part(c)) if c in parts else Heading(c) for c in columns)
    texts = (tuple(row.get(column, "") for column in columns) for row in rows)
    return Table("roof", tuple(headings), tuple(texts), columns.index(Part.VALUE))


def _table(
    name: str,
    keys: tuple[Heading, ...],
    there: Iterable[Spot],
    said: Sequence[Entry],
    vocabulary: Vocabulary,
) -> Table:
    """Return a table with one place a row: those of `there`, and whatever is said of any."""
    by_spot: dict[Spot, list[Entry]] = {spot: [] for spot in there}
    for entry in said:
        by_spot.setdefault(entry.spot, []).append(entry)
    headings = _headings(said, vocabulary)
    rows = []
    for spot, found in by_spot.items():
        texts = {_title(e, part): text for e in found for part, text in e.texts.items()}
        rows.append((*_key_texts(spot), *(texts.get(h.title, "") for h in headings)))
    return Table(name, (*keys, *headings), tuple(rows), len(keys))


_FIRST = ("kind", "name", "plane", "planes", "between", "line", "lines", "from", "plan", "only")
_LAST = ("photo", "note")


def _headings(said: Iterable[Entry], vocabulary: Vocabulary) -> tuple[Heading, ...]:
    """Return the columns for what is said, as `_FIRST`, the facts' usual order and `_LAST` say.

    The sides of a fact and the parts of a reading stand together; its value has a column even
    where only more is said of it.
    """
    order = {fact.full_name: i for i, fact in enumerate(vocabulary.facts)}
    sides: dict[str, int] = {}
    found: dict[str, tuple[tuple[int, ...], Heading]] = {}
    for entry in said:
        side = sides.setdefault(entry.side, len(sides))
        for part in (Part.VALUE, *entry.texts) if entry.key else ():
            place = (*_rank(entry, order), side, [*Part].index(part))
            title = _title(entry, part)
            found.setdefault(title, (place, Heading(title, entry.fact, part)))
    return tuple(heading for _, heading in sorted(found.values(), key=lambda each: each[0]))


def _rank(entry: Entry, order: Mapping[str, int]) -> tuple[int, int]:
    if entry.key in _FIRST:
        return 0, _FIRST.index(entry.key)
    if entry.key in _LAST and is_structure(entry.spot, entry.key):
        return 2, _LAST.index(entry.key)
    return 1, order[entry.fact.full_name] if entry.fact is not None else -1


def _title(entry: Entry, part: Part) -> str:
    """Return the title of the column that a part of a reading stands in."""
    side = f" ({entry.side})" if entry.side else ""
    return f"{entry.key}{side}" if part is Part.VALUE else f"{entry.key}{side} {part}"


def _key_texts(spot: Spot) -> tuple[str, ...]:
    if spot.station is None:
        return (spot.place,)
    return spot.place, str(spot.station.number), position_text(spot.station)
