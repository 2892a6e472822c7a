"""Coverages that no roof can meet, or whose conditions ask less than they seem to."""

from __future__ import annotations

from enum import Enum, auto
from typing import TYPE_CHECKING, assert_never

from ridgerule.audit.comparing import condition_holds
from ridgerule.audit.coverages import Group, RuleCondition, StatedCondition, coverages_of
from ridgerule.audit.limits import Holds, nodes
from ridgerule.audit.regions import TooMany, situations
from ridgerule.audit.strictness import can_apply, can_be
from ridgerule.audit.words import condition_words
from ridgerule.facts import Element
from ridgerule.proof.lint_remarks import error, warning

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.coverages import Condition
    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Edition
    from ridgerule.documents import Path
    from ridgerule.problems import Location
    from ridgerule.proof.lint_remarks import Remark
    from ridgerule.rulebook import Coverage


class _Chance(Enum):
    """What a condition can come to."""

    MAY_BE_MET = auto()
    NEVER_ASKED = auto()
    NEVER_MET = auto()


def coverage_remarks(edition: Edition) -> Iterator[Remark]:
    """Yield what is wrong with the coverages that the file offers."""
    for compiled in coverages_of(edition)[0]:
        asker = _Asker(compiled.coverage)
        chance = asker.group(compiled.conditions, ())
        yield from asker.remarks
        if chance is _Chance.MAY_BE_MET:
            yield from asker.idle
            continue
        where = compiled.coverage.conditions.location
        told = f"conditions of `{compiled.coverage.id}` that some roof can meet"
        found = " and ".join(dict.fromkeys(remark.problem.found for remark in asker.idle))
        yield error(where, told, found, "nobody could ever claim it: mend the conditions")


class _Asker:
    """Goes through the conditions of one coverage; keeps what is to be told of them."""

    def __init__(self, coverage: Coverage) -> None:
        self.coverage = coverage
        self.remarks: list[Remark] = []
        self.idle: list[Remark] = []
        """Of conditions that decide nothing, or that nothing meets."""
        self.seen: dict[str, Location] = {}

    def group(self, group: Group, steps: Path) -> _Chance:
        """Return what conditions joined by and, or by or, can come to."""
        key = "any_of" if group.any_will_do else "all_of"
        inner = (*steps, key)
        if group.any_will_do and len(group.parts) == 1:
            told = "two conditions or more under `any_of`"
            advice = "name the other way to meet it, or write `all_of`"
            self.remarks.append(warning(self.place(inner), told, "one", advice))
        chances = [self.condition(part, (*inner, i)) for i, part in enumerate(group.parts)]
        if group.any_will_do:
            best = (_Chance.MAY_BE_MET, _Chance.NEVER_ASKED, _Chance.NEVER_MET)
        else:
            best = (_Chance.NEVER_MET, _Chance.MAY_BE_MET, _Chance.NEVER_ASKED)
        return next(chance for chance in best if chance in chances)

    def condition(self, condition: Condition, steps: Path) -> _Chance:
        """Return what one condition can come to."""
        match condition:
            case RuleCondition():
                return self.rule(condition, steps)
            case StatedCondition(_, where):
                if _may_hold(where):
                    return _Chance.MAY_BE_MET
                told = "a statement that holds of some roof"
                found = f"`{condition_words(where)}`, which holds of none"
                advice = "check its figures and words"
                self.idle.append(warning(self.place(steps), told, found, advice))
                return _Chance.NEVER_MET
            case Group():
                return self.group(condition, steps)
            case _:
                assert_never(condition)

    def rule(self, condition: RuleCondition, steps: Path) -> _Chance:
        """Return what a rule can come to, and tell of one that is named twice or says nothing."""
        check, place = condition.check, self.place(steps)
        name = check.rule.full_id
        if name in self.seen:
            told = "each rule once in a coverage"
            found = f"`{check.rule.id}` again, see {self.seen[name]}"
            self.remarks.append(warning(place, told, found, "take one of them out"))
        self.seen.setdefault(name, place)
        if not can_apply(check):
            told = "a rule that applies to some roof in the scope of this rulebook"
            found = f"`{check.rule.id}`, which applies to no roof"
            advice = "the coverage asks nothing by it: take it out, or mend the rule"
            self.idle.append(warning(place, told, found, advice))
            return _Chance.NEVER_ASKED
        if not can_be(check, truth=True):
            told = "a rule that some reading can meet"
            found = f"`{check.rule.id}`, which no reading meets"
            self.idle.append(warning(place, told, found, "take it out, or mend the rule"))
            return _Chance.NEVER_MET
        return _Chance.MAY_BE_MET

    def place(self, steps: Path) -> Location:
        """Return where a node of the conditions stands."""
        return self.coverage.conditions.at(*steps)


def _may_hold(where: Limit) -> bool:
    """Tell whether a condition holds of some roof; yes where no one can tell."""
    asked = [(node.fact, node.limit) for node in nodes(where) if isinstance(node, Holds)]
    try:
        return any(condition_holds(where, here) for here in situations(asked, at=Element.ROOF))
    except TooMany:
        return True
