"""A sheet as Markdown: CommonMark with pipe tables, in which nobody's words become markup.

What words hold is escaped, never left out: read as Markdown, every text comes back as it was.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, assert_never

from ridgerule.audit.findings import Outcome
from ridgerule.reports.page import Page
from ridgerule.reports.sheet import Badge, Code, Heading, Items, Pairs, Table, Words
from ridgerule.reports.visible import visible

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.reports.sheet import Block, Cell, Sheet

_ENTITIES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})
_ACTIVE = re.compile(
    r"[\\`*\[\]|~$]"
    r"|(?<![^\W_])_|_(?![^\W_])"  # not inside a word, where an underscore is one
    r"|(?<=:)//|(?<=\bwww)\."  # what some readers turn into a link
    r"|(?:(?<=^)|(?<= ))#"
)
_AT_THE_START = re.compile(r"^(?:[-+=]|[0-9]+(?=[.)]))")
_FENCE = re.compile(r"`+")
_PAGE = Page(width=80, colour=False, unicode=True)
"""Words an outcome as every other report does."""


def as_markdown(sheet: Sheet) -> str:
    """Return the sheet as Markdown, ending with a line end."""
    parts = (f"# {_escaped(sheet.title)}", *map(_block, sheet.blocks))
    return "\n\n".join(part for part in parts if part) + "\n"


def _block(block: Block) -> str:
    match block:
        case Heading(words, level):
            return f"{'#' * level} {_escaped(words)}"
        case Words(words):
            return _escaped(words)
        case Pairs(pairs):
            said = [(label, words) for label, words in pairs if words]
            return "\n".join(f"- **{_escaped(label)}:** {_escaped(words)}" for label, words in said)
        case Items(items):
            return "\n".join(f"- {_escaped(item)}" for item in items)
        case Table():
            return "\n".join(_table(block))
        case Code(text):
            return _fenced(text)
        case _:
            assert_never(block)


def _table(table: Table) -> Iterator[str]:
    if table.caption:
        yield f"{_escaped(table.caption)}\n"
    yield _row(table.header)
    yield f"|{' --- |' * len(table.header)}"
    for row in table.rows:
        yield _row(row)


def _row(row: tuple[Cell, ...]) -> str:
    return f"|{''.join(f' {_cell(cell)} |' for cell in row)}"


def _cell(cell: Cell) -> str:
    match cell:
        case Outcome():
            return _PAGE.badge(cell)[0]
        case Badge(outcome, words):
            return f"{_PAGE.shape(outcome)} {_escaped(words)}"
        case words:
            return _escaped(words)


def _fenced(text: str) -> str:
    """Return lines as they are, between fences longer than any inside."""
    fence = "`" * max(3, 1 + max(map(len, _FENCE.findall(text)), default=0))
    lines = (visible(line) for line in text.splitlines())
    return "\n".join((fence, *lines, fence))


def _escaped(text: str) -> str:
    """Return words on one line that Markdown shows as they are."""
    shown = visible(text).strip(" ")
    escaped = _ACTIVE.sub(lambda found: f"\\{found.group()}", shown)
    return _AT_THE_START.sub(_held, escaped).translate(_ENTITIES)


def _held(found: re.Match[str]) -> str:
    """Return the start of a text so that no list or underline begins with it."""
    start = found.group()
    return f"{start}\\" if start[-1].isdigit() else f"\\{start}"
