"""What stands under a roof plan: the patterns of its lines, the counts, what is not on it."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.facts import LineKind
from ridgerule.reports.drawing_badges import badge, badge_width
from ridgerule.reports.drawing_findings import DRAWN
from ridgerule.reports.drawing_scale import bar
from ridgerule.reports.drawing_svg import (
    CLASSES,
    SIZE,
    SMALL,
    Svg,
    clipped,
    group,
    mark,
    stroke,
    text,
    text_width,
    words,
    wrapped,
)
from ridgerule.reports.text import COUNTED
from ridgerule.units import NM_PER_FOOT, NM_PER_M, Units

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.reports.drawing_layout import Layout
    from ridgerule.reports.drawing_spots import Spots
    from ridgerule.reports.drawing_svg import Point
    from ridgerule.reports.view import FindingView, View

PATTERNS: Mapping[LineKind | None, tuple[float, str | None]] = MappingProxyType(
    {
        LineKind.RIDGE: (3.4, None),
        LineKind.HIP: (1.8, None),
        LineKind.VALLEY: (1.8, "9 4"),
        LineKind.EAVE: (1.1, None),
        LineKind.RAKE: (1.3, "10 3 2 3"),
        None: (1.3, "2 3"),
    }
)
"""How wide each kind of line is drawn, and in which dashes; an eave is doubled."""
UNRECORDED_DASHES = "1 4"
_UNRECORDED = "edge not recorded"
_SAMPLE, _GAP, _ROW = 30.0, 16.0, 19.0
_MOST_LABEL = 40
_BAR = 130.0
"""How long the scale bar is at the most."""


def pattern(kind: LineKind | None, ends: Sequence[Point]) -> Svg:
    """Return a line in the pattern of its kind."""
    width, dashes = PATTERNS[kind]
    if kind is LineKind.EAVE:
        return group(
            stroke(ends, width=4.2, class_="ink"), stroke(ends, width=2.2, class_="on-ink")
        )
    return stroke(ends, width=width, dashes=dashes, class_="ink")


class Legend:
    """Writes what stands under a plan, between two edges."""

    def __init__(
        self, layout: Layout, spots: Spots, view: View, *, link: str, edges: tuple[float, float]
    ) -> None:
        """Take what the plan shows, what links begin with, and how far lines may run."""
        self.layout = layout
        self.spots = spots
        self.view = view
        self.link = link
        self.left, self.right = edges

    def painted(self, top: float) -> tuple[list[Svg], float]:
        """Return everything from `top` on, and where it ends."""
        scale = self.scale(top + 10) if self.layout.is_to_scale else Svg("")
        samples = _Flow(self.left, self.right, top + (36 if scale else 6))
        for kind, word in self.kinds():
            self.sample(samples, kind, word)
        counts = _Flow(self.left, self.right, samples.y + _ROW + 4)
        for outcome in Outcome:
            self.count(counts, outcome)
        parts = [scale, *samples.parts, *counts.parts]
        y = counts.y + _ROW
        for note in self.layout.notes:
            for line in wrapped(note, self.right - self.left, size=SMALL):
                parts.append(text(self.left, y, line, size=SMALL, style="italic", class_="faint"))
                y += SMALL + 4
        for heading, items in self.apart():
            flow = _Flow(self.left, self.right, y + 6)
            flow.say(heading, class_="faint")
            for label, findings in items:
                self.item(flow, label, findings)
            parts.extend(flow.parts)
            y = flow.y + _ROW
        return parts, y - 4

    def scale(self, y: float) -> Svg:
        """Return the scale bar, and that the drawing is to scale."""
        layout = self.layout
        units = self.view.settings.units or layout.units
        per_unit = layout.per_foot * (NM_PER_M / NM_PER_FOOT if units is Units.METRIC else 1)
        long, marks = bar(per_unit, units, room=_BAR)
        x, after = self.left + 4, text_width(marks[-1], SMALL)
        return group(
            words(f"Scale bar of {marks[-1]}"),
            stroke([(x, y - 5), (x, y), (x + long, y), (x + long, y - 5)], width=1.4),
            stroke([(x + long / 2, y - 4), (x + long / 2, y)]),
            *(
                text(x + long * i / 2, y - 8, said, size=SMALL, anchor="middle" if i < 2 else None)
                for i, said in enumerate(marks)
            ),
            text(x + long + 8 + after, y - 8, "to scale", size=SMALL, class_="faint"),
            class_="ink scale",
        )

    def kinds(self) -> Iterator[tuple[LineKind | None, str]]:
        """Yield the kinds of line drawn, in words."""
        shown = {piece.kind for piece in self.layout.pieces}
        kinds: list[LineKind | None] = [*LineKind, None]
        for kind in kinds:
            if kind in shown:
                yield kind, kind.value if kind else "line of unknown kind"
        if self.layout.unrecorded:
            yield None, _UNRECORDED

    def sample(self, flow: _Flow, kind: LineKind | None, word: str) -> None:
        """Put a piece of a line's pattern beside its word."""
        x, y = flow.room(_SAMPLE + 6 + text_width(word))
        ends = [(x, y - 4), (x + _SAMPLE, y - 4)]
        drawn = pattern(kind, ends)
        if word == _UNRECORDED:
            drawn = stroke(ends, dashes=UNRECORDED_DASHES, class_="faint")
        flow.parts += [drawn, text(x + _SAMPLE + 6, y, word, size=SIZE - 0.5)]
        flow.skip(_GAP)

    def count(self, flow: _Flow, outcome: Outcome) -> None:
        """Put how many findings came to an outcome; those without a number on the plan too."""
        said = f"{self.view.counts[outcome]} {COUNTED[outcome]}"
        x, y = flow.room(14 + text_width(said))
        shape = mark(outcome, x + 5, y - 4, size=4, width=1.8)
        weight = "600" if outcome in DRAWN else None
        label = text(x + 14, y, said, size=SIZE - 0.5, weight=weight)
        flow.parts.append(group(shape, label, class_=CLASSES[outcome]))
        flow.skip(_GAP)

    def item(self, flow: _Flow, label: str, findings: Sequence[FindingView]) -> None:
        """Put a place that is not on the plan, with its findings."""
        said = clipped(label, _MOST_LABEL)
        flow.keep(text_width(said, SMALL + 0.5) + 6 + sum(map(badge_width, findings[:1])))
        flow.say(said)
        for finding in findings:
            x, y = flow.room(badge_width(finding) + 3)
            flow.parts.append(badge(finding, x, y - 12.5, self.link))
        flow.skip(8)

    @property
    def unplaced(self) -> str:
        """The heading over lines that are not drawn."""
        to_scale = self.layout.is_to_scale
        return "Lines not drawn, without coordinates:" if to_scale else "Lines with no place on it:"

    def apart(self) -> Iterator[tuple[str, list[tuple[str, tuple[FindingView, ...]]]]]:
        """Yield what is not on the plan, under headings."""
        layout = self.layout
        if self.spots.more:
            yield "More of one place:", [*self.spots.more]
        if self.spots.elsewhere:
            yield "Not on the plan:", [*self.spots.elsewhere]
        if layout.lone_lines:
            yield self.unplaced, [(id_, ()) for id_ in layout.lone_lines]
        if layout.lone_planes:
            yield "Planes with no place on it:", [(id_, ()) for id_ in layout.lone_planes]


class _Flow:
    """Words and numbers one after the other, on as many lines as they need."""

    def __init__(self, left: float, right: float, y: float) -> None:
        self.left, self.right = left, right
        self.x, self.y = left, y
        self.parts: list[Svg] = []

    def keep(self, width: float) -> None:
        """Start a new line unless so much fits on this one."""
        if self.x + width > self.right and self.x > self.left:
            self.x, self.y = self.left, self.y + _ROW + 2

    def room(self, width: float) -> Point:
        """Return where the next piece starts, on a new line where the last one is full."""
        self.keep(width)
        at = self.x, self.y
        self.x += width
        return at

    def say(self, words: str, *, class_: str | None = None) -> None:
        """Put words."""
        x, y = self.room(text_width(words, SMALL + 0.5) + 6)
        self.parts.append(text(x, y, words, size=SMALL + 0.5, class_=class_))

    def skip(self, width: float) -> None:
        """Leave room before the next piece."""
        self.x += width
