"""What an answer rests on: the facts a rule reads, from the place it is asked at.

The outcome of a rule at a place depends on nothing but the readings found along its `Needs`; so a
combination of them that was answered once need not be asked again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.expressions import Derivation
from ridgerule.audit.judge import judge
from ridgerule.audit.limits import AllOf, AnyOf, Holds, Limit, nodes
from ridgerule.audit.subjects import Subject
from ridgerule.facts import Element, Fact, FactRef, LineKind, Over
from ridgerule.quantities import Dimension

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from typing import Any

PHOTO = "photo"
"""Stands among a place's own facts where it matters whether a photo shows the place."""

HOPS = frozenset(
    {
        (Element.PLANE, Element.STATION),
        (Element.LINE, Element.PLANE),
        (Element.LINE, Element.STATION),
        (Element.STATION, Element.PLANE),
        (Element.STATION, Element.LINE),
        (Element.JOINT, Element.LINE),
        (Element.OPENING, Element.PLANE),
        (Element.WALL, Element.PLANE),
        (Element.ATTIC, Element.PLANE),
        (Element.ATTIC, Element.LINE),
        (Element.DELIVERY, Element.LINE),
    }
)
"""From where to which other places readings are gathered; the roof is seen from everywhere."""


class Unfollowed(Exception):  # noqa: N818 - says what happened; caught where a rule is sorted
    """A rule reads what is not gathered here: it is left to the ordinary evaluator."""


class Needs(Struct):
    """The facts read at a place, and those read at the places it sees."""

    own: set[str] = set()
    hops: dict[Element, Needs] = {}
    order_matters: bool = False
    """Must many places be taken in their order, or does it do to know which readings there are."""
    wide: bool = False
    """Is there a quantity among the facts, which can take many values."""

    def add(self, other: Needs) -> None:
        """Take over what another answer needs as well."""
        self.own |= other.own
        self.order_matters |= other.order_matters
        for element, needs in other.hops.items():
            self.hops.setdefault(element, Needs()).add(needs)

    def signature(self, path: tuple[str, ...] = ()) -> frozenset[tuple[str, ...]]:
        """Return every fact needed with the way to it."""
        found = {(*path, name) for name in self.own}
        for element, needs in self.hops.items():
            found |= needs.signature((*path, element.value))
        return frozenset(found)


def needs_of(element: Element, parts: Iterable[object]) -> Needs:
    """Return what the facts named in limits and conditions rest on, asked at an element.

    Raises `Unfollowed` where that is not gathered.
    """
    needs = Needs()
    for ref in _references(parts):
        _follow(needs, element, ref)
    _refuse_return(needs, element)
    return needs


def _refuse_return(needs: Needs, element: Element, *, on_station: bool = False) -> None:
    """Refuse what leads from a station over its host to stations again."""
    if element is Element.STATION and on_station:
        raise Unfollowed
    for there, inner in needs.hops.items():
        _refuse_return(inner, there, on_station=on_station or element is Element.STATION)


def _references(parts: Iterable[object]) -> Iterator[FactRef]:
    for part in parts:
        if part is not None:
            yield from (node for node in nodes(part) if isinstance(node, FactRef))


def _follow(needs: Needs, element: Element, ref: FactRef) -> None:
    fact = ref.fact
    if fact.element is element:
        _own(needs, element, fact)
        return
    if fact.element is not Element.ROOF and (element, fact.element) not in HOPS:
        raise Unfollowed
    there = needs.hops.setdefault(fact.element, Needs())
    exact = fact.derivation is None and fact.dimension in (Dimension.LENGTH, Dimension.COUNT)
    if not exact or ref.over in (None, Over.COUNT, Over.MEAN) or fact.per_side:
        there.order_matters = True
    _own(there, fact.element, fact)


def _own(needs: Needs, element: Element, fact: Fact) -> None:
    if element is Element.STATION:
        needs.own.add("only")
    if fact.derivation is None:
        needs.own.add(fact.name)
        return
    if not isinstance(fact.derivation, Derivation):
        raise Unfollowed
    for ref in _references((fact.derivation.expression,)):
        _follow(needs, element, ref)


def is_never(condition: Limit | None, kind: LineKind) -> bool:
    """Tell whether a condition is false of every line of a kind, whatever else is known of it."""
    return condition is not None and _of_kind(condition, kind) is False


def _of_kind(condition: Limit, kind: LineKind) -> bool | None:
    match condition:
        case Holds(fact, limit) if fact.fact.full_name == "line.kind" and fact.over is None:
            if any(isinstance(node, FactRef) for node in nodes(limit)):
                return None
            setting: Any = None  # a limit that names no fact asks nothing of the place
            return judge(setting, limit, Subject(str(kind))).truth
        case AllOf(parts):
            return False if False in [_of_kind(part, kind) for part in parts] else None
        case AnyOf(parts) if parts:
            found = {_of_kind(part, kind) for part in parts}
            return False if found == {False} else None
        case _:
            return None
