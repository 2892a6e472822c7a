"""Several rulebooks that limit one fact at one place: which limit governs, or that none can be met.

A limit governs another if all that meets it meets the other. That softens no outcome: each
rulebook keeps its own. Limits that no value can meet together are an open point of the roof.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction
from itertools import combinations
from typing import TYPE_CHECKING, assert_never

from msgspec import Struct

from ridgerule.audit.findings import CONFLICT, Finding, Outcome
from ridgerule.audit.judge import Setting, holds, nearest_values, operand_subject, picked_row
from ridgerule.audit.limits import (
    AgreedBy,
    AllOf,
    AnyOf,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    Holds,
    Limit,
    NearestOf,
    NoneOf,
    Not,
    OneOf,
    Stated,
    Table,
)
from ridgerule.audit.truth import Missing
from ridgerule.enclosures import Amount, add, compare, high, low, subtract
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.audit.limits import Operand
    from ridgerule.facts import FactRef
    from ridgerule.record import Place, Record


class Relation(StrEnum):
    """How several limits on one fact lie to each other."""

    GOVERNS = "governs"
    """The first is met by a part of what meets each of the others, or by the same."""
    SIDE_BY_SIDE = "side by side"
    """Neither is stricter all along, and all can be met together."""
    CONFLICT = "conflict"
    """Two of them can't both be met."""


class Together(Struct, frozen=True):
    """The findings of several rulebooks on one fact at one place."""

    place: Place
    of: FactRef
    relation: Relation
    findings: tuple[Finding, ...]
    """Where one governs, it stands first; where two conflict, these two do."""


_Bounds = tuple[Amount | None, Amount | None]
"""The least and the greatest value that meet a limit, both included; None is without end."""
_Lie = tuple[bool, bool, bool]
"""Whether some value meets both limits, only the first, only the second."""
_MOST_COMPARED = 40
"""So many limits at one place are all held against each other; more of them only in part."""
_Known = dict[tuple[str, Limit, Limit], _Lie | None]


def limits_together(findings: Iterable[Finding], record: Record) -> tuple[Together, ...]:
    """Return the places where several rulebooks limit one fact and differ, in findings' order."""
    known: _Known = {}
    found = []
    for group in _groups(findings):
        applying = [finding for finding in group if _applies(finding, record)]
        together = _together(applying, record, known) if len(applying) > 1 else None
        if together is not None:
            found.append(together)
    return tuple(found)


def conflicts(found: Iterable[Together]) -> Iterator[Finding]:
    """Yield an open point of the roof for each place where two limits can't both be met.

    It counts in no rulebook: each can be met by itself.
    """
    for together in found:
        if together.relation is Relation.CONFLICT:
            one, other = together.findings[:2]
            place = together.place
            said = " and ".join(f"{finding.limit} ({_named(finding)})" for finding in (one, other))
            reason = f"no {together.of.fact.name.replace('_', ' ')} meets both {said}"
            asked = f"{reason}; ask the authorities which of them governs"
            yield Finding(
                check=None,
                rule=None,
                place=place,
                outcome=Outcome.NOT_VERIFIED,
                reason=asked,
                missing=(Missing(place.label, None, asked, place.path),),
                about=CONFLICT,
            )


def _named(finding: Finding) -> str:
    """Return a rule with the rulebook whose limit it is."""
    rule = finding.rule
    if rule is None:
        raise TypeError("an open point has no rule")
    book = rule.fields["limit"].book
    return rule.full_id if book == rule.book else f"{rule.full_id} as {book} has it"


def _groups(findings: Iterable[Finding]) -> Iterator[list[Finding]]:
    """Yield the findings that judge one fact at one place, where there are several."""
    grouped: dict[tuple[object, FactRef], list[Finding]] = {}
    for finding in findings:
        if finding.check is not None and finding.outcome is not Outcome.NOT_APPLICABLE:
            key = (finding.place.path, finding.check.of)
            grouped.setdefault(key, []).append(finding)
    for group in grouped.values():
        if len(group) > 1:
            yield group


def _applies(finding: Finding, record: Record) -> bool:
    """Tell whether a rule was judged at its place, and not only asked whether it applies."""
    check = finding.check
    if check is None or finding.place.element is not check.at:
        return False
    if finding.outcome in (Outcome.PASS, Outcome.FAIL):
        return True
    return check.when is None or holds(Setting(record, finding.place), check.when).truth is True


def _together(
    group: Sequence[Finding],
    record: Record,
    known: _Known,
) -> Together | None:
    """Return how a place's limits lie to each other.

    None where all of them say the same, and where one rulebook gave them all and they can be met.
    """
    here: list[tuple[Finding, Limit | None]] = []
    for finding in group:
        if finding.check is not None:
            setting = Setting(record, finding.place, finding.check.evidence)
            here.append((finding, _resolved(setting, finding.check.limit)))
    of = group[0].check.of if group[0].check else None
    if of is None:
        return None
    here = _apart(here)
    rests = {
        (i, j): _lie(of, here[i][1], here[j][1], known)
        for i, j in combinations(range(len(here)), 2)
    }
    if all(rest == (True, False, False) for rest in rests.values()):
        return None
    place = group[0].place
    for (i, j), rest in rests.items():
        if rest is not None and not rest[0]:
            besides = (f for n, (f, _) in enumerate(here) if n not in (i, j))
            return Together(place, of, Relation.CONFLICT, (here[i][0], here[j][0], *besides))
    if len({finding.rule.fields["limit"].book for finding in group if finding.rule}) == 1:
        return None
    count = len(here)
    under = [sum(_is_under(j, i, rests) for j in range(count) if j != i) for i in range(count)]
    ordered = [here[i][0] for i in sorted(range(count), key=lambda i: -under[i])]
    governs = max(under) == count - 1
    relation = Relation.GOVERNS if governs else Relation.SIDE_BY_SIDE
    return Together(place, of, relation, tuple(ordered))


def _apart(
    here: Sequence[tuple[Finding, Limit | None]],
) -> list[tuple[Finding, Limit | None]]:
    """Return the findings whose limits are to be held against each other, each with its limit.

    Of very many, those with the tightest ends: they tell of any conflict, and which governs.
    """
    if len(here) <= _MOST_COMPARED:
        return list(here)
    ranges = [(pair, _bounds(pair[1])) for pair in here if pair[1] is not None]
    ends = [(pair, least, most) for pair, found in ranges if found for least, most in (found,)]
    lowest = [(pair, low(least)) for pair, least, _ in ends if least is not None]
    highest = [(pair, high(most)) for pair, _, most in ends if most is not None]
    tightest = [
        *sorted(lowest, key=lambda pair: -Fraction(pair[1] or 0))[:1],
        *sorted(highest, key=lambda pair: Fraction(pair[1] or 0))[:1],
    ]
    kept = {id(pair[0]) for pair, _ in tightest} | {id(f) for f, _ in here[:_MOST_COMPARED]}
    return [pair for pair in here if id(pair[0]) in kept]


def _is_under(other: int, first: int, rests: dict[tuple[int, int], _Lie | None]) -> bool:
    """Tell whether all that meets the first limit meets the other."""
    rest = rests[min(first, other), max(first, other)]
    return rest is not None and not rest[1 if first < other else 2]


def _lie(
    of: FactRef,
    first: Limit | None,
    second: Limit | None,
    known: _Known,
) -> _Lie | None:
    """Return whether some value meets both, only the first, only the second; None if unknown."""
    if first is None or second is None:
        return None
    key = (str(of), first, second)
    if key not in known:
        known[key] = _compared(of, first, second)
    return known[key]


def _compared(of: FactRef, first: Limit, second: Limit) -> _Lie | None:
    ours, theirs = _bounds(first), _bounds(second)
    if ours is not None and theirs is not None:
        quick = _ranges(ours, theirs)
        if quick is not None:
            return quick
    from ridgerule.audit.strictness import limits_overlap  # noqa: PLC0415 - few limits need it

    found = limits_overlap(of, first, second)
    return None if found is None else (found.both, found.only_first, found.only_second)


def _ranges(ours: _Bounds, theirs: _Bounds) -> _Lie | None:
    """Return how two ranges lie to each other; None where their ends can't be ordered."""
    bottom, top = _order(ours[0], theirs[0], least=True), _order(ours[1], theirs[1], least=False)
    apart = [
        None if least is None or most is None else compare(least, most)
        for least, most in ((ours[0], theirs[1]), (theirs[0], ours[1]))
    ]
    if bottom is None or top is None or _unordered(ours, theirs, apart):
        return None
    both = 1 not in apart
    return both, bottom < 0 or top > 0 or not both, bottom > 0 or top < 0 or not both


def _unordered(ours: _Bounds, theirs: _Bounds, apart: list[int | None]) -> bool:
    pairs = ((ours[0], theirs[1]), (theirs[0], ours[1]))
    return any(
        least is not None and most is not None and order is None
        for (least, most), order in zip(pairs, apart, strict=True)
    )


def _order(a: Amount | None, b: Amount | None, *, least: bool) -> int | None:
    """Compare two ends, of which None lies without end below or above."""
    if a is None or b is None:
        outside = -1 if least else 1
        return 0 if a is b else (outside if a is None else -outside)
    return compare(a, b)


def _bounds(limit: Limit) -> _Bounds | None:
    """Return the range that a limit is, None where it is none."""
    match limit:
        case AtLeast(Quantity() as figure):
            return figure.amount, None
        case AtMost(Quantity() as figure):
            return None, figure.amount
        case Between(Quantity() as least, Quantity() as most):
            return least.amount, most.amount
        case EqualTo(Quantity() as figure, None):
            return figure.amount, figure.amount
        case EqualTo(Quantity() as figure, Quantity() as within):
            return subtract(figure.amount, within.amount), add(figure.amount, within.amount)
        case _:
            return None


def _resolved(setting: Setting, limit: Limit) -> Limit | None:  # noqa: C901, PLR0911 - a closed list
    """Return a limit with every other fact's value in place; None where one is unknown."""
    match limit:
        case OneOf() | NoneOf() | Stated():
            return limit
        case AtLeast(operand):
            value = _figure(setting, operand)
            return None if value is None else AtLeast(value)
        case AtMost(operand):
            value = _figure(setting, operand)
            return None if value is None else AtMost(value)
        case EqualTo(operand, within):
            value = _figure(setting, operand)
            return None if value is None else EqualTo(value, within)
        case Between(least, most):
            bottom, top = _figure(setting, least), _figure(setting, most)
            return None if bottom is None or top is None else Between(bottom, top)
        case NearestOf(to, values):
            near = _figure(setting, to)
            nearest = nearest_values(near, values) if isinstance(near, Quantity) else ()
            return EqualTo(nearest[0]) if len(nearest) == 1 else None
        case AgreedBy(facts):
            said = [_figure(setting, fact) for fact in facts]
            alike = said[0] is not None and all(value == said[0] for value in said)
            return EqualTo(said[0]) if alike and said[0] is not None else None
        case Table():
            row, _ = picked_row(setting, limit)
            return None if row is None else _resolved(setting, row.limit)
        case Holds():
            truth = holds(Setting(setting.record, setting.place), limit).truth
            return None if truth is None else AllOf(()) if truth else AnyOf(())
        case Not(part):
            inner = _resolved(setting, part)
            return None if inner is None else Not(inner)
        case AllOf(parts) | AnyOf(parts):
            inside = [_resolved(setting, part) for part in parts]
            kept = tuple(part for part in inside if part is not None)
            return None if len(kept) < len(parts) else type(limit)(kept)
        case _:
            assert_never(limit)


def _figure(setting: Setting, operand: Operand) -> Operand | None:
    """Return what an operand comes to at the place, None where that is unknown."""
    subject = operand_subject(setting, operand)
    return None if subject.missing else subject.value
