"""Which kinds of line a rule's conditions leave room for, before any record is seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.limits import AllOf, AnyOf, EqualTo, Holds, Limit, NoneOf, Not, OneOf
from ridgerule.audit.truth import Truth, invert
from ridgerule.facts import Element, Fact, FactRef, Host, LineKind, Over

if TYPE_CHECKING:
    from ridgerule.audit.grammar import Asked


def line_kinds(when: Limit | None, asked: Asked) -> frozenset[LineKind]:
    """Return the kinds of line that the condition leaves room for, all else being unknown."""
    on_line = asked.element is Element.STATION and asked.host is not Host.PLANE
    if asked.element is not Element.LINE and not on_line:
        return frozenset()
    return frozenset(
        kind for kind in LineKind if when is None or _for_kind(when, kind) is not False
    )


def _for_kind(node: Limit, kind: LineKind) -> Truth:
    """Return whether a condition holds for a kind of line of which nothing else is known."""
    match node:
        case Holds(FactRef(Fact(element=Element.LINE, name="kind"), over), limit) if (
            over is not Over.COUNT
        ):
            return _kind_meets(limit, kind)
        case AllOf(parts):
            return _kleene([_for_kind(part, kind) for part in parts], decisive=False)
        case AnyOf(parts):
            return _kleene([_for_kind(part, kind) for part in parts], decisive=True)
        case Not(part):
            return invert(_for_kind(part, kind))
        case _:
            return None


def _kind_meets(  # noqa: PLR0911 - one branch a kind of limit, a closed list
    limit: Limit, kind: LineKind
) -> Truth:
    match limit:
        case EqualTo(str() as word):
            return word == kind
        case OneOf(values):
            return kind in values
        case NoneOf(values):
            return kind not in values
        case AllOf(parts):
            return _kleene([_kind_meets(part, kind) for part in parts], decisive=False)
        case AnyOf(parts):
            return _kleene([_kind_meets(part, kind) for part in parts], decisive=True)
        case Not(part):
            return invert(_kind_meets(part, kind))
        case _:
            return None


def _kleene(truths: list[Truth], *, decisive: bool) -> Truth:
    if decisive in truths:
        return decisive
    return None if None in truths else not decisive
