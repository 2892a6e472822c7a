"""What changed between two rulebooks, or two editions of one: rule by rule, and how strict it is.

A rule is the same rule where its full id is; else where its plain id is, and no other has it; else
where it asks the same of the same fact under another id, which is a renaming. The order that rules
stand in says nothing.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.audit.strictness import Part, Strictness, can_apply, compared, strictness
from ridgerule.proof.differences_coverages import CoverageDifference, coverage_differences
from ridgerule.proof.differences_facts import FactDifference, Kind, fact_differences
from ridgerule.proof.differences_forms import book_scope, facts_behind, form, scopes_of

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterator

    from ridgerule.audit.plan import Check, Edition
    from ridgerule.documents import Data
    from ridgerule.rulebook import Change, Rule, Rulebook


class RuleDifference(Struct, frozen=True):
    """A rule as the old rulebook has it and as the new one does; None where one has it not."""

    before: Check | None
    after: Check | None
    parts: tuple[Part, ...] = ()
    """What differs, each with what that does; of a rule that both have."""
    facts: tuple[str, ...] = ()
    """The facts that it rests on and that are no longer what they were."""
    withdrawal: Change | None = None
    """What withdrew it: in the new rulebook where it is gone, in the old where it is added."""
    has_other_cases: bool = False
    never_applies: bool = False
    """Of a rule added or gone: no roof has a place for it, as where scopes exclude each other."""

    @property
    def check(self) -> Check:
        """The rule as it is now, or was when it was last there."""
        check = self.after or self.before
        if check is None:
            raise TypeError("a difference of no rule")
        return check

    @property
    def kind(self) -> Kind:
        """What became of the rule."""
        if self.before is None:
            return Kind.ADDED
        if self.after is None:
            return Kind.GONE
        if self.before.rule.id != self.after.rule.id:
            return Kind.RENAMED
        return Kind.CHANGED if self.parts else Kind.SAME

    @property
    def strictness(self) -> Strictness:
        """What it does to outcomes, where every fact that is asked is known."""
        if self.never_applies:
            return Strictness.WORDING
        match self.kind:
            case Kind.ADDED:
                return Strictness.STRICTER
            case Kind.GONE:
                return Strictness.LOOSER
            case _:
                return strictness(self.parts)


class Differences(Struct, frozen=True):
    """All that differs between two rulebooks."""

    old: Edition
    new: Edition
    book: tuple[str, ...]
    """What differs of the rulebooks themselves, by the names of their fields."""
    rules: tuple[RuleDifference, ...]
    """Every rule of either by id, those that are the same among them."""
    facts: tuple[FactDifference, ...]
    coverages: tuple[CoverageDifference, ...]

    @property
    def told(self) -> tuple[RuleDifference, ...]:
        """The rules that are not the same; other cases alone make no other rule."""
        return tuple(found for found in self.rules if found.kind is not Kind.SAME)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is to be told."""
        return not (self.book or self.told or self.facts or self.coverages)

    @property
    def strictness(self) -> Strictness:
        """What all the changes of rules come to together."""
        return strictness(Part(found.check.rule.id, found.strictness) for found in self.told)


def differences(old: Edition, new: Edition) -> Differences:
    """Return what changed from the old edition to the new one."""
    facts = fact_differences(old, new)
    changed = frozenset(found.fact.full_name for found in facts if found.may_decide)
    rules = []
    for before, after in _pairs(old, new):
        if before is not None and after is not None:
            rules.append(_rule_difference(before, after, changed))
        elif before is not None:
            rules.append(_alone(RuleDifference(before, None), other=new))
        else:
            rules.append(_alone(RuleDifference(None, after), other=old))
    return Differences(
        old=old,
        new=new,
        book=tuple(_book_fields(old, new)),
        rules=tuple(sorted(rules, key=_order)),
        facts=facts,
        coverages=coverage_differences(old, new),
    )


def _order(found: RuleDifference) -> tuple[str, ...]:
    rule = found.check.rule
    # A rule that two bases changed is in a rulebook in two forms.
    forms = (str(scope.data) for scope in rule.scopes)
    return rule.full_id, found.kind, " ".join(change.book for change in rule.changes), *forms


def _pairs(old: Edition, new: Edition) -> Iterator[tuple[Check | None, Check | None]]:
    """Yield every rule of either edition beside what it is in the other, None where it is not."""
    before, after = list(old.checks), list(new.checks)
    for key in _KEYS:
        ours, theirs = [key(check) for check in before], [key(check) for check in after]
        counts, others = Counter(ours), Counter(theirs)
        met = {name for name, count in counts.items() if count == others[name] == 1}
        named = dict(zip(theirs, after, strict=True))
        yield from ((c, named[name]) for c, name in zip(before, ours, strict=True) if name in met)
        before = [c for c, name in zip(before, ours, strict=True) if name not in met]
        after = [c for c, name in zip(after, theirs, strict=True) if name not in met]
    yield from ((check, None) for check in before)
    yield from ((None, check) for check in after)


def _way(check: Check) -> Hashable:
    """Return the rulebooks that changed a rule, whatever their editions."""
    return tuple(change.book.partition("@")[0] for change in check.rule.changes)


def _demand(check: Check) -> Hashable:
    return str(check.of), check.at, form(check.when), form(check.limit)


_KEYS: tuple[Callable[[Check], Hashable], ...] = (
    # Two bases can have one rule in two forms, told apart by who changed it or by its scopes.
    lambda check: (check.rule.full_id, _way(check), form(check.scope)),
    lambda check: (check.rule.full_id, _way(check)),
    lambda check: check.rule.full_id,
    lambda check: check.rule.id,
    lambda check: (_demand(check), check.rule.text("title")),
    _demand,
)
"""What makes a rule of one edition a rule of the other, the surest first."""


def _alone(found: RuleDifference, *, other: Edition) -> RuleDifference:
    """Return a rule that one edition has not, with what withdrew it from there."""
    full_id = found.check.rule.full_id
    gone = [rule for rule in other.adapted.withdrawn if rule.full_id == full_id]
    withdrawal = gone[0].changes[-1] if gone else None
    never = not can_apply(found.check)
    return replace(found, withdrawal=withdrawal, never_applies=never)


def _rule_difference(before: Check, after: Check, changed: frozenset[str]) -> RuleDifference:
    facts: tuple[str, ...] = ()
    if changed:
        behind = facts_behind(before).keys() | facts_behind(after).keys()
        facts = tuple(sorted(changed & behind))
    decisive = (Part("facts", Strictness.DIFFERENT),) if facts else ()
    return RuleDifference(
        before=before,
        after=after,
        parts=(
            *decisive,
            *_deciding(before, after, comparable=not facts),
            *_wording(before, after),
        ),
        facts=facts,
        has_other_cases=_data(before.rule, "cases") != _data(after.rule, "cases"),
    )


def _deciding(before: Check, after: Check, *, comparable: bool) -> Iterator[Part]:
    """Yield what differs of that which decides.

    Not comparable are rules that rest on facts which are no longer what they were.
    """
    yield from (
        Part(name, Strictness.DIFFERENT)
        for name, was, now in (
            ("of", str(before.of), str(after.of)),
            ("at", before.at, after.at),
            ("on", before.host, after.host),
        )
        if was != now
    )
    is_of_one_fact = str(before.of) == str(after.of)
    for name, was, now, forms in _fields(before, after):
        if form(was) == form(now):
            if form(was, written=True) != form(now, written=True):
                yield Part(name, Strictness.WORDING)
        elif comparable and (is_of_one_fact or name != "limit"):
            yield Part(name, compared(*forms))
        else:
            yield Part(name, Strictness.DIFFERENT)


def _fields(
    before: Check, after: Check
) -> Iterator[tuple[str, object, object, tuple[Check, Check]]]:
    """Yield the fields that decide, as they were and are, each with two rules that it sets apart.

    The two differ in that field alone, so that what it does by itself can be asked.
    """
    (was_books, was_own), (now_books, now_own) = scopes_of(before), scopes_of(after)
    by_books = replace(after, scope=was_books), replace(after, scope=now_books)
    yield "book scope", was_books, now_books, by_books
    yield "scope", was_own, now_own, (replace(after, scope=was_own), replace(after, scope=now_own))
    yield "when", before.when, after.when, (replace(after, when=before.when), after)
    yield "limit", before.limit, after.limit, (replace(after, limit=before.limit), after)
    classes = replace(after, rule=before.rule), after
    yield "class", before.rule.severity, after.rule.severity, classes
    evidence = replace(after, evidence=before.evidence), after
    yield "evidence", before.evidence, after.evidence, evidence
    stations = replace(after, stations=before.stations), after
    yield "stations", before.stations, after.stations, stations


def _wording(before: Check, after: Check) -> Iterator[Part]:
    """Yield what differs of that which decides nothing."""
    was, now = before.rule, after.rule
    differs = {
        "aim": form(before.aim, written=True) != form(after.aim, written=True),
        **{name: was.text(name) != now.text(name) for name in ("title", "why", "remedy")},
        "may_be_loosened": _data(was, "may_be_loosened") != _data(now, "may_be_loosened"),
        "source": was.source != now.source,
        "amended": list(map(amended_by, was.changes)) != list(map(amended_by, now.changes)),
    }
    yield from (Part(name, Strictness.WORDING) for name, other in differs.items() if other)


def amended_by(change: Change) -> Hashable:
    """Return what makes an amendment the same in two editions of the rulebook that makes it."""
    return change.book.partition("@")[0], change.reason, change.source, change.permitted_by


def _data(rule: Rule, name: str) -> Data:
    field = rule.fields.get(name)
    return field.data if field is not None else None


_BOOK_FIELDS: tuple[tuple[str, Callable[[Rulebook], Hashable]], ...] = (
    ("title", lambda book: book.title),
    ("authority", lambda book: book.authority),
    ("in_force", lambda book: book.in_force),
    ("in_force_by", lambda book: book.in_force_by),
    ("based_on", lambda book: frozenset(reference for reference, _ in book.based_on)),
    ("note", lambda book: book.note),
)


def _book_fields(old: Edition, new: Edition) -> Iterator[str]:
    yield from (name for name, said in _BOOK_FIELDS if said(old.book) != said(new.book))
    if old.checks and new.checks and form(book_scope(old)) != form(book_scope(new)):
        yield "scope"
