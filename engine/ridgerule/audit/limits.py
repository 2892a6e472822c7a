"""What a rule can demand: one declarative vocabulary for limits and conditions.

A *limit* is asked of one value; a *condition* names the fact it asks. Both are trees of frozen
nodes that the compiler builds from a rulebook's data, every quantity already read and every
fact already found.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import FactRef, Value

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.problems import Location
    from ridgerule.quantities import Quantity

Operand = Value | FactRef
"""What a value is held against: a figure, or another fact."""


class AtLeast(Struct, frozen=True):
    """The value is not below the operand; on it is met."""

    operand: Operand


class AtMost(Struct, frozen=True):
    """The value is not above the operand; on it is met."""

    operand: Operand


class Between(Struct, frozen=True):
    """The value is not below one operand nor above the other."""

    low: Operand
    high: Operand


class EqualTo(Struct, frozen=True):
    """The value is the operand, or no further from it than `within`."""

    operand: Operand
    within: Quantity | None = None


class OneOf(Struct, frozen=True):
    """The value is one of those listed."""

    values: tuple[Value, ...]


class NoneOf(Struct, frozen=True):
    """The value is none of those listed."""

    values: tuple[Value, ...]


class Stated(Struct, frozen=True):
    """A yes-or-no fact is stated yes (`present`) or no (`absent`)."""

    present: bool


class NearestOf(Struct, frozen=True):
    """The value is the one of `values` nearest to another fact; a tie is settled by no one."""

    to: FactRef
    values: tuple[Quantity, ...]


class AgreedBy(Struct, frozen=True):
    """The value is the one that several facts agree on; where they differ it is unknown."""

    facts: tuple[FactRef, ...]


class Row(Struct, frozen=True):
    """One row of a table: a limit on each fact the table is read by, and what then holds."""

    keys: tuple[Limit, ...]
    limit: Limit
    location: Location


class Table(Struct, frozen=True):
    """The limit stands in the row that the facts in `by` pick; between rows it is unknown."""

    by: tuple[FactRef, ...]
    rows: tuple[Row, ...]


class AllOf(Struct, frozen=True):
    """Every part holds."""

    parts: tuple[Limit, ...]


class AnyOf(Struct, frozen=True):
    """At least one part holds."""

    parts: tuple[Limit, ...]


class Not(Struct, frozen=True):
    """The part does not hold."""

    part: Limit


class Holds(Struct, frozen=True):
    """A condition: the fact meets the limit."""

    fact: FactRef
    limit: Limit


Limit = (
    AtLeast
    | AtMost
    | Between
    | EqualTo
    | OneOf
    | NoneOf
    | Stated
    | NearestOf
    | AgreedBy
    | Table
    | AllOf
    | AnyOf
    | Not
    | Holds
)
"""Any node. `Holds` stands only in conditions, where `AllOf`, `AnyOf` and `Not` join it."""


def nodes(node: object) -> Iterator[object]:
    """Yield a limit or condition and everything in it, facts and figures included, top down."""
    if isinstance(node, tuple):
        for item in node:
            yield from nodes(item)
        return
    yield node
    if isinstance(node, Struct) and not isinstance(node, FactRef):
        for name in node.__struct_fields__:
            yield from nodes(getattr(node, name))
