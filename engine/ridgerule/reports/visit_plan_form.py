"""A visit's plan as a form to print and fill in by hand, on Letter or A4.

Answers of a few words are ticked, all others written on a line high enough for a hand in a glove.
Stations of a line or plane share one grid, a row a station; a grid too wide for the page is parted.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from markupsafe import Markup
from msgspec import Struct

from ridgerule.facts import How, Plain
from ridgerule.quantities import Dimension
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.html_page import template
from ridgerule.reports.visible import visible
from ridgerule.reports.visit import roof_view
from ridgerule.reports.visit_plan_words import (
    WHAT_IT_IS,
    Definition,
    asked_if,
    definitions,
    laid_out_words,
    must_be,
    station_count,
    written_words,
)
from ridgerule.visit.gaps import COMPLETE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.facts import Fact
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.questions import Question
    from ridgerule.visit.stops import StationStop, Stop

_HERE = Path(__file__).resolve().parent
_MOST_TICKED = 10
"""Words to choose from are ticked up to so many; beyond that the word is written."""
_WIDEST_GRID = 6
"""Columns that a grid has room for on a page, each side of a fact one of its own."""
_KEPT_WHOLE = 6
"""Grids of so many stations or fewer are not parted between two pages."""
_KEPT_TOGETHER = 2
"""So many of a stop's questions stay on the page with its heading."""
_CODES = {
    How.MEASURED: "M",
    How.SEEN: "S",
    How.CAP_LIFTED: "C",
    How.PHOTO_DURING_WORK: "P",
    How.DOCUMENT: "D",
    How.STATED: "T",
}
"""What is written for how a reading is known, where a grid has room for no more."""
_LONGEST_IDENTITY = 70
_BLANKS = (
    "date",
    "inspector",
    "others present",
    "weather, wind",
    "air temperature",
    "access: ladder, lift, from where",
)


class Blank(Struct, frozen=True):
    """An answer to be filled in."""

    ticks: tuple[str, ...]
    """Words to tick one of; a line to write on where there are none."""
    hint: str
    """How it is written, where it is."""
    hows: tuple[str, ...]
    """Ways of knowing it, one of which has to be ticked."""
    photo: bool
    side: str = ""


class Row(Struct, frozen=True):
    """A question with the blanks for its answer, one a side."""

    name: str
    """What the record calls the answer, in words."""
    ask: str
    only_if: str
    must_be: str
    tool: str
    known: str
    blanks: tuple[Blank, ...]


class Column(Struct, frozen=True):
    """One fact, or one side of it, asked at stations."""

    key: str
    name: str
    ask: str
    only_if: str
    must_be: str
    tool: str
    side: str
    hint: str
    codes: tuple[str, ...]
    """Ways of knowing it, one of which has to be written beside the reading."""
    photo: bool


class Grid(Struct, frozen=True):
    """Stations down, facts across; a cell is a blank where the fact is asked at the station."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, tuple[Blank | None, ...]], ...]


class Sheet(Struct, frozen=True):
    """One stop of the walk."""

    number: int
    label: str
    detail: str
    kinds: tuple[str, ...]
    """The kinds of place that the record may list in full."""
    rows: tuple[Row, ...]
    grids: tuple[Grid, ...]
    why: tuple[str, ...]


class Part(Struct, frozen=True):
    """One part of the visit."""

    title: str
    stops: tuple[Sheet, ...]


def visit_form(plan: VisitPlan) -> str:
    """Return the form as one HTML file with its style inside."""
    roof = roof_view(plan.record)
    return template("visit_plan.html").render(
        title=f"Plan of a visit: {roof.name or roof.id}",
        form_style=Markup((_HERE / "visit_plan.css").read_text("utf-8")),  # noqa: S704 - ours
        roof=roof,
        identity=_in_css(f"{roof.name}, {roof.id}" if roof.name else roof.id),
        plan=plan,
        blanks=_BLANKS,
        asked=len(tuple(plan.questions)),
        stations=station_count(plan),
        laid_out=laid_out_words(plan),
        cautions=CAUTIONS,
        parts=tuple(_parts(plan)),
        codes=tuple((code, how.value) for how, code in _CODES.items()),
        definitions=tuple(_by_element(definitions(plan))),
        shortest=_KEPT_WHOLE,
        together=_KEPT_TOGETHER,
        closing=f"{WHAT_IT_IS} {DISCLAIMER}",
    )


def _in_css(words: str) -> Markup:
    """Return words as a string of a style sheet, which nothing in them can end."""
    shown = visible(words)[:_LONGEST_IDENTITY]
    spelt = "".join(f"\\{ord(char):06x}" if not char.isalnum() else char for char in shown)
    return Markup(f'"{spelt}"')  # noqa: S704 - letters, digits and escapes alone


def _by_element(found: Sequence[Definition]) -> Iterator[tuple[str, tuple[Definition, ...]]]:
    for element in dict.fromkeys(each.element for each in found):
        yield element.value, tuple(each for each in found if each.element is element)


def _parts(plan: VisitPlan) -> Iterator[Part]:
    number = 0
    for part in plan.parts:
        stops = []
        for stop in part.stops:
            number += 1
            stops.append(_stop(stop, number))
        yield Part(part.part, tuple(stops))


def _stop(stop: Stop, number: int) -> Sheet:
    return Sheet(
        number=number,
        label=stop.label,
        detail=stop.detail,
        kinds=tuple(question.key for question in stop.questions if question.place == COMPLETE),
        rows=tuple(map(_row, (q for q in stop.questions if q.place != COMPLETE))),
        grids=tuple(_grids(stop)),
        why=stop.why,
    )


def _row(question: Question) -> Row:
    sides = question.sides or ("",)
    return Row(
        name=_name(question),
        ask=question.ask,
        only_if=asked_if(question),
        must_be=must_be(question),
        tool=question.tool,
        known=question.known,
        blanks=tuple(_blank(question, side) for side in sides),
    )


def _blank(question: Question, side: str) -> Blank:
    ticks = _ticks(question.fact)
    return Blank(
        ticks=ticks,
        hint="" if ticks else written_words(question),
        hows=tuple(how.value for how in How if how in question.accepted),
        photo=question.photo,
        side=side,
    )


def _ticks(fact: Fact | None) -> tuple[str, ...]:
    """Return the words to tick one of, nothing for what is written."""
    if fact is None:
        return ()
    if fact.dimension is Plain.YES_NO:
        return ("yes", "no")
    if fact.dimension is Plain.CHOICE and len(fact.choices) <= _MOST_TICKED:
        return fact.choices
    return ()


def _grids(stop: Stop) -> Iterator[Grid]:
    """Yield the grids of a stop's stations, each no wider than a page."""
    columns: dict[tuple[str, str], Column] = {}
    for station in stop.stations:
        for question in station.questions:
            for side in question.sides or ("",):
                columns.setdefault((question.key, side), _column(question, side))
    listed = [*columns.values()]
    count = -(-len(listed) // _WIDEST_GRID)
    width = -(-len(listed) // count) if count else 0
    for start in range(0, len(listed), width or 1):
        part = tuple(listed[start : start + width])
        rows = ((station, _cells(station, part)) for station in stop.stations)
        kept = tuple((station.at or "at: ", cells) for station, cells in rows if any(cells))
        yield Grid(part, kept)


def _column(question: Question, side: str) -> Column:
    fact = question.fact
    return Column(
        key=question.key,
        name=_name(question),
        ask=question.ask,
        only_if=asked_if(question),
        must_be=must_be(question),
        tool=question.tool,
        side=side,
        hint="" if fact is None or _ticks(fact) else _unit(question),
        codes=tuple(_CODES[how] for how in How if how in question.accepted),
        photo=question.photo,
    )


def _name(question: Question) -> str:
    return (
        question.key.replace("_", " ")
        if question.fact is None
        else question.fact.name.replace("_", " ")
    )


def _unit(question: Question) -> str:
    fact = question.fact
    is_quantity = fact is not None and isinstance(fact.dimension, Dimension)
    return written_words(question) if is_quantity else ""


def _cells(station: StationStop, columns: Sequence[Column]) -> tuple[Blank | None, ...]:
    asked = {question.key: question for question in station.questions}
    return tuple(
        _blank(question, column.side)
        if (question := asked.get(column.key)) is not None
        and (not column.side or column.side in question.sides)
        else None
        for column in columns
    )
