"""A strip as a drawing: distance along the line against the reading, the limits across it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.facts import Element
from ridgerule.reports.drawing_labels import Board, Box, at_point, box_about
from ridgerule.reports.drawing_strip_frame import (
    LEFT,
    RIGHT,
    apart_axis,
    bounds,
    distance_axis,
    frame_of,
    hatching,
    level_axis,
)
from ridgerule.reports.drawing_svg import (
    CLASSES,
    SIZE,
    SMALL,
    Svg,
    clipped,
    drawing,
    element,
    group,
    mark,
    number,
    outcome_word,
    stroke,
    text,
    text_width,
    words,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.reports.drawing_strip import Mark, Strip, StripRule
    from ridgerule.reports.drawing_strip_frame import Bound
    from ridgerule.reports.drawing_svg import Point

_MOST_SAID = 300
_LINE = 15
_MARK = 5.0
_SIDES_APART = 7
_WIDE = 1.4
"""A strip so much wider than usual is not made to fit, but scrolls."""
_AROUND: tuple[Point, ...] = (
    (0, -1), (0, 1), (1, 0), (-1, 0), (0.7, -0.7), (0.7, 0.7), (-0.7, 0.7), (-0.7, -0.7),
)  # fmt: skip
_WORDED = (Outcome.FAIL, Outcome.NOT_VERIFIED)


def strip(shown: Strip) -> str:
    """Return the strip as an image that says in words what it shows."""
    return _Painter(shown).painted()


class _Painter:
    """Paints one strip, and keeps its words off each other."""

    def __init__(self, shown: Strip) -> None:
        self.strip = shown
        self.frame = frame_of(shown)
        self.limits = bounds(self.frame)
        frame = self.frame
        across = [((start, b.y), (end, b.y)) for b in self.limits for start, end in b.spans]
        sheet = Box(LEFT + 2, frame.top - 14, frame.right + 12, frame.foot - 3)
        self.board = Board(sheet, across)
        self.at = {id(one): self._point(one) for one in shown.marks}
        for point in self.at.values():
            self.board.take(box_about(*point, 2 * _MARK + 4, 2 * _MARK + 4))
        self.board.take(Box(0, frame.foot + 5, frame.right, frame.under))
        self.board.take(Box(0, 0, frame.right, 17))

    def _point(self, one: Mark) -> Point:
        """Return where a reading's shape stands: sides of one station a little to either side."""
        x = self.frame.x(one)
        sides = [other.side for other in self.strip.marks if other.label == one.label]
        if len(sides) > 1:
            x += _SIDES_APART * (2 * sides.index(one.side) - len(sides) + 1)
        return x, self.frame.y(one)

    def painted(self) -> str:
        """Return the whole drawing."""
        frame, shown = self.frame, self.strip
        said = f"{_first_up(shown.name)} {_along(shown)} {shown.host}"
        stems = group(*self.stems(), class_="faint")
        bounds_ = [self.bound(one) for one in self.limits]
        order = sorted(shown.marks, key=lambda one: one.outcome not in _WORDED)
        labels = [self.label(one) for one in order]
        notes, bottom = self.notes(frame.under + 6)
        right = max([frame.right + 14, *(box.right + 4 for box in self.board.boxes)])
        return drawing(
            text(0, 14, clipped(said, 58), weight="600", size=SIZE + 1),
            hatching(frame),
            *level_axis(frame),
            *distance_axis(frame),
            *apart_axis(frame),
            stems,
            *bounds_,
            *(self.shape(one) for one in shown.marks),
            *labels,
            *notes,
            box=(0, 0, right, bottom),
            title=clipped(said, _MOST_SAID),
            described=" ".join(self.described()),
            kind="strip" if right <= RIGHT * _WIDE else "strip wide",
        )

    def stems(self) -> Iterator[Svg]:
        """Yield a line from each reading down to where it was taken."""
        for x, y in dict.fromkeys((self.frame.x(m), self.frame.y(m)) for m in self.strip.marks):
            if y < self.frame.foot:
                yield stroke([(x, y), (x, self.frame.foot)], width=0.7, dashes="1 2.5")

    def bound(self, bound: Bound) -> Svg:
        """Return a limit's line with its words, at its right end where there is room."""
        lines = [
            stroke([(start, bound.y), (end, bound.y)], width=bound.width, dashes=bound.dashes)
            for start, end in bound.spans
        ]
        width, start, end = text_width(bound.words, SMALL), bound.spans[0][0], bound.spans[-1][1]
        up, down = bound.y - 9, bound.y + 10
        rows = (down, up) if bound.words.startswith("at least") else (up, down)
        columns = (end - width / 2, start + width / 2 + 3, (start + end) / 2)
        tried = [box_about(x, y, width, 13) for x in columns for y in rows]
        box = self.board.first_free(tried) or self.board.beside(
            [at_point((end, bound.y))], width, 13
        )
        said = text(box.left, box.bottom - 3, bound.words, size=SMALL, halo=True)
        return group(*lines, said, class_=bound.class_)

    def shape(self, one: Mark) -> Svg:
        """Return the shape of a reading's outcome, on a clear ground."""
        x, y = self.at[id(one)]
        clear = element("circle", r=_MARK + 2.5, fill="none", class_="paper")
        if one.outcome is None:
            drawn = element("circle", r=2.6, fill="currentColor")
        else:
            drawn = mark(one.outcome, 0, 0, size=_MARK - 0.6)
        class_ = CLASSES[one.outcome] if one.outcome else "ink"
        title = words(clipped(self.told(one), _MOST_SAID))
        move = f"translate({number(x)} {number(y)})"
        return group(title, clear, drawn, transform=move, class_=f"station {class_}")

    def told(self, one: Mark) -> str:
        """Return what a mark says in words."""
        side = f", side {one.side}" if one.side else ""
        outcome = f", {outcome_word(one.outcome)}" if one.outcome else ""
        return f"{clipped(one.label, 80)}{side}: {clipped(one.text, 120)}{outcome}"

    def label(self, one: Mark) -> Svg:
        """Return a reading in words beside its shape; what failed or is open says where too."""
        is_worded = one.outcome in _WORDED and one.at is not None
        side = f"{one.side} " if one.side else ""
        said = clipped(f"{side}{clipped(one.text, 24)}", 34)
        said += f" at {one.where}" if is_worded else ""
        box = self.room(one, text_width(said, SMALL + 0.5))
        if box is None:
            return Svg("")
        return text(
            box.left,
            box.bottom - 3,
            said,
            size=SMALL + 0.5,
            weight="700" if one.outcome in _WORDED else None,
            class_=CLASSES[one.outcome] if one.outcome else "ink",
            halo=True,
        )

    def room(self, one: Mark, width: float) -> Box | None:
        """Return room for a mark's words.

        None where there is none for a reading that is unknown: its shape on the axis says so, and
        its title why.
        """
        held = box_about(*self.at[id(one)], 2 * _MARK, 2 * _MARK)
        if one.is_known:
            return self.board.beside([held], width, 13, clear=2, around=_AROUND)
        x, _ = held.middle
        rows = (held.top - 9, held.top - 23)
        aside = (0.0, -0.45 * width, 0.45 * width)
        return self.board.first_free(
            [box_about(x + off, y, width, 13) for y in rows for off in aside]
        )

    def notes(self, top: float) -> tuple[list[Svg], float]:
        """Return the rules in words under the drawing, and where they end."""
        notes, y = [], top
        said = [(rule.outcome, _note(rule)) for rule in self.strip.rules]
        said += [(Outcome.NOT_VERIFIED, lack) for lack in self.strip.lacks]
        for outcome, sentence in said:
            shape = mark(outcome, 6, y + 6, size=4, width=1.8)
            lines = wrapped(sentence, self.frame.right - 22)
            rows = [text(20, y + 10.5 + _LINE * n, line) for n, line in enumerate(lines)]
            notes.append(group(group(shape, class_=CLASSES[outcome]), *rows))
            y += _LINE * len(lines) + 5
        return notes, y

    def described(self) -> Iterator[str]:
        """Yield sentences that say all the drawing shows."""
        shown = self.strip
        start = f" from {clipped(shown.start, 60)}" if shown.start else ""
        yield f"Readings of {shown.name} {_along(shown)} {clipped(shown.host, 80)}{start}:"
        yield f"{'; '.join(self.told(one) for one in shown.marks)}."
        for rule in shown.rules:
            yield f"{clipped(_note(rule), _MOST_SAID)}, {outcome_word(rule.outcome)}."
        for lack in shown.lacks:
            yield f"{clipped(lack, _MOST_SAID)}."


def _note(rule: StripRule) -> str:
    """Return a rule as a note says it: its limit, how it stands to the others, its title."""
    said = f" ({rule.said})" if rule.said else ""
    aim = f"; aim {rule.aim}" if rule.aim else ""
    noun = "finding" if len(rule.numbers) == 1 else "findings"
    numbers = f" ({noun} {', '.join(map(str, rule.numbers))})" if rule.numbers else ""
    return f"must be {rule.limit}{aim}{said}: {rule.title}{numbers}"


def _along(shown: Strip) -> str:
    return "along" if shown.element is Element.LINE else "on"


def _first_up(said: str) -> str:
    return f"{said[:1].upper()}{said[1:]}"
