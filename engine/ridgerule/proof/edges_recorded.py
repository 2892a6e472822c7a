"""Edges of rules on recorded facts: every fact of the small roof is chosen so that they show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.audit.limits import AtLeast, AtMost, nodes
from ridgerule.audit.subjects import value_text
from ridgerule.facts import FactRef
from ridgerule.proof.bounds import OVER, UNDER, Edge, Row, bounds_of, stepped_by
from ridgerule.proof.parts import decides, forced

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from ridgerule.audit.plan import Case, Check
    from ridgerule.proof.bench import Bench
    from ridgerule.proof.bounds import Bound
    from ridgerule.proof.choices import Choices
    from ridgerule.proof.parts import Part
    from ridgerule.proof.small_roofs import Readings, SmallRoofs

NO_EDGE = "no edge of its own: in every roof tried, other parts decide before it"
TOO_MANY = "no edge found: more kinds of roof than were tried"
ITSELF = "held against readings of the same fact: proved by its cases"
BEST = 3


class Trial(Struct, frozen=True):
    """Readings around a bound, each in a small roof that is otherwise the same."""

    bound: Bound
    readings: tuple[tuple[int, str, Readings], ...]
    score: int


def recorded_edges(roofs: SmallRoofs, parts: Sequence[Part], choices: Choices) -> Iterator[Row]:
    """Yield what every part of a rule on recorded facts comes to at its edges.

    Raises `EngineDiffers` where the engine says otherwise than the limits compared.
    """
    for part in parts:
        for nth in range(len(stepped_by(part))):
            yield _row(roofs, part, nth, choices)


def _row(roofs: SmallRoofs, part: Part, nth: int, choices: Choices) -> Row:
    trial, all_tried = best_trial(roofs, part, nth, choices)
    if trial is None:
        bound = bounds_of(part, {}, choices.named)[nth]
        return Row(part, bound, note=_why_none(part, bound, all_tried=all_tried))
    bound = trial.bound
    note = f"with {bound.against[0]} {value_text(bound.against[1])}" if bound.against else ""
    edges = []
    for side, reading, readings in trial.readings:
        found = roofs.run(readings)
        if isinstance(found, str):
            return Row(part, bound, note=f"can't be laid out as a case: {found}")
        case, outcome = found
        edges.append(Edge(reading, outcome, case, side))
    return Row(part, bound, tuple(edges), note)


def _why_none(part: Part, bound: Bound, *, all_tried: bool) -> str:
    """Return why no readings show that a part decides."""
    if is_held_against_itself(part):
        return ITSELF
    sides = {side for side, _ in bound.readings}
    for limit, side, word in ((AtLeast, UNDER, "under"), (AtMost, OVER, "over")):
        if isinstance(bound.part.limit, limit) and sides and side not in sides:
            return f"no reading can lie {word} it"
    return NO_EDGE if all_tried else TOO_MANY


def is_held_against_itself(part: Part) -> bool:
    """Tell whether a part holds a fact against other readings of the same fact."""
    others = (node for node in nodes(part.limit) if isinstance(node, FactRef))
    return any(other.fact == part.ref.fact for other in others)


def _named(part: Part) -> frozenset[str]:
    """Return the facts that a part asks and holds against each other."""
    refs = (node for node in nodes(part.limit) if isinstance(node, FactRef))
    return frozenset(ref.fact.full_name for ref in (part.ref, *refs))


def best_trial(
    roofs: SmallRoofs, part: Part, nth: int, choices: Choices
) -> tuple[Trial | None, bool]:
    """Return the readings around a part's bound that show best that it decides, None without.

    And whether every kind of roof was tried where none shows it.
    """
    rules = (roofs.check, *(forced(roofs.check, part, holds=holds) for holds in (True, False)))
    fact = stepped_by(part)[nth].fact.full_name
    best: Trial | None = None
    search = choices.roofs_without(fact, roofs.check.when)
    for others in search:
        for trial in _trials(roofs, part, nth, choices, others):
            score = _score(trial, part, roofs, rules)
            if score > (best.score if best else 0):
                best = Trial(trial.bound, trial.readings, score)
            if score == BEST:
                return best, True
    return best, not search.is_cut


def side_case(
    bench: Bench,
    part: Part,
    nth: int,
    choices: Choices,
    asked: tuple[Check, Callable[[int, str], bool]],
) -> tuple[Case | None, bool]:
    """Return a case on a side of a part that the part decides; None without.

    `asked` is the rule with the part turned round, and what picks the readings on that side. And
    whether every kind of roof was tried where none has it.
    """
    turned, is_side = asked
    roofs, is_tried = bench.roofs, False
    search = choices.roofs_without(stepped_by(part)[nth].fact.full_name, roofs.check.when)
    for others in search:
        for trial in _trials(roofs, part, nth, choices, others):
            for side, reading, readings in trial.readings:
                if not is_side(side, reading):
                    continue
                is_tried = True
                came, otherwise = roofs.outcomes(readings, (roofs.check, turned))
                if came is None or not decides(part, came, otherwise):
                    continue
                laid = bench.laid(roofs.case(readings, came).given, came)
                if laid is not None and decides(part, came, bench.outcome(laid, turned)):
                    return bench.lean(laid, turned, keep=_named(part)), True
    # Of a list that leaves nothing out there is no reading to try; elsewhere none could be written.
    bound = bounds_of(part, {})[nth]
    is_list = bool(bound.readings) and not bound.ordered
    return None, not search.is_cut and (is_tried or is_list)


def _trials(
    roofs: SmallRoofs, part: Part, nth: int, choices: Choices, others: Readings
) -> Iterator[Trial]:
    """Yield the ways to read the fact around a bound, the others as they are."""
    bounds = bounds_of(part, roofs.situation(roofs.settled(others)), choices.named)
    if nth >= len(bounds) or not bounds[nth].readings:
        return
    bound = bounds[nth]
    name = bound.ref.fact.full_name
    ways = [choices.ways(bound.ref, value) for _, value in bound.readings]
    for nth_way in zip(*ways, strict=False):
        found = [
            (side, value_text(value), roofs.settled({**others, name: way}))
            for (side, value), way in zip(bound.readings, nth_way, strict=True)
            if way is not None
        ]
        if found and all(_same_bound(bound, roofs, readings) for _, _, readings in found):
            yield Trial(bound, tuple(found), 0)


def _same_bound(bound: Bound, roofs: SmallRoofs, readings: Readings) -> bool:
    """Tell whether the fact held against has its value still: more readings may have moved it."""
    if bound.against is None:
        return True
    name, value = bound.against
    return roofs.situation(readings).get(name) == (value,)


def _score(trial: Trial, part: Part, roofs: SmallRoofs, rules: tuple[Check, ...]) -> int:
    """Return how well readings show that a part decides: 0 not at all."""
    came = [roofs.outcomes(readings, rules) for _, _, readings in trial.readings]
    outcomes = {row[0] for row in came}
    if len(outcomes) < 2 or None in outcomes:
        return 0
    # It would come out otherwise if the part held where it does not, and the other way round.
    if not all(any(row[nth] is not row[0] for row in came) for nth in (1, 2)):
        return 0
    if part.is_condition:
        if Outcome.NOT_APPLICABLE not in outcomes:
            return 1
        return BEST if Outcome.FAIL in outcomes else 2
    return BEST if {Outcome.PASS, Outcome.FAIL} <= outcomes else 2
