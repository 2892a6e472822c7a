"""The unit that a bare number takes: the one last used for its kind in this visit or record."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeAlias

from ridgerule.enclosures import compare
from ridgerule.quantities import Dimension, Quantity, Units
from ridgerule.units import NM_PER_FOOT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.facts import Fact, Vocabulary
    from ridgerule.record import Place, Reading, Record

Kind: TypeAlias = "tuple[Dimension, bool]"
"""A dimension, and whether it is read with a short rule: no gap takes the unit of a ridge."""

ALONG: Kind = (Dimension.LENGTH, False)
"""Where a station lies along its line."""
_SHORT = 10 * NM_PER_FOOT
_UNIT = re.compile(r"[^0-9.,/½¼¾⅛⅜⅝⅞ -].*$")
_INCHES = re.compile(r"[0-9½¼¾⅛⅜⅝⅞] ?([^0-9 ½¼¾⅛⅜⅝⅞]+)$")
_BOTH: Mapping[Dimension, str] = {
    Dimension.ANGLE: "deg",
    Dimension.DURATION: "days",
    Dimension.CALENDAR_MONTHS: "months",
}
_USUAL: Mapping[Units, Mapping[Dimension, str]] = {
    Units.INCH: {
        **_BOTH,
        Dimension.LENGTH: "in",
        Dimension.AREA: "ft2",
        Dimension.SLOPE: ":12",
        Dimension.TEMPERATURE: "degF",
        Dimension.TEMPERATURE_DIFFERENCE: "degF",
        Dimension.EXPANSION: "ppm/degF",
        Dimension.NET_FREE_AREA_PER_LENGTH: "in2/ft",
    },
    Units.METRIC: {
        **_BOTH,
        Dimension.LENGTH: "mm",
        Dimension.AREA: "m2",
        Dimension.SLOPE: "deg",
        Dimension.TEMPERATURE: "degC",
        Dimension.TEMPERATURE_DIFFERENCE: "degC",
        Dimension.EXPANSION: "um/m/degC",
        Dimension.NET_FREE_AREA_PER_LENGTH: "cm2/m",
    },
}
"""Where nothing of the kind is recorded; a share has none: 0.4 may be meant in two ways."""


def kind_of(fact: Fact) -> Kind | None:
    """Return what kind of quantity a fact is, None for a fact that is none."""
    if not isinstance(fact.dimension, Dimension):
        return None
    most = fact.greatest
    is_short = most is not None and compare(most.amount, _SHORT) in (-1, 0)
    return fact.dimension, fact.dimension is Dimension.LENGTH and is_short


def unit_in(text: str, dimension: Dimension) -> str:
    """Return the unit that a reading ends with; of feet and inches the inches'."""
    match = _UNIT.search(text)
    unit = match.group() if match else ""
    match dimension:
        case Dimension.COUNT:
            return ""
        case Dimension.SLOPE:
            return unit if unit.startswith(("%", "d", "°")) else ":12"
        case Dimension.SHARE:
            return unit if unit == "%" else ""
        case Dimension.LENGTH:
            inches = _INCHES.search(unit)
            return inches[1] if inches else unit
        case _:
            return unit


def unit_for(
    kind: Kind | None,
    used: Mapping[Kind, str],
    record: Record,
    vocabulary: Vocabulary,
    units: Units,
) -> str:
    """Return the unit a bare number takes: of this visit, else of the record, else the usual."""
    if kind is None or kind[0] is Dimension.COUNT:
        return ""
    if kind in used:
        return used[kind]
    return _recorded(kind, record, vocabulary) or _USUAL[units].get(kind[0], "")


def _recorded(kind: Kind, record: Record, vocabulary: Vocabulary) -> str:
    """Return the unit of the last reading of a kind that a record holds."""
    found = ""
    for place in places_of(record):
        if kind == ALONG and place.at is not None and place.at.text:
            found = unit_in(place.at.text, kind[0]) or found
        for fact, reading in readings_at(place, vocabulary):
            if kind_of(fact) == kind and isinstance(reading.value, Quantity):
                found = unit_in(reading.value.text, kind[0]) or found
    return found


def places_of(record: Record) -> Iterator[Place]:
    """Yield every place of a record, each line's and plane's stations after it."""
    yield record.roof
    for group in record.places.values():
        for place in group:
            yield place
            yield from place.stations


def readings_at(place: Place, vocabulary: Vocabulary) -> Iterator[tuple[Fact, Reading]]:
    """Yield the readings of a place, each with its fact, where the vocabulary has it."""
    known = vocabulary.by_element[place.element]
    for name, readings in place.readings.items():
        if name in known:
            yield from ((known[name], reading) for reading in readings)
