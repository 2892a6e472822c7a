"""A visit's plan as a table to fill in: one row an answer, for a spreadsheet on a phone or a desk.

A row's section, place, station and fact lead to the answer in the record: `lines`, `H1`,
`2 ft 5 in`, `gap`; `side` is the plane whose side is read. Whoever fills it in writes under
`value`, `how`, `with`, `photo` and `note`, and the filled table can be read into a record. What a
planned station is made for, and the end that it counts from, is filled in already. Rows without a
fact say what to mind.
"""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING

from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.csv_report import cell
from ridgerule.reports.visit_plan_words import (
    WHAT_IT_IS,
    asked_if,
    demanded_words,
    how_words,
    sentence,
    so_far,
    written_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.documents import Path
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.questions import Question
    from ridgerule.visit.stops import StationStop, Stop

FILLED = ("value", "how", "with", "photo", "note")
"""The columns that are left for whoever fills the table in."""
COLUMNS = (
    *("section", "place", "station", "position", "side", "fact"),
    *("question", "written as", *FILLED, "rule"),
)
_MADE_FOR = "What this station is for, filled in already"
_COUNTS_FROM = "The end that stations count from, filled in already"


def visit_csv(plan: VisitPlan) -> str:
    """Return the plan as a table with empty cells for each answer."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in _rows(plan):
        writer.writerow([cell(row.get(column, "")) for column in COLUMNS])
    return out.getvalue()


def _rows(plan: VisitPlan) -> Iterator[dict[str, str]]:
    for said in (*CAUTIONS, *plan.mind, *plan.samples, WHAT_IT_IS, DISCLAIMER):
        yield {"question": said}
    laid_out: set[Path] = set()
    for part in plan.parts:
        for stop in part.stops:
            for question in stop.questions:
                yield from _answers(question, question.place)
            yield from _laid_out(plan, stop, laid_out)
            for station in stop.stations:
                for question in station.questions:
                    yield from _answers(question, stop.place.path, station)


def _laid_out(plan: VisitPlan, stop: Stop, told: set[Path]) -> Iterator[dict[str, str]]:
    """Yield what a line's planned stations are for and count from, once for each."""
    place = stop.place.path
    if stop.stations and place in plan.ends and place not in told:
        told.add(place)
        yield _row(place, key="from", ask=_COUNTS_FROM) | {"value": plan.ends[place]}
    for station in stop.stations:
        if station.is_new and station.place.path not in told:
            told.add(station.place.path)
            only = ", ".join(sorted(station.place.only or ()))
            yield _row(place, station, key="only", ask=_MADE_FOR) | {"value": only}


def _answers(
    question: Question, place: Path, station: StationStop | None = None
) -> Iterator[dict[str, str]]:
    """Yield the rows of a question: one, or one a side."""
    fact = question.fact
    told = [question.ask]
    if fact is not None:
        told.append(sentence(f"{fact.measure}, {fact.tool}" if fact.tool else fact.measure))
    told += map(sentence, filter(None, (asked_if(question), so_far(question))))
    written = (written_words(question), how_words(question))
    for side in question.sides or ("",):
        yield _row(place, station, key=question.key, ask=" ".join(told)) | {
            "side": side,
            "written as": "; ".join(filter(None, written)),
            "rule": demanded_words(question),
        }


def _row(place: Path, station: StationStop | None = None, *, key: str, ask: str) -> dict[str, str]:
    section, *rest = map(str, place)
    row = {"section": section, "place": "".join(rest[:1]), "fact": key, "question": ask}
    if station is not None:
        number = _number(station.place.path)
        row |= {"position": station.at, "station": "" if station.at else number}
    return row


def _number(path: Sequence[str | int]) -> str:
    return str(int(path[-1]) + 1)
