"""What is stepped around to prove a part of a rule: each figure of it, or all that it lists."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.audit.graduations import graduation
from ridgerule.audit.limits import (
    AgreedBy,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    NearestOf,
    NoneOf,
    OneOf,
    Stated,
)
from ridgerule.enclosures import add, multiply
from ridgerule.facts import FactRef, Plain, Value
from ridgerule.proof.choices import ANY_OTHER_WORDS, ends_of, middles
from ridgerule.proof.readings import beside, can_come_to
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridgerule.audit.findings import Outcome
    from ridgerule.audit.limits import Operand
    from ridgerule.audit.plan import Case
    from ridgerule.audit.regions import Situation
    from ridgerule.audit.words import Named
    from ridgerule.proof.parts import Part

UNDER, ON, OVER = -1, 0, 1
LISTED, NOT_LISTED = 0, 1
_SIDES = {UNDER: "under", OVER: "over"}


class Bound(Struct, frozen=True):
    """A figure or a list that readings of a fact are held against."""

    ref: FactRef
    part: Part
    """The part, or the one of its figures that is stepped around, in its place."""
    note: str = ""
    """Which of a part's figures it is, where the part does not say."""
    readings: tuple[tuple[int, Value], ...] = ()
    """Each with its side: under, on or over a figure; listed or not."""
    ordered: bool = False
    unwritten: tuple[int, ...] = ()
    """The sides of a figure that readings can lie on, and none can be written to."""
    against: tuple[str, Value] | None = None
    """The other fact that it stands for, with its value."""


class Edge(Struct, frozen=True):
    """One reading and what came out, with the whole small roof that it was given in."""

    reading: str
    outcome: Outcome
    case: Case
    side: int = ON


class Row(Struct, frozen=True):
    """A figure, or what is listed, with the readings that it was tried with."""

    part: Part
    bound: Bound
    edges: tuple[Edge, ...] = ()
    note: str = ""
    """Why it has none, or what was tried where that is not plain."""

    @property
    def notes(self) -> str:
        """All that is to be said beside the readings."""
        sides = [_SIDES[side] for side in self.bound.unwritten]
        unwritten = f"a step {' and '.join(sides)} can't be written exactly" if sides else ""
        return "; ".join(filter(None, (self.note, unwritten)))

    @property
    def is_ordered(self) -> bool:
        """Whether the readings lie under, on and over a figure."""
        return self.bound.ordered

    def said(self, name: Named) -> str:
        """Return what is asked, its facts as `name` words them."""
        return ", ".join(filter(None, (self.bound.part.said(name), self.bound.note)))


def stepped_by(part: Part) -> tuple[FactRef, ...]:
    """Return what is stepped for each bound of a part, in the order of `bounds_of`."""
    match part.limit:
        case Between() | EqualTo(within=Quantity()):
            return (part.ref, part.ref)
        case NearestOf(to, values):
            return (part.ref, *(to for _ in values[1:]))
        case _:
            return (part.ref,)


def bounds_of(  # noqa: PLR0911 - one branch a kind of limit, a closed list
    part: Part, here: Situation, named: frozenset[Value] = frozenset()
) -> tuple[Bound, ...]:
    """Return the bounds of a part where other facts have the values that a situation says.

    A bound without readings stands where these are not known. `named` are the words that the
    rule names anywhere: one that none of its parts lists is the better one to leave a list by.
    """
    match part.limit:
        case AtLeast(operand) | AtMost(operand):
            return (_around(part, operand, here),)
        case Between(least, most):
            low, high = replace(part, limit=AtLeast(least)), replace(part, limit=AtMost(most))
            return _around(low, least, here), _around(high, most, here)
        case EqualTo(operand, within) if within is not None:
            return _ends(part, operand, within, here)
        case EqualTo(operand):
            return (_equal(part, operand, here, named),)
        case AgreedBy(facts):
            return (_equal(part, facts[0], here, named),)
        case OneOf(values) | NoneOf(values):
            return (_listed(part, values, named),)
        case Stated(present):
            return (_listed(part, (present,), named),)
        case NearestOf(to, values):
            steps = (_midway(part, to, value) for value in middles(values))
            return (_listed(part, values, named), *steps)
        case _:
            raise TypeError(f"a part with other limits in it: {part.limit!r}")


def _around(part: Part, operand: Operand, here: Situation) -> Bound:
    """Return the readings around the figure that an operand stands for."""
    value, against = _known(operand, here)
    return Bound(part.ref, part) if value is None else _ordered(part, value, against=against)


def _ordered(
    part: Part, figure: Value, note: str = "", *, against: tuple[str, Value] | None
) -> Bound:
    readings, unwritten = _steps(part.ref, figure)
    return Bound(part.ref, part, note, readings, ordered=True, unwritten=unwritten, against=against)


def _ends(part: Part, operand: Operand, within: Quantity, here: Situation) -> tuple[Bound, ...]:
    """Return the readings around the least and the greatest that a tolerance allows."""
    value, against = _known(operand, here)
    ends: Sequence[Value | None] = (None, None) if value is None else ends_of(value, within)
    return tuple(
        Bound(part.ref, part, name) if end is None else _ordered(part, end, name, against=against)
        for name, end in zip(("low end", "high end"), ends, strict=False)
    )


def _equal(part: Part, operand: Operand, here: Situation, named: frozenset[Value]) -> Bound:
    value, against = _known(operand, here)
    if value is None:
        return Bound(part.ref, part)
    if isinstance(value, (Quantity, dt.date)):
        return _ordered(part, value, against=against)
    return replace(_listed(part, (value,), named), against=against)


def _known(operand: Operand, here: Situation) -> tuple[Value | None, tuple[str, Value] | None]:
    """Return an operand's value, and the fact that it is the value of; None where unknown."""
    if not isinstance(operand, FactRef):
        return operand, None
    values = here.get(str(operand))
    return (None, None) if not values else (values[0], (str(operand), values[0]))


def _steps(ref: FactRef, figure: Value) -> tuple[tuple[tuple[int, Value], ...], tuple[int, ...]]:
    """Return the readings beside a figure, and the sides to which none can be written."""
    readings, unwritten = [], []
    for side, value in zip((UNDER, ON, OVER), beside(figure, ref.fact), strict=True):
        if value is not None and can_come_to(value, ref):
            readings.append((side, value))
        elif value is None and side != ON and _lies_there(ref, figure, side):
            unwritten.append(side)
    return tuple(readings), tuple(unwritten)


def _lies_there(ref: FactRef, figure: Value, side: int) -> bool:
    """Tell whether a reading can lie to a side of a figure."""
    if not isinstance(figure, Quantity):
        return False
    amount = add(figure.amount, multiply(side, graduation(figure, ref.fact)))
    return can_come_to(Quantity(figure.dimension, amount, ""), ref)


def _listed(part: Part, values: Iterable[Value], named: frozenset[Value]) -> Bound:
    """Return the values of a list, and one that it leaves out."""
    listed = tuple(dict.fromkeys(values))
    other = _not_listed(part.ref, listed, named)
    readings = [(LISTED, value) for value in listed if can_come_to(value, part.ref)]
    others = [] if other is None else [(NOT_LISTED, other)]
    return Bound(part.ref, part, "", (*readings, *others))


def _not_listed(ref: FactRef, listed: tuple[Value, ...], named: frozenset[Value]) -> Value | None:
    match ref.fact.dimension:
        case Plain.CHOICE:
            others = [choice for choice in ref.fact.choices if choice not in listed]
            return next(
                (choice for choice in others if choice not in named), next(iter(others), None)
            )
        case Plain.YES_NO:
            return next((value for value in (True, False) if value not in listed), None)
        case Plain.TEXT:
            return ANY_OTHER_WORDS
        case _:
            near = (value for each in listed for value in beside(each, ref.fact))
            possible = (v for v in near if v is not None and can_come_to(v, ref))
            return next((value for value in possible if value not in listed), None)


def _midway(part: Part, to: FactRef, figure: Quantity | None) -> Bound:
    if figure is None:
        return Bound(to, part)
    readings, unwritten = _steps(to, figure)
    return Bound(
        to, part, f"half way at {figure.text}", readings, ordered=True, unwritten=unwritten
    )
