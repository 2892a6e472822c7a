"""A hip or a ridge cut square across, where its slates leave too little or too much open.

What is drawn: two planes at their angle, the open space across the centreline with its number,
the limit it misses, and the membrane strip under it. Widths are in one scale, thicknesses are not.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.audit.judge import Setting
from ridgerule.audit.subjects import subjects, value_text
from ridgerule.audit.words import in_units
from ridgerule.enclosures import arctangent
from ridgerule.facts import Element, FactRef, LineKind, Over
from ridgerule.quantities import Quantity, write
from ridgerule.reports.drawing_findings import numbered
from ridgerule.reports.drawing_limits import accepted, middle
from ridgerule.reports.figures import reading_words, units_written

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.findings import Audit
    from ridgerule.enclosures import Amount, Exact
    from ridgerule.quantities import Units
    from ridgerule.record import Place
    from ridgerule.reports.drawing_findings import Numbered
    from ridgerule.reports.view import View

GAP, SETBACK = "station.gap", "station.setback"
_KINDS = (LineKind.HIP, LineKind.RIDGE)
SCHEMATIC = 130
"""The angle that a section is drawn at, in degrees, where nobody knows it; it says so."""


class Width(Struct, frozen=True):
    """A width with its words."""

    size: Exact
    text: str


class Side(Struct, frozen=True):
    """One of the two planes of a section."""

    plane: str
    fall: Fraction
    """How far it falls from level, square to the line, in degrees."""
    setback: Width | None
    is_met: bool | None
    """Whether its setback meets the limit; None where no limit is on it, or it is unknown."""


class Section(Struct, frozen=True):
    """A line cut across at one station."""

    number: int
    place: str
    title: str
    sides: tuple[Side, Side]
    gap: Width | None
    least: Width | None
    """What the open space, or each setback, must be at the least."""
    most: Width | None
    limit: str
    membrane: Width | None
    angle: str
    """The included angle in words; empty where it is not known and the section is schematic."""

    @property
    def is_by_side(self) -> bool:
        """Whether the limit is on each side by itself."""
        return self.gap is None


def sections_of(audit: Audit, view: View) -> tuple[Section, ...]:
    """Return a section for each failed open space or setback at a station of a hip or ridge."""
    found = (_section(audit, view, pair) for pair in numbered(audit, view))
    return tuple(section for section in found if section is not None)


def _section(audit: Audit, view: View, pair: Numbered) -> Section | None:
    finding, record = pair.finding, audit.record
    check, place = finding.check, finding.place
    if (
        check is None
        or finding.outcome is not Outcome.FAIL
        or check.of.over not in (None, Over.EACH)
    ):
        return None
    if check.of.fact.full_name not in (GAP, SETBACK) or place.element is not Element.STATION:
        return None
    line = record.by_id[Element.LINE, str(place.path[1])]
    if line.kind not in _KINDS or len(line.planes or ()) != 2:
        return None
    units = view.settings.units
    ranges = accepted(Setting(record, place, check.evidence), check.limit) or ()
    least = min((one.low for one in ranges if one.low is not None), default=None)
    most = max((one.high for one in ranges if one.high is not None), default=None)
    system = units or units_written(finding)
    is_gap = check.of.fact.full_name == GAP
    return Section(
        number=pair.view.number,
        place=place.label,
        title=pair.view.title,
        sides=_sides(audit, line, place, None if is_gap else (least, most), units),
        gap=_width(place, "gap", units) if is_gap else None,
        least=_worded(least, finding.measured[0].value, system) if finding.measured else None,
        most=_worded(most, finding.measured[0].value, system) if finding.measured else None,
        limit=pair.view.limit,
        membrane=_width(line, "membrane_width", units),
        angle=_angle(audit, line, units)[1],
    )


def _worded(size: Exact | None, like: object, units: Units) -> Width | None:
    if size is None or not isinstance(like, Quantity):
        return None
    return Width(size, write(size, like.dimension, units=units))


def _width(place: Place, fact: str, units: Units | None, side: str = "") -> Width | None:
    """Return a width read at a place, None where it is unknown."""
    for reading in place.readings.get(fact, ()):
        if reading.side == side and isinstance(reading.value, Quantity):
            size = middle(reading.value.amount)
            if size is not None:
                return Width(size, in_units(reading.value, units))
    return None


def _angle(audit: Audit, line: Place, units: Units | None) -> tuple[Exact | None, str]:
    """Return the included angle and how it is known: computed, else measured."""
    for name, how in (("line.included_angle", "computed"), ("line.angle", "measured")):
        fact = audit.plan.vocabulary.by_name.get(name)
        found = subjects(audit.record, line, FactRef(fact)).items[0] if fact else None
        value = found.value if found else None
        if found and isinstance(value, Quantity) and (degrees := middle(value.amount)) is not None:
            said = reading_words(found.used[0], units) if found.used else value_text(value)
            return degrees, f"{said} {how}"
    return None, ""


def _sides(
    audit: Audit,
    line: Place,
    station: Place,
    limits: tuple[Exact | None, Exact | None] | None,
    units: Units | None,
) -> tuple[Side, Side]:
    planes = line.planes or ()
    falls = _falls(audit, line, units)
    sides = []
    for plane, fall in zip(planes, falls, strict=True):
        setback = _width(station, "setback", units, plane)
        is_met = None
        if setback is not None and limits is not None:
            least, most = limits
            is_met = (least is None or setback.size >= least) and (
                most is None or setback.size <= most
            )
        sides.append(Side(plane, fall, setback, is_met))
    return sides[0], sides[1]


def _falls(audit: Audit, line: Place, units: Units | None) -> tuple[Fraction, Fraction]:
    """Return how far each side falls from level; alike where only their angle is known."""
    known = [*_known_falls(audit, line)]
    angle, _ = _angle(audit, line, units)
    half = Fraction(180 - (angle if angle is not None else SCHEMATIC)) / 2
    if angle is None or len(known) != 2:
        return half, half
    return known[0], known[1]


def _known_falls(audit: Audit, line: Place) -> Iterator[Fraction]:
    """Yield the fall of each side: a ridge's by the slopes, a hip's by its backings."""
    record = audit.record
    if line.kind is LineKind.RIDGE:
        for plane in line.planes or ():
            slope = _amount(record.by_id[Element.PLANE, plane], "slope")
            degrees = middle(arctangent(slope)) if slope is not None else None
            if degrees is not None:
                yield Fraction(degrees)
        return
    for name in ("line.backing_first", "line.backing_second"):
        fact = audit.plan.vocabulary.by_name.get(name)
        value = subjects(record, line, FactRef(fact)).items[0].value if fact else None
        degrees = middle(value.amount) if isinstance(value, Quantity) else None
        if degrees is not None:
            yield Fraction(degrees)


def _amount(place: Place, fact: str) -> Amount | None:
    readings = place.readings.get(fact, ())
    value = readings[0].value if readings else None
    return value.amount if isinstance(value, Quantity) else None
