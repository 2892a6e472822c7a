"""Uncertainty of a measurement, after the GUM (JCGM 100:2008; clause numbers recalled).

Amounts are in the base unit of their dimension (a length in nm). Standard uncertainties are
roots; they are kept so that their squares are exact, and a root is drawn once, at the end.
"""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import (
    Amount,
    Exact,
    absolute,
    add,
    divide,
    exact,
    multiply,
    square_root,
    subtract,
)
from ridgerule.trade.arithmetic import total, whole_up
from ridgerule.trade.certainty import not_negative, positive
from ridgerule.trade.working import Step, given
from ridgerule.units import NM_PER_M, NM_PER_MM, Dimension

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

COVERAGE_FACTOR = 2
"""U = 2u, about 95 % for a normal distribution (JCGM 100, 6.3.3 and G.6.6)."""


class Uncertainty(Struct, frozen=True):
    """A standard uncertainty and what it is of."""

    label: str
    standard: Amount
    dimension: Dimension
    steps: tuple[Step, ...]


class Expanded(Struct, frozen=True):
    """An expanded uncertainty, U: about 95 % where the coverage factor is 2."""

    amount: Amount
    factor: Exact
    steps: tuple[Step, ...]


# one source


def of_graduation(
    graduation: Amount, *, label: str = "graduation", dimension: Dimension = Dimension.LENGTH
) -> Uncertainty:
    """Return the standard uncertainty of a reading to the nearest graduation d: d / (2 sqrt 3).

    JCGM 100, F.2.2.1. ValueError below 0.
    """
    width = not_negative(graduation, name="a graduation")
    return _of_half_width(
        width, Fraction(1, 2), "graduation / (2 sqrt 3)", label=label, dimension=dimension
    )


def of_half_width(
    half_width: Amount, *, label: str = "limits of error", dimension: Dimension = Dimension.LENGTH
) -> Uncertainty:
    """Return the standard uncertainty of a value anywhere within +-a, all alike: a / sqrt 3.

    JCGM 100, 4.3.7. ValueError below 0.
    """
    width = not_negative(half_width, name="a half-width")
    return _of_half_width(width, 1, "half-width / sqrt 3", label=label, dimension=dimension)


def _of_half_width(
    width: Amount, part: Exact, formula: str, *, label: str, dimension: Dimension
) -> Uncertainty:
    half_width = multiply(width, part)
    standard = square_root(divide(multiply(half_width, half_width), 3))
    steps = (
        given(label, width, dimension),
        Step(f"{label}, standard uncertainty", formula, standard, dimension),
    )
    return Uncertainty(label, standard, dimension, steps)


def of_expanded(
    amount: Amount,
    *,
    factor: Exact = COVERAGE_FACTOR,
    label: str = "calibration",
    dimension: Dimension = Dimension.LENGTH,
) -> Uncertainty:
    """Return the standard uncertainty behind a stated expanded one: U / k (JCGM 100, 4.3.3).

    ValueError below 0, or for a factor not above 0.
    """
    stated = not_negative(amount, name="an expanded uncertainty")
    positive(factor, name="a coverage factor")
    standard = divide(stated, factor)
    steps = (
        given(f"{label}, expanded uncertainty", stated, dimension),
        Step(f"{label}, standard uncertainty", f"expanded / {factor}", standard, dimension),
    )
    return Uncertainty(label, standard, dimension, steps)


class Repeats(Struct, frozen=True):
    """The mean of repeated readings, their standard deviation, and the mean's uncertainty."""

    mean: Exact
    deviation: Amount
    uncertainty: Uncertainty


def of_repeats(
    readings: Sequence[Exact], *, label: str = "repeats", dimension: Dimension = Dimension.LENGTH
) -> Repeats:
    """Return mean and standard deviation of the mean of independent readings (JCGM 100, 4.2.3).

    The deviation is over n - 1. Of a few readings it is itself poorly known, so that U = 2u
    covers less than 95 % then. ValueError for fewer than two readings.
    """
    count = len(readings)
    if count < 2:
        raise ValueError("repeats are two readings or more")
    mean = Fraction(sum(readings, start=Fraction(0)), count)
    squares = sum(((reading - mean) ** 2 for reading in readings), start=Fraction(0))
    variance = squares / (count - 1)
    deviation = square_root(exact(variance))
    standard = square_root(exact(variance / count))
    steps = (
        Step(f"{label}, mean", f"sum of {count} readings / {count}", exact(mean), dimension),
        Step(
            f"{label}, standard deviation",
            f"root of (sum of squared deviations / {count - 1})",
            deviation,
            dimension,
        ),
        Step(
            f"{label}, standard uncertainty",
            f"standard deviation / sqrt {count}",
            standard,
            dimension,
        ),
    )
    return Repeats(exact(mean), deviation, Uncertainty(label, standard, dimension, steps))


# several sources


def combined(parts: Sequence[Uncertainty], *, label: str = "combined") -> Uncertainty:
    """Return the uncertainty of independent parts together: the root of the sum of squares.

    JCGM 100, 5.1.2. ValueError for no part, or for parts of several dimensions.
    """
    return of_terms([(1, part) for part in parts], label=label)


def of_terms(terms: Sequence[tuple[Exact, Uncertainty]], *, label: str = "combined") -> Uncertainty:
    """Return the uncertainty of a sum of independent terms, each coefficient x value.

    A difference has coefficients 1 and -1. JCGM 100, 5.1.2. ValueError as `combined`.
    """
    dimension = _one_dimension(terms)
    squares = [
        multiply(exact(factor * factor), multiply(part.standard, part.standard))
        for factor, part in terms
    ]
    standard = square_root(total(squares))
    formula = f"root of the sum of squares of {_listed(terms)}"
    last = Step(label, formula, standard, dimension)
    return _with_parts(terms, last)


def of_terms_by_one_instrument(
    terms: Sequence[tuple[Exact, Uncertainty]], *, label: str = "combined"
) -> Uncertainty:
    """Return the uncertainty of a sum of terms that share one error: |sum of coefficient x u|.

    Such as lengths by one tape that is long or short throughout (JCGM 100, 5.2.2 note 1): it
    adds up in a sum and cancels in a difference. ValueError as `combined`.
    """
    dimension = _one_dimension(terms)
    signed: Amount = 0
    for factor, part in terms:
        term = multiply(absolute(factor), part.standard)
        signed = add(signed, term) if factor >= 0 else subtract(signed, term)
    formula = f"sum of {_listed(terms)}, one error in all of them"
    last = Step(label, formula, absolute(signed), dimension)
    return _with_parts(terms, last)


def expanded(uncertainty: Uncertainty, *, factor: Exact = COVERAGE_FACTOR) -> Expanded:
    """Return U = factor x u. ValueError for a factor not above 0."""
    positive(factor, name="a coverage factor")
    amount = multiply(uncertainty.standard, factor)
    label = f"{uncertainty.label}, expanded uncertainty"
    last = Step(label, f"{factor} x standard uncertainty", amount, uncertainty.dimension)
    return Expanded(amount, factor, (*uncertainty.steps, last))


def _one_dimension(terms: Sequence[tuple[Exact, Uncertainty]]) -> Dimension:
    dimensions = {part.dimension for _, part in terms}
    if len(dimensions) != 1:
        found = ", ".join(sorted(dimensions)) or "none"
        raise ValueError(f"uncertainties of one dimension can be combined; found: {found}")
    return dimensions.pop()


def _listed(terms: Sequence[tuple[Exact, Uncertainty]]) -> str:
    return ", ".join(
        part.label if factor == 1 else f"{factor} x {part.label}" for factor, part in terms
    )


def _with_parts(terms: Sequence[tuple[Exact, Uncertainty]], last: Step) -> Uncertainty:
    steps = tuple(step for _, part in terms for step in part.steps)
    return Uncertainty(last.label, last.amount, terms[0][1].dimension, (*steps, last))


# tapes


class TapeClass(Struct, frozen=True):
    """An accuracy class of tapes: errors within +-(constant + per_metre x L), both in nm.

    L is the length in metres, rounded up to the next whole one.
    """

    name: str
    constant: Exact
    per_metre: Exact
    source: str
    is_recalled: bool = False


_MEASURES = "UK SI 2016/1153, material measures of length (from EU MI-008)"
TAPE_CLASSES: Mapping[str, TapeClass] = MappingProxyType(
    {
        tape.name: tape
        for tape in (
            TapeClass("I", NM_PER_MM // 10, NM_PER_MM // 10, _MEASURES, is_recalled=True),
            TapeClass("II", 3 * NM_PER_MM // 10, 2 * NM_PER_MM // 10, _MEASURES),
            TapeClass("III", 6 * NM_PER_MM // 10, 4 * NM_PER_MM // 10, _MEASURES, is_recalled=True),
        )
    }
)
"""Tapes by the class printed on them; a standard for instruments, no limit for a roof."""


def of_tape(length: Amount, *, tape: TapeClass = TAPE_CLASSES["II"]) -> Uncertainty:
    """Return the standard uncertainty of a length by a tape of a class, anywhere in its limits.

    The first steps give the limits of error themselves. ValueError for a length below 0.
    """
    measured = not_negative(length, name="a length")
    metres = divide(whole_up(measured, to=NM_PER_M), NM_PER_M)
    limits = add(tape.constant, multiply(tape.per_metre, metres))
    found = of_half_width(limits, label=f"tape class {tape.name}")
    steps = (
        given("length", measured, Dimension.LENGTH),
        Step("whole metres", "length, up to the next whole metre", metres, Dimension.COUNT),
        Step(
            f"greatest error of a tape of class {tape.name}",
            f"constant + error per metre x whole metres ({tape.source})",
            limits,
            Dimension.LENGTH,
        ),
        *found.steps[1:],
    )
    return Uncertainty(found.label, found.standard, found.dimension, steps)
