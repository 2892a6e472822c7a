"""Blanks of a starting file that nobody has filled in yet: they would reach every report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.problems import shown
from ridgerule.proof.lint_remarks import warning

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.documents import Data, Path
    from ridgerule.proof.lint_remarks import Remark
    from ridgerule.rulebook import Rulebook

BLANK = "(fill in)"
"""What stands in a starting file where its author has words to add."""


def blank_remarks(book: Rulebook) -> Iterator[Remark]:
    """Yield the words that still ask to be filled in."""
    document = book.document
    for path, text in _texts(document.data):
        if BLANK in text:
            where = document.location(path)
            told = f"words of your own in place of `{BLANK}`"
            yield warning(where, told, f"`{shown(text)}`", "write them: reports show this text")


def _texts(data: Data, path: Path = ()) -> Iterator[tuple[Path, str]]:
    if isinstance(data, str):
        yield path, data
    elif isinstance(data, list):
        for i, item in enumerate(data):
            yield from _texts(item, (*path, i))
    elif isinstance(data, dict):
        for key, item in data.items():
            yield from _texts(item, (*path, key))
