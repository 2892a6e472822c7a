"""Two rules that can't both be met: on one fact, where both apply, no value meets the two."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.comparing import condition_holds, fact_meets
from ridgerule.audit.limits import (
    AgreedBy,
    AllOf,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    Holds,
    NearestOf,
    Table,
    nodes,
)
from ridgerule.audit.regions import TooMany, situations
from ridgerule.audit.strictness import can_be, may_meet, reach_of
from ridgerule.audit.words import condition_words, limit_words
from ridgerule.enclosures import compare
from ridgerule.facts import FactRef
from ridgerule.proof.lint_remarks import error
from ridgerule.proof.lint_rules import DECIDING, place_in, written_here

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check, Edition
    from ridgerule.audit.regions import Kept, Situation
    from ridgerule.audit.strictness import Reach
    from ridgerule.proof.lint_remarks import Remark


def conflict_remarks(edition: Edition) -> Iterator[Remark]:
    """Yield the rules of the file that can't be met together with another, each pair once."""
    mine = [c for c in edition.checks if written_here(c.rule, edition, *DECIDING)]
    ours = sorted(mine, key=lambda check: place_in(check.rule, edition, *DECIDING))
    theirs = [check for check in edition.checks if check not in mine]
    known = {id(check): reach_of(check) for check in edition.checks}
    for i, later in enumerate(ours):
        for other in (*theirs, *ours[:i]):
            if other.of != later.of or _reach_into(known[id(other)], known[id(later)]):
                continue
            here = conflict(other, later)
            if here is not None:
                yield _told(other, later, here, edition)


def _reach_into(one: Reach | None, other: Reach | None) -> bool:
    """Tell whether two ranges surely have a value in common: nearly all do, and need no more."""
    if one is None or other is None:
        return False
    return all(
        low is None or high is None or compare(low, high) in (-1, 0)
        for low, high in ((one[0], other[1]), (other[0], one[1]))
    )


def conflict(first: Check, second: Check) -> Situation | None:
    """Return a kind of roof that two rules both apply to and no value meets both of, or None.

    What a limit is held against varies from roof to roof as the reading does, and is let vary.
    """
    if not may_meet(first, second) or not (
        can_be(first, truth=True) and can_be(second, truth=True)
    ):
        return None
    limits = (first.limit, second.limit)
    applies = AllOf(
        tuple(p for p in (first.scope, first.when, second.scope, second.when) if p is not None)
    )
    holds = [node for node in nodes(applies) if isinstance(node, Holds)]
    asked = [(first.of, limit) for limit in limits] + [(node.fact, node.limit) for node in holds]
    free = {str(first.of), *(str(ref) for limit in limits for ref in _held_against(limit))}
    met: dict[tuple[Kept, ...], bool] = {}
    kinds: dict[tuple[Kept, ...], Situation] = {}
    try:
        for here in situations(asked, of=first.of, at=first.at):
            if condition_holds(applies, here) is not True:
                continue
            key = tuple(kept for name, kept in here.items() if name not in free)
            kinds.setdefault(key, here)
            both = all(fact_meets(first.of, limit, here) is not False for limit in limits)
            met[key] = met.get(key, False) or both
    except TooMany:
        return None
    return next((kinds[key] for key, can_be_met in met.items() if not can_be_met), None)


def _held_against(limit: Limit) -> Iterator[FactRef]:
    """Yield the facts that a limit holds a value against."""
    for node in nodes(limit):
        match node:
            case AtLeast(FactRef() as ref) | AtMost(FactRef() as ref) | EqualTo(FactRef() as ref):
                yield ref
            case Between(low, high):
                yield from (end for end in (low, high) if isinstance(end, FactRef))
            case NearestOf(to):
                yield to
            case AgreedBy(facts):
                yield from facts
            case _:
                continue


def _told(other: Check, later: Check, here: Situation, edition: Edition) -> Remark:
    there, theirs = other.rule.fields["limit"].location, limit_words(other.limit)
    told = (
        f"a limit that some `{later.of}` can meet together with `{theirs}` of "
        f"`{other.rule.full_id}` ({there})"
    )
    rows = dict.fromkeys(words for c in (other, later) for words in _picked(c.limit, here))
    such = f", such as where {' and '.join(rows)}" if rows else ""
    found = f"`{limit_words(later.limit)}`, which leaves none where both rules apply{such}"
    advice = "change one limit, or part the rules by `when`"
    where = place_in(later.rule, edition, *DECIDING)
    return error(where, told, found, advice)


def _picked(limit: Limit, here: Situation) -> Iterator[str]:
    """Yield what picks the rows of a limit's tables on a kind of roof, in words."""
    for table in nodes(limit):
        if isinstance(table, Table):
            for row in table.rows:
                keys = tuple(map(Holds, table.by, row.keys))
                if condition_holds(AllOf(keys), here):
                    yield condition_words(AllOf(keys))
