"""Rules proved at their edges: every kind of limit by hand, and rules drawn at random.

Every rulebook here is invented and no figure in it means anything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hypothesis import settings
from hypothesis import strategies as st

from ridgerule.proof.proving import Depth, prove
from workshop import plan, rule, rulebook

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.proof.proving import BookProof, RuleProof

    Draw = Callable[[st.SearchStrategy[Any]], Any]

steady = settings(max_examples=120, deadline=None, database=None, derandomize=True)


PLAIN = Depth()


def proof_of(*rules: dict[str, Any], depth: Depth = PLAIN, **fields: object) -> BookProof:
    """Return the proof of a rulebook with these rules."""
    return prove(plan(rulebook(*rules, **fields)).books[0].editions[0], depth)


def rule_proof(
    *args: Any, depth: Depth = PLAIN, facts: object = None, **fields: object
) -> RuleProof:
    """Return the proof of one rule."""
    more = {} if facts is None else {"facts": facts}
    (found,) = proof_of(rule("r", *args, **fields), depth=depth, **more).rules
    return found


def table(proof: RuleProof) -> dict[str, str]:
    """Return what comes out at the edges of a rule, by what is asked."""
    return {
        row.said(str): "; ".join(f"{edge.reading} {edge.outcome}" for edge in row.edges)
        or row.notes
        for row in proof.rows
    }
