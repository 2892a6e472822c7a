"""What is particular to one visit, and what would make it shorter."""

from __future__ import annotations

from collections import Counter
from itertools import chain
from typing import TYPE_CHECKING

from ridgerule.audit.completeness import open_points
from ridgerule.audit.editions import editions_in_use
from ridgerule.audit.limits import nodes
from ridgerule.audit.scopes import Scopes
from ridgerule.audit.words import plain_fact
from ridgerule.enclosures import compare
from ridgerule.facts import Element, FactRef
from ridgerule.quantities import Quantity
from ridgerule.record import COMPLETE_KEYS
from ridgerule.rulebook import DecisionRule
from ridgerule.visit.bringing import needs_lifting
from ridgerule.visit.gaps import COMPLETE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.audit.plan import Plan
    from ridgerule.record import Record
    from ridgerule.visit.gathering import Gathered
    from ridgerule.visit.questions import Question

_FACING = "which way"
_MOST_NARROWING = 3


def mind(
    plan: Plan, record: Record, gathered: Gathered, questions: Sequence[Question]
) -> Iterator[str]:
    """Yield what to mind on this visit, what matters most first."""
    yield from _slopes(record)
    yield from _lifting(questions)
    yield from _guarded(gathered)
    yield from gathered.doubts
    yield from _unjoined(plan, record)
    yield from _unlisted(record, questions)
    yield from _narrowing(questions)


def _slopes(record: Record) -> Iterator[str]:
    """Yield how steep the roof is, as far as the outline says."""
    known = []
    for plane in record.places[Element.PLANE]:
        readings = plane.readings.get("slope", ())
        if readings and isinstance(readings[0].value, Quantity):
            known.append((readings[0].value, plane.id))
    if not known:
        return
    steepest = known[0]
    for slope in known[1:]:
        if compare(slope[0].amount, steepest[0].amount) == 1:
            steepest = slope
    yield (
        f"The steepest plane recorded is {steepest[1]} at {steepest[0].text}; the employer's rules "
        "say what protection that asks for."
    )


def _lifting(questions: Sequence[Question]) -> Iterator[str]:
    count = sum(needs_lifting(question) for question in questions)
    if count:
        answers = "one answer is" if count == 1 else f"{count} answers are"
        yield (
            f"{answers[0].upper()}{answers[1:]} under caps or slates: where no photo from the work "
            "shows it, agree with the owner and the warrantor before anything is lifted."
        )


def _guarded(gathered: Gathered) -> Iterator[str]:
    """Yield what rules need that count a reading's uncertainty."""
    counting = {
        need.check.rule.full_id
        for need in gathered.needs
        if need.check is not None and need.check.decision is DecisionRule.GUARDED
    }
    if counting:
        rules = "1 rule counts" if len(counting) == 1 else f"{len(counting)} rules count"
        yield (
            f"{rules} the uncertainty of readings: write down each instrument's smallest division "
            "or its certificate, and beside a reading which instrument it was taken with."
        )


def _unjoined(plan: Plan, record: Record) -> Iterator[str]:
    """Yield the neighbouring planes that the outline has no line between."""
    for point in open_points(editions_in_use(plan, record), Scopes(record)):
        if point.about not in COMPLETE_KEYS and not point.reason.startswith(_FACING):
            yield f"{point.reason[0].upper()}{point.reason[1:]}."


def _unlisted(record: Record, questions: Sequence[Question]) -> Iterator[str]:
    """Yield the kinds of place that the outline has none of and that there may be."""
    asked = [question.key for question in questions if question.place == COMPLETE]
    there: set[object] = {line.kind for line in record.places[Element.LINE]}
    there |= {element for element, places in record.places.items() if places}
    missing = [key for key in asked if COMPLETE_KEYS[key] not in there]
    if missing:
        yield (
            f"The outline lists no {', '.join(missing)}. If there are any, list them and plan "
            "again: what is asked of them is not in this plan."
        )


def _narrowing(questions: Sequence[Question]) -> Iterator[str]:
    """Yield the facts on which most other questions hang."""
    hangs: Counter[str] = Counter()
    for question in questions:
        facts = {
            plain_fact(node.fact)
            for given in chain.from_iterable(question.ways)
            for node in nodes(given.condition)
            if isinstance(node, FactRef)
        }
        hangs.update(facts)
    if hangs:
        most = hangs.most_common(_MOST_NARROWING)
        told = ", ".join(f"{name} ({count})" for name, count in most)
        yield (
            f"Some questions are only asked if others say so. Answered in the outline, these "
            f"make the plan shorter, by the number of questions that hang on them: {told}."
        )
