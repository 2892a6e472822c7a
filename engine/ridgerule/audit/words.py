"""Limits and conditions in plain words, as a report and a manual page say them."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

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
from ridgerule.audit.subjects import value_text
from ridgerule.facts import FactRef, Value
from ridgerule.quantities import Quantity, Units, write

if TYPE_CHECKING:
    from collections.abc import Iterable


def in_units(value: Value, units: Units | None) -> str:
    """Return a value in a system of units; as its author wrote it where none is asked for."""
    if not isinstance(value, Quantity):
        return value_text(value)
    if units is None and value.text:
        return value.text
    return write(value.amount, value.dimension, units=units or Units.INCH)


def limit_words(  # noqa: C901, PLR0911, PLR0912 - one branch a kind of limit, a closed list
    limit: Limit, units: Units | None = None
) -> str:
    """Return a limit as a phrase that follows "must be": `at least 3 1/16 in`."""
    match limit:
        case AtLeast(operand):
            return f"at least {_operand(operand, units)}"
        case AtMost(operand):
            return f"at most {_operand(operand, units)}"
        case Between(low, high):
            return f"{_operand(low, units)} to {_operand(high, units)}"
        case EqualTo(operand, None):
            return _operand(operand, units)
        case EqualTo(operand, within):
            figure = _operand(operand, units)
            return f"{figure}, within {in_units(within, units)}" if within else figure
        case OneOf(values):
            return _either([in_units(value, units) for value in values])
        case NoneOf(values):
            return f"not {_either([in_units(value, units) for value in values])}"
        case Stated(present):
            return "yes" if present else "no"
        case NearestOf(to, values):
            listed = ", ".join(in_units(value, units) for value in values)
            return f"the nearest to {to} of {listed}"
        case AgreedBy(facts):
            return f"what {_listed(map(str, facts))} agree on"
        case Table(by):
            return f"as the table by {_listed(map(str, by))} says"
        case AllOf(parts):
            return _listed(_apart(part, units) for part in parts)
        case AnyOf(parts):
            return _either([_apart(part, units) for part in parts])
        case Not(AtMost(operand)):
            return f"over {_operand(operand, units)}"
        case Not(AtLeast(operand)):
            return f"under {_operand(operand, units)}"
        case Not(part):
            return f"not {limit_words(part, units)}"
        case Holds():
            return condition_words(limit, units)
        case _:
            assert_never(limit)


def condition_words(condition: Limit, units: Units | None = None) -> str:
    """Return a condition as a clause: `line.kind is hip or ridge and line.vented is no`."""
    match condition:
        case Holds(fact, limit):
            return f"{fact} is {limit_words(limit, units)}"
        case AllOf(parts):
            return " and ".join(condition_words(part, units) for part in parts)
        case AnyOf(parts):
            return " or ".join(f"({condition_words(part, units)})" for part in parts)
        case Not(part):
            return f"not ({condition_words(part, units)})"
        case _:
            return limit_words(condition, units)


def _apart(part: Limit, units: Units | None) -> str:
    """Return a limit inside another, in brackets where its own words hold "and" or "or"."""
    words = limit_words(part, units)
    joins = isinstance(part, (AllOf, AnyOf)) and len(part.parts) > 1
    return f"({words})" if joins else words


def _operand(operand: Operand, units: Units | None) -> str:
    return str(operand) if isinstance(operand, FactRef) else in_units(operand, units)


def _listed(phrases: Iterable[str]) -> str:
    return " and ".join(phrases)


def _either(phrases: list[str]) -> str:
    if len(phrases) < 2:
        return "".join(phrases)
    return f"{', '.join(phrases[:-1])} or {phrases[-1]}"
