"""The plan of a visit as a sheet: cautions first, then the walk, stop by stop."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING

from ridgerule.facts import Element
from ridgerule.quantities import Dimension
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.sheet import Heading, Items, Pairs, Sheet, Words
from ridgerule.reports.visit import roof_view
from ridgerule.reports.visit_plan_words import (
    WHAT_IT_IS,
    asked_if,
    definitions,
    how_words,
    laid_out_words,
    listed,
    must_be,
    so_far,
    station_count,
    written_words,
)
from ridgerule.visit.gaps import COMPLETE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.reports.sheet import Block
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.questions import Question
    from ridgerule.visit.stops import Stop

CHOSEN = "a spot to be chosen"
"""Where a station lies that no length tells the place of yet."""


def visit_sheet(plan: VisitPlan) -> Sheet:
    """Return the plan of a visit, to read on a screen."""
    roof = roof_view(plan.record)
    return Sheet(f"Plan of a visit: {roof.name or roof.id}", tuple(_blocks(plan)))


def _blocks(plan: VisitPlan) -> Iterator[Block]:
    yield Heading("Before anyone goes up")
    yield Items((*CAUTIONS, *plan.mind))
    yield from _summary(plan)
    if plan.bring:
        yield Heading("What to bring")
        yield Items(plan.bring)
    numbers = count(1)
    for part in plan.parts:
        yield Heading(part.part)
        for stop in part.stops:
            yield from _stop(stop, next(numbers))
    yield Heading("How each is measured, and who asks")
    found = definitions(plan)
    for element in Element:
        own = tuple((each.name, each.words) for each in found if each.element is element)
        if own:
            yield Heading(element.capitalize(), 3)
            yield Pairs(own)
    yield Heading("What this page is")
    yield Words(f"{WHAT_IT_IS} {DISCLAIMER}")


def _summary(plan: VisitPlan) -> Iterator[Block]:
    roof = roof_view(plan.record)
    asked, stations = len(tuple(plan.questions)), station_count(plan)
    yield Heading("The visit")
    yield Pairs(
        (
            ("roof", f"{roof.id}{f', {roof.name}' if roof.name else ''}"),
            ("place", roof.place),
            ("covering", roof.covering),
            ("rulebooks", ", ".join(plan.rulebooks)),
            (
                "to find out",
                f"{asked} things, some of them at {stations} stations"
                if stations
                else f"{asked} things",
            ),
            ("stations", laid_out_words(plan) if stations else ""),
            *(("sample", statement) for statement in plan.samples),
        )
    )
    if not asked:
        yield Words("Nothing is left to find out: the record answers all that the rulebooks ask.")


def _stop(stop: Stop, number: int) -> Iterator[Block]:
    yield Heading(f"{number}. {stop.label}", 3)
    if stop.detail:
        yield Words(f"{stop.detail[0].upper()}{stop.detail[1:]}.")
    kinds = [question.key for question in stop.questions if question.place == COMPLETE]
    told = [_told(question) for question in stop.questions if question.place != COMPLETE]
    if kinds:
        told.append(
            f"Are all of these listed: {', '.join(kinds)}? For each: all, or none for none."
        )
    if told:
        yield Items(tuple(told))
    if stop.stations:
        yield from _stations(stop)


def _told(question: Question) -> str:
    """Return a question with all that whoever answers it has to know."""
    fact = question.fact
    is_quantity = fact is not None and isinstance(fact.dimension, Dimension)
    sides = f"each side by itself: {' and '.join(question.sides)}" if question.sides else ""
    told = (
        asked_if(question), sides, "" if is_quantity else written_words(question),
        must_be(question), question.tool, how_words(question),
        so_far(question),
    )  # fmt: skip
    name = f"{fact.name.replace('_', ' ')}: " if fact is not None else ""
    return f"{name}{question.ask} {'; '.join(filter(None, told))}".rstrip()


def _stations(stop: Stop) -> Iterator[Block]:
    """Yield what is asked at stations: what is asked at the same spots together."""
    if stop.why:
        yield Words(f"Stations by {'; '.join(stop.why)}.")
    asked: dict[str, list[str]] = {}
    for station in stop.stations:
        for question in station.questions:
            asked.setdefault(_told(question), []).append(station.at or CHOSEN)
    by_spots: dict[tuple[str, ...], list[str]] = {}
    for told, spots in asked.items():
        by_spots.setdefault(tuple(spots), []).append(told)
    for places, told_there in sorted(by_spots.items(), key=lambda item: -len(item[0])):
        yield Words(f"At {listed(places)}:")
        yield Items(tuple(told_there))
