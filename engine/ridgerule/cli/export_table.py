"""`ridgerule export`: a record as a table or a workbook, which `ridgerule import` takes back."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.audit.compile import facts_of
from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.cli.app import OutputOption, RulebookFolders
from ridgerule.cli.inputs import Asked, references_against
from ridgerule.cli.outputs import put, put_bytes
from ridgerule.documents import load_document
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.record_reader import read_record, rulebooks_named
from ridgerule.shelf import Shelf

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridgerule.documents import Document
    from ridgerule.facts import Vocabulary


class TableFormat(StrEnum):
    """The forms a record's tables come in."""

    CSV = "csv"
    XLSX = "xlsx"


_WORKBOOK = ".xlsx"

app = typer.Typer(add_completion=False)


AgainstOption = Annotated[
    list[str] | None,
    typer.Option(
        "--against",
        metavar="RULEBOOK",
        help="Rulebook whose own facts there may be too, besides those of the record's: an id, "
        "id@edition or file. Repeat for several.",
    ),
]


@app.command(
    help="Write a record's readings as tables, for a spreadsheet and back.\n\n"
    "Everything that the record says is in them, and `ridgerule import` makes the same record of "
    "them; what is left blank, and comments, are not. Whatever a spreadsheet would take for a "
    "formula begins with an apostrophe, which the import takes off again.",
    epilog="Exit status: 0 written, 2 a file can't be used. Example: "
    "ridgerule export roof.yaml --output roof.xlsx",
)
def export(
    record: Annotated[
        Path, typer.Argument(metavar="RECORD", help="Record of a roof, YAML or JSON.")
    ],
    *,
    against: AgainstOption = None,
    rulebooks: RulebookFolders = None,
    form: Annotated[
        TableFormat | None,
        typer.Option(
            "--format",
            help="One long table, or a workbook with a sheet for the roof, each kind of place and "
            "the stations; else as the output's name ends.",
        ),
    ] = None,
    output: OutputOption = None,
) -> None:
    """Write a record's readings as tables, for a spreadsheet and back."""
    if output is not None and output.exists() and output.samefile(record):
        told = "a place of the tables' own"
        advice = "choose another place with `--output`"
        raise InputRejected([Problem(Location("--output"), told, f"`{shown(record)}`", advice)])
    document = load_document(record)
    asked = Asked(tuple(against or ()), tuple(rulebooks or ()))
    vocabulary = vocabulary_for(asked, record.parent, named_in(document))
    read_record(document, vocabulary)
    if form is None:
        is_workbook = output is not None and output.suffix.lower() == _WORKBOOK
        form = TableFormat.XLSX if is_workbook else TableFormat.CSV
    if form is TableFormat.CSV:
        from ridgerule.tables.long_table import csv_of  # noqa: PLC0415 - the other form needs none

        put(csv_of(document, vocabulary), output)
        return
    from ridgerule.tables.place_tables import tables_of  # noqa: PLC0415 - the same
    from ridgerule.tables.workbook_writing import workbook_of  # noqa: PLC0415 - an extra

    put_bytes(workbook_of(tables_of(document, vocabulary)), output)


def named_in(document: Document) -> tuple[tuple[str, Location], ...]:
    """Return the rulebooks that a record names, each with its line."""
    names = rulebooks_named(document)
    return tuple((name, document.location(("rulebooks", i))) for i, name in enumerate(names))


def vocabulary_for(asked: Asked, beside: Path, named: Iterable[tuple[str, Location]]) -> Vocabulary:
    """Return the engine's facts and those of rulebooks: those named, and those asked for.

    Rulebooks are found also in the folder `beside`. Raises `InputRejected` for those that can't be
    found or read.
    """
    facts = facts_of(named, Shelf(folders=(*asked.folders, beside)))
    if asked.against:
        facts = (*facts, *facts_of(*references_against(asked, beside)))
    return engine_vocabulary().extended(facts)
