"""A sheet as one HTML file that reads on a desk, on a phone and on paper."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, assert_never

from msgspec import Struct

from ridgerule.reports.html_page import badge, template
from ridgerule.reports.sheet import Code, Heading, Items, Pairs, Table, Words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.reports.sheet import Block, Cell, Sheet

_MANY_SECTIONS = 4
"""From so many sections on, a page lists them at its top."""
_FITS_A_PHONE = 44
"""Tables of more characters side by side become one block a row where the screen is narrow."""
_FIGURE = 20
"""A second column of so many characters leaves a phone room for words in the first."""
_GAP = 2
"""How many characters the space beside a column is as wide as."""
_SCROLLS_FROM = 6
"""Tables of so many columns may be wider than the page, and scroll in a box of their own."""


class Part(Struct, frozen=True):
    """Blocks under one heading of level 3, or under none; each with its kind."""

    heading: str
    blocks: tuple[tuple[str, Block], ...]


class Section(Struct, frozen=True):
    """Parts under one heading of level 2; what stands before the first has none."""

    id: str
    heading: str
    parts: tuple[Part, ...]


class Article(Struct, frozen=True):
    """One sheet of a file that may hold several."""

    id: str
    title: str
    sections: tuple[Section, ...]

    @property
    def contents(self) -> tuple[Section, ...]:
        """The sections to list at its top; none where they are few."""
        named = tuple(section for section in self.sections if section.heading)
        return named if len(named) >= _MANY_SECTIONS else ()


def as_html(sheet: Sheet, *more: Sheet) -> str:
    """Return the sheet as one HTML file with its style inside, further sheets below it."""
    sheets = (sheet, *more)
    return template("sheet.html").render(
        title=sheet.title if not more else f"{sheet.title} and {len(more)} more",
        articles=[_article(each, number) for number, each in enumerate(sheets, start=1)],
        scrolls_from=_SCROLLS_FROM,
    )


def _article(sheet: Sheet, number: int) -> Article:
    id_ = f"page-{number}"
    sections = (
        Section(f"{id_}-{at}", heading, tuple(map(_part, _split(inside, 3))))
        for at, (heading, inside) in enumerate(_split(sheet.blocks, 2), start=1)
    )
    return Article(id_, sheet.title, tuple(sections))


def _part(split: tuple[str, Sequence[Block]]) -> Part:
    heading, inside = split
    return Part(heading, tuple((_kind(block), block) for block in inside))


def _split(blocks: Sequence[Block], level: int) -> Iterator[tuple[str, Sequence[Block]]]:
    """Yield the words of each heading down to a level, with the blocks under it."""
    starts = [
        at for at, block in enumerate(blocks) if isinstance(block, Heading) and block.level <= level
    ]
    bounds = [*starts, len(blocks)]
    if bounds[0]:
        yield "", blocks[: bounds[0]]
    for start, stop in pairwise(bounds):
        heading = blocks[start]
        if isinstance(heading, Heading):
            yield heading.words, blocks[start + 1 : stop]


def _kind(block: Block) -> str:
    """Return what the template calls a block."""
    match block:
        case Words():
            return "words"
        case Pairs():
            return "pairs"
        case Items():
            return "items"
        case Table():
            return "table" if _fits_a_phone(block) else "wide table"
        case Code():
            return "code"
        case Heading():
            return "heading"
        case _:
            assert_never(block)


def _fits_a_phone(table: Table) -> bool:
    """Whether a table can be read on a phone as it is: narrow, or words and one figure beside."""
    last = max(_length(row[-1]) for row in (table.header, *table.rows))
    return _width(table) <= _FITS_A_PHONE or (len(table.header) == 2 and last <= _FIGURE)


def _width(table: Table) -> int:
    """Return how many characters the widest cells of a table's columns and their gaps come to."""
    columns = zip(table.header, *table.rows, strict=True)
    return sum(max(map(_length, column)) + _GAP for column in columns)


def _length(cell: Cell) -> int:
    shown = badge(cell)
    return len(shown.words) + 2 if shown else len(str(cell))
