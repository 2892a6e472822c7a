"""A sheet: what a page about rulebooks says, in blocks that any format can print.

The rooms that know rulebooks make sheets; `sheet_text`, `sheet_markdown` and `sheet_html` print
them. Nothing in a sheet is markup: words are words, whoever wrote them.
"""

from __future__ import annotations

from typing import TypeAlias

from msgspec import Struct

from ridgerule.audit.findings import Outcome


class Badge(Struct, frozen=True):
    """Words shown with the shape and style of an outcome, such as a condition that is met."""

    outcome: Outcome
    words: str


Cell: TypeAlias = str | Outcome | Badge
"""Words, or an outcome that is shown by shape and word."""


class Heading(Struct, frozen=True):
    """A heading; level 2 stands under the sheet's title, 3 under that."""

    words: str
    level: int = 2


class Words(Struct, frozen=True):
    """A paragraph."""

    words: str


class Pairs(Struct, frozen=True):
    """Labels with what is said under each; a pair that says nothing is left out."""

    pairs: tuple[tuple[str, str], ...]


class Items(Struct, frozen=True):
    """A list."""

    items: tuple[str, ...]


class Table(Struct, frozen=True):
    """A table under a row of headings; every row has as many cells."""

    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    caption: str = ""


class Code(Struct, frozen=True):
    """Lines of a file or of a command, printed as they are."""

    text: str


Block: TypeAlias = Heading | Words | Pairs | Items | Table | Code


class Sheet(Struct, frozen=True):
    """A page with a title."""

    title: str
    blocks: tuple[Block, ...]
