"""`ridgerule survey`: the roofs of JSON Lines files, one result a line."""

from __future__ import annotations

import os
import sys
import tempfile
from collections import Counter
from contextlib import contextmanager
from functools import partial
from itertools import chain, groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.audit.compile import facts_of, plan_for
from ridgerule.audit.findings import Outcome
from ridgerule.cli.app import Against, AllOption, OutputOption, RulebookFolders
from ridgerule.cli.exits import Exit, status_of
from ridgerule.cli.inputs import Asked, plan_against
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.shelf import Shelf
from ridgerule.survey.blocks import UNUSABLE, Block, blocks_of, survey
from ridgerule.survey.surveying import Held, Surveyor

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import BinaryIO

    from ridgerule.audit.plan import Plan

app = typer.Typer(add_completion=False)


@app.command(
    name="survey",
    epilog="Exit status: 0 every roof passes, 1 one fails, 4 none fails but one is not verified, "
    "2 a record or a file can't be used.",
)
def survey_files(  # noqa: PLR0913 - one parameter an option
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE...", help="JSON Lines files: one record a line, as JSON."),
    ],
    *,
    against: Against = None,
    rulebooks: RulebookFolders = None,
    keep_all: AllOption = False,
    jobs: Annotated[
        int,
        typer.Option("--jobs", "-j", min=1, max=64, help="Processes to share the lines out to."),
    ] = 1,
    output: OutputOption = None,
) -> None:
    """Audit every record of JSON Lines files: one result a line, in their order.

    A result has the outcome, the counts by outcome and rulebook, and the findings that failed or
    are open. A record that can't be used has its problems instead, and stops nothing.
    """
    asked = Asked(tuple(against or ()), tuple(rulebooks or ()))
    if asked.against:
        plan_against(asked, files[0].parent)  # what is wrong with them is told before anything else
    for path in files:
        _refuse_unreadable(path)
    outcomes: Counter[str] = Counter()
    with _opened(output) as out:
        for folder, beside in groupby(dict.fromkeys(files), key=lambda path: path.parent):
            made = partial(surveyor, asked, folder, keep_all=keep_all)
            blocks = chain.from_iterable(_blocks(path) for path in list(beside))
            for found in survey(made, blocks, jobs=jobs):
                out.write(found.lines)
                outcomes.update(found.outcomes)
    raise typer.Exit(_status(outcomes))


def surveyor(asked: Asked, beside: Path, *, keep_all: bool) -> Surveyor:
    """Return what surveys records that lie in a folder, in whatever process it is made."""
    return Surveyor(_Rulebooks(asked, beside), keep_all=keep_all)


class _Rulebooks:
    """Tells what records are held against, by the rulebooks they name."""

    def __init__(self, asked: Asked, beside: Path) -> None:
        self.asked = asked
        self.beside = beside
        self.plan: Plan | None = plan_against(asked, beside) if asked.against else None

    def __call__(self, names: tuple[str, ...], where: Location) -> Held:
        """Return the plan; raises InputRejected where a rulebook can't be used."""
        references = tuple((name, where) for name in names)
        shelf = Shelf(folders=(*self.asked.folders, self.beside))
        if self.plan is None:
            if not names:
                advice = "list them under `rulebooks:`, or name them with `--against`"
                raise InputRejected([Problem(where, "at least one rulebook", "none", advice)])
            plan = plan_for(references, shelf)
            return Held(plan, plan.vocabulary)
        if not names:
            return Held(self.plan, self.plan.vocabulary)
        try:
            facts = facts_of(references, shelf)
        except InputRejected as rejected:
            return Held(self.plan, self.plan.vocabulary, rejected.problems)
        return Held(self.plan, self.plan.vocabulary.extended(facts))


def _blocks(path: Path) -> Iterator[Block]:
    return blocks_of(path, shown(path, most=4096))


def _refuse_unreadable(path: Path) -> None:
    """Raise InputRejected where a file can't be read a second time, or at all."""
    found = ""
    try:
        if not path.exists():
            found = "nothing at this path"
        elif not path.is_file():
            found = "no ordinary file"
        else:
            path.open("rb").close()
    except (OSError, ValueError) as error:
        found = (getattr(error, "strerror", None) or "a path that can't be opened").lower()
    if found:
        where = Location(shown(path, most=4096))
        raise InputRejected([Problem(where, "a file that can be read", found, "check the path")])


def _status(outcomes: Counter[str]) -> Exit:
    if outcomes[UNUSABLE]:
        return Exit.UNUSABLE
    return status_of(Outcome(outcome) for outcome in outcomes if outcomes[outcome])


@contextmanager
def _opened(output: Path | None) -> Iterator[BinaryIO]:
    """Give what results are written to: a file, there whole or not at all, or the terminal."""
    if output is None:
        yield sys.stdout.buffer
        sys.stdout.buffer.flush()
        return
    if output.exists() and not output.is_file():
        with output.open("wb") as file:  # a device or a pipe: nothing to keep whole
            yield file
        return
    try:
        handle, name = tempfile.mkstemp(prefix=f".{output.name}.", dir=output.resolve().parent)
    except OSError as error:
        found = (error.strerror or "an error of the file system").lower()
        advice = "choose another place with `--output`"
        problem = Problem(Location(str(output)), "a file that can be written", found, advice)
        raise InputRejected([problem]) from None
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
        Path(name).replace(output.resolve())
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
