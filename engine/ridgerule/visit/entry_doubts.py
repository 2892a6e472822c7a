"""Readings that are asked again before they are written: out of range, or far from the others."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import low
from ridgerule.facts import out_of_range, read_value
from ridgerule.misreadings import Mistake
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.facts import Fact
    from ridgerule.record import Place, Record

_FAR = 10
"""A reading so many times its neighbours, or so small a part of them, is asked again."""


class Doubt(Struct, frozen=True):
    """Why a reading is asked again."""

    words: str
    can_be_recorded: bool
    """Whether it can stand in a record as it is: one out of its fact's range can't."""


def doubt_of(text: str, fact: Fact, place: Place, record: Record) -> Doubt | None:
    """Return why a reading is asked again, None where nothing is odd about it."""
    value = read_value(text, fact)
    if not isinstance(value, Quantity):
        return None
    if (mistake := out_of_range(value, fact)) is not None:
        return Doubt(
            f"{value.text}? Expected {mistake.expected.replace('`', '')}", can_be_recorded=False
        )
    others, where = _neighbours(fact, place, record)
    if (middle := _middle(others)) is None:
        return None
    size, usual = _size(value), _size(middle)
    if not size or not usual or usual / _FAR < size < usual * _FAR:
        return None
    return Doubt(f"{value.text}? The others {where} are near {middle.text}", can_be_recorded=True)


def refused_note(text: str, fact: Fact) -> str:
    """Return the note that keeps a reading which no record can hold as a value."""
    value = read_value(text, fact)
    mistake = out_of_range(value, fact) if not isinstance(value, Mistake) else value
    expected = mistake.expected.replace("`", "") if mistake else ""
    return f"read as {text} and confirmed, where {expected} was expected"


def _neighbours(fact: Fact, place: Place, record: Record) -> tuple[list[Quantity], str]:
    """Return the other readings of a fact: on the same line or plane where there are any."""
    here: list[Quantity] = []
    elsewhere: list[Quantity] = []
    for other in _holders(fact, record):
        is_host = other.path[:2] == place.path[:2]
        for reading in other.readings.get(fact.name, ()):
            if isinstance(reading.value, Quantity) and other.path != place.path:
                (here if is_host else elsewhere).append(reading.value)
    return (here, "here") if here else (elsewhere, "on this roof")


def _holders(fact: Fact, record: Record) -> Iterator[Place]:
    for group in record.places.values():
        for place in group:
            for held in (place, *place.stations):
                if held.element is fact.element:
                    yield held


def _middle(readings: list[Quantity]) -> Quantity | None:
    """Return the reading in the middle of others."""
    sized = sorted((r for r in readings if _size(r) is not None), key=lambda r: _size(r) or 0)
    return sized[len(sized) // 2] if sized else None


def _size(reading: Quantity) -> Fraction | None:
    least = low(reading.amount)
    return None if least is None else abs(Fraction(least))
