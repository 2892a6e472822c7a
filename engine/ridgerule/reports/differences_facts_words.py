"""What differs of the facts and coverages of two rulebooks, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from msgspec.structs import replace

from ridgerule.audit.coverages import Group, RuleCondition, StatedCondition
from ridgerule.audit.derivations import formula_words
from ridgerule.audit.expressions import Derivation, Interval, Looked, Reckon
from ridgerule.audit.strictness import Strictness
from ridgerule.audit.words import in_units, plain_name
from ridgerule.facts import FactRef
from ridgerule.proof.differences_facts import DECIDING
from ridgerule.proof.differences_forms import form
from ridgerule.quantities import Dimension
from ridgerule.reports.differences_words import limit_told, told

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.coverages import Condition
    from ridgerule.audit.expressions import Expression
    from ridgerule.audit.limits import Operand
    from ridgerule.facts import Fact
    from ridgerule.proof.differences_coverages import CoverageDifference
    from ridgerule.proof.differences_facts import FactDifference
    from ridgerule.reports.differences_words import Told

_LABELS = {
    "dimension": "kind of value",
    "choices": "one of",
    "least": "at the least",
    "greatest": "at the most",
    "per_side": "sides",
    "host": "stations on a",
    "measure": "measured",
    "ask": "ask",
    "tool": "with",
    "formula": "formula",
    "source": "source",
}


def fact_told(found: FactDifference) -> tuple[Told, ...]:
    """Return what differs of a fact that both rulebooks have, field by field."""
    before, after = found.before, found.after
    if before is None or after is None:
        return ()
    fields = [
        told(name, _label(name, after), _said(before, name), _said(after, name))
        for name in _LABELS
        if name in found.fields
    ]
    if "expression" in found.fields:
        fields.extend(_computed(before, after))
    return tuple(
        replace(each, strictness=Strictness.DIFFERENT) if each.field in DECIDING else each
        for each in fields
    )


def _label(name: str, fact: Fact) -> str:
    is_read = isinstance(fact.dimension, Dimension) and fact.derivation is None
    return "is" if name == "measure" and not is_read else _LABELS[name]


def _said(fact: Fact, name: str) -> str:
    match name:
        case "choices":
            return ", ".join(fact.choices)
        case "least" | "greatest":
            bound = fact.least if name == "least" else fact.greatest
            return in_units(bound, None) if bound is not None else ""
        case "per_side":
            return "each side by itself" if fact.per_side else "one for all sides"
        case _:
            return str(getattr(fact, name))


_HOW = "computed"


def _computed(before: Fact, after: Fact) -> Iterator[Told]:
    """Yield how a fact is computed otherwise than it was."""
    old, new = before.derivation, after.derivation
    if isinstance(old, Derivation) and isinstance(new, Derivation):
        yield from _expressions(old.expression, new.expression, _HOW)
    else:
        ways = (
            fact.formula if fact.derivation else "no, it is recorded" for fact in (before, after)
        )
        yield told("expression", _HOW, *ways)


def _expressions(before: Expression, after: Expression, label: str) -> Iterator[Told]:
    """Yield what differs of two expressions, under a label that says which part of them it is."""
    match before, after:
        case Looked(old), Looked(new):
            yield limit_told("expression", f"{label} by a table", old, new)
        case Interval(old_least, old_most), Interval(new_least, new_most):
            ends = (("at the least", old_least, new_least), ("at the most", old_most, new_most))
            for end, was, now in ends:
                if form(was) != form(now):
                    yield from _expressions(was, now, f"{label}, {end}")
        case Reckon(), Reckon() if before.reckoning.name == after.reckoning.name:
            yield from _inputs(before, after)
        case _:
            yield told("expression", label, formula_words(before), formula_words(after))


def _inputs(before: Reckon, after: Reckon) -> Iterator[Told]:
    """Yield the inputs of a computation that are not what they were."""
    was, now = dict(before.inputs), dict(after.inputs)
    for name in dict.fromkeys((*now, *was)):
        if form(was.get(name)) != form(now.get(name)):
            ways = (", ".join(map(_operand, side.get(name, ()))) for side in (was, now))
            yield told("expression", name, *ways)


def _operand(operand: Operand) -> str:
    return plain_name(operand) if isinstance(operand, FactRef) else in_units(operand, None)


_COVERAGE_LABELS = {
    "title": "title",
    "evidence": "evidence",
    "isolated_allowed": "isolated faults that do not decide",
}


def coverage_told(found: CoverageDifference) -> tuple[Told, ...]:
    """Return what differs of a coverage that both rulebooks have."""
    if found.before is None or found.after is None:
        return ()
    was, now = found.before.coverage, found.after.coverage
    fields = [
        told(name, label, str(getattr(was, name)), str(getattr(now, name)))
        for name, label in _COVERAGE_LABELS.items()
        if name in found.fields
    ]
    gone, added = (
        "; ".join(condition_words(part) for part in parts) for parts in (found.gone, found.added)
    )
    if added:
        fields.append(told("conditions", "now depends on", "", added))
    if gone:
        fields.append(told("conditions", "no longer depends on", "", gone))
    return tuple(fields)


def condition_words(condition: Condition) -> str:
    """Return what a coverage depends on, in words."""
    match condition:
        case RuleCondition(check):
            return f"{check.rule.full_id} ({check.rule.text('title')})"
        case StatedCondition(title):
            return title
        case Group(parts, any_will_do):
            joined = "; ".join(map(condition_words, parts))
            return f"{'any' if any_will_do else 'all'} of: {joined}"
        case _:
            assert_never(condition)
