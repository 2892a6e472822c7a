"""Every kind of roof that a rule can tell apart: its facts, a value for each side of each figure.

Between two neighbouring figures no rule changes its mind, so a handful of values stands for all.
What holds at each of them holds everywhere; that is how two limits are compared exactly.
Facts are taken as known here: what a missing reading does is settled, whatever a limit says.
Facts that are computed from each other are let vary by themselves, so that there are rather more
kinds of roof here than can be built, and never fewer.
"""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from functools import cmp_to_key
from itertools import chain, combinations, islice, pairwise, product
from types import MappingProxyType
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
from ridgerule.enclosures import Amount, Span, add, compare, high, low, multiply, subtract
from ridgerule.facts import Element, FactRef, Over, Plain, Value
from ridgerule.quantities import Dimension, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from ridgerule.facts import Fact

Kept = tuple[Value, ...]
"""The values of a fact at a place: one, or any number where `each` or `any` is asked."""
Situation = dict[str, Kept]
"""The values of every fact that is asked, by the words that ask it."""

MOST_SITUATIONS = 20_000
"""Rules that tell more kinds of roof apart than this are not compared."""
_DAY = dt.timedelta(days=1)


class TooMany(Exception):  # noqa: N818 - an answer, caught by whoever compares
    """The rules can't be compared: too many kinds of roof, or figures that can't be ordered."""


def situations(
    asked: Iterable[tuple[FactRef, Limit]], *, of: FactRef | None = None, at: Element | None = None
) -> Iterator[Situation]:
    """Yield a situation for every kind of roof that the limits, each on its fact, tell apart.

    `of` is the fact that a rule judges, of which there is a reading wherever it comes to a pass
    or a failure; `at` is where it is judged, since a roof or a plane can surely have no openings.

    Raises `TooMany` where that are too many, or where figures can't be put in order.
    """
    figures = _Figures(at)
    try:
        for ref, limit in asked:
            figures.gather(ref, limit)
        domains = figures.domains(of)
    except OverflowError:  # a day before the first or after the last that there is
        raise TooMany from None
    size = 1
    for kept in domains.values():
        size *= len(kept)
        if size > MOST_SITUATIONS:
            raise TooMany
    names = list(domains)
    alike = figures.alike()
    for values in product(*domains.values()):
        here = dict(zip(names, values, strict=True))
        if all(_fit_together(here, refs) for refs in alike):
            yield here


class _Figures:
    """The facts that limits ask, and the figures at which each can change its mind."""

    def __init__(self, at: Element | None) -> None:
        self.at = at
        self.refs: dict[str, FactRef] = {}
        self.asked: dict[str, set[object]] = {}
        """What is asked of each fact: as many readings as that can each be of another kind."""
        self.amounts: dict[str, list[Amount]] = {}
        self.words: dict[str, list[Value]] = {}
        self.together: dict[str, set[str]] = {}
        """Facts that are held against each other, so that their order matters."""
        self.reach: dict[str, list[Amount]] = {}
        """How far apart facts held against each other may be."""

    def gather(self, ref: FactRef, limit: Limit) -> None:
        """Take in what a limit on a fact asks."""
        self._meet(ref)
        self.asked[str(ref)].add(limit)
        self._limit(ref, limit)

    def _meet(self, ref: FactRef) -> None:
        name = str(ref)
        if name in self.refs:
            return
        self.refs[name] = ref
        self.asked[name] = set()
        self.amounts[name], self.words[name] = [], []
        self.together[name], self.reach[name] = {name}, []
        for other, known in self.refs.items():
            if known.fact == ref.fact and {known.over, ref.over} <= _RANKS.keys():
                self._join(name, other)  # the least of some readings is one of them

    def _join(self, name: str, other: str) -> None:
        group = self.together[name] | self.together[other]
        for member in group:
            self.together[member] = group

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
                        self._meet(fact)
                        self._limit(fact, key)
                    self._limit(ref, row.limit)
                for fact in by:  # at most two rows that hold make a difference
                    self.asked[str(fact)] |= {(limit, 0), (limit, 1)}
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
            self._meet(operand)
            self._join(name, str(operand))
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
        self._meet(to)
        for value in values:
            self._operand(ref, value)
        ordered = _ordered([value.amount for value in values])
        for one, other in pairwise(ordered):
            self.amounts[str(to)].append(_middle(one, other))

    def domains(self, of: FactRef | None) -> dict[str, tuple[Kept, ...]]:
        """Return the values that stand for all, fact by fact."""
        found: dict[str, tuple[Kept, ...]] = {}
        for name, ref in self.refs.items():
            values = self._values(name, ref)
            if ref.over in (Over.EACH, Over.ANY):
                may_be_none = ref != of and self._may_be_none(ref)
                several = self._several(name, values, may_be_none=may_be_none)
                found[name] = tuple(islice(several, MOST_SITUATIONS + 1))
            else:
                found[name] = tuple((value,) for value in values)
        return found

    def alike(self) -> list[list[FactRef]]:
        """Return the facts that are asked in several ways, each with its ways."""
        groups: dict[Fact, list[FactRef]] = {}
        for ref in self.refs.values():
            if ref.over in _RANKS:
                groups.setdefault(ref.fact, []).append(ref)
        return [refs for refs in groups.values() if len(refs) > 1]

    def _may_be_none(self, ref: FactRef) -> bool:
        """Tell whether a record can say that there is nothing to have a reading of the fact."""
        others = ref.fact.element not in (self.at, Element.STATION)
        return others and self.at in (Element.ROOF, Element.PLANE)

    def _several(self, name: str, values: list[Value], *, may_be_none: bool) -> Iterator[Kept]:
        """Yield as many of the values at a time as it takes to meet each limit asked of them."""
        if may_be_none:
            yield ()
        for count in range(1, max(2, len(self.asked[name])) + 1):
            yield from combinations(values, count)

    def _values(self, name: str, ref: FactRef) -> list[Value]:
        dimension = reduced_fact(ref)
        group = sorted(self.together[name])
        reach = [
            multiply(width, times)
            for member in group
            for width in self.reach[member]
            for times in range(1, len(group))
        ]
        if dimension is not None:
            amounts = [amount for member in group for amount in self.amounts[member]]
            # The ends of all: facts held against each other need values in common to be equal at.
            amounts += chain.from_iterable(_ends_of(self.refs[member]) for member in group)
            amounts = amounts or [0]
            spread = [
                end
                for amount in amounts
                for width in reach
                for end in (subtract(amount, width), add(amount, width))
            ]
            return _around(ref, dimension, [*amounts, *spread], many=len(group))
        words = dict.fromkeys(word for member in group for word in self.words[member])
        match ref.fact.dimension:
            case Plain.YES_NO:
                return [True, False]
            case Plain.CHOICE:
                own = [choice for choice in ref.fact.choices if choice in words]
                rest = [choice for choice in ref.fact.choices if choice not in words]
                return [*own, *(rest if len(group) > 1 else rest[:1])]
            case Plain.DATE:
                return [*_days_around(words, reach, many=len(group))]
            case _:
                return [*words, *(f"any other words {n}" for n in range(len(group)))]


def _fit_together(here: Situation, refs: list[FactRef]) -> bool:
    """Tell whether several words before one fact can give these values of the same readings."""
    readings: set[Kept] = set()
    ordered: list[Amount] = []
    for ref in sorted(refs, key=lambda ref: _RANKS[ref.over]):
        values = here[str(ref)]
        if ref.over in (Over.EACH, Over.ANY):
            readings.add(values)
        else:
            ordered += [value.amount for value in values if isinstance(value, Quantity)]
    if len(readings) > 1 or any(compare(a, b) == 1 for a, b in pairwise(ordered)):
        return False
    overs = {ref.over for ref in refs}
    least = ordered[0] if Over.LEAST in overs else None
    most = ordered[-1] if Over.GREATEST in overs else None
    return not any(
        (least is not None and compare(value.amount, least) == -1)
        or (most is not None and compare(value.amount, most) == 1)
        for kept in readings
        for value in kept
        if isinstance(value, Quantity)
    )


_RANKS: Mapping[Over | None, int] = MappingProxyType(
    {Over.LEAST: 0, Over.MEAN: 1, Over.GREATEST: 2, Over.EACH: 3, Over.ANY: 3}
)
"""The words that give one of the readings or lie among them, in the order that they do."""


def _days_around(words: Iterable[Value], reach: list[Amount], *, many: int) -> Iterator[Value]:
    """Yield days before, on and after those that are written, `many` of them on each side."""
    days = {day for day in words if isinstance(day, dt.date)} or {dt.date(2000, 1, 1)}
    apart = {0, *(int(high(width) or 0) for width in reach)}
    near = {day + _DAY * (sign * far) for day in days for far in apart for sign in (-1, 1)}
    yield from sorted({day + _DAY * n for day in near for n in range(-many, many + 1)})


def _ends_of(ref: FactRef) -> list[Amount]:
    """Return the least and the greatest amount that a fact can have, as far as it has any."""
    if ref.over is Over.SPREAD or ref.fact.dimension is not reduced_fact(ref):
        return []
    bounds = (ref.fact.least, ref.fact.greatest)
    return [bound.amount for bound in bounds if bound is not None]


def _around(ref: FactRef, dimension: Dimension, amounts: list[Amount], *, many: int) -> list[Value]:
    """Return values below, on, between and above amounts; `many` of them between each two."""
    counted = ref.fact.derivation is None and ref.over is not Over.MEAN
    whole = dimension is Dimension.COUNT and (counted or ref.over is Over.COUNT)
    ordered = _ordered(amounts)
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
