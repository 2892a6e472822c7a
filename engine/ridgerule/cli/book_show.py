"""`ridgerule book show`: the manual page of a rulebook, or of one of its rules."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.audit.compile import plan_for
from ridgerule.cli.options import (
    OutputOption,
    RulebookFolders,
    SheetFormat,
    SheetFormatOption,
    put_sheet,
)
from ridgerule.problems import InputRejected, Location, Problem, shown, suggestion
from ridgerule.reports.rule_sheet import history_of, rule_sheet
from ridgerule.reports.rulebook_sheet import rulebook_sheet
from ridgerule.shelf import SUFFIXES, Shelf

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.audit.plan import Edition, Plan
    from ridgerule.reports.sheet import Sheet
    from ridgerule.rulebook import Rule, Rulebook

HERE = Location("RULEBOOK")
"""Where a rulebook named on the command line stands."""

Shown = Annotated[
    str,
    typer.Argument(
        metavar="RULEBOOK[#RULE]",
        help="Rulebook to show, an id, id@edition or file; a rule of it after `#`.",
    ),
]


def show(
    shown_one: Shown,
    *,
    rulebooks: RulebookFolders = None,
    form: SheetFormatOption = SheetFormat.TEXT,
    output: OutputOption = None,
) -> None:
    """Show a rulebook, or one of its rules, as a manual page in plain words."""
    name, _, rule = shown_one.partition("#")
    put_sheet(_sheet(name, rule, tuple(rulebooks or ())), form, output)


def _sheet(name: str, rule: str, folders: tuple[Path, ...]) -> Sheet:
    book, shelf = one_rulebook(name, folders)
    edition, plan = with_bases(book, shelf)
    if not rule:
        return rulebook_sheet(edition, plan)
    return rule_sheet(history_of(_rule(rule, edition), plan, edition.book.name))


def one_rulebook(name: str, folders: tuple[Path, ...]) -> tuple[Rulebook, Shelf]:
    """Return the one rulebook that an id, an id@edition or a file names, and where it was found.

    Raises `InputRejected` where there is none, or where an id has several editions in sight.
    """
    (book,), shelf = rulebooks_named((name,), folders)
    return book, shelf


def rulebooks_named(
    names: Sequence[str], folders: tuple[Path, ...]
) -> tuple[tuple[Rulebook, ...], Shelf]:
    """Return the rulebooks of several names, each once, and where they were found.

    Raises `InputRejected` with every problem of every name.
    """
    files = {name: Path(name) for name in names if name.endswith(SUFFIXES)}
    shelf = Shelf(folders=(*folders, Path()), files=tuple(files.values()))
    given = dict(zip(files, shelf.given, strict=True))
    found: dict[str, Rulebook] = {}
    problems: list[Problem] = []
    for name in names:
        try:
            book = given[name] if name in given else _one_edition(name, shelf)
        except InputRejected as rejected:
            problems.extend(rejected.problems)
        else:
            found.setdefault(book.name, book)
    if problems:
        raise InputRejected(problems)
    return tuple(found.values()), shelf


def _one_edition(name: str, shelf: Shelf) -> Rulebook:
    editions = shelf.editions(name, asked_at=HERE)
    if len(editions) > 1:
        listed = " or ".join(f"`{book.name}`" for book in editions)
        told = f"`{shown(name)}`, which has {len(editions)} editions in sight"
        raise InputRejected([Problem(HERE, "one edition", told, f"name {listed}")])
    return editions[0]


def with_bases(book: Rulebook, shelf: Shelf) -> tuple[Edition, Plan]:
    """Return a rulebook compiled, and a plan that holds it and every rulebook under it.

    Raises `InputRejected` with every problem of theirs.
    """
    (planned,) = plan_for([(book.name, HERE)], shelf).books
    (edition,) = planned.editions
    names = [under.name for under in edition.adapted.documents()]
    plan = plan_for([(name, HERE) for name in names], shelf)
    return plan.books[0].editions[0], plan


def _rule(name: str, edition: Edition) -> Rule:
    """Return the rule of an id or a full id, one that was withdrawn among them."""
    rules = (*(check.rule for check in edition.checks), *edition.adapted.withdrawn)
    found = [rule for rule in rules if name in (rule.id, rule.full_id)]
    if len(found) == 1:
        return found[0]
    where = Location(f"{edition.book.name}#RULE")
    if found:
        listed = " or ".join(f"`{rule.full_id}`" for rule in found)
        told = f"`{shown(name)}`, which is in two of its bases"
        raise InputRejected([Problem(where, "one rule", told, f"name {listed}")])
    known = {rule.id for rule in rules} | {rule.full_id for rule in rules}
    advice = suggestion(name, known) or f"`ridgerule book show {edition.book.name}` lists its rules"
    raise InputRejected([Problem(where, "a rule of this rulebook", f"`{shown(name)}`", advice)])
