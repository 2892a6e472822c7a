"""Where rulebooks are found: files named on the command line, folders, and those shipped.

A rulebook `demo/tarn-county` of edition `2026-04` lies in a folder as
`demo/tarn-county@2026-04.yaml`; several editions lie side by side.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.documents import load_document
from ridgerule.problems import InputRejected, Location, Problem, shown, suggestion
from ridgerule.rulebook import read_rulebook
from ridgerule.shipped import shipped

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from ridgerule.rulebook import Rulebook

SUFFIXES = (".yaml", ".yml", ".json")


class Shelf:
    """Finds rulebooks by `id` or `id@edition`, each file read once."""

    def __init__(self, *, folders: tuple[Path, ...] = (), files: tuple[Path, ...] = ()) -> None:
        self._root = shipped("rulebooks")
        self._folders = (*folders, *dict.fromkeys(file.parent for file in files))
        self._loaded: dict[Path, Rulebook] = {}
        self.given = self._all(files)

    def editions(self, reference: str, *, asked_at: Location) -> tuple[Rulebook, ...]:
        """Return the editions that `reference` can mean, oldest first; one if it names one.

        Raises `InputRejected`, located at `asked_at`, if there is none.
        """
        id_, _, edition = reference.partition("@")
        found: dict[str, Rulebook] = {}
        for book in self._candidates(id_, edition):
            if book.id == id_:
                found.setdefault(book.name, book)  # the nearest: a given file, a folder, shipped
        chosen = [book for book in found.values() if not edition or book.edition == edition]
        if not chosen:
            others = [book.name for book in self._candidates(id_) if book.id == id_]
            raise InputRejected([self._missing(reference, others, asked_at)])
        return tuple(sorted(chosen, key=lambda book: book.edition))

    def names(self) -> tuple[str, ...]:
        """Return `id@edition` of every rulebook in sight, by file name, unread."""
        names = {book.name for book in self.given}
        for folder in (self._root, *self._folders):
            # No deeper: the folder may be someone's home.
            for file in sorted((*folder.glob("*@*"), *folder.glob("*/*@*"))):
                if file.suffix in SUFFIXES:
                    names.add(file.relative_to(folder).with_suffix("").as_posix())
        return tuple(sorted(names))

    def _candidates(self, id_: str, edition: str = "") -> Iterator[Rulebook]:
        """Yield the rulebooks that may be meant, by the names of their files, nearest first."""
        yield from (book for book in self.given if book.id == id_)
        if not _is_plain(id_):
            return
        for folder in (*self._folders, self._root):
            for stem in dict.fromkeys((id_, id_.rpartition("/")[2])):
                for file in sorted(folder.glob(f"{stem}@*")):
                    named = file.name.removesuffix(file.suffix).partition("@")[2]
                    if edition and named != edition:
                        continue
                    if file.suffix in SUFFIXES and file.is_file():
                        yield self._load(file)

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
        known = self.names()
        ids = {name.partition("@")[0] for name in known}
        near = suggestion(reference, known) or suggestion(reference.partition("@")[0], ids)
        advice = near or f"known are {', '.join(f'`{id_}`' for id_ in sorted(ids))}"
        return Problem(asked_at, "a rulebook that can be found", f"`{shown(reference)}`", advice)


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
