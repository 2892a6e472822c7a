"""`ridgerule book check`: everything wrong in rulebooks' files, and what they change."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from ridgerule import __version__
from ridgerule.audit.compile import plan_for
from ridgerule.audit.strictness import Strictness
from ridgerule.cli.exits import Exit
from ridgerule.cli.options import ListFormat, ListFormatOption, RulebookFolders
from ridgerule.cli.outputs import put, terminal
from ridgerule.facts import read_date
from ridgerule.problems import InputRejected
from ridgerule.proof.lint import remarks
from ridgerule.proof.lint_changes import ORDER, ToldChange, told_changes
from ridgerule.proof.lint_remarks import Level, Remark, Sight, error
from ridgerule.quantities import Mistake
from ridgerule.reports.page import BLANK, HEADING, TITLE, Page, cells
from ridgerule.shelf import SUFFIXES, Shelf

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.reports.page import Line
    from ridgerule.rulebook import Rulebook

_STYLES = {Level.ERROR: "bold red", Level.WARNING: "bold magenta"}
_HANGING = 4
"""How far the lines after a remark's first are set in."""


class CheckedFile(Struct, frozen=True):
    """A file that was checked; one that can't be read has neither rulebook nor changes."""

    path: str
    rulebook: str = ""
    """As `id@edition`."""
    changes: tuple[ToldChange, ...] = ()


class Checked(Struct, frozen=True):
    """What a check of several files found."""

    files: tuple[CheckedFile, ...]
    remarks: tuple[Remark, ...]
    """Of every file, in the order of their places."""

    def count(self, level: Level) -> int:
        """Return how many remarks are as grave as this."""
        return sum(remark.level is level for remark in self.remarks)


FilesArgument = Annotated[
    list[Path], typer.Argument(metavar="FILE...", help="Rulebooks' files, YAML or JSON.")
]
DayOption = Annotated[
    str | None,
    typer.Option(
        "--on", metavar="DATE", help="Day to hold days in force against; today where not said."
    ),
]
StrictOption = Annotated[bool, typer.Option("--strict", help="End with 2 on warnings as well.")]
EPILOG = (
    "An error has to be mended: a limit that nothing meets, rules against each other, a case that "
    "comes out otherwise. A warning is to be looked at and may be meant as it is. Exit status: 0 "
    "no errors, 2 errors, or warnings with --strict. Example: ridgerule book check county.yaml"
)


def check(
    files: FilesArgument,
    *,
    rulebooks: RulebookFolders = None,
    on: DayOption = None,
    strict: StrictOption = False,
    form: ListFormatOption = ListFormat.TEXT,
) -> None:
    """Tell everything wrong in rulebooks, line by line, and what they change in their bases."""
    found = check_files(files, tuple(rulebooks or ()), _day(on))
    if form is ListFormat.JSON:
        put(as_json(found), None)
    else:
        screen = terminal()
        page = Page(width=screen.width, colour=screen.colour, unicode=screen.unicode)
        put(as_text(found, page), None, for_people=True)
    failed = found.count(Level.ERROR) or (strict and found.remarks)
    raise typer.Exit(Exit.UNUSABLE if failed else Exit.PASS)


def _day(on: str | None) -> dt.date:
    """Return the day that a check is made for."""
    if on is None:
        return dt.datetime.now().astimezone().date()
    found = read_date(on)
    if isinstance(found, Mistake):
        raise typer.BadParameter(
            f"expected {found.expected}; found {found.found}", param_hint="--on"
        )
    return found


def check_files(files: Sequence[Path], folders: tuple[Path, ...], today: dt.date) -> Checked:
    """Return all that is to be told of some rulebooks' files, on a day."""
    told: set[Remark] = set()
    books = dict(_readable(dict.fromkeys(files), told))
    names = frozenset(book.name for book in books.values())
    checked = []
    for file in dict.fromkeys(files):
        changes: tuple[ToldChange, ...] = ()
        if file in books:
            try:
                changes = _checked(file, books, (folders, today, names), told)
            except InputRejected as rejected:
                told.update(map(Remark, rejected.problems))
        book = books.get(file)
        path = str(file) if book is None else book.document.name
        checked.append(CheckedFile(path, book.name if book else "", changes))
    return Checked(tuple(checked), tuple(sorted(told)))


def _readable(files: Iterable[Path], told: set[Remark]) -> Iterator[tuple[Path, Rulebook]]:
    """Yield the files that hold a rulebook, each once; add to `told` why others don't."""
    known: dict[str, Rulebook] = {}
    for file in files:
        try:
            (book,) = Shelf(files=(file,)).given
        except InputRejected as rejected:
            told.update(map(Remark, rejected.problems))
            continue
        first = known.setdefault(book.name, book)
        if first is book:
            yield file, book
        else:
            where = book.document.location(("rulebook",))
            expected = "a rulebook and edition of its own"
            found = f"`{book.name}`, which {first.document.name} is too"
            told.add(error(where, expected, found, "give one of them another edition"))


def _checked(
    file: Path,
    books: dict[Path, Rulebook],
    asked: tuple[tuple[Path, ...], dt.date, frozenset[str]],
    told: set[Remark],
) -> tuple[ToldChange, ...]:
    """Return what one file changes; add to `told` what is to be told of it.

    Raises `InputRejected` where it can't be compiled.
    """
    folders, today, names = asked
    others = [other for other in books if other != file]
    # The shelf finds the others by their names; files without such a name have to be given.
    unnamed = [other for other in others if "@" not in other.stem or other.suffix not in SUFFIXES]
    beside = dict.fromkeys((*folders, Path(), *(other.parent for other in others)))
    shelf = Shelf(folders=tuple(beside), files=(file, *unnamed))
    book = shelf.given[0]
    plan = plan_for([(book.name, book.document.location(("rulebook",)))], shelf)
    edition = plan.books[0].editions[0]
    told.update(remarks(edition, Sight(shelf, today, names)))
    return told_changes(edition)


def as_json(found: Checked) -> str:
    """Return what was found as data."""
    data = {
        "check": 1,
        "tool": {"name": "ridgerule", "version": __version__},
        "files": [
            {
                "path": file.path,
                "rulebook": file.rulebook,
                "changes": [_change_data(change) for change in file.changes],
            }
            for file in found.files
        ],
        "counts": {f"{level}s": found.count(level) for level in Level},
        "remarks": [_remark_data(remark) for remark in found.remarks],
    }
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _remark_data(remark: Remark) -> dict[str, str | int]:
    problem = remark.problem
    return {
        "path": problem.location.file,
        "line": problem.location.line,
        "column": problem.location.column,
        "level": remark.level,
        "expected": problem.expected,
        "found": problem.found,
        "advice": problem.advice,
    }


def _change_data(change: ToldChange) -> dict[str, object]:
    return {
        "rule": change.rule,
        "strictness": change.strictness,
        "withdraws": change.withdraws,
        "fields": list(change.fields),
        "parts": [
            {"field": p.field, "strictness": p.strictness, "was": p.was, "now": p.now}
            for p in change.parts
        ],
        "reason": change.reason,
        "permitted_by": change.permitted_by,
        "line": change.location.line,
        "column": change.location.column,
    }


def as_text(found: Checked, page: Page) -> str:
    """Return what was found as lines on a page, file by file, with counts at the end."""
    return page.printed((*_files(found, page), _closing(found, page))).removeprefix("\n")


def _files(found: Checked, page: Page) -> Iterator[Iterator[Line]]:
    """Yield each file's part, those that were given and those that they stand on."""
    by_file: dict[str, list[Remark]] = {file.path: [] for file in found.files}
    for remark in found.remarks:
        by_file.setdefault(remark.problem.location.file, []).append(remark)
    given = {file.path: file for file in found.files}
    for path in sorted(by_file):
        yield _file(given.get(path, CheckedFile(path)), by_file[path], page)


def _file(file: CheckedFile, told: list[Remark], page: Page) -> Iterator[Line]:
    name = f"{file.rulebook}, " if file.rulebook else ""
    yield from page.heading(f"{name}{file.path}", HEADING)
    yield page.rule()
    for remark in told:
        location = f"{remark.problem.location}: "
        level = (f"{remark.level}:", _STYLES[remark.level])
        line = page.text(location, level, f" {remark.told}")
        rest = line.part(_HANGING, len(line.plain))
        yield from page.flow(rest, indent=_HANGING, mark=line.part(0, _HANGING))
    if not told:
        yield from page.flow(page.text("nothing to mend or to look at"))
    if file.changes:
        yield from _changes(file.changes, page)


def _changes(changes: tuple[ToldChange, ...], page: Page) -> Iterator[Line]:
    """Yield what a rulebook changes in its bases, the looser first."""
    counts = Counter(change.strictness for change in changes)
    listed = ", ".join(f"{counts[each]} {each}" for each in ORDER if counts[each])
    yield BLANK
    yield from page.flow(page.text(("Changes to rules of its bases", TITLE), f": {listed}"))
    width = max(cells(change.strictness) for change in changes)
    for change in changes:
        mark = page.text((change.strictness, _change_style(change.strictness)))
        words = page.text(f"{change.rule}: {'; '.join(_change_words(change))}")
        yield from page.marked(mark, words, first=width)


def _change_style(strictness: Strictness) -> str:
    return _STYLES[Level.WARNING] if strictness.may_loosen else ""


def _change_words(change: ToldChange) -> Iterator[str]:
    """Yield what became of a rule, field by field, and who permits it."""
    if change.withdraws:
        yield "withdrawn"
    for part in change.parts:
        alike = part.strictness in (change.strictness, Strictness.WORDING)
        yield f"{part.field}{'' if alike else f' ({part.strictness})'} {part.was} → {part.now}"
    if not change.parts and not change.withdraws:
        yield ", ".join(change.fields)
    if change.permitted_by:
        yield f"permitted by {change.permitted_by}"


def _closing(found: Checked, page: Page) -> Iterator[Line]:
    counts = ", ".join(_counted(found.count(level), level) for level in Level)
    yield BLANK
    yield from page.flow(page.text((f"{_counted(len(found.files), 'file')}: {counts}", TITLE)))


def _counted(count: int, noun: str) -> str:
    return f"{count or 'no'} {noun}{'' if count == 1 else 's'}"
