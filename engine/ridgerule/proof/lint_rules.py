"""Rules that can say nothing: never asked of any roof, met by no reading, or broken by none."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from msgspec import Struct, structs

from ridgerule.audit.limits import AllOf
from ridgerule.audit.strictness import can_apply, can_be, limits_overlap
from ridgerule.audit.words import condition_words, limit_words
from ridgerule.facts import FactRef
from ridgerule.proof.lint_remarks import error, warning

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check, Edition
    from ridgerule.problems import Location
    from ridgerule.proof.lint_remarks import Remark
    from ridgerule.rulebook import Field, Rule

DECIDING = ("limit", "when", "scope")
"""The fields that say where a rule applies and what meets it, the first to be named first."""


def rule_remarks(edition: Edition) -> Iterator[Remark]:
    """Yield what is wrong with where the file's rules apply and with what meets them."""
    yield from _idle_bases(edition)
    for check in edition.checks:
        if not written_here(check.rule, edition, *DECIDING):
            continue
        if not can_apply(check):
            yield _never_applies(check, edition)
        elif not can_be(check, truth=True):
            yield _met_by_nothing(check, edition)
        elif not can_be(check, truth=False):
            yield _broken_by_nothing(check, edition)
        yield from _idle_aim(check, edition)


def written_here(rule: Rule, edition: Edition, *names: str) -> list[Field]:
    """Return those fields of a rule that the rulebook itself wrote, in the order asked for."""
    found = (rule.fields.get(name) for name in names)
    return [field for field in found if field is not None and field.book == edition.book.name]


def place_in(rule: Rule, edition: Edition, *names: str) -> Location:
    """Return where to tell of a rule: the first of some fields that the rulebook wrote."""
    fields = written_here(rule, edition, *names)
    if fields:
        return fields[0].location
    change = rule.changes[-1] if rule.changes else None
    return rule.location if change is None else change.location


class _Part(Struct, frozen=True):
    """One of the conditions that a rule joins by and, and the field it stands in."""

    condition: Limit
    field: Field
    own: bool
    """Whether it is of the rule's own `when` or `scope`, not of a rulebook's scope."""


def _never_applies(check: Check, edition: Edition) -> Remark:
    excluding = _excluding(check)
    own = [part.field for part in excluding if part.field.book == edition.book.name]
    where = own[-1].location if own else place_in(check.rule, edition, *DECIDING)
    words = [f"`{condition_words(part.condition)}`{_origin(part, edition)}" for part in excluding]
    told = "a rule that applies to some roof"
    if len(words) == 1:
        advice = "check its figures and words"
        return error(where, told, f"{words[0]}, which holds nowhere", advice)
    found = f"{' and '.join(words)}, which exclude each other"
    advice = "both have to hold: mend one, or join them by `any_of`"
    return error(where, told, found, advice)


def _origin(part: _Part, edition: Edition) -> str:
    if part.own:
        return ""
    own = part.field.book == edition.book.name
    return f" (the scope of {'this rulebook' if own else part.field.book})"


def _excluding(check: Check) -> list[_Part]:
    """Return conditions of a rule that can't hold together, none of them without need."""
    kept = list(_parts(check))
    for part in tuple(kept):
        rest = [other for other in kept if other is not part]
        if not can_apply(_with_parts(check, rest)):
            kept = rest
    return kept


def _with_parts(check: Check, parts: list[_Part]) -> Check:
    return structs.replace(check, scope=None, when=AllOf(tuple(p.condition for p in parts)))


def _parts(check: Check) -> Iterator[_Part]:
    rule = check.rule
    own = rule.fields.get("scope")
    fields = [field for field in (*rule.scopes, own) if field is not None]
    scopes = check.scope.parts if isinstance(check.scope, AllOf) else ()
    for field, scope in zip(fields, scopes, strict=False):
        for condition in joined_by_and(scope):
            yield _Part(condition, field, own=field is own)
    when = rule.fields.get("when")
    if when is not None:
        for condition in joined_by_and(check.when):
            yield _Part(condition, when, own=True)


def joined_by_and(condition: Limit | None) -> list[Limit]:
    """Return what a condition joins by and, down to what is joined otherwise."""
    if isinstance(condition, AllOf):
        return [inner for part in condition.parts for inner in joined_by_and(part)]
    return [] if condition is None else [condition]


def _idle_bases(edition: Edition) -> Iterator[Remark]:
    """Yield the bases of which no rule can apply in the rulebook's own scope."""
    scope = edition.book.scope
    if scope is None:
        return
    checks = {check.rule.full_id: check for check in edition.checks}
    for base, (name, where) in zip(edition.adapted.bases, edition.book.based_on, strict=False):
        kept = [checks[rule.full_id] for rule in base.rules if rule.full_id in checks]
        if kept and not any(map(can_apply, kept)):
            told = f"a base with rules for the roofs in `scope` at {scope.location}"
            rules = "rule" if len(kept) == 1 else f"{len(kept)} rules"
            found = f"`{name}`, whose {rules} can apply to none of them"
            yield warning(where, told, found, "take it out of `based_on`, or mend the scope")


def _met_by_nothing(check: Check, edition: Edition) -> Remark:
    where = place_in(check.rule, edition, *DECIDING)
    found = f"`{limit_words(check.limit)}`, which no `{check.of}` meets{_where(check, met=True)}"
    advice = "no roof can pass: check the figures and the words before them"
    return error(where, "a limit that some reading can meet", found, advice)


def _broken_by_nothing(check: Check, edition: Edition) -> Remark:
    where = place_in(check.rule, edition, *DECIDING)
    words = limit_words(check.limit)
    found = f"`{words}`, which every `{check.of}` meets{_where(check, met=False)}"
    advice = "no roof can fail: check the figures, or take the rule out"
    return warning(where, "a limit that some reading can break", found, advice)


def _where(check: Check, *, met: bool) -> str:
    """Return why no reading comes out so: the condition, where it is that, or the fact's range."""
    alone = structs.replace(check, when=None, scope=None)
    if can_be(alone, truth=met):
        parts = [*joined_by_and(check.scope), *joined_by_and(check.when)]
        return f" where {condition_words(AllOf(tuple(parts)))}"
    fact = check.of.fact
    boundless = replace(fact, least=None, greatest=None)
    if not can_be(structs.replace(alone, of=FactRef(boundless, check.of.over)), truth=met):
        return ""
    ends = [bound.text for bound in (fact.least, fact.greatest) if bound is not None]
    return f": a reading is {' to '.join(ends)}{' or more' if len(ends) == 1 else ''}"


def _idle_aim(check: Check, edition: Edition) -> Iterator[Remark]:
    """Yield an aim that breaks the limit."""
    fields = written_here(check.rule, edition, "aim", "limit")
    if check.aim is None or not fields:
        return
    lie = limits_overlap(check.of, check.limit, check.aim)
    if lie is not None and lie.is_conflict:
        told = f"an aim that meets the limit, `{limit_words(check.limit)}`"
        advice = "whoever hits the aim would break the rule: check both figures"
        yield warning(fields[0].location, told, f"`{limit_words(check.aim)}`", advice)
