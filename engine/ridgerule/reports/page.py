"""The page a text report is laid out on: words wrapped, indented and styled, nothing parsed.

Lines are laid out here rather than by nested tables, which cost ten times as much; rich measures
wide characters and writes the colours, and is not even loaded where there are neither.
"""

from __future__ import annotations

import re
import textwrap
from io import StringIO
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.reports.visible import in_ascii, visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

WORDS = MappingProxyType(
    {
        Outcome.FAIL: "FAIL",
        Outcome.NOT_VERIFIED: "NOT VERIFIED",
        Outcome.PASS: "pass",
        Outcome.NOT_APPLICABLE: "not applicable",
    }
)
_SHAPES = MappingProxyType(
    {
        Outcome.FAIL: "✗",
        Outcome.NOT_VERIFIED: "?",
        Outcome.PASS: "✓",
        Outcome.NOT_APPLICABLE: "\N{EN DASH}",
    }
)
_ASCII_SHAPES = MappingProxyType(
    {
        Outcome.FAIL: "x",
        Outcome.NOT_VERIFIED: "?",
        Outcome.PASS: "+",
        Outcome.NOT_APPLICABLE: "-",
    }
)
# The terminal's own sixteen colours: its theme keeps them readable on light and on dark.
STYLES = MappingProxyType(
    {
        Outcome.FAIL: "bold red",
        Outcome.NOT_VERIFIED: "bold magenta",
        Outcome.PASS: "green",
        Outcome.NOT_APPLICABLE: "",
    }
)
HEADING, LABEL, TITLE = "bold", "italic", "bold"
_TIE = "\ue000"
"""Stands for a space that no line may break at; `visible` leaves none of a user's own."""
_TIES = re.compile(
    r"(?<=[0-9]) (?=[0-9]+/[0-9]|(?:in|ft|mm|cm|m|deg|degF|degC|days?)(?![A-Za-z])|%)"
    r"|(?<=[≈~]) (?=-?[0-9])"
)
"""The spaces inside a quantity: `3 3/32 in` broken after the 3 would be read as 3/32 in.

The sign of a rounded number stays with it too: `≈`, or `~` where only ASCII can be shown.
"""
LABEL_WIDTH = 11
GAP = 2
_NARROWEST = 12
"""Words get at least so many cells, however narrow the page."""
_ODD_WIDTHS = (
    ("\u0300", "\u036f"), ("\u1100", "\u11ff"), ("\u200b", "\u200f"), ("\u2e80", "\ud7ff"),
    ("\uf900", "\ufaff"), ("\ufe00", "\ufe6f"), ("\uff00", "\uffe6"), ("\U00010000", "\U0010ffff"),
)  # fmt: skip
"""Ranges of characters that may take no cell or two; any other takes one."""


def _has_odd_widths(text: str) -> bool:
    if text.isascii():
        return False
    return any(low <= char <= high for char in text if char > "\u02ff" for low, high in _ODD_WIDTHS)


class Line(Struct, frozen=True):
    """Words in the order they stand in, each run with its style."""

    runs: tuple[tuple[str, str], ...] = ()

    @property
    def plain(self) -> str:
        """The words without their styles."""
        return "".join(words for words, _ in self.runs)

    def plus(self, other: Line) -> Line:
        """Return this line with another after it."""
        return Line((*self.runs, *other.runs))

    def padded(self, width: int) -> Line:
        """Return this line with spaces up to `width` cells."""
        lacking = width - cells(self.plain)
        return Line((*self.runs, (" " * lacking, ""))) if lacking > 0 else self

    def part(self, start: int, stop: int) -> Line:
        """Return the characters from `start` to before `stop`."""
        kept, at = [], 0
        for words, style in self.runs:
            cut = words[max(start - at, 0) : max(stop - at, 0)]
            at += len(words)
            if cut:
                kept.append((cut, style))
        return Line(tuple(kept))


BLANK = Line()


def cells(text: str) -> int:
    """Return how many cells of a terminal a text takes."""
    if not _has_odd_widths(text):
        return len(text)
    from rich.cells import cell_len  # noqa: PLC0415 - loaded only for characters of odd width

    return cell_len(text)


class Page(Struct, frozen=True):
    """How wide, how colourful and in which characters the report is printed."""

    width: int
    colour: bool
    unicode: bool

    def words(self, text: str) -> str:
        """Return text, ours or a user's, in characters that can be shown and seen."""
        shown = visible(text)
        return _TIES.sub(_TIE, shown if self.unicode else in_ascii(shown))

    def text(self, *parts: str | tuple[str, str]) -> Line:
        """Return text that nothing in it can style: parts are words, or words and a style."""
        pairs = ((part, "") if isinstance(part, str) else part for part in parts)
        return Line(tuple((self.words(words), style) for words, style in pairs if words))

    def badge(self, outcome: Outcome) -> tuple[str, str]:
        """Return an outcome as a shape and a word, with its style."""
        return f"{self.shape(outcome)} {WORDS[outcome]}", STYLES[outcome]

    def shape(self, outcome: Outcome) -> str:
        """Return the shape that stands for an outcome."""
        return (_SHAPES if self.unicode else _ASCII_SHAPES)[outcome]

    def rule(self) -> Line:
        """Return a line across the page."""
        return Line(((("─" if self.unicode else "-") * self.width, ""),))

    def heading(self, words: str, style: str = HEADING) -> Iterator[Line]:
        """Yield a section's heading, with the blank line over it."""
        yield BLANK
        yield from self.flow(self.text((words, style)))

    def flow(self, text: Line, *, indent: int = 0, mark: Line = BLANK) -> Iterator[Line]:
        """Yield `text` as lines from `indent` on; `mark` stands before the first of them."""
        start = mark.padded(indent)
        for line in self._broken(text, max(self.width - indent, _NARROWEST)):
            yield start.plus(line)
            start = BLANK.padded(indent)

    def labelled(self, rows: Iterable[tuple[str, str]], *, at: int = 0) -> Iterator[Line]:
        """Yield rows of a label and words, those without words left out."""
        for label, words in rows:
            if words:
                mark = BLANK.padded(at).plus(self.text((label, LABEL)))
                yield from self.flow(self.text(words), indent=at + LABEL_WIDTH + GAP, mark=mark)

    def marked(self, mark: Line, text: Line, *, first: int, at: int = 0) -> Iterator[Line]:
        """Yield text beside a mark that takes `first` cells."""
        before = BLANK.padded(at).plus(mark)
        yield from self.flow(text, indent=at + first + GAP, mark=before)

    def columns(self, rows: Sequence[Sequence[tuple[str, str]]]) -> Iterator[Line]:
        """Yield rows of styled cells: the first column to the left, figures to the right."""
        widths = [max(cells(row[i][0]) for row in rows) for i in range(len(rows[0]))]
        for row in rows:
            line = self.text(row[0]).padded(widths[0])
            for (words, style), width in zip(row[1:], widths[1:], strict=True):
                line = line.plus(Line(((" " * (GAP + width - cells(words)), ""), (words, style))))
            yield from self.flow(line)

    def _broken(self, text: Line, width: int) -> Iterator[Line]:
        plain = text.plain
        if len(plain) <= width and not _has_odd_widths(plain):
            yield text
            return
        start = 0
        for line in _wrapped(plain, width):
            start = plain.index(line, start)
            yield text.part(start, start + len(line))
            start += len(line)

    def printed(self, parts: Iterable[Iterable[Line]]) -> str:
        """Return the lines, without the spaces they are padded with."""
        lines = [line for part in parts for line in part]
        shown = _coloured(lines, self.width) if self.colour else [line.plain for line in lines]
        return "".join(f"{line.replace(_TIE, ' ').rstrip(' ')}\n" for line in shown)


def _wrapped(plain: str, width: int) -> list[str]:
    if not _has_odd_widths(plain):
        found = textwrap.wrap(
            plain, width, expand_tabs=False, replace_whitespace=False, break_on_hyphens=False
        )
        return found or [""]
    from rich.console import Console  # noqa: PLC0415 - loaded only for characters of odd width
    from rich.text import Text  # noqa: PLC0415

    measuring = Console(file=StringIO(), force_jupyter=False, legacy_windows=False, _environ={})
    return [line.plain for line in Text(plain).wrap(measuring, width, overflow="fold")]


def _coloured(lines: Iterable[Line], width: int) -> list[str]:
    """Return the lines with the terminal's codes for their styles."""
    from rich.console import Console  # noqa: PLC0415 - loaded only where there is colour
    from rich.text import Text  # noqa: PLC0415

    out = StringIO()
    console = Console(
        file=out, width=width, highlight=False, markup=False, emoji=False,
        color_system="standard", force_terminal=True, legacy_windows=False,
        force_jupyter=False, _environ={},
    )  # fmt: skip
    texts = [Text.assemble(*line.runs) for line in lines]
    console.print(Text("\n").join(texts), soft_wrap=True)
    return out.getvalue().splitlines()
