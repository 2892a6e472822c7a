"""The step a rule is proved by: the smallest change of a reading that can tell, figure by figure.

A figure written in sixteenths is stepped by a sixteenth, one in tenths of a millimetre by a tenth.
A fact that declares its own graduation is stepped by that.
"""

from __future__ import annotations

import re
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.quantities import Dimension, Quantity, Units, units_of
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH, NM_PER_MM, UNITS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.enclosures import Exact
    from ridgerule.facts import Fact

_STEPS: Mapping[Dimension, Exact] = MappingProxyType(
    {
        Dimension.LENGTH: Fraction(NM_PER_INCH, 16),
        Dimension.AREA: NM_PER_INCH**2,
        Dimension.SLOPE: Fraction(1, 24),
        Dimension.ANGLE: 1,
        Dimension.TEMPERATURE: 1,
        Dimension.TEMPERATURE_DIFFERENCE: 1,
        Dimension.COUNT: 1,
        Dimension.SHARE: Fraction(1, 100),
        Dimension.EXPANSION: Fraction(1, 10**6),
        Dimension.NET_FREE_AREA_PER_LENGTH: Fraction(NM_PER_INCH**2, NM_PER_FOOT),
        Dimension.DURATION: 1,
        Dimension.CALENDAR_MONTHS: 1,
    }
)
"""The coarsest step of a dimension: half a unit in twelve for a slope, 1/16 in for a length."""
_BY_THE_UNIT = frozenset(
    {
        Dimension.AREA,
        Dimension.SLOPE,
        Dimension.TEMPERATURE,
        Dimension.TEMPERATURE_DIFFERENCE,
        Dimension.EXPANSION,
        Dimension.NET_FREE_AREA_PER_LENGTH,
    }
)
"""Dimensions of which a whole one of the unit that a figure is written in is the coarsest step."""
_OF_A_RATIO = Fraction(1, 1000)
"""The coarsest step beside a share that is written as a ratio, such as 1/150."""
_DECIMAL = re.compile(r"[0-9.,]*\.([0-9]+)", re.ASCII)
_FRACTION = re.compile(r"[0-9]+/([0-9]+)", re.ASCII)
_UNIT = re.compile(r"[0-9 .,/½¼¾⅛⅜⅝⅞-]*(.*)", re.ASCII)


def graduation(figure: Quantity, fact: Fact) -> Exact:
    """Return the step beside `figure`, in the base unit of its dimension.

    The fact's own where it declares one; else as fine as the figure is written, and no coarser
    than the trade reads a tape, a slope or an angle.
    """
    declared = fact.graduation
    if declared is not None and declared.dimension is _difference(figure.dimension):
        return _exact(declared)
    coarsest = _coarsest(figure)
    written = _as_written(figure)
    return coarsest if written is None else min(coarsest, written)


def _difference(dimension: Dimension) -> Dimension:
    """Return the dimension of what lies between two quantities."""
    is_temperature = dimension is Dimension.TEMPERATURE
    return Dimension.TEMPERATURE_DIFFERENCE if is_temperature else dimension


def _coarsest(figure: Quantity) -> Exact:
    dimension = figure.dimension
    if dimension is Dimension.LENGTH and units_of(figure.text) is Units.METRIC:
        return NM_PER_MM
    if dimension is Dimension.SHARE and ("/" in figure.text or ":" in figure.text):
        return _OF_A_RATIO
    unit = UNITS[dimension].get(_UNIT.sub(r"\1", figure.text).strip())
    return unit.scale if unit and dimension in _BY_THE_UNIT else _STEPS[dimension]


def _as_written(figure: Quantity) -> Exact | None:
    """Return one in the last place that a figure is written in, None where that can't be told."""
    text = figure.text
    if figure.dimension is Dimension.SLOPE and ":" in text:
        rise = text.partition(":")[0].strip()
        places, slope = _DECIMAL.fullmatch(rise), _exact(figure)
        if not places or not slope:
            return None
        return Fraction(1, 10 ** len(places[1])) * slope / Fraction(rise.replace(",", ""))
    unit = UNITS[figure.dimension].get(_UNIT.sub(r"\1", text).strip())
    scale = unit.scale if unit else None
    if scale is None:
        return None
    if places := _DECIMAL.match(text):
        return scale * Fraction(1, 10 ** len(places[1]))
    if (bottom := _FRACTION.search(text)) and int(bottom[1]):
        return scale * Fraction(1, int(bottom[1]))
    return None


def _exact(quantity: Quantity) -> Exact:
    amount = quantity.amount
    if isinstance(amount, (int, Fraction)):
        return amount
    raise TypeError(f"a graduation is exact: {quantity!r}")
