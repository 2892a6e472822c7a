"""`ridgerule book prove`: rules held against their own cases, and at the edges of their limits."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.audit.compile import plan_for
from ridgerule.cli.exits import Exit
from ridgerule.cli.options import OutputOption, RulebookFolders, SheetFormat, put_sheets
from ridgerule.cli.outputs import put
from ridgerule.problems import InputRejected, Location, Problem
from ridgerule.proof.proving import Depth, prove
from ridgerule.shelf import SUFFIXES, Shelf

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.proof.proving import BookProof
    from ridgerule.rulebook import Rulebook

HERE = Location("FILE")
"""Where a rulebook named on the command line stands."""


class ProofFormat(StrEnum):
    """The forms a proof comes in."""

    TEXT = "text"
    MARKDOWN = "markdown"
    HTML = "html"
    JSON = "json"


NamesArgument = Annotated[
    list[str],
    typer.Argument(
        metavar="FILE...", help="Rulebooks to prove: files, or ids or id@edition of those in sight."
    ),
]
ThoroughOption = Annotated[
    bool,
    typer.Option(
        "--thorough",
        help="Change each rule a little as well: figures by one step, listed values, conditions, "
        "rows and evidence left out. Tell the changes that no case notices.",
    ),
]
InheritedOption = Annotated[
    bool,
    typer.Option(
        "--inherited",
        help="Prove rules that are inherited as they are too, not run their cases alone.",
    ),
]
FormatOption = Annotated[ProofFormat, typer.Option("--format", help="Form of the proof.")]
EPILOG = (
    "A side is unproved, and so is the rulebook, where no case passes on a figure or one step "
    "inside it, where none fails outside it, where a listed value, an alternative or a condition "
    "is never shown to decide either way, or where no case has evidence too weak for a rule that "
    "asks for some. Advice alone: no case fails within one step of a figure, none lacks a reading. "
    "`unproved:` in the rulebook may say why no case has to. Exit status: 0 proved, 1 a case comes "
    "out otherwise or something is unproved, 2 a file can't be used, 3 a fault of ridgerule's own, "
    "such as an edge at which the engine and the limits differ."
)


def prove_books(  # noqa: PLR0913 - one parameter an option
    names: NamesArgument,
    *,
    thorough: ThoroughOption = False,
    inherited: InheritedOption = False,
    rulebooks: RulebookFolders = None,
    form: FormatOption = ProofFormat.TEXT,
    output: OutputOption = None,
) -> None:
    """Prove rulebooks: run the rules' own cases, and try each limit at its edges."""
    depth = Depth(thorough=thorough, inherited=inherited)
    proofs, problems = proved(names, tuple(rulebooks or ()), depth)
    for problem in problems:
        print(problem, file=sys.stderr)
    if proofs:
        _put(proofs, form, output)
    if problems:
        raise typer.Exit(Exit.UNUSABLE)
    raise typer.Exit(Exit.PASS if all(proof.is_proved for proof in proofs) else Exit.FAIL)


def proved(
    names: Sequence[str], folders: tuple[Path, ...], depth: Depth
) -> tuple[list[BookProof], list[Problem]]:
    """Return the proofs of the rulebooks that can be used, and what is wrong with others."""
    problems: list[Problem] = []
    files = dict(_readable(names, problems))
    shelf = Shelf(folders=(*folders, Path()), files=tuple(files))
    proofs: dict[str, BookProof] = {}
    for name in dict.fromkeys(names):
        try:
            for book in _meant(name, files, shelf):
                if book.name not in proofs:
                    plan = plan_for([(book.name, HERE)], shelf)
                    proofs[book.name] = prove(plan.books[0].editions[0], depth)
        except InputRejected as rejected:
            problems.extend(rejected.problems)
    return [*proofs.values()], sorted(set(problems))


def _readable(names: Sequence[str], problems: list[Problem]) -> Iterator[tuple[Path, Rulebook]]:
    """Yield the files among the names that hold a rulebook; add to `problems` why others don't."""
    known: dict[str, Rulebook] = {}
    for file in dict.fromkeys(Path(name) for name in names if _is_file(name)):
        try:
            (book,) = Shelf(files=(file,)).given
        except InputRejected as rejected:
            problems.extend(rejected.problems)
            continue
        first = known.setdefault(book.name, book)
        if first is book:
            yield file, book
        else:
            where = book.document.location(("rulebook",))
            found = f"`{book.name}`, which {first.document.name} is too"
            advice = "give one of them another edition"
            problems.append(Problem(where, "a rulebook and edition of its own", found, advice))


def _meant(name: str, files: dict[Path, Rulebook], shelf: Shelf) -> tuple[Rulebook, ...]:
    """Return the rulebooks that a name means: every edition of an id; none of a file told of."""
    if _is_file(name):
        book = files.get(Path(name))
        return () if book is None else (book,)
    return shelf.editions(name, asked_at=HERE)


def _is_file(name: str) -> bool:
    return name.endswith(SUFFIXES)


def _put(proofs: Sequence[BookProof], form: ProofFormat, output: Path | None) -> None:
    if form is ProofFormat.JSON:
        from ridgerule.reports.proof_data import proof_json  # noqa: PLC0415 - only where asked for

        put(proof_json(proofs), output)
        return
    from ridgerule.reports.proof_sheet import proof_sheet  # noqa: PLC0415 - the same

    put_sheets([proof_sheet(proof) for proof in proofs], SheetFormat(form.value), output)
