"""Limits and conditions in plain words, as a report and a manual page say them."""

from __future__ import annotations

import datetime as dt
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
from ridgerule.facts import FactRef, Over, Plain, Value
from ridgerule.quantities import Quantity, Units, write

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from ridgerule.facts import Fact

    Named = Callable[[FactRef], str]


def plain_fact(fact: Fact) -> str:
    """Return a fact's name in words: `line membrane width`."""
    return fact.full_name.replace(".", " ").replace("_", " ")


def plain_name(ref: FactRef) -> str:
    """Return what a rule asks, in words: `station gap`, `spread of station gap`."""
    name = plain_fact(ref.fact)
    match ref.over:
        case None:
            return name
        case Over.SPREAD:
            return f"spread of {name}"
        case Over.COUNT:
            return f"number of {name} readings"
        case over:
            return f"{over} {name}"


def in_units(value: Value, units: Units | None) -> str:
    """Return a value in a system of units; as its author wrote it where none is asked for."""
    if not isinstance(value, Quantity):
        return value_text(value)
    if units is None and value.text:
        return value.text
    return write(value.amount, value.dimension, units=units or Units.INCH)


def limit_words(  # noqa: C901, PLR0911, PLR0912 - one branch a kind of limit, a closed list
    limit: Limit, units: Units | None = None, *, name: Named = str
) -> str:
    """Return a limit as a phrase that follows "must be": `at least 3 1/16 in`.

    `name` words the facts in it: as rulebooks write them, or `plain_name`.
    """
    match limit:
        case AtLeast(operand):
            return f"{_first('at least', 'on or after', operand)} {_operand(operand, units, name)}"
        case AtMost(operand):
            return f"{_first('at most', 'on or before', operand)} {_operand(operand, units, name)}"
        case Between(low, high):
            return f"{_operand(low, units, name)} to {_operand(high, units, name)}"
        case EqualTo(operand, within):
            return _near(operand, within, units, name)
        case OneOf(values):
            return _either([in_units(value, units) for value in values])
        case NoneOf(values):
            return f"not {_either([in_units(value, units) for value in values])}"
        case Stated(present):
            return "yes" if present else "no"
        case NearestOf(to, values):
            listed = ", ".join(in_units(value, units) for value in values)
            return f"the nearest to {name(to)} of {listed}"
        case AgreedBy(facts):
            return f"what {_listed(map(name, facts))} agree on"
        case Table(by):
            return f"as the table by {_listed(map(name, by))} says"
        case AllOf(parts):
            return _listed(_apart(part, units, name) for part in parts)
        case AnyOf(parts):
            return _either([_apart(part, units, name) for part in parts])
        case Not(AtMost(operand)):
            return f"{_first('over', 'after', operand)} {_operand(operand, units, name)}"
        case Not(AtLeast(operand)):
            return f"{_first('under', 'before', operand)} {_operand(operand, units, name)}"
        case Not(part):
            return f"not {_apart(part, units, name)}"
        case Holds():
            return condition_words(limit, units, name=name)
        case _:
            assert_never(limit)


def condition_words(condition: Limit, units: Units | None = None, *, name: Named = str) -> str:
    """Return a condition as a clause: `line.kind is hip or ridge and line.vented is no`."""
    match condition:
        case Holds(fact, limit):
            return f"{name(fact)} is {limit_words(limit, units, name=name)}"
        case AllOf(parts):
            return " and ".join(_clause(part, units, name) for part in parts)
        case AnyOf(parts):
            return " or ".join(_clause(part, units, name) for part in parts)
        case Not(Holds(fact, limit)):
            return condition_words(Holds(fact, Not(limit)), units, name=name)
        case Not(part):
            return f"not {_clause(part, units, name)}"
        case _:
            return limit_words(condition, units, name=name)


def _clause(part: Limit, units: Units | None, name: Named) -> str:
    """Return a condition inside another, in brackets where it joins several itself."""
    words = condition_words(part, units, name=name)
    return f"({words})" if _joins(part) else words


def _apart(part: Limit, units: Units | None, name: Named) -> str:
    """Return a limit inside another, in brackets where its own words hold "and" or "or"."""
    words = limit_words(part, units, name=name)
    return f"({words})" if _joins(part) else words


def _joins(part: Limit) -> bool:
    match part:
        case AllOf(parts) | AnyOf(parts):
            return len(parts) > 1
        case EqualTo(operand, within):
            return within is not None and not isinstance(operand, FactRef)
        case _:
            return False


def _near(operand: Operand, within: Quantity | None, units: Units | None, name: Named) -> str:
    if within is None:
        return _operand(operand, units, name)
    if isinstance(operand, FactRef):
        return f"within {in_units(within, units)} of {name(operand)}"
    return f"{in_units(operand, units)}, within {in_units(within, units)}"


def _first(words: str, of_a_date: str, operand: Operand) -> str:
    """Return the word before an operand, which is another one before a date."""
    if not isinstance(operand, FactRef):
        return of_a_date if isinstance(operand, dt.date) else words
    is_date = operand.fact.dimension is Plain.DATE and operand.over is not Over.COUNT
    return of_a_date if is_date else words


def _operand(operand: Operand, units: Units | None, name: Named) -> str:
    return name(operand) if isinstance(operand, FactRef) else in_units(operand, units)


def _listed(phrases: Iterable[str]) -> str:
    return " and ".join(phrases)


def _either(phrases: list[str]) -> str:
    if len(phrases) < 2:
        return "".join(phrases)
    return f"{', '.join(phrases[:-1])} or {phrases[-1]}"
