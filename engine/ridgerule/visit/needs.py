"""What a rule needs to know at a place, reading by reading, before any of it is read.

A need says on what it hangs: a reading that only matters where a ridge is vented is needed only
if it is. Leaving such a condition out asks for more than is needed and never for less, so those
that nobody can answer by themselves, such as one on a computed fact, are left out.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, assert_never

from msgspec import Struct

from ridgerule.audit.expressions import (
    Combined,
    Derivation,
    Expression,
    Interval,
    Looked,
    Nearest,
    Reckon,
    Taken,
)
from ridgerule.audit.judge import Setting, holds, judge_fact
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
from ridgerule.audit.places import seen
from ridgerule.audit.subjects import ANYTHING, Evidence
from ridgerule.facts import Element, FactRef, Over
from ridgerule.quantities import Quantity
from ridgerule.visit.gaps import COMPLETE, gaps
from ridgerule.visit.givens import NO_MATTER_WHAT, Given, further, is_easy

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.audit.limits import Operand
    from ridgerule.audit.plan import Check
    from ridgerule.documents import Path
    from ridgerule.facts import Fact
    from ridgerule.record import Place, Record
    from ridgerule.visit.gaps import Gap


class Purpose(StrEnum):
    """What a reading is needed for."""

    JUDGED = "is judged by"
    """The limit is on the fact, or on what is computed from it."""
    HELD_AGAINST = "is needed for"
    """The limit names it, or picks its row of a table by it."""
    APPLIES = "decides about"
    """It tells whether the rule applies."""
    STATIONS = "tells how many stations are due for"
    NEIGHBOURS = "tells which planes meet"
    EDITION = "picks the edition in force of"
    WARRANTY = "is a condition of the warranty of"


class Need(Struct, frozen=True):
    """One reading that has to be known, at the place that has it."""

    place: Path
    fact: Fact
    purpose: Purpose
    check: Check | None
    """The rule; None for what no rule judges: an edition, a warranty's own condition."""
    about: str = ""
    """Without a rule: what it is needed for."""
    evidence: Evidence = ANYTHING
    only_if: frozenset[Given] = NO_MATTER_WHAT
    computes: Fact | None = None
    """The computed fact that it is needed for."""
    stations: int = 1
    """At a station: how many on its line or plane need it."""

    @property
    def key(self) -> tuple[object, ...]:
        """What makes it the same need gathered twice."""
        rule = same_question(self.check) if self.check else self.about
        computes = self.computes.full_name if self.computes else ""
        about = (rule, self.purpose, computes)
        return self.place, self.fact.full_name, about, self.evidence, self.only_if, self.stations


def same_question(check: Check) -> tuple[object, ...]:
    """Return what makes a rule one question in several rulebooks: the rule itself and its scope."""
    return check.identity, check.scope


class Aim(Struct, frozen=True):
    """What is being gathered for: carried from a rule down to the readings behind it."""

    purpose: Purpose
    check: Check | None = None
    about: str = ""
    evidence: Evidence = ANYTHING
    computes: Fact | None = None
    stations: int = 1


class Gatherer:
    """Gathers what rules need of one record; what the record decides already is not needed."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.needs: dict[tuple[object, ...], Need] = {}
        self.gaps: dict[Gap, None] = {}

    def rule(
        self, check: Check, place: Place, *, given: frozenset[Given], stations: int = 1
    ) -> None:
        """Gather what a rule needs at a place that it is asked at."""
        applies = Aim(Purpose.APPLIES, check)
        if check.when is not None:
            truth = holds(Setting(self.record, place), check.when).truth
            if truth is False:
                return
            self.condition(check.when, place, given=given, aim=applies)
            given = further(self.record, place, check.when, given)
        if check.of.over is Over.COUNT:
            stations = max(stations, _counted(check.limit))
        judged = Aim(Purpose.JUDGED, check, evidence=check.evidence, stations=stations)
        self.limit(check.of, check.limit, place, given=given, aim=judged)

    def condition(self, node: Limit, place: Place, *, given: frozenset[Given], aim: Aim) -> None:
        """Gather what it takes to tell whether a condition holds at a place."""
        if holds(Setting(self.record, place, aim.evidence), node).truth is not None:
            return
        match node:
            case Holds(ref, limit):
                self.limit(ref, limit, place, given=given, aim=aim)
            case AllOf(parts) | AnyOf(parts):
                for part in _easy_first(parts):
                    self.condition(part, place, given=given, aim=aim)
                    kept = part if isinstance(node, AllOf) else Not(part)
                    given = further(self.record, place, kept, given)
            case Not(part):
                self.condition(part, place, given=given, aim=aim)
            case _:
                raise TypeError(f"a limit where a condition is due: {node!r}")

    def limit(
        self, ref: FactRef, limit: Limit, place: Place, *, given: frozenset[Given], aim: Aim
    ) -> None:
        """Gather what it takes to hold a fact against a limit at a place."""
        setting = Setting(self.record, place, aim.evidence)
        if judge_fact(setting, ref, limit, evidence=aim.evidence).truth is not None:
            return
        match limit:
            case AllOf(parts) | AnyOf(parts):
                for part in _easy_first(parts):
                    self.limit(ref, part, place, given=given, aim=aim)
                    asked = part if isinstance(part, Holds) else Holds(ref, part)
                    kept = asked if isinstance(limit, AllOf) else Not(asked)
                    given = further(self.record, place, kept, given, evidence=aim.evidence)
            case Not(part):
                self.limit(ref, part, place, given=given, aim=aim)
            case Holds(other, part):
                here = other.fact.element is place.element
                evidence = aim.evidence if here else ANYTHING
                self.limit(other, part, place, given=given, aim=_against(aim, evidence))
            case Table():
                self.table(ref, limit, place, given=given, aim=aim)
            case _:
                self.fact(ref, place, given=given, aim=aim)
                for operand in _operands(limit):
                    self.fact(operand, place, given=given, aim=_against(aim))

    def table(
        self, ref: FactRef, table: Table, place: Place, *, given: frozenset[Given], aim: Aim
    ) -> None:
        """Gather what picks a table's row, and what each row that may be picked then needs."""
        for by in table.by:
            self.fact(by, place, given=given, aim=_against(aim))
        for row, rest in self.rows(table, place, given):
            self.limit(ref, row, place, given=rest, aim=aim)

    def rows(
        self, table: Table, place: Place, given: frozenset[Given]
    ) -> Iterator[tuple[Limit, frozenset[Given]]]:
        """Yield the limits of the rows that may be picked, each with what has to hold for it."""
        setting = Setting(self.record, place)
        for row in table.rows:
            keys = [Holds(by, key) for by, key in zip(table.by, row.keys, strict=True)]
            if any(holds(setting, key).truth is False for key in keys):
                continue
            rest = given
            for key in keys:
                rest = further(self.record, place, key, rest)
            yield row.limit, rest

    def fact(self, ref: FactRef, place: Place, *, given: frozenset[Given], aim: Aim) -> None:
        """Gather the readings behind a fact as a rule names it at a place."""
        element = ref.fact.element
        found = seen(self.record, place, element, ref.fact.host)
        holders = found.places
        if found.open:
            left_out = tuple(gaps(self.record, place, element, ref.fact.host))
            self.gaps.update(dict.fromkeys(left_out))
            if any(gap.path != COMPLETE for gap in left_out):
                # Nobody knows yet which of them it touches: any may be one.
                holders = self.record.places.get(element, holders)
        stations = max(aim.stations, 2 if ref.over is Over.SPREAD else 1)
        for holder in holders:
            if holder.only is None or ref.fact.needs <= holder.only:
                self.reading(ref.fact, holder, given=given, aim=_with(aim, stations=stations))

    def reading(self, fact: Fact, holder: Place, *, given: frozenset[Given], aim: Aim) -> None:
        """Gather a fact at the place that has it: itself, or what it is computed from."""
        if not isinstance(fact.derivation, Derivation):
            need = Need(
                place=holder.path,
                fact=fact,
                purpose=aim.purpose,
                check=aim.check,
                about=aim.about,
                evidence=aim.evidence,
                only_if=given,
                computes=aim.computes,
                stations=aim.stations,
            )
            self.needs[need.key] = need
            if fact.per_side:
                self.gaps.update(dict.fromkeys(gaps(self.record, holder, Element.PLANE)))
            return
        known = fact.derivation(self.record, holder, aim.evidence)
        if known.value is None or known.missing:
            within = _with(aim, computes=aim.computes or fact)
            self.expression(fact.derivation.expression, holder, given=given, aim=within)

    def expression(
        self, expression: Expression, place: Place, *, given: frozenset[Given], aim: Aim
    ) -> None:
        """Gather what a computed fact is computed from at the place that has it."""
        match expression:
            case Taken(operand):
                self.operands((operand,), place, given=given, aim=aim)
            case Combined(_, operands):
                self.operands(operands, place, given=given, aim=aim)
            case Nearest(to):
                self.operands((to,), place, given=given, aim=aim)
            case Interval(least, greatest):
                self.expression(least, place, given=given, aim=aim)
                self.expression(greatest, place, given=given, aim=aim)
            case Reckon(_, inputs):
                for _, operands in inputs:
                    self.operands(operands, place, given=given, aim=aim)
            case Looked(table):
                self.operands(table.by, place, given=given, aim=aim)
                for row, rest in self.rows(table, place, given):
                    self.operands(_values(row), place, given=rest, aim=aim)
            case _:
                assert_never(expression)

    def operands(
        self,
        operands: Iterable[Operand],
        place: Place,
        *,
        given: frozenset[Given],
        aim: Aim,
    ) -> None:
        """Gather those operands that are facts; only the place's own need its evidence."""
        for operand in operands:
            if isinstance(operand, FactRef):
                here = operand.fact.element is place.element
                evidence = aim.evidence if here else ANYTHING
                self.fact(operand, place, given=given, aim=_with(aim, evidence=evidence))


def _against(aim: Aim, evidence: Evidence = ANYTHING) -> Aim:
    """Return what a rule's fact is held against, of which any reading will do."""
    purpose = Purpose.HELD_AGAINST if aim.purpose is Purpose.JUDGED else aim.purpose
    return Aim(purpose, aim.check, aim.about, evidence, aim.computes)


def _with(
    aim: Aim,
    *,
    evidence: Evidence | None = None,
    computes: Fact | None = None,
    stations: int | None = None,
) -> Aim:
    return Aim(
        aim.purpose,
        aim.check,
        aim.about,
        aim.evidence if evidence is None else evidence,
        aim.computes if computes is None else computes,
        aim.stations if stations is None else stations,
    )


def _easy_first(parts: tuple[Limit, ...]) -> list[Limit]:
    """Return parts with those first that somebody can answer by themselves."""
    return sorted(parts, key=lambda part: not is_easy(part))


def _values(limit: Limit) -> Iterator[Operand]:
    """Yield what a row of a table that values are looked up in gives."""
    if isinstance(limit, EqualTo):
        yield limit.operand


def _operands(limit: Limit) -> Iterator[FactRef]:
    """Yield the other facts that a limit on one value names."""
    match limit:
        case AtLeast(operand) | AtMost(operand) | EqualTo(operand):
            found: tuple[Operand, ...] = (operand,)
        case Between(least, most):
            found = (least, most)
        case NearestOf(to):
            found = (to,)
        case AgreedBy(facts):
            found = facts
        case OneOf() | NoneOf() | Stated():
            found = ()
        case _:
            raise TypeError(f"a limit that joins others: {limit!r}")
    yield from (operand for operand in found if isinstance(operand, FactRef))


def _counted(limit: Limit) -> int:
    """Return how many readings a limit on their number asks for at the least, as far as it says."""
    match limit:
        case AtLeast(figure) | EqualTo(figure) | Between(figure):
            return _whole(figure)
        case AllOf(parts):
            return max(map(_counted, parts), default=1)
        case _:
            return 1


def _whole(figure: Operand) -> int:
    if isinstance(figure, Quantity) and isinstance(figure.amount, int):
        return max(1, figure.amount)
    return 1
