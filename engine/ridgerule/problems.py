"""Problems of files: where, what was expected, what was found, what to do.

A problem is about a *file*, never about a roof. What is wrong with a roof is a finding.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from collections.abc import Iterable


class Location(Struct, frozen=True, order=True):
    """A place in a file; `line` and `column` count from 1, 0 where there is none."""

    file: str
    line: int = 0
    column: int = 0
    is_cell: bool = False
    """Whether it is a cell of a table, told by its row and the letters of its column."""

    def __str__(self) -> str:
        if not self.line:
            return self.file
        if not self.is_cell:
            return f"{self.file}:{self.line}:{self.column}"
        column = f", column {column_letters(self.column)}" if self.column else ""
        return f"{self.file} row {self.line}{column}"


def column_letters(column: int) -> str:
    """Return a column's name as a spreadsheet shows it: A, B … Z, AA for 1, 2 … 26, 27."""
    letters = ""
    while column > 0:
        column, last = divmod(column - 1, 26)
        letters = chr(ord("A") + last) + letters
    return letters


class Problem(Struct, frozen=True, order=True):
    """One thing wrong with a file, said so that its author can mend it."""

    location: Location
    expected: str
    found: str
    advice: str = ""

    def __str__(self) -> str:
        told = f"{self.location}: expected {self.expected}; found {self.found}"
        return f"{told}; {self.advice}" if self.advice else told


class InputRejected(Exception):  # noqa: N818 - a verdict on a file, not an error of ours
    """A file can't be used; carries every problem found, in the order of their places."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(map(str, self.problems)))


def suggestion(word: str, known: Iterable[str]) -> str:
    """Return "did you mean `x`?" for the known word nearest to `word`, or an empty string."""
    near = get_close_matches(word, sorted(known), n=1, cutoff=0.6)
    return f"did you mean `{near[0]}`?" if near else ""


def with_article(noun: str) -> str:
    """Return `noun` with "a" or "an" before it."""
    return f"an {noun}" if noun[0] in "aeio" else f"a {noun}"


def shown(text: object, *, most: int = 60) -> str:
    """Return `text` fit for a one-line message: control characters escaped, cut when long."""
    plain = "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode() for c in str(text)
    )
    return plain if len(plain) <= most else f"{plain[: most - 1]}…"
