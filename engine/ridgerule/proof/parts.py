"""The parts of a rule: each one thing that its limit or its condition asks, and where it stands.

A part can be changed in its place, or forced to hold or not, which gives the rule as it would be
without it: what no case then notices, no case shows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.audit.findings import Outcome
from ridgerule.audit.limits import AllOf, AnyOf, Holds, Limit, Not, Row, Table
from ridgerule.audit.words import limit_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.plan import Check
    from ridgerule.audit.words import Named
    from ridgerule.facts import FactRef

Way = tuple[str | int, ...]
"""From a rule's check to a node of it: fields' names, and places in lists of parts."""

ALWAYS: Limit = AllOf(())
NEVER: Limit = AnyOf(())


class Part(Struct, frozen=True):
    """One limit on one fact, with no other limit in it."""

    way: Way
    ref: FactRef
    limit: Limit
    negated: bool = False
    """Whether a `not` stands right before it."""
    picks_row: bool = False
    """Whether it is a table's key, and picks the row in which the limit stands."""
    row: tuple[str, ...] = ()
    """The keys, in words, of the table's row that it stands in."""

    @property
    def is_condition(self) -> bool:
        """Whether it is of the rule's `when`, and says where the rule applies."""
        return self.way[0] == "when"

    @property
    def words(self) -> str:
        """What it asks: `station.gap is at least 3 1/16 in`, `where line.kind is hip`."""
        return self.said(str)

    def said(self, name: Named) -> str:
        """Return what it asks, its facts as `name` words them."""
        lead = "where " if self.is_condition else "row where " if self.picks_row else ""
        asked = limit_words(Not(self.limit) if self.negated else self.limit, name=name)
        rows = f" (row for {', '.join(self.row)})" if self.row else ""
        return f"{lead}{name(self.ref)} is {asked}{rows}"


def parts_of(check: Check) -> tuple[Part, ...]:
    """Return the parts of a rule's condition and of its limit, in the order that they stand in."""
    found: list[Part] = []
    if check.when is not None:
        found += _parts(check.when, check.of, Part(("when",), check.of, check.when))
    return (*found, *_parts(check.limit, check.of, Part(("limit",), check.of, check.limit)))


def _parts(limit: Limit, ref: FactRef, at: Part) -> Iterator[Part]:
    """Yield the parts of a limit on a fact; `at` says where it stands."""
    match limit:
        case AllOf(parts) | AnyOf(parts):
            for i, part in enumerate(parts):
                inside = replace(at, way=(*at.way, "parts", i), negated=False)
                yield from _parts(part, ref, inside)
        case Not(part):
            yield from _parts(part, ref, replace(at, way=(*at.way, "part"), negated=not at.negated))
        case Holds(fact, part):
            yield from _parts(part, fact, replace(at, way=(*at.way, "limit")))
        case Table(by, rows):
            for i, row in enumerate(rows):
                yield from _row_parts(row, by, ref, replace(at, way=(*at.way, "rows", i)))
        case _:
            yield replace(at, ref=ref, limit=limit)


def _row_parts(row: Row, by: tuple[FactRef, ...], ref: FactRef, at: Part) -> Iterator[Part]:
    for i, (fact, key) in enumerate(zip(by, row.keys, strict=True)):
        inside = replace(at, way=(*at.way, "keys", i), negated=False, picks_row=True)
        yield from _parts(key, fact, inside)
    keys = tuple(map(limit_words, row.keys))
    inside = replace(at, way=(*at.way, "limit"), negated=False, row=(*at.row, *keys))
    yield from _parts(row.limit, ref, inside)


def changed(check: Check, way: Way, new: Limit | None) -> Check:
    """Return a rule with another limit in a place of its own; None takes a condition away."""
    return cast("Check", _changed(check, way, new))


def forced(check: Check, part: Part, *, holds: bool) -> Check:
    """Return a rule as it would be if one part of it always held, or never."""
    return changed(check, part.way, ALWAYS if holds else NEVER)


def decides(part: Part, came: Outcome, otherwise: Outcome | None) -> bool:
    """Tell whether a part decides what came out, by what comes out with the part turned round."""
    if otherwise in (came, None):
        return False
    if came in _JUDGED:
        return not part.is_condition or otherwise is Outcome.NOT_APPLICABLE
    return part.is_condition and came is Outcome.NOT_APPLICABLE


_JUDGED = (Outcome.PASS, Outcome.FAIL)


def without(check: Check, way: Way) -> Check:
    """Return a rule without one entry of a list of parts, rows or values."""
    *outer, last = way
    at = _at(check, tuple(outer))
    if not isinstance(at, tuple) or not isinstance(last, int):
        raise TypeError(f"no entry of a list: {way!r}")
    return cast("Check", _changed(check, tuple(outer), (*at[:last], *at[last + 1 :])))


def _at(node: object, way: Way) -> object:
    for step in way:
        if isinstance(step, int):
            node = cast("tuple[object, ...]", node)[step]
        else:
            node = getattr(node, step)
    return node


def _changed(node: object, way: Way, new: object) -> object:
    if not way:
        return new
    step, rest = way[0], way[1:]
    if isinstance(step, int):
        items = cast("tuple[object, ...]", node)
        return (*items[:step], _changed(items[step], rest, new), *items[step + 1 :])
    inner: dict[str, Any] = {step: _changed(getattr(node, step), rest, new)}
    return replace(cast("Struct", node), **inner)
