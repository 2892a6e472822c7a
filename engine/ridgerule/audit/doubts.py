"""Readings that can hardly be right: told beside an audit, never part of a verdict.

To take a doubtful reading out of a record must not settle anything, so a doubt decides nothing: it
asks whoever read it to look again.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.uncertainty import together, uncertainty_of
from ridgerule.enclosures import Span, absolute, compare, high, subtract
from ridgerule.facts import Element
from ridgerule.quantities import Dimension, Quantity, Units, units_of, write

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.documents import Path
    from ridgerule.enclosures import Exact
    from ridgerule.facts import Vocabulary
    from ridgerule.record import Place, Reading, Record

_MANY_TIMES = 6
"""A reading so many times the others, or so small a part of them, was hardly read like this."""
_TENTH = (7, 14)
_INCHES_AS_MM = (18, 34)
"""How many times too small inches written as millimetres come out: 25.4, with room for scatter."""
_FEWEST = 3
"""Readings needed beside one before it can stand out."""
_FAR_OFF_DEG = 5
"""An angle measured so far from the one the planes give is wrong, or they are."""


class Doubt(Struct, frozen=True):
    """A reading to look at again."""

    place: str
    fact: str
    path: Path
    said: str
    """What is odd about it."""
    advice: str


def doubts(record: Record, vocabulary: Vocabulary) -> tuple[Doubt, ...]:
    """Return what in a record can hardly be right, in the record's order."""
    found = (
        *_beyond_the_end(record),
        *_read_twice(record),
        *_repeats_apart(record),
        *_standing_out(record),
        *_angles_against_planes(record, vocabulary),
    )
    places = {place.path: n for n, place in enumerate(record.every_place())}
    return tuple(sorted(found, key=lambda doubt: _rank(doubt.path, places)))


def _rank(path: Path, places: Mapping[Path, int]) -> int:
    for end in range(len(path), 0, -1):
        if path[:end] in places:
            return places[path[:end]]
    return 0


def _beyond_the_end(record: Record) -> Iterator[Doubt]:
    """Yield the stations that lie beyond the end of their line."""
    for line in record.places[Element.LINE]:
        length = _quantity(line, "length")
        for station in line.stations if length is not None else ():
            at = station.at
            if at is None or length is None or compare(at.amount, length.amount) != 1:
                continue
            said = f"{station.label}: {line.label} is {length.text} long"
            path = (*station.path, "at")
            yield Doubt(
                station.label, "at", path, said, "measure the line, or the way to it, again"
            )


def _read_twice(record: Record) -> Iterator[Doubt]:
    """Yield the readings of one spot that differ by more than they are sure to."""
    for host in _hosts(record):
        seen: dict[tuple[str, str, str], tuple[Place, Reading]] = {}
        for station in host.stations:
            for name, reading in _known(station):
                key = (station.spot, name, reading.side)
                first = seen.setdefault(key, (station, reading)) if station.spot else None
                if first is not None and first[1] is not reading:
                    yield from _differing(record, name, (first, (station, reading)))


def _differing(
    record: Record, name: str, pair: tuple[tuple[Place, Reading], tuple[Place, Reading]]
) -> Iterator[Doubt]:
    (_, one), (place, other) = pair
    if not isinstance(one.value, Quantity) or not isinstance(other.value, Quantity):
        return
    apart = absolute(subtract(one.value.amount, other.value.amount))
    sure = together([uncertainty_of(record, one), uncertainty_of(record, other)])
    allowed = sure.expanded if not sure.lack else 0
    if compare(apart, allowed) != 1:
        return
    words = name.replace("_", " ")
    said = f"{words} at {place.label} is {one.value.text} and {other.value.text}"
    told = f"{said}, further apart than the readings are sure to" if not sure.lack else said
    yield Doubt(place.label, name, other.path, told, "read it again, and say which holds")


def _repeats_apart(record: Record) -> Iterator[Doubt]:
    """Yield the readings whose repeats scatter by more than their instrument explains."""
    for place in record.every_place():
        for name, reading in _known(place):
            amounts = [_exact(value) for value in (reading.value, *reading.repeats)]
            known = [amount for amount in amounts if amount is not None]
            sure = uncertainty_of(record, reading, without_repeats=True)
            if len(known) < 2 or sure.lack:
                continue
            spread = max(known) - min(known)
            if compare(spread, 2 * Fraction(high(sure.expanded) or 0)) == 1:
                words = name.replace("_", " ")
                texts = [v.text for v in (reading.value, *reading.repeats)
                         if isinstance(v, Quantity)]  # fmt: skip
                said = f"{words} at {place.label} was read as {', '.join(texts)}"
                advice = "more scatter than the instrument explains: see where it is read"
                yield Doubt(place.label, name, reading.path, said, advice)


def _standing_out(record: Record) -> Iterator[Doubt]:
    """Yield the readings that are many times the others of their fact, or a small part of them."""
    by_fact: dict[tuple[Element, str], list[tuple[Place, Reading, Exact]]] = {}
    for place in record.every_place():
        for name, reading in _known(place):
            amount = _exact(reading.value)
            if amount is not None and amount > 0 and _is_length(reading):
                by_fact.setdefault((place.element, name), []).append((place, reading, amount))
    for (_, name), found in by_fact.items():
        if len(found) > _FEWEST:  # one and as many others as it can stand out from
            ordered = sorted(amount for _, _, amount in found)
            usual = Fraction(ordered[len(ordered) // 2])
            for place, reading, amount in found:
                yield from _odd(name, place, reading, Fraction(amount) / usual)


def _odd(name: str, place: Place, reading: Reading, times: Fraction) -> Iterator[Doubt]:
    if not isinstance(reading.value, Quantity) or 1 / _MANY_TIMES < times < _MANY_TIMES:
        return
    words, text = name.replace("_", " "), reading.value.text
    ratio = times if times > 1 else 1 / times
    told = f"{float(ratio):.0f} times" if times > 1 else f"a {float(ratio):.0f}th of"
    said = f"{words} at {place.label} is {text}, {told} what the others are"
    advice = "check the reading and its unit"
    if _TENTH[0] <= ratio <= _TENTH[1]:
        advice = "a point left out or put in? check the reading"
    if times < 1 and _INCHES_AS_MM[0] <= ratio <= _INCHES_AS_MM[1] and _is_metric(text):
        advice = "inches written as millimetres? check the unit"
    yield Doubt(place.label, name, reading.path, said, advice)


def _angles_against_planes(record: Record, vocabulary: Vocabulary) -> Iterator[Doubt]:
    """Yield the measured angles that the planes' slopes and directions contradict."""
    fact = vocabulary.by_name.get("line.included_angle")
    for line in record.places[Element.LINE] if fact is not None else ():
        measured = line.readings.get("angle")
        value = measured[0].value if measured else None
        if not isinstance(value, Quantity) or fact is None or fact.derivation is None:
            continue
        computed = fact.derivation(record, line).value
        if not isinstance(computed, Quantity):
            continue
        apart = absolute(subtract(computed.amount, value.amount))
        if compare(apart, _FAR_OFF_DEG) == 1 and measured:
            given = write(computed.amount, Dimension.ANGLE, units=Units.INCH)
            said = f"angle at {line.label} is {value.text}, where its planes give {given}"
            advice = "one is wrong: the angle, a slope or a direction"
            yield Doubt(line.label, "angle", measured[0].path, said, advice)


def _hosts(record: Record) -> Iterator[Place]:
    for element in (Element.PLANE, Element.LINE):
        yield from record.places[element]


def _known(place: Place) -> Iterator[tuple[str, Reading]]:
    """Yield the quantities read at a place."""
    for name, readings in place.readings.items():
        for reading in readings:
            if isinstance(reading.value, Quantity):
                yield name, reading


def _quantity(place: Place, name: str) -> Quantity | None:
    readings: Sequence[Reading] = place.readings.get(name, ())
    value = readings[0].value if readings else None
    return value if isinstance(value, Quantity) else None


def _exact(value: object) -> Exact | None:
    """Return the amount of an exact quantity, None for anything else."""
    if not isinstance(value, Quantity) or isinstance(value.amount, Span):
        return None
    return value.amount


def _is_length(reading: Reading) -> bool:
    return isinstance(reading.value, Quantity) and reading.value.dimension is Dimension.LENGTH


def _is_metric(text: str) -> bool:
    return units_of(text) is Units.METRIC
