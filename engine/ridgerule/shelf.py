"""Where rulebooks are found: files named on the command line, folders, and those shipped.

A rulebook `demo/tarn-county` of edition `2026-04` lies in a folder as
`demo/tarn-county@2026-04.yaml`; several editions lie side by side.
"""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING, TypeAlias

from ridgerule.documents import load_document
from ridgerule.plain_data import MOST_PROBLEMS
from ridgerule.problems import InputRejected, Location, Problem, shown, suggestion
from ridgerule.rulebook import age, read_rulebook
from ridgerule.shipped import shipped

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from ridgerule.rulebook import Rulebook

SUFFIXES = (".yaml", ".yml", ".json")
MOST_FOUND = 50
"""Rulebooks looked up for one audit, their bases counted."""
MOST_ADVISED = 5
"""Rulebooks that can't be found for which one with a like name is looked for."""
MOST_COMPARED = 1_000
"""Names in sight that are gone through for a like one."""
MOST_LISTED = 20
"""Rulebooks that a message lists."""

_Listing: TypeAlias = "dict[str, dict[str, list[Path]]]"


class Shelf:
    """Finds rulebooks by `id` or `id@edition`, each file read once."""

    def __init__(self, *, folders: tuple[Path, ...] = (), files: tuple[Path, ...] = ()) -> None:
        self._root = shipped("rulebooks")
        self._folders = (*folders, *dict.fromkeys(file.parent for file in files))
        self._loaded: dict[Path, Rulebook] = {}
        self._listed: dict[Path, _Listing] = {}
        self._names: tuple[str, ...] | None = None
        self._found: set[Path] = set()
        self._too_many: Problem | None = None
        self._missed = 0
        self.given = self._all(files)

    def editions(self, reference: str, *, asked_at: Location) -> tuple[Rulebook, ...]:
        """Return the editions that `reference` can mean, oldest first; one if it names one.

        Raises `InputRejected`, located at `asked_at`, if there is none, or more in all than
        `MOST_FOUND`.
        """
        if self._too_many is not None:
            raise InputRejected([self._too_many])
        id_, _, edition = reference.partition("@")
        found: dict[str, Rulebook] = {}
        for book in self._candidates(id_, edition, asked_at=asked_at):
            if book.id == id_:
                found.setdefault(book.name, book)  # the nearest: a given file, a folder, shipped
        chosen = [book for book in found.values() if not edition or book.edition == edition]
        if not chosen:
            candidates = self._candidates(id_, asked_at=asked_at)
            others = [book.name for book in candidates if book.id == id_]
            raise InputRejected([self._missing(reference, others, asked_at)])
        return tuple(sorted(chosen, key=lambda book: age(book.edition)))

    def names(self) -> tuple[str, ...]:
        """Return `id@edition` of every rulebook in sight, by file name, unread."""
        if self._names is None:
            names = {book.name for book in self.given}
            for folder in (self._root, *self._folders):
                # No deeper: the folder may be someone's home.
                for file in sorted((*folder.glob("*@*"), *folder.glob("*/*@*"))):
                    if file.suffix in SUFFIXES:
                        names.add(file.relative_to(folder).with_suffix("").as_posix())
            self._names = tuple(sorted(names))
        return self._names

    def _candidates(self, id_: str, edition: str = "", *, asked_at: Location) -> Iterator[Rulebook]:
        """Yield the rulebooks that may be meant, by the names of their files, nearest first."""
        yield from (book for book in self.given if book.id == id_)
        if not _is_plain(id_):
            return
        for folder in (*self._folders, self._root):
            for stem in dict.fromkeys((id_, id_.rpartition("/")[2])):
                above, _, last = stem.rpartition("/")
                editions = self._listing(folder / above).get(last, {})
                files = editions.get(edition, []) if edition else chain(*editions.values())
                for file in files:
                    if file.is_file():
                        self._count(file, asked_at)
                        yield self._load(file)

    def _listing(self, folder: Path) -> _Listing:
        """Return the rulebooks' files in a folder by what stands before and after their `@`."""
        if folder not in self._listed:
            listing: _Listing = {}
            for file in sorted(folder.glob("*@*")):
                if file.suffix in SUFFIXES:
                    id_, _, edition = file.stem.partition("@")
                    listing.setdefault(id_, {}).setdefault(edition, []).append(file)
            self._listed[folder] = listing
        return self._listed[folder]

    def _count(self, file: Path, asked_at: Location) -> None:
        """Raise `InputRejected` where this is one rulebook too many, told once."""
        self._found.add(file)
        if len(self._found) > MOST_FOUND:
            told = f"at most {MOST_FOUND} rulebooks for one audit, with those they are based on"
            advice = "name fewer, or one edition as id@edition"
            self._too_many = Problem(asked_at, told, "more than that", advice)
            raise InputRejected([self._too_many])

    def _all(self, files: tuple[Path, ...]) -> tuple[Rulebook, ...]:
        """Return the rulebooks in files; raises `InputRejected` with the problems of them all."""
        books: list[Rulebook] = []
        problems: list[Problem] = []
        for file in files:
            try:
                books.append(self._load(file))
            except InputRejected as rejected:
                problems.extend(rejected.problems)
        if problems:
            raise InputRejected(problems)
        return tuple(books)

    def _load(self, file: Path) -> Rulebook:
        if file not in self._loaded:
            shipped_file = file.is_relative_to(self._root)
            name = f"rulebooks/{file.relative_to(self._root).as_posix()}" if shipped_file else None
            book = read_rulebook(load_document(file, name=name))
            stem = file.with_suffix("").name if file.suffix in SUFFIXES else file.name
            if "@" in stem and stem != book.name.rpartition("/")[2]:
                where = book.document.location(("rulebook",))
                told = f"the rulebook that the file's name says, `{stem}`"
                advice = "name the file for the rulebook and edition in it"
                raise InputRejected([Problem(where, told, f"`{book.name}`", advice)])
            self._loaded[file] = book
        return self._loaded[file]

    def _missing(self, reference: str, editions: list[str], asked_at: Location) -> Problem:
        if editions:
            listed = ", ".join(f"`{name}`" for name in sorted(editions))
            expected = "an edition that can be found"
            return Problem(asked_at, expected, f"`{shown(reference)}`", f"there is {listed}")
        self._missed += 1
        if self._missed == MOST_PROBLEMS:  # as in reading: there is no use in telling more
            found = f"`{shown(reference)}`, after {self._missed - 1} others that can't"
            advice = "check their names, and the folder that they lie in"
            self._too_many = Problem(asked_at, "a rulebook that can be found", found, advice)
            return self._too_many
        advice = self._advice(reference) if self._missed <= MOST_ADVISED else "check its name"
        return Problem(asked_at, "a rulebook that can be found", f"`{shown(reference)}`", advice)

    def _advice(self, reference: str) -> str:
        """Return a rulebook that may have been meant, or else those there are."""
        known = self.names()
        ids = sorted({name.partition("@")[0] for name in known})
        near = ""
        if len(known) <= MOST_COMPARED:
            near = suggestion(reference, known) or suggestion(reference.partition("@")[0], ids)
        listed = [f"`{id_}`" for id_ in ids[:MOST_LISTED]]
        more = ["…"] if len(ids) > MOST_LISTED else []
        return near or f"known are {', '.join((*listed, *more))}"


def _is_plain(id_: str) -> bool:
    """Tell whether an id can be part of a file's name, without leading anywhere else."""
    return all(part and part.replace("-", "").isalnum() for part in id_.split("/"))


def digests() -> str:
    """Return the text of `PROVED` for the shipped rulebooks as they are now."""
    root = shipped("rulebooks")
    files = sorted(file for file in root.rglob("*@*") if file.suffix in SUFFIXES)
    lines = [f"{load_document(file).digest}  {file.relative_to(root).as_posix()}" for file in files]
    head = "# SHA-256 of the rulebooks that the tests have proved; see DEVELOPERS.md."
    return "\n".join((head, *lines, ""))


if __name__ == "__main__":
    import sys

    sys.stdout.write(digests())
