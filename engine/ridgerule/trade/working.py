"""The working of a computation: every number on the way to the result, and what made it.

A formula speaks of the numbers before it by their labels, so a working reads the same in inches
and in millimetres; only printing it takes a side.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import Amount, Exact, Span
from ridgerule.quantities import write
from ridgerule.quantity_text import decimal_text

if TYPE_CHECKING:
    from ridgerule.units import Dimension, Units

_PLACES = 4


class Step(Struct, frozen=True):
    """One number of a working; `formula` is empty for a number that was handed in."""

    label: str
    formula: str
    amount: Amount
    dimension: Dimension | None
    """None for a plain number, such as a sine or the length of a hip per length of run."""


def given(label: str, amount: Amount, dimension: Dimension) -> Step:
    """Return the step of a number that was handed in."""
    return Step(label, "", amount, dimension)


def written(step: Step, *, units: Units) -> str:
    """Return `label: value`, or `label: formula = value`; `≈` where the value is rounded."""
    if step.dimension is None:
        value = _plain(step.amount)
    else:
        value = write(step.amount, step.dimension, units=units)
    if not step.formula:
        return f"{step.label}: {value}"
    return f"{step.label}: {step.formula} {'' if value.startswith('≈') else '= '}{value}"


def _plain(amount: Amount) -> str:
    if not isinstance(amount, Span):
        return _decimal(amount)
    least, most = amount.low, amount.high
    if least is None or most is None:
        if most is not None:
            return f"at most {_decimal(most)}"
        return "not known" if least is None else f"at least {_decimal(least)}"
    if (most - least) * 10**_PLACES < 1:
        return f"≈ {decimal_text(round(Fraction(least + most) / 2 * 10**_PLACES), _PLACES)}"
    return f"{_decimal(least)} to {_decimal(most)}"


def _decimal(amount: Exact) -> str:
    scaled = amount * 10**_PLACES
    digits = decimal_text(round(scaled), _PLACES)
    return digits.rstrip("0").rstrip(".") if scaled.denominator == 1 else f"≈ {digits}"
