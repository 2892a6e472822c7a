"""Hold a record against a plan: pure, total, the same findings every time.

A rule is asked of the roof first (its scope), then of each line or plane, then of each station,
so that "not applicable" is said once, at the highest place that decides it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.completeness import complete_key, none_stated, open_points
from ridgerule.audit.editions import InUse, editions_in_use
from ridgerule.audit.findings import Audit, BookAudit, Finding, Outcome, count, outcome_of
from ridgerule.audit.judge import Setting, holds, judge_subjects, picked_row
from ridgerule.audit.limits import AllOf, Holds, Limit, Table
from ridgerule.audit.places import unlisted
from ridgerule.audit.subjects import Subjects, subjects, value_text
from ridgerule.audit.truth import Judgement, Missing, Used
from ridgerule.audit.words import limit_words
from ridgerule.enclosures import divide, high
from ridgerule.facts import Element, FactRef, Host, LineKind
from ridgerule.quantities import Dimension, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.audit.plan import Check, Plan
    from ridgerule.record import Place, Record


@dataclass(frozen=True, slots=True)
class _Asking:
    """One rule to ask, for all the rulebooks in which it is the same and stands the same."""

    check: Check
    books: tuple[str, ...]
    gate: str
    """Why its rulebook's edition is not sure, or an empty string."""
    scope: Judgement


def evaluate(plan: Plan, record: Record) -> Audit:
    """Return every rule's outcome at every place of the record that it applies to."""
    in_use = editions_in_use(plan, record)
    findings: list[Finding] = []
    for asking in _askings(in_use, record):
        found = _asked(asking, record)
        findings.extend(replace(finding, books=asking.books) for finding in found)
    findings.extend(_withdrawn(in_use, record))
    findings.extend(_doubted(in_use, record))
    findings.extend(open_points(in_use, record))
    kept = tuple(findings)
    return Audit(
        plan=plan,
        record=record,
        findings=kept,
        outcome=outcome_of(kept),
        counts=MappingProxyType(count(kept)),
        books=tuple(_book_audit(used, kept) for used in in_use),
    )


def _askings(in_use: Iterable[InUse], record: Record) -> Iterator[_Asking]:
    """Yield the rules to ask; a base beside its own child is asked once."""
    merged: dict[tuple[object, ...], _Asking] = {}
    books: dict[tuple[object, ...], list[str]] = defaultdict(list)
    for used in in_use:
        for check in used.edition.checks:
            scope, gate = _scope(check, record), _gate(used, record)
            key: tuple[object, ...] = (check.identity, gate, scope.truth)
            merged.setdefault(key, _Asking(check, (), gate, scope))
            books[key].append(used.edition.book.name)
    for key, asking in merged.items():
        yield replace(asking, books=tuple(books[key]))


def _scope(check: Check, record: Record) -> Judgement:
    if check.scope is None:
        return Judgement(truth=True)
    return holds(Setting(record, record.roof), check.scope)


def _gate(used: InUse, record: Record) -> str:
    """Return why the edition is not sure, where one of those it may be is written for the roof."""
    checks = [check for edition in used.possible for check in edition.checks]
    if checks and all(_scope(check, record).truth is False for check in checks):
        return ""
    return used.doubt


def _asked(asking: _Asking, record: Record) -> list[Finding]:
    check, roof = asking.check, record.roof
    if asking.gate:
        lack = Missing(roof.label, None, asking.gate, roof.path)
        return [_plain(check, roof, Outcome.NOT_VERIFIED, asking.gate, missing=(lack,))]
    if asking.scope.truth is False:
        reason = f"out of scope: written where {_scope_words(check, record)}"
        return [_plain(check, roof, Outcome.NOT_APPLICABLE, reason, asking.scope)]
    if asking.scope.truth is None:
        return [_plain(check, roof, Outcome.NOT_VERIFIED, _lacks(asking.scope), asking.scope)]
    return list(_everywhere(check, record))


def _scope_words(check: Check, record: Record) -> str:
    """Return the scopes that the roof lies outside of, and what the record says of it."""
    setting = Setting(record, record.roof)
    outside = [part for part in _held(check.scope) if holds(setting, part).truth is False]
    words = [f"the {part.fact.fact.name} is {limit_words(part.limit)}" for part in outside]
    said = [use.text for part in outside for use in holds(setting, part).used]
    return f"{' and '.join(dict.fromkeys(words))}; here it is {', '.join(dict.fromkeys(said))}"


def _held(scope: Limit | None) -> Iterator[Holds]:
    """Yield the conditions that a scope joins by and."""
    if isinstance(scope, AllOf):
        for part in scope.parts:
            yield from _held(part)
    elif isinstance(scope, Holds):
        yield scope


def _everywhere(check: Check, record: Record) -> Iterator[Finding]:
    if check.at is Element.ROOF:
        yield at_place(check, record, record.roof)
    elif check.at is Element.STATION:
        yield from _at_hosts(check, record)
    else:
        yield from _at_section(check, record, check.at)


def _at_section(check: Check, record: Record, element: Element) -> Iterator[Finding]:
    places = record.places[element]
    for place in places:
        yield at_place(check, record, place)
    yield from _where_none(check, record, hosts=places)


def _at_hosts(check: Check, record: Record) -> Iterator[Finding]:
    lines = record.places[Element.LINE] if check.host is not Host.PLANE else ()
    planes = record.places[Element.PLANE] if check.host is not Host.LINE else ()
    for host in (*lines, *planes):
        yield from _at_stations(check, record, host)
    yield from _where_none(check, record, hosts=(*lines, *planes))


def _where_none(check: Check, record: Record, *, hosts: tuple[Place, ...]) -> Iterator[Finding]:
    """Yield what is to be said of the kinds of place that the record shows none of."""
    kinds: tuple[Element | LineKind, ...] = tuple(k for k in LineKind if k in check.kinds)
    if check.at is Element.STATION and check.host is not Host.LINE:
        kinds = (*kinds, Element.PLANE)
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
        yield _plain(check, roof, Outcome.NOT_VERIFIED, reason)
    elif absent and len(absent) == len(kinds):
        reason = none_stated(absent)
        yield _plain(check, roof, Outcome.NOT_APPLICABLE, reason)


def _at_stations(check: Check, record: Record, host: Place) -> Iterator[Finding]:
    if check.host_when is not None:
        decided = holds(Setting(record, host), check.host_when)
        if decided.truth is False:
            yield _plain(check, host, Outcome.NOT_APPLICABLE, _unmet(decided), decided)
            return
    made_for = [s for s in host.stations if s.only is None or check.of.fact.name in s.only]
    if not made_for:
        lack = Missing(host.label, check.of.fact, "no station recorded", host.path)
        reason = f"no station on {host.label} has `{check.of.fact.name}`"
        yield _plain(check, host, Outcome.NOT_VERIFIED, reason, missing=(lack,))
        return
    found = [at_place(check, record, station) for station in made_for]
    yield from found
    if shortage := _shortage(check, host, found):
        yield shortage


def _shortage(check: Check, host: Place, found: list[Finding]) -> Finding | None:
    """Return the finding that too few stations were read, None where enough were."""
    demand = check.stations
    asked = [finding for finding in found if finding.outcome is not Outcome.NOT_APPLICABLE]
    if demand is None or not asked:
        return None
    read = {f.place.spot for f in asked if f.place.spot and f.measured}
    needed, lack = demand.at_least, None
    if demand.one_per is not None:
        size, lack = _size(host, demand.one_per)
        needed = max(needed, _pieces(size, demand.one_per)) if size else needed
    if len(read) >= needed and lack is None:
        return None
    per = f", one per {demand.one_per.text}" if demand.one_per else ""
    reason = f"{len(read)} of {needed} stations read on {host.label}"
    rule = f"at least {demand.at_least}{per}"
    if lack is not None:
        reason = f"how many stations {host.label} needs is not known: {lack.reason}"
    missing = (lack or Missing(host.label, check.of.fact, "too few stations", host.path),)
    return _plain(check, host, Outcome.NOT_VERIFIED, f"{reason} ({rule})", missing=missing)


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


def at_place(check: Check, record: Record, place: Place) -> Finding:
    """Return the finding of one rule at one place."""
    setting = Setting(record, place)
    applies = Judgement(truth=True)
    if check.when is not None:
        applies = holds(setting, check.when)
        if applies.truth is False:
            return _plain(check, place, Outcome.NOT_APPLICABLE, _unmet(applies), applies)
        if applies.truth is None:
            reason = f"whether it applies is not known: {_lacks(applies)}"
            return _plain(check, place, Outcome.NOT_VERIFIED, reason, applies)
    found = subjects(record, place, check.of, evidence=check.evidence)
    if not found.items and found.stated_whole:
        reason = f"the record states that there is no {check.of.fact.element} here"
        return _plain(check, place, Outcome.NOT_APPLICABLE, reason, applies)
    return _judged(check, Setting(record, place, check.evidence), found, applies)


def _judged(check: Check, setting: Setting, found: Subjects, applies: Judgement) -> Finding:
    judged = judge_subjects(setting, found, check.limit)
    outcome = {True: Outcome.PASS, False: Outcome.FAIL, None: Outcome.NOT_VERIFIED}[judged.truth]
    measured = tuple(dict.fromkeys(use for item in found.items for use in item.used))
    single = found.items[0].value if len(found.items) == 1 else None
    reduced = single if isinstance(single, Quantity) and not single.text else None
    return Finding(
        check=check,
        rule=check.rule,
        place=setting.place,
        outcome=outcome,
        reason=_lacks(judged) if judged.truth is None else judged.note,
        measured=measured,
        value=reduced,
        limit=_limit_here(setting, check.limit),
        margin=judged.margin,
        missing=judged.missing if judged.truth is None else (),
        used=tuple(dict.fromkeys((*judged.used, *applies.used))),
        remark=_remark(check, setting, found) if judged.truth is True else "",
    )


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
    named = [node for node in _operands(limit) if isinstance(node, FactRef)]
    said = [
        f"{ref} is {value_text(item.value)}"
        for ref in dict.fromkeys(named)
        for item in subjects(setting.record, setting.place, ref).items
        if item.value is not None and not item.missing
    ]
    return f"{words} ({'; '.join(said)})" if said else words


def _operands(node: object) -> Iterator[object]:
    if isinstance(node, FactRef):
        yield node
    elif isinstance(node, tuple):
        for item in node:
            yield from _operands(item)
    elif hasattr(node, "__match_args__") and not isinstance(node, Quantity):
        for name in node.__match_args__:
            yield from _operands(getattr(node, name))


def _plain(  # noqa: PLR0913 - what a finding is made of
    check: Check,
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
        check=check,
        rule=check.rule,
        place=place,
        outcome=outcome,
        reason=reason,
        limit=limit_words(check.limit),
        missing=lacks if outcome is Outcome.NOT_VERIFIED else (),
        used=used,
    )


def _unmet(judged: Judgement) -> str:
    """Return why a condition is definitely not met."""
    said = ", ".join(f"{use.fact.full_name} is {use.text}" for use in judged.used)
    return f"does not apply: {said}" if said else "does not apply here"


def _lacks(judged: Judgement) -> str:
    """Return what is missing, each fact once with its place and reason."""
    return "; ".join(dict.fromkeys(missing_words(lack) for lack in judged.missing))


def missing_words(lack: Missing) -> str:
    """Return one missing thing in words."""
    if lack.fact is None:
        return lack.reason
    side = f", side {lack.side}" if lack.side else ""
    return f"{lack.fact.full_name} at {lack.place}{side}: {lack.reason}"


def _withdrawn(in_use: Iterable[InUse], record: Record) -> Iterator[Finding]:
    for used in in_use:
        if _gate(used, record):
            continue  # another edition may not withdraw it
        for rule in used.edition.adapted.withdrawn:
            change = rule.changes[-1]
            yield Finding(
                check=None,
                rule=rule,
                place=record.roof,
                outcome=Outcome.NOT_APPLICABLE,
                reason=f"withdrawn by {change.book}: {change.reason}",
                books=(used.edition.book.name,),
            )


def _doubted(in_use: Iterable[InUse], record: Record) -> Iterator[Finding]:
    """Yield an open point for a rulebook in doubt whose newest edition has no rule to say it."""
    for used in in_use:
        if not used.edition.checks and (gate := _gate(used, record)):
            yield Finding(
                check=None,
                rule=None,
                place=record.roof,
                outcome=Outcome.NOT_VERIFIED,
                reason=gate,
                missing=(Missing(record.roof.label, None, gate, record.roof.path),),
                books=(used.edition.book.name,),
                about="the edition in force",
            )


def _book_audit(used: InUse, findings: tuple[Finding, ...]) -> BookAudit:
    name = used.edition.book.name
    own = [finding for finding in findings if name in finding.books]
    counts = count(own)
    outcome = outcome_of(own)
    if own and counts[Outcome.NOT_APPLICABLE] == len(own):
        outcome = Outcome.NOT_APPLICABLE
    return BookAudit(used.edition, outcome, MappingProxyType(counts), used.note or used.doubt)
