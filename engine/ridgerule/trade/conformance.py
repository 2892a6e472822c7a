"""A reading held against its limits with its uncertainty: statement and probability.

Statements after ILAC-G8:09/2019 with a guard band of U; probabilities after JCGM 106:2012 for a
normal distribution. A reading exactly where two statements meet gets the better one: on the
limit it meets it (conditional pass), on limit less U it is a pass, on limit plus U a conditional
fail, since the limit itself is then still within its uncertainty.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction

from msgspec import Struct

from ridgerule.enclosures import (
    Amount,
    Exact,
    Span,
    add,
    compare,
    divide,
    multiply,
    subtract,
)
from ridgerule.trade.certainty import is_at_most, lesser, not_negative, positive
from ridgerule.trade.measurement import COVERAGE_FACTOR
from ridgerule.trade.normal import share_below
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

_SHARE = Dimension.SHARE


class Statement(StrEnum):
    """What can be said of a reading and its limit."""

    PASS = "pass"  # noqa: S105 - a statement of conformity, no password
    CONDITIONAL_PASS = "conditional pass"  # noqa: S105 - as above
    CONDITIONAL_FAIL = "conditional fail"
    FAIL = "fail"
    TOO_CLOSE = "too close to the limit to compute"
    CANNOT_BE_VERIFIED = "cannot be verified with this instrument"


class Decision(Struct, frozen=True):
    """A statement, and the acceptance limits it rests on."""

    statement: Statement
    steps: tuple[Step, ...]


def statement(
    value: Amount,
    *,
    expanded: Amount,
    least: Amount | None = None,
    most: Amount | None = None,
    dimension: Dimension = Dimension.LENGTH,
) -> Decision:
    """Return what can be said of a reading `value` with expanded uncertainty U = `expanded`.

    With two limits the worse of the two statements counts. Limits less than 2U apart leave no
    reading that could pass: that is `CANNOT_BE_VERIFIED`, and a `FAIL` only for a reading beyond
    a limit by more than U, which is refused however narrow they are. `TOO_CLOSE` where enclosures
    leave two statements open. ValueError without a limit,
    for limits the wrong way round, or for an uncertainty below 0.
    """
    _refuse_limits(least, most)
    guard = not_negative(expanded, name="an expanded uncertainty")
    found, steps = [], [given("reading", value, dimension), given("U", guard, dimension)]
    for word, limit, sign in (("least", least, -1), ("most", most, 1)):
        if limit is None:
            continue
        over = subtract(value, limit) if sign > 0 else subtract(limit, value)
        found.append(_one_sided(over, guard))
        inner = subtract(limit, guard) if sign > 0 else add(limit, guard)
        formula = f"limit, at {word}, {'less' if sign > 0 else 'plus'} U"
        steps.append(given(f"limit, at {word}", limit, dimension))
        steps.append(Step(f"acceptance limit, at {word}", formula, inner, dimension))
    worst = max(found, key=_SEVERITY.index)
    if least is not None and most is not None and worst is not Statement.FAIL:
        room = compare(subtract(most, least), multiply(2, guard))
        worst = Statement.CANNOT_BE_VERIFIED if room == -1 else worst
    return Decision(worst, tuple(steps))


# From best to worst: a definite fail at one limit outweighs what can't be told at the other.
_SEVERITY = (
    Statement.PASS,
    Statement.CONDITIONAL_PASS,
    Statement.TOO_CLOSE,
    Statement.CONDITIONAL_FAIL,
    Statement.FAIL,
)


def _one_sided(over: Amount, expanded: Amount) -> Statement:
    """Return the statement for a reading that lies `over` past its limit (below 0: inside)."""
    inside, outside = subtract(0, expanded), expanded
    for boundary, said in (
        (inside, Statement.PASS),
        (0, Statement.CONDITIONAL_PASS),
        (outside, Statement.CONDITIONAL_FAIL),
    ):
        is_within = is_at_most(over, boundary)
        if is_within is None:
            return Statement.TOO_CLOSE
        if is_within:
            return said
    return Statement.FAIL


def _refuse_limits(least: Amount | None, most: Amount | None) -> None:
    if least is None and most is None:
        raise ValueError("a reading is held against at least one limit")
    if least is not None and most is not None and compare(least, most) == 1:
        raise ValueError("the least limit can't be more than the most")


# probabilities


class Conformance(Struct, frozen=True):
    """A probability, exact or enclosed to the depth of `normal`."""

    probability: Amount
    steps: tuple[Step, ...]


def conformance_probability(
    value: Amount,
    *,
    standard: Amount,
    least: Amount | None = None,
    most: Amount | None = None,
) -> Conformance:
    """Return the chance that what was measured lies within its limits (JCGM 106, 7).

    `standard` is the standard uncertainty u. With u = 0 it is 1 or 0, a reading on the limit
    within it. ValueError as `statement`.
    """
    _refuse_limits(least, most)
    deviation = not_negative(standard, name="a standard uncertainty")
    steps: list[Step] = []
    below: list[Amount] = []
    for word, limit, without in (("least", least, 0), ("most", most, 1)):
        if limit is None:
            below.append(without)
            continue
        share = _share_below_limit(value, limit, deviation, is_least=word == "least")
        below.append(share)
        formula = f"normal distribution at (limit, at {word}, less reading) / u"
        steps.append(Step(f"chance below the limit, at {word}", formula, share, _SHARE))
    probability = _clipped(subtract(below[1], below[0]))
    formula = "chance below the upper limit less chance below the lower one"
    steps.append(Step("conformance probability", formula, probability, _SHARE))
    return Conformance(probability, tuple(steps))


def _share_below_limit(value: Amount, limit: Amount, standard: Amount, *, is_least: bool) -> Amount:
    if compare(standard, 0) != 0:
        return share_below(divide(subtract(limit, value), standard))
    # Without uncertainty the limit itself is still within: below the most, not below the least.
    inside = is_at_most(limit, value) if is_least else is_at_most(value, limit)
    if inside is None:
        return Span(0, 1)
    return int(not inside) if is_least else int(inside)


def greatest_probability(*, least: Amount, most: Amount, standard: Amount) -> Conformance:
    """Return the best conformance probability any reading can reach: that of the middle.

    Where it is below the one asked for, the limits cannot be verified with this instrument.
    ValueError as `statement`.
    """
    middle = divide(add(least, most), 2)
    return conformance_probability(middle, standard=standard, least=least, most=most)


def can_verify(*, least: Amount, most: Amount, standard: Amount, probability: Exact) -> bool | None:
    """Tell whether some reading can reach `probability`; None where too close to compute.

    ValueError as `statement`, or for a probability not between 0 and 1.
    """
    if not 0 < probability < 1:
        raise ValueError("a probability asked for is between 0 and 1")
    best = greatest_probability(least=least, most=most, standard=standard).probability
    return is_at_most(probability, best)


def false_acceptance(guard_band: Exact, *, factor: Exact = COVERAGE_FACTOR) -> Conformance:
    """Return the chance that a reading on its acceptance limit is of something beyond the limit.

    `guard_band` is counted in expanded uncertainties, of coverage `factor` (ILAC-G8:09/2019,
    table of guard bands). ValueError below 0, or for a factor not above 0.
    """
    not_negative(guard_band, name="a guard band")
    positive(factor, name="a coverage factor")
    chance = subtract(1, share_below(Fraction(guard_band * factor)))
    formula = f"1 less normal distribution at {guard_band} x {factor}"
    return Conformance(chance, (Step("chance of false acceptance", formula, chance, _SHARE),))


def _clipped(share: Amount) -> Amount:
    """Return a share without the parts of its enclosure that no share can have."""
    return lesser(not_negative(share, name="a share"), 1)
