"""Computed facts of very many values, reckoned in floats where the limit is met by a clear margin.

A memo is of no use where hardly any combination of readings comes twice. So a few reckonings are
done here as well, with bounds: only a limit met by more than a millionth of the numbers' size
(floats err by less than a thousand-millionth of that) counts as met. Everything else, and every
failure, is the ordinary evaluator's to say.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from msgspec import UNSET, Struct

from ridgerule.audit.expressions import Combined, Derivation, Interval, Reckon, Taken
from ridgerule.audit.limits import AtLeast, AtMost, EqualTo, Not
from ridgerule.audit.subjects import ANYTHING
from ridgerule.enclosures import Span
from ridgerule.facts import Element, FactRef, Over, read_value
from ridgerule.quantities import Quantity
from ridgerule.survey.light_record import is_readable

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from ridgerule.audit.expressions import Expression
    from ridgerule.audit.limits import Limit, Operand
    from ridgerule.audit.plan import Check
    from ridgerule.facts import Fact
    from ridgerule.survey.dependencies import Needs

_MOST = 100_000
_CLEAR = 1e-6
_Range = tuple[float, float]
TO_RECKON = -1
"""What the memo of conditions says where a rule applies: its limit is to be reckoned."""


class _Cannot(Exception):  # noqa: N818 - says what happened; caught in this module
    """A rule is not one that can be reckoned here."""


class Arithmetic(Struct):
    """One rule that is reckoned: its conditions by memo, its limit in numbers."""

    conditions: dict[tuple[Any, ...], int]
    """By what its conditions rest on: what comes out, or `TO_RECKON`."""
    condition_key: Callable[[tuple[Any, ...]], tuple[Any, ...]]
    through: dict[Fact, dict[Any, _Range]]
    """Exact values of computed facts at other places, by what they rest on there."""
    values: Callable[[tuple[Any, ...]], list[_Range]]
    passed: int
    is_met: Callable[[float, float, float], bool]
    place_of_lines: int | None
    """Where in the key the lines stand whose computed facts are read."""

    def answer(self, key: tuple[Any, ...]) -> int:
        """Return what the rule comes to; raises KeyError where that is not certain here."""
        state = self.conditions[self.condition_key(key)]
        if state != TO_RECKON:
            return state
        ((low, high),) = self.values(key)
        size = max(abs(low), abs(high))
        if self.is_met(low, high, size):
            return self.passed
        raise KeyError(key)


def arithmetic_of(check: Check, needs: Needs, condition: Needs, passed: int) -> Arithmetic | None:
    """Return how a rule is reckoned, None where it is of a kind that is not."""
    derivation = check.of.fact.derivation
    if check.of.over is not None or check.evidence != ANYTHING:
        return None
    if not isinstance(derivation, Derivation):
        return None
    places = _places(needs)
    reader = _Reader(check.at, places)
    try:
        values = reader.expression(derivation.expression)
        is_met = _certain(check.limit)
    except _Cannot:
        return None
    kept = sorted(places[way] for way in _places(condition))
    if any(way not in places for way in _places(condition)):
        return None
    return Arithmetic(
        {}, lambda key: tuple([key[i] for i in kept]), reader.through, values, passed, is_met,
        places.get(("line",)),
    )  # fmt: skip


def _places(needs: Needs) -> dict[tuple[str, ...], int]:
    """Return where each fact, or what another place has to say, stands in a key."""
    found: dict[tuple[str, ...], int] = {(name,): i for i, name in enumerate(sorted(needs.own))}
    for there in sorted(needs.hops):
        if there is Element.ROOF:
            for name in sorted(needs.hops[there].own):
                found["roof", name] = len(found)
        else:
            found[(there.value,)] = len(found)
    return found


class _Reader:
    """Makes functions from a key to numbers."""

    def __init__(self, element: Element, places: Mapping[tuple[str, ...], int]) -> None:
        self.element = element
        self.places = places
        self.through: dict[Fact, dict[Any, _Range]] = {}

    def expression(self, expression: Expression) -> Callable[[tuple[Any, ...]], list[_Range]]:
        match expression:
            case Taken(operand):
                return self.operand(operand)
            case Interval(least, greatest):
                low, high = self.expression(least), self.expression(greatest)
                return lambda key: [(low(key)[0][0], high(key)[0][1])]
            case Combined("sum", (operand,), _):
                parts = self.operand(operand)
                return lambda key: [_sum(parts(key))]
            case Reckon(reckoning, inputs) if reckoning.name == "gap left at a temperature":
                return self.gap_left(dict(inputs))
            case Reckon(reckoning, inputs) if reckoning.name == "caps short":
                return self.caps_short(dict(inputs))
            case _:
                raise _Cannot

    def operand(self, operand: Operand) -> Callable[[tuple[Any, ...]], list[_Range]]:
        if not isinstance(operand, FactRef):
            raise _Cannot
        fact, derivation = operand.fact, operand.fact.derivation
        if fact.element is Element.LINE and self.element is Element.DELIVERY:
            return self.of_lines(operand)
        if fact.element not in (self.element, Element.ROOF):
            raise _Cannot
        if operand.over not in (None, Over.EACH):
            raise _Cannot
        if isinstance(derivation, Derivation):
            if fact.element is not self.element:
                return _Reader(fact.element, _roof_places(self.places)).expression(
                    derivation.expression
                )
            return self.expression(derivation.expression)
        way = (fact.name,) if fact.element is self.element else ("roof", fact.name)
        if way not in self.places:
            raise _Cannot
        return _recorded(fact, self.places[way])

    def of_lines(self, operand: FactRef) -> Callable[[tuple[Any, ...]], list[_Range]]:
        if operand.over is not Over.EACH or operand.fact.derivation is None:
            raise _Cannot
        place = self.places["line",]
        known = self.through.setdefault(operand.fact, {})

        def values(key: tuple[Any, ...]) -> list[_Range]:
            if key[place] is None:
                raise KeyError(key)
            return [known[line] for line in key[place]]

        return values

    def gap_left(
        self, inputs: dict[str, tuple[Operand, ...]]
    ) -> Callable[[tuple[Any, ...]], list[_Range]]:
        gap, expansion, start, end = (
            self.one(inputs[name])
            for name in ("gap", "expansion", "surface temperature", "target temperature")
        )
        edges = self.one(inputs["edge distances"])

        def values(key: tuple[Any, ...]) -> list[_Range]:
            sides = edges(key)
            (size, _), (slow, fast) = gap(key)[0], expansion(key)[0]
            warmer = end(key)[0][0] - start(key)[0][0]
            moving = sum(side for side, _ in sides)
            if len(sides) not in (1, 2) or slow < 0 or fast < slow or size < 0 or min(sides)[0] < 0:
                raise KeyError(key)
            one, other = size - slow * moving * warmer, size - fast * moving * warmer
            return [(min(one, other), max(one, other))]

        return values

    def caps_short(
        self, inputs: dict[str, tuple[Operand, ...]]
    ) -> Callable[[tuple[Any, ...]], list[_Range]]:
        needed, delivered = self.one(inputs["needed"]), self.one(inputs["delivered"])

        def values(key: tuple[Any, ...]) -> list[_Range]:
            (least, most), (came, _) = needed(key)[0], delivered(key)[0]
            return [(max(0.0, least - came), max(0.0, most - came))]

        return values

    def one(self, operands: tuple[Operand, ...]) -> Callable[[tuple[Any, ...]], list[_Range]]:
        if len(operands) != 1:
            raise _Cannot
        return self.operand(operands[0])


def _roof_places(places: Mapping[tuple[str, ...], int]) -> dict[tuple[str, ...], int]:
    return {way[1:]: place for way, place in places.items() if way[0] == "roof" and len(way) > 1}


def _recorded(fact: Fact, place: int) -> Callable[[tuple[Any, ...]], list[_Range]]:
    known: dict[Any, list[_Range]] = {}

    def values(key: tuple[Any, ...]) -> list[_Range]:
        part = key[place]
        found = known.get(part)
        if found is None:
            if len(known) >= _MOST:
                known.clear()
            found = known[part] = _read(fact, part)
        return found

    return values


def _read(fact: Fact, part: Any) -> list[_Range]:  # noqa: ANN401 - a part of a key
    """Return a reading as numbers, one a side; raises KeyError where it is not exactly known."""
    if not is_readable(fact, part):
        raise KeyError(part)
    sides = part if fact.per_side and isinstance(part, tuple) else (part,)
    found = []
    for side in sides:
        raw = side[0] if isinstance(side, tuple) else side
        value = None if raw is UNSET or raw is None else read_value(raw, fact)
        if not isinstance(value, Quantity) or isinstance(value.amount, Span):
            raise KeyError(part)
        found.append((float(value.amount), float(value.amount)))
    return found


def _sum(parts: list[_Range]) -> _Range:
    return sum(low for low, _ in parts), sum(high for _, high in parts)


def _certain(limit: Limit) -> Callable[[float, float, float], bool]:
    """Return a test that a value between two numbers meets the limit for certain."""
    match limit:
        case AtMost(Quantity() as figure) if not isinstance(figure.amount, Span):
            most = float(figure.amount)
            return lambda _, high, size: high < most - _CLEAR * max(size, abs(most))
        case AtLeast(Quantity() as figure) if not isinstance(figure.amount, Span):
            least = float(figure.amount)
            return lambda low, _, size: low > least + _CLEAR * max(size, abs(least))
        case Not(AtMost(Quantity() as figure)) if not isinstance(figure.amount, Span):
            return _certain(AtLeast(figure))
        case Not(AtLeast(Quantity() as figure)) if not isinstance(figure.amount, Span):
            return _certain(AtMost(figure))
        case EqualTo(Quantity(amount=0), None):  # of whole numbers, which floats hold exactly
            return lambda low, high, _: low == 0 == high
        case _:
            raise _Cannot
