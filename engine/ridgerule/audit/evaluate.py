"""Hold a record against a plan: pure, total, the same findings every time.

A rule is asked of the roof first (its rulebook's edition, its scope), then of each place.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import structs

from ridgerule.audit.asking import Asking, asking_of, everywhere, lacks_words, plain
from ridgerule.audit.completeness import open_points
from ridgerule.audit.editions import InUse, editions_in_use
from ridgerule.audit.findings import Audit, BookAudit, Finding, Outcome, count, outcome_of
from ridgerule.audit.judge import Setting, holds
from ridgerule.audit.limits import AllOf, Holds, Limit
from ridgerule.audit.scopes import Scopes
from ridgerule.audit.together import conflicts, limits_together
from ridgerule.audit.truth import Missing
from ridgerule.audit.words import limit_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.audit.plan import Check, Plan
    from ridgerule.record import Record

_Same = tuple[object, ...]
"""What makes a rule one question in several rulebooks: the rule, its edition's doubt, its scope."""


def evaluate(plan: Plan, record: Record) -> Audit:
    """Return every rule's outcome at every place of the record that it applies to."""
    record = structs.replace(record, computed={})  # what another plan computed is not this one's
    in_use = editions_in_use(plan, record)
    scopes = Scopes(record)
    findings: list[Finding] = []
    for check, gate, books in questions(in_use, scopes):
        findings.extend(_asked(asking_of(check, record, books=books), gate, scopes))
    findings.extend(_withdrawn(in_use, scopes))
    findings.extend(_doubted(in_use, scopes))
    together = limits_together(findings, record)
    findings.extend(conflicts(together))
    findings.extend(open_points(in_use, scopes))
    kept = tuple(findings)
    return Audit(
        plan=plan,
        record=record,
        findings=kept,
        outcome=outcome_of(kept),
        counts=MappingProxyType(count(kept)),
        books=tuple(_book_audit(used, kept) for used in in_use),
        together=together,
    )


def questions(
    in_use: Iterable[InUse], scopes: Scopes
) -> Iterator[tuple[Check, str, tuple[str, ...]]]:
    """Yield the rules to ask, why their edition is not sure, and the rulebooks they count in.

    A base beside its own child is asked once.
    """
    asked: dict[_Same, tuple[Check, str, list[str]]] = {}
    for used in in_use:
        gate = _gate(used, scopes)
        for check in used.edition.checks:
            key = (check.identity, gate, scopes.of(check).truth)
            asked.setdefault(key, (check, gate, []))[2].append(used.edition.book.name)
    for check, gate, books in asked.values():
        yield check, gate, tuple(dict.fromkeys(books))


def _gate(used: InUse, scopes: Scopes) -> str:
    """Return why the edition is not sure, where one of those it may be is written for the roof."""
    checks = [check for edition in used.possible for check in edition.checks]
    if checks and all(scopes.of(check).truth is False for check in checks):
        return ""
    return used.doubt


def _asked(asking: Asking, gate: str, scopes: Scopes) -> Iterable[Finding]:
    check, roof = asking.check, asking.record.roof
    if gate:
        lack = Missing(roof.label, None, gate, roof.path)
        return [plain(asking, roof, Outcome.NOT_VERIFIED, gate, missing=(lack,))]
    scope = scopes.of(check)
    if scope.truth is False:
        reason = f"out of scope: written where {_scope_words(check, asking.record)}"
        return [plain(asking, roof, Outcome.NOT_APPLICABLE, reason, scope)]
    if scope.truth is None:
        return [plain(asking, roof, Outcome.NOT_VERIFIED, lacks_words(scope), scope)]
    return everywhere(asking)


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


def _withdrawn(in_use: Iterable[InUse], scopes: Scopes) -> Iterator[Finding]:
    for used in in_use:
        if _gate(used, scopes):
            continue  # another edition may not withdraw it
        for rule in used.edition.adapted.withdrawn:
            change = rule.changes[-1]
            yield Finding(
                check=None,
                rule=rule,
                place=scopes.record.roof,
                outcome=Outcome.NOT_APPLICABLE,
                reason=f"withdrawn by {change.book}: {change.reason}",
                books=(used.edition.book.name,),
            )


def _doubted(in_use: Iterable[InUse], scopes: Scopes) -> Iterator[Finding]:
    """Yield an open point for a rulebook in doubt whose newest edition has no rule to say it."""
    for used in in_use:
        if not used.edition.checks and (gate := _gate(used, scopes)):
            yield Finding(
                check=None,
                rule=None,
                place=scopes.record.roof,
                outcome=Outcome.NOT_VERIFIED,
                reason=gate,
                missing=(Missing(scopes.record.roof.label, None, gate, scopes.record.roof.path),),
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
