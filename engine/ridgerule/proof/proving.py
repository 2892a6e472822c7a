"""A rulebook proved: its rules' own cases, each figure at its edges, what no case shows.

Proved are the rules that the rulebook wrote or changed. Of those that it inherits as they are
the cases are run; their own rulebook proves them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.problems import InputRejected
from ridgerule.proof.bench import Bench
from ridgerule.proof.choices import Choices
from ridgerule.proof.coverage import missing_sides
from ridgerule.proof.edges import edges_of
from ridgerule.proof.mutations import mutations_of, unnoticed
from ridgerule.proof.parts import parts_of
from ridgerule.proof.small_roofs import SmallRoofs
from ridgerule.proof.unproved import explained, explanations_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.audit.plan import Check, Edition
    from ridgerule.proof.bench import Laid
    from ridgerule.proof.bounds import Row
    from ridgerule.proof.unproved import Explanation, Unproved


class Depth(Struct, frozen=True):
    """How far a proof goes."""

    thorough: bool = False
    """Whether small changes are tried that some case should notice."""
    inherited: bool = False
    """Whether rules that are inherited as they are get proved too."""


class RuleProof(Struct, frozen=True):
    """One rule proved; of an inherited one the cases alone."""

    check: Check
    cases: tuple[Laid, ...]
    rows: tuple[Row, ...] = ()
    unproved: tuple[Unproved, ...] = ()
    tried: int = 0
    """Small changes that were tried."""

    @property
    def surprises(self) -> tuple[Laid, ...]:
        """The cases that come out otherwise than their author expects."""
        return tuple(laid for laid in self.cases if laid.outcome is not laid.case.expect)

    @property
    def open(self) -> tuple[Unproved, ...]:
        """What is unproved, and no one explains."""
        return tuple(one for one in self.unproved if one.is_open)

    @property
    def is_proved(self) -> bool:
        """Whether every case comes out as expected and no side is open."""
        return not self.surprises and not self.open


class BookProof(Struct, frozen=True):
    """One rulebook proved."""

    edition: Edition
    depth: Depth
    rules: tuple[RuleProof, ...]
    """Those of its own and those that it changes; with `inherited` all."""
    inherited: tuple[RuleProof, ...]
    """Those of which the cases alone were run."""
    stale: tuple[Explanation, ...]
    """Explanations of its own for what is not unproved, or not any more."""

    @property
    def is_proved(self) -> bool:
        """Whether nothing is wrong with it."""
        every = (*self.rules, *self.inherited)
        return not self.stale and all(rule.is_proved for rule in every)


def prove(edition: Edition, depth: Depth) -> BookProof:
    """Return a rulebook proved.

    Raises `InputRejected` for cases that can't be laid out, and `EngineDiffers` where the engine
    says otherwise than the limits compared: a fault of our own.
    """
    explanations = explanations_of(edition)
    benches = [Bench(SmallRoofs(check, edition.vocabulary)) for check in edition.checks]
    problems = [problem for bench in benches for problem in bench.problems]
    if problems:
        raise InputRejected(problems)
    rules, inherited = [], []
    for bench in benches:
        if depth.inherited or is_own(bench.roofs.check, edition):
            rules.append(_proved(bench, depth, explanations))
        else:
            inherited.append(RuleProof(bench.roofs.check, bench.own))
    stale = _stale(edition, depth, rules, explanations)
    return BookProof(edition, depth, tuple(rules), tuple(inherited), stale)


def is_own(check: Check, edition: Edition) -> bool:
    """Tell whether a rule is one that a rulebook wrote or changed."""
    name = edition.book.name
    return check.rule.book == name or any(change.book == name for change in check.rule.changes)


def _proved(bench: Bench, depth: Depth, explanations: Iterable[Explanation]) -> RuleProof:
    check = bench.roofs.check
    parts = parts_of(check)
    choices = Choices(bench.roofs, parts)
    rows = edges_of(bench, parts, choices)
    found = missing_sides(bench, parts, choices)
    mutations = mutations_of(check, parts) if depth.thorough else ()
    found = (*found, *unnoticed(bench, mutations, choices))
    told = explained(found, explanations, check.rule.full_id)
    return RuleProof(check, bench.own, rows, tuple(_gravest(told)), len(mutations))


def _gravest(found: Sequence[Unproved]) -> Iterator[Unproved]:
    """Yield what is unproved, without changes of parts that have a side unproved: it says it."""
    open_parts = {one.part for one in found if one.is_open and not one.is_change}
    yield from (one for one in found if not one.is_change or one.part not in open_parts)


def _stale(
    edition: Edition,
    depth: Depth,
    rules: Iterable[RuleProof],
    explanations: Iterable[Explanation],
) -> tuple[Explanation, ...]:
    """Return the rulebook's own explanations that fit nothing; only a thorough proof can tell."""
    if not depth.thorough:
        return ()
    unproved = {rule.check.rule.full_id: {one.words for one in rule.unproved} for rule in rules}
    own = edition.book.document.name
    return tuple(
        each
        for each in explanations
        if each.location.file == own
        and each.rule in unproved
        and each.what not in unproved[each.rule]
    )
