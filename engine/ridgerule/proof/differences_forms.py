"""What a limit, a condition or a formula says, whichever file, line and order it stands in.

Two forms are equal where the same is said: of the same facts by their names, with the same
figures. What the facts themselves are is another question.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.expressions import Derivation
from ridgerule.audit.limits import AllOf, AnyOf, Holds, NoneOf, OneOf, Row, Table, nodes
from ridgerule.facts import FactRef
from ridgerule.quantities import Quantity
from ridgerule.trade.reckoning import Reckoning

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check, Edition
    from ridgerule.facts import Fact


def form(  # noqa: PLR0911 - one branch a kind of node, a closed list
    node: object, *, written: bool = False
) -> Hashable:
    """Return what a node says; with `written`, figures count by how they are written."""
    match node:
        case FactRef():
            return str(node)
        case Quantity(dimension, amount, text):
            return "quantity", dimension, text if written and text else amount
        case AllOf() | AnyOf():
            parts = frozenset(form(part, written=written) for part in _joined(node))
            return next(iter(parts)) if len(parts) == 1 else (type(node).__name__, parts)
        case OneOf(values) | NoneOf(values):
            listed = frozenset(form(value, written=written) for value in values)
            return type(node).__name__, listed
        case Table(by, rows):
            listed = frozenset(form(row, written=written) for row in rows)
            return "Table", tuple(map(str, by)), listed
        case Row(keys, limit):
            return form(keys, written=written), form(limit, written=written)
        case Reckoning():
            return node.name
        case Struct():
            fields = (getattr(node, name) for name in node.__struct_fields__)
            return type(node).__name__, *(form(field, written=written) for field in fields)
        case tuple():
            return tuple(form(item, written=written) for item in node)
        case _:
            return node


def _joined(node: AllOf | AnyOf) -> Iterator[Limit]:
    """Yield the parts of a limit or condition, those that its own kind joins inside it too."""
    for part in node.parts:
        if isinstance(part, type(node)):
            yield from _joined(part)
        else:
            yield part


class RowChange(Struct, frozen=True):
    """One row of a table that is not what it was; None where there is no such row."""

    where: tuple[Holds, ...]
    """What picks the row."""
    before: Limit | None
    after: Limit | None


def changed_rows(before: Limit, after: Limit) -> tuple[RowChange, ...]:
    """Return the rows of a table that differ, where at least one of two limits is a table.

    A limit that is none is the same in every row of the other.
    """
    if not isinstance(before, Table) and not isinstance(after, Table):
        return ()
    old, new = dict(_rows(before)), dict(_rows(after))
    found = []
    for where in dict.fromkeys((*new, *old)):
        first = old[where][1] if where in old else _everywhere(before)
        second = new[where][1] if where in new else _everywhere(after)
        if form(first, written=True) != form(second, written=True):
            held = (new if where in new else old)[where][0]
            found.append(RowChange(held, first, second))
    return tuple(found)


def _everywhere(limit: Limit) -> Limit | None:
    return None if isinstance(limit, Table) else limit


def _rows(
    limit: Limit, held: tuple[Holds, ...] = ()
) -> Iterator[tuple[Hashable, tuple[tuple[Holds, ...], Limit]]]:
    """Yield the rows of a table and of the tables in it, each under what picks it."""
    if isinstance(limit, Table):
        for row in limit.rows:
            picked = zip(limit.by, row.keys, strict=True)
            yield from _rows(row.limit, (*held, *(Holds(fact, key) for fact, key in picked)))
    elif held:
        yield frozenset(map(form, held)), (held, limit)


def scopes_of(check: Check) -> tuple[Limit | None, Limit | None]:
    """Return what the rulebooks on a rule's way here are written for, and what the rule itself."""
    if not isinstance(check.scope, AllOf):
        return None, None
    # The compiler joins the scopes of the rulebooks and then the rule's own.
    parts = check.scope.parts
    own = parts[-1] if "scope" in check.rule.fields and parts else None
    books = parts[:-1] if own is not None else parts
    return AllOf(books) if books else None, own


def book_scope(edition: Edition) -> Limit | None:
    """Return what a rulebook itself is written for, its bases left out, as its rules have it."""
    if edition.book.scope is None:
        return None
    books = next((scopes_of(check)[0] for check in edition.checks), None)
    return books.parts[-1] if isinstance(books, AllOf) else None


def facts_behind(check: Check) -> dict[str, Fact]:
    """Return the facts that decide a rule, those that others are computed from too, by name."""
    found: dict[str, Fact] = {}
    waiting: list[object] = [check.of, check.limit, check.when, check.scope]
    while waiting:
        for node in nodes(waiting.pop()):
            if isinstance(node, FactRef) and node.fact.full_name not in found:
                found[node.fact.full_name] = node.fact
                if isinstance(node.fact.derivation, Derivation):
                    waiting.append(node.fact.derivation.expression)
    return found
