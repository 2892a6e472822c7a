"""`ridgerule book differences`: what changed between two rulebooks, and what it does to roofs."""

from __future__ import annotations

import re
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from ridgerule.audit.compile import plan_for
from ridgerule.cli.app import OutputOption
from ridgerule.cli.book_show import HERE, one_rulebook
from ridgerule.cli.exits import Exit
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.cli.options import RulebookFolders, SheetFormat, put_sheet
from ridgerule.cli.outputs import put
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.proof.differences import differences as differences_between
from ridgerule.proof.differences_roofs import Roofs, pinned, roof_change
from ridgerule.shelf import SUFFIXES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from ridgerule.audit.findings import Audit
    from ridgerule.audit.plan import Edition, Plan
    from ridgerule.proof.differences import Differences
    from ridgerule.proof.differences_roofs import RoofChange


class DifferencesFormat(StrEnum):
    """The forms that differences come in."""

    TEXT = "text"
    MARKDOWN = "markdown"
    JSON = "json"


_LONGEST_NAME = 4096
_RULEBOOK = "an id@edition, an id that has one edition, or a file."
Old = Annotated[str, typer.Argument(metavar="OLD", help=f"The rulebook as it was: {_RULEBOOK}")]
New = Annotated[str, typer.Argument(metavar="NEW", help=f"The rulebook as it is: {_RULEBOOK}")]
Records = Annotated[
    list[Path] | None,
    typer.Option(
        "--records",
        metavar="PATH",
        help="Record to hold against both, whatever its dates, or a folder with records in it at "
        "any depth. Repeat for several.",
    ),
]
FormatOption = Annotated[
    DifferencesFormat, typer.Option("--format", help="Form of the differences.")
]


def differences(  # noqa: PLR0913 - one parameter an option
    old: Old,
    new: New,
    *,
    records: Records = None,
    rulebooks: RulebookFolders = None,
    form: FormatOption = DifferencesFormat.TEXT,
    output: OutputOption = None,
) -> None:
    """Tell what changed between two rulebooks, and which recorded roofs come out otherwise."""
    folders = tuple(rulebooks or ())
    found = differences_between(*_editions(old, new, folders))
    roofs, problems = _roofs(found, records, folders) if records else (None, ())
    for problem in problems:
        print(problem, file=sys.stderr)
    if form is DifferencesFormat.JSON:
        from ridgerule.reports.differences_data import differences_data  # noqa: PLC0415

        put(differences_data(found, roofs), output)
    else:
        from ridgerule.reports.differences_sheet import (  # noqa: PLC0415 - data needs no page
            differences_sheet,
        )

        put_sheet(differences_sheet(found, roofs), SheetFormat(form.value), output)
    raise typer.Exit(Exit.UNUSABLE if problems else Exit.PASS)


def _editions(old: str, new: str, folders: tuple[Path, ...]) -> tuple[Edition, Edition]:
    """Return both rulebooks compiled; each may be a file of the same name and edition.

    Raises `InputRejected` with the problems of both.
    """
    editions: list[Edition] = []
    problems: list[Problem] = []
    for word, name in (("OLD", old), ("NEW", new)):
        try:
            book, shelf = one_rulebook(name, folders)
            editions.append(plan_for([(book.name, HERE)], shelf).books[0].editions[0])
        except InputRejected as rejected:
            problems.extend(_placed(problem, word) for problem in rejected.problems)
    if problems:
        raise InputRejected(problems)
    before, after = editions
    return before, after


def _placed(problem: Problem, word: str) -> Problem:
    """Return a problem of the command line with the argument that it is about."""
    return replace(problem, location=Location(word)) if problem.location == HERE else problem


def _roofs(
    found: Differences, paths: Iterable[Path], folders: tuple[Path, ...]
) -> tuple[Roofs, tuple[Problem, ...]]:
    """Return the records held against both rulebooks, and the problems of those that can't be."""
    old, new = found.old, found.new
    auditors = {
        f"{word}, {edition.book.name},": _auditor(pinned(edition, other), folders)
        for word, edition, other in (("OLD", old, new), ("NEW", new, old))
    }
    roofs: list[RoofChange] = []
    unused: list[str] = []
    problems: list[Problem] = []
    for path in _record_files(paths, problems):
        audits: list[Audit] = []
        told: dict[str, tuple[Problem, ...]] = {}
        for name, auditor in auditors.items():
            try:
                audits.append(auditor.audit(path))
            except InputRejected as rejected:
                told[name] = rejected.problems
        if told:
            problems.extend(_told(told))
            unused.append(shown(path, most=_LONGEST_NAME))
        else:
            roofs.append(roof_change(found, audits[0], audits[-1]))
    return Roofs(tuple(roofs), tuple(unused)), tuple(dict.fromkeys(problems))


def _auditor(plan: Plan, folders: tuple[Path, ...]) -> Auditor:
    """Return what holds records against one rulebook, which it need not look for."""
    asked = Asked((plan.books[0].reference,), folders)
    return Auditor(asked, planned=lambda *_: plan)


def _told(by_book: Mapping[str, tuple[Problem, ...]]) -> Iterator[Problem]:
    """Yield a record's problems; one that only one rulebook gives it names that rulebook."""
    for name, problems in by_book.items():
        others = [set(told) for other, told in by_book.items() if other != name]
        for problem in problems:
            if others and all(problem in told for told in others):
                yield problem
            else:
                advice = "; ".join(filter(None, (problem.advice, f"only {name} reads it so")))
                yield replace(problem, advice=advice)


def _record_files(paths: Iterable[Path], problems: list[Problem]) -> Iterator[Path]:
    """Yield the files that hold records, each once, a folder's by name; add to `problems`."""
    seen: set[Path] = set()
    for path in paths:
        files = [path]
        if path.is_dir():
            files = [file for file in sorted(path.rglob("*")) if _may_be_record(file, path)]
            if not files:
                told = f"a record in this folder, in a file that ends in {' or '.join(SUFFIXES)}"
                problems.append(Problem(Location(shown(path)), told, "none", "check the folder"))
        for file in files:
            if file.resolve() not in seen:
                seen.add(file.resolve())
                yield file


_RECORD = re.compile(
    r"""^["']?record["']?[ \t]*:"""  # a key at the start of a line, as in a YAML file
    r"""|^\{\s*record\s*:"""
    r"""|[{,]\s*"record"\s*:\s*[^{\s]""",  # in JSON; a report's `record` is a mapping
    re.MULTILINE,
)
"""What a record is known by, whatever else may be wrong with it."""


def _may_be_record(file: Path, folder: Path) -> bool:
    """Tell whether a file in a folder is meant as a record, or can't be told from one."""
    hidden = any(part.startswith(".") for part in file.relative_to(folder).parts)
    if hidden or file.suffix.lower() not in SUFFIXES or not file.is_file():
        return False
    try:
        return _RECORD.search(file.read_text(encoding="utf-8-sig")) is not None
    except (OSError, UnicodeDecodeError):
        return True  # reading it as a record will tell why
