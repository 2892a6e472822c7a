"""Open points of the record itself: what it doesn't say it lists in full.

A hip that nobody wrote down breaks no rule, so a record that could hide one is never a pass.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Finding, Outcome
from ridgerule.audit.places import unlisted
from ridgerule.audit.truth import Missing
from ridgerule.enclosures import compare
from ridgerule.facts import SECTIONS, Element, Host, LineKind
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.audit.editions import InUse
    from ridgerule.audit.plan import Check
    from ridgerule.audit.scopes import Scopes
    from ridgerule.record import Place, Record

Kind = Element | LineKind

_MEETING = (LineKind.HIP, LineKind.RIDGE, LineKind.VALLEY)
_JOINS = "planes that meet"


def open_points(in_use: Iterable[InUse], scopes: Scopes) -> Iterator[Finding]:
    """Yield the record's own open points, each counted in the rulebooks it concerns."""
    record = scopes.record
    concerned = _concerned(in_use, scopes)
    for kind, books in concerned.items():
        if _listed(record, kind) and unlisted(record, kind):
            key = complete_key(kind)
            advice = f"say `complete: {{{key}: all}}` once they are"
            yield _point(record, f"are all {key} listed? {advice}", key, books)
    meeting = tuple(dict.fromkeys(b for kind in _MEETING for b in concerned.get(kind, ())))
    if meeting:
        for about in _unjoined(record):
            yield _point(record, about, _JOINS, meeting)


def concerns(finding: Finding, check: Check) -> bool:
    """Tell whether an open point of the record leaves places in doubt that a check is asked at."""
    kinds = _kinds(check)
    if finding.about == _JOINS:
        return any(kind in kinds for kind in _MEETING)
    return any(finding.about == complete_key(kind) for kind in kinds)


def none_stated(kinds: Iterable[Kind]) -> str:
    """Return the reason that a rule has no place where the record states there is none."""
    nouns = " or ".join(kind.value for kind in kinds)
    return f"the record states that there is no {nouns}"


def _concerned(in_use: Iterable[InUse], scopes: Scopes) -> dict[Kind, tuple[str, ...]]:
    """Return the kinds of place that rules are asked of, with the rulebooks that ask."""
    found: dict[Kind, dict[str, None]] = {}
    for used in in_use:
        for check in used.edition.checks:
            if scopes.of(check).truth is False:
                continue
            for kind in _kinds(check):
                found.setdefault(kind, {})[used.edition.book.name] = None
    ordered: tuple[Kind, ...] = (*LineKind, *SECTIONS)
    return {kind: tuple(found[kind]) for kind in ordered if kind in found}


def _kinds(check: Check) -> frozenset[Kind]:
    if check.at is Element.STATION:
        on_plane = {Element.PLANE} if check.host is not Host.LINE else set()
        return frozenset({*check.kinds, *on_plane})
    if check.kinds:
        return frozenset(check.kinds)
    return frozenset() if check.at is Element.ROOF else frozenset({check.at})


def _listed(record: Record, kind: Kind) -> bool:
    if isinstance(kind, LineKind):
        # A line of unknown kind may be of this one.
        return any(line.kind in (kind, None) for line in record.places[Element.LINE])
    return bool(record.places[kind])


def complete_key(kind: Kind) -> str:
    """Return the key under `complete:` for a kind of place."""
    return f"{kind}s" if isinstance(kind, LineKind) else SECTIONS[kind]


def _point(record: Record, reason: str, about: str, books: tuple[str, ...]) -> Finding:
    roof = record.roof
    return Finding(
        check=None,
        rule=None,
        place=roof,
        outcome=Outcome.NOT_VERIFIED,
        reason=reason,
        missing=(Missing(roof.label, None, reason, ("complete",)),),
        books=books,
        about=about,
    )


def _unjoined(record: Record) -> Iterator[str]:
    """Yield the neighbouring planes that no line lies between.

    Planes are neighbours if they follow each other in the direction they face; a record whose
    planes do not meet says so under `complete: {apart: …}`.
    """
    planes = record.places[Element.PLANE]
    known = [plane for plane in planes if isinstance(_faces(plane), Quantity)]
    if len(planes) > 1:
        for plane in planes:
            if not isinstance(_faces(plane), Quantity):
                yield f"which way {plane.label} faces is not known, so neither are its neighbours"
    groups = _by_direction(known)
    if len(groups) < 2:
        return
    around = [*groups, groups[0]] if len(groups) > 2 else groups
    joined = _joined_pairs(record) | record.apart
    for one, other in pairwise(around):
        ours, theirs = ({plane.id for plane in group} for group in (one, other))
        if not any(_lies_between(pair, ours, theirs) for pair in joined):
            a, b = one[0], other[0]
            if line := _of_unknown_kind(record, ours, theirs):
                yield f"what joins {a.label} and {b.label} is not known: the kind of {line.label}"
                continue
            apart = f"[[{a.id}, {b.id}]]"
            yield (
                f"no line is recorded between {a.label} and {b.label}; list it, or say "
                f"`complete: {{apart: {apart}}}`"
            )


def _lies_between(pair: frozenset[str], ours: set[str], theirs: set[str]) -> bool:
    """Tell whether one plane of a pair is among ours and the other among theirs."""
    return len(pair) == 2 and any(
        name in ours and next(iter(pair - {name})) in theirs for name in pair
    )


def _faces(plane: Place) -> Quantity | None:
    readings = plane.readings.get("faces", ())
    value = readings[0].value if readings else None
    return value if isinstance(value, Quantity) else None


def _by_direction(planes: list[Place]) -> list[list[Place]]:
    """Return the planes grouped by the direction they face, clockwise from north."""
    groups: dict[object, list[Place]] = {}
    for plane in planes:
        faces = _faces(plane)
        amount = faces.amount if faces else 0
        groups.setdefault(0 if compare(amount, 360) == 0 else amount, []).append(plane)
    return [groups[amount] for amount in sorted(groups)]  # type: ignore[type-var] # exact angles


def _joined_pairs(record: Record) -> set[frozenset[str]]:
    return {
        frozenset({a, b})
        for line in record.places[Element.LINE]
        if line.kind in _MEETING
        for a in line.planes or ()
        for b in line.planes or ()
        if a != b
    }


def _of_unknown_kind(record: Record, ours: set[str], theirs: set[str]) -> Place | None:
    """Return a line between two such planes whose kind the record doesn't say, or None."""
    for line in record.places[Element.LINE]:
        between = frozenset(line.planes or ())
        if line.kind is None and _lies_between(between, ours, theirs):
            return line
    return None
