"""A sheet as text: words wrapped, labels beside what they say, tables in columns that fit.

A table that can't be read in columns of the page's width becomes one labelled block a row.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING, assert_never

from msgspec.structs import replace

from ridgerule.audit.findings import Outcome
from ridgerule.reports.page import BLANK, GAP, LABEL, STYLES, TITLE, Line, cells
from ridgerule.reports.sheet import Badge, Code, Heading, Items, Pairs, Table, Words
from ridgerule.reports.visible import visible

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.reports.page import Page
    from ridgerule.reports.sheet import Block, Cell, Sheet

INDENT = 2
"""Of what stands under a heading of level 3, of items and of code."""
_WIDEST_LABEL = 20
_LEAST_BESIDE = 24
"""Labels stand over their words, rather than beside them, where these would get less."""
_NARROWEST = 16
"""A column whose words wrap is no narrower."""
_LONGEST_WORD = 32
"""Longer words may be broken so that a table fits."""
_MOST_LINES = 7
"""About so many lines a cell may take, before its table is better read as blocks."""


def as_text(sheet: Sheet, page: Page) -> str:
    """Return the sheet as lines of at most the page's width, ending with a line end.

    Code alone may be wider, since a command broken in two is none.
    """
    return page.printed((_title(sheet, page), *_laid(sheet.blocks, page)))


def _title(sheet: Sheet, page: Page) -> Iterator[Line]:
    yield from page.flow(page.text((sheet.title, TITLE)))
    yield page.rule()


def _laid(blocks: Sequence[Block], page: Page) -> Iterator[Iterator[Line]]:
    """Yield the lines of each block, a blank line between two unless the first is a heading."""
    at: int = 0
    before: Block | None = None
    for block in blocks:
        if isinstance(block, Heading):
            at = INDENT if block.level > 2 else 0
            words = block.words if block.level > 2 else visible(block.words).upper()
            yield page.heading(words)
        else:
            if before is not None and not _leads_on(before, block):
                yield iter((BLANK,))
            yield _lines(block, page, at)
        before = block


def _leads_on(before: Block, block: Block) -> bool:
    """Tell whether a block belongs under the one before it, with no blank line between them."""
    if isinstance(before, Words):
        return before.words.endswith(":") and isinstance(block, Items)
    return isinstance(before, Heading)


def _lines(block: Words | Pairs | Items | Table | Code, page: Page, at: int) -> Iterator[Line]:
    match block:
        case Words(words):
            yield from page.flow(page.text(words), indent=at)
        case Pairs(pairs):
            yield from _pairs([(label, page.text(words)) for label, words in pairs], page, at)
        case Items(items):
            for item in items:
                mark = page.text("·" if page.unicode else "-")
                yield from page.marked(mark, page.text(item), first=0, at=at)
        case Table():
            yield from _table(block, page, at)
        case Code(text):
            for line in text.splitlines():
                yield BLANK.padded(at + INDENT).plus(page.text(line))
        case _:
            assert_never(block)


def _pairs(rows: Sequence[tuple[str, Line]], page: Page, at: int) -> Iterator[Line]:
    """Yield labelled rows, those that say nothing left out; long labels stand over their words."""
    said = [(page.text((label, LABEL)), words) for label, words in rows if words.plain]
    fitting = [cells(label.plain) for label, _ in said if cells(label.plain) <= _WIDEST_LABEL]
    width = max(fitting, default=0)
    if page.width - at - width - GAP < _LEAST_BESIDE:
        width = 0
    for label, words in said:
        if cells(label.plain) <= width:
            yield from page.marked(label, words, first=width, at=at)
        else:
            yield from page.flow(label, indent=at)
            yield from page.flow(words, indent=at + (width + GAP if width else INDENT))


def _table(table: Table, page: Page, at: int) -> Iterator[Line]:
    header = [page.text((words, LABEL)) for words in table.header]
    rows = [[_cell(cell, page) for cell in row] for row in table.rows]
    if table.caption:
        yield from page.flow(page.text((table.caption, LABEL)), indent=at)
    widths = _widths([header, *rows], page.width - at)
    if widths is None:
        yield from _stacked(table.header, rows, page, at)
        return
    laid = [list(_row(row, widths, page)) for row in rows]
    is_open = any(len(lines) > 1 for lines in laid)
    across = page.rule().part(0, sum(widths) + GAP * (len(widths) - 1))
    under = (*_row(header, widths, page), across)
    for i, lines in enumerate((under, *laid)):
        if i > 1 and is_open:  # rows of several lines are told apart by blank ones
            yield BLANK
        for line in lines:
            yield BLANK.padded(at).plus(line)


def _cell(cell: Cell, page: Page) -> Line:
    match cell:
        case Outcome():
            return page.text(page.badge(cell))
        case Badge(outcome, words):
            return page.text((f"{page.shape(outcome)} {words}", STYLES[outcome]))
        case words:
            return page.text(words)


def _row(row: Sequence[Line], widths: Sequence[int], page: Page) -> Iterator[Line]:
    """Yield the lines of one row: each cell wrapped in its own column."""
    columns = [
        list(replace(page, width=width).flow(cell)) for cell, width in zip(row, widths, strict=True)
    ]
    for parts in zip_longest(*columns, fillvalue=BLANK):
        line = BLANK
        for part, width in zip(parts, widths, strict=True):
            line = line.plus(part.padded(width + GAP))
        yield line


def _widths(rows: Sequence[Sequence[Line]], width: int) -> list[int] | None:
    """Return how wide each column gets so that all fit; None where they would be too narrow."""
    columns = [[line.plain for line in column] for column in zip(*rows, strict=True)]
    natural = [max(map(cells, column)) for column in columns]
    room = width - GAP * (len(columns) - 1)
    if sum(natural) <= room:
        return natural
    widths = [_least(column, most) for column, most in zip(columns, natural, strict=True)]
    if sum(widths) > room:
        return None
    for _ in range(room - sum(widths)):  # to the column with most lines, cell by cell
        tallest = max(range(len(widths)), key=lambda i: natural[i] / widths[i])
        widths[tallest] += 1
    return widths


def _least(column: Sequence[str], natural: int) -> int:
    """Return the least width that a column can be read at."""
    word = max(cells(word) for text in column for word in text.split(" "))
    least = max(_NARROWEST, min(word, _LONGEST_WORD), -(-natural // _MOST_LINES))
    return min(natural, least)


def _stacked(
    header: Sequence[str], rows: Sequence[Sequence[Line]], page: Page, at: int
) -> Iterator[Line]:
    """Yield one labelled block a row."""
    for i, row in enumerate(rows):
        if i:
            yield BLANK
        yield from _pairs(list(zip(header, row, strict=True)), page, at)
