"""What so many stations or pieces looked at show of all there are: an exact bound, in words.

The bound is Clopper and Pearson's, of a lot the hypergeometric one. It holds for places picked at
random; how these were picked is not for a report to know, so it says so.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.enclosures import subtract
from ridgerule.facts import Element
from ridgerule.quantities import Dimension, Quantity, Units, write
from ridgerule.trade.sampling import Sides, faulty_in_lot, faulty_share

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.findings import Audit
    from ridgerule.record import Place

CONFIDENCE = Fraction(9, 10)
_MOST = 1_000
"""Of more pieces no bound is told: it would say no more than their share."""
AT_RANDOM = "if they were picked at random"


class SampledView(Struct, frozen=True):
    """So many looked at, so many with a fault, and what that shows."""

    of: str
    rule: str
    """The rule that was asked of the stations; empty for a counted sample."""
    inspected: int
    faulty: int
    lot: int | None
    statement: str


def sampled_views(audit: Audit) -> tuple[SampledView, ...]:
    """Return what the counted samples show, then the stations of each rule that was judged."""
    return (*_samples(audit), *_stations(audit))


def _samples(audit: Audit) -> Iterator[SampledView]:
    for place in audit.record.places[Element.SAMPLE]:
        inspected, faulty = _count(place, "inspected"), _count(place, "faulty")
        if not inspected or faulty is None or faulty > inspected or inspected > _MOST:
            continue
        lot = _count(place, "lot")
        of = place.readings.get("of", ())
        name = str(of[0].value) if of and of[0].value else place.label
        yield _view(name, "", inspected, faulty, lot if lot and lot >= inspected else None)


def _stations(audit: Audit) -> Iterator[SampledView]:
    judged: dict[str, tuple[str, dict[object, Outcome]]] = {}
    for finding in audit.findings:
        if finding.place.element is not Element.STATION or finding.rule is None:
            continue
        if finding.outcome in (Outcome.PASS, Outcome.FAIL):
            title = finding.rule.text("title")
            found = judged.setdefault(finding.rule.full_id, (title, {}))[1]
            # Where several forms of a rule were judged, a fault by one of them is a fault.
            if found.get(finding.place.path) is not Outcome.FAIL:
                found[finding.place.path] = finding.outcome
    for rule, (title, outcomes) in judged.items():
        if len(outcomes) <= _MOST:
            faulty = sum(outcome is Outcome.FAIL for outcome in outcomes.values())
            yield _view(title, rule, len(outcomes), faulty, None)


def _view(of: str, rule: str, inspected: int, faulty: int, lot: int | None) -> SampledView:
    noun = "stations" if rule else "pieces"
    found = "without a fault" if not faulty else f"with {faulty} at fault"
    if lot is not None:
        bounds = faulty_in_lot(
            faulty, inspected=inspected, lot=lot, confidence=CONFIDENCE, sides=Sides.UPPER
        )
        most = write(bounds.greatest, Dimension.COUNT, units=Units.INCH)
        told = f"at most {most} of all {lot} are at fault"
    else:
        share = faulty_share(
            faulty, inspected=inspected, confidence=CONFIDENCE, sides=Sides.UPPER
        ).greatest
        right = write(subtract(1, share), Dimension.SHARE, units=Units.INCH)
        told = f"at least {right} of all such are right"
    statement = f"{inspected} {noun} {found}: 90 % sure that {told}, {AT_RANDOM}"
    return SampledView(of, rule, inspected, faulty, lot, statement)


def _count(place: Place, name: str) -> int | None:
    readings = place.readings.get(name, ())
    value = readings[0].value if readings else None
    is_whole = isinstance(value, Quantity) and isinstance(value.amount, int)
    return value.amount if is_whole and isinstance(value, Quantity) else None  # type: ignore[return-value] # whole
