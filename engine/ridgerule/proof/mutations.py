"""Small changes of a rule, and which of them its cases would not notice.

Each figure is moved by one step, each listed value, condition, alternative, row and demand for
evidence left out. A change that no roof can tell from the rule as it is counts for nothing.
"""

from __future__ import annotations

import datetime as dt
from itertools import islice
from typing import TYPE_CHECKING

from msgspec import Struct, structs

from ridgerule.audit.graduations import graduation
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
    Table,
    nodes,
)
from ridgerule.audit.subjects import value_text
from ridgerule.audit.words import condition_words, limit_words
from ridgerule.enclosures import add, compare, multiply
from ridgerule.facts import FactRef
from ridgerule.proof.parts import changed, without
from ridgerule.proof.readings import can_come_to, shifted, written
from ridgerule.proof.telling import some_roof_tells
from ridgerule.proof.unproved import Unproved
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.audit.limits import Operand
    from ridgerule.audit.plan import Case, Check
    from ridgerule.audit.subjects import Evidence
    from ridgerule.facts import Value
    from ridgerule.proof.bench import Bench
    from ridgerule.proof.choices import Choices
    from ridgerule.proof.parts import Part, Way


MOST_TRIED = 1_500
"""Small roofs that are tried in search of one that tells a change."""


class Mutation(Struct, frozen=True):
    """A rule with one small thing changed."""

    words: str
    """What is changed and how: `station.gap is at least 3 1/16 in; were it at least 3 in`."""
    check: Check
    facts: tuple[str, ...] = ()
    """The facts that the change is about."""


def mutations_of(check: Check, parts: Sequence[Part]) -> tuple[Mutation, ...]:
    """Return every small change of a rule's condition, limit and evidence."""
    found: list[Mutation] = []
    for part in parts:
        found += _shifts(check, part)
        found += _shorter_lists(check, part)
    if check.when is not None:
        found += _fewer(check, check.when, check.of, ("when",), "where ")
        if not isinstance(check.when, AllOf):
            words = f"where {condition_words(check.when)}; were it left out"
            named = _named(check.when, check.of)
            found.append(Mutation(words, changed(check, ("when",), None), named))
    found += _fewer(check, check.limit, check.of, ("limit",), "")
    found += _less_evidence(check)
    return tuple(found)


def unnoticed(
    bench: Bench, mutations: Sequence[Mutation], choices: Choices
) -> tuple[Unproved, ...]:
    """Return the changes of a rule that no case of it notices, and some roof would."""
    check = bench.roofs.check
    found = []
    for mutation in mutations:
        if any(bench.outcome(laid, mutation.check) is not laid.outcome for laid in bench.own):
            continue
        example = _telling_case(bench, mutation, choices)
        if example is not None or some_roof_tells(check, mutation.check):
            examples = () if example is None else (example,)
            found.append(Unproved(mutation.words, is_change=True, examples=examples))
    return tuple(found)


def _shifts(check: Check, part: Part) -> Iterator[Mutation]:
    """Yield the rule with each figure and tolerance of a part a step lower and a step higher."""
    for new in _shifted_limits(part):
        asked = limit_words(Not(new) if part.negated else new)
        words = f"{part.words}; were it {asked}"
        yield Mutation(words, changed(check, part.way, new), (part.ref.fact.full_name,))


def _shifted_limits(part: Part) -> Iterator[Limit]:
    limit, ref = part.limit, part.ref
    for steps in (-1, 1):
        match limit:
            case AtLeast(operand) | AtMost(operand) | EqualTo(operand):
                if (moved := _moved(operand, ref, steps)) is not None:
                    yield structs.replace(limit, operand=moved)
            case Between(least, most):
                ends = ((_moved(least, ref, steps), most), (least, _moved(most, ref, steps)))
                for low, high in ends:
                    if low is not None and high is not None and _in_order(low, high):
                        yield Between(low, high)
            case NearestOf(to, values):
                yield from (NearestOf(to, moved) for moved in _moved_one(values, ref, steps))
        if isinstance(limit, EqualTo) and limit.within is not None:
            within = _wider(limit.within, ref, steps)
            if within is not None:
                yield EqualTo(limit.operand, within)


def _in_order(low: Operand, high: Operand) -> bool:
    """Tell whether a figure is not over another; other facts may lie as they will."""
    if isinstance(low, Quantity) and isinstance(high, Quantity):
        return compare(low.amount, high.amount) != 1
    return not (isinstance(low, dt.date) and isinstance(high, dt.date)) or low <= high


def _moved_one(
    values: tuple[Quantity, ...], ref: FactRef, steps: int
) -> Iterator[tuple[Quantity, ...]]:
    for i, value in enumerate(values):
        moved = _moved(value, ref, steps)
        if isinstance(moved, Quantity):
            yield (*values[:i], moved, *values[i + 1 :])


def _moved(operand: Operand, ref: FactRef, steps: int) -> Value | None:
    """Return a figure one step on; None for other facts, words, and where nothing can lie."""
    if isinstance(operand, FactRef) or not isinstance(operand, (Quantity, dt.date)):
        return None
    found = shifted(operand, ref.fact, steps)
    return found if found is not None and can_come_to(found, ref) else None


def _wider(within: Quantity, ref: FactRef, steps: int) -> Quantity | None:
    amount = add(within.amount, multiply(steps, graduation(within, ref.fact)))
    if compare(amount, 0) == -1:
        return None
    return written(amount, within.dimension, like=within.text)


def _shorter_lists(check: Check, part: Part) -> Iterator[Mutation]:
    """Yield the rule without one of the values, or of the facts, that a part lists."""
    match part.limit:
        case OneOf(values) | NoneOf(values) | NearestOf(values=values) if len(values) > 1:
            listed: Sequence[Value | FactRef] = values
            field = "values"
        case AgreedBy(facts):
            listed, field = facts, "facts"
        case _:
            return
    for i, value in enumerate(listed):
        said = str(value) if isinstance(value, FactRef) else value_text(value)
        words = f"{part.words}; were {said} not listed"
        yield Mutation(words, without(check, (*part.way, field, i)), (part.ref.fact.full_name,))


def _fewer(check: Check, node: Limit, ref: FactRef, way: Way, lead: str) -> Iterator[Mutation]:
    """Yield the rule without one of the things that a condition or a limit joins."""
    match node:
        case AllOf(parts) | AnyOf(parts):
            for i, part in enumerate(parts):
                at = (*way, "parts", i)
                if len(parts) > 1:
                    words = f"{lead}{_words(part, ref)}; were it left out"
                    yield Mutation(words, without(check, at), _named(part, ref))
                yield from _fewer(check, part, ref, at, lead)
        case Not(part):
            yield from _fewer(check, part, ref, (*way, "part"), lead)
        case Holds(fact, part):
            yield from _fewer(check, part, fact, (*way, "limit"), lead)
        case Table(by, rows):
            for i, row in enumerate(rows):
                at = (*way, "rows", i)
                keys = ", ".join(map(limit_words, row.keys))
                if len(rows) > 1:
                    named = tuple(fact.fact.full_name for fact in by)
                    yield Mutation(f"row for {keys}; were it left out", without(check, at), named)
                yield from _fewer(check, row.limit, ref, (*at, "limit"), lead)
        case _:
            return


def _words(node: Limit, ref: FactRef) -> str:
    """Return a limit on a fact as a clause, or a condition as it is."""
    if any(isinstance(inner, Holds) for inner in nodes(node)):
        return condition_words(node)
    return f"{ref} is {limit_words(node)}"


def _named(node: Limit, ref: FactRef) -> tuple[str, ...]:
    found = (inner.fact.full_name for inner in nodes(node) if isinstance(inner, FactRef))
    return tuple(dict.fromkeys((*found, ref.fact.full_name)))


def _less_evidence(check: Check) -> Iterator[Mutation]:
    asked = check.evidence
    if asked.how is not None:
        less = structs.replace(asked, how=None)
        yield Mutation("evidence; were any way to know it enough", _with(check, less))
    if asked.photo:
        less = structs.replace(asked, photo=False)
        yield Mutation("photo; were none asked for", _with(check, less))


def _with(check: Check, evidence: Evidence) -> Check:
    return structs.replace(check, evidence=evidence)


def _telling_case(bench: Bench, mutation: Mutation, choices: Choices) -> Case | None:
    """Return a small roof that comes out otherwise by the changed rule; None where none is found.

    Of computed facts none is looked for: no case can give them.
    """
    roofs = bench.roofs
    names = [name for name in mutation.facts if name in choices.kept]
    if roofs.is_computed or not names:
        return None
    for when in (bench.roofs.check.when, mutation.check.when):
        tried = (
            {**others, names[0]: values}
            for others in choices.roofs_without(names[0], when)
            for values in choices.kept[names[0]]
        )
        for readings in map(roofs.settled, islice(tried, MOST_TRIED)):
            due, other = roofs.outcomes(readings, (bench.roofs.check, mutation.check))
            if due is None or other is due:
                continue
            laid = bench.laid(roofs.case(readings, due).given, due)
            if laid is not None and bench.outcome(laid, mutation.check) is not due:
                return bench.lean(laid, mutation.check)
    return None
