"""Computed facts: sums, tables and the trade's computations over other facts.

An expression gives a value from a place's facts, or what is missing for it; with a value it
gives its working, number by number, each with the reading it came from.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never, cast

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.audit.judge import Setting, is_interval, nearest_values, picked_row, tie_words
from ridgerule.audit.limits import nodes
from ridgerule.audit.subjects import ANYTHING, Evidence, Subject, subjects, value_text
from ridgerule.audit.truth import Missing, Used
from ridgerule.enclosures import (
    UNBOUNDED,
    Amount,
    Span,
    absolute,
    add,
    compare,
    divide,
    high,
    low,
    multiply,
    subtract,
)
from ridgerule.facts import Fact, FactRef, Value
from ridgerule.quantities import Dimension, Quantity
from ridgerule.trade.certainty import is_at_most

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from ridgerule.audit.limits import Operand, Table
    from ridgerule.record import Place, Record
    from ridgerule.trade.reckonings import Reckoning


class Combined(Struct, frozen=True):
    """Operands joined by one of the operations of `OPERATIONS`."""

    operation: str
    operands: tuple[Operand, ...]
    dimension: Dimension


class Looked(Struct, frozen=True):
    """The value in the row of a table that facts pick; a row's limit is its value."""

    table: Table


class Nearest(Struct, frozen=True):
    """The one of `values` nearest to a fact; a tie is no value, and names both."""

    to: FactRef
    values: tuple[Quantity, ...]


class Interval(Struct, frozen=True):
    """A value known only to lie between two others, such as a panel of a marked thickness."""

    least: Expression
    greatest: Expression


class Taken(Struct, frozen=True):
    """A figure, or another fact as it is."""

    operand: Operand


class Reckon(Struct, frozen=True):
    """One of the trade's computations, its inputs by name."""

    reckoning: Reckoning
    inputs: tuple[tuple[str, tuple[Operand, ...]], ...]


Expression = Combined | Looked | Nearest | Interval | Taken | Reckon


class Derivation(Struct, frozen=True):
    """How a computed fact is computed, wherever it is asked."""

    fact: Fact
    expression: Expression

    def __call__(self, record: Record, place: Place, evidence: Evidence = ANYTHING) -> Subject:
        """Return the fact's value at a place with its working, or what is missing for it.

        `evidence` is asked of the readings of the place itself: a computed value is known no
        better than they are.
        """
        key = (id(self), place.path, evidence)
        if key not in record.computed:
            record.computed[key] = self._found(Setting(record, place, evidence))
        found = record.computed[key]
        return cast("Subject", found)

    def _found(self, setting: Setting) -> Subject:
        place = setting.place
        found = computed(setting, self.expression)
        name = self.fact.full_name
        missing = tuple(replace(lack, computes=lack.computes or name) for lack in found.missing)
        if found.value is None:
            return Subject(None, missing, found.used)
        text, path = value_text(found.value), place.path
        use = Used(place.label, self.fact, text, None, path, found.value, found.used, found.steps)
        return Subject(found.value, missing, (use,))


def readings_behind(fact: Fact) -> Iterator[Fact]:
    """Yield the recorded facts that a fact is computed from in the end, or the fact itself."""
    if not isinstance(fact.derivation, Derivation):
        yield fact
        return
    seen: dict[str, None] = {}
    for node in nodes(fact.derivation.expression):
        if isinstance(node, FactRef) and node.fact.full_name not in seen:
            seen[node.fact.full_name] = None
            yield from readings_behind(node.fact)


def computed(setting: Setting, expression: Expression) -> Subject:
    """Return what an expression comes to at the setting's place."""
    match expression:
        case Taken(operand):
            return _taken(setting, operand)
        case Combined():
            return _combined(setting, expression)
        case Looked(table):
            return _looked(setting, table)
        case Nearest(to, values):
            return _nearest(setting, to, values)
        case Interval(least, greatest):
            return _interval(setting, computed(setting, least), computed(setting, greatest))
        case Reckon(reckoning, inputs):
            return _reckoned(setting, reckoning, inputs)
        case _:
            assert_never(expression)


def _taken(setting: Setting, operand: Operand) -> Subject:
    """Return the one value that an operand stands for."""
    return _each(setting, operand)[0]


def _each(setting: Setting, operand: Operand) -> Sequence[Subject]:
    """Return the values that an operand stands for: several, or none, for `each` alone."""
    if not isinstance(operand, FactRef):
        return (Subject(operand),)
    here = operand.fact.element is setting.place.element
    evidence = setting.evidence if here else ANYTHING
    return subjects(setting.record, setting.place, operand, evidence=evidence).items


def _gathered(setting: Setting, operands: Sequence[Operand]) -> tuple[list[Subject], Subject]:
    """Return the operands' subjects, `each` spread out, and one that holds all they lack."""
    found = [subject for operand in operands for subject in _each(setting, operand)]
    missing = tuple(dict.fromkeys(lack for item in found for lack in item.missing))
    used = tuple(dict.fromkeys(use for item in found for use in item.used))
    return found, Subject(None, missing, used)


def _combined(setting: Setting, expression: Combined) -> Subject:
    found, whole = _gathered(setting, expression.operands)
    amounts = [item.value.amount for item in found if isinstance(item.value, Quantity)]
    if whole.missing or len(amounts) != len(found):
        return whole
    if not found and expression.operation != "sum":
        return _cannot(setting, f"there is nothing to take the {expression.operation} of", whole)
    try:
        amount = OPERATIONS[expression.operation](amounts)
    except ZeroDivisionError:
        return _cannot(setting, "nothing can be divided by 0", whole)
    if amount == UNBOUNDED:
        return _cannot(setting, "what it is divided by may be 0", whole)
    return Subject(Quantity(expression.dimension, amount, ""), (), whole.used)


def _sum(amounts: Sequence[Amount]) -> Amount:
    total: Amount = 0
    for amount in amounts:
        total = add(total, amount)
    return total


def _product(amounts: Sequence[Amount]) -> Amount:
    total = amounts[0]
    for amount in amounts[1:]:
        total = multiply(total, amount)
    return total


def _least(amounts: Sequence[Amount]) -> Amount:
    lows, highs = [low(a) for a in amounts], [high(a) for a in amounts]
    first = next((a for a in amounts if all(is_at_most(a, b) for b in amounts)), None)
    if first is not None:
        return first
    least = None if None in lows else min(end for end in lows if end is not None)
    return Span(least, min((end for end in highs if end is not None), default=None))


def _greatest(amounts: Sequence[Amount]) -> Amount:
    first = next((a for a in amounts if all(is_at_most(b, a) for b in amounts)), None)
    if first is not None:
        return first
    lows, highs = [low(a) for a in amounts], [high(a) for a in amounts]
    most = None if None in highs else max(end for end in highs if end is not None)
    return Span(max((end for end in lows if end is not None), default=None), most)


OPERATIONS: Mapping[str, Callable[[Sequence[Amount]], Amount]] = {
    "sum": _sum,
    "difference": lambda amounts: subtract(amounts[0], amounts[1]),
    "apart": lambda amounts: absolute(subtract(amounts[0], amounts[1])),
    "product": _product,
    "ratio": lambda amounts: divide(amounts[0], amounts[1]),
    "share": lambda amounts: divide(amounts[0], amounts[1]),
    "least": _least,
    "greatest": _greatest,
}
"""What `derive:` can do with facts and figures; `apart` is a difference without its sign."""


def _looked(setting: Setting, table: Table) -> Subject:
    row, picked = picked_row(setting, table, evidence=setting.evidence)
    if row is None:
        return Subject(None, picked.missing, picked.used)
    value = _taken(setting, row.limit.operand)  # type: ignore[union-attr] # by the grammar
    return Subject(value.value, value.missing, (*picked.used, *value.used))


def _nearest(setting: Setting, to: FactRef, values: tuple[Quantity, ...]) -> Subject:
    found = _taken(setting, to)
    if not isinstance(found.value, Quantity):
        return Subject(None, found.missing, found.used)
    nearest = nearest_values(found.value, values)
    if len(nearest) == 1:
        return Subject(nearest[0], (), found.used)
    return _cannot(setting, tie_words(found, to, nearest), found)


def _interval(setting: Setting, least: Subject, greatest: Subject) -> Subject:
    used = tuple(dict.fromkeys((*least.used, *greatest.used)))
    missing = tuple(dict.fromkeys((*least.missing, *greatest.missing)))
    if not isinstance(least.value, Quantity) or not isinstance(greatest.value, Quantity):
        return Subject(None, missing, used)
    if compare(least.value.amount, greatest.value.amount) == 1:
        ends = f"{value_text(least.value)} to {value_text(greatest.value)}"
        reason = f"{ends} is no interval: its end lies below its beginning"
        return _cannot(setting, reason, Subject(None, (), used))
    span = Span(low(least.value.amount), high(greatest.value.amount))
    return Subject(Quantity(least.value.dimension, span, ""), missing, used)


def _reckoned(
    setting: Setting,
    reckoning: Reckoning,
    inputs: tuple[tuple[str, tuple[Operand, ...]], ...],
) -> Subject:
    values: dict[str, tuple[Value, ...]] = {}
    used: list[Used] = []
    missing: list[Missing] = []
    for name, operands in inputs:
        found, whole = _gathered(setting, operands)
        used.extend(whole.used)
        missing.extend(whole.missing)
        values[name] = tuple(item.value for item in found if item.value is not None)
    inputs_used = tuple(dict.fromkeys(used))
    if missing:
        return Subject(None, tuple(dict.fromkeys(missing)), inputs_used)
    try:
        reckoned = reckoning.compute(values)
    except ValueError as impossible:
        return _cannot(setting, str(impossible), Subject(None, (), inputs_used))
    if reckoned is None:
        return _cannot(setting, _left_open(inputs_used), Subject(None, (), inputs_used))
    return Subject(reckoned.value, (), inputs_used, reckoned.steps)


def _left_open(used: Sequence[Used]) -> str:
    """Return which inputs are only known to lie between two values, and leave a result open."""
    wide = [
        f"{use.fact.full_name} may be {use.text}"
        for use in used
        if isinstance(use.value, Quantity) and is_interval(use.value.amount)
    ]
    return f"{' and '.join(wide)}; measure it" if wide else "the readings leave it open"


def _cannot(setting: Setting, reason: str, found: Subject) -> Subject:
    lack = Missing(setting.place.label, None, reason, setting.place.path)
    return Subject(None, (lack,), found.used)
