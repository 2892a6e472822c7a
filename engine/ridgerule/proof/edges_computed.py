"""Edges of rules that rest on computed facts, which no case can give.

Here the small roofs are those of the rule's own cases. A recorded fact is stepped in them as in
any; of a computed one, the readings that it is computed from are stepped between two cases that
differ in one reading and come out otherwise, until one step of that reading is left between.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.audit.graduations import graduation
from ridgerule.audit.subjects import value_text
from ridgerule.enclosures import Span, exact
from ridgerule.facts import read_value
from ridgerule.proof.bounds import Bound, Edge, Row, bounds_of, stepped_by
from ridgerule.proof.parts import forced
from ridgerule.proof.readings import data_of, is_possible, shifted, written
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.audit.plan import Case
    from ridgerule.audit.regions import Situation
    from ridgerule.documents import Data
    from ridgerule.facts import Fact
    from ridgerule.proof.bench import Bench, Laid
    from ridgerule.proof.choices import Choices
    from ridgerule.proof.parts import Part

BY_CASES = "computed: proved by its cases"
NO_CASE = "no case of the rule shows it at its edges: proved by its cases alone"
_BEST = 3
_MOST_STEPS = 1 << 24
_MOST_ROWS = 4


class Tried(Struct, frozen=True):
    """A case tried on the rule, and on the rule with one part forced to hold and never to."""

    case: Case
    outcome: Outcome
    forced: tuple[Outcome, ...]
    here: Situation

    @property
    def turns(self) -> tuple[bool, ...]:
        """Whether it would come out otherwise if the part held, and if it did not."""
        return tuple(outcome is not self.outcome for outcome in self.forced)


def computed_edges(bench: Bench, parts: Sequence[Part], choices: Choices) -> Iterator[Row]:
    """Yield what every part of a rule comes to at its edges, around the rule's own cases.

    Raises `EngineDiffers` where the engine says otherwise than the limits compared.
    """
    for part in parts:
        tries = _Tries(bench, part)
        for nth, ref in enumerate(stepped_by(part)):
            if ref.fact.derivation is None:
                yield _stepped(tries, nth, choices)
            else:
                yield from _narrowed_rows(tries)
                break


class _Tries:
    """Tries cases of a rule, on the rule and on the rule with one part forced."""

    def __init__(self, bench: Bench, part: Part) -> None:
        self.bench, self.part = bench, part
        check = bench.roofs.check
        self.rules = tuple(forced(check, part, holds=holds) for holds in (True, False))
        self.own = [self._tried(laid) for laid in bench.own]

    def tried(self, given: Mapping[str, Data]) -> Tried | None:
        """Return what comes of a case; None where it can't be laid out."""
        laid = self.bench.laid(given, Outcome.NOT_VERIFIED)
        return None if laid is None else self._tried(laid)

    def _tried(self, laid: Laid) -> Tried:
        outcomes = tuple(self.bench.outcome(laid, rule) for rule in self.rules)
        return Tried(laid.case, laid.outcome, outcomes, laid.here)

    def given_with(self, case: Case, name: str, data: Data) -> dict[str, Data] | None:
        """Return what a case gives with other data for one fact; None where it doesn't give it."""
        key = next((key for key in case.given if key.split()[-1] == name), None)
        return None if key is None else {**case.given, key: data}

    def score(self, tries: Sequence[Tried]) -> int:
        """Return how well tries show that the part decides: 0 not at all."""
        outcomes = {tried.outcome for tried in tries}
        if len(outcomes) < 2 or not all(map(any, zip(*(t.turns for t in tries), strict=True))):
            return 0
        sides = {Outcome.PASS, Outcome.FAIL}
        if self.part.is_condition:
            sides = {Outcome.NOT_APPLICABLE, Outcome.FAIL}
        return _BEST if sides <= outcomes else 1


def _stepped(tries: _Tries, nth: int, choices: Choices) -> Row:
    """Return the readings of a recorded fact around a bound, in the case that shows them best."""
    best: tuple[int, Bound, list[tuple[int, str, Tried]]] | None = None
    for base in tries.own:
        bounds = bounds_of(tries.part, base.here, choices.named)
        bound = bounds[nth] if nth < len(bounds) else None
        if bound is None or not bound.readings:
            continue
        for found in _trials(tries, base.case, bound, choices):
            score = tries.score([tried for _, _, tried in found])
            if score > (best[0] if best else 0):
                best = (score, bound, found)
        if best and best[0] == _BEST:
            break
    if best is None:
        return Row(tries.part, bounds_of(tries.part, {})[nth], note=NO_CASE)
    _, bound, found = best
    note = f"with {bound.against[0]} {value_text(bound.against[1])}" if bound.against else ""
    edges = tuple(Edge(text, tried.outcome, tried.case, side) for side, text, tried in found)
    return Row(tries.part, bound, edges, note)


def _trials(
    tries: _Tries, case: Case, bound: Bound, choices: Choices
) -> Iterator[list[tuple[int, str, Tried]]]:
    """Yield the ways to read a fact around a bound, all else as a case gives it."""
    name = bound.ref.fact.full_name
    ways = [choices.ways(bound.ref, value) for _, value in bound.readings]
    single = bound.ref.over is None
    for nth_way in zip(*ways, strict=False):
        found = []
        for (side, value), way in zip(bound.readings, nth_way, strict=True):
            if way is None:
                continue
            data: Data = data_of(way[0]) if single else [data_of(each) for each in way]
            given = tries.given_with(case, name, data)
            tried = tries.tried(given) if given is not None else None
            if tried is not None:
                found.append((side, value_text(value), tried))
        if found:
            yield found


def _narrowed_rows(tries: _Tries) -> Iterator[Row]:
    """Yield a row for each reading that takes the rule from one outcome to another."""
    part, rows = tries.part, []
    for fact, group in _groups(tries):
        shown: dict[Quantity, Tried] = {}
        for one, other in pairwise(group):
            if one[1].outcome is not other[1].outcome:
                shown |= _narrowed(tries, fact, one, other)
        if tries.score([*shown.values()]) == _BEST:
            edges = tuple(Edge(value.text, t.outcome, t.case) for value, t in shown.items())
            rows.append(Row(part, Bound(part.ref, part), edges, f"by {fact.full_name}"))
    yield from rows[:_MOST_ROWS] or [_nudged_row(tries)]


def _nudged_row(tries: _Tries) -> Row:
    """Return a case of the rule that lies on an edge, and the same one step further."""
    part = tries.part
    best = (0, Row(part, Bound(part.ref, part), note=BY_CASES))
    for fact, reading, tried in _readings(tries):
        for steps in (-1, 1):
            value = shifted(reading, fact, steps)
            if not isinstance(value, Quantity) or not is_possible(value, fact):
                continue
            given = tries.given_with(tried.case, fact.full_name, data_of(value))
            other = tries.tried(given) if given is not None else None
            if other is None or (score := tries.score([tried, other])) <= best[0]:
                continue
            ends = [(reading, tried), (value, other)][::steps]
            edges = tuple(Edge(v.text, t.outcome, t.case) for v, t in ends)
            best = (score, Row(part, Bound(part.ref, part), edges, f"by {fact.full_name}"))
    return best[1]


def _readings(tries: _Tries) -> Iterator[tuple[Fact, Quantity, Tried]]:
    """Yield each reading of a quantity that a case of the rule gives by itself."""
    for tried in tries.own:
        for key, data in tried.case.given.items():
            fact = tries.bench.roofs.vocabulary.by_name[key.split()[-1]]
            found = read_value(data, fact)
            if isinstance(found, Quantity) and not isinstance(found.amount, Span):
                yield fact, found, tried


_Read = tuple[Quantity, Tried]
"""A case, and what it gives for one fact."""


def _groups(tries: _Tries) -> Iterator[tuple[Fact, list[_Read]]]:
    """Yield the rule's cases that differ in nothing but one reading, in its order."""
    groups: dict[tuple[str, str], tuple[Fact, dict[Quantity, Tried]]] = {}
    for fact, reading, tried in _readings(tries):
        given = tried.case.given.items()
        others = sorted((k, v) for k, v in given if k.split()[-1] != fact.full_name)
        known = groups.setdefault((fact.full_name, repr(others)), (fact, {}))
        known[1].setdefault(reading, tried)
    for fact, group in groups.values():
        if len({tried.outcome for tried in group.values()}) > 1:
            yield fact, sorted(group.items(), key=_amount)


def _amount(read: _Read) -> Fraction:
    amount = read[0].amount
    return Fraction(0) if isinstance(amount, Span) else Fraction(amount)


def _narrowed(tries: _Tries, fact: Fact, one: _Read, other: _Read) -> dict[Quantity, Tried]:
    """Return the readings between two at which the outcome turns, one step apart."""
    points = _Points(tries, fact, one, other)
    left = points.turn(0, points.last, one[1].outcome)
    found = dict([points.at(left), points.at(left + 1)])
    if points.at(left + 1)[1].outcome is not other[1].outcome:
        right = points.turn(left + 1, points.last, other[1].outcome, from_above=True)
        found |= dict([points.at(right), points.at(right + 1)])
    return found


class _Points:
    """The readings from one to another, a graduation apart, each tried when it is asked for."""

    def __init__(self, tries: _Tries, fact: Fact, one: _Read, other: _Read) -> None:
        self.tries, self.fact, self.first = tries, fact, one
        self.step = graduation(one[0], fact)
        steps = (_amount(other) - _amount(one)) / self.step
        self.last = min(max(1, ceil(steps)), _MOST_STEPS)
        self.known = {0: one, self.last: other}

    def at(self, nth: int) -> _Read:
        """Return the reading at a point; the one below it, where a point can't be written."""
        if nth not in self.known:
            value, case = self.first[0], self.first[1].case
            amount = exact(_amount(self.first) + nth * self.step)
            reading = written(amount, value.dimension, like=value.text)
            data = None if reading is None else data_of(reading)
            given = self.tries.given_with(case, self.fact.full_name, data)
            tried = self.tries.tried(given) if given is not None and reading is not None else None
            self.known[nth] = (
                self.at(nth - 1) if tried is None or reading is None else (reading, tried)
            )
        return self.known[nth]

    def turn(self, low: int, high: int, outcome: Outcome, *, from_above: bool = False) -> int:
        """Return the last point before the outcome is no longer this, or before it becomes so."""
        while high - low > 1:
            middle = (low + high) // 2
            is_same = self.at(middle)[1].outcome is outcome
            if is_same is not from_above:
                low = middle
            else:
                high = middle
        return low
