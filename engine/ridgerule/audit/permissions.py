"""What a rulebook's changes do to its bases' rules, and which of them someone has to permit.

A change that makes an outcome better for some roof needs `permitted_by`; a rule that says
`may_be_loosened: false` allows none. A rulebook's own scope is no loosening: it says which roofs
the rulebook speaks of, and its bases still speak of the others.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct, structs

from ridgerule.audit.limits import AllOf
from ridgerule.audit.rule_compiler import Shared, compiled
from ridgerule.audit.strictness import (
    Part,
    Strictness,
    changed_parts,
    overlap,
    reach_of,
    strictness,
)
from ridgerule.audit.words import condition_words, limit_words
from ridgerule.enclosures import compare
from ridgerule.facts import How
from ridgerule.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.adapt import Adapted
    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check, Stations
    from ridgerule.audit.subjects import Evidence
    from ridgerule.facts import Vocabulary
    from ridgerule.rulebook import Change, Rule


class JudgedChange(Struct, frozen=True):
    """A change of a base's rule with what it does: against the base, and against the first form."""

    change: Change
    before: Check
    after: Check | None
    """None where the rule is withdrawn."""
    parts: tuple[Part, ...]
    strictness: Strictness
    against_root: Strictness
    """What all changes up to this one do to the rule as it was first written."""


def judged_changes(adapted: Adapted, vocabulary: Vocabulary) -> tuple[JudgedChange, ...]:
    """Return the changes that a rulebook itself makes, each with what it does."""
    compiler = _Compiler(vocabulary)
    found = []
    inherited = {rule.full_id: rule for base in adapted.bases for rule in base.rules}
    for rule in (*adapted.rules, *adapted.withdrawn):
        change = rule.changes[-1] if rule.changes else None
        base = inherited.get(rule.full_id)
        if change is None or base is None or change.book != adapted.book.name:
            continue
        judged = _judged(rule, change, (base, _root(adapted, rule)), compiler)
        if judged is not None:
            found.append(judged)
    return tuple(found)


def permission_problems(adapted: Adapted, vocabulary: Vocabulary) -> Iterator[Problem]:
    """Yield the changes that nobody permits, and new rules that undercut a base's."""
    for judged in judged_changes(adapted, vocabulary):
        yield from _unpermitted(judged)
    yield from _undercutting(adapted, vocabulary)


class _Compiler:
    """Compiles the forms that a rule has on its way, with what they share."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._shared = Shared.nothing()
        self._known: dict[int, Check | None] = {}

    def check(self, rule: Rule) -> Check | None:
        """Return the rule compiled, None where it can't be, which others tell."""
        found = compiled(rule, self._vocabulary, self._shared)
        return None if isinstance(found, tuple) else found

    def known(self, rule: Rule) -> Check | None:
        """Return a rule that is asked for again and again, compiled once; it has to be kept."""
        if id(rule) not in self._known:
            self._known[id(rule)] = self.check(rule)
        return self._known[id(rule)]


def _root(adapted: Adapted, rule: Rule) -> Rule | None:
    """Return a rule as the rulebook that first had it wrote it."""
    for layer in adapted.layers():
        for found in layer.rules:
            if found.full_id == rule.full_id and not found.changes:
                return found
    return None


def _judged(
    rule: Rule, change: Change, forms: tuple[Rule, Rule | None], compiler: _Compiler
) -> JudgedChange | None:
    base, root = forms
    # In this rulebook's scope, whatever the scopes of its bases: see above.
    before = compiler.check(structs.replace(base, scopes=rule.scopes))
    if before is None:
        return None
    if change.withdraws:
        loose = Strictness.LOOSER
        return JudgedChange(change, before, None, (Part("withdrawn", loose),), loose, loose)
    after = compiler.check(rule)
    first = before if root is None else compiler.check(structs.replace(root, scopes=rule.scopes))
    if after is None or first is None:
        return None
    parts = changed_parts(before, after)
    against_root = strictness(changed_parts(first, after))
    return JudgedChange(change, before, after, parts, strictness(parts), against_root)


def _unpermitted(judged: JudgedChange) -> Iterator[Problem]:
    change, rule = judged.change, judged.before.rule
    if not judged.strictness.may_loosen:
        return
    words = change_words(judged)
    field = rule.fields.get("may_be_loosened")
    if field is not None and field.data is False:
        told = f"no looser form of `{rule.full_id}`, which says `may_be_loosened: false`"
        yield Problem(change.location, told, words, "leave it as it is, or make it stricter")
    elif not change.permitted_by:
        makes = "makes" if judged.strictness is Strictness.LOOSER else "can make"
        told = f"`permitted_by` beside a change that {makes} `{rule.full_id}` looser"
        advice = "say which authority permits it, with its reference; or make the rule stricter"
        yield Problem(change.location, told, words, advice)


def change_words(judged: JudgedChange) -> str:
    """Return what a change does, part by part: "`class` looser: `major` before, `minor` now"."""
    if judged.after is None:
        return "a withdrawal"
    told = []
    for part in judged.parts:
        was, now = was_and_now(judged.before, judged.after, part.field)
        told.append(f"`{part.field}` {part.strictness}: `{was}` before, `{now}` now")
    return "; ".join(told)


def was_and_now(before: Check, after: Check, field: str) -> tuple[str, str]:
    """Return what a field that decides said before a change and says after it, in words."""
    match field:
        case "limit":
            said = [limit_words(check.limit) for check in (before, after)]
        case "class":
            said = [check.rule.severity.value for check in (before, after)]
        case "when":
            said = [_everywhere(check.when) for check in (before, after)]
        case "scope":
            said = _scopes(before.scope, after.scope)
        case "evidence":
            said = [_evidence_words(check.evidence) for check in (before, after)]
        case "decision rule":
            said = [check.decision.value for check in (before, after)]
        case "stations":
            said = [_stations_words(check.stations) for check in (before, after)]
        case _:
            raise ValueError(field)
    was, now = said
    differs = getattr(before, field, None) != getattr(after, field, None)
    return was, f"{now}, with other figures" if differs and was == now else now


def _everywhere(when: Limit | None) -> str:
    return "everywhere" if when is None else condition_words(when)


def _scopes(before: Limit | None, after: Limit | None) -> list[str]:
    """Return two scopes in words, without what both have from the rulebooks on their way."""
    ours, theirs = _parts(before), _parts(after)
    told = (
        [part for part in ours if part not in theirs],
        [part for part in theirs if part not in ours],
    )
    return [condition_words(AllOf(tuple(parts))) if parts else "any roof" for parts in told]


def _parts(condition: Limit | None) -> list[Limit]:
    """Return what a condition joins by and."""
    if isinstance(condition, AllOf):
        return [inner for part in condition.parts for inner in _parts(part)]
    return [] if condition is None else [condition]


def _evidence_words(evidence: Evidence) -> str:
    accepted = [how.value for how in How if evidence.how is None or how in evidence.how]
    known = "known in any way" if evidence.how is None else " or ".join(accepted)
    return f"{known}, with a photo" if evidence.photo else known


def _stations_words(stations: Stations | None) -> str:
    if stations is None:
        return "no number of stations"
    least = f"at least {stations.at_least}"
    return f"{least}, one per {stations.one_per.text}" if stations.one_per else least


def _undercutting(adapted: Adapted, vocabulary: Vocabulary) -> Iterator[Problem]:
    """Yield the new rules that ask less than a base's rule asks of the same fact."""
    compiler = _Compiler(vocabulary)
    own = [rule for rule in adapted.rules if rule.book == adapted.book.name]
    inherited = [rule for rule in adapted.rules if rule.book != adapted.book.name]
    for rule in own:
        alike = [base for base in inherited if _asks_the_same(rule, base)]
        check = compiler.check(rule) if alike else None
        for base in alike if check is not None else ():
            known = compiler.known(base)
            if check is None or known is None or not _may_undercut(check, known):
                continue
            found = overlap(known, check)
            if found is not None and found.first_governs:
                told = f"a limit no looser than `{base.full_id}`, {limit_words(known.limit)}"
                advice = f"amend or withdraw `{base.full_id}` instead"
                where = rule.fields["limit"].location
                yield Problem(where, told, f"`{rule.id}`, {limit_words(check.limit)}", advice)


def _may_undercut(check: Check, base: Check) -> bool:
    """Tell whether a limit may take in more than a base's: of two ranges that is plain to see."""
    ours, theirs = reach_of(check), reach_of(base)
    if ours is None or theirs is None:
        return True
    lower = ours[0] is None or (theirs[0] is not None and compare(ours[0], theirs[0]) != 1)
    return lower and (
        ours[1] is None or (theirs[1] is not None and compare(theirs[1], ours[1]) != 1)
    )


def _asks_the_same(rule: Rule, base: Rule) -> bool:
    return rule.fields["of"].data == base.fields["of"].data
