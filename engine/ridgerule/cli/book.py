"""`ridgerule book`: what rulebooks and records can speak of."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.cli.book_adapt import adapt
from ridgerule.cli.book_check import EPILOG as CHECK_EPILOG
from ridgerule.cli.book_check import check
from ridgerule.cli.book_differences import differences
from ridgerule.cli.book_facts import as_json, as_text
from ridgerule.cli.book_list import list_
from ridgerule.cli.book_prove import EPILOG as PROVE_EPILOG
from ridgerule.cli.book_prove import prove_books
from ridgerule.cli.book_show import show
from ridgerule.cli.inputs import Asked, plan_against
from ridgerule.cli.options import ListFormat, ListFormatOption, RulebookFolders
from ridgerule.cli.outputs import put, terminal
from ridgerule.facts import Element
from ridgerule.record_schema import record_schema
from ridgerule.reports.page import Page

if TYPE_CHECKING:
    from ridgerule.facts import Vocabulary


app = typer.Typer(
    name="book",
    help="Look into rulebooks and what they can speak of.",
    epilog="Exit status: 0 shown, 2 a rulebook can't be used or found.",
    add_completion=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.callback()
def book() -> None:
    """Look into rulebooks and what they can speak of."""


app.command("list")(list_)
app.command()(show)
app.command(epilog=CHECK_EPILOG)(check)
app.command()(adapt)
app.command()(differences)
app.command("prove", epilog=PROVE_EPILOG)(prove_books)


Against = Annotated[
    list[str] | None,
    typer.Option(
        "--against",
        metavar="RULEBOOK",
        help="Rulebook whose own facts are listed too, an id, id@edition or file. Repeat for "
        "several.",
    ),
]
ElementOption = Annotated[
    Element | None, typer.Option("--element", help="Facts of this element alone.")
]
SchemaOption = Annotated[
    bool,
    typer.Option(
        "--schema",
        help="Write the JSON Schema of a record instead, for editors to complete its facts.",
    ),
]


@app.command(
    epilog="Example, for editors: ridgerule book facts --against county.yaml --schema > "
    "roof.schema.json"
)
def facts(
    *,
    against: Against = None,
    rulebooks: RulebookFolders = None,
    element: ElementOption = None,
    schema: SchemaOption = False,
    form: ListFormatOption = ListFormat.TEXT,
) -> None:
    """List the facts: those a record can hold, and those computed from them."""
    if schema and element is not None:
        raise typer.BadParameter("a schema is of the whole record", param_hint="--element")
    vocabulary, names = _vocabulary(Asked(tuple(against or ()), tuple(rulebooks or ())))
    if schema:
        put(json.dumps(record_schema(vocabulary), indent=2, ensure_ascii=False) + "\n", None)
    elif form is ListFormat.JSON:
        put(as_json(vocabulary, element=element, rulebooks=names), None)
    else:
        screen = terminal()
        page = Page(width=screen.width, colour=screen.colour, unicode=screen.unicode)
        put(as_text(vocabulary, page, element=element), None, for_people=True)


def _vocabulary(asked: Asked) -> tuple[Vocabulary, tuple[str, ...]]:
    """Return the engine's facts with those of the rulebooks asked for, and the rulebooks."""
    if not asked.against:
        return engine_vocabulary(), ()
    plan = plan_against(asked, Path())
    return plan.vocabulary, tuple(book.name for book in plan.rulebooks())
