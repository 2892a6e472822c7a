"""Is a changed rule stricter or looser: for no roof does its outcome get better, or for some.

Compared is what decides: where the rule applies, its limit, class, evidence and stations. Better
is from fail to anything else, and from not verified to pass or not applicable.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.comparing import condition_holds, fact_meets
from ridgerule.audit.limits import AllOf, AtLeast, AtMost, Between, EqualTo, Holds, Limit, nodes
from ridgerule.audit.regions import TooMany, situations
from ridgerule.enclosures import Amount, compare
from ridgerule.facts import Element, Host
from ridgerule.quantities import Quantity
from ridgerule.rulebook import Severity

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridgerule.audit.plan import Check, Stations
    from ridgerule.audit.subjects import Evidence
    from ridgerule.audit.truth import Truth
    from ridgerule.facts import FactRef


class Strictness(StrEnum):
    """What a change does to outcomes."""

    WORDING = "wording only"
    """No outcome changes."""
    STRICTER = "stricter"
    """Outcomes get worse for some roofs and better for none."""
    LOOSER = "looser"
    """Outcomes get better for some roofs and worse for none."""
    DIFFERENT = "different in kind"
    """Better for some and worse for others, or no one can tell."""

    @property
    def may_loosen(self) -> bool:
        """Whether some roof's outcome may get better, so that someone has to permit it."""
        return self in (Strictness.LOOSER, Strictness.DIFFERENT)


class Part(Struct, frozen=True):
    """One field of a rule that was changed, and what the change does."""

    field: str
    strictness: Strictness


class Overlap(Struct, frozen=True):
    """How the values that two limits accept lie to each other."""

    both: bool
    """Some value meets both."""
    only_first: bool
    only_second: bool

    @property
    def first_governs(self) -> bool:
        """Whether all that meets the first meets the second, and more meets the second."""
        return self.only_second and not self.only_first

    @property
    def is_conflict(self) -> bool:
        """Whether no value meets both."""
        return not self.both


_SEVERITIES = tuple(Severity)


def changed_parts(before: Check, after: Check) -> tuple[Part, ...]:
    """Return what changed of that which decides, part by part; none where nothing did."""
    judged = (
        ("scope", _where(before.scope, after.scope, Element.ROOF)),
        ("when", _where(before.when, after.when, after.at)),
        ("limit", _limits(before, after)),
        ("class", _order(*(-_SEVERITIES.index(check.rule.severity) for check in (before, after)))),
        ("evidence", _evidence(before.evidence, after.evidence)),
        ("stations", _stations(before.stations, after.stations)),
        ("decision rule", _decided(before, after)),
    )
    return tuple(Part(name, found) for name, found in judged if found is not Strictness.WORDING)


def strictness(parts: Iterable[Part]) -> Strictness:
    """Return what changes of several parts come to."""
    return _together(part.strictness for part in parts)


def compared(before: Check, after: Check) -> Strictness:
    """Return whether a rule as changed is stricter or looser than it was."""
    return strictness(changed_parts(before, after))


def overlap(first: Check, second: Check) -> Overlap | None:
    """Return how two limits on one fact lie to each other, where both rules apply.

    None where they never apply together, or where no one can tell.
    """
    if not may_meet(first, second):
        return None
    applies = _joined([first.scope, first.when, second.scope, second.when])
    asked = [(first.of, first.limit), (second.of, second.limit), *_asked(applies)]
    try:
        found = [
            (fact_meets(first.of, first.limit, here), fact_meets(second.of, second.limit, here))
            for here in situations(asked, of=first.of, at=first.at)
            if condition_holds(applies, here)
        ]
    except TooMany:
        return None
    return _overlap(found) if found else None


Reach = tuple[Amount | None, Amount | None]
"""From where to where a limit is met, both included; None is without end."""


def reach_of(check: Check) -> Reach | None:
    """Return the range in which a rule's limit is met, wherever it applies; None where it has none.

    Most limits are a range, and two ranges are told apart in no time.
    """
    asked = (*_asked(check.scope), *_asked(check.when))
    if any(ref.fact == check.of.fact for ref, _ in asked):
        return None
    match check.limit:
        case AtLeast(Quantity() as least):
            return least.amount, None
        case AtMost(Quantity() as most):
            return None, most.amount
        case Between(Quantity() as least, Quantity() as most):
            return least.amount, most.amount
        case EqualTo(Quantity() as figure, None):
            return figure.amount, figure.amount
        case _:
            return None


def may_meet(first: Check, second: Check) -> bool:
    """Tell whether two rules judge one fact, and can surely be told to do so at one place.

    Where they apply by different computed facts no one can tell whether both ever hold.
    """
    if first.of != second.of or first.at is not second.at:
        return False
    if {first.host, second.host} == {Host.LINE, Host.PLANE}:
        return False
    if first.when == second.when:
        return True
    refs = [ref for check in (first, second) for ref, _ in _asked(check.when)]
    facts = {ref.fact for ref in refs}
    return len(facts) < 2 or not any(fact.derivation is not None for fact in facts)


def limits_overlap(of: FactRef, first: Limit, second: Limit) -> Overlap | None:
    """Return how two limits on one fact lie to each other; None where no one can tell."""
    try:
        found = [
            (fact_meets(of, first, here), fact_meets(of, second, here))
            for here in situations([(of, first), (of, second)])
        ]
    except TooMany:
        return None
    return _overlap(found)


def can_apply(check: Check) -> bool:
    """Tell whether some roof has a place that the rule applies to; yes where no one can tell."""
    applies = _joined([check.scope, check.when])
    try:
        return any(
            condition_holds(applies, here) for here in situations(_asked(applies), at=check.at)
        )
    except TooMany:
        return True


def can_be(check: Check, truth: Truth) -> bool:
    """Tell whether the limit can come out so where the rule applies; yes where no one can tell."""
    applies = _joined([check.scope, check.when])
    asked = [(check.of, check.limit), *_asked(applies)]
    try:
        return any(
            fact_meets(check.of, check.limit, here) is truth
            for here in situations(asked, of=check.of, at=check.at)
            if condition_holds(applies, here)
        )
    except TooMany:
        return True


def _overlap(found: list[tuple[Truth, Truth]]) -> Overlap | None:
    if any(None in pair for pair in found):
        return None
    pairs = set(found)
    return Overlap((True, True) in pairs, (True, False) in pairs, (False, True) in pairs)


def _joined(conditions: Iterable[Limit | None]) -> Limit:
    return AllOf(tuple(part for part in conditions if part is not None))


def _asked(condition: Limit | None) -> list[tuple[FactRef, Limit]]:
    """Return the facts that a condition asks, each with its limit."""
    found = nodes(condition) if condition is not None else ()
    return [(node.fact, node.limit) for node in found if isinstance(node, Holds)]


def _where(before: Limit | None, after: Limit | None, at: Element) -> Strictness:
    """Return what a change of where a rule applies does: narrower is looser."""
    if before == after:
        return Strictness.WORDING
    try:
        found = {
            (condition_holds(before, here), condition_holds(after, here))
            for here in situations([*_asked(before), *_asked(after)], at=at)
        }
    except TooMany:
        return Strictness.DIFFERENT
    return _sum(better=bool(found & _BETTER), worse=bool(found & _WORSE))


# Whether a rule applies, before and after. Where it does it can pass or fail, where it does not
# neither; where nobody can tell it is not verified: better than a failure and worse than a pass.
_BETTER: set[tuple[Truth, Truth]] = {(True, False), (True, None), (None, False), (None, True)}
_WORSE: set[tuple[Truth, Truth]] = {(False, True), (False, None), (None, True), (True, None)}
_MEETS: dict[Truth, int] = {False: 0, None: 1, True: 2}


def _limits(before: Check, after: Check) -> Strictness:
    """Return what a change of limit does wherever the rule applied and still applies.

    Where it does only one of both, that says it all, and is told of the conditions.
    """
    if before.limit == after.limit:
        return Strictness.WORDING
    asked = [(after.of, before.limit), (after.of, after.limit)]
    applies = _joined([before.scope, before.when, after.scope, after.when])
    found = _met(before, after, [*asked, *_asked(applies)], applies)
    # With every condition too many kinds of roof may be told apart; then the limits alone.
    return found if found is not Strictness.DIFFERENT else _met(before, after, asked, None)


def _met(
    before: Check, after: Check, asked: list[tuple[FactRef, Limit]], applies: Limit | None
) -> Strictness:
    """Return what a change of limit does on every kind of roof where a condition holds."""
    better = worse = False
    try:
        for here in situations(asked, of=after.of, at=after.at):
            if condition_holds(applies, here):
                first = _MEETS[fact_meets(after.of, before.limit, here)]
                second = _MEETS[fact_meets(after.of, after.limit, here)]
                better = better or second > first
                worse = worse or second < first
    except TooMany:
        return Strictness.DIFFERENT
    return _sum(better=better, worse=worse)


def _sum(*, better: bool, worse: bool) -> Strictness:
    if better:
        return Strictness.DIFFERENT if worse else Strictness.LOOSER
    return Strictness.STRICTER if worse else Strictness.WORDING


def _together(parts: Iterable[Strictness]) -> Strictness:
    found = set(parts)
    different = Strictness.DIFFERENT in found
    return _sum(
        better=different or Strictness.LOOSER in found,
        worse=different or Strictness.STRICTER in found,
    )


def _order(before: int, after: int) -> Strictness:
    return _sum(better=after < before, worse=after > before)


def _decided(before: Check, after: Check) -> Strictness:
    """Return what a change of decision rule does: near a limit, passes and failures turn open."""
    same = before.decision is after.decision
    return Strictness.WORDING if same else Strictness.DIFFERENT


def _evidence(before: Evidence, after: Evidence) -> Strictness:
    photo = _order(int(before.photo), int(after.photo))
    if before.how == after.how:
        return photo
    first, second = before.how, after.how
    accepts_more = second is None or (first is not None and bool(second - first))
    accepts_less = first is None or (second is not None and bool(first - second))
    return _together([photo, _sum(better=accepts_more, worse=accepts_less)])


def _stations(before: Stations | None, after: Stations | None) -> Strictness:
    if before is None or after is None:
        return _order(int(before is not None), int(after is not None))
    least = _order(before.at_least, after.at_least)
    if before.one_per is None or after.one_per is None:
        dense = _order(int(before.one_per is not None), int(after.one_per is not None))
        return _together([least, dense])
    order = compare(after.one_per.amount, before.one_per.amount)
    if order is None:
        return Strictness.DIFFERENT
    return _together([least, _sum(better=order > 0, worse=order < 0)])
