"""How sure a judged value is: the uncertainty of readings, and of what is made of them.

A reading's comes from its instrument (graduation, expanded uncertainty, tape class) and from
repeats (JCGM 100, 4.2 and 4.3). A computed value's is found by moving each reading it is made of
by its own uncertainty (JCGM 100, 5.1.3 note 2, recalled), the readings taken as independent.
"""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING, cast

from msgspec import Struct, structs

from ridgerule.audit.subjects import ANYTHING
from ridgerule.enclosures import (
    Amount,
    Span,
    absolute,
    add,
    compare,
    divide,
    high,
    multiply,
    square_root,
    subtract,
)
from ridgerule.facts import How, Over
from ridgerule.quantities import Dimension, Quantity
from ridgerule.series import pi
from ridgerule.trade.measurement import (
    COVERAGE_FACTOR,
    TAPE_CLASSES,
    of_expanded,
    of_graduation,
    of_repeats,
    of_tape,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.audit.truth import Used
    from ridgerule.documents import Path
    from ridgerule.facts import Fact, FactRef
    from ridgerule.record import Instrument, Place, Reading, Record


class Sure(Struct, frozen=True):
    """How sure a value is, or why that is not known."""

    standard: Amount = 0
    """Its standard uncertainty u, in the base unit of the value."""
    lack: str = ""
    """Why none is known; empty where it is."""

    @property
    def expanded(self) -> Amount:
        """U = 2u, about 95 % for a normal distribution."""
        return multiply(self.standard, COVERAGE_FACTOR)


EXACT = Sure()
_COUNTED = (Dimension.COUNT, Dimension.DURATION, Dimension.CALENDAR_MONTHS)
_ANGLE_BITS = 128
_FINEST = 10**12
"""A reading is moved by its uncertainty to no more than so many parts of its unit."""
_PI_ERROR = 20
"""How far `pi` may be off, in the units it is told in."""


def sureness(record: Record, ref: FactRef, uses: Sequence[Used]) -> Sure:
    """Return how sure the value is that a fact gives, made of the readings or values in `uses`."""
    if ref.over is Over.COUNT:
        return EXACT
    found = [_of_use(record, ref.fact, use) for use in uses if isinstance(use.value, Quantity)]
    lacking = [sure for sure in found if sure.lack]
    if lacking or not found:
        return lacking[0] if lacking else EXACT
    greatest = _greatest([sure.standard for sure in found])
    match ref.over:
        case Over.SPREAD:  # the difference of two readings
            return Sure(square_root(multiply(2, multiply(greatest, greatest))))
        case Over.MEAN:  # by one instrument: its error is in all of them
            total: Amount = 0
            for sure in found:
                total = add(total, sure.standard)
            return Sure(divide(total, Fraction(len(found))))
        case _:
            return Sure(greatest)


def together(parts: Iterable[Sure]) -> Sure:
    """Return how sure a difference of independent values is."""
    squares: Amount = 0
    for part in parts:
        if part.lack:
            return part
        squares = add(squares, multiply(part.standard, part.standard))
    return Sure(square_root(squares))


def _of_use(record: Record, fact: Fact, use: Used) -> Sure:
    """Return how sure one reading or one computed value of a fact is."""
    key = ("sure", fact.full_name, use.path)
    if key not in record.computed:
        is_computed = fact.derivation is not None
        found = _of_computed(record, fact, use) if is_computed else _of_reading(record, use.path)
        record.computed[key] = found
    return cast("Sure", record.computed[key])


def _of_reading(record: Record, path: Path) -> Sure:
    reading = record.reading_at(path)
    return EXACT if reading is None else uncertainty_of(record, reading)


def uncertainty_of(record: Record, reading: Reading, *, without_repeats: bool = False) -> Sure:
    """Return how sure one reading is, by its instrument and its repeats."""
    value = reading.value
    if not isinstance(value, Quantity):
        return EXACT
    if value.dimension in _COUNTED or reading.how is How.DOCUMENT:
        return EXACT  # a count, or what a document says: nothing was measured
    instrument = record.instruments.get(reading.tool)
    if instrument is None:
        return Sure(lack="with which instrument it was read is not recorded")
    if lack := _says_too_little(instrument, value):
        return Sure(lack=f"of the instrument {instrument.name} {lack} is not recorded")
    scatter = () if without_repeats else _of_repeats(reading)
    squares: Amount = 0
    for part in (*_of_instrument(instrument, value), *scatter):
        squares = add(squares, multiply(part, part))
    return Sure(square_root(squares))


def _says_too_little(instrument: Instrument, value: Quantity) -> str:
    """Return what an instrument has to say yet; with less it would seem surer than it is."""
    if instrument.graduation is None:
        return "the graduation"
    by_class = instrument.tape_class and value.dimension is Dimension.LENGTH
    if instrument.expanded_uncertainty is None and not by_class:
        return "the expanded uncertainty"
    return ""


def _of_instrument(instrument: Instrument, value: Quantity) -> Iterator[Amount]:
    """Yield the standard uncertainties that an instrument brings, in the value's base unit."""
    if instrument.graduation is not None:
        of_marks = of_graduation(instrument.graduation.amount).standard
        yield _in_unit_of(value, of_marks, instrument.graduation.dimension)
    if instrument.expanded_uncertainty is not None:
        stated = of_expanded(instrument.expanded_uncertainty.amount).standard
        yield _in_unit_of(value, stated, instrument.expanded_uncertainty.dimension)
    if instrument.tape_class and value.dimension is Dimension.LENGTH:
        yield of_tape(value.amount, tape=TAPE_CLASSES[instrument.tape_class]).standard


def _in_unit_of(value: Quantity, standard: Amount, dimension: Dimension) -> Amount:
    """Return an uncertainty as one of the value: a slope read as an angle moves by its tangent."""
    if value.dimension is Dimension.SLOPE and dimension is Dimension.ANGLE:
        per_degree = divide(_pi(), 180)
        rate = multiply(add(1, multiply(value.amount, value.amount)), per_degree)
        return multiply(standard, rate)
    return standard


def _of_repeats(reading: Reading) -> Iterator[Amount]:
    """Yield the uncertainty that readings taken again show, the first among them."""
    values = [reading.value, *reading.repeats]
    amounts = [
        value.amount
        for value in values
        if isinstance(value, Quantity) and not isinstance(value.amount, Span)
    ]
    if len(amounts) > 1:
        yield of_repeats(amounts).uncertainty.standard


def _pi() -> Span:
    scaled, unit = pi(_ANGLE_BITS), 1 << _ANGLE_BITS
    return Span(Fraction(scaled - _PI_ERROR, unit), Fraction(scaled + _PI_ERROR, unit))


def _of_computed(record: Record, fact: Fact, use: Used) -> Sure:
    """Return how sure a computed value is, by moving each reading it is made of."""
    readings = {leaf.path: leaf for leaf in _leaves(use.via) if isinstance(leaf.value, Quantity)}
    squares: Amount = 0
    for path, leaf in readings.items():
        sure = _of_reading(record, path)
        if sure.lack:
            return sure
        shift = _shift(record, fact, use, (leaf, sure.standard))
        if shift is None:
            lack = f"{fact.full_name} can't be computed a little beside its reading"
            return Sure(lack=lack)
        squares = add(squares, multiply(shift, shift))
    return Sure(square_root(squares))


def _leaves(uses: Iterable[Used]) -> Iterator[Used]:
    """Yield the readings that values are made of in the end."""
    for use in uses:
        if use.via:
            yield from _leaves(use.via)
        else:
            yield use


def _shift(record: Record, fact: Fact, use: Used, moved: tuple[Used, Amount]) -> Amount | None:
    """Return how far a computed value moves where a reading moves by its uncertainty.

    Half the way between both sides; None where it can't be computed there.
    """
    leaf, standard = moved
    middle = leaf.value.amount if isinstance(leaf.value, Quantity) else 0
    most = high(standard)
    if not most:
        return 0
    step = Fraction(most).limit_denominator(_FINEST)
    ends = [
        _recomputed(record, fact, use.path, (leaf.path, end))
        for end in (subtract(middle, step), add(middle, step))
    ]
    below, above = ends
    if below is None or above is None:
        return None
    return divide(absolute(subtract(above, below)), 2)


def _recomputed(record: Record, fact: Fact, at: Path, read: tuple[Path, Amount]) -> Amount | None:
    """Return a fact computed at a place as it would be with another amount read elsewhere."""
    moved = _with_reading(record, *read)
    place = next((place for place in moved.every_place() if place.path == at), None)
    if place is None or fact.derivation is None:
        return None
    value = fact.derivation(moved, place, ANYTHING).value
    return value.amount if isinstance(value, Quantity) else None


def _with_reading(record: Record, path: Path, amount: Amount) -> Record:
    """Return the record with another amount read at `path`."""
    places = {
        element: tuple(_replaced(place, path, amount) for place in found)
        for element, found in record.places.items()
    }
    by_id = {(element, place.id): place for element, found in places.items() for place in found}
    roof = _replaced(record.roof, path, amount)
    return structs.replace(record, roof=roof, places=places, by_id=by_id, computed={})


def _replaced(place: Place, path: Path, amount: Amount) -> Place:
    """Return a place with another amount read at `path`, itself where that is elsewhere."""
    stations = tuple(_replaced(station, path, amount) for station in place.stations)
    readings = {
        name: tuple(
            _read_as(reading, amount) if reading.path == path else reading for reading in found
        )
        for name, found in place.readings.items()
    }
    if stations == place.stations and readings == dict(place.readings):
        return place
    return structs.replace(place, stations=stations, readings=MappingProxyType(readings))


def _read_as(reading: Reading, amount: Amount) -> Reading:
    if not isinstance(reading.value, Quantity):
        return reading
    return structs.replace(reading, value=Quantity(reading.value.dimension, amount, ""))


def _greatest(amounts: Sequence[Amount]) -> Amount:
    """Return the greatest amount, one as great as any where they can't be put in order."""
    greatest = amounts[0]
    for amount in amounts[1:]:
        order = compare(amount, greatest)
        if order is None:
            ends = [high(greatest) or 0, high(amount) or 0]
            greatest = max(map(Fraction, ends))
        elif order > 0:
            greatest = amount
    return greatest
