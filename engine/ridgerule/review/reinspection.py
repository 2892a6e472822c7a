"""A second visit held against the first: what was put right, what is open, what is new.

Each record is evaluated against its own plan, so a rulebook may have changed meanwhile; nothing
counts as put right unless the second visit found it so on the roof.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.audit.subjects import value_text
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.review.reinspection_places import same_places
from ridgerule.review.reinspection_readings import inspection_day
from ridgerule.review.reinspection_rules import book_pairs
from ridgerule.review.reinspection_turns import Turns

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.findings import Audit
    from ridgerule.facts import Value
    from ridgerule.quantities import Quantity
    from ridgerule.record import Record
    from ridgerule.review.reinspection_changes import Change
    from ridgerule.review.reinspection_places import SamePlaces
    from ridgerule.review.reinspection_rules import BookPair


class Reinspection(Struct, frozen=True):
    """Two visits to one roof, and what became of every finding of either."""

    first: Audit
    second: Audit
    within: Quantity
    """How far apart two stations may lie and still be the same."""
    changes: tuple[Change, ...]
    places: SamePlaces
    books: tuple[BookPair, ...]
    warnings: tuple[str, ...]
    """What is not sure of the two visits themselves."""

    @property
    def outcome(self) -> Outcome:
        """Fail if anything fails now, not verified if anything is open, else pass."""
        if any(change.is_failing for change in self.changes):
            return Outcome.FAIL
        if any(change.is_open for change in self.changes):
            return Outcome.NOT_VERIFIED
        return self.second.outcome

    @property
    def rulebooks_differ(self) -> bool:
        """Were the two visits held against different rules."""
        return any(pair.differs for pair in self.books)


def reinspect(first: Audit, second: Audit, *, within: Quantity) -> Reinspection:
    """Return what became of the first visit's findings at the second.

    Raises `InputRejected` for records of different roofs, for one record given twice, and for a
    second visit that was before the first.
    """
    problems = tuple(_refusals(first.record, second.record))
    if problems:
        raise InputRejected(problems)
    places = same_places(first.record, second.record, within)
    return Reinspection(
        first=first,
        second=second,
        within=within,
        changes=tuple(Turns(first, second, places, within).changes()),
        places=places,
        books=book_pairs(first, second),
        warnings=tuple(_warnings(first.record, second.record)),
    )


def _refusals(first: Record, second: Record) -> Iterator[Problem]:
    """Yield why the second record can't be a later visit to the first's roof."""
    file = first.document.name
    if first.document.digest == second.document.digest:
        told = f"the same content as {shown(file)}"
        advice = "give the first visit's record first, then the second's"
        where = Location(second.document.name)
        yield Problem(where, "the record of a second visit", told, advice)
    if first.roof.id != second.roof.id:
        yield Problem(
            second.location(("roof", "id")),
            f"the roof `{shown(first.roof.id)}`, as in {shown(file)}",
            f"`{shown(second.roof.id)}`",
            "only two visits to one roof can be compared",
        )
    then, now = inspection_day(first), inspection_day(second)
    if then is not None and now is not None and now < then:
        yield Problem(
            second.location(("inspection", "date")),
            f"a day not before the first visit's, {then} in {shown(file)}",
            f"`{now}`",
            "give the earlier record first",
        )


def _warnings(first: Record, second: Record) -> Iterator[str]:
    then, now = inspection_day(first), inspection_day(second)
    undated = [name for name, day in (("first", then), ("second", now)) if day is None]
    if undated:
        visits = " and the ".join(undated)
        yield (
            f"The date of the {visits} visit is not recorded (`inspection: {{date: …}}`): that "
            "the second came after the first is taken from the order they were given in."
        )
    elif then == now:
        yield (
            f"Both visits are dated {now}: that the second came after the first is taken from the "
            "order they were given in."
        )
    said = [
        f"{name.replace('_', ' ')} was {value_text(was)}, is {value_text(is_now)}"
        for name, was, is_now in _said_otherwise(first, second)
    ]
    if said:
        yield f"The records don't say the same of the roof itself: {'; '.join(said)}."


def _said_otherwise(first: Record, second: Record) -> Iterator[tuple[str, Value, Value]]:
    """Yield the facts of the roof that are not of the visit and are no longer what they were."""
    for name, readings in first.roof.readings.items():
        theirs = second.roof.readings.get(name, ())
        if name in _OF_THE_VISIT or not readings or not theirs:
            continue
        was, is_now = readings[0].value, theirs[0].value
        if was is not None and is_now is not None and was != is_now:
            yield name, was, is_now


_OF_THE_VISIT = frozenset({"inspection_date", "air_temperature"})
