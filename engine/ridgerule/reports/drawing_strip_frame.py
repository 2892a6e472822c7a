"""The ground of a strip: where each station and each level lies, and the axes and limits drawn."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.quantities import Dimension, write
from ridgerule.reports.drawing_limits import Range, common
from ridgerule.reports.drawing_scale import Scale, distance_ticks, level_ticks, padded
from ridgerule.reports.drawing_svg import (
    SMALL,
    Svg,
    group,
    hatch,
    stroke,
    text,
    text_width,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.enclosures import Exact
    from ridgerule.reports.drawing_limits import Ranges
    from ridgerule.reports.drawing_strip import Mark, Strip

RIGHT = 466
LEFT, TOP, HEIGHT = 66, 34, 120
FLAT = 26
"""How high a strip is whose readings are no quantities."""
COLUMN = 17
"""How far a limit reaches to either side of a station that has it alone."""
_APART, _BREAK, _LEAST = 82, 26, 220
_OVER = 12
"""How far the last figure may stand out over the end of the line."""
_ROOM = Fraction(1, 4)
_UNDER = 34


class Frame(Struct, frozen=True):
    """Where everything on a strip lies."""

    strip: Strip
    spots: tuple[str, ...]
    """The stations without a distance, in the order recorded."""
    along: Scale | None
    levels: Scale | None
    end: float
    """Where the line ends; what lies apart stands to the right of it."""
    right: float
    column: float
    """How wide each station without a distance is."""

    @property
    def top(self) -> float:
        """The upper edge of the readings."""
        return TOP

    @property
    def low(self) -> float:
        """The lower edge of the readings."""
        return TOP + (HEIGHT if self.levels else FLAT)

    @property
    def foot(self) -> float:
        """The height of the axis, where readings stand that are unknown."""
        return self.low + 14

    @property
    def under(self) -> float:
        """The lower edge of what is written under the axis."""
        return self.caption + 7 if self.along else self.foot + _UNDER

    @property
    def caption(self) -> float:
        """The height of what says where distances start, under all names of stations."""
        return self.foot + (_UNDER + 12 if self.spots else _UNDER)

    def x(self, mark: Mark) -> float:
        """Return how far right a station lies."""
        if mark.at is not None and self.along is not None:
            return self.along.at(mark.at)
        return self.right - self.column * (len(self.spots) - self.spots.index(mark.label) - 0.5)

    def y(self, mark: Mark) -> float:
        """Return how far down a reading lies; on the axis where it is unknown."""
        if not mark.is_known:
            return self.foot
        if self.levels is None or mark.value is None:
            return self.top + FLAT / 2
        return self.levels.at(mark.value)


def frame_of(strip: Strip) -> Frame:
    """Return the ground for a strip."""
    spots = tuple(dict.fromkeys(mark.label for mark in strip.marks if mark.at is None))
    reaches = [mark.at for mark in strip.marks if mark.at is not None]
    column = _APART if reaches else max(_APART, (RIGHT - LEFT) / len(spots))
    apart = len(spots) * column
    right = float(max(RIGHT, LEFT + apart + (_LEAST + _BREAK if reaches else 0)))
    end = right - apart - (_BREAK if spots else 0) if reaches else float(LEFT)
    reach = max([*reaches, strip.length or 0, 1])
    return Frame(
        strip=strip,
        spots=spots,
        along=Scale(0, reach, LEFT, end) if reaches else None,
        levels=_levels(strip),
        end=end,
        right=right,
        column=column,
    )


def _levels(strip: Strip) -> Scale | None:
    """Return the scale of the readings; None where none of them is a quantity."""
    known = [mark.value for mark in strip.marks if mark.value is not None]
    if strip.dimension is None or not known:
        return None
    ranges = [*(one for mark in strip.marks for some in mark.accepted for one in some or ())]
    ranges += [one for rule in strip.rules for one in rule.aims]
    ends = [end for one in ranges for end in (one.low, one.high) if end is not None]
    low, high = padded([*known, *ends], strip.dimension, strip.units, share=_ROOM)
    return Scale(low, high, TOP + HEIGHT, TOP)


# the accepted side


def hatching(frame: Frame) -> Svg:
    """Return what all rules accept, hatched: across, or at each station where they differ."""
    allowed = {frame.x(mark): _allowed(mark) for mark in frame.strip.marks}
    if len(set(allowed.values())) == 1:
        ranges = next(iter(allowed.values()))
        return group(*_bands(frame, ranges, LEFT, frame.right), class_="accepted")
    return group(
        *(
            band
            for x, ranges in allowed.items()
            for band in _bands(frame, ranges, x - COLUMN, x + COLUMN)
        ),
        class_="accepted",
    )


def _allowed(mark: Mark) -> Ranges | None:
    """Return what every rule with a range accepts at a station."""
    known = [ranges for ranges in mark.accepted if ranges is not None]
    return common(known) if known else None


def _bands(frame: Frame, ranges: Ranges | None, left: float, right: float) -> Iterator[Svg]:
    for one in ranges or ():
        if frame.levels is not None:
            top = frame.top if one.high is None else frame.levels.at(one.high)
            foot = frame.low if one.low is None else frame.levels.at(one.low)
            if foot - top > 1:
                yield hatch(left, top, right, foot)


# limits


class Bound(Struct, frozen=True):
    """One end of what a rule accepts, or an aim."""

    words: str
    y: float
    dashes: str | None
    width: float
    spans: tuple[tuple[float, float], ...]
    """From where to where it is drawn: across, or at some stations alone."""
    class_: str


_DASHES = (None, "7 3", "2.5 3", "10 3 2 3")
"""How the first rule's limits are drawn, the second's, and so on."""


def bounds(frame: Frame) -> tuple[Bound, ...]:
    """Return the limits and aims to draw, each once; a limit's words say which way it holds."""
    strip, levels = frame.strip, frame.levels
    if levels is None or strip.dimension is None:
        return ()
    found: dict[tuple[str, Exact], tuple[int, set[float]]] = {}
    for i in range(len(strip.rules)):
        for mark in strip.marks:
            for one in mark.accepted[i] or ():
                for words, end in _ends(one):
                    found.setdefault((words, end), (i, set()))[1].add(frame.x(mark))
    every = {frame.x(mark) for mark in strip.marks}
    drawn = [
        Bound(
            words=f"{words} {_figure(end, strip, strip.dimension)}".lstrip(),
            y=levels.at(end),
            dashes=_DASHES[min(rule, len(_DASHES) - 1)],
            width=1.6,
            spans=((LEFT, frame.right),)
            if at == every
            else tuple((x - COLUMN, x + COLUMN) for x in sorted(at)),
            class_="ink limit",
        )
        for (words, end), (rule, at) in found.items()
    ]
    return (*drawn, *_aims(frame, levels, strip.dimension))


def _aims(frame: Frame, levels: Scale, dimension: Dimension) -> Iterator[Bound]:
    aims = dict.fromkeys(
        (words, end) for rule in frame.strip.rules for one in rule.aims for words, end in _ends(one)
    )
    for words, end in aims:
        said = f"aim {words} {_figure(end, frame.strip, dimension)}".replace("  ", " ")
        spans = ((LEFT, frame.right),)
        yield Bound(said, levels.at(end), "1 3.5", 1.2, spans, "faint aim")


def _ends(one: Range) -> Iterator[tuple[str, Exact]]:
    if one.low is not None and one.low == one.high:
        yield "", one.low
        return
    if one.low is not None:
        yield "at least", one.low
    if one.high is not None:
        yield "at most", one.high


def _figure(amount: Exact, strip: Strip, dimension: Dimension) -> str:
    return write(amount, dimension, units=strip.units)


# axes


def level_axis(frame: Frame) -> Iterator[Svg]:
    """Yield the axis of the readings, with round figures."""
    strip, levels = frame.strip, frame.levels
    if levels is None or strip.dimension is None:
        return
    yield stroke([(LEFT, frame.top), (LEFT, frame.low)], class_="faint")
    for tick in level_ticks(levels.low, levels.high, strip.dimension, strip.units):
        y = levels.at(tick.amount)
        yield stroke([(LEFT - 4, y), (LEFT, y)], class_="faint")
        yield text(LEFT - 7, y + 4, tick.label, size=SMALL, anchor="end", class_="faint")


def distance_axis(frame: Frame) -> Iterator[Svg]:
    """Yield the line itself from its named end on, with round distances."""
    along, strip, y = frame.along, frame.strip, frame.foot
    if along is None:
        return
    is_whole = strip.length is not None and strip.length >= along.high
    yield stroke([(LEFT, y), (frame.end, y)], width=1.4, class_="ink")
    said = write(along.high, Dimension.LENGTH, units=strip.distance_units) if is_whole else "…"
    room = frame.end + _OVER - text_width(said, SMALL) - 6
    for tick in distance_ticks(along.high, strip.distance_units):
        x = along.at(tick.amount)
        yield stroke([(x, y), (x, y + 5)], class_="ink")
        if x + text_width(tick.label, SMALL) / 2 < room:
            yield text(x, y + 18, tick.label, size=SMALL, anchor="middle", class_="faint")
    yield text(frame.end + _OVER, y + 18, said, size=SMALL, anchor="end", class_="faint")
    if is_whole:
        yield stroke([(frame.end, y - 5), (frame.end, y + 5)], width=1.4, class_="ink")
    start = f"from {strip.start}" if strip.start else "from an end not recorded"
    if strip.length is None:
        start += "; length not recorded"
    for line in wrapped(start, frame.right - LEFT, size=SMALL, most=1):
        yield text(LEFT, frame.caption, line, size=SMALL, style="italic", class_="faint")


def apart_axis(frame: Frame) -> Iterator[Svg]:
    """Yield the stations without a distance, side by side, apart from the line."""
    if not frame.spots:
        return
    y, left = frame.foot, frame.right - frame.column * len(frame.spots)
    if frame.along is not None:
        yield stroke([(left - 12, frame.top), (left - 12, y + 18)], dashes="1 4", class_="faint")
    yield stroke([(left, y), (frame.right, y)], width=1.4, dashes="2 3", class_="ink")
    shown = {mark.label: mark.where for mark in frame.strip.marks if mark.at is None}
    for i, spot in enumerate(frame.spots):
        x = left + frame.column * (i + 0.5)
        said = shown[spot] or "place not recorded"
        for n, line in enumerate(wrapped(said, frame.column - 6, size=SMALL, most=2)):
            yield text(x, y + 18 + 13 * n, line, size=SMALL, anchor="middle", class_="faint")
