"""What a rule can demand: one declarative vocabulary for limits and conditions.

A *limit* is asked of one value; a *condition* names the fact it asks. Both are trees of frozen
nodes that the compiler builds from a rulebook's data, every quantity already read and every
fact already found.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridgerule.facts import FactRef, Value

if TYPE_CHECKING:
    from ridgerule.problems import Location
    from ridgerule.quantities import Quantity

Operand = Value | FactRef
"""What a value is held against: a figure, or another fact."""


@dataclass(frozen=True, slots=True)
class AtLeast:
    """The value is not below the operand; on it is met."""

    operand: Operand


@dataclass(frozen=True, slots=True)
class AtMost:
    """The value is not above the operand; on it is met."""

    operand: Operand


@dataclass(frozen=True, slots=True)
class Between:
    """The value is not below one operand nor above the other."""

    low: Operand
    high: Operand


@dataclass(frozen=True, slots=True)
class EqualTo:
    """The value is the operand, or no further from it than `within`."""

    operand: Operand
    within: Quantity | None = None


@dataclass(frozen=True, slots=True)
class OneOf:
    """The value is one of those listed."""

    values: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class NoneOf:
    """The value is none of those listed."""

    values: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class Stated:
    """A yes-or-no fact is stated yes (`present`) or no (`absent`)."""

    present: bool


@dataclass(frozen=True, slots=True)
class NearestOf:
    """The value is the one of `values` nearest to another fact; a tie is settled by no one."""

    to: FactRef
    values: tuple[Quantity, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: a limit on each fact the table is read by, and what then holds."""

    keys: tuple[Limit, ...]
    limit: Limit
    location: Location


@dataclass(frozen=True, slots=True)
class Table:
    """The limit stands in the row that the facts in `by` pick; between rows it is unknown."""

    by: tuple[FactRef, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class AllOf:
    """Every part holds."""

    parts: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """At least one part holds."""

    parts: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """The part does not hold."""

    part: Limit


@dataclass(frozen=True, slots=True)
class Holds:
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
    | Table
    | AllOf
    | AnyOf
    | Not
    | Holds
)
"""Any node. `Holds` stands only in conditions, where `AllOf`, `AnyOf` and `Not` join it."""
