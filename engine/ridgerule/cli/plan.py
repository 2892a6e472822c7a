"""`ridgerule plan`: what a visit has to find out, in the order of the walk."""

from __future__ import annotations

import json
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.cli.app import Against, OutputOption, RulebookFolders, UnitsOption
from ridgerule.cli.exits import Exit
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.cli.options import SheetFormat, put_sheet
from ridgerule.cli.outputs import put
from ridgerule.documents import read_document
from ridgerule.enclosures import Span
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.quantities import Dimension, Mistake, read
from ridgerule.record_reader import read_record
from ridgerule.record_schema import record_schema
from ridgerule.reports.visit_plan_record import SCHEMA, blank_record
from ridgerule.visit.planning import VisitSettings, plan_visit
from ridgerule.visit.sampling import MOST_PIECES, Certainty

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit
    from ridgerule.enclosures import Exact
    from ridgerule.visit.planning import VisitPlan


class PlanFormat(StrEnum):
    """The forms a plan comes in."""

    TEXT = "text"
    HTML = "html"
    RECORD = "record"
    CSV = "csv"


_LONGEST_SEED = 100

RecordArgument = Annotated[
    Path,
    typer.Argument(
        metavar="RECORD", help="Record of a roof, or an outline of its planes and lines alone."
    ),
]
PlanFormatOption = Annotated[
    PlanFormat,
    typer.Option("--format", help="A list, a form to print, a blank record, or a table."),
]
SeedOption = Annotated[
    str, typer.Option("--seed", metavar="N", help="Draw the stations at random, with this seed.")
]
ConfidenceOption = Annotated[
    str | None,
    typer.Option("--confidence", metavar="SHARE", help="How sure a sample is to make."),
]
ShareOption = Annotated[
    str | None,
    typer.Option(
        "--share", metavar="SHARE", help="Of which share that it is right: 90% sure of 90%."
    ),
]

app = typer.Typer(add_completion=False)


@app.command(
    epilog="Exit status: 0 the plan was made, 2 a file or what was typed can't be used. Example: "
    "ridgerule plan outline.yaml --format html --output form.html"
)
def plan(  # noqa: PLR0913 - one parameter an option
    record: RecordArgument,
    *,
    against: Against = None,
    rulebooks: RulebookFolders = None,
    form: PlanFormatOption = PlanFormat.TEXT,
    output: OutputOption = None,
    seed: SeedOption = "",
    confidence: ConfidenceOption = None,
    share: ShareOption = None,
    units: UnitsOption = None,
) -> None:
    """Plan a visit: every reading that the rulebooks ask for, in the order of the walk.

    What the record answers already is left out. Positions of stations are spread evenly, or drawn
    with `--seed` so that anyone can draw them again. With `--confidence` and `--share` there are
    as many as it takes to show that, if none is at fault.
    """
    problems: list[Problem] = []
    settings = VisitSettings(_seed(seed, problems), _certainty(confidence, share, problems), units)
    auditor = Auditor(Asked(tuple(against or ()), tuple(rulebooks or ())))
    audit = _audited(auditor, record, problems)
    if problems or audit is None:
        for problem in dict.fromkeys(problems):
            print(problem, file=sys.stderr)
        raise typer.Exit(Exit.UNUSABLE)
    _put(plan_visit(audit.plan, audit.record, settings), audit, form, output)


def _audited(auditor: Auditor, path: Path, problems: list[Problem]) -> Audit | None:
    """Return the audit of the record, which holds its plan, or add its problems."""
    try:
        return auditor.audit(path)
    except InputRejected as rejected:
        problems.extend(rejected.problems)
        return None


def _seed(text: str, problems: list[Problem]) -> str:
    """Return the seed, or add what is wrong with it."""
    seed = text.strip()
    if len(seed) > _LONGEST_SEED or not seed.isprintable():
        told = f"a number or a word of at most {_LONGEST_SEED} characters that can be seen"
        problems.append(Problem(Location("--seed"), told, f"`{shown(text)}`", "choose another"))
    return seed


def _certainty(
    confidence: str | None, share: str | None, problems: list[Problem]
) -> Certainty | None:
    """Return how sure a sample is to make, None where it was not asked; or add what is wrong."""
    if confidence is None and share is None:
        return None
    given = {"--confidence": confidence, "--share": share}
    found = {flag: _share(flag, text, problems) for flag, text in given.items()}
    sure, part = found.values()
    if sure is None or part is None:
        return None
    certainty = Certainty(sure, part)
    if certainty.pieces > MOST_PIECES:
        told = f"a sample of at most {MOST_PIECES:,} pieces"
        advice = "ask for less confidence, or for a smaller share"
        where = Location("--confidence")
        problems.append(Problem(where, told, f"{certainty.pieces:,}", advice))
        return None
    return certainty


def _share(flag: str, text: str | None, problems: list[Problem]) -> Exact | None:
    """Return a share above 0 and below 1, or add what was found instead."""
    where, told = Location(flag), "a share over 0 % and under 100 %, such as `90%`"
    if text is None:
        other = "--share" if flag == "--confidence" else "--confidence"
        problems.append(Problem(where, told, "nothing", f"give it beside `{other}`"))
        return None
    found = read(text, Dimension.SHARE)
    if isinstance(found, Mistake):
        problems.append(Problem(where, told, found.found, found.advice))
        return None
    amount = found.amount
    if isinstance(amount, Span) or not 0 < amount < 1:
        problems.append(Problem(where, told, f"`{shown(text)}`", "nothing is sure by a sample"))
        return None
    return amount


def _put(visit: VisitPlan, audit: Audit, form: PlanFormat, output: Path | None) -> None:
    match form:
        case PlanFormat.TEXT:
            from ridgerule.reports.visit_plan_sheet import visit_sheet  # noqa: PLC0415 - if asked for

            put_sheet(visit_sheet(visit), SheetFormat.TEXT, output)
        case PlanFormat.HTML:
            from ridgerule.reports.visit_plan_form import visit_form  # noqa: PLC0415 - if asked for

            put(visit_form(visit), output)
        case PlanFormat.CSV:
            from ridgerule.reports.visit_plan_csv import visit_csv  # noqa: PLC0415 - if asked for

            put(visit_csv(visit), output)
        case PlanFormat.RECORD:
            text = blank_record(visit)
            _prove(text, visit, audit, output)
            put(text, output)
            if output is not None:
                _put_schema(audit, output)


def _prove(text: str, visit: VisitPlan, audit: Audit, output: Path | None) -> None:
    """Raise `InputRejected` where the blank record, before it is written, would not be read."""
    try:
        document = read_document(text.encode(), name=str(output or "the blank record"))
    except InputRejected as rejected:
        where, advice = (
            Location("--format record"),
            "plan for fewer stations, or a part of the roof",
        )
        told = (Problem(where, each.expected, each.found, advice) for each in rejected.problems)
        raise InputRejected(told) from None
    if not visit.own_rulebooks:
        read_record(document, audit.plan.vocabulary)


def _put_schema(audit: Audit, output: Path) -> None:
    """Write the schema that editors complete the record by beside it; another one stays."""
    beside = output.resolve().parent / SCHEMA
    schema = record_schema(audit.plan.vocabulary)
    text = json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
    if beside.exists():
        try:
            if beside.read_text("utf-8") == text:
                return
        except (OSError, UnicodeDecodeError):
            pass  # whatever it is, it is another one
        print(
            f"{beside} is another schema and was left as it is; editors complete the record by it.",
            file=sys.stderr,
        )
        return
    put(text, beside)
