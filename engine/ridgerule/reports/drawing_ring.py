"""A roof whose plan can't be told: its planes in a ring, by the direction they face.

Each plane is a box; each line runs between the boxes of the planes that it lies between, an eave
or a rake along the outer side of its own. Nothing in it is a length.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, pi
from typing import TYPE_CHECKING

from ridgerule.facts import Element
from ridgerule.quantities import Quantity
from ridgerule.reports.drawing_labels import box_about
from ridgerule.reports.drawing_layout import HEAD, SHEET, Layout, Piece, Region
from ridgerule.reports.drawing_limits import middle
from ridgerule.reports.drawing_roof import direction, length

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.record import Place, Record
    from ridgerule.reports.drawing_svg import Point

BOX_WIDE, BOX_HIGH = 70.0, 34.0
_ROOM = 96.0
"""How far the middles of two boxes stay apart along the ring."""
_LEAST_RADIUS = 118.0
_OUTSIDE, _NEXT, _SIDE_BY_SIDE = 15.0, 8.0, 9.0
_STUB = 34.0
_ROW, _COLUMN = 74.0, 92.0
_TURN, _STEPS = 360, 400


def ring(record: Record) -> Layout:
    """Return the planes of a record in a ring, with every line that touches one."""
    places = record.places[Element.PLANE]
    faces = {plane.id: _faces(plane) for plane in places}
    known = {id_: degrees for id_, degrees in faces.items() if degrees is not None}
    in_ring = known or dict.fromkeys(faces, Fraction(0))
    angles = _apart(in_ring) if known else _evenly(in_ring)
    radius = max(_LEAST_RADIUS, len(angles) * _ROOM / (2 * pi)) if len(angles) > 1 else 0.0
    middle_ = SHEET / 2, HEAD + radius + 30
    boxes = {id_: _on(middle_, radius, angle) for id_, angle in angles.items()}
    lone = [id_ for id_ in faces if id_ not in boxes]
    boxes |= _in_rows(lone, middle_[1] + radius + _ROW)
    pieces = tuple(_pieces(record, boxes, middle_))
    drawn = {piece.line for piece in pieces}
    return Layout(
        pieces=pieces,
        unrecorded=(),
        regions=tuple(_region(id_, boxes[id_], faces[id_]) for id_ in faces),
        lone_lines=tuple(line.id for line in record.places[Element.LINE] if line.id not in drawn),
        lone_planes=(),
        north=(0.0, -1.0) if known else None,
        notes=tuple(_notes(places, known, lone)),
        has_places=False,
    )


_NONE = "No plane is recorded; not to scale."
_NO_DIRECTION = (
    "Which way the planes face is not recorded: they stand in the record's order; not to scale."
)
_BY_DIRECTION = (
    "Planes stand by the direction they face, each line between those it joins; not to scale."
)
_BELOW = "Which way the planes below the ring face is not recorded."


def _notes(
    places: Sequence[Place], known: Mapping[str, Fraction], lone: Sequence[str]
) -> list[str]:
    if not known:
        return [_NO_DIRECTION if places else _NONE]
    return [_BY_DIRECTION, _BELOW] if lone else [_BY_DIRECTION]


def _faces(plane: Place) -> Fraction | None:
    readings = plane.readings.get("faces", ())
    value = readings[0].value if readings else None
    degrees = middle(value.amount) if isinstance(value, Quantity) else None
    return None if degrees is None else Fraction(degrees) % _TURN


def _apart(faces: Mapping[str, Fraction]) -> dict[str, Fraction]:
    """Return the directions, moved apart where boxes would lie over each other."""
    order = sorted(faces, key=lambda id_: faces[id_])
    angles = [faces[id_] for id_ in order]
    count = len(angles)
    radius = max(_LEAST_RADIUS, count * _ROOM / (2 * pi))
    least = Fraction(round(_TURN * _ROOM / (2 * pi * radius) * 100), 100)
    if count * least > _TURN * Fraction(3, 4):
        return _evenly(dict(zip(order, angles, strict=True)))
    for _ in range(_STEPS):
        moved = False
        for i in range(count if count > 1 else 0):
            turn = _TURN if i == count - 1 else 0
            gap = angles[(i + 1) % count] + turn - angles[i]
            if gap < least:
                push = Fraction(round((least - gap) / 2 * 1000) + 1, 1000)
                angles[i] -= push
                angles[(i + 1) % count] += push
                moved = True
        if not moved:
            break
    return dict(zip(order, angles, strict=True))


def _evenly(faces: Mapping[str, Fraction]) -> dict[str, Fraction]:
    """Return directions spread evenly, from that of the first plane on."""
    step = Fraction(_TURN, max(len(faces), 1))
    first = next(iter(faces.values()), Fraction(0))
    return {id_: first + i * step for i, id_ in enumerate(faces)}


def _on(centre: Point, radius: float, angle: Fraction) -> Point:
    east, north = direction(angle % _TURN)
    return centre[0] + radius * east, centre[1] - radius * north


def _in_rows(ids: Sequence[str], top: float) -> dict[str, Point]:
    """Return boxes in rows across the sheet."""
    per_row = SHEET // int(_COLUMN)
    rows = ceil(len(ids) / per_row) or 1
    wide = ceil(len(ids) / rows)
    left = SHEET / 2 - (wide - 1) * _COLUMN / 2
    return {
        id_: (left + (i % wide) * _COLUMN, top + (i // wide) * _ROW) for i, id_ in enumerate(ids)
    }


def _region(plane: str, at: Point, faces: Fraction | None) -> Region:
    box = box_about(*at, BOX_WIDE, BOX_HIGH)
    corners = [(box.left, box.top), (box.right, box.top), (box.right, box.bottom),
               (box.left, box.bottom)]  # fmt: skip
    sides = tuple(zip(corners, [*corners[1:], corners[0]], strict=True))
    down = None
    if faces is not None:
        east, north = direction(faces)
        down = (east, -north)
    return Region(plane, sides, down, is_box=True)


def _pieces(record: Record, boxes: Mapping[str, Point], centre: Point) -> Iterator[Piece]:
    """Yield every line that touches a plane."""
    beside: dict[frozenset[str], int] = {}
    outside: dict[str, int] = {}
    for line in record.places[Element.LINE]:
        planes = [id_ for id_ in line.planes or () if id_ in boxes]
        if len(planes) == 2:
            pair = frozenset(planes)
            nth = beside[pair] = beside.get(pair, -1) + 1
            start, end = _between(boxes[planes[0]], boxes[planes[1]], nth)
            yield Piece(line.id, line.kind, start, end)
        elif planes:
            nth = outside[planes[0]] = outside.get(planes[0], -1) + 1
            start, end = _along(boxes[planes[0]], centre, nth)
            yield Piece(line.id, line.kind, start, end)


def _between(a: Point, b: Point, nth: int) -> tuple[Point, Point]:
    """Return a line from box to box; the second between the same two runs beside the first."""
    size = length((b[0] - a[0], b[1] - a[1])) or 1.0
    way = (b[0] - a[0]) / size, (b[1] - a[1]) / size
    off = _SIDE_BY_SIDE * ((nth + 1) // 2) * (1 if nth % 2 else -1)
    start = a[0] - way[1] * off, a[1] + way[0] * off
    end = b[0] - way[1] * off, b[1] + way[0] * off
    return _clip(start, end, a), _clip(end, start, b)


def _clip(inside: Point, toward: Point, middle_: Point) -> Point:
    """Return where a line that starts inside a box leaves it."""
    box = box_about(*middle_, BOX_WIDE, BOX_HIGH)
    dx, dy = toward[0] - inside[0], toward[1] - inside[1]
    shares = [1.0]
    if dx:
        shares.append(((box.right if dx > 0 else box.left) - inside[0]) / dx)
    if dy:
        shares.append(((box.bottom if dy > 0 else box.top) - inside[1]) / dy)
    share = max(min(shares), 0.0)
    return inside[0] + dx * share, inside[1] + dy * share


def _along(at: Point, centre: Point, nth: int) -> tuple[Point, Point]:
    """Return a line along the outer side of a box, the next one further out."""
    dx, dy = at[0] - centre[0], at[1] - centre[1]
    off = _OUTSIDE + nth * _NEXT
    if abs(dx) * BOX_HIGH > abs(dy) * BOX_WIDE:
        x = at[0] + (BOX_WIDE / 2 + off) * (1 if dx > 0 else -1)
        return (x, at[1] - _STUB / 2), (x, at[1] + _STUB / 2)
    y = at[1] + (BOX_HIGH / 2 + off) * (1 if dy >= 0 else -1)
    return (at[0] - _STUB, y), (at[0] + _STUB, y)
