"""One rule asked at its places: the line or plane decides first, then each station.

"Not applicable" is said once, at the highest place that decides it.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from typing import TYPE_CHECKING, cast

from msgspec import Struct

from ridgerule.audit.completeness import complete_key, none_stated
from ridgerule.audit.findings import Finding, Outcome
from ridgerule.audit.judge import Setting, holds, judge_subjects, picked_row
from ridgerule.audit.limits import Limit, Table, nodes
from ridgerule.audit.places import unlisted
from ridgerule.audit.subjects import Subjects, subjects, value_text
from ridgerule.audit.truth import Judgement, Missing, Used
from ridgerule.audit.words import limit_words
from ridgerule.enclosures import divide, high
from ridgerule.facts import Element, FactRef, Host, LineKind
from ridgerule.quantities import Dimension, Quantity
from ridgerule.rulebook import DecisionRule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.plan import Check
    from ridgerule.facts import Fact
    from ridgerule.record import Place, Record


class Asking(Struct, frozen=True):
    """One rule asked of one record, for all the rulebooks in which it is the same."""

    check: Check
    record: Record
    books: tuple[str, ...] = ()
    limit: str = ""
    """The limit in words, as it stands in the rule."""
    limit_varies: bool = False
    """Does the limit name other facts or a table, so that it reads differently at each place."""


def asking_of(check: Check, record: Record, *, books: tuple[str, ...] = ()) -> Asking:
    """Return the question that a check puts to a record."""
    varies = any(isinstance(node, (FactRef, Table)) for node in nodes(check.limit))
    return Asking(check, record, books, limit_words(check.limit), varies)


def everywhere(asking: Asking) -> Iterator[Finding]:
    """Yield the rule's findings at every place it is asked at."""
    check, record = asking.check, asking.record
    if check.at is Element.ROOF:
        yield at_place(asking, record.roof)
    elif check.at is Element.STATION:
        yield from _at_hosts(asking)
    else:
        yield from _at_section(asking, check.at)


def _at_section(asking: Asking, element: Element) -> Iterator[Finding]:
    record = asking.record
    places = record.places[element]
    for place in places:
        yield at_place(asking, place)
    yield from where_none(asking, hosts=places)


def _at_hosts(asking: Asking) -> Iterator[Finding]:
    check, record = asking.check, asking.record
    lines = record.places[Element.LINE] if check.host is not Host.PLANE else ()
    planes = record.places[Element.PLANE] if check.host is not Host.LINE else ()
    for host in (*lines, *planes):
        yield from at_stations(asking, host)
    yield from where_none(asking, hosts=(*lines, *planes))


def where_none(asking: Asking, *, hosts: tuple[Place, ...]) -> Iterator[Finding]:
    """Yield what is to be said of the kinds of place that the record shows none of."""
    check, record = asking.check, asking.record
    kinds: tuple[Element | LineKind, ...] = tuple(k for k in LineKind if k in check.kinds)
    if check.at is Element.STATION and check.host is not Host.LINE:
        kinds = (*kinds, Element.PLANE)
    if not kinds and check.at in (Element.LINE, Element.STATION):
        if not hosts:  # each of them has said that it does not apply
            reason = "its conditions leave room for no kind of line"
            yield plain(asking, record.roof, Outcome.NOT_APPLICABLE, reason)
        return
    kinds = kinds or (check.at,)
    present: set[Element | LineKind | None] = {host.element for host in hosts}
    present |= {host.kind for host in hosts if host.element is Element.LINE}
    # A line of unknown kind is judged where it stands; it may be what is missing here.
    judged = {*present, *(LineKind if None in present else ())}
    absent = tuple(kind for kind in kinds if kind not in judged)
    unsaid = [kind for kind in absent if unlisted(record, kind)]
    roof = record.roof
    if unsaid:
        nouns = " or ".join(kind.value for kind in unsaid)
        keys = ", ".join(f"{complete_key(kind)}: none" for kind in unsaid)
        reason = f"no {nouns} is recorded; list it, or say `complete: {{{keys}}}`"
        yield plain(asking, roof, Outcome.NOT_VERIFIED, reason)
    elif absent and len(absent) == len(kinds):
        reason = none_stated(absent)
        yield plain(asking, roof, Outcome.NOT_APPLICABLE, reason)


def at_stations(asking: Asking, host: Place) -> Iterator[Finding]:
    """Yield a rule's findings at the stations of one line or plane, or at that itself."""
    check, record = asking.check, asking.record
    if check.host_when is not None:
        decided = _remembered(Setting(record, host), check.host_when)
        if decided.truth is False:
            yield plain(asking, host, Outcome.NOT_APPLICABLE, _unmet(decided), decided)
            return
    needs = check.of.fact.needs
    made_for = [s for s in host.stations if s.only is None or needs <= s.only]
    if not made_for:
        lack = Missing(host.label, check.of.fact, "no station recorded", host.path)
        reason = f"no station on {host.label} has {_readings(check.of.fact)}"
        yield plain(asking, host, Outcome.NOT_VERIFIED, reason, missing=(lack,))
        return
    found = [at_place(asking, station) for station in made_for]
    yield from found
    if shortage := _shortage(asking, host, found):
        yield shortage


def _readings(fact: Fact) -> str:
    """Return a fact of a station as it is recorded: what it is computed from, where it is."""
    names = ", ".join(f"`{name}`" for name in sorted(fact.needs))
    computed = fact.derivation is not None
    return f"{names or 'a spot'} for `{fact.name}`" if computed else names


def _shortage(asking: Asking, host: Place, found: list[Finding]) -> Finding | None:
    """Return the finding that too few stations were read, None where enough were."""
    check = asking.check
    demand = check.stations
    asked = [finding for finding in found if finding.outcome is not Outcome.NOT_APPLICABLE]
    if demand is None or not asked:
        return None
    read = {f.place.spot for f in asked if f.place.spot and f.measured}
    needed, lack = stations_needed(check, host)
    if len(read) >= needed and lack is None:
        return None
    per = f", one per {demand.one_per.text}" if demand.one_per else ""
    reason = f"{len(read)} of {needed} stations read on {host.label}"
    rule = f"at least {demand.at_least}{per}"
    if lack is not None:
        reason = f"how many stations {host.label} needs is not known: {lack.reason}"
    missing = (lack or Missing(host.label, check.of.fact, "too few stations", host.path),)
    return plain(asking, host, Outcome.NOT_VERIFIED, f"{reason} ({rule})", missing=missing)


def stations_needed(check: Check, host: Place) -> tuple[int, Missing | None]:
    """Return how many stations a rule demands of a line or plane, or what is missing to tell."""
    demand = check.stations
    needed, lack = demand.at_least if demand else 0, None
    if demand is not None and demand.one_per is not None:
        size, lack = _size(host, demand.one_per)
        needed = max(needed, _pieces(size, demand.one_per)) if size else needed
    return needed, lack


def _size(host: Place, one_per: Quantity) -> tuple[Quantity | None, Missing | None]:
    """Return the length or area that stations are demanded for, or why it is not known."""
    name = "length" if one_per.dimension is Dimension.LENGTH else "area"
    reading = host.readings.get(name)
    if reading and isinstance(reading[0].value, Quantity):
        return reading[0].value, None
    why = (reading[0].unknown if reading else "") or "not recorded"
    return None, Missing(host.label, None, f"its {name} is {why}", host.path)


def _pieces(size: Quantity, one_per: Quantity) -> int:
    most = high(divide(size.amount, one_per.amount))
    return ceil(most if most is not None else Fraction(0))


def _remembered(setting: Setting, condition: Limit) -> Judgement:
    """Return whether a condition holds; many rules ask the same one at the same place."""
    memo, key = setting.record.computed, (id(condition), setting.place.path)
    if key not in memo:
        memo[key] = holds(setting, condition)
    return cast("Judgement", memo[key])


def at_place(asking: Asking, place: Place) -> Finding:
    """Return the finding of one rule at one place."""
    check, record = asking.check, asking.record
    setting = Setting(record, place)
    applies = Judgement(truth=True)
    if check.when is not None:
        applies = _remembered(setting, check.when)
        if applies.truth is False:
            return plain(asking, place, Outcome.NOT_APPLICABLE, _unmet(applies), applies)
        if applies.truth is None:
            reason = f"whether it applies is not known: {lacks_words(applies)}"
            return plain(asking, place, Outcome.NOT_VERIFIED, reason, applies)
    found = subjects(record, place, check.of, evidence=check.evidence)
    if not found.items and found.stated_whole:
        reason = f"the record states that there is no {check.of.fact.element} here"
        return plain(asking, place, Outcome.NOT_APPLICABLE, reason, applies)
    return _judged(asking, Setting(record, place, check.evidence), found, applies)


def _judged(asking: Asking, setting: Setting, found: Subjects, applies: Judgement) -> Finding:
    check = asking.check
    judged = judge_subjects(setting, found, check.limit)
    outcome = {True: Outcome.PASS, False: Outcome.FAIL, None: Outcome.NOT_VERIFIED}[judged.truth]
    # A computed value that is unknown rests on readings, and was not itself measured.
    name = check.of.fact.full_name
    used = (use for item in found.items for use in item.used if use.fact.full_name == name)
    measured = tuple(dict.fromkeys(used))
    single = found.items[0].value if len(found.items) == 1 else None
    reduced = single if isinstance(single, Quantity) and not single.text else None
    reason, missing = "", judged.missing
    if judged.truth is not None and check.decision is DecisionRule.GUARDED:
        reason = _too_close(check, setting, judged, measured)
    if reason:
        outcome = Outcome.NOT_VERIFIED
        missing = (Missing(setting.place.label, None, reason, setting.place.path),)
    return Finding(
        check=check,
        rule=check.rule,
        books=asking.books,
        place=setting.place,
        outcome=outcome,
        reason=reason or (lacks_words(judged) if judged.truth is None else judged.note),
        measured=measured,
        value=reduced,
        limit=_limit_here(setting, check.limit) if asking.limit_varies else asking.limit,
        margin=judged.margin,
        missing=missing if outcome is Outcome.NOT_VERIFIED else (),
        used=tuple(dict.fromkeys((*judged.used, *applies.used))),
        remark=_remark(asking.check, setting, found) if outcome is Outcome.PASS else "",
    )


def _too_close(
    check: Check, setting: Setting, judged: Judgement, measured: tuple[Used, ...]
) -> str:
    """Return why a reading is too close to its limit to call, an empty string where it is not."""
    from ridgerule.audit.deciding import decision, too_close  # noqa: PLC0415 - few rulebooks ask

    found = decision(setting.record, check.of, check.limit, judged, measured=measured)
    return too_close(found, judged, measured) if found and found.is_conditional else ""


def _remark(check: Check, setting: Setting, found: Subjects) -> str:
    """Return what to say where the limit is met and the aim is not."""
    if check.aim is None or judge_subjects(setting, found, check.aim).truth is not False:
        return ""
    return f"aim: {limit_words(check.aim)}"


def _limit_here(setting: Setting, limit: Limit) -> str:
    """Return the limit in words as it stands at this place: the table's row, the other's value."""
    if isinstance(limit, Table):
        row, _ = picked_row(setting, limit)
        return _limit_here(setting, row.limit) if row else limit_words(limit)
    words = limit_words(limit)
    named = [node for node in nodes(limit) if isinstance(node, FactRef)]
    said = [
        f"{ref} is {value_text(item.value)}"
        for ref in dict.fromkeys(named)
        for item in subjects(setting.record, setting.place, ref).items
        if item.value is not None and not item.missing
    ]
    return f"{words} ({'; '.join(said)})" if said else words


def plain(  # noqa: PLR0913 - what a finding is made of
    asking: Asking,
    place: Place,
    outcome: Outcome,
    reason: str,
    judged: Judgement | None = None,
    *,
    missing: tuple[Missing, ...] = (),
) -> Finding:
    """Return a finding that no reading was judged for."""
    used: tuple[Used, ...] = judged.used if judged else ()
    lacks = judged.missing if judged else missing
    return Finding(
        check=asking.check,
        rule=asking.check.rule,
        place=place,
        outcome=outcome,
        reason=reason,
        limit=asking.limit,
        books=asking.books,
        missing=lacks if outcome is Outcome.NOT_VERIFIED else (),
        used=used,
    )


def _unmet(judged: Judgement) -> str:
    """Return why a condition is definitely not met."""
    said = ", ".join(f"{use.fact.full_name} is {use.text}" for use in judged.used)
    return f"does not apply: {said}" if said else "does not apply here"


def lacks_words(judged: Judgement) -> str:
    """Return what is missing, each fact once with its place and reason."""
    return "; ".join(dict.fromkeys(missing_words(lack) for lack in judged.missing))


def missing_words(lack: Missing) -> str:
    """Return one missing thing in words."""
    if lack.fact is None:
        return lack.reason
    side = f", side {lack.side}" if lack.side else ""
    needed = f" (needed for {lack.computes})" if lack.computes else ""
    return f"{lack.fact.full_name} at {lack.place}{side}: {lack.reason}{needed}"
