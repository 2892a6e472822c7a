"""`ridgerule reinspect`: a second visit to a roof held against the first."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.cli.app import Against, OutputOption, RulebookFolders, UnitsOption
from ridgerule.cli.exits import Exit, status_of
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.cli.options import SheetFormat, put_on_paper, put_sheet
from ridgerule.cli.outputs import put
from ridgerule.enclosures import compare
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.quantities import Dimension, Mistake, read
from ridgerule.reports.reinspection_data import (
    reinspection_csv,
    reinspection_json,
    reinspection_junit,
)
from ridgerule.reports.reinspection_sheet import reinspection_sheet
from ridgerule.reports.reinspection_view import reinspection_view
from ridgerule.reports.view import Settings
from ridgerule.review.reinspection import reinspect as held_against

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit
    from ridgerule.quantities import Quantity
    from ridgerule.reports.reinspection_view import ReinspectionView


class ReinspectionFormat(StrEnum):
    """The forms a re-inspection comes in."""

    TEXT = "text"
    MARKDOWN = "markdown"
    HTML = "html"
    PDF = "pdf"
    JSON = "json"
    CSV = "csv"
    JUNIT = "junit"


_DATA = {
    ReinspectionFormat.JSON: reinspection_json,
    ReinspectionFormat.CSV: reinspection_csv,
    ReinspectionFormat.JUNIT: reinspection_junit,
}
WITHIN = "6 in"
"""How far a station may have moved where it is not said; common practice, no source."""


app = typer.Typer(add_completion=False)


@app.command(
    epilog="Exit status: 0 nothing fails or is open, 1 something fails at the second visit, 4 "
    "nothing fails and something is open, 2 a file can't be used or the two can't be compared."
)
def reinspect(  # noqa: PLR0913 - one parameter an option
    first: Annotated[Path, typer.Argument(metavar="FIRST", help="Record of the first visit.")],
    second: Annotated[Path, typer.Argument(metavar="SECOND", help="Record of the second visit.")],
    *,
    against: Against = None,
    rulebooks: RulebookFolders = None,
    within: Annotated[
        str,
        typer.Option(
            "--within",
            metavar="LENGTH",
            help="How far apart two stations on a line may lie and still be the same.",
        ),
    ] = WITHIN,
    form: Annotated[
        ReinspectionFormat, typer.Option("--format", help="Form of the report.")
    ] = ReinspectionFormat.TEXT,
    output: OutputOption = None,
    units: UnitsOption = None,
) -> None:
    """Hold a second visit against the first: put right, still open, new, no longer measured.

    Each record is audited by its own rulebooks, or by those of `--against`, in the edition that
    its dates pick. Nothing is called put right unless the second visit found it so on the roof.
    """
    auditor = Auditor(Asked(tuple(against or ()), tuple(rulebooks or ())))
    problems: list[Problem] = []
    tolerance = _tolerance(within, problems)
    visits = [_audited(auditor, path, problems) for path in (first, second)]
    then, now = visits
    if problems or tolerance is None or then is None or now is None:
        for problem in dict.fromkeys(problems):
            print(problem, file=sys.stderr)
        raise typer.Exit(Exit.UNUSABLE)
    found = held_against(then, now, within=tolerance)
    _put(reinspection_view(found, settings=Settings(units=units)), form, output)
    raise typer.Exit(status_of([found.outcome]))


def _tolerance(text: str, problems: list[Problem]) -> Quantity | None:
    """Return how far a station may have moved, or add what is wrong with it."""
    found = read(text, Dimension.LENGTH)
    where = Location("--within")
    if isinstance(found, Mistake):
        problems.append(Problem(where, found.expected, found.found, found.advice))
        return None
    if compare(found.amount, 0) == -1:
        told = "write how far apart, without a sign"
        problems.append(Problem(where, "a length of 0 or more", f"`{shown(text)}`", told))
        return None
    return found


def _audited(auditor: Auditor, path: Path, problems: list[Problem]) -> Audit | None:
    """Return the audit of a visit's record, or add the record's problems."""
    try:
        return auditor.audit(path)
    except InputRejected as rejected:
        problems.extend(rejected.problems)
        return None


def _put(view: ReinspectionView, form: ReinspectionFormat, output: Path | None) -> None:
    if form in _DATA:
        put(_DATA[form](view), output)
    elif form is ReinspectionFormat.PDF:
        put_on_paper([reinspection_sheet(view)], output)
    else:
        put_sheet(reinspection_sheet(view), SheetFormat(form.value), output)
