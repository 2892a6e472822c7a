"""Dimensions, and the units each is read in.

The base units are whole numbers wherever the trade's units allow it: a length is counted in
nanometres (1/64 in is 396,875, 1 mm is 1,000,000), an area in square nanometres.
1 in = 25.4 mm and 1 ft = 0.3048 m exactly (NIST SP 811).
"""

from __future__ import annotations

import re
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

NM_PER_MM = 1_000_000
NM_PER_INCH = 25_400_000
NM_PER_FOOT = 12 * NM_PER_INCH
NM_PER_M = 1000 * NM_PER_MM


class Dimension(StrEnum):
    """What kind of thing a quantity is; the comment beside each is the unit it is kept in."""

    LENGTH = "length"  # nanometre
    AREA = "area"  # square nanometre
    SLOPE = "slope"  # rise over run
    ANGLE = "angle"  # degree
    TEMPERATURE = "temperature"  # degree Celsius
    TEMPERATURE_DIFFERENCE = "temperature difference"  # degree Celsius
    COUNT = "count"  # one
    SHARE = "share"  # part of one
    EXPANSION = "expansion coefficient"  # per degree Celsius
    NET_FREE_AREA_PER_LENGTH = "area per length"  # square nanometre per nanometre
    # Months have no fixed number of days, so the two kinds of duration are never compared.
    DURATION = "duration"  # day
    CALENDAR_MONTHS = "calendar months"  # month


class Units(StrEnum):
    """The system a reading is written in."""

    INCH = "inch"
    METRIC = "metric"


class Unit(NamedTuple):
    """One unit: amount = (number - zero) x scale."""

    scale: int | Fraction
    units: Units | None = None
    zero: int | Fraction = 0


def _spelt(unit: Unit, *spellings: str) -> dict[str, Unit]:
    return dict.fromkeys(spellings, unit)


_INCH, _METRIC = Units.INCH, Units.METRIC
_DEGREE_F = ("degF", "°F")
_DEGREE_C = ("degC", "°C")
_KELVIN = (*_DEGREE_C, "K")
_PERCENT = Unit(Fraction(1, 100))
_DEGREES = _spelt(Unit(1), "deg", "°", "degree", "degrees")
_INCH_WORDS = (
    *("in", "in.", "inch", "inches"),
    *('"', "\N{DOUBLE PRIME}", "\N{RIGHT DOUBLE QUOTATION MARK}"),
)
_FOOT_WORDS = (
    *("ft", "ft.", "foot", "feet"),
    *("'", "\N{PRIME}", "\N{RIGHT SINGLE QUOTATION MARK}"),
)
# What a number may be signed with, and the patterns of the words between feet and inches.
MINUS_SIGNS = "-\N{MINUS SIGN}"
INCH = "|".join(map(re.escape, _INCH_WORDS))
FOOT = "|".join(map(re.escape, _FOOT_WORDS))


def _squared(name: str) -> tuple[str, str, str]:
    return f"{name}2", f"{name}²", f"sq {name}"


def _expansion_units() -> dict[str, Unit]:
    micro = ("um/m", "\N{MICRO SIGN}m/m", "\N{GREEK SMALL LETTER MU}m/m", "ppm")
    parts = dict.fromkeys(micro, Fraction(1, 10**6))
    parts |= {"mm/m": Fraction(1, 1000), "in/in": Fraction(1)}
    metric = {f"{p}/{d}": Unit(part, _METRIC) for p, part in parts.items() for d in _KELVIN}
    # A degree Fahrenheit is 5/9 of a degree Celsius: what moves per degF moves 9/5 per degC.
    inch = {f"{p}/{d}": Unit(part * 9 / 5, _INCH) for p, part in parts.items() for d in _DEGREE_F}
    return metric | inch


UNITS: Mapping[Dimension, Mapping[str, Unit]] = MappingProxyType(
    {
        Dimension.LENGTH: _spelt(Unit(NM_PER_INCH, _INCH), *_INCH_WORDS)
        | _spelt(Unit(NM_PER_FOOT, _INCH), *_FOOT_WORDS)
        | _spelt(Unit(NM_PER_INCH // 1000, _INCH), "mil", "mils")
        | _spelt(Unit(NM_PER_MM, _METRIC), "mm")
        | _spelt(Unit(10 * NM_PER_MM, _METRIC), "cm")
        | _spelt(Unit(NM_PER_M, _METRIC), "m"),
        Dimension.AREA: _spelt(Unit(NM_PER_INCH**2, _INCH), *_squared("in"))
        | _spelt(Unit(NM_PER_FOOT**2, _INCH), *_squared("ft"))
        | _spelt(Unit(NM_PER_MM**2, _METRIC), *_squared("mm"))
        | _spelt(Unit(100 * NM_PER_MM**2, _METRIC), *_squared("cm"))
        | _spelt(Unit(NM_PER_M**2, _METRIC), *_squared("m")),
        # Degrees of slope go through the tangent, so `quantities` reads them with ANGLE's units.
        Dimension.SLOPE: {"%": _PERCENT},
        Dimension.ANGLE: _DEGREES,
        Dimension.TEMPERATURE: _spelt(Unit(Fraction(5, 9), _INCH, 32), *_DEGREE_F)
        | _spelt(Unit(1, _METRIC), *_DEGREE_C)
        | _spelt(Unit(1, _METRIC, Fraction(27315, 100)), "K"),
        Dimension.TEMPERATURE_DIFFERENCE: _spelt(Unit(Fraction(5, 9), _INCH), *_DEGREE_F)
        | _spelt(Unit(1, _METRIC), *_DEGREE_C, "K"),
        Dimension.COUNT: {},
        Dimension.SHARE: {"%": _PERCENT},
        Dimension.EXPANSION: _expansion_units(),
        Dimension.NET_FREE_AREA_PER_LENGTH: {
            f"{area}/{length}": unit
            for names, length, unit in (
                (_squared("in"), "ft", Unit(Fraction(NM_PER_INCH**2, NM_PER_FOOT), _INCH)),
                (_squared("cm"), "m", Unit(100 * NM_PER_MM**2 // NM_PER_M, _METRIC)),
                (_squared("mm"), "m", Unit(NM_PER_MM**2 // NM_PER_M, _METRIC)),
            )
            for area in names
        },
        Dimension.DURATION: _spelt(Unit(1), "day", "days") | _spelt(Unit(7), "week", "weeks"),
        Dimension.CALENDAR_MONTHS: _spelt(Unit(1), "month", "months")
        | _spelt(Unit(12), "year", "years"),
    }
)

EXPECTED: Mapping[Dimension, str] = MappingProxyType(
    {
        Dimension.LENGTH: "a length with its unit, such as `3 1/16 in` or `78 mm`",
        Dimension.AREA: "an area with its unit, such as `2377 ft2` or `220 m2`",
        Dimension.SLOPE: "a slope of at least 0 and under 90 deg, such as `7:12` or `30 deg`",
        Dimension.ANGLE: "an angle with its unit, such as `120 deg`",
        Dimension.TEMPERATURE: "a temperature with its unit, such as `68 degF` or `20 degC`",
        Dimension.TEMPERATURE_DIFFERENCE: (
            "a temperature difference with its unit, such as `60 degF` or `35 degC`"
        ),
        Dimension.COUNT: "a count, a whole number such as `3`",
        Dimension.SHARE: "a share, such as `40 %`, `1/150` or `1:300`",
        Dimension.EXPANSION: ("an expansion coefficient, such as `80 um/m/degC` or `45 ppm/degF`"),
        Dimension.NET_FREE_AREA_PER_LENGTH: (
            "an area per length, such as `18 in2/ft` or `380 cm2/m`"
        ),
        Dimension.DURATION: "a number of days or weeks, such as `30 days`",
        Dimension.CALENDAR_MONTHS: "a number of months or years, such as `12 months`",
    }
)

# The endings offered for a bare number, as they are added to it.
OFFERED: Mapping[Dimension, tuple[str, ...]] = MappingProxyType(
    {
        Dimension.LENGTH: (" in", " mm"),
        Dimension.AREA: (" ft2", " m2"),
        Dimension.SLOPE: (":12", " deg"),
        Dimension.ANGLE: (" deg",),
        Dimension.TEMPERATURE: (" degF", " degC"),
        Dimension.TEMPERATURE_DIFFERENCE: (" degF", " degC"),
        Dimension.COUNT: ("",),
        Dimension.SHARE: (" %",),
        Dimension.EXPANSION: (" um/m/degC", " ppm/degF"),
        Dimension.NET_FREE_AREA_PER_LENGTH: (" in2/ft", " cm2/m"),
        Dimension.DURATION: (" days", " weeks"),
        Dimension.CALENDAR_MONTHS: (" months", " years"),
    }
)
