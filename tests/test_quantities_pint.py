"""Readings by the thousand come to what another unit library makes of them, to the last digit."""

from __future__ import annotations

import math
import random
from fractions import Fraction
from typing import TYPE_CHECKING

import pint
import pytest

from ridgerule.enclosures import high, low
from ridgerule.quantities import Dimension, Quantity, exact_si, read
from ridgerule.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Callable

CASES = 3000
# Whole numbers stay whole and definitions are fractions, so the two are compared exactly.
REGISTRY = pint.UnitRegistry(non_int_type=Fraction)

_WORDS = {
    "inch": ("in", "in.", "inch", "inches", '"', "″", "”"),
    "foot": ("ft", "ft.", "foot", "feet", "'", "′", "’"),  # noqa: RUF001 - as keyboards type it
    "thou": ("mil", "mils"),
    "millimetre": ("mm",),
    "centimetre": ("cm",),
    "metre": ("m",),
    "degree": ("deg", "°", "degrees"),
    "degree_Fahrenheit": ("degF", "°F"),
    "degree_Celsius": ("degC", "°C"),
    "kelvin": ("K",),
    "day": ("day", "days"),
    "week": ("week", "weeks"),
}
_NAMES = {word: name for name, words in _WORDS.items() for word in (name, *words)}
_PARTS = {
    "um/m": "micrometre/metre", "µm/m": "micrometre/metre", "μm/m": "micrometre/metre",
    "ppm": "micrometre/metre", "mm/m": "millimetre/metre", "in/in": "inch/inch",
}  # fmt: skip


def _name(spelling: str) -> str:
    """Return a unit's name in the other library: `sq ft` or `in2` is the square of a length."""
    if "/" in spelling:
        area, _, length = spelling.partition("/")
        return f"{_name(area)}/{_name(length)}"
    if spelling.startswith("sq "):
        return f"{_name(spelling[3:])}**2"
    return f"{_name(spelling[:-1])}**2" if spelling[-1] in "2²" else _NAMES[spelling]


def _difference(spelling: str) -> str:
    name = _NAMES[spelling]
    return name if name == "kelvin" else f"delta_{name}"


def _per_degree(spelling: str) -> str:
    part, _, degree = spelling.rpartition("/")
    return f"{_PARTS[part]}/{_difference(degree)}"


NAMED: dict[Dimension, tuple[Callable[[str], str], str]] = {
    Dimension.LENGTH: (_name, "metre"),
    Dimension.AREA: (_name, "metre**2"),
    Dimension.ANGLE: (_name, "degree"),
    Dimension.TEMPERATURE: (_name, "kelvin"),
    Dimension.TEMPERATURE_DIFFERENCE: (_difference, "kelvin"),
    Dimension.EXPANSION: (_per_degree, "1/kelvin"),
    Dimension.NET_FREE_AREA_PER_LENGTH: (_name, "metre"),
    Dimension.DURATION: (_name, "day"),
}
"""How a spelling of each dimension is named in the other library, and its unit in data files."""


def _number(draw: random.Random) -> tuple[str, Fraction]:
    """Return a number as a tape or a calculator shows it, and what it is."""
    whole, parts = draw.randrange(400), 2 ** draw.randint(1, 6)
    top = draw.randrange(1, parts)
    fraction = Fraction(top, parts)
    match draw.randrange(5):
        case 0:
            return f"{whole} {top}/{parts}", whole + fraction
        case 1:
            return f"{top}/{parts}", fraction
        case 2:
            return f"{whole}-{top}/{parts}", whole + fraction
        case 3:
            return f"{1000 + whole:,}", Fraction(1000 + whole)
        case _:
            places = draw.randint(1, 6)
            digits = draw.randrange(10**places)
            return f"{whole}.{digits:0{places}}", whole + Fraction(digits, 10**places)


def _in_si(text: str, dimension: Dimension) -> Fraction:
    found = read(text, dimension)
    assert isinstance(found, Quantity), (text, found)
    return Fraction(exact_si(found)["exact"])


@pytest.mark.parametrize("dimension", NAMED)
def test_readings_are_what_another_library_makes_of_them(dimension: Dimension) -> None:
    """Every spelling of every unit, thousands of numbers: the same fraction in SI."""
    name, si = NAMED[dimension]
    draw = random.Random(dimension.value)
    spellings = sorted(UNITS[dimension])
    for i in range(CASES):
        spelling = spellings[i % len(spellings)]
        written, number = _number(draw)
        is_below = dimension is not Dimension.DURATION and draw.random() < 0.3
        text = f"{'-' if is_below else ''}{written}{draw.choice(('', ' '))}{spelling}"
        value = REGISTRY.Quantity(-number if is_below else number, name(spelling))
        assert _in_si(text, dimension) == value.to(si).magnitude, text


def test_feet_with_inches_are_what_another_library_makes_of_them() -> None:
    """Thousands of lengths in both at once, in words and in marks."""
    draw = random.Random("feet with inches")
    feet_and_inches = [(" ft ", " in"), ("' ", '"'), (" feet ", " inches"), ("'-", '"')]
    for i in range(CASES):
        feet, inches = draw.randrange(200), draw.randrange(12)
        parts = 2 ** draw.randint(1, 6)
        top = draw.randrange(1, parts)
        of_feet, of_inches = feet_and_inches[i % len(feet_and_inches)]
        value = REGISTRY.Quantity(Fraction(feet), "foot")
        value += REGISTRY.Quantity(inches + Fraction(top, parts), "inch")
        text = f"{feet}{of_feet}{inches} {top}/{parts}{of_inches}"
        assert _in_si(text, Dimension.LENGTH) == value.to("metre").magnitude, text


def test_every_dimension_with_units_is_held_against_it() -> None:
    """What is left out has no unit of its own, or one that the trade alone defines."""
    assert set(Dimension) - set(NAMED) == {
        Dimension.SLOPE, Dimension.SHARE, Dimension.COUNT, Dimension.CALENDAR_MONTHS,
    }  # fmt: skip


def test_slopes_in_degrees_are_what_another_library_makes_of_them() -> None:
    """Thousands of angles from level: the tangent of the radians lies in a narrow enclosure."""
    draw = random.Random("slopes")
    for _ in range(CASES):
        hundredths = draw.randrange(8900)
        found = read(f"{hundredths / 100:.2f} deg", Dimension.SLOPE)
        assert isinstance(found, Quantity)
        radians = REGISTRY.Quantity(Fraction(hundredths, 100), "degree").to("radian").magnitude
        slope = math.tan(float(radians))
        least, most = low(found.amount), high(found.amount)
        assert most - least < Fraction(1, 2**60)
        assert math.isclose(float(least), slope, rel_tol=1e-12, abs_tol=1e-15), hundredths


@pytest.mark.parametrize("dimension", [Dimension.SLOPE, Dimension.SHARE])
def test_per_cent_is_a_hundredth_in_both(dimension: Dimension) -> None:
    """A share and a slope in per cent, thousands of each, come to the same fraction."""
    draw = random.Random(dimension.value)
    for _ in range(CASES):
        written, number = _number(draw)
        value = REGISTRY.Quantity(number, "percent").to("dimensionless").magnitude
        assert _in_si(f"{written} %", dimension) == value, written
