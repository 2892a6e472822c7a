"""How the gap between cut edges changes with the slates' temperature.

A length grows by its expansion coefficient times itself times the change in temperature. Slates
are nailed one by one, so what moves a cut edge is the part of its own slate from the nearest
fastener to that edge: the two sides of a gap are added, and never the run of the roof.

Lengths are in nanometres, temperatures in degrees Celsius, differences too (a difference in
degrees Fahrenheit is 1.8 times as many, with no 32), coefficients per degree Celsius. Handbooks
disagree about plastics by a factor of two, so a coefficient is often an interval, and so then
is what comes back.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import Amount, add, high, multiply, subtract
from ridgerule.trade.certainty import not_negative
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from collections.abc import Sequence

_LENGTH, _TEMPERATURE = Dimension.LENGTH, Dimension.TEMPERATURE
_DIFFERENCE, _EXPANSION = Dimension.TEMPERATURE_DIFFERENCE, Dimension.EXPANSION
_COEFFICIENT = "an expansion coefficient"
ABSOLUTE_ZERO = Fraction(-27315, 100)


class Growth(Struct, frozen=True):
    """By how much a length grows; negative where it shrinks."""

    length: Amount
    steps: tuple[Step, ...]


class Movement(Struct, frozen=True):
    """A gap between cut edges at another temperature than it was measured at."""

    gap: Amount
    """What is left of it; below 0 the edges would press on each other."""
    growth: Amount
    """What both slates together take from the gap; negative where they give way."""
    steps: tuple[Step, ...]


def growth(length: Amount, *, expansion: Amount, difference: Amount) -> Growth:
    """Return by how much `length` grows over a temperature difference (OpenStax, College Physics).

    ValueError where the length or the coefficient is below 0.
    """
    size = not_negative(length, name="a length that grows")
    coefficient = not_negative(expansion, name=_COEFFICIENT)
    grown = multiply(multiply(coefficient, size), difference)
    steps = (
        given("length that grows", size, _LENGTH),
        given("expansion coefficient", coefficient, _EXPANSION),
        given("temperature difference", difference, _DIFFERENCE),
        Step(
            "growth",
            "expansion coefficient x length that grows x temperature difference",
            grown,
            _LENGTH,
        ),
    )
    return Growth(grown, steps)


def gap_at(
    gap: Amount,
    *,
    edge_distances: Sequence[Amount],
    expansion: Amount,
    surface_temperature: Amount,
    target_temperature: Amount,
) -> Movement:
    """Return what a gap measured at one surface temperature is at another.

    `edge_distances` holds, for the slate on each side of the gap, how far its cut edge lies from
    its own nearest fastener: two of them, one where a single slate faces a wall. The least gap
    over the year is the low end of what comes back for the hottest surface.

    ValueError where there are not one or two sides, a length or the coefficient is below 0, or a
    temperature is below absolute zero.
    """
    if len(edge_distances) not in {1, 2}:
        raise ValueError(
            "a gap has one or two slates beside it: give each one's distance from its nearest "
            "fastener to its cut edge, never the run of the roof"
        )
    measured = not_negative(gap, name="a measured gap")
    name = "the distance from fastener to cut edge"
    sides = [not_negative(side, name=name) for side in edge_distances]
    start, end = _temperature(surface_temperature), _temperature(target_temperature)
    difference = subtract(end, start)
    moving = add(sides[0], sides[1]) if len(sides) == 2 else sides[0]
    coefficient = not_negative(expansion, name=_COEFFICIENT)
    grown = growth(moving, expansion=coefficient, difference=difference)
    left = subtract(measured, grown.length)
    steps = (
        given("gap as measured", measured, _LENGTH),
        given("surface temperature at that reading", start, _TEMPERATURE),
        given("surface temperature asked for", end, _TEMPERATURE),
        *(given(f"fastener to cut edge, side {n}", s, _LENGTH) for n, s in enumerate(sides, 1)),
        Step("length that grows", "sum of the sides", moving, _LENGTH),
        given("expansion coefficient", coefficient, _EXPANSION),
        Step("temperature difference", "asked for less at that reading", difference, _DIFFERENCE),
        grown.steps[-1],
        Step("gap left", "gap as measured less growth", left, _LENGTH),
    )
    return Movement(left, grown.length, steps)


def _temperature(temperature: Amount) -> Amount:
    hottest = high(temperature)
    if hottest is not None and hottest < ABSOLUTE_ZERO:
        raise ValueError("no temperature is below absolute zero, -273.15 degC")
    return temperature
