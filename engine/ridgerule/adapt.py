"""A rulebook and its bases become one list of rules, every field with where it came from."""

from __future__ import annotations

from collections import Counter
from itertools import islice
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.plain_data import MOST_PROBLEMS
from ridgerule.problems import InputRejected, Problem, shown, suggestion
from ridgerule.rulebook import DecisionRule
from ridgerule.rulebook_bounds import MOST_RULES
from ridgerule.shelf import MOST_FOUND

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.facts import Fact
    from ridgerule.rulebook import Change, Field, Rule, Rulebook
    from ridgerule.shelf import Shelf


class Adapted(Struct, frozen=True):
    """A rulebook with its bases laid under it."""

    book: Rulebook
    rules: tuple[Rule, ...]
    withdrawn: tuple[Rule, ...]
    """Rules that a change took away; the last change says why and on whose authority."""
    facts: tuple[Fact, ...]
    derive: tuple[tuple[str, Field], ...]
    bases: tuple[Adapted, ...]
    is_whole: bool = True
    """Whether every base was found, theirs included."""

    def layers(self) -> Iterator[Adapted]:
        """Yield this and all that it stands on, each rulebook once, nearest first.

        Bases can share bases: to go down each way would take twice as long a level.
        """
        seen: set[str] = set()
        waiting = [self]
        while waiting:
            adapted = waiting.pop()
            if adapted.book.name not in seen:
                seen.add(adapted.book.name)
                yield adapted
                waiting.extend(reversed(adapted.bases))

    def documents(self) -> Iterator[Rulebook]:
        """Yield the rulebook and all that it stands on, each once, nearest first."""
        return (layer.book for layer in self.layers())


class _Layers(Struct):
    """Lays one rulebook and all that it stands on; each once, on however many ways it is met."""

    shelf: Shelf
    problems: list[Problem]
    laid: dict[str, Adapted] = {}


def adapt(book: Rulebook, shelf: Shelf) -> Adapted:
    """Return `book` with its bases laid under it.

    Raises `InputRejected` for a base that can't be found, a base that leads back to `book`, an
    amendment that hits nothing or hits twice, an id that a base has already, and more rules than
    one rulebook may have.
    """
    problems: list[Problem] = []
    adapted = lay(book, shelf, problems)
    if problems:
        raise InputRejected(problems)
    return adapted


def lay(book: Rulebook, shelf: Shelf, problems: list[Problem]) -> Adapted:
    """Return `book` with its bases laid under it as far as they can be; add to `problems`.

    What comes back is good for finding more problems, and for nothing else once there are any.
    """
    return _lay(book, (book.name,), _Layers(shelf, problems))


def _lay(book: Rulebook, chain: tuple[str, ...], layers: _Layers) -> Adapted:
    if book.name in layers.laid:
        return layers.laid[book.name]
    bases, missing = _bases(book, chain, layers)
    problems = layers.problems
    problems.extend(missing)
    inherited = _once(rule for base in bases for rule in base.rules)
    is_whole = not missing and all(base.is_whole for base in bases)
    targets = _by_names(inherited)
    if is_whole:  # nobody can tell what the rules of a missing base would be
        problems.extend(islice(_mistaken_changes(book, targets), MOST_PROBLEMS))
    problems.extend(_taken_ids(book, inherited))
    changes = {name: c for c in book.changes for name in targets.get(c.rule, ())}
    changed = [_changed(rule, changes.get(rule.full_id), book) for rule in inherited]
    own = [_within(rule, book) for rule in book.rules]
    gone = [rule for rule in changed if _is_withdrawn(rule)]
    adapted = Adapted(
        book=book,
        rules=(*(rule for rule in changed if not _is_withdrawn(rule)), *own),
        withdrawn=_each_once(
            (rule.full_id, rule.changes[-1].book, rule)
            for rule in (*(rule for base in bases for rule in base.withdrawn), *gone)
        ),
        facts=_each_once(
            (fact.origin, fact.full_name, fact)
            for fact in (*book.facts, *(fact for base in bases for fact in base.facts))
        ),
        derive=_each_once(
            (entry[1].book, entry[0], entry)
            for entry in (*book.derive, *(entry for base in bases for entry in base.derive))
        ),
        bases=tuple(bases),
        is_whole=is_whole,
    )
    problems.extend(_too_many_rules(adapted))
    layers.laid[book.name] = adapted
    return adapted


def _bases(
    book: Rulebook, chain: tuple[str, ...], layers: _Layers
) -> tuple[list[Adapted], list[Problem]]:
    """Return the bases that can be laid, and why others can't be found."""
    bases: list[Adapted] = []
    missing: list[Problem] = []
    for reference, where in book.based_on:
        if len(chain) > MOST_FOUND:  # files named on the command line are not looked up
            told = f"at most {MOST_FOUND} rulebooks, each based on the next"
            missing.append(Problem(where, told, "more than that", "base it on a later one"))
            break
        if reference in chain:
            way = " → ".join((*chain[chain.index(reference) :], reference))
            advice = "take one of these out of `based_on`"
            missing.append(Problem(where, "bases that lead to an end", f"a circle: {way}", advice))
            continue
        try:
            (base,) = layers.shelf.editions(reference, asked_at=where)
        except InputRejected as rejected:
            missing.extend(rejected.problems)
        else:
            bases.append(_lay(base, (*chain, reference), layers))
    return bases, missing


def _once(rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """Return the rules without those that two bases share in one form.

    Bases written for different roofs give a rule two forms, even where neither changes it: what
    one of them is not written for, the other may be.
    """
    kept: dict[tuple[object, ...], Rule] = {}
    for rule in rules:
        changes = tuple(change.book for change in rule.changes)
        scopes = frozenset(repr(scope.data) for scope in rule.scopes)
        kept.setdefault((rule.book, rule.id, changes, scopes, rule.guarded), rule)
    return tuple(kept.values())


_Entry = TypeVar("_Entry")


def _each_once(entries: Iterable[tuple[str, str, _Entry]]) -> tuple[_Entry, ...]:
    """Return what is declared, each once: by the rulebook that declares it, and the name."""
    kept: dict[tuple[str, str], _Entry] = {}
    for book, name, entry in entries:
        kept.setdefault((book, name), entry)
    return tuple(kept.values())


def _is_withdrawn(rule: Rule) -> bool:
    return bool(rule.changes) and rule.changes[-1].withdraws


def _by_names(rules: tuple[Rule, ...]) -> dict[str, list[str]]:
    """Return the full ids of the rules that each name, plain or qualified, can mean."""
    named: dict[str, list[str]] = {}
    for rule in rules:
        named.setdefault(rule.id, []).append(rule.full_id)
        named.setdefault(rule.full_id, []).append(rule.full_id)
    return named


def _mistaken_changes(book: Rulebook, targets: dict[str, list[str]]) -> Iterator[Problem]:
    """Yield the changes that hit nothing, hit two rules, or hit one a second time."""
    hits: Counter[str] = Counter()
    for change in book.changes:
        named = targets.get(change.rule, [])
        found = f"`{shown(change.rule)}`"
        if not named:
            advice = suggestion(change.rule, targets) or (
                "name its bases under `based_on`" if not targets else "the bases have no such rule"
            )
            yield Problem(change.location, "a rule of a base", found, advice)
        elif len(named) > 1:
            listed = " or ".join(f"`{name}`" for name in dict.fromkeys(named))
            if len(set(named)) == 1:
                listed = "they have it in two forms: stand on one of them"
            yield Problem(change.location, "one rule", f"{found}, which is in two bases", listed)
        else:
            hits[named[0]] += 1
            if hits[named[0]] > 1:
                advice = "make one change of them"
                yield Problem(change.location, "one change a rule", f"a second for {found}", advice)


def _too_many_rules(adapted: Adapted) -> Iterator[Problem]:
    """Yield that a rulebook and its bases have too many rules together, told once in a chain."""
    count = len(adapted.rules)
    if count <= MOST_RULES or any(len(base.rules) > MOST_RULES for base in adapted.bases):
        return
    where = adapted.book.document.location(("based_on",))
    told = f"at most {MOST_RULES:,} rules in a rulebook, those of its bases counted"
    advice = "base it on fewer: a record can name several rulebooks beside one another"
    yield Problem(where, told, f"{count:,}", advice)


def _taken_ids(book: Rulebook, inherited: tuple[Rule, ...]) -> Iterator[Problem]:
    taken = {rule.id: rule for rule in inherited}
    for rule in book.rules:
        if base := taken.get(rule.id):
            advice = f"amend `{base.full_id}` under `amendments:`, or choose another id"
            found = f"`{rule.id}`, which a base has"
            yield Problem(rule.location, "an id that no base has", found, advice)


def _changed(rule: Rule, change: Change | None, book: Rulebook) -> Rule:
    if change is None:
        return _within(rule, book)
    return replace(
        _within(rule, book),
        fields=MappingProxyType({**rule.fields, **change.fields}),
        changes=(*rule.changes, change),
    )


def _within(rule: Rule, book: Rulebook) -> Rule:
    """Return a rule as a rulebook has it: for its roofs, and decided as it decides."""
    return replace(
        rule,
        scopes=(*rule.scopes, book.scope) if book.scope else rule.scopes,
        guarded=rule.guarded or book.decision_rule is DecisionRule.GUARDED,
    )
