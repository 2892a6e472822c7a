"""What limits and conditions say of a situation in which every fact they ask is known."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, assert_never

from ridgerule.audit.judge import nearest_values
from ridgerule.audit.limits import (
    AgreedBy,
    AllOf,
    AnyOf,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    Holds,
    Limit,
    NearestOf,
    NoneOf,
    Not,
    OneOf,
    Operand,
    Stated,
    Table,
)
from ridgerule.audit.truth import Truth, invert
from ridgerule.enclosures import absolute, compare, subtract
from ridgerule.facts import FactRef, Over, Value
from ridgerule.quantities import Quantity
from ridgerule.trade.certainty import is_at_most

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridgerule.audit.regions import Situation


def fact_meets(ref: FactRef, limit: Limit, here: Situation) -> Truth:
    """Return whether a fact meets a limit in a situation; None where no one can tell."""
    truths = [_meets(value, limit, here) for value in here[str(ref)]]
    return _some(truths) if ref.over is Over.ANY else _every(truths)


def condition_holds(condition: Limit | None, here: Situation) -> Truth:
    """Return whether a condition holds in a situation; with none asked it does."""
    match condition:
        case None:
            return True
        case Holds(fact, limit):
            return fact_meets(fact, limit, here)
        case AllOf(parts):
            return _every([condition_holds(part, here) for part in parts])
        case AnyOf(parts):
            return _some([condition_holds(part, here) for part in parts])
        case Not(part):
            return invert(condition_holds(part, here))
        case _:
            raise TypeError(f"a limit where a condition is due: {condition!r}")


def _meets(  # noqa: C901, PLR0911, PLR0912 - one branch a kind of limit, a closed list
    value: Value, limit: Limit, here: Situation
) -> Truth:
    match limit:
        case AllOf(parts):
            return _every([_meets(value, part, here) for part in parts])
        case AnyOf(parts):
            return _some([_meets(value, part, here) for part in parts])
        case Not(part):
            return invert(_meets(value, part, here))
        case Holds(fact, part):
            return fact_meets(fact, part, here)
        case AtLeast(operand):
            return _is_at_most(_value(operand, here), value)
        case AtMost(operand):
            return _is_at_most(value, _value(operand, here))
        case Between(least, most):
            above = _is_at_most(_value(least, here), value)
            return _every([above, _is_at_most(value, _value(most, here))])
        case EqualTo(operand, within):
            return _equal(value, _value(operand, here), within)
        case OneOf(values):
            return _some([_equal(value, other) for other in values])
        case NoneOf(values):
            return invert(_some([_equal(value, other) for other in values]))
        case Stated(present):
            return value is present
        case NearestOf(to, values):
            return _nearest(value, _value(to, here), values)
        case AgreedBy(facts):
            return _agreed(value, [_value(fact, here) for fact in facts])
        case Table():
            return _by_table(value, limit, here)
        case _:
            assert_never(limit)


def _value(operand: Operand, here: Situation) -> Value:
    return here[str(operand)][0] if isinstance(operand, FactRef) else operand


def _is_at_most(a: Value, b: Value) -> Truth:
    if isinstance(a, Quantity) and isinstance(b, Quantity):
        return is_at_most(a.amount, b.amount)
    if isinstance(a, dt.date) and isinstance(b, dt.date):
        return a <= b
    raise TypeError(f"{a!r} can't be ordered against {b!r}")


def _equal(a: Value, b: Value, within: Quantity | None = None) -> Truth:
    if isinstance(a, Quantity) and isinstance(b, Quantity):
        if within is not None:
            return is_at_most(absolute(subtract(a.amount, b.amount)), within.amount)
        order = compare(a.amount, b.amount)
        return None if order is None else order == 0
    if isinstance(a, dt.date) and isinstance(b, dt.date) and within is not None:
        return is_at_most(abs((a - b).days), within.amount)
    return a == b


def _nearest(value: Value, to: Value, values: Sequence[Quantity]) -> Truth:
    if not isinstance(to, Quantity):
        raise TypeError(f"{to!r} is near to nothing")
    nearest = nearest_values(to, values)
    is_one = [_equal(value, other) for other in nearest]
    if all(truth is False for truth in is_one):
        return False
    return None if len(nearest) > 1 else is_one[0]


def _agreed(value: Value, said: Sequence[Value]) -> Truth:
    agree = _every([_equal(said[0], other) for other in said[1:]])
    return _equal(value, said[0]) if agree is True else None


def _by_table(value: Value, table: Table, here: Situation) -> Truth:
    held = []
    for row in table.rows:
        keys = zip(table.by, row.keys, strict=True)
        picked = _every([fact_meets(fact, key, here) for fact, key in keys])
        if picked is None:
            return None
        if picked:
            held.append(row)
    return _meets(value, held[0].limit, here) if len(held) == 1 else None


def _every(truths: Iterable[Truth]) -> Truth:
    found = list(truths)
    if False in found:
        return False
    return None if None in found else True


def _some(truths: Iterable[Truth]) -> Truth:
    return invert(_every([invert(truth) for truth in truths]))
