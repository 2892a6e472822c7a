"""Do a rule's cases show both sides of all it asks: each figure, each listed value, each condition.

A case shows a side of a part where the part decides: would it hold where it does not, or not hold
where it does, something else would come out. A side that some roof has and no case shows is
unproved. That a failing case lies further off a figure than one step is told as advice alone.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from msgspec import Struct, structs

from ridgerule.audit.findings import Outcome
from ridgerule.audit.graduations import graduation
from ridgerule.audit.limits import (
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    NearestOf,
    NoneOf,
    OneOf,
)
from ridgerule.audit.subjects import ANYTHING, reduced_fact, value_text
from ridgerule.enclosures import add, compare, multiply, subtract
from ridgerule.facts import FactRef, How, Over, Plain
from ridgerule.proof.bounds import LISTED, NOT_LISTED, ON, OVER, UNDER
from ridgerule.proof.choices import ends_of
from ridgerule.proof.edges_recorded import side_case
from ridgerule.proof.parts import decides, forced
from ridgerule.proof.readings import can_come_to
from ridgerule.proof.telling import some_roof_tells
from ridgerule.proof.unproved import Unproved
from ridgerule.quantities import Quantity
from ridgerule.trade.certainty import is_at_most

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from ridgerule.audit.limits import Operand
    from ridgerule.audit.plan import Case, Check
    from ridgerule.audit.subjects import Evidence
    from ridgerule.documents import Data
    from ridgerule.enclosures import Amount
    from ridgerule.facts import Value
    from ridgerule.proof.bench import Bench, Laid
    from ridgerule.proof.choices import Choices
    from ridgerule.proof.parts import Part


class End(Struct, frozen=True):
    """A figure of a part, and where what meets the part lies: over it, under it, or on it."""

    inside: int
    operand: Operand
    within: Quantity | None = None

    @property
    def words(self) -> str:
        """The figure in words."""
        if not isinstance(self.operand, FactRef):
            figure = self._figure(self.operand)
            return "" if figure is None else value_text(figure)
        if self.within is None:
            return str(self.operand)
        joint = "less" if self.inside == OVER else "and"
        return f"{self.operand} {joint} {self.within.text}"

    def value(self, laid: Laid) -> Value | None:
        """Return the figure in a case; None where it isn't known there."""
        if not isinstance(self.operand, FactRef):
            return self._figure(self.operand)
        values = laid.here.get(str(self.operand))
        return self._figure(values[0]) if values else None

    @property
    def fixed(self) -> Value | None:
        """The figure, where it is one and no other fact's."""
        return None if isinstance(self.operand, FactRef) else self._figure(self.operand)

    @property
    def is_computed(self) -> bool:
        """Whether the figure is a computed fact, so that no case lies just so beside it."""
        return isinstance(self.operand, FactRef) and self.operand.fact.derivation is not None

    def _figure(self, value: Value) -> Value | None:
        ends = ends_of(value, self.within)
        return ends[0 if self.inside == OVER else -1] if ends else None


class _Want(Struct, frozen=True, kw_only=True):
    """A side of a part that a case has to show."""

    part: Part
    holds: bool
    """Whether the part holds there, and decides by it."""
    where: str
    shows: Callable[[Laid], bool] = lambda _laid: True
    nth: int = 0
    is_side: Callable[[int, str], bool] = lambda _side, _reading: False
    """Picks the readings around the part's bound that lie there."""
    is_error: bool = True


def missing_sides(bench: Bench, parts: Sequence[Part], choices: Choices) -> tuple[Unproved, ...]:
    """Return the sides of a rule that its cases don't show, and some roof has."""
    found = [side for part in parts for side in _part_sides(bench, part, choices)]
    return (*found, *_evidence_sides(bench))


def _part_sides(bench: Bench, part: Part, choices: Choices) -> Iterator[Unproved]:
    if part.picks_row:
        return  # a row is shown by what its limit is shown by
    check = bench.roofs.check
    others = {holds: forced(check, part, holds=not holds) for holds in (True, False)}
    deciding = {
        holds: [
            laid for laid in bench.own if decides(part, laid.outcome, bench.outcome(laid, other))
        ]
        for holds, other in others.items()
    }
    missing: dict[tuple[int, bool], list[tuple[_Want, Case | None]]] = {}
    for want in _wants(part):
        if any(map(want.shows, deciding[want.holds])):
            continue
        told = missing.setdefault((want.nth, want.holds), [])
        if told and not want.is_error:
            continue  # the graver has been told
        if bench.roofs.is_computed:
            example, is_possible = None, some_roof_tells(check, others[want.holds])
        else:
            example, all_tried = side_case(
                bench, part, want.nth, choices, (others[want.holds], want.is_side)
            )
            is_possible = example is not None or not all_tried
        if is_possible:
            told.append((want, example))
    for (_, holds), wants in missing.items():
        if wants:
            yield _side(part, wants, holds=holds)


def _side(part: Part, wants: Sequence[tuple[_Want, Case | None]], *, holds: bool) -> Unproved:
    """Return sides of one part that are shown alike as one that is missing."""
    first, *rest = [want.where for want, _ in wants]
    if first.startswith(_WITH):
        first, rest = ", ".join([first, *(w.removeprefix(_WITH) for w in rest[:-1])]), rest[-1:]
        rest = [where.removeprefix(_WITH) for where in rest]
    where = " or ".join([first, *rest])
    return Unproved(
        f"{part.words}; no case shows that it {_verb(part, holds=holds)} {where}",
        is_error=wants[0][0].is_error,
        examples=tuple(example for _, example in wants if example is not None),
    )


_WITH = "with "


def _verb(part: Part, *, holds: bool) -> str:
    turned = sum(step == "part" for step in part.way) % 2 == 1
    yes, no = ("applies", "does not apply") if part.is_condition else ("passes", "fails")
    return yes if holds is not turned else no


def _wants(part: Part) -> Iterator[_Want]:
    """Yield the sides of a part that cases have to show."""
    match part.limit:
        case AtLeast(operand):
            yield from _end_wants(part, End(OVER, operand), 0)
        case AtMost(operand):
            yield from _end_wants(part, End(UNDER, operand), 0)
        case Between(least, most):
            yield from _end_wants(part, End(OVER, least), 0)
            yield from _end_wants(part, End(UNDER, most), 1)
        case EqualTo(operand, within) if within is not None:
            yield from _end_wants(part, End(OVER, operand, within), 0)
            yield from _end_wants(part, End(UNDER, operand, within), 1)
        case EqualTo(operand) if _is_ordered(part.ref):
            yield from _equal_wants(part, End(ON, operand))
        case OneOf(values) | NoneOf(values) | NearestOf(values=values):
            yield from _listed_wants(part, values, holds=not isinstance(part.limit, NoneOf))
        case _:
            yield from _word_wants(part)


def _is_ordered(ref: FactRef) -> bool:
    return reduced_fact(ref) is not None or ref.fact.dimension is Plain.DATE


def _end_wants(part: Part, end: End, nth: int) -> Iterator[_Want]:
    """Yield that a figure is met on it or a step inside, and broken outside."""
    inner, outer = _side_word(part, end.inside), _side_word(part, -end.inside)
    step = "a day" if _is_date(part) else "a step"
    outside = _beyond(part, end, -end.inside)
    if _is_loose(part, end):
        yield _Want(part=part, holds=True, where=f"on {end.words} or {inner} it", nth=nth)
        yield _Want(part=part, holds=False, where=f"{outer} {end.words}", shows=outside, nth=nth)
        return
    near, on = _near(part, end), _at_side(ON)
    yield _Want(
        part=part, holds=True, where=f"on {end.words} or {step} {inner} it", shows=near, nth=nth,
        is_side=on,
    )  # fmt: skip
    if not _can_be(part, end, -end.inside):
        return
    edge, close = _at_side(-end.inside), _beyond(part, end, -end.inside, steps=1)
    yield _Want(
        part=part, holds=False, where=f"{outer} {end.words}", shows=outside, nth=nth, is_side=edge
    )
    yield _Want(
        part=part, holds=False, where=f"{step} {outer} {end.words}", shows=close, nth=nth,
        is_side=edge, is_error=False,
    )  # fmt: skip


def _equal_wants(part: Part, end: End) -> Iterator[_Want]:
    """Yield that a figure is met on it, and broken under it and over it."""
    if _is_loose(part, end):
        yield _Want(part=part, holds=True, where=f"on {end.words}")
        yield _Want(part=part, holds=False, where=f"off {end.words}")
        return
    on = _picks(part, lambda value, figure: value == figure, end)
    yield _Want(part=part, holds=True, where=f"on {end.words}", shows=on, is_side=_at_side(ON))
    for side in (UNDER, OVER):
        if _can_be(part, end, side):
            off = _beyond(part, end, side)
            where = f"{_side_word(part, side)} {end.words}"
            yield _Want(part=part, holds=False, where=where, shows=off, is_side=_at_side(side))


def _listed_wants(part: Part, values: Sequence[Value], *, holds: bool) -> Iterator[_Want]:
    """Yield that each listed value is shown by itself, and that something else is shown too."""
    for value in values:
        if not can_come_to(value, part.ref):
            continue
        said = value_text(value)
        yield _Want(
            part=part, holds=holds, where=f"{_WITH}{said}", shows=_gives(part, value),
            is_side=_reads(said),
        )  # fmt: skip
    yield _Want(
        part=part, holds=not holds, where="with anything else", is_side=_at_side(NOT_LISTED)
    )


def _word_wants(part: Part) -> Iterator[_Want]:
    """Yield that a word, or what other facts say, is shown to be met and to be broken."""
    yield _Want(part=part, holds=True, where="then", is_side=_at_side(LISTED))
    yield _Want(part=part, holds=False, where="otherwise", is_side=_at_side(NOT_LISTED))


def _at_side(side: int) -> Callable[[int, str], bool]:
    return lambda at, _: at == side


def _reads(said: str) -> Callable[[int, str], bool]:
    return lambda at, reading: at != NOT_LISTED and reading == said


def _gives(part: Part, wanted: Value) -> Callable[[Laid], bool]:
    return _picks(part, lambda value, _: value == wanted)


def _is_date(part: Part) -> bool:
    return part.ref.fact.dimension is Plain.DATE and part.ref.over is not Over.COUNT


def _side_word(part: Part, side: int) -> str:
    under, over = ("before", "after") if _is_date(part) else ("under", "over")
    return over if side == OVER else under


def _is_loose(part: Part, end: End) -> bool:
    """Tell whether no reading can be placed just so beside a figure."""
    return part.ref.fact.derivation is not None or end.is_computed


def _can_be(part: Part, end: End, side: int) -> bool:
    """Tell whether what is asked of the fact can lie on a side of a figure at all."""
    figure = end.fixed
    if not isinstance(figure, Quantity):
        return True
    amount = add(figure.amount, multiply(side, _step(figure, part)))
    return can_come_to(Quantity(figure.dimension, amount, ""), part.ref)


def _picks(
    part: Part, test: Callable[[Value, Value | None], bool], end: End | None = None
) -> Callable[[Laid], bool]:
    """Return whether a case gives some value of a part's fact that passes a test."""

    def picks(laid: Laid) -> bool:
        figure = end.value(laid) if end is not None else None
        return any(test(value, figure) for value in laid.here.get(str(part.ref), ()))

    return picks


def _near(part: Part, end: End) -> Callable[[Laid], bool]:
    """Return whether a case lies on a figure or no more than a step inside it."""

    def test(value: Value, figure: Value | None) -> bool:
        off = _off(value, figure, end.inside)
        if off is None or figure is None:
            return False
        return bool(is_at_most(0, off)) and bool(is_at_most(off, _step(figure, part)))

    return _picks(part, test, end)


def _beyond(part: Part, end: End, side: int, *, steps: int | None = None) -> Callable[[Laid], bool]:
    """Return whether a case lies on a side of a figure, and no more than so many steps off."""

    def test(value: Value, figure: Value | None) -> bool:
        off = _off(value, figure, side)
        if off is None or figure is None or compare(off, 0) != 1:
            return False
        return steps is None or bool(is_at_most(off, multiply(steps, _step(figure, part))))

    return _picks(part, test, end)


def _off(value: Value, figure: Value | None, side: int) -> Amount | None:
    """Return how far a value lies to one side of a figure, in base units or days."""
    if isinstance(value, Quantity) and isinstance(figure, Quantity):
        return multiply(subtract(value.amount, figure.amount), side)
    if isinstance(value, dt.date) and isinstance(figure, dt.date):
        return (value - figure).days * side
    return None


def _step(figure: Value, part: Part) -> Amount:
    return graduation(figure, part.ref.fact) if isinstance(figure, Quantity) else 1


def _evidence_sides(bench: Bench) -> Iterator[Unproved]:
    """Yield that no case shows evidence that is too weak, or readings that are unknown."""
    check = bench.roofs.check
    open_cases = [laid for laid in bench.own if laid.outcome is Outcome.NOT_VERIFIED]
    asked = check.evidence
    for words, less, data in (
        ("evidence; no case shows that weaker evidence is not enough",
         structs.replace(asked, how=None), {"how": _weaker(asked), "photo": "a.jpg"}),
        ("photo; no case shows that it is missed",
         structs.replace(asked, photo=False), {"how": _accepted(asked)}),
    ):  # fmt: skip
        rule = structs.replace(check, evidence=less)
        if less != asked and not any(bench.outcome(laid, rule) is not laid.outcome
                                     for laid in open_cases):  # fmt: skip
            case = _evidence_case(bench, data, rule)
            yield Unproved(words, examples=() if case is None else (case,))
    anyhow = structs.replace(check, evidence=ANYTHING)
    if not any(bench.outcome(laid, anyhow) is Outcome.NOT_VERIFIED for laid in open_cases):
        words = "no case shows that it is not verified where a reading is missing"
        yield Unproved(words, is_error=False)


def _accepted(asked: Evidence) -> str:
    return str(next((how for how in How if asked.how is None or how in asked.how), How.MEASURED))


def _weaker(asked: Evidence) -> str:
    """Return a way to know a fact that isn't accepted: someone's word, if that is not."""
    ways = reversed([how for how in How if asked.how is None or how not in asked.how])
    return str(next(ways, How.STATED))


def _evidence_case(bench: Bench, data: dict[str, str], without: Check) -> Case | None:
    """Return a case that passes, with its reading known in another way.

    `without` is the rule that doesn't ask for the evidence, and passes it still.
    """
    check = bench.roofs.check
    kept = {k: v for k, v in data.items() if k != "photo" or check.evidence.photo}
    for laid in bench.own:
        for name, value in laid.case.given.items():
            is_own = name.split()[-1] == check.of.fact.full_name
            if laid.outcome is not Outcome.PASS or not is_own or isinstance(value, dict):
                continue
            first, *rest = value if isinstance(value, list) else [value]
            reading: Data = {"value": first, **kept}
            shown: Data = [reading, *rest] if isinstance(value, list) else reading
            given = {**laid.case.given, name: shown}
            found = bench.laid(given, Outcome.NOT_VERIFIED)
            if found is None or found.outcome is not Outcome.NOT_VERIFIED:
                continue
            if bench.outcome(found, without) is not found.outcome:
                return found.case
    return None
