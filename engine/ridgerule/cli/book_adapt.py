"""`ridgerule book adapt`: the starting file of a local rulebook, all of it switched off."""

from __future__ import annotations

import datetime as dt
import json
import re
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from msgspec import Struct

from ridgerule.adapt import lay
from ridgerule.audit.compile import plan_for
from ridgerule.cli.book_show import HERE, rulebooks_named
from ridgerule.cli.options import RulebookFolders
from ridgerule.cli.outputs import put
from ridgerule.documents import read_document
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.reports.starter import SCHEMA, Starter, starter_text
from ridgerule.reports.visible import visible
from ridgerule.rulebook import read_rulebook
from ridgerule.shelf import Shelf
from ridgerule.shipped import shipped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.plan import Edition
    from ridgerule.rulebook import Rulebook

SUFFIX = ".yaml"
_DAY = re.compile(r"(\d{4})(?:-(\d\d))?(?:-(\d\d))?", re.ASCII)
_LONGEST_ID = 120


class Asked(Struct, frozen=True):
    """What a starting file was asked for."""

    bases: tuple[str, ...]
    folders: tuple[Path, ...]
    authority: str
    out: Path
    id: str
    edition: str
    title: str
    overwrite: bool
    today: dt.date


Bases = Annotated[
    list[str],
    typer.Argument(
        metavar="BASE...", help="Rulebooks it stands on, each an id, id@edition or file."
    ),
]
AuthorityOption = Annotated[
    str, typer.Option("--authority", metavar="WORDS", help="Who stands behind the local rulebook.")
]
OutOption = Annotated[
    Path,
    typer.Option(
        "--out",
        "--output",
        "-o",
        metavar="FILE",
        help="File to write, `ID@EDITION.yaml`, or a folder to write it in.",
    ),
]
IdOption = Annotated[
    str,
    typer.Option(
        "--id", metavar="ID", help="Its id; from the file's name, or the authority, if not said."
    ),
]
EditionOption = Annotated[
    str,
    typer.Option(
        "--edition",
        metavar="E",
        help="Its edition; from the file's name, or this month, if not said.",
    ),
]
TitleOption = Annotated[
    str, typer.Option("--title", metavar="T", help="Its title; from the authority, if not said.")
]
OverwriteOption = Annotated[
    bool, typer.Option("--overwrite", help="Write over files that are there already.")
]


def adapt(  # noqa: PLR0913 - one parameter an option
    bases: Bases,
    *,
    authority: AuthorityOption,
    out: OutOption,
    id_: IdOption = "",
    edition: EditionOption = "",
    title: TitleOption = "",
    rulebooks: RulebookFolders = None,
    overwrite: OverwriteOption = False,
) -> None:
    """Write the starting file of a local rulebook: every rule of its bases, ready to be changed.

    What it says is switched off with a mark before each line; take the marks away from a piece,
    then change its words and figures.
    """
    asked = Asked(
        bases=tuple(bases),
        folders=tuple(rulebooks or ()),
        authority=visible(authority).strip(),
        out=out,
        id=id_,
        edition=edition,
        title=visible(title).strip(),
        overwrite=overwrite,
        today=dt.datetime.now().astimezone().date(),
    )
    written = write_starter(asked)
    put("".join(f"{line}\n" for line in written), None, for_people=True)


def write_starter(asked: Asked) -> tuple[str, ...]:
    """Write the starting file, with the schema beside it; return what to say of it.

    Raises `InputRejected` with every problem, nothing written.
    """
    name = _Name(asked)
    problems = [*_lacking(asked), *name.problems()]
    books: tuple[Rulebook, ...] = ()
    editions: tuple[Edition, ...] = ()
    try:
        books, shelf = rulebooks_named(asked.bases, asked.folders)
        plan = plan_for([(book.name, HERE) for book in books], shelf)
        editions = tuple(planned.editions[0] for planned in plan.books)
    except InputRejected as rejected:
        problems.extend(rejected.problems)
    problems.extend(_taken(name, books))
    if problems:
        raise InputRejected(problems)
    starter = Starter(
        id=name.id,
        edition=name.edition,
        title=asked.title or f"Local rules of {asked.authority}",
        authority=asked.authority,
        bases=editions,
        first_day=_first_day(name.edition, asked.today).isoformat(),
        file=name.file,
    )
    text = starter_text(starter)
    _prove(text, name.path, shelf)
    put(text, name.path)
    return tuple(_told(name.path, starter, _write_schema(asked, name.path)))


class _Name:
    """The id, the edition and the file of a new rulebook, from what was asked."""

    def __init__(self, asked: Asked) -> None:
        self.asked = asked
        self.is_folder = asked.out.is_dir()
        stem = "" if self.is_folder else asked.out.name.removesuffix(SUFFIX)
        first, _, last = stem.partition("@")
        self.id = asked.id or first or _slug(asked.authority)
        self.edition = asked.edition or last or f"{asked.today:%Y-%m}"

    @property
    def file(self) -> str:
        """The name that the file has to have to be found."""
        return f"{self.id.rpartition('/')[2]}@{self.edition}{SUFFIX}"

    @property
    def path(self) -> Path:
        """The file to write."""
        return self.asked.out / self.file if self.is_folder else self.asked.out

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong with the id, the edition and the file."""
        mistaken = (
            *_mistaken("rulebook", self.id, "--id"),
            *_mistaken("edition", self.edition, "--edition"),
        )
        yield from mistaken
        where = Location(str(self.path))
        if not self.is_folder and not mistaken and self.path.name != self.file:
            told = f"a file named `{shown(self.file)}`, as its rulebook and edition are"
            advice = "rename it, or name a folder that is there and it gets the right name"
            yield Problem(where, told, f"`{shown(self.path.name)}`", advice)
        elif self.path.exists() and not self.asked.overwrite:
            advice = "choose another edition or folder, or write over it with `--overwrite`"
            yield Problem(where, "a file that is not there yet", "one that is", advice)


def _lacking(asked: Asked) -> Iterator[Problem]:
    if not asked.authority:
        advice = "say who stands behind it, such as `Tarn County Building Office`"
        yield Problem(Location("--authority"), "words", "none", advice)


def _mistaken(key: str, text: str, option: str) -> Iterator[Problem]:
    """Yield what the schema of rulebooks finds wrong with an id or an edition."""
    asked: dict[str, Any] = json.loads(_schema())["properties"][key]
    if not re.search(asked["pattern"], text) or len(text) > asked["maxLength"]:
        found = f"`{shown(text)}`" if text else "none that the authority's name would give"
        yield Problem(Location(option), asked["expects"], found, f"say it with `{option}`")


def _taken(name: _Name, books: tuple[Rulebook, ...]) -> Iterator[Problem]:
    if f"{name.id}@{name.edition}" in {book.name for book in books}:
        found = f"`{name.id}@{name.edition}`, one of its bases"
        yield Problem(Location("--id"), "an id and edition of its own", found, "choose another")


def _slug(words: str) -> str:
    """Return words as an id: small letters and digits, joined by `-`."""
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    return "-".join(re.findall("[a-z0-9]+", plain))[:_LONGEST_ID].strip("-")


def _first_day(edition: str, today: dt.date) -> dt.date:
    """Return the day that an edition such as `2026-04` begins with; today for any other."""
    if match := _DAY.fullmatch(edition):
        year, month, day = (int(part or 1) for part in match.groups())
        try:
            return dt.date(year, month, day)
        except ValueError:
            return today
    return today


def _prove(text: str, path: Path, shelf: Shelf) -> None:
    """Raise `InputRejected` where the file, before it is written, would not load."""
    problems: list[Problem] = []
    lay(read_rulebook(read_document(text.encode(), name=str(path))), shelf, problems)
    if problems:
        raise InputRejected(problems)


def _schema() -> str:
    return (shipped("schemas") / SCHEMA).read_text("utf-8")


def _write_schema(asked: Asked, path: Path) -> str:
    """Write the schema beside the rulebook; return what to say of it."""
    beside = path.parent / SCHEMA
    text = _schema()
    if beside.exists() and not asked.overwrite:
        try:
            if beside.read_text("utf-8") == text:
                return ""
        except (OSError, UnicodeDecodeError):
            pass  # whatever it is, it is another one
        return f"{beside} is another one and was left as it is; `--overwrite` replaces it."
    put(text, beside)
    return f"{beside} written too, for editors to complete it by."


def _told(path: Path, starter: Starter, schema: str) -> Iterator[str]:
    rules = len({check.identity for edition in starter.bases for check in edition.checks})
    bases = " and ".join(edition.book.name for edition in starter.bases)
    yield f"{path} written: {rules} rules of {bases} to change, all still as they are."
    if schema:
        yield schema
    for edition in starter.bases:
        try:
            Shelf(folders=(path.parent,)).editions(edition.book.name, asked_at=HERE)
        except InputRejected:
            yield (
                f"{edition.book.document.name} lies elsewhere: put it beside the new file, or "
                "name its folder with `--rulebooks` each time."
            )
    yield f"In plain words: ridgerule book show {path}"
