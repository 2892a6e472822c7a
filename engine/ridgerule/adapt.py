"""A rulebook and its bases become one list of rules, every field with where it came from."""

from __future__ import annotations

from collections import Counter
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.problems import InputRejected, Problem, suggestion

if TYPE_CHECKING:
    from collections.abc import Iterator

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

    def documents(self) -> Iterator[Rulebook]:
        """Yield the rulebook and all that it stands on, each once, nearest first."""
        seen: dict[str, Rulebook] = {self.book.name: self.book}
        for base in self.bases:
            for book in base.documents():
                seen.setdefault(book.name, book)
        yield from seen.values()


def adapt(book: Rulebook, shelf: Shelf) -> Adapted:
    """Return `book` with its bases laid under it.

    Raises `InputRejected` for a base that can't be found, a base that leads back to `book`, an
    amendment that hits nothing or hits twice, and an id that two bases share.
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
    return _lay(book, shelf, (book.name,), problems)


def _lay(book: Rulebook, shelf: Shelf, chain: tuple[str, ...], problems: list[Problem]) -> Adapted:
    bases, missing = _bases(book, shelf, chain, problems)
    problems.extend(missing)
    inherited = _once(rule for base in bases for rule in base.rules)
    is_whole = not missing and all(base.is_whole for base in bases)
    if is_whole:  # nobody can tell what the rules of a missing base would be
        problems.extend(_mistaken_changes(book, inherited))
    problems.extend(_taken_ids(book, inherited))
    changes = {target: change for change in book.changes for target in _targets(change, inherited)}
    changed = [_changed(rule, changes.get(rule.full_id), book) for rule in inherited]
    own = [replace(rule, scopes=_scopes(rule, book)) for rule in book.rules]
    gone = [rule for rule in changed if rule.changes and rule.changes[-1].withdraws]
    return Adapted(
        book=book,
        rules=(*(rule for rule in changed if rule not in gone), *own),
        withdrawn=_once((*(rule for base in bases for rule in base.withdrawn), *gone)),
        facts=(*book.facts, *(fact for base in bases for fact in base.facts)),
        derive=(*book.derive, *(entry for base in bases for entry in base.derive)),
        bases=tuple(bases),
        is_whole=is_whole,
    )


def _bases(
    book: Rulebook, shelf: Shelf, chain: tuple[str, ...], problems: list[Problem]
) -> tuple[list[Adapted], list[Problem]]:
    """Return the bases that can be laid, and why others can't be found."""
    bases: list[Adapted] = []
    missing: list[Problem] = []
    for reference, where in book.based_on:
        if reference in chain:
            way = " → ".join((*chain[chain.index(reference) :], reference))
            advice = "take one of these out of `based_on`"
            missing.append(Problem(where, "bases that lead to an end", f"a circle: {way}", advice))
            continue
        try:
            (base,) = shelf.editions(reference, asked_at=where)
        except InputRejected as rejected:
            missing.extend(rejected.problems)
        else:
            bases.append(_lay(base, shelf, (*chain, reference), problems))
    return bases, missing


def _once(rules: Iterator[Rule] | tuple[Rule, ...]) -> tuple[Rule, ...]:
    """Return the rules without those that two bases share unchanged."""
    kept: dict[tuple[str, str, tuple[str, ...]], Rule] = {}
    for rule in rules:
        kept.setdefault((rule.book, rule.id, tuple(c.book for c in rule.changes)), rule)
    return tuple(kept.values())


def _targets(change: Change, rules: tuple[Rule, ...]) -> list[str]:
    """Return the full ids of the rules that a change names: one, if it makes no mistake."""
    return [rule.full_id for rule in rules if change.rule in (rule.id, rule.full_id)]


def _mistaken_changes(book: Rulebook, inherited: tuple[Rule, ...]) -> Iterator[Problem]:
    full = Counter(rule.full_id for rule in inherited)
    hits: Counter[str] = Counter()
    for change in book.changes:
        named = [rule.full_id for rule in inherited if change.rule in (rule.id, rule.full_id)]
        found = f"`{change.rule}`"
        if not named:
            known = {rule.id for rule in inherited} | set(full)
            advice = suggestion(change.rule, known) or (
                "name its bases under `based_on`" if not known else "the bases have no such rule"
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


def _taken_ids(book: Rulebook, inherited: tuple[Rule, ...]) -> Iterator[Problem]:
    taken = {rule.id: rule for rule in inherited}
    for rule in book.rules:
        if base := taken.get(rule.id):
            advice = f"amend `{base.full_id}` under `amendments:`, or choose another id"
            found = f"`{rule.id}`, which a base has"
            yield Problem(rule.location, "an id that no base has", found, advice)


def _changed(rule: Rule, change: Change | None, book: Rulebook) -> Rule:
    scopes = _scopes(rule, book)
    if change is None:
        return replace(rule, scopes=scopes)
    return replace(
        rule,
        fields=MappingProxyType({**rule.fields, **change.fields}),
        changes=(*rule.changes, change),
        scopes=scopes,
    )


def _scopes(rule: Rule, book: Rulebook) -> tuple[Field, ...]:
    return (*rule.scopes, book.scope) if book.scope else rule.scopes
