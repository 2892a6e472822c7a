"""`ridgerule measure`: a visit asked question by question, each answer saved before the next."""

from __future__ import annotations

import datetime as dt
import os
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.cli import measure_page as pages
from ridgerule.cli.app import Against, RulebookFolders
from ridgerule.cli.exits import Exit, status_of
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.cli.measure_desk import Desk, Unreadable
from ridgerule.cli.measure_talk import Left, Signals, Talk
from ridgerule.cli.outputs import put, terminal
from ridgerule.reports.page import Page
from ridgerule.visit.entry import Memory
from ridgerule.visit.entry_file import Lock

if TYPE_CHECKING:
    from collections.abc import Sequence

app = typer.Typer(add_completion=False)


@app.command(
    epilog="Exit status, as an audit of what is recorded by then: 0 pass, 1 something failed, "
    "4 something is not verified; 2 the file can't be used. Example: "
    "ridgerule measure roof.yaml --against county.yaml"
)
def measure(
    record: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="Record of a roof: an outline of its planes and lines will do."
        ),
    ],
    *,
    against: Against = None,
    rulebooks: RulebookFolders = None,
    again: Annotated[
        bool,
        typer.Option("--again", help="Ask again what is recorded as unknown or can't reach."),
    ] = False,
) -> None:
    """Ask what the rulebooks need to know, in the order of the walk, and say at once if it passes.

    Each answer is in the file, comments and all kept, before the next question is asked. Leave at
    any time; the same command goes on where it stopped.
    """
    asked = Asked(tuple(against or ()), tuple(rulebooks or ()))
    with Signals() as signals, Lock(record.resolve()):
        desk = Desk(Auditor(asked), record, dt.datetime.now().astimezone().date())
        talk = Talk(desk, _page(), _show, Memory(again=again))
        _prepare()
        try:
            talk.opening()
            talk.run(signals)
        except Left:
            _show("\n")
        except Unreadable as unreadable:
            _tell(unreadable, desk.name)
            raise typer.Exit(Exit.UNUSABLE) from None
        again_words = _command(record, asked, again=again)
        _close(talk, again_words)
    raise typer.Exit(status_of([desk.audit.outcome]))


def _page() -> Page:
    screen = terminal()
    return Page(width=screen.width, colour=screen.colour, unicode=screen.unicode)


def _show(text: str) -> None:
    """Show text; a terminal that is gone shows nothing, and what is saved stays saved."""
    try:
        put(text, None, for_people=True)
    except BrokenPipeError:
        raise
    except OSError:
        return


def _prepare() -> None:
    """Make ready to read lines: with line editing on a terminal, whatever bytes come by a pipe."""
    if sys.stdin.isatty():
        import readline  # noqa: F401, PLC0415 - `input` edits lines where it is there
    elif hasattr(sys.stdin, "reconfigure"):
        sys.stdin.reconfigure(encoding="utf-8", errors="surrogateescape")


def _close(talk: Talk, again: str) -> None:
    """Show what was saved and how to go on."""
    page = talk.page
    left = pages.Left(talk.answers, talk.beside, talk.open, again)
    lines = pages.closing(talk.desk.audit, talk.desk.name, left, page)
    _show(page.printed([lines]))


def _tell(unreadable: Unreadable, name: str) -> None:
    """Say that the file can't be read any more, and where the last answer is."""
    print(f"{name} was changed from outside and can't be read now:", file=sys.stderr)
    for problem in unreadable.problems:
        print(problem, file=sys.stderr)
    where = f"kept in {unreadable.beside}" if unreadable.beside else "not saved anywhere"
    print(f"Nothing was written over it. The answer just typed is {where}.", file=sys.stderr)


def _command(record: Path, asked: Asked, *, again: bool) -> str:
    """Return the command that goes on with this visit, as it is typed."""
    words: Sequence[str] = (
        "ridgerule",
        "measure",
        os.fspath(record),
        *(word for name in asked.against for word in ("--against", name)),
        *(word for folder in asked.folders for word in ("--rulebooks", os.fspath(folder))),
        *(("--again",) if again else ()),
    )
    return shlex.join(words)
