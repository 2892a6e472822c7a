"""Readings beside a figure, one step under it, on it and over it, each written so that it is exact.

What is written here reads back to the very amount; what can't be written so is left out and told.
"""

from __future__ import annotations

import datetime as dt
import re
from fractions import Fraction
from math import floor
from typing import TYPE_CHECKING

from ridgerule.audit.graduations import graduation
from ridgerule.enclosures import Span, add, compare, exact, high, low, subtract
from ridgerule.facts import Over, out_of_range
from ridgerule.quantities import Dimension, Quantity, Units, read, units_of, write
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH, UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.documents import Data
    from ridgerule.enclosures import Amount, Exact
    from ridgerule.facts import Fact, FactRef, Value
    from ridgerule.units import Unit

Beside = tuple["Value | None", "Value | None", "Value | None"]
"""A reading one step under a figure, on it and one step over it, as far as they can be written."""

_MOST_PLACES = 12
_FEW_PLACES = 4
_SIXTY_FOURTHS = 64
_NUMBER = re.compile("[0-9 .,/½¼¾⅛⅜⅝⅞\N{MINUS SIGN}-]+")
_PLACES = re.compile(r"\.([0-9]+)")
_DAY = dt.timedelta(days=1)


def written(amount: Amount, dimension: Dimension, *, like: str = "") -> Quantity | None:
    """Return a reading of exactly this amount, in the unit of `like` where it can be; else None."""
    if isinstance(amount, Span):
        return None
    for text in _texts(amount, dimension, like):
        found = read(text, dimension)
        if isinstance(found, Quantity) and compare(found.amount, amount) == 0:
            return found
    return None


def beside(figure: Value, fact: Fact) -> Beside:
    """Return readings one graduation under a figure, on it and over it.

    Of a figure that no reading can be on, such as a root, the nearest on the graduation.
    """
    if isinstance(figure, dt.date):
        return _days_beside(figure)
    if not isinstance(figure, Quantity):
        raise TypeError(f"nothing lies beside {figure!r}")
    if isinstance(figure.amount, Span) and figure.text:
        return _degrees_beside(figure)
    step = graduation(figure, fact)
    on = figure if figure.text else written(figure.amount, figure.dimension)
    if isinstance(figure.amount, Span) or on is None:
        return _grid_beside(figure, step)
    return (
        written(subtract(figure.amount, step), figure.dimension, like=figure.text),
        on,
        written(add(figure.amount, step), figure.dimension, like=figure.text),
    )


def shifted(figure: Value, fact: Fact, steps: int) -> Value | None:
    """Return a figure moved by one graduation, up for 1 and down for -1; None where none is."""
    found = beside(figure, fact)[steps + 1]
    if isinstance(figure, Quantity) and (isinstance(figure.amount, Span) and not figure.text):
        return None
    return found


def data_of(value: Value) -> Data:
    """Return a value as a case gives it."""
    match value:
        case Quantity():
            whole = value.dimension is Dimension.COUNT and isinstance(value.amount, int)
            return value.amount if whole and isinstance(value.amount, int) else value.text
        case bool():
            return value
        case dt.date():
            return value.isoformat()
        case str():
            return str(value)


def is_possible(value: Value, fact: Fact) -> bool:
    """Tell whether a reading of a fact can say this at all."""
    if not isinstance(value, Quantity) or value.dimension is not fact.dimension:
        return True
    return out_of_range(value, fact) is None


def can_come_to(value: Value, ref: FactRef) -> bool:
    """Tell whether what is asked of a fact can come to this: a spread or a count is never less."""
    if not isinstance(value, Quantity):
        return True
    counted = ref.over in (Over.SPREAD, Over.COUNT)
    if (counted or value.dimension is Dimension.COUNT) and compare(value.amount, 0) == -1:
        return False
    return counted or is_possible(value, ref.fact)


def _days_beside(day: dt.date) -> Beside:
    before = None if day == dt.date.min else day - _DAY
    after = None if day == dt.date.max else day + _DAY
    return before, day, after


def _degrees_beside(figure: Quantity) -> Beside:
    """Return slopes beside one that is written in degrees, whole degrees or tenths apart."""
    match = _NUMBER.match(figure.text)
    degrees = read(figure.text, Dimension.ANGLE)
    if match is None or not isinstance(degrees, Quantity) or isinstance(degrees.amount, Span):
        return None, figure, None
    places = len(match[0].strip().partition(".")[2])
    step = Fraction(1, 10**places)
    found = [written(degrees.amount + n * step, Dimension.ANGLE, like=figure.text) for n in (-1, 1)]
    slopes = [None if each is None else read(each.text, figure.dimension) for each in found]
    under, over = (each if isinstance(each, Quantity) else None for each in slopes)
    return under, figure, over


def _grid_beside(figure: Quantity, step: Exact) -> Beside:
    """Return the readings nearest to an amount on either side, with none on it."""
    least, most = low(figure.amount), high(figure.amount)
    if least is None or most is None:
        return None, None, None
    under = floor(Fraction(least) / step) * step
    over = (floor(Fraction(most) / step) + 1) * step
    dimension = figure.dimension
    return written(exact(under), dimension), None, written(exact(over), dimension)


def _texts(amount: Exact, dimension: Dimension, like: str) -> Iterator[str]:
    """Yield ways to write an amount, the nearest to what its author is used to first."""
    name = _unit_name(like)
    unit = UNITS[dimension].get(name)
    if unit is not None:
        yield from _in_unit(amount, name, unit, like)
    if dimension is Dimension.SLOPE:
        yield from _slopes(Fraction(amount), like)
    ours = units_of(like) if like else None
    for units in dict.fromkeys((ours or Units.INCH, *Units)):
        yield write(amount, dimension, units=units)
    for most in (_FEW_PLACES, _MOST_PLACES):
        for other, its in UNITS[dimension].items():
            yield from _decimal(_number(amount, its), f" {other}", most)
    if dimension in (Dimension.SLOPE, Dimension.SHARE):
        yield f"{Fraction(amount).numerator}/{Fraction(amount).denominator}"
    first = {} if unit is None else {name: unit}
    for other, its in (first | dict(UNITS[dimension])).items():
        number = _number(amount, its)
        yield f"{number.numerator}/{number.denominator} {other}"


def _slopes(slope: Fraction, like: str) -> Iterator[str]:
    run = like.rpartition(":")[2].strip() if ":" in like else "12"
    if run.isdigit() and int(run):
        yield from _decimal(slope * int(run), f":{run}", _FEW_PLACES)
    yield f"{slope.numerator}:{slope.denominator}"


def _in_unit(amount: Exact, name: str, unit: Unit, like: str) -> Iterator[str]:
    number = _number(amount, unit)
    if unit.scale in (NM_PER_INCH, NM_PER_FOOT) and "." not in like:
        yield from _mixed(number, name)
    places = len(match[1]) if (match := _PLACES.search(like)) else 0
    yield from _decimal(number, f" {name}", max(places, _FEW_PLACES), least=places)


def _mixed(number: Fraction, name: str) -> Iterator[str]:
    """Yield a number as a tape shows it, where it is one of sixty-fourths."""
    if (number * _SIXTY_FOURTHS).denominator != 1:
        return
    sign = "-" if number < 0 else ""
    whole, rest = divmod(abs(number), 1)
    parts = [str(whole)] if whole or not rest else []
    yield f"{sign}{' '.join([*parts, *([str(rest)] if rest else [])])} {name}"


def _decimal(number: Fraction, ending: str, most: int, *, least: int = 0) -> Iterator[str]:
    """Yield a number in as few decimal places as it takes, where `most` are enough."""
    for places in range(least, most + 1):
        scaled = number * 10**places
        if scaled.denominator == 1:
            digits = f"{abs(scaled.numerator):0{places + 1}}"
            point = f".{digits[-places:]}" if places else ""
            sign = "-" if number < 0 else ""
            yield f"{sign}{digits[: len(digits) - places]}{point}{ending}"
            return


def _number(amount: Exact, unit: Unit) -> Fraction:
    return Fraction(amount) / unit.scale + unit.zero


def _unit_name(text: str) -> str:
    return _NUMBER.sub("", text, count=1).strip() if _NUMBER.match(text) else ""
