"""From a fact as a rule names it to the values it has at a place, or what is missing."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.places import seen
from ridgerule.audit.truth import Missing, Used
from ridgerule.enclosures import Amount, Span, add, compare, divide, subtract
from ridgerule.facts import Element, Fact, FactRef, How, Over, Value
from ridgerule.problems import shown
from ridgerule.quantities import Dimension, Quantity, Units, write
from ridgerule.record import NOT_RECORDED, Reading

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.record import Place, Record
    from ridgerule.trade.working import Step


class Evidence(Struct, frozen=True):
    """What a rule accepts as showing a fact: how it must be known, and whether with a photo."""

    how: frozenset[How] | None = None
    photo: bool = False


class Subject(Struct, frozen=True):
    """One value to be judged, or None and what is missing.

    With both, the value is a `Span` that the missing readings leave open.
    """

    value: Value | None
    missing: tuple[Missing, ...] = ()
    used: tuple[Used, ...] = ()
    steps: tuple[Step, ...] = ()
    """The working, where the value was computed."""


ANYTHING = Evidence()
NO_PHOTO = "a photo is missing"
"""Why a reading that needs a photo is not shown, where the record names none."""


class Subjects(Struct, frozen=True):
    """The values a fact has at a place: one, or one for each of many."""

    items: tuple[Subject, ...]
    over: Over | None = None
    stated_whole: bool = False
    """The record says that there are no others, so that none means none."""


def subjects(
    record: Record, place: Place, ref: FactRef, *, evidence: Evidence = ANYTHING
) -> Subjects:
    """Return what the record says of `ref` at `place`.

    `each` and `any` give one subject a reading; every other word gives one in all.
    """
    found = seen(record, place, ref.fact.element, ref.fact.host)
    holders = [
        holder for holder in found.places if holder.only is None or ref.fact.needs <= holder.only
    ]
    items = [
        item for holder in holders for item in _at(record, holder, ref.fact, evidence=evidence)
    ]
    if found.open:
        items.append(Subject(None, (Missing(place.label, None, found.open, place.path),)))
    if not items and not found.stated:
        items.append(_nothing(place, ref.fact))
    match ref.over:
        case None:
            return Subjects((items[0] if items else _nothing(place, ref.fact),))
        case Over.EACH | Over.ANY:
            return Subjects(tuple(items), ref.over, found.stated)
        case _:
            return Subjects((_reduced(items, ref, place),))


def _nothing(place: Place, fact: Fact) -> Subject:
    where = f"no {fact.element} recorded" if fact.element is not place.element else NOT_RECORDED
    return Subject(None, (Missing(place.label, fact, where, place.path),))


def _at(record: Record, holder: Place, fact: Fact, *, evidence: Evidence) -> list[Subject]:
    """Return the subjects of a fact at the place that holds it, one a side where per side."""
    if fact.derivation is not None:
        computed: Subject = fact.derivation(record, holder, evidence)
        return [computed]
    readings = holder.readings.get(fact.name, ())
    if not fact.per_side:
        reading = readings[0] if readings else Reading(None, holder.path, NOT_RECORDED)
        return [_subject(record, holder, fact, reading, evidence)]
    by_side = {reading.side: reading for reading in readings if reading.side}
    unsaid = readings[0] if readings and not by_side else Reading(None, holder.path, NOT_RECORDED)
    sides = seen(record, holder, Element.PLANE)
    items = [
        _subject(record, holder, fact, by_side.get(plane.id, unsaid), evidence, side=plane.id)
        for plane in sides.places
    ]
    if sides.open:
        items.append(Subject(None, (Missing(holder.label, fact, sides.open, holder.path),)))
    return items


def _subject(  # noqa: PLR0913 - what a reading is judged by
    record: Record,
    holder: Place,
    fact: Fact,
    reading: Reading,
    evidence: Evidence,
    *,
    side: str = "",
) -> Subject:
    if reading.value is None:
        lack = Missing(holder.label, fact, reading.unknown or NOT_RECORDED, reading.path, side)
        return Subject(None, (lack,))
    if weak := _too_weak(record, holder, reading, evidence):
        return Subject(None, (Missing(holder.label, fact, weak, reading.path, side),))
    label = f"{holder.label}, side {side}" if side else holder.label
    used = Used(label, fact, value_text(reading.value), reading.how, reading.path, reading.value)
    return Subject(reading.value, (), (used,))


def _too_weak(record: Record, holder: Place, reading: Reading, evidence: Evidence) -> str:
    """Return why a reading does not show what it says, or an empty string."""
    if evidence.how is not None and reading.how not in evidence.how:
        accepted = [how for how in How if how in evidence.how]
        known = f"known only as {reading.how}" if reading.how else "how it is known is not stated"
        return f"{known}; {_what_would_show(accepted)}"
    return _lacks_photo(record, (*reading.photos, *holder.photos)) if evidence.photo else ""


def _lacks_photo(record: Record, photos: tuple[str, ...]) -> str:
    """Return why none of a reading's photos shows it, or an empty string."""
    if not photos:
        return NO_PHOTO
    faults = record.photo_faults
    if any(name not in faults for name in photos):
        return ""
    return "; ".join(f"photo {shown(name)} {faults[name]}" for name in dict.fromkeys(photos))


def _what_would_show(accepted: Sequence[How]) -> str:
    hidden = How.CAP_LIFTED in accepted and How.SEEN not in accepted
    if hidden and How.PHOTO_DURING_WORK in accepted:
        return "hidden; lift a cap or show a photo taken during the work"
    return f"needs {' or '.join(accepted)}"


def value_text(value: Value) -> str:
    """Return a value as its author wrote it; a computed one in inches and degrees."""
    match value:
        case Quantity():
            return value.text or write(value.amount, value.dimension, units=Units.INCH)
        case bool():
            return "yes" if value else "no"
        case dt.date():
            return value.isoformat()
        case str():
            return value


def reduced_fact(ref: FactRef) -> Dimension | None:
    """Return the dimension of what `ref` gives, which a word can change; None for no quantity."""
    dimension = ref.fact.dimension
    if ref.over is Over.COUNT:
        return Dimension.COUNT
    if not isinstance(dimension, Dimension):
        return None
    if ref.over is Over.SPREAD and dimension is Dimension.TEMPERATURE:
        return Dimension.TEMPERATURE_DIFFERENCE
    return dimension


def _reduced(items: Sequence[Subject], ref: FactRef, place: Place) -> Subject:
    """Return one subject for many; readings that are missing leave it open on one side."""
    missing = tuple(dict.fromkeys(lack for item in items for lack in item.missing))
    used = tuple(dict.fromkeys(use for item in items for use in item.used))
    amounts = [item.value.amount for item in items if isinstance(item.value, Quantity)]
    dimension = reduced_fact(ref)
    if ref.over is Over.SPREAD and len(amounts) == 1 and not missing:
        # One reading is no further from itself: it says nothing of the same all along.
        missing = (Missing(place.label, ref.fact, "a second reading is needed", place.path),)
        return Subject(None, missing, used)
    if ref.over is Over.COUNT:
        known = sum(1 for item in items if item.value is not None)
        amount: Amount | None = Span(known, None) if missing else known
        amounts = amounts or [0]
    else:
        amount = _reduce(amounts, ref.over, whole=not missing) if amounts else None
    if amount is None or dimension is None:
        return Subject(None, missing or _nothing(place, ref.fact).missing, used)
    return Subject(Quantity(dimension, amount, ""), missing, used)


def _reduce(amounts: Sequence[Amount], over: Over | None, *, whole: bool) -> Amount | None:
    """Return least, greatest, mean or spread; a `Span` if readings are missing, or None."""
    least, greatest = amounts[0], amounts[0]
    for amount in amounts[1:]:
        below, above = compare(amount, least), compare(amount, greatest)
        if below is None or above is None:
            return None
        least = amount if below < 0 else least
        greatest = amount if above > 0 else greatest
    match over:
        case Over.LEAST:
            return least if whole else _no_more_than(least)
        case Over.GREATEST:
            return greatest if whole else _no_less_than(greatest)
        case Over.SPREAD:
            spread = subtract(greatest, least)
            return spread if whole else _no_less_than(spread)
        case Over.MEAN if whole:
            total: Amount = 0
            for amount in amounts:
                total = add(total, amount)
            return divide(total, Fraction(len(amounts)))
        case _:
            return None


def _no_more_than(amount: Amount) -> Span:
    return Span(None, amount.high if isinstance(amount, Span) else amount)


def _no_less_than(amount: Amount) -> Span:
    return Span(amount.low if isinstance(amount, Span) else amount, None)
