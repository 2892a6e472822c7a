"""Which limit governs where several rulebooks limit one fact, in words, places put together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.reports.figures import limit_here

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.audit.together import Relation
    from ridgerule.quantities import Units


class LimitView(Struct, frozen=True):
    """One of several limits on a fact."""

    rule: str
    book: str
    """The rulebook, as `id@edition`, that wrote the limit."""
    limit: str


class TogetherView(Struct, frozen=True):
    """Several limits on one fact, and the places where they lie to each other like this."""

    fact: str
    relation: Relation
    limits: tuple[LimitView, ...]
    """Where one governs, it stands first; where two conflict, these two do."""
    places: tuple[str, ...]
    numbers: tuple[tuple[int, ...], ...]
    """The findings at each place, in the order of the limits."""


def together_views(
    audit: Audit, numbers: Mapping[int, int], units: Units | None
) -> tuple[TogetherView, ...]:
    """Return the limits that an audit found together; `numbers` are the findings', by identity."""
    grouped: dict[tuple[str, Relation, tuple[LimitView, ...]], dict[str, tuple[int, ...]]] = {}
    for together in audit.together:
        limits = tuple(_limit(finding, audit, units) for finding in together.findings)
        places = grouped.setdefault((str(together.of), together.relation, limits), {})
        places[together.place.label] = tuple(numbers[id(f)] for f in together.findings)
    return tuple(
        TogetherView(*key, tuple(places), tuple(places.values())) for key, places in grouped.items()
    )


def _limit(finding: Finding, audit: Audit, units: Units | None) -> LimitView:
    rule = finding.rule
    if rule is None:
        raise TypeError("an open point limits no fact")
    words = limit_here(finding, audit.record, units)
    return LimitView(rule.full_id, rule.fields["limit"].book, words)
