"""The page a text report is laid out on: words wrapped, indented and styled, nothing parsed.

Lines are laid out here rather than by nested tables, which cost ten times as much.
"""

from __future__ import annotations

import re
import textwrap
from io import StringIO
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct
from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from ridgerule.audit.findings import Outcome
from ridgerule.reports.visible import in_ascii, visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rich.console import RenderableType

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
)
"""The spaces inside a quantity: `3 3/32 in` broken after the 3 would be read as 3/32 in."""
LABEL_WIDTH = 11
GAP = 2
_NARROWEST = 12
"""Words get at least so many cells, however narrow the page."""


class Page(Struct, frozen=True):
    """How wide, how colourful and in which characters the report is printed."""

    width: int
    colour: bool
    unicode: bool

    def words(self, text: str) -> str:
        """Return text, ours or a user's, in characters that can be shown and seen."""
        shown = visible(text)
        return _TIES.sub(_TIE, shown if self.unicode else in_ascii(shown))

    def text(self, *parts: str | tuple[str, str]) -> Text:
        """Return text that nothing in it can style: parts are words, or words and a style."""
        whole = Text()
        for part in parts:
            words, style = (part, "") if isinstance(part, str) else part
            whole.append(self.words(words), style)
        return whole

    def badge(self, outcome: Outcome) -> tuple[str, str]:
        """Return an outcome as a shape and a word, with its style."""
        return f"{self.shape(outcome)} {WORDS[outcome]}", STYLES[outcome]

    def shape(self, outcome: Outcome) -> str:
        """Return the shape that stands for an outcome."""
        return (_SHAPES if self.unicode else _ASCII_SHAPES)[outcome]

    def heading(self, words: str, style: str = HEADING) -> Iterator[Text]:
        """Yield a section's heading, with the blank line over it."""
        yield Text()
        yield from self.flow(self.text((words, style)))

    def flow(self, text: Text, *, indent: int = 0, mark: Text | None = None) -> Iterator[Text]:
        """Yield `text` as lines from `indent` on; `mark` stands before the first of them."""
        start = Text(" " * indent)
        if mark is not None:
            start = mark.copy()
            start.pad_right(max(indent - start.cell_len, 0))
        for line in self._broken(text, max(self.width - indent, _NARROWEST)):
            yield start.append_text(line)
            start = Text(" " * indent)

    def labelled(self, rows: Iterable[tuple[str, str]], *, at: int = 0) -> Iterator[Text]:
        """Yield rows of a label and words, those without words left out."""
        for label, words in rows:
            if words:
                mark = Text(" " * at).append_text(self.text((label, LABEL)))
                yield from self.flow(self.text(words), indent=at + LABEL_WIDTH + GAP, mark=mark)

    def marked(self, mark: Text, text: Text, *, first: int, at: int = 0) -> Iterator[Text]:
        """Yield text beside a mark that takes `first` cells."""
        before = Text(" " * at).append_text(mark)
        yield from self.flow(text, indent=at + first + GAP, mark=before)

    def _broken(self, text: Text, width: int) -> Iterator[Text]:
        plain = text.plain
        if cell_len(plain) != len(plain):
            yield from text.wrap(_measuring(), width, overflow="fold")
            return
        start = 0
        lines = textwrap.wrap(
            plain, width, expand_tabs=False, replace_whitespace=False, break_on_hyphens=False
        )
        for line in lines or [""]:
            start = plain.index(line, start)
            yield text[start : start + len(line)]
            start += len(line)

    def printed(self, parts: Iterable[Iterable[RenderableType]]) -> str:
        """Return what rich makes of the parts, without the spaces it pads lines with."""
        out = StringIO()
        console = Console(
            file=out, width=self.width, highlight=False, markup=False, emoji=False,
            color_system="standard" if self.colour else None, force_terminal=self.colour,
            legacy_windows=False, force_jupyter=False, _environ={},
        )  # fmt: skip
        for part in parts:
            lines: list[Text] = []
            for item in part:
                if isinstance(item, Text):
                    lines.append(item)
                    continue
                console.print(Text("\n").join(lines), soft_wrap=True)
                lines = []
                console.print(item)
            if lines:
                console.print(Text("\n").join(lines), soft_wrap=True)
        printed = out.getvalue().replace(_TIE, " ").splitlines()
        return "".join(f"{line.rstrip(' ')}\n" for line in printed)


def _measuring() -> Console:
    """Return a console that only measures: rich asks for one to wrap wide characters."""
    return Console(file=StringIO(), force_jupyter=False, legacy_windows=False, _environ={})
