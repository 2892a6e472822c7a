"""Options that several commands share, and where their sheets go."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.cli.app import OutputOption
from ridgerule.cli.outputs import put, put_bytes, terminal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.reports.sheet import Sheet

__all__ = [
    "FILE_WIDTH",
    "ListFormat",
    "ListFormatOption",
    "OutputOption",
    "RulebookFolders",
    "SheetFormat",
    "SheetFormatOption",
    "put_sheet",
    "put_sheets",
]

FILE_WIDTH = 100
"""How wide text is laid out in a file, which has no width of its own."""


class ListFormat(StrEnum):
    """The forms a list comes in."""

    TEXT = "text"
    JSON = "json"


class SheetFormat(StrEnum):
    """The forms a page about rulebooks comes in."""

    TEXT = "text"
    MARKDOWN = "markdown"
    HTML = "html"


RulebookFolders = Annotated[
    list[Path] | None,
    typer.Option(
        "--rulebooks",
        metavar="FOLDER",
        file_okay=False,
        help="Folder to find rulebooks in, besides this one and those shipped.",
    ),
]
ListFormatOption = Annotated[ListFormat, typer.Option("--format", help="Form of the list.")]
SheetFormatOption = Annotated[SheetFormat, typer.Option("--format", help="Form of the page.")]


def put_sheet(sheet: Sheet, form: SheetFormat, output: Path | None) -> None:
    """Write a sheet in the form asked for to `output`, or to standard output where there is none.

    Raises `InputRejected` where the file can't be written.
    """
    put_sheets([sheet], form, output)


def put_on_paper(sheets: Sequence[Sheet], output: Path | None) -> None:
    """Write sheets as one PDF.

    Raises `InputRejected` where what lays pages out is not installed, or the file can't be written.
    """
    from ridgerule.reports.pdf import as_pdf  # noqa: PLC0415 - an extra
    from ridgerule.reports.sheet_html import as_html  # noqa: PLC0415 - only where asked for

    put_bytes(as_pdf(as_html(*sheets)), output)


def put_sheets(sheets: Sequence[Sheet], form: SheetFormat, output: Path | None) -> None:
    """Write sheets one below the other, as `put_sheet` writes one; there must be one at least."""
    match form:
        case SheetFormat.HTML:
            from ridgerule.reports.sheet_html import as_html  # noqa: PLC0415 - only where asked for

            put(as_html(*sheets), output)
        case SheetFormat.MARKDOWN:
            from ridgerule.reports.sheet_markdown import as_markdown  # noqa: PLC0415 - the same

            put("\n".join(map(as_markdown, sheets)), output)
        case SheetFormat.TEXT:
            from ridgerule.reports.page import Page  # noqa: PLC0415 - the same
            from ridgerule.reports.sheet_text import as_text  # noqa: PLC0415

            screen = terminal()
            page = Page(width=screen.width, colour=screen.colour, unicode=screen.unicode)
            if output is not None:
                page = Page(width=FILE_WIDTH, colour=False, unicode=True)
            put("\n".join(as_text(sheet, page) for sheet in sheets), output, for_people=True)
