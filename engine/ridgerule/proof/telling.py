"""Can any roof tell two forms of a rule apart: exactly, by every kind of roof that they ask."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.limits import Holds, nodes
from ridgerule.audit.regions import TooMany, situations
from ridgerule.proof.small_roofs import expected

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check
    from ridgerule.facts import FactRef


MOST_KINDS = 5_000
"""Kinds of roof that are gone through; where there are more, some may tell."""


def some_roof_tells(one: Check, other: Check) -> bool:
    """Tell whether some roof comes out otherwise by one form of a rule; yes where no one can tell.

    Computed facts are let vary by themselves, so that more roofs are tried than can be built.
    """
    if one.evidence != other.evidence:
        return True
    asked = [(one.of, one.limit), (other.of, other.limit), *_asked(one.when), *_asked(other.when)]
    count = 0
    try:
        for here in situations(asked, of=one.of, at=one.at):
            count += 1
            if count > MOST_KINDS or expected(one, here) is not expected(other, here):
                return True
    except TooMany:
        return True
    return False


def _asked(condition: Limit | None) -> Iterator[tuple[FactRef, Limit]]:
    """Yield the facts that a condition asks, each with its limit."""
    for node in nodes(condition):
        if isinstance(node, Holds):
            yield node.fact, node.limit
