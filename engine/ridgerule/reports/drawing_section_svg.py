"""A section as a drawing, with its widths on dimension lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.reports.drawing_roof import direction
from ridgerule.reports.drawing_section import SCHEMATIC, Section, Side, Width
from ridgerule.reports.drawing_svg import (
    CLASSES,
    SIZE,
    SMALL,
    Svg,
    arrow,
    clipped,
    drawing,
    element,
    group,
    mark,
    number,
    stroke,
    text,
    text_width,
    trace,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.reports.drawing_svg import Point

WIDTH = 480
_MIDDLE = WIDTH / 2
_REACH = 190.0
"""How far each side is drawn along its slope."""
_SPARE = 1.5
_DECK, _STRIP, _SLATE, _THICK = 8.0, 4.0, 7.0, 7.0
"""Thicknesses, which are not to scale: deck, where the strip lies, where the slates lie, they."""
_ROWS = 21.0
_STEEPEST = 0.2
_MOST_SAID = 240


def section(shown: Section) -> str:
    """Return the section as an image that says in words what it shows."""
    return _Painter(shown).painted()


class _Painter:
    """Paints one section; the ridge of the deck is the origin of everything."""

    def __init__(self, shown: Section) -> None:
        self.shown = shown
        widest = max(
            [float(width.size) / 2 for width in (shown.membrane, shown.gap) if width]
            + [float(side.setback.size) for side in shown.sides if side.setback]
            + [float(limit.size) * (1 if shown.is_by_side else 0.5) for limit in self.limits()]
        )
        self.scale = _REACH / (widest * _SPARE or 1.0)
        self.rows = len(self.limits()) + (1 if shown.gap else 0)
        self.apex = 50.0 + _ROWS * self.rows + (6 if shown.is_by_side else 8)

    def limits(self) -> list[Width]:
        """Return the limits to be drawn."""
        return [width for width in (self.shown.least, self.shown.most) if width is not None]

    def at(self, side: int, along: float, off: float = 0.0) -> Point:
        """Return the point so far down one side, and so far off its deck."""
        down, across = direction(self.shown.sides[side].fall)
        sign = 1 if side else -1
        x = across * along + down * off
        return _MIDDLE + sign * x, self.apex + down * along - across * off

    def plumb(self, side: int, half: float, off: float) -> Point:
        """Return the point so far across from the centreline, and so far off a side's deck."""
        down, across = direction(self.shown.sides[side].fall)
        return self.at(side, (half - down * off) / max(across, _STEEPEST), off)

    def begins(self, side: int, off: float) -> Point:
        """Return where the slates of a side begin: cut plumb at the open space, or set back."""
        own, gap = self.shown.sides[side].setback, self.shown.gap
        if gap is not None and own is None:
            return self.plumb(side, float(gap.size) / 2 * self.scale, off)
        return self.at(side, float(own.size) * self.scale if own else 0.0, off)

    def painted(self) -> str:
        """Return the whole drawing."""
        shown = self.shown
        said = f"Section of {shown.place}"
        body = [*self.deck(), *self.strip(), *self.slates(), *self.angle(), *self.names()]
        widths = [*self.by_side()] if shown.is_by_side else [*self.across()]
        foot = max(self.at(side, _REACH, -_DECK)[1] for side in (0, 1)) + 40
        notes, y = [], foot
        for note in self.notes():
            for line in wrapped(note, WIDTH - 8, size=SMALL):
                notes.append(text(0, y, line, size=SMALL, style="italic", class_="faint"))
                y += SMALL + 4
        return drawing(
            text(0, 14, clipped(said, 56), weight="600", size=SIZE + 1),
            *body, *widths, *notes,
            box=(-4, 0, WIDTH + 8, y),
            title=clipped(said, _MOST_SAID),
            described=" ".join(self.described()),
            kind="section",
        )  # fmt: skip

    # what is built

    def deck(self) -> Iterator[Svg]:
        top = [self.at(0, _REACH), (_MIDDLE, self.apex), self.at(1, _REACH)]
        under = [self.at(0, _REACH, -_DECK), (_MIDDLE, self.apex + _DECK * 1.25),
                 self.at(1, _REACH, -_DECK)]  # fmt: skip
        yield stroke(top, width=1.4, class_="ink")
        yield stroke(under, width=1, class_="faint")
        line = [(_MIDDLE, 30.0), (_MIDDLE, self.apex + 66)]
        yield stroke(line, width=0.8, dashes="9 3 2 3", class_="faint")

    def strip(self) -> Iterator[Svg]:
        """Yield the membrane strip and its width, under the deck."""
        strip = self.shown.membrane
        if strip is None:
            return
        half = float(strip.size) / 2 * self.scale
        ends = [self.at(0, half, _STRIP), self.at(0, 0, _STRIP * 1.1), self.at(1, half, _STRIP)]
        yield stroke(ends, width=3, class_="strip ink")
        below = [self.at(0, half, -_DECK - 14), (_MIDDLE, self.apex + _DECK + 17),
                 self.at(1, half, -_DECK - 14)]  # fmt: skip
        yield stroke(below, width=0.8, class_="faint")
        for side in (0, 1):
            tick = [self.at(side, half, -_DECK - 20), self.at(side, half, _STRIP)]
            yield stroke(tick, width=0.8, class_="faint")
        x, y = self.at(1, half, -_DECK - 26)
        said = f"membrane strip {strip.text}"
        yield text(x + 4, y + 10, said, size=SMALL, anchor="end", class_="faint", halo=True)

    def slates(self) -> Iterator[Svg]:
        for side in (0, 1):
            top = _SLATE + _THICK
            corners = [self.begins(side, _SLATE), self.begins(side, top)]
            corners += [self.at(side, _REACH, top), self.at(side, _REACH, _SLATE)]
            around = trace(corners, closed=True)
            yield element(
                "path",
                d=around,
                fill="none",
                stroke="currentColor",
                stroke_width=1.4,
                class_="paper ink",
            )

    def angle(self) -> Iterator[Svg]:
        """Yield the included angle, inside the roof."""
        ends = [self.at(side, 40, -_DECK) for side in (0, 1)]
        (x0, y0), (x1, y1) = ends
        bend = f"Q{number(_MIDDLE)} {number(max(y0, y1) + 18)} {number(x1)} {number(y1)}"
        path = f"M{number(x0)} {number(y0)}{bend}"
        yield element("path", d=path, fill="none", stroke="currentColor", stroke_width=0.8,
                      class_="faint")  # fmt: skip
        said = self.shown.angle or "angle not known"
        yield text(_MIDDLE, self.apex + 62, said, size=SMALL, anchor="middle", halo=True)

    def names(self) -> Iterator[Svg]:
        for side in (0, 1):
            x, y = self.at(side, _REACH, 0)
            said = f"plane {clipped(self.shown.sides[side].plane, 12)}"
            anchor = "start" if side == 0 else "end"
            x += -6 if side == 0 else 6
            yield text(x, y + 28, said, anchor=anchor, weight="600")

    # widths

    def across(self) -> Iterator[Svg]:
        """Yield the open space and its limits, on lines across over the slates."""
        shown, top = self.shown, _SLATE + _THICK
        row = self.apex - 42
        if shown.gap:
            ends = [self.begins(side, top) for side in (0, 1)]
            yield group(
                *self.dimension(ends, row, shown.gap.text, outcome=Outcome.FAIL),
                class_=CLASSES[Outcome.FAIL],
            )
        for said, limit in (("at least", shown.least), ("at most", shown.most)):
            if limit is not None:
                row -= _ROWS
                half = float(limit.size) / 2 * self.scale
                ends = [self.plumb(side, half, top) for side in (0, 1)]
                for side, (x, y) in enumerate(ends):
                    yield self.tick([self.plumb(side, half, 0), (x, y - 8)])
                told = f"{said} {limit.text}"
                yield group(*self.dimension(ends, row, told), class_="ink limit")

    def tick(self, ends: list[Point]) -> Svg:
        """Return a dashed line where the slates of one side would have to end."""
        return stroke(ends, width=1.3, dashes="3 2.5", class_="ink")

    def dimension(
        self, ends: list[Point], row: float, said: str, *, outcome: Outcome | None = None
    ) -> Iterator[Svg]:
        """Yield a dimension line with its words to the right, led down to two points."""
        (x0, y0), (x1, y1) = ends
        yield stroke([(x0, y0 - 3), (x0, row - 4)], width=0.8)
        yield stroke([(x1, y1 - 3), (x1, row - 4)], width=0.8)
        middle = (x0 + x1) / 2
        yield arrow((middle, row), (x0, row), size=3.2)
        yield arrow((middle, row), (x1, row), size=3.2)
        x = x1 + 10
        if outcome is not None:
            yield mark(outcome, x + 4, row, size=4, width=2)
            x += 14
        weight = "700" if outcome is not None else None
        yield text(x, row + 4, said, size=SIZE, weight=weight, halo=True)

    def by_side(self) -> Iterator[Svg]:
        """Yield each side's setback and limit, on lines along its slope."""
        for i, side in enumerate(self.shown.sides):
            if side.setback is not None:
                yield from self.setback(i, side, float(side.setback.size) * self.scale)
            for said, limit in (("at least", self.shown.least), ("at most", self.shown.most)):
                if limit is not None:
                    along = float(limit.size) * self.scale
                    ends = [self.at(i, along, -2), self.at(i, along, _SLATE + _THICK + 8)]
                    yield self.tick(ends)
                    x, y = self.at(i, along + 8, _SLATE + _THICK + 4)
                    anchor = "end" if i == 0 else "start"
                    yield text(x, y, f"{said} {limit.text}", size=SMALL, anchor=anchor, halo=True)

    def setback(self, i: int, side: Side, along: float) -> Iterator[Svg]:
        outcome = None if side.is_met is None else (Outcome.PASS if side.is_met else Outcome.FAIL)
        class_ = CLASSES[outcome] if outcome else "ink"
        off = _SLATE + _THICK + 18
        tail, tip = self.at(i, 0, off), self.at(i, along, off)
        lines = [
            stroke([self.at(i, along, _SLATE + _THICK), self.at(i, along, off + 6)], width=0.8),
            stroke([self.at(i, 0, 3), self.at(i, 0, off + 6)], width=0.8),
            arrow(((tail[0] + tip[0]) / 2, (tail[1] + tip[1]) / 2), tail, size=3.2),
            arrow(((tail[0] + tip[0]) / 2, (tail[1] + tip[1]) / 2), tip, size=3.2),
        ]
        said = f"{clipped(side.plane, 8)} {side.setback.text if side.setback else ''}"
        x, y = self.at(i, along * 0.7, off + 8)
        width = text_width(said)
        left = x - width - 4 if i == 0 else x + 16
        if outcome is not None:
            lines.append(mark(outcome, left - 9, y - 4, size=4, width=2))
        lines.append(
            text(left, y, said, weight="700" if outcome is Outcome.FAIL else None, halo=True)
        )
        yield group(*lines, class_=class_)

    # words

    def notes(self) -> Iterator[str]:
        if self.shown.angle:
            yield "Cut square to the line. Widths in one scale; thicknesses not to scale."
        else:
            yield (f"The angle is not known and drawn at {SCHEMATIC} deg: not to scale.")
        if self.shown.gap and not all(side.setback for side in self.shown.sides):
            yield "How the open space lies to the centreline is not recorded; drawn in the middle."

    def described(self) -> Iterator[str]:
        """Yield sentences that say all the section shows."""
        shown = self.shown
        yield f"Section across {clipped(shown.place, 80)}, finding {shown.number}."
        if shown.gap:
            yield f"Open space across the centreline {shown.gap.text}."
        for side in shown.sides:
            if side.setback:
                plane, setback = clipped(side.plane, 40), side.setback.text
                yield f"Side {plane} stops {setback} from the centreline."
        yield f"Must be {clipped(shown.limit, _MOST_SAID)}."
        strip = shown.membrane.text if shown.membrane else "not known"
        yield f"Membrane strip {strip}; angle between the planes {shown.angle or 'not known'}."
        yield from self.notes()
