"""The roof from above: planes, lines told apart by pattern and word, findings at their places."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.subjects import value_text
from ridgerule.audit.words import in_units
from ridgerule.facts import Element
from ridgerule.reports.drawing_badges import cluster, painted_cluster
from ridgerule.reports.drawing_coordinates import by_coordinates
from ridgerule.reports.drawing_findings import numbered
from ridgerule.reports.drawing_labels import (
    AROUND,
    Board,
    Box,
    at_point,
    box_about,
    enclosing,
    nearest,
)
from ridgerule.reports.drawing_layout import HEAD, SHEET, laid_out
from ridgerule.reports.drawing_legend import UNRECORDED_DASHES, Legend, pattern
from ridgerule.reports.drawing_regions import heart
from ridgerule.reports.drawing_ring import BOX_HIGH, BOX_WIDE, ring
from ridgerule.reports.drawing_roof import dot, length
from ridgerule.reports.drawing_spots import KINDS, spots_of
from ridgerule.reports.drawing_svg import (
    SIZE,
    SMALL,
    Svg,
    arrow,
    clipped,
    drawing,
    element,
    group,
    stroke,
    text,
    text_width,
    trace,
    words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.audit.findings import Audit
    from ridgerule.record import Place
    from ridgerule.reports.drawing_layout import Layout, Piece, Region
    from ridgerule.reports.drawing_spots import Spot
    from ridgerule.reports.drawing_svg import Point
    from ridgerule.reports.view import View

_MOST_NAME, _MOST_SAID = 12, 240
_GRID = 16
_FALL = 15.0
_LEADER = 8.0
_SHARES = (0.5, 0.36, 0.64, 0.22, 0.78)
_UNDER: tuple[Point, ...] = ((0, 1), (1, 0), (-1, 0), (0, -1), *AROUND[4:])


def roof_plan(audit: Audit, view: View, *, link: str = "finding-") -> str:
    """Return the plan of an audited roof; each number on it is a link to `#` + `link` + number."""
    return _Painter(audit, view, link).painted()


class _Painter:
    """Paints one roof, and keeps its words off each other."""

    def __init__(self, audit: Audit, view: View, link: str) -> None:
        self.record = audit.record
        self.view = view
        self.link = link
        self.layout: Layout = (
            by_coordinates(self.record, view.settings.units)
            or laid_out(self.record)
            or ring(self.record)
        )
        self.spots = spots_of(numbered(audit, view), self.record, self.layout)
        lines = [(piece.start, piece.end) for piece in self.layout.pieces]
        edges = [*lines, *self.layout.unrecorded]
        if not self.layout.has_places:
            edges += [edge for region in self.layout.regions for edge in region.edges]
        self.board = Board(_sheet(edges), edges)
        self.names: dict[tuple[str, str], Box] = {}
        """Where the name of each plane and line stands."""
        self.leaders: list[Svg] = []

    def painted(self) -> str:
        """Return the whole drawing."""
        layout = self.layout
        north = self.north()
        ground = [self.unrecorded(), *(pattern(p.kind, (p.start, p.end)) for p in layout.pieces)]
        planes = [self.plane(region) for region in layout.regions]
        spots = {kind: [s for s in self.spots.drawn if s.kind == kind] for kind in KINDS}
        labels = [self.point(spot) for spot in (*spots["station"], *spots["joint"])]
        at_lines = {spot.id: spot for spot in spots["line"]}
        lines = dict.fromkeys(piece.line for piece in layout.pieces)
        bare = [line for line in lines if line not in at_lines]
        full = sorted(at_lines, key=lambda line: -len(at_lines[line].findings))
        labels += [self.line(line, at_lines.get(line)) for line in (*full, *bare)]
        beside = (*spots["on line"], *spots["plane"], *spots["on plane"])
        labels += [self.upon(spot) for spot in beside]
        ends = [at_point(end) for start_end in self.board.lines for end in start_end]
        reached = enclosing([*self.board.boxes, *ends, Box(0, 0, SHEET, 4)], 4)
        left, right = min(0.0, reached.left), max(float(SHEET), reached.right)
        legend = Legend(layout, self.spots, self.view, link=self.link, edges=(left + 4, right - 4))
        under, bottom = legend.painted(reached.bottom + 20)
        top = reached.top - 4
        name = self.view.roof.name or self.view.roof.id
        return drawing(
            *ground, *self.leaders, *planes, north, *labels, *under,
            box=(left, top, right - left, bottom - top),
            title=f"Roof plan of {clipped(name, _MOST_SAID)}",
            described=" ".join(self.described()),
            kind="plan" if right - left < 1.4 * SHEET else "plan wide",
            has_links=True,
        )  # fmt: skip

    def unrecorded(self) -> Svg:
        """Return the edges that no line of the record stands for."""
        return group(
            *(stroke(edge, dashes=UNRECORDED_DASHES) for edge in self.layout.unrecorded),
            class_="faint",
        )

    def north(self) -> Svg:
        """Return the arrow to the north, where any direction is known."""
        way = self.layout.north
        if way is None:
            return Svg("")
        x, y = 22.0, 36.0
        self.board.take(Box(4, 4, 42, 66))
        tail, tip = (x - way[0] * 16, y - way[1] * 16), (x + way[0] * 16, y + way[1] * 16)
        sign = text(x - way[0] * 26, y - way[1] * 26 + 4.5, "N", anchor="middle", weight="600")
        return group(words("North"), arrow(tail, tip, size=4.5, width=1.4), sign, class_="ink")

    def plane(self, region: Region) -> Svg:
        """Return a plane's name, its slope and which way it falls."""
        place = self.record.by_id[Element.PLANE, region.plane]
        name = clipped(region.plane, _MOST_NAME)
        slope = self.reading(place, "slope")
        x, y = heart(region)
        wide = max(text_width(name, SIZE + 2), text_width(slope, SMALL))
        size = (BOX_WIDE, BOX_HIGH) if region.is_box else (wide + 2, 28.0)
        self.names["plane", region.plane] = self.board.take(box_about(x, y + 1, *size))
        box = Svg("")
        if region.is_box:
            around = trace([start for start, _ in region.edges], closed=True)
            box = element(
                "path", d=around, fill="none", stroke="currentColor", class_="faint paper"
            )
        return group(
            words(clipped(self.told(place), _MOST_SAID)),
            box,
            text(x, y - 1, name, size=SIZE + 2, anchor="middle", weight="600", halo=True),
            text(x, y + 12, slope, size=SMALL, anchor="middle", class_="faint", halo=True),
            self.fall(region, (x, y + 1), wide),
        )

    def fall(self, region: Region, middle: Point, wide: float) -> Svg:
        """Return the arrow down a plane's slope, beside its name."""
        if region.down is None:
            return Svg("")
        (x, y), (dx, dy) = middle, region.down
        if region.is_box:
            across = BOX_WIDE / 2 / abs(dx) if dx else BOX_WIDE
            off = min(across, BOX_HIGH / 2 / abs(dy) if dy else BOX_WIDE)
            return arrow((x + dx * off, y + dy * off), (x + dx * (off + 9), y + dy * (off + 9)))
        off = abs(dx) * (wide / 2 + 4) + abs(dy) * 17
        tail, tip = (x + dx * off, y + dy * off), (x + dx * (off + _FALL), y + dy * (off + _FALL))
        self.board.take(enclosing([Box(*tail, *tail), Box(*tip, *tip)], 2))
        return group(arrow(tail, tip, size=3.4), class_="faint")

    def line(self, id_: str, spot: Spot | None) -> Svg:
        """Return a line's kind and name beside it, with the numbers of its findings."""
        place = self.record.by_id[Element.LINE, id_]
        pieces = [piece for piece in self.layout.pieces if piece.line == id_]
        longest = max(pieces, key=lambda p: length(_run(p)))
        said = f"{place.kind or 'line'} {clipped(id_, _MOST_NAME)}"
        shown = cluster(said, spot.findings, more=spot.more) if spot else cluster(said, ())
        points = [at_point(_along(longest, share)) for share in _SHARES]
        box = self.board.beside(
            points, shown.width, shown.height, clear=4, around=_square_to(_run(longest))
        )
        self.lead(min(points, key=lambda one: _gap(one, box)), box)
        self.names["line", id_] = box
        title = words(clipped(self.told(place), _MOST_SAID))
        return group(title, painted_cluster(shown, box, self.link))

    def point(self, spot: Spot) -> Svg:
        """Return the numbers of a station or a joint, beside its point."""
        if spot.point is None:
            return Svg("")
        x, y = spot.point
        shown = cluster(spot.label, spot.findings, more=spot.more)
        box = self.board.beside([box_about(x, y, 9, 9)], shown.width, shown.height, clear=2)
        self.lead(at_point(spot.point), box)
        dot_ = element("circle", cx=x, cy=y, r=3.2, fill="currentColor", class_="ink")
        return group(dot_, painted_cluster(shown, box, self.link))

    def upon(self, spot: Spot) -> Svg:
        """Return the numbers of a plane, or of something somewhere on it, beside its name."""
        held = self.names["line" if spot.kind == "on line" else "plane", spot.id]
        shown = cluster(spot.label, spot.findings, more=spot.more)
        box = self.board.beside([held], shown.width, shown.height, clear=3, around=_UNDER)
        self.lead(held, box)
        return painted_cluster(shown, box, self.link)

    def lead(self, held: Box, box: Box) -> None:
        """Draw a line from a place to its numbers, where they stand off."""
        if _gap(held, box) > _LEADER:
            self.leaders.append(stroke(nearest(held, box), width=0.8, class_="faint"))

    def reading(self, place: Place, fact: str) -> str:
        """Return a reading in words, in the units asked for; empty where there is none."""
        readings = place.readings.get(fact, ())
        value = readings[0].value if readings else None
        if value is None:
            return ""
        units = self.view.settings.units
        return in_units(value, units) if units else value_text(value)

    def told(self, place: Place) -> str:
        """Return a plane or a line in words: its name and what lays it out."""
        facts: Sequence[str] = ("slope", "faces") if place.element is Element.PLANE else ("length",)
        known = [f"{fact} {self.reading(place, fact) or 'not recorded'}" for fact in facts]
        beside = " and ".join(place.planes or ()) if place.element is Element.LINE else ""
        return ", ".join(filter(None, (place.label, beside, *known)))

    def described(self) -> Iterator[str]:
        """Yield sentences that say all the plan shows."""
        for element_, noun in ((Element.PLANE, "Planes"), (Element.LINE, "Lines")):
            told = [clipped(self.told(place), 120) for place in self.record.places[element_]]
            yield f"{noun}: {'; '.join(told)}." if told else f"{noun}: none recorded."
        spots = self.spots
        findings = [finding for spot in spots.drawn for finding in spot.findings]
        findings += [one for _, found in (*spots.more, *spots.elsewhere) for one in found]
        for finding in sorted(findings, key=lambda one: one.number):
            where = clipped(finding.place, 80)
            yield f"Finding {finding.number}, {finding.outcome}, at {where}."
        yield from self.layout.notes
        if self.layout.is_to_scale and self.layout.lone_lines:
            lone = ", ".join(clipped(id_, _MOST_NAME) for id_ in self.layout.lone_lines)
            yield f"Not drawn, without coordinates: {lone}."


def _sheet(edges: Sequence[tuple[Point, Point]]) -> Box:
    """Return the part of the sheet that labels had better stay on."""
    bottom = max((y for edge in edges for _, y in edge), default=float(HEAD))
    left = min((x for edge in edges for x, _ in edge), default=0.0)
    right = max((x for edge in edges for x, _ in edge), default=float(SHEET))
    return Box(min(2.0, left - 20), -70, max(SHEET - 2.0, right + 20), bottom + 90)


def _run(piece: Piece) -> Point:
    return piece.end[0] - piece.start[0], piece.end[1] - piece.start[1]


def _square_to(run: Point) -> list[Point]:
    """Return the directions to put a line's label in: square to it first."""
    size = length(run) or 1.0
    along = run[0] / size, run[1] / size
    return sorted(AROUND, key=lambda way: round(abs(dot(way, along)), 3))


def _along(piece: Piece, share: float) -> Point:
    (x, y), (dx, dy) = piece.start, _run(piece)
    return x + dx * share, y + dy * share


def _gap(one: Box, other: Box) -> float:
    """Return how far two boxes are apart."""
    start, end = nearest(one, other)
    return length((end[0] - start[0], end[1] - start[1]))
