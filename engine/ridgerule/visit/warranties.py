"""What the coverages of rulebooks ask of the roof itself: dates, a registration, a transfer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.editions import editions_in_use
from ridgerule.audit.grammar import Asked, Grammar, node_of
from ridgerule.facts import Element

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.grammar import Node
    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Edition, Plan
    from ridgerule.record import Record


def stated_conditions(plan: Plan, record: Record) -> Iterator[tuple[str, Limit]]:
    """Yield the conditions on the roof itself that coverages state, each with its title.

    Those of the rulebooks that a plan's stand on count too: a warranty is not a county's to drop.
    """
    told: set[tuple[str, str]] = set()
    for used in editions_in_use(plan, record):
        for edition in used.possible or (used.edition,):
            for title, condition, key in _stated(edition):
                if key not in told:
                    told.add(key)
                    yield title, condition


def _stated(edition: Edition) -> Iterator[tuple[str, Limit, tuple[str, str]]]:
    grammar = Grammar(edition.vocabulary, Asked(Element.ROOF))
    for book in edition.adapted.documents():
        for coverage in book.coverages:
            for node in _wheres(node_of(coverage.conditions)):
                condition = grammar.condition(node.inside("where"))
                title = node.data.get("title") if isinstance(node.data, dict) else None
                if condition is not None:
                    words = str(title) if title else coverage.title
                    yield f"{book.id}: {words}", condition, (book.name, str(node.location()))


def _wheres(node: Node) -> Iterator[Node]:
    """Yield the parts of a coverage's conditions that are no rule."""
    if isinstance(node.data, list):
        for i in range(len(node.data)):
            yield from _wheres(node.inside(i))
    elif isinstance(node.data, dict):
        if "where" in node.data:
            yield node
        for key in ("all_of", "any_of"):
            if key in node.data:
                yield from _wheres(node.inside(key))
