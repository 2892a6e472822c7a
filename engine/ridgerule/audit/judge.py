"""Ask a limit of a value, or a condition of a place: true, false or unknown, and why."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import TYPE_CHECKING, assert_never

from msgspec import Struct

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
    Operand,
    Row,
    Stated,
    Table,
)
from ridgerule.audit.subjects import ANYTHING, Evidence, Subject, Subjects, subjects, value_text
from ridgerule.audit.truth import Judgement, Missing, Truth, Used, every, invert, negation, some
from ridgerule.enclosures import Amount, Span, absolute, compare, subtract
from ridgerule.facts import FactRef, Over
from ridgerule.quantities import Dimension, Quantity
from ridgerule.trade.certainty import is_at_most

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.record import Place, Record

DISAGREE = "they disagree"
"""How the reason begins where several ways to know a value give different ones."""
TOO_CLOSE = "too close to the limit to compute"
_FINEST = 1 << 64
"""An enclosure of one irrational number is narrower than this part of its size."""


class Setting(Struct, frozen=True):
    """The record and the place a rule is asked at."""

    record: Record
    place: Place
    evidence: Evidence = ANYTHING
    """What a limit asks of other facts of the place that it is met by."""


def judge_fact(
    setting: Setting, ref: FactRef, limit: Limit, *, evidence: Evidence = ANYTHING
) -> Judgement:
    """Return whether the fact meets the limit at the setting's place."""
    found = subjects(setting.record, setting.place, ref, evidence=evidence)
    return judge_subjects(setting, found, limit)


def judge_subjects(setting: Setting, found: Subjects, limit: Limit) -> Judgement:
    """Return whether subjects already looked up meet the limit."""
    judged = [judge(setting, limit, item) for item in found.items]
    return some(judged) if found.over is Over.ANY else every(judged)


def holds(setting: Setting, condition: Limit) -> Judgement:
    """Return whether a condition holds at the setting's place."""
    match condition:
        case Holds(fact, limit):
            return judge_fact(setting, fact, limit)
        case AllOf(parts):
            return every([holds(setting, part) for part in parts])
        case AnyOf(parts):
            return some([holds(setting, part) for part in parts])
        case Not(part):
            return negation(holds(setting, part))
        case _:
            raise TypeError(f"a limit where a condition is due: {condition!r}")


def judge(  # noqa: C901, PLR0911, PLR0912 - one branch a kind of limit, a closed list
    setting: Setting, limit: Limit, subject: Subject
) -> Judgement:
    """Return whether the subject's value meets the limit."""
    match limit:
        case AllOf(parts):
            return every([judge(setting, part, subject) for part in parts])
        case AnyOf(parts):
            return some([judge(setting, part, subject) for part in parts])
        case Not(part):
            return negation(judge(setting, part, subject))
        case Holds(fact, part):
            here = fact.fact.element is setting.place.element
            evidence = setting.evidence if here else ANYTHING
            return judge_fact(setting, fact, part, evidence=evidence)
        case Table():
            return _by_table(setting, limit, subject)
        case NearestOf():
            return _nearest(setting, limit, subject)
        case AgreedBy(facts):
            return _agreed(setting, facts, subject)
        case AtLeast(operand) | AtMost(operand):
            return _bounded(setting, limit, operand, subject)
        case Between(least, most):
            parts = (AtLeast(least), AtMost(most))
            return every([judge(setting, part, subject) for part in parts])
        case EqualTo(operand, within):
            return _equal(setting, operand, within, subject)
        case OneOf(values):
            return some([_equal(setting, value, None, subject) for value in values])
        case NoneOf(values):
            return negation(some([_equal(setting, value, None, subject) for value in values]))
        case Stated(present):
            truth = subject.value is present if isinstance(subject.value, bool) else None
            return Judgement(truth, None, subject.missing, subject.used)
        case _:
            assert_never(limit)


def operand_subject(setting: Setting, operand: Operand) -> Subject:
    """Return the value an operand stands for at the setting's place."""
    if isinstance(operand, FactRef):
        return subjects(setting.record, setting.place, operand).items[0]
    return Subject(operand)


def _bounded(
    setting: Setting, limit: AtLeast | AtMost, operand: Operand, subject: Subject
) -> Judgement:
    other = operand_subject(setting, operand)
    used = (*subject.used, *other.used)
    missing = (*subject.missing, *other.missing)
    value, bound = subject.value, other.value
    if value is None or bound is None:
        return Judgement(None, None, missing, used)
    at_least = isinstance(limit, AtLeast)
    if isinstance(value, Quantity) and isinstance(bound, Quantity):
        margin = _difference(value, bound) if at_least else _difference(bound, value)
        truth = _is_met(value.amount, bound.amount, at_least=at_least)
        if truth is None:
            lack = _undecided(setting, (subject, other), "on both sides of the limit")
            return Judgement(None, None, missing or (lack,), used)
        return Judgement(truth, None if missing else margin, (), used)
    if isinstance(value, dt.date) and isinstance(bound, dt.date):
        days = (value - bound).days if at_least else (bound - value).days
        return Judgement(days >= 0, Quantity(Dimension.DURATION, days, ""), (), used)
    raise TypeError(f"{value!r} can't be ordered against {bound!r}")


def _is_met(value: Amount, bound: Amount, *, at_least: bool) -> Truth:
    return is_at_most(bound, value) if at_least else is_at_most(value, bound)


def _difference(a: Quantity, b: Quantity) -> Quantity:
    return Quantity(_difference_dimension(a.dimension), subtract(a.amount, b.amount), "")


def _difference_dimension(dimension: Dimension) -> Dimension:
    is_temperature = dimension is Dimension.TEMPERATURE
    return Dimension.TEMPERATURE_DIFFERENCE if is_temperature else dimension


def is_interval(amount: Amount) -> bool:
    """Tell whether an amount is a range of values, and not one number or its enclosure."""
    if not isinstance(amount, Span):
        return False
    if amount.low is None or amount.high is None:
        return True
    least, most = Fraction(amount.low), Fraction(amount.high)
    # About 0 the size is that of the numbers whose difference it is: at least a base unit.
    return (most - least) * _FINEST > max(abs(least), abs(most), Fraction(1))


def undecided_words(found: Sequence[Subject], outcome: str) -> str:
    """Return why a comparison is open: which interval leaves it so, or that none is exact enough.

    `outcome` says what the interval does to the limit, after "it may be 1 in to 2 in".
    """
    for item in found:
        value = item.value
        if isinstance(value, Quantity) and is_interval(value.amount):
            name = item.used[0].fact.full_name if len(item.used) == 1 else "it"
            return f"{name} may be {value_text(value)}, {outcome}; measure it"
    return TOO_CLOSE


def _undecided(setting: Setting, found: Sequence[Subject], outcome: str) -> Missing:
    reason = undecided_words(found, outcome)
    return Missing(setting.place.label, None, reason, setting.place.path)


def _equal(
    setting: Setting, operand: Operand, within: Quantity | None, subject: Subject
) -> Judgement:
    other = operand_subject(setting, operand)
    used = (*subject.used, *other.used)
    missing = (*subject.missing, *other.missing)
    value, target = subject.value, other.value
    if value is None or target is None:
        return Judgement(None, None, missing, used)
    if isinstance(value, Quantity) and isinstance(target, Quantity):
        return _equal_quantities(setting, (subject, other), within)
    if isinstance(value, dt.date) and isinstance(target, dt.date) and within is not None:
        days = abs((value - target).days)
        truth = _is_met(within.amount, days, at_least=True)
        left = Quantity(Dimension.DURATION, subtract(within.amount, days), "")
        return Judgement(truth, left, (), used)
    return Judgement(value == target, None, (), used)


def _equal_quantities(
    setting: Setting, pair: tuple[Subject, Subject], within: Quantity | None
) -> Judgement:
    """Return whether two subjects that are quantities are equal, or within what is allowed."""
    value, target = (item.value for item in pair)
    if not isinstance(value, Quantity) or not isinstance(target, Quantity):
        raise TypeError(f"{value!r} and {target!r} are not both quantities")
    used = tuple(use for item in pair for use in item.used)
    missing = tuple(lack for item in pair for lack in item.missing)
    allowed: Amount = within.amount if within else 0
    off = absolute(subtract(value.amount, target.amount))
    if within is None:
        order = compare(value.amount, target.amount)
        truth: Truth = None if order is None else order == 0
    else:
        truth = _is_met(allowed, off, at_least=True)
    if truth is None:
        lack = _undecided(setting, pair, "which meets the limit in part")
        return Judgement(None, None, missing or (lack,), used)
    dimension = _difference_dimension(value.dimension)
    margin = None if missing else Quantity(dimension, subtract(allowed, off), "")
    return Judgement(truth, margin, (), used)


def _nearest(setting: Setting, limit: NearestOf, subject: Subject) -> Judgement:
    to = operand_subject(setting, limit.to)
    used, missing = (*subject.used, *to.used), (*subject.missing, *to.missing)
    if not isinstance(to.value, Quantity) or not isinstance(subject.value, Quantity):
        return Judgement(None, None, missing, used)
    nearest = nearest_values(to.value, limit.values)
    names = " and ".join(value.text for value in nearest)
    is_one = [invert(_apart(subject.value, value)) for value in nearest]
    if all(truth is False for truth in is_one):
        return Judgement(
            truth=False, margin=None, missing=(), used=used, note=f"nearest is {names}"
        )
    if len(nearest) > 1 or None in is_one:
        both = (to, subject)
        reason = undecided_words(both, "which meets the limit in part")
        if len(nearest) > 1:
            reason = tie_words(to, limit.to, nearest)
        lack = Missing(setting.place.label, None, reason, setting.place.path)
        return Judgement(None, None, (lack,), used, f"nearest are {names}")
    return Judgement(truth=True, margin=None, missing=(), used=used, note=f"nearest is {names}")


def _agreed(setting: Setting, facts: tuple[FactRef, ...], subject: Subject) -> Judgement:
    """Hold the value against the one that all the facts give; where they differ, none governs."""
    judged = every([_equal(setting, fact, None, subject) for fact in facts])
    ways = [operand_subject(setting, fact) for fact in facts]
    values = [way.value for way in ways]
    if subject.value is None or None in values:
        return Judgement(None, None, judged.missing or _all_missing(ways, subject), judged.used)
    agree = every([_equal(setting, fact, None, ways[0]) for fact in facts[1:]])
    if agree.truth is True:
        return judged
    if agree.truth is None:
        return Judgement(None, None, agree.missing, _all_used((subject, *ways)))
    said = ", ".join(f"{value_text(v)} by {f}" for v, f in zip(values, facts, strict=True) if v)
    lack = Missing(setting.place.label, None, f"{DISAGREE}: {said}", setting.place.path)
    used = _all_used((subject, *ways))
    return Judgement(None, None, (lack,), used, f"{DISAGREE}: {said}")


def _all_used(found: Sequence[Subject]) -> tuple[Used, ...]:
    return tuple(dict.fromkeys(use for item in found for use in item.used))


def _all_missing(ways: Sequence[Subject], subject: Subject) -> tuple[Missing, ...]:
    return tuple(dict.fromkeys(lack for way in (subject, *ways) for lack in way.missing))


def _apart(a: Quantity, b: Quantity) -> Truth:
    order = compare(a.amount, b.amount)
    return None if order is None else order != 0


def nearest_values(to: Quantity, values: Sequence[Quantity]) -> tuple[Quantity, ...]:
    """Return the values nearest to `to`: one, or all that no computation can set apart."""
    offs = [(absolute(subtract(value.amount, to.amount)), value) for value in values]
    return tuple(value for off, value in offs if all(compare(off, other) != 1 for other, _ in offs))


def tie_words(to: Subject, ref: FactRef, nearest: Sequence[Quantity]) -> str:
    """Return why none of several values is the nearest: a tie, an interval, or too close."""
    names = " and ".join(value.text for value in nearest)
    if not isinstance(to.value, Quantity):
        return f"{names} are as near as each other to {ref}"
    offs = [absolute(subtract(value.amount, to.value.amount)) for value in nearest]
    if all(compare(off, offs[0]) == 0 for off in offs):
        return f"{names} are as near as each other to {ref}"
    if is_interval(to.value.amount):
        either = " or ".join(value.text for value in nearest)
        return f"{ref} may be {value_text(to.value)}, nearest to {either}; measure it"
    return f"which of {names} is nearer to {ref} is too close to compute"


def picked_row(
    setting: Setting, table: Table, *, evidence: Evidence = ANYTHING
) -> tuple[Row | None, Judgement]:
    """Return the row that the place's facts pick, or None with why no row is certain.

    `evidence` is asked of those facts that are the place's own.
    """
    asked = {
        ref: evidence if ref.fact.element is setting.place.element else ANYTHING for ref in table.by
    }
    held, doubts = [], []
    used: list[Used] = []
    for row in table.rows:
        keys = zip(table.by, row.keys, strict=True)
        judged = every([judge_fact(setting, ref, key, evidence=asked[ref]) for ref, key in keys])
        used.extend(judged.used)
        if judged.truth is True:
            held.append((row, judged))
        elif judged.truth is None:
            doubts.append(judged)
    # Several hold where a fact is read by `any`, or by `each` of none: then none is picked.
    if len(held) == 1 and not doubts:
        return held[0]
    if doubts:
        return None, some(doubts)
    if held:
        lack = Missing(setting.place.label, table.by[0].fact, "several rows of the table hold")
        return None, Judgement(None, None, (lack,), tuple(dict.fromkeys(used)))
    said = ", ".join(
        value_text(item.value) if item.value is not None else "unknown"
        for ref in table.by
        for item in subjects(setting.record, setting.place, ref, evidence=asked[ref]).items
    )
    place = setting.place
    lack = Missing(place.label, table.by[-1].fact, f"the table has no row for {said}", place.path)
    return None, Judgement(None, None, (lack,), tuple(dict.fromkeys(used)))


def _by_table(setting: Setting, table: Table, subject: Subject) -> Judgement:
    row, picked = picked_row(setting, table)
    if row is None:
        return Judgement(None, None, (*picked.missing, *subject.missing), picked.used)
    judged = judge(setting, row.limit, subject)
    used = tuple(dict.fromkeys((*judged.used, *picked.used)))
    return Judgement(judged.truth, judged.margin, judged.missing, used, judged.note)
