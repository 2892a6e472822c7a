"""A strip in plain characters: shapes over a scale of distance, above, on and under the limit.

At most six lines: what it is, three levels, the scale, and the stations without a distance.
"""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.quantities import Dimension, write
from ridgerule.reports.drawing_limits import common
from ridgerule.reports.drawing_scale import Scale, distance_ticks
from ridgerule.reports.drawing_svg import clipped
from ridgerule.reports.page import BLANK, STYLES, TITLE, Line, Page

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.enclosures import Exact
    from ridgerule.reports.drawing_limits import Range, Ranges
    from ridgerule.reports.drawing_strip import Mark, Strip

MOST_LINES = 6
_WIDEST = 100
_NARROWEST = 24
_MOST_LEVELS = 3
_MOST_WHERE, _MOST_LEAD = 40, 160
_AWAY = (0, 1, -1, 2, -2, 3, -3)
_WORDED = (Outcome.FAIL, Outcome.NOT_VERIFIED)
_JUDGED = (*_WORDED, Outcome.PASS)


class _Level(Struct, frozen=True):
    """One row of marks: its word, the marks on it, and whether a limit runs along it."""

    word: str
    marks: tuple[Mark, ...]
    limit: str = ""
    is_line: bool = False


def strip_lines(shown: Strip, page: Page) -> Iterator[Line]:
    """Yield the strip as at most six lines of the page's width."""
    numbers = sorted({number for rule in shown.rules for number in rule.numbers})
    told = f" ({', '.join(map(str, numbers))})"
    yield _one_line(page, (f"{shown.host}, {shown.name}", TITLE), told, _lead(shown))
    placed = [mark for mark in shown.marks if mark.at is not None]
    apart = [mark for mark in shown.marks if mark.at is None]
    if placed:
        yield from _Plot(shown, placed, page).lines()
    if apart:
        yield from _apart(apart, page, most=1 if placed else MOST_LINES - 1, is_alone=not placed)


def _lead(shown: Strip) -> str:
    """Return what stands beside a strip's name: the first limit, and where distances start."""
    limits = [rule.limit for rule in shown.rules if rule.said in ("", "governs", "both hold")]
    first = (limits or [shown.rules[0].limit])[0]
    limit = f": must be {clipped(first, _MOST_LEAD)}"
    start = f"; from {clipped(shown.start, _MOST_WHERE)}" if shown.start else ""
    return f"{limit}{start if any(mark.at is not None for mark in shown.marks) else ''}"


def _one_line(page: Page, *parts: str | tuple[str, str]) -> Line:
    """Return text on one line, cut off where it is longer than the page is wide."""
    lines = list(page.flow(page.text(*parts)))
    if len(lines) == 1:
        return lines[0]
    narrow = Page(width=page.width - 4, colour=page.colour, unicode=page.unicode)
    return next(narrow.flow(page.text(*parts))).plus(page.text(" …"))


def _allowed(mark: Mark) -> Ranges | None:
    known = [ranges for ranges in mark.accepted if ranges is not None]
    return common(known) if known else None


def _levels(shown: Strip, known: Sequence[Mark]) -> list[_Level]:
    """Return the rows from the top down: about the limit where all stations share one."""
    allowed = {_allowed(mark) for mark in shown.marks}
    ranges = allowed.pop() if len(allowed) == 1 else None
    if ranges is not None and len(ranges) == 1 and all(m.value is not None for m in known):
        return _about(shown, known, ranges[0])
    kinds = (("pass", Outcome.PASS), ("fail", Outcome.FAIL), ("open", Outcome.NOT_VERIFIED))
    rows = [_Level(word, tuple(m for m in known if m.outcome is kind)) for word, kind in kinds]
    rows.append(_Level("read", tuple(m for m in known if m.outcome not in _JUDGED)))
    return [row for row in rows if row.marks][:_MOST_LEVELS]


def _about(shown: Strip, known: Sequence[Mark], one: Range) -> list[_Level]:
    """Return the rows over, on or inside, and under what is accepted."""
    low, high = one.low, one.high
    only = low if high is None or low == high else high if low is None else None
    top = low if high is None else high
    foot = high if low is None else low
    rows: tuple[list[Mark], list[Mark], list[Mark]] = ([], [], [])
    for mark in known:
        value = mark.value
        if value is not None and top is not None and foot is not None:
            rows[0 if value > top else 2 if value < foot else 1].append(mark)
    if only is not None:
        middle = _Level("limit", tuple(rows[1]), _figure(only, shown), is_line=True)
    else:
        ends = [_figure(end, shown) for end in (low, high) if end is not None]
        middle = _Level("inside", tuple(rows[1]), " to ".join(ends))
    levels = [_Level("over", tuple(rows[0])), middle, _Level("under", tuple(rows[2]))]
    return [level for level in levels if level.marks or level is middle]


def _figure(amount: Exact, shown: Strip) -> str:
    return write(amount, shown.dimension or Dimension.COUNT, units=shown.units)


class _Row:
    """A row of cells that marks and words are put into, each where nothing stands yet."""

    def __init__(self, width: int, base: str = " ") -> None:
        self.width = width
        self.cells: list[tuple[str, str]] = [(base, "")] * width
        self.taken = [False] * width

    def put(self, at: int, words: str, style: str = "") -> bool:
        """Put words from a cell on; tell whether there was room for them."""
        end = at + len(words)
        if at < 0 or end > self.width or any(self.taken[at:end]):
            return False
        for i, char in enumerate(words):
            self.cells[at + i] = char, style
            self.taken[at + i] = True
        return True

    def is_free(self, start: int, end: int) -> bool:
        """Tell whether nothing stands in cells, those beyond the row's ends apart."""
        return not any(self.taken[max(start, 0) : end])

    def line(self) -> Line:
        """Return the cells as words with their styles."""
        runs = groupby(self.cells, key=lambda cell: cell[1])
        return Line(tuple(("".join(char for char, _ in run), style) for style, run in runs))


class _Plot:
    """Marks on three levels over a scale of distance."""

    def __init__(self, shown: Strip, marks: Sequence[Mark], page: Page) -> None:
        self.page = page
        self.strip = shown
        known = [mark for mark in marks if mark.is_known]
        self.unknown = [mark for mark in marks if not mark.is_known]
        self.levels = _levels(shown, known)
        self.lead = max([len(level.word) for level in self.levels] + [0]) + 2
        reach = max([mark.at for mark in marks if mark.at is not None] + [shown.length or 0, 1])
        is_whole = shown.length is not None and shown.length >= reach
        units = shown.distance_units
        whole = write(reach, Dimension.LENGTH, units=units) if is_whole else "…"
        self.whole = page.words(whole)
        ends = [page.words(level.limit) for level in self.levels]
        beside = max(len(words) for words in (*ends, self.whole)) + 2
        room = min(page.width, _WIDEST) - self.lead
        self.shows_ends = room - beside >= _NARROWEST
        self.beside = beside if self.shows_ends else 0
        self.across = max(room - self.beside, _NARROWEST // 2)
        self.scale = Scale(0, reach, 0, self.across - 1)

    def column(self, mark: Mark) -> int:
        """Return the cell that a station lies in."""
        return round(self.scale.at(mark.at)) if mark.at is not None else 0

    def lines(self) -> Iterator[Line]:
        """Yield the levels and the scale."""
        for level in self.levels:
            word = self.page.text(level.word).padded(self.lead)
            yield word.plus(self.row(level).line())
        yield BLANK.padded(self.lead).plus(self.axis().line())

    def row(self, level: _Level) -> _Row:
        """Return one level's cells."""
        row = _Row(self.across + self.beside, " ")
        if level.is_line:
            line = "─" if self.page.unicode else "-"
            row.cells[: self.across] = [(line, "")] * self.across
        if level.limit and self.shows_ends:
            row.put(self.across + 1, self.page.words(level.limit))
        marks = sorted(level.marks, key=lambda mark: mark.outcome not in _WORDED)
        grouped: dict[tuple[int, Outcome | None], list[Mark]] = {}
        for mark in marks:
            grouped.setdefault((self.column(mark), mark.outcome), []).append(mark)
        put = [
            (at, outcome, found)
            for (column, outcome), found in grouped.items()
            for at in [self.shape(row, column, outcome)]
            if at is not None
        ]
        for at, outcome, found in put:
            self.say(row, at, outcome, found)
        return row

    def shape(self, row: _Row, column: int, outcome: Outcome | None) -> int | None:
        """Put a shape in its cell, or in the nearest that is free; return which."""
        sign = self.page.shape(outcome) if outcome else self.page.words("·")
        style = STYLES[outcome] if outcome else ""
        return next((column + off for off in _AWAY if row.put(column + off, sign, style)), None)

    def say(self, row: _Row, at: int, outcome: Outcome | None, marks: Sequence[Mark]) -> None:
        """Put the readings beside their shape, where there is room for them."""
        style = STYLES[outcome] if outcome else ""
        texts: dict[str, list[str]] = {}
        for mark in marks:
            texts.setdefault(mark.text, []).append(mark.side)
        whole = ", ".join(
            f"{', '.join(filter(None, sides))} {said}".lstrip() for said, sides in texts.items()
        )
        sides = ", ".join(mark.side for mark in marks if mark.side)
        for words in filter(None, map(self.page.words, (whole, sides))):
            size = len(words)
            if row.is_free(at + 1, at + size + 3) and row.put(at + 2, words, style):
                row.put(at + 1, " ")
                return
            if row.is_free(at - size - 2, at) and row.put(at - size - 1, words, style):
                row.put(at - 1, " ")
                return

    def axis(self) -> _Row:
        """Return the scale of distance; a reading that is unknown stands on it."""
        plain = not self.page.unicode
        row = _Row(self.across + self.beside)
        row.cells[: self.across] = [("-" if plain else "─", "")] * self.across
        open_ = Outcome.NOT_VERIFIED
        for mark in self.unknown:
            self.shape(row, self.column(mark), open_)
        row.put(0, "0")
        row.put(self.across - 1, "|" if plain else "┤")
        if self.shows_ends:
            row.put(self.across + 1, self.whole)
        for tick in distance_ticks(int(self.scale.high), self.strip.distance_units)[1:]:
            words = ("|" if plain else "┴") + self.page.words(tick.label)
            at = round(self.scale.at(tick.amount))
            if row.is_free(at, at + len(words) + 2):
                row.put(at, words)
        return row


def _apart(marks: Sequence[Mark], page: Page, *, most: int, is_alone: bool) -> Iterator[Line]:
    """Yield the stations without a distance, one after the other."""
    said = [_station(mark, page) for mark in marks]
    lead = page.text("" if is_alone else "apart  ")
    for count in range(len(said), 0, -1):
        more = f"; and {len(said) - count} more" if count < len(said) else ""
        whole = lead
        for n, line in enumerate(said[:count]):
            whole = whole.plus(page.text("; " if n else "")).plus(line)
        lines = list(page.flow(whole.plus(page.text(more))))
        if len(lines) <= most:
            yield from lines
            return
    yield _one_line(page, f"{len(said)} stations")


def _station(mark: Mark, page: Page) -> Line:
    """Return a station with its shape, its reading and where it is."""
    style = STYLES[mark.outcome] if mark.outcome else ""
    sign = page.shape(mark.outcome) if mark.outcome else page.words("·")
    side = f"{mark.side} " if mark.side else ""
    where = f" at {clipped(mark.where, _MOST_WHERE)}" if mark.where else ""
    return page.text((f"{sign} {side}{clipped(mark.text, _MOST_WHERE)}", style), where)
