"""Exact quantities: read as the trade writes them, kept in base units, never as floats.

`read` gives a `Quantity` or a `Mistake`; it never raises on what a user wrote. Days and weeks
are one dimension, months and years another, since no month has a fixed number of days.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from ridgerule.enclosures import Amount, Exact, Span, exact, tangent
from ridgerule.misreadings import LONGEST, MOST_DIGITS, Mistake, mistake_in
from ridgerule.quantity_text import decimal_text, write
from ridgerule.units import (
    FOOT,
    INCH,
    MINUS_SIGNS,
    NM_PER_FOOT,
    NM_PER_INCH,
    NM_PER_M,
    UNITS,
    Dimension,
    Units,
)

__all__ = [
    "Dimension",
    "Mistake",
    "Quantity",
    "Units",
    "exact_si",
    "read",
    "units_of",
    "write",
]


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount in the base unit of its dimension, and the reading as it was written.

    Two quantities are equal when dimension and amount are, however they were written.
    """

    dimension: Dimension
    amount: Amount
    text: str = field(compare=False)


_VULGAR = {
    "½": (1, 2),
    "¼": (1, 4),
    "¾": (3, 4),
    "⅛": (1, 8),
    "⅜": (3, 8),
    "⅝": (5, 8),
    "⅞": (7, 8),
}  # fmt: skip
_SIGN = rf"(?P<sign>[{MINUS_SIGNS}]?)"


def _number(tag: str) -> str:
    """Return the pattern of an unsigned number whose groups end in `tag`."""
    return (
        rf"(?:(?:(?P<whole{tag}>[0-9]{{1,12}})(?:[ ]|-))?"
        rf"(?P<top{tag}>[0-9]{{1,12}})/(?P<bottom{tag}>[0-9]{{1,12}})"
        rf"|(?P<count{tag}>[0-9]{{1,12}})?[ ]?(?P<vulgar{tag}>[½¼¾⅛⅜⅝⅞])"
        rf"|(?P<plain{tag}>(?:[0-9]{{1,3}}(?:,[0-9]{{3}})+|[0-9]{{1,12}})(?:\.[0-9]{{1,12}})?"
        rf"|\.[0-9]{{1,12}}))"
    )


_ONE = re.compile(rf"{_SIGN}{_number('')} ?(?P<unit>[^0-9 ,./:-][^0-9]*[^ ]*)?")
_FEET_INCHES = re.compile(
    rf"{_SIGN}{_number('_feet')} ?(?:{FOOT})[ -]?"
    rf"{_number('_inches')} ?(?:{INCH})"
)
_RATIO = re.compile(rf"{_number('_rise')}(?: ?: ?| in ){_number('_run')}")

_Pair = tuple[int, int]


def _pair(match: re.Match[str], tag: str = "") -> _Pair | None:
    """Return the number as (top, bottom), None where its fraction or its length is refused."""
    plain = match[f"plain{tag}"]
    if plain is not None:
        whole, _, places = plain.replace(",", "").partition(".")
        if len(whole) + len(places) > MOST_DIGITS:
            return None
        return int(whole + places), 10 ** len(places)
    if match[f"vulgar{tag}"]:
        top, bottom = _VULGAR[match[f"vulgar{tag}"]]
        return int(match[f"count{tag}"] or 0) * bottom + top, bottom
    top, bottom = int(match[f"top{tag}"]), int(match[f"bottom{tag}"])
    whole = match[f"whole{tag}"]
    if bottom == 0 or (whole is not None and top >= bottom):
        return None
    return int(whole or 0) * bottom + top, bottom


def _over(top: int, bottom: int) -> Exact:
    whole, rest = divmod(top, bottom)
    return Fraction(top, bottom) if rest else whole


def _one_unit(text: str, dimension: Dimension) -> Amount | None:
    match = _ONE.fullmatch(text)
    if match is None:
        return None
    unit = UNITS[dimension].get(match["unit"] or "")
    pair = _pair(match)
    if unit is None or pair is None:
        return None
    top, bottom = (-pair[0] if match["sign"] else pair[0]), pair[1]
    if isinstance(unit.scale, int) and not unit.zero:
        return _over(top * unit.scale, bottom)
    return exact((Fraction(top, bottom) - unit.zero) * unit.scale)


def _length(text: str) -> Amount | None:
    amount = _one_unit(text, Dimension.LENGTH)
    if amount is not None:
        return amount
    match = _FEET_INCHES.fullmatch(text)
    if match is None:
        return None
    feet, inches = _pair(match, "_feet"), _pair(match, "_inches")
    # Beside inches the feet are whole, and the inches are fewer than a foot of them.
    if feet is None or inches is None or feet[1] != 1 or inches[0] >= 12 * inches[1]:
        return None
    size = exact(feet[0] * NM_PER_FOOT + _over(inches[0] * NM_PER_INCH, inches[1]))
    return -size if match["sign"] else size


def _ratio(text: str) -> Exact | None:
    """Return `7:12`, `7 in 12` or `7/12` as a fraction."""
    match = _RATIO.fullmatch(text)
    if match is not None:
        rise, run = _pair(match, "_rise"), _pair(match, "_run")
        if rise is None or run is None or not run[0]:
            return None
        return _over(rise[0] * run[1], rise[1] * run[0])
    match = _ONE.fullmatch(text)
    if match is None or match["unit"] or match["whole"] or not match["top"] or match["sign"]:
        return None
    pair = _pair(match)
    return None if pair is None else _over(*pair)


def _slope(text: str) -> Amount | None:
    amount = _ratio(text)
    if amount is None:
        degrees = _one_unit(text, Dimension.ANGLE)
        if degrees is None:
            found = _one_unit(text, Dimension.SLOPE)
            return None if isinstance(found, Span) or found is None or found < 0 else found
        if isinstance(degrees, Span) or not 0 <= degrees < 90:
            return None
        return tangent(degrees)
    return amount


def _count(text: str) -> Amount | None:
    match = _ONE.fullmatch(text)
    if match is None or match["unit"] or match["sign"] or match["plain"] is None:
        return None
    pair = _pair(match)
    return pair[0] if pair is not None and pair[1] == 1 else None


def _amount(text: str, dimension: Dimension) -> Amount | None:
    if dimension is Dimension.LENGTH:
        return _length(text)
    if dimension is Dimension.SLOPE:
        return _slope(text)
    if dimension is Dimension.COUNT:
        return _count(text)
    if dimension is Dimension.SHARE:
        ratio = _ratio(text)
        return _one_unit(text, dimension) if ratio is None else ratio
    return _one_unit(text, dimension)


def _written(text: str | int) -> str:
    if isinstance(text, str):
        return text if len(text) > LONGEST else " ".join(text.split())
    # Python refuses to write out whole numbers of thousands of digits, except in hexadecimal.
    return str(text) if abs(text) < 10**LONGEST else f"{text:#x}"


@lru_cache(1 << 16, typed=True)
def read(text: str | int, dimension: Dimension) -> Quantity | Mistake:
    """Return what `text` says as a quantity of `dimension`, or what is wrong with it.

    A whole number is accepted as it is for a count; everything else carries its unit.
    """
    written = _written(text)
    if len(written) <= LONGEST and not isinstance(text, bool):
        amount = _amount(written, dimension)
        if amount is not None:
            return Quantity(dimension, amount, written)
    return mistake_in(written, dimension)


def units_of(text: str) -> Units | None:
    """Return the system `text` is written in; None for a unit both use, or for no reading."""
    written = " ".join(text.split())
    if len(written) > LONGEST:
        return None
    if _FEET_INCHES.fullmatch(written):
        return Units.INCH
    match = _ONE.fullmatch(written)
    if match is None:
        return None
    for units in UNITS.values():
        unit = units.get(match["unit"] or "")
        if unit is not None:
            return unit.units
    return None


# The SI unit of each dimension, how many base units make one, and the base amount at its zero.
_SI: dict[Dimension, tuple[str, int, Fraction]] = {
    Dimension.LENGTH: ("m", NM_PER_M, Fraction(0)),
    Dimension.AREA: ("m2", NM_PER_M**2, Fraction(0)),
    Dimension.SLOPE: ("1", 1, Fraction(0)),
    Dimension.ANGLE: ("deg", 1, Fraction(0)),
    Dimension.TEMPERATURE: ("K", 1, Fraction(-27315, 100)),
    Dimension.TEMPERATURE_DIFFERENCE: ("K", 1, Fraction(0)),
    Dimension.COUNT: ("1", 1, Fraction(0)),
    Dimension.SHARE: ("1", 1, Fraction(0)),
    Dimension.EXPANSION: ("1/K", 1, Fraction(0)),
    Dimension.NET_FREE_AREA_PER_LENGTH: ("m2/m", NM_PER_M, Fraction(0)),
    Dimension.DURATION: ("d", 1, Fraction(0)),
    Dimension.CALENDAR_MONTHS: ("month", 1, Fraction(0)),
}
_VALUE_PLACES, _BOUND_PLACES = 12, 15


def exact_si(quantity: Quantity) -> dict[str, str]:
    """Return the quantity in SI for data files: an exact fraction, or a value and its bound.

    `bound` is how far the true value can lie from `value`. A span open on a side has
    `at_least` or `at_most` in their place, one open on both has the unit alone.
    """
    unit, per_unit, zero = _SI[quantity.dimension]
    amount = quantity.amount
    if not isinstance(amount, Span):
        return {"exact": str((amount - zero) / per_unit), "unit": unit}
    least = None if amount.low is None else (amount.low - zero) / per_unit
    most = None if amount.high is None else (amount.high - zero) / per_unit
    if least is None or most is None:
        ends = {"at_least": least, "at_most": most}
        return {name: str(end) for name, end in ends.items() if end is not None} | {"unit": unit}
    value = round((least + most) / 2 * 10**_VALUE_PLACES)
    centre = Fraction(value, 10**_VALUE_PLACES)
    reach = max(most - centre, centre - least) * 10**_BOUND_PLACES
    bound = -(-reach.numerator // reach.denominator)
    return {
        "value": decimal_text(value, _VALUE_PLACES),
        "bound": decimal_text(bound, _BOUND_PLACES),
        "unit": unit,
    }
