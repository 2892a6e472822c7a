"""The readings worth trying of each fact that a rule asks, and the small roofs made of them.

Beside each figure three readings tell whether it lies where it should; of words each that is
listed and one that is not. Between them no rule changes its mind.
"""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from itertools import islice, pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.comparing import condition_holds, fact_meets
from ridgerule.audit.limits import (
    AgreedBy,
    AllOf,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    Holds,
    Limit,
    NearestOf,
    NoneOf,
    OneOf,
    nodes,
)
from ridgerule.enclosures import Span, add, compare, subtract
from ridgerule.facts import FactRef, Over, Plain, read_value
from ridgerule.proof.readings import beside, can_come_to, is_possible, written
from ridgerule.quantities import Dimension, Quantity, read

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridgerule.documents import Data
    from ridgerule.facts import Fact, Value
    from ridgerule.proof.parts import Part
    from ridgerule.proof.small_roofs import Readings, SmallRoofs

MOST_ROOFS = 600
"""Small roofs that are tried in search of one that shows a part."""
_MOST_TUPLES = 80
_MOST_STARTS = 12
ANY_OTHER_WORDS = "any other words"
_REDUCING = (Over.SPREAD, Over.COUNT)
_PLAIN: Mapping[Dimension, str] = MappingProxyType(
    {
        Dimension.LENGTH: "6 in",
        Dimension.AREA: "100 in2",
        Dimension.SLOPE: "7:12",
        Dimension.ANGLE: "90 deg",
        Dimension.TEMPERATURE: "20 degC",
        Dimension.TEMPERATURE_DIFFERENCE: "10 degC",
        Dimension.COUNT: "3",
        Dimension.SHARE: "50 %",
        Dimension.EXPANSION: "80 um/m/degC",
        Dimension.NET_FREE_AREA_PER_LENGTH: "18 in2/ft",
        Dimension.DURATION: "30 days",
        Dimension.CALENDAR_MONTHS: "12 months",
    }
)
"""A reading of a fact that no figure is asked of; none of them decides anything."""


class Choices:
    """What is tried of each fact of one rule."""

    def __init__(self, roofs: SmallRoofs, parts: Sequence[Part]) -> None:
        self.roofs = roofs
        self.figures: dict[FactRef, list[Value]] = {ref: [] for ref in roofs.refs}
        joined: list[tuple[FactRef, FactRef, Quantity | None]] = []
        for part in parts:
            self._gather(part.ref, part.limit, joined)
        self.named = frozenset(
            value for values in self.figures.values() for value in values if isinstance(value, str)
        )
        self.singles: dict[str, list[Value]] = {n: self._singles(n) for n in roofs.facts}
        for ref, other, within in joined * 2:  # twice, since facts can be held in a row
            self._join(ref, other, within)
            self._join(other, ref, within)
        self.kept = {name: self._kept(fact) for name, fact in roofs.facts.items()}
        self.held = {name: self._held(name, parts) for name in roofs.facts}

    def _gather(
        self, ref: FactRef, limit: Limit, joined: list[tuple[FactRef, FactRef, Quantity | None]]
    ) -> None:
        match limit:
            case NearestOf(to, values):
                self.figures[ref] += [value for value in values if can_come_to(value, ref)]
                self._beside(ref, values[0])
                for value in middles(values):
                    self._beside(to, value)
                self.figures[to] += [value for value in values if can_come_to(value, to)]
            case AgreedBy(facts):
                joined += [(ref, fact, None) for fact in facts]
            case _:
                for figure in figures_of(limit):
                    if isinstance(figure, FactRef):
                        joined.append((ref, figure, getattr(limit, "within", None)))
                    else:
                        self._beside(ref, figure)

    def _beside(self, ref: FactRef, figure: Value | None) -> None:
        if figure is None:
            return
        ordered = isinstance(figure, (Quantity, dt.date))
        found = beside(figure, ref.fact) if ordered else (figure,)
        self.figures[ref] += [
            value for value in found if value is not None and can_come_to(value, ref)
        ]

    def _singles(self, name: str) -> list[Value]:
        """Return values that one reading of a fact may have."""
        fact = self.roofs.facts[name]
        asked = [
            value
            for ref, values in self.figures.items()
            if ref.fact.full_name == name and ref.over not in _REDUCING
            for value in values
        ]
        match fact.dimension:
            case Plain.YES_NO:
                return [True, False]
            case Plain.CHOICE:
                rest = [choice for choice in fact.choices if choice not in asked]
                return _distinct([*asked, *rest[:1]])
            case Plain.TEXT:
                return _distinct([*asked, ANY_OTHER_WORDS])
            case Plain.DATE:
                return _distinct(asked or [dt.date(2026, 1, 1)])
            case _:
                return _distinct(asked) or [*islice(self._usual(fact), 2)]

    def _usual(self, fact: Fact) -> Iterator[Value]:
        """Yield readings of a quantity: those of the rule's own cases first."""
        for case in self.roofs.check.cases:
            for name, data in case.given.items():
                if name.split()[-1] == fact.full_name:
                    yield from _read(data, fact)
        if isinstance(fact.dimension, Dimension):
            found = read(_PLAIN[fact.dimension], fact.dimension)
            ends = [end for end in (fact.least, fact.greatest) if end is not None]
            if isinstance(found, Quantity):
                yield from (value for value in (found, *ends) if is_possible(value, fact))

    def _join(self, ref: FactRef, other: FactRef, within: Quantity | None) -> None:
        """Let one fact have the values of another that it is held against, and those beside."""
        if ref.over in _REDUCING or other.over in _REDUCING:
            return
        name = ref.fact.full_name
        mine = self.singles[name]
        for value in self.singles[other.fact.full_name][:6]:
            for figure in ends_of(value, within):
                ordered = isinstance(figure, (Quantity, dt.date))
                found = beside(figure, ref.fact) if ordered else (figure,)
                mine = [*mine, *(v for v in found if v is not None and can_come_to(v, ref))]
        self.singles[name] = _distinct(mine)[:24]

    def ways(  # noqa: PLR0911 - one branch a word, a closed list
        self, ref: FactRef, value: Value
    ) -> list[tuple[Value, ...] | None]:
        """Return ways to read a fact so that what is asked of it comes to this value.

        As many, and in the same order, whatever the value; None where a way leads to none.
        """
        singles = self.singles[ref.fact.full_name]
        if ref.over in _REDUCING and not isinstance(value, Quantity):
            return []
        single = self.roofs.is_single(ref.fact.element) and not ref.fact.per_side
        if ref.over is None or single:
            return [(value,)]
        match ref.over:
            case Over.COUNT:
                return self._counted(ref, value)
            case Over.SPREAD:
                ends = [(start, _moved(start, value, ref.fact)) for start in singles[:3]]
                return [None if end is None else (start, end) for start, end in ends]
            case Over.LEAST:
                return [(value, _outer(value, singles, up=True)), (value, value)]
            case Over.GREATEST:
                return [(value, _outer(value, singles, up=False)), (value, value)]
            case Over.MEAN:
                return [(value, value)]
            case _:
                return [(value, singles[-1]), (value, singles[0]), (value, value)]

    def _counted(self, ref: FactRef, value: Value) -> list[tuple[Value, ...] | None]:
        """Return as many readings as a count says, alike and apart."""
        starts: list[tuple[Value, ...] | None] = []
        for other, values in self.figures.items():
            if other.fact == ref.fact and other.over is Over.SPREAD:
                starts += [way for v in values for way in self.ways(other, v)]
        starts += [(one, one) for one in self.singles[ref.fact.full_name]]
        many = value.amount if isinstance(value, Quantity) else 0
        if not isinstance(many, int) or not 0 < many <= MOST_READINGS:
            return [None for _ in starts[:_MOST_STARTS]]
        return [
            None if start is None else (*start, *start[-1:] * many)[:many]
            for start in starts[:_MOST_STARTS]
        ]

    def _kept(self, fact: Fact) -> list[tuple[Value, ...]]:
        """Return the readings, one or several, that are tried of a fact."""
        found: dict[tuple[Value, ...], None] = {}
        for ref, values in self.figures.items():
            if ref.fact != fact:
                continue
            tried = values if ref.over in _REDUCING else self.singles[fact.full_name]
            ways = (way for value in tried for way in self.ways(ref, value))
            found |= dict.fromkeys(way for way in ways if way is not None)
        return list(found)[:_MOST_TUPLES]

    def _held(self, name: str, parts: Sequence[Part]) -> list[tuple[Value, ...]]:
        """Return readings of a fact, one of all those of which every part of the rule says alike.

        A fact that is held against another keeps them all.
        """
        asking = [part for part in parts if name in _named(Holds(part.ref, part.limit))]
        if any(len(_named(Holds(part.ref, part.limit))) > 1 for part in asking):
            return self.kept[name]
        found: dict[tuple[object, ...], tuple[Value, ...]] = {}
        for values in self.kept[name]:
            here = self.roofs.situation(self.roofs.settled({name: values}))
            said = [
                fact_meets(part.ref, part.limit, here) if str(part.ref) in here else "unknown"
                for part in asking
            ]
            found.setdefault(tuple(said), values)
        return [*found.values()]

    def roofs_without(self, but: str, when: Limit | None) -> Search:
        """Return readings of every fact but one, where a condition may hold for all they say."""
        names = [name for name in self.roofs.facts if name != but]
        conditions = [(part, _named(part)) for part in _joined_by_and(when)]
        return Search(self, names, conditions)


class Search:
    """Tries the readings of some facts together, as many of each as there is time for."""

    def __init__(
        self, choices: Choices, names: list[str], conditions: list[tuple[Limit, frozenset[str]]]
    ) -> None:
        self.choices, self.names, self.conditions = choices, names, conditions
        self.is_cut = False
        """Whether there were more than could be tried."""

    def __iter__(self) -> Iterator[Readings]:
        """Yield the readings that no condition rules out, at most `MOST_ROOFS` of them."""
        yield from self._filled({}, self.names, MOST_ROOFS)

    def _filled(self, readings: Readings, names: list[str], most: int) -> Iterator[Readings]:
        """Yield at most so many ways to read the facts left, a like share for each first one."""
        if not names:
            yield readings
            return
        tried = self.choices.held[names[0]]
        for i, values in enumerate(tried):
            more = {**readings, names[0]: values}
            if not self._may_apply(more, names[0]):
                continue
            if most < 1:
                self.is_cut = True
                return
            for found in self._filled(more, names[1:], max(1, most // (len(tried) - i))):
                most -= 1
                yield found

    def _may_apply(self, readings: Readings, last: str) -> bool:
        """Tell whether no condition is broken that the last fact to be read has settled."""
        roofs, here = self.choices.roofs, None
        for condition, named in self.conditions:
            if last in named and named <= readings.keys():
                here = here or roofs.situation(roofs.settled(readings))
                try:
                    if condition_holds(condition, here) is False:
                        return False
                except KeyError:
                    continue
        return True


MOST_READINGS = 12
"""Readings of one fact that a small roof is given."""


def figures_of(limit: Limit) -> list[Value | FactRef]:
    """Return what a part's values are held against, a tolerance reckoned in."""
    match limit:
        case AtLeast(operand) | AtMost(operand):
            return [operand]
        case Between(least, most):
            return [least, most]
        case EqualTo(operand, within):
            return [operand] if isinstance(operand, FactRef) else [*ends_of(operand, within)]
        case OneOf(values) | NoneOf(values):
            return list(values)
        case _:
            return []


def ends_of(value: Value, within: Quantity | None) -> list[Value]:
    """Return the least and the greatest value within a tolerance; the value itself without one."""
    if within is None:
        return [value]
    if isinstance(value, dt.date):
        days = int(within.amount) if not isinstance(within.amount, Span) else 0
        first, last = value.toordinal() - days, value.toordinal() + days
        return [dt.date.fromordinal(n) for n in (first, last) if 0 < n <= dt.date.max.toordinal()]
    if not isinstance(value, Quantity):
        return [value]
    found = []
    for amount in (subtract(value.amount, within.amount), add(value.amount, within.amount)):
        like = value.text or within.text
        end = written(amount, value.dimension, like=like)
        found.append(end or Quantity(value.dimension, amount, ""))
    return [*found]


def middles(values: Sequence[Quantity]) -> list[Quantity | None]:
    """Return what lies half way from each value to the next greater; None where it can't be told.

    One fewer than there are values.
    """
    exact = {v: Fraction(v.amount) for v in values if not isinstance(v.amount, Span)}
    ordered = sorted(exact, key=lambda value: exact[value])
    found = [
        written((exact[one] + exact[other]) / 2, one.dimension, like=one.text)
        for one, other in pairwise(ordered)
    ]
    return [*found, *[None] * (len(values) - 1 - len(found))]


def _read(data: Data, fact: Fact) -> Iterator[Value]:
    if isinstance(data, list):
        for item in data:
            yield from _read(item, fact)
        return
    raw = data.get("value") if isinstance(data, dict) else data
    found = read_value(raw, fact)
    if isinstance(found, Quantity) and is_possible(found, fact):
        yield found


def _moved(start: Value, by: Value, fact: Fact) -> Value | None:
    """Return a reading so far from another, above it or else below it."""
    if not isinstance(start, Quantity) or not isinstance(by, Quantity):
        return None
    for amount in (add(start.amount, by.amount), subtract(start.amount, by.amount)):
        found = written(amount, start.dimension, like=start.text)
        if found is not None and is_possible(found, fact):
            return found
    return None


def _outer(value: Value, singles: list[Value], *, up: bool) -> Value:
    """Return a value on one side of another, which itself is as good as any."""
    for other in singles if not up else reversed(singles):
        if isinstance(other, Quantity) and isinstance(value, Quantity):
            order = compare(other.amount, value.amount)
            if order == (1 if up else -1):
                return other
    return value


def _distinct(values: Iterable[Value]) -> list[Value]:
    return list(dict.fromkeys(values))


def _joined_by_and(condition: Limit | None) -> list[Limit]:
    if isinstance(condition, AllOf):
        return [inner for part in condition.parts for inner in _joined_by_and(part)]
    return [] if condition is None else [condition]


def _named(condition: Limit) -> frozenset[str]:
    return frozenset(n.fact.full_name for n in nodes(condition) if isinstance(n, FactRef))
