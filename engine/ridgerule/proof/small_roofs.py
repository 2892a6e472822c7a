"""Small roofs to try a rule on: readings laid out as a case, and what the rule then sees of them.

What a rule should say of such a roof is worked out here without the engine: the words that make
one of many readings (`least`, `spread` …) here, the limits in `audit/comparing.py`.
"""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.cases import judged, laid_out
from ridgerule.audit.comparing import condition_holds, fact_meets
from ridgerule.audit.findings import Outcome
from ridgerule.audit.limits import nodes
from ridgerule.audit.places import ONE
from ridgerule.audit.plan import Case
from ridgerule.audit.subjects import ANYTHING, reduced_fact, subjects
from ridgerule.enclosures import add, compare, divide, subtract
from ridgerule.facts import Element, FactRef, Host, Over
from ridgerule.problems import InputRejected
from ridgerule.proof.readings import data_of
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridgerule.audit.plan import Check
    from ridgerule.audit.regions import Situation
    from ridgerule.documents import Data
    from ridgerule.enclosures import Amount
    from ridgerule.facts import Fact, Value, Vocabulary
    from ridgerule.record import Place, Record

Readings = dict[str, tuple["Value", ...]]
"""Readings of each recorded fact, by its full name: one, or one a place or side."""


class EngineDiffers(Exception):  # noqa: N818 - says what happened
    """The engine says otherwise of a small roof than its rule's limits compared: our own fault."""


class SmallRoofs:
    """Lays out the facts that one rule asks."""

    def __init__(self, check: Check, vocabulary: Vocabulary) -> None:
        self.check = check
        self.vocabulary = vocabulary
        found = (node for node in nodes((check.when, check.of, check.limit)))
        self.refs = tuple(dict.fromkeys(node for node in found if isinstance(node, FactRef)))
        self._named = tuple((ref, str(ref), ref.fact.full_name) for ref in self.refs)
        self.facts: dict[str, Fact] = {ref.fact.full_name: ref.fact for ref in self.refs}
        self.is_computed = any(fact.derivation is not None for fact in self.facts.values())

    def is_single(self, element: Element) -> bool:
        """Tell whether the rule's place sees one place of an element alone, itself or another."""
        at = self.check.at
        if element in (at, Element.ROOF):
            return True
        if at is Element.STATION:
            return element is (Element.PLANE if self.check.host is Host.PLANE else Element.LINE)
        return element in ONE.get(at, frozenset())

    def settled(self, readings: Readings) -> Readings:
        """Return readings as many as there are places and sides; the last one stands for more."""
        found = {}
        for name, values in readings.items():
            fact = self.facts[name]
            many = self._places(fact.element, readings)
            if fact.per_side:
                found[name] = _filled(values, self._sides(fact, readings)) * many
            else:
                found[name] = _filled(values, many)
        return found

    def situation(self, readings: Readings) -> Situation:
        """Return what the rule is told, as far as the readings say it, by the words that ask it."""
        here: Situation = {}
        for ref, name, fact in self._named:
            values = readings.get(fact)
            if values is None:
                continue
            if ref.over is None:
                here[name] = values[:1]
            elif ref.over in (Over.EACH, Over.ANY):
                here[name] = values
            elif (one := reduced(values, ref)) is not None:
                here[name] = (one,)
        return here

    def case(self, readings: Readings, expect: Outcome) -> Case:
        """Return settled readings as a case."""
        ordered = (name for name in self.facts if name in readings)
        given = {name: self._given(name, readings) for name in ordered}
        return case_of(given, expect, self.check)

    def outcomes(self, readings: Readings, rules: Sequence[Check]) -> list[Outcome | None]:
        """Return what should come out of settled readings by forms of the rule; None: not known."""
        here = self.situation(readings)
        return [expected(rule, here) for rule in rules]

    def run(self, readings: Readings) -> tuple[Case, Outcome] | str:
        """Return what the engine says of settled readings, or why they make no case.

        Raises `EngineDiffers` where that is not what the limits compared say.
        """
        here = self.situation(readings)
        due = expected(self.check, here)
        case = self.case(readings, due or Outcome.NOT_VERIFIED)
        try:
            record, place = laid_out(self.check, case, self.vocabulary)
        except InputRejected as rejected:
            return rejected.problems[0].found
        told = seen_by(self.check, self.refs, record, place)
        if amiss := [name for name, values in here.items() if told.get(name) != values]:
            return f"no small roof shows {amiss[0]} so"
        came = judged(self.check, case, record, place).finding.outcome
        if due is not None and came is not due:
            raise EngineDiffers(differing(self.check, case, came, due))
        return case, came

    def _places(self, element: Element, readings: Readings) -> int:
        """Return how many places have readings of an element's facts."""
        counts = [
            len(values)
            for name, values in readings.items()
            if (fact := self.facts[name]).element is element and not fact.per_side
        ]
        return 1 if self.is_single(element) else max([1, *counts])

    def _sides(self, fact: Fact, readings: Readings) -> int:
        on_line = fact.element in _ON_LINES
        if fact.element is Element.STATION and self.check.host is Host.PLANE:
            on_line = False
        return max(2, self._places(Element.PLANE, readings)) if on_line else 1

    def _given(self, name: str, readings: Readings) -> Data:
        fact = self.facts[name]
        values: list[Data] = [data_of(value) for value in readings[name]]
        if not fact.per_side:
            return values[0] if self.is_single(fact.element) else values
        sides = len(values) // self._places(fact.element, readings)
        rows: list[Data] = [values[i : i + sides] for i in range(0, len(values), sides)]
        return rows if len(rows) > 1 else values


_ON_LINES = (Element.LINE, Element.STATION, Element.JOINT, Element.ATTIC)


def _filled(values: tuple[Value, ...], many: int) -> tuple[Value, ...]:
    return (*values[:many], *values[-1:] * (many - len(values)))


def reduced(values: Sequence[Value], ref: FactRef) -> Value | None:
    """Return what a word makes of several readings; None where they are too few or can't be so."""
    dimension = reduced_fact(ref)
    if dimension is None:
        return None
    if ref.over is Over.COUNT:
        return Quantity(dimension, len(values), "")
    amounts = [value.amount for value in values if isinstance(value, Quantity)]
    if len(amounts) < (2 if ref.over is Over.SPREAD else 1):
        return None
    amount = _mean(amounts) if ref.over is Over.MEAN else _outermost(amounts, ref.over)
    return None if amount is None else Quantity(dimension, amount, "")


def _mean(amounts: list[Amount]) -> Amount:
    total: Amount = 0
    for amount in amounts:
        total = add(total, amount)
    return divide(total, Fraction(len(amounts)))


def _outermost(amounts: list[Amount], over: Over | None) -> Amount | None:
    """Return the least, the greatest or what lies between; None where they can't be ordered."""
    least, greatest = amounts[0], amounts[0]
    for amount in amounts[1:]:
        below, above = compare(amount, least), compare(amount, greatest)
        if below is None or above is None:
            return None
        least, greatest = (amount if below < 0 else least), (amount if above > 0 else greatest)
    if over is Over.SPREAD:
        return subtract(greatest, least)
    return least if over is Over.LEAST else greatest


def expected(check: Check, here: Situation) -> Outcome | None:
    """Return what a rule should come to in a situation; None where that isn't known from it."""
    try:
        applies = condition_holds(check.when, here)
        if applies is not True:
            return Outcome.NOT_VERIFIED if applies is None else Outcome.NOT_APPLICABLE
        if not here[str(check.of)]:
            return Outcome.NOT_APPLICABLE  # it is stated that there is nothing to have a reading
        met = fact_meets(check.of, check.limit, here)
    except KeyError:  # something that it asks is not known there
        return None
    if met is None:
        return Outcome.NOT_VERIFIED
    return Outcome.PASS if met else Outcome.FAIL


def case_of(given: Mapping[str, Data], expect: Outcome, check: Check) -> Case:
    """Return a case of a rule that no file has."""
    return Case(MappingProxyType(dict(given)), expect, check.rule.location)


def seen_by(check: Check, refs: Sequence[FactRef], record: Record, place: Place) -> Situation:
    """Return what a record tells a rule at a place; what is unknown there is left out.

    So is what the rule might ask better evidence of: a limit asks it of more facts than its own.
    """
    here: Situation = {}
    for ref in refs:
        asked = ref == check.of or ref.fact.element is place.element
        evidence = check.evidence if asked else ANYTHING
        items = subjects(record, place, ref, evidence=evidence).items
        values = [item.value for item in items if item.value is not None and not item.missing]
        if len(values) == len(items):
            here[str(ref)] = tuple(values)
    return here


def differing(check: Check, case: Case, came: Outcome, due: Outcome) -> str:
    """Return in words that the engine and the limits compared come to two outcomes."""
    given = ", ".join(f"{name}: {value}" for name, value in case.given.items())
    return f"{check.rule.full_id} with {given}: `{came}` by the engine, `{due}` by its limits"
