"""Every kind of roof that a rule can tell apart: its facts, a value for each side of each figure.

Between two neighbouring figures no rule changes its mind, so a handful of values stands for all.
What holds at each of them holds everywhere; that is how two limits are compared exactly.
Facts are taken as known here: what a missing reading does is settled, whatever a limit says.
"""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from functools import cmp_to_key
from itertools import combinations_with_replacement, pairwise, product
from typing import TYPE_CHECKING

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
from ridgerule.audit.subjects import reduced_fact
from ridgerule.enclosures import Amount, Span, add, compare, high, low, subtract
from ridgerule.facts import FactRef, Over, Plain, Value
from ridgerule.quantities import Dimension, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

Kept = tuple[Value, ...]
"""The values of a fact at a place: one, or several where `each` or `any` is asked."""
Situation = dict[str, Kept]
"""The values of every fact that is asked, by the words that ask it."""

MOST_SITUATIONS = 20_000
"""Rules that tell more kinds of roof apart than this are not compared."""
_DAY = dt.timedelta(days=1)


class TooMany(Exception):  # noqa: N818 - an answer, caught by whoever compares
    """The rules can't be compared: too many kinds of roof, or figures that can't be ordered."""


def situations(asked: Iterable[tuple[FactRef, Limit]]) -> Iterator[Situation]:
    """Yield a situation for every kind of roof that the limits, each on its fact, tell apart.

    Raises `TooMany` where that are too many, or where figures can't be put in order.
    """
    figures = _Figures()
    for ref, limit in asked:
        figures.gather(ref, limit)
    domains = figures.domains()
    size = 1
    for kept in domains.values():
        size *= len(kept)
        if size > MOST_SITUATIONS:
            raise TooMany
    names = list(domains)
    for values in product(*domains.values()):
        yield dict(zip(names, values, strict=True))


class _Figures:
    """The facts that limits ask, and the figures at which each can change its mind."""

    def __init__(self) -> None:
        self.refs: dict[str, FactRef] = {}
        self.amounts: dict[str, list[Amount]] = {}
        self.words: dict[str, list[Value]] = {}
        self.together: dict[str, set[str]] = {}
        """Facts that are held against each other, so that their order matters."""
        self.reach: dict[str, list[Amount]] = {}
        """How far apart facts held against each other may be."""

    def gather(self, ref: FactRef, limit: Limit) -> None:
        """Take in what a limit on a fact asks."""
        name = str(ref)
        if name not in self.refs:
            self.refs[name] = ref
            self.amounts[name], self.words[name] = [], []
            self.together[name], self.reach[name] = {name}, []
        self._limit(ref, limit)

    def _limit(  # noqa: C901, PLR0912 - one branch a kind of limit, a closed list
        self, ref: FactRef, limit: Limit
    ) -> None:
        match limit:
            case AtLeast(operand) | AtMost(operand):
                self._operand(ref, operand)
            case Between(least, most):
                self._operand(ref, least)
                self._operand(ref, most)
            case EqualTo(operand, within):
                self._operand(ref, operand, within)
            case OneOf(values) | NoneOf(values):
                for value in values:
                    self._operand(ref, value)
            case NearestOf(to, values):
                self._nearest(ref, to, values)
            case AgreedBy(facts):
                for fact in facts:
                    self._operand(ref, fact)
            case Table(by, rows):
                for row in rows:
                    for fact, key in zip(by, row.keys, strict=True):
                        self.gather(fact, key)
                    self._limit(ref, row.limit)
            case AllOf(parts) | AnyOf(parts):
                for part in parts:
                    self._limit(ref, part)
            case Not(part):
                self._limit(ref, part)
            case Holds(fact, part):
                self.gather(fact, part)
            case Stated():
                pass

    def _operand(self, ref: FactRef, operand: object, within: Quantity | None = None) -> None:
        name = str(ref)
        if isinstance(operand, FactRef):
            self.gather(operand, AllOf(()))
            group = self.together[name] | self.together[str(operand)]
            for member in group:
                self.together[member] = group
            if within is not None:
                self.reach[name].append(within.amount)
        elif isinstance(operand, Quantity):
            self.amounts[name].append(operand.amount)
            if within is not None:
                self.amounts[name] += [
                    subtract(operand.amount, within.amount),
                    add(operand.amount, within.amount),
                ]
        elif isinstance(operand, dt.date):
            most = high(within.amount) if within else 0
            days = int(most or 0)
            self.words[name] += [operand + _DAY * n for n in (-days, 0, days)]
        elif isinstance(operand, (str, bool)):
            self.words[name].append(operand)

    def _nearest(self, ref: FactRef, to: FactRef, values: tuple[Quantity, ...]) -> None:
        self.gather(to, AllOf(()))
        for value in values:
            self._operand(ref, value)
        ordered = _ordered([value.amount for value in values])
        for one, other in pairwise(ordered):
            self.amounts[str(to)].append(_middle(one, other))

    def domains(self) -> dict[str, tuple[Kept, ...]]:
        """Return the values that stand for all, fact by fact."""
        found: dict[str, tuple[Kept, ...]] = {}
        for name, ref in self.refs.items():
            values = self._values(name, ref)
            if ref.over in (Over.EACH, Over.ANY):
                pairs = combinations_with_replacement(values, 2)
                found[name] = tuple(pair if pair[0] != pair[1] else pair[:1] for pair in pairs)
            else:
                found[name] = tuple((value,) for value in values)
        return found

    def _values(self, name: str, ref: FactRef) -> list[Value]:
        dimension = reduced_fact(ref)
        group = sorted(self.together[name])
        if dimension is not None:
            amounts = [amount for member in group for amount in self.amounts[member]]
            reach = [width for member in group for width in self.reach[member]]
            spread = [
                end
                for amount in (amounts or [0]) if reach
                for width in reach
                for end in (subtract(amount, width), add(amount, width))
            ]  # fmt: skip
            return _around(ref, dimension, [*amounts, *spread], many=len(group))
        words = dict.fromkeys(word for member in group for word in self.words[member])
        match ref.fact.dimension:
            case Plain.YES_NO:
                return [True, False]
            case Plain.CHOICE:
                rest = [choice for choice in ref.fact.choices if choice not in words]
                return [*words, *rest[: len(group)]]
            case Plain.DATE:
                days = {day for day in words if isinstance(day, dt.date)} or {dt.date(2000, 1, 1)}
                beside = range(-1, len(group) + 1)
                return [*sorted({day + _DAY * n for day in days for n in beside})]
            case _:
                return [*words, *(f"any other words {n}" for n in range(len(group)))]


def _around(ref: FactRef, dimension: Dimension, amounts: list[Amount], *, many: int) -> list[Value]:
    """Return values below, on, between and above amounts; `many` of them between each two."""
    whole = dimension is Dimension.COUNT
    ends = [bound.amount for bound in (ref.fact.least, ref.fact.greatest) if bound is not None]
    inside = ends if ref.fact.dimension is dimension and ref.over is not Over.SPREAD else []
    ordered = _ordered([*amounts, *inside, *([0] if not amounts and not inside else [])])
    found: list[Amount] = [subtract(ordered[0], n) for n in range(many, 0, -1)]
    for one, other in pairwise(ordered):
        found.append(one)
        found += _whole_between(one, other, many) if whole else _between(one, other, many)
    found += [add(ordered[-1], n) for n in range(many + 1)]
    kept = [amount for amount in found if _is_possible(amount, ref, dimension)]
    return [Quantity(dimension, amount, "") for amount in kept]


def _is_possible(amount: Amount, ref: FactRef, dimension: Dimension) -> bool:
    """Tell whether a fact can have this amount at all."""
    if (dimension is Dimension.COUNT or ref.over is Over.SPREAD) and compare(amount, 0) == -1:
        return False
    if ref.over is Over.SPREAD or ref.fact.dimension is not dimension:
        return True
    least, greatest = ref.fact.least, ref.fact.greatest
    if least is not None and compare(amount, least.amount) == -1:
        return False
    return greatest is None or compare(amount, greatest.amount) != 1


def _ordered(amounts: list[Amount]) -> list[Amount]:
    """Return amounts in order, each once."""

    def order(a: Amount, b: Amount) -> int:
        found = compare(a, b)
        if found is None:
            raise TooMany
        return found

    ordered: list[Amount] = []
    for amount in sorted(amounts, key=cmp_to_key(order)):
        if not ordered or order(ordered[-1], amount) != 0:
            ordered.append(amount)
    return ordered


def _ends(one: Amount, other: Amount) -> tuple[Fraction, Fraction]:
    """Return the greatest that the lesser can be and the least that the greater can be."""
    top, bottom = high(one), low(other)
    if top is None or bottom is None:
        raise TooMany
    return Fraction(top), Fraction(bottom)


def _middle(one: Amount, other: Amount) -> Amount:
    if isinstance(one, Span) or isinstance(other, Span):
        raise TooMany
    return (Fraction(one) + Fraction(other)) / 2


def _between(one: Amount, other: Amount, many: int) -> list[Amount]:
    top, bottom = _ends(one, other)
    return [top + (bottom - top) * n / (many + 1) for n in range(1, many + 1)]


def _whole_between(one: Amount, other: Amount, many: int) -> list[Amount]:
    top, bottom = _ends(one, other)
    return [n for n in range(int(top) + 1, int(top) + 1 + many) if n < bottom]
