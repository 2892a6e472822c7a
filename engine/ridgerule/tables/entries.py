"""A record -> all that it says, one thing after the other, as tables hold it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.plain_data import items_in, mapping_in
from ridgerule.tables.keys import (
    ALL_SECTIONS,
    INSTRUMENTS,
    NOT_SAID,
    PLACE_SECTIONS,
    Form,
    Part,
    Spot,
    Station,
    asked_of,
)
from ridgerule.tables.listed_text import joined, joined_points
from ridgerule.tables.reading_data import parts_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.documents import Data, Document
    from ridgerule.facts import Fact, Vocabulary

Texts = dict[Part, str]


class Entry(Struct, frozen=True):
    """One thing that a record says, its parts as the texts of cells."""

    spot: Spot
    key: str
    """Empty where nothing more is said than that the place is there."""
    texts: Texts
    side: str = ""
    fact: Fact | None = None
    """The fact that the key holds, if it holds one."""


def entries(document: Document, vocabulary: Vocabulary) -> Iterator[Entry]:
    """Yield all that a record says that can be read with `vocabulary`, in its own order.

    What is left blank says nothing; a place of which nothing is said is there all the same.
    """
    data = mapping_in(document.data)
    for section in ALL_SECTIONS:
        found = data.get(section)
        if section == "rulebooks":
            for name in items_in(found):
                yield Entry(Spot(section), "", {Part.VALUE: _text(name)})
        elif section == INSTRUMENTS:
            for name, instrument in mapping_in(found).items():
                spot = Spot(section, name)
                yield from _always(spot, _of(spot, mapping_in(instrument), vocabulary))
        elif section in PLACE_SECTIONS:
            for id_, place in mapping_in(found).items():
                yield from _place(Spot(section, id_), mapping_in(place), vocabulary)
        else:
            yield from _of(Spot(section), mapping_in(found), vocabulary)


def _place(spot: Spot, data: Mapping[str, Data], vocabulary: Vocabulary) -> Iterator[Entry]:
    own = {key: value for key, value in data.items() if key != "stations"}
    yield from _always(spot, _of(spot, own, vocabulary))
    for number, item in enumerate(items_in(data.get("stations")), start=1):
        station = mapping_in(item)
        here = Spot(spot.section, spot.place, Station(station.get("at"), number))
        facts = {key: value for key, value in station.items() if key != "at"}
        yield from _always(here, _of(here, facts, vocabulary))


def _always(spot: Spot, found: Iterator[Entry]) -> Iterator[Entry]:
    """Yield what is said of a place; that it is there, where that is all."""
    said = [*found]
    yield from said or [Entry(spot, "", {})]


def _of(spot: Spot, data: Mapping[str, Data], vocabulary: Vocabulary) -> Iterator[Entry]:
    for key, value in data.items():
        asked = asked_of(vocabulary, spot, key)
        if asked.fact is not None:
            yield from _readings(spot, key, value, asked.fact)
        elif asked.form is Form.PAIR:
            for pair in items_in(value):
                yield Entry(spot, key, {Part.VALUE: joined(pair, is_names=True)})
        elif value is not None and value != "":
            is_blank = value == [] and key != "only"
            if not is_blank:
                yield Entry(spot, key, {Part.VALUE: _plain(value, asked.form)})


def _plain(value: Data, form: Form) -> str:
    match form:
        case Form.NAMES:
            return joined(value, is_names=True)
        case Form.PHOTO:
            return joined(value)
        case Form.POINTS:
            return joined_points(value)
        case _:
            return _text(value)


def _readings(spot: Spot, key: str, value: Data, fact: Fact) -> Iterator[Entry]:
    if fact.per_side and isinstance(value, dict):
        for side, reading in value.items():
            if texts := _texts(reading):
                yield Entry(spot, key, texts, side, fact)
    elif texts := _texts(value):
        yield Entry(spot, key, texts, "", fact)


def _texts(reading: Data) -> Texts:
    """Return the parts of a reading as the texts of cells, none for one left blank."""
    parts = parts_of(reading)
    texts = {part: _part(part, value) for part, value in parts.items()}
    if isinstance(reading, dict) and parts and Part.HOW not in parts:
        texts[Part.HOW] = NOT_SAID
    return texts


def _part(part: Part, value: Data) -> str:
    return joined(value) if part in (Part.REPEATS, Part.PHOTO) else _text(value)


def _text(value: Data) -> str:
    if isinstance(value, (list, dict)):
        raise TypeError("a list or mapping where a record has words: give its key a form")
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def position_text(station: Station) -> str:
    """Return where a station is as the text of a cell, empty where the record does not say."""
    return "" if station.position is None else _text(station.position)
