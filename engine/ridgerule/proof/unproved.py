"""What a rule's cases leave unproved, and what its rulebook says of it."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.plain_data import items_in, mapping_in, words_in
from ridgerule.problems import InputRejected, Location, Problem, shown, suggestion

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.adapt import Adapted
    from ridgerule.audit.plan import Case, Edition
    from ridgerule.documents import Data


class Unproved(Struct, frozen=True):
    """A side that no case shows, or a change that none would notice."""

    words: str
    is_change: bool = False
    """Whether it is a change of the rule, and not a side of it."""
    is_error: bool = True
    """Whether the rule is unproved for want of it; else it is advice."""
    examples: tuple[Case, ...] = ()
    """Cases that would prove it, where they are known."""
    because: str = ""
    """Why no case has to, where its rulebook says so."""

    @property
    def part(self) -> str:
        """The part of the rule that it is about, in words."""
        return self.words.partition("; ")[0]

    @property
    def is_open(self) -> bool:
        """Whether it stands in the way of a proof."""
        return self.is_error and not self.because


class Explanation(Struct, frozen=True):
    """What a rulebook says of a side or a change that its cases leave unproved."""

    rule: str
    """The rule's full id."""
    what: str
    because: str
    location: Location


def explanations_of(edition: Edition) -> tuple[Explanation, ...]:
    """Return what a rulebook and those that it stands on explain, its own first.

    Raises `InputRejected` for explanations of rules that the rulebook does not have.
    """
    layers = tuple(edition.adapted.layers())
    own, problems = _explained(layers[0])
    if problems:
        raise InputRejected(problems)
    # What a base explains amiss is told where the base itself is proved.
    return (*own, *chain.from_iterable(_explained(layer)[0] for layer in layers[1:]))


def explained(
    found: Iterable[Unproved], explanations: Iterable[Explanation], rule: str
) -> tuple[Unproved, ...]:
    """Return what is unproved of a rule, each with the reason that is given for it."""
    reasons: dict[str, str] = {}
    for each in explanations:
        if each.rule == rule:
            reasons.setdefault(each.what, each.because)
    return tuple(replace(one, because=reasons.get(one.words, "")) for one in found)


def _explained(layer: Adapted) -> tuple[list[Explanation], list[Problem]]:
    document = layer.book.document
    names = dict(_names(layer))
    found: list[Explanation] = []
    problems = []
    for i, raw in enumerate(items_in(mapping_in(document.data).get("unproved"))):
        data = mapping_in(raw)
        rule, because = words_in(data.get("rule")), _one_line(data.get("because"))
        if rule not in names:
            where = document.location(("unproved", i, "rule"))
            told = f"`{shown(rule)}`"
            advice = suggestion(rule, names) or "take it out"
            problems.append(Problem(where, "a rule of this rulebook", told, advice))
            continue
        what = data.get("what")
        for n, words in enumerate(what if isinstance(what, list) else [what]):
            where = document.location(
                ("unproved", i, "what", n) if isinstance(what, list) else ("unproved", i, "what")
            )
            found.append(Explanation(names[rule], _one_line(words), because, where))
    return found, problems


def _names(layer: Adapted) -> Iterator[tuple[str, str]]:
    """Yield the names that the rules of a rulebook go by, each with the full id it means."""
    for rule in layer.rules:
        yield rule.id, rule.full_id
        yield rule.full_id, rule.full_id


def _one_line(data: Data) -> str:
    return " ".join(words_in(data).split())
