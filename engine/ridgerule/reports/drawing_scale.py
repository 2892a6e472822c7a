"""Scales: from amounts to places on a drawing, and the round figures marked along them."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.quantities import Dimension, Units, units_of, write
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH, NM_PER_M, NM_PER_MM

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ridgerule.enclosures import Exact

_INCH_STEPS = tuple(Fraction(n, 16) for n in (1, 2, 4, 8, 16, 32, 48, 96, 192))
_SHORT_STEPS = (1, 2, 3, 6, 12)
_DECADES = 12
_UNITS: Mapping[tuple[Dimension, Units], tuple[Exact, int]] = MappingProxyType(
    {
        (Dimension.LENGTH, Units.INCH): (NM_PER_INCH, 0),
        (Dimension.LENGTH, Units.METRIC): (NM_PER_MM, 0),
        (Dimension.AREA, Units.INCH): (NM_PER_INCH**2, 0),
        (Dimension.AREA, Units.METRIC): (100 * NM_PER_MM**2, 0),
        (Dimension.SLOPE, Units.INCH): (Fraction(1, 12), 0),
        (Dimension.SLOPE, Units.METRIC): (Fraction(1, 12), 0),
        (Dimension.SHARE, Units.INCH): (Fraction(1, 100), 0),
        (Dimension.SHARE, Units.METRIC): (Fraction(1, 100), 0),
        (Dimension.TEMPERATURE, Units.INCH): (Fraction(5, 9), 32),
        (Dimension.TEMPERATURE_DIFFERENCE, Units.INCH): (Fraction(5, 9), 0),
    }
)
"""How many base units one step counts, and where its zero lies, where that is not the base unit."""


class Scale(Struct, frozen=True):
    """Amounts from `low` to `high` laid out from `start` to `end`; `low` is below `high`."""

    low: Exact
    high: Exact
    start: float
    end: float

    def at(self, amount: Exact) -> float:
        """Return where an amount lies, beyond the ends too."""
        share = Fraction(amount - self.low) / Fraction(self.high - self.low)
        return float(Fraction(self.start) + share * Fraction(self.end - self.start))


class Tick(Struct, frozen=True):
    """A round figure on a scale."""

    amount: Exact
    label: str


def system(texts: Iterable[str], asked: Units | None) -> Units:
    """Return the units asked for, else those that the first of the texts is written in."""
    return asked or next(filter(None, map(units_of, texts)), Units.INCH)


def distance_ticks(length: Exact, units: Units, *, most: int = 7) -> tuple[Tick, ...]:
    """Return round distances from 0 to a length, few enough to be read."""
    if units is Units.METRIC:
        sized = [(step, NM_PER_M, "m") for step in _decimal_steps()]
    else:
        sized = [(Fraction(step), NM_PER_INCH, "in") for step in _SHORT_STEPS[:-1]]
        sized += [(Fraction(step), NM_PER_FOOT, "ft") for step in (1, 2, 5, 10, 20, 50, 100, 200)]
    step, unit, word = next((one for one in sized if length / (one[0] * one[1]) <= most), sized[-1])
    count = floor(length / (step * unit))
    return tuple(
        Tick(n * step * unit, f"{_plain(n * step)} {word}" if n else "0") for n in range(count + 1)
    )


def level_ticks(
    low: Exact, high: Exact, dimension: Dimension, units: Units, *, most: int = 5
) -> tuple[Tick, ...]:
    """Return round figures between two amounts of a dimension."""
    unit, zero = _UNITS.get((dimension, units), (1, 0))
    bottom, top = Fraction(low) / unit + zero, Fraction(high) / unit + zero
    is_tape = dimension is Dimension.LENGTH and units is Units.INCH
    steps = [step for step in _decimal_steps() if step >= 1 or dimension is not Dimension.COUNT]
    tried = [*_INCH_STEPS, *(step for step in steps if step > 12)] if is_tape else steps
    step = next((one for one in tried if (top - bottom) / one <= most), tried[-1])
    first, last = ceil(bottom / step), floor(top / step)
    amounts = [(n * step - zero) * unit for n in range(first, last + 1)]
    return tuple(Tick(amount, write(amount, dimension, units=units)) for amount in amounts)


def padded(
    amounts: Iterable[Exact], dimension: Dimension, units: Units, *, share: Fraction
) -> tuple[Exact, Exact]:
    """Return a range that holds all amounts with room to spare; not below 0 where none is."""
    known = [Fraction(amount) for amount in amounts]
    least, most = min(known), max(known)
    unit, _ = _UNITS.get((dimension, units), (1, 0))
    room = (most - least) * share or max(abs(most) / 8, Fraction(unit))
    bottom = least - room
    return (Fraction(0) if least >= 0 > bottom else bottom), most + room


def bar(per_unit: float, units: Units, *, room: float) -> tuple[float, tuple[str, str, str]]:
    """Return a scale bar: its length, and the words at its start, middle and end.

    `per_unit` is how long a foot or a metre is on the sheet, `room` how long the bar may be.
    """
    word = "m" if units is Units.METRIC else "ft"
    fits = [step for step in _decimal_steps() if float(step) * per_unit <= room]
    step = max(fits) if fits else _decimal_steps()[0]
    return float(step) * per_unit, ("0", _plain(step / 2), f"{_plain(step)} {word}")


def _decimal_steps() -> list[Fraction]:
    return [
        Fraction(lead) * Fraction(10) ** exponent
        for exponent in range(-_DECADES, _DECADES)
        for lead in (1, 2, 5)
    ]


def _plain(value: Fraction) -> str:
    """Return a round figure without its unit: `2`, `0.5`."""
    if value.denominator == 1:
        return str(value.numerator)
    digits = 1
    while (value * 10**digits).denominator != 1:
        digits += 1
    scaled = str((value * 10**digits).numerator).rjust(digits + 1, "0")
    return f"{scaled[:-digits]}.{scaled[-digits:]}"
