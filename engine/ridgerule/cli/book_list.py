"""`ridgerule book list`: every rulebook in sight, each told briefly."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from ridgerule import __version__
from ridgerule.audit.compile import plan_for
from ridgerule.cli.exits import Exit
from ridgerule.cli.options import (
    ListFormat,
    ListFormatOption,
    RulebookFolders,
    SheetFormat,
    put_sheet,
)
from ridgerule.cli.outputs import put
from ridgerule.problems import InputRejected, Location, Problem
from ridgerule.reports.rulebook_sheet import counted_changes, counted_rules, listing_sheet
from ridgerule.shelf import SUFFIXES, Shelf
from ridgerule.shipped import shipped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.plan import Edition


def list_(
    *,
    rulebooks: RulebookFolders = None,
    form: ListFormatOption = ListFormat.TEXT,
) -> None:
    """List the rulebooks in sight: those in this folder, in folders named and those shipped."""
    editions, problems = in_sight((*(rulebooks or ()), Path()))
    if form is ListFormat.JSON:
        put(_as_json(editions), None)
    else:
        put_sheet(listing_sheet(editions), SheetFormat.TEXT, None)
    for problem in problems:
        print(problem, file=sys.stderr)
    if problems:
        raise typer.Exit(Exit.UNUSABLE)


def in_sight(folders: tuple[Path, ...]) -> tuple[list[Edition], list[Problem]]:
    """Return the rulebooks that can be used, by name, and what is wrong with the others.

    Of two files with one rulebook the nearest counts, as it does in an audit.
    """
    found: dict[str, Edition] = {}
    problems: dict[Problem, None] = {}
    for file in _files(folders):
        try:
            edition = _edition(file, folders)
        except InputRejected as rejected:
            problems.update(dict.fromkeys(rejected.problems))
        else:
            found.setdefault(edition.book.name, edition)
    return [found[name] for name in sorted(found)], sorted(problems)


def _files(folders: tuple[Path, ...]) -> Iterator[Path]:
    """Yield the files whose names say that they hold a rulebook, the nearest first."""
    names = Shelf(folders=folders).names()
    seen: set[Path] = set()
    for folder in (*folders, shipped("rulebooks")):
        for name in names:
            for file in (folder / f"{name}{suffix}" for suffix in SUFFIXES):
                if file.is_file() and (whole := file.resolve()) not in seen:
                    seen.add(whole)
                    yield file


def _edition(file: Path, folders: tuple[Path, ...]) -> Edition:
    shelf = Shelf(folders=folders, files=(file,))
    (book,) = shelf.given
    (planned,) = plan_for([(book.name, Location(book.document.name))], shelf).books
    return planned.editions[0]


def _as_json(editions: list[Edition]) -> str:
    data = {
        "list": 1,
        "tool": {"name": "ridgerule", "version": __version__},
        "rulebooks": [_data(edition) for edition in editions],
    }
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _data(edition: Edition) -> dict[str, object]:
    book = edition.book
    own, inherited = counted_rules(edition)
    amendments, withdrawals = counted_changes(edition)
    first, last = book.in_force.first, book.in_force.last
    return {
        "rulebook": book.id,
        "edition": book.edition,
        "title": book.title,
        "authority": book.authority,
        "in_force": {
            "from": first.isoformat() if first else None,
            "to": last.isoformat() if last else None,
            "by": book.in_force_by.value if book.in_force_by else None,
        },
        "based_on": [reference for reference, _ in book.based_on],
        "rules": {"own": own, "inherited": inherited},
        "amendments": amendments,
        "withdrawals": withdrawals,
        "coverages": [{"id": each.id, "title": each.title} for each in book.coverages],
        "file": book.document.name,
        "sha256": book.document.digest,
    }
