"""`ridgerule warranty`: which of a coverage's conditions a record shows."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.audit.compile import plan_for
from ridgerule.cli.app import Against, OutputOption, RulebookFolders, UnitsOption
from ridgerule.cli.exits import Exit
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.cli.options import SheetFormat, put_on_paper, put_sheets
from ridgerule.cli.outputs import put
from ridgerule.problems import InputRejected, Problem
from ridgerule.reports.view import Settings
from ridgerule.reports.warranty_data import warranty_csv, warranty_json, warranty_junit
from ridgerule.reports.warranty_sheet import warranty_sheet
from ridgerule.reports.warranty_view import WarrantyView, warranty_view
from ridgerule.review.warranty import Status, reviews_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridgerule.audit.plan import Plan
    from ridgerule.cli.inputs import Reference
    from ridgerule.quantities import Units
    from ridgerule.shelf import Shelf


class WarrantyFormat(StrEnum):
    """The forms a warranty review comes in."""

    TEXT = "text"
    MARKDOWN = "markdown"
    HTML = "html"
    PDF = "pdf"
    JSON = "json"
    CSV = "csv"
    JUNIT = "junit"


_DATA = {
    WarrantyFormat.JSON: warranty_json,
    WarrantyFormat.CSV: warranty_csv,
    WarrantyFormat.JUNIT: warranty_junit,
}


app = typer.Typer(add_completion=False)


@app.command(
    epilog="Exit status: 0 every condition that applies is met, 1 one is shown not met, 4 none is "
    "but one is not evidenced, 2 a file can't be used."
)
def warranty(  # noqa: PLR0913 - one parameter an option
    records: Annotated[
        list[Path], typer.Argument(metavar="RECORD...", help="Records of roofs, YAML or JSON.")
    ],
    *,
    against: Against = None,
    rulebooks: RulebookFolders = None,
    form: Annotated[
        WarrantyFormat, typer.Option("--format", help="Form of the review.")
    ] = WarrantyFormat.TEXT,
    output: OutputOption = None,
    units: UnitsOption = None,
) -> None:
    """Answer a warranty's conditions one by one: met, shown not met, not evidenced.

    Each coverage of the rulebooks asked for, and of those they stand on, is read by its own
    rulebook's rules, whatever a local rulebook changes. What follows from it is the warrantor's
    to decide.
    """
    auditor = Auditor(Asked(tuple(against or ()), tuple(rulebooks or ())), planned=coverage_plan)
    views, problems = _reviewed(auditor, records, units)
    for problem in problems:
        print(problem, file=sys.stderr)
    if views:
        _put(views, form, output)
    raise typer.Exit(Exit.UNUSABLE if problems else status_of_conditions(views))


def coverage_plan(references: Sequence[Reference], shelf: Shelf) -> Plan:
    """Return the plan of the rulebooks that have coverages, among those asked for and their bases.

    Raises `InputRejected` with every problem of the rulebooks, or if none has a coverage.
    """
    asked = plan_for(references, shelf)
    places = dict(references)
    chosen: dict[str, None] = {}
    for planned in asked.books:
        where = places[planned.reference]
        for edition in planned.editions:
            for book in edition.adapted.documents():
                if book.coverages:
                    own = book.name == edition.book.name
                    chosen.setdefault(planned.reference if own else book.name)
    if not chosen:
        named = ", ".join(f"`{reference}`" for reference in places)
        where = next(iter(places.values()))
        told = "a rulebook with `coverages:`, or one that stands on such"
        raise InputRejected([Problem(where, told, named, "name the warrantor's rulebook")])
    where = next(iter(places.values()))
    return plan_for([(name, places.get(name, where)) for name in chosen], shelf)


def status_of_conditions(views: Iterable[WarrantyView]) -> Exit:
    """Return 1 where a condition is shown not met, else 4 where one is not evidenced, else 0."""
    statuses = {status for view in views for status in view.statuses}
    if Status.NOT_MET in statuses:
        return Exit.FAIL
    return (
        Exit.PASS
        if Status.MET in statuses and Status.NOT_EVIDENCED not in statuses
        else (Exit.NOT_VERIFIED)
    )


def _reviewed(
    auditor: Auditor, records: Sequence[Path], units: Units | None
) -> tuple[list[WarrantyView], list[Problem]]:
    """Return the reviews of the records that can be read, and the problems of the others."""
    views: list[WarrantyView] = []
    problems: list[Problem] = []
    for path in dict.fromkeys(records):
        try:
            audit = auditor.audit(path)
            reviews = reviews_of(audit)
        except InputRejected as rejected:
            problems.extend(rejected.problems)
        else:
            views.append(warranty_view(audit, reviews, settings=Settings(units=units)))
    return views, list(dict.fromkeys(problems))


def _put(views: Sequence[WarrantyView], form: WarrantyFormat, output: Path | None) -> None:
    if form in _DATA:
        put(_DATA[form](views), output)
    elif form is WarrantyFormat.PDF:
        put_on_paper([warranty_sheet(view) for view in views], output)
    else:
        put_sheets([warranty_sheet(view) for view in views], SheetFormat(form.value), output)
