"""Each figure of a rule proved at its edges: readings under, on and over it, and what comes out.

The other facts are held where the figure decides: a limit's where the rule applies, a condition's
where the limit is broken, so that it shows when the rule stops applying. What comes out is said
by the engine, and held against the limits compared without it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.proof.edges_computed import computed_edges
from ridgerule.proof.edges_recorded import recorded_edges

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.proof.bench import Bench
    from ridgerule.proof.bounds import Row
    from ridgerule.proof.choices import Choices
    from ridgerule.proof.parts import Part


def edges_of(bench: Bench, parts: Sequence[Part], choices: Choices) -> tuple[Row, ...]:
    """Return what every part of a rule comes to at its edges.

    Raises `EngineDiffers` where the engine says otherwise than the limits compared.
    """
    if bench.roofs.is_computed:
        return tuple(computed_edges(bench, parts, choices))
    return tuple(recorded_edges(bench.roofs, parts, choices))
