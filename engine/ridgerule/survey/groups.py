"""What is asked at each kind of place, sorted into groups that are answered with one look-up.

Rules that read the same quantities share a group, so that one combination of readings answers
all of them, and the many values of one quantity do not multiply with those of another.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.limits import AtLeast, AtMost, Between, EqualTo, nodes
from ridgerule.facts import SECTIONS, Element, FactRef, Host, LineKind
from ridgerule.quantities import Dimension
from ridgerule.rulebook import DecisionRule
from ridgerule.survey.dependencies import PHOTO, Needs, Unfollowed, is_never, needs_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridgerule.audit.plan import Check
    from ridgerule.facts import Fact

Branch = tuple[Element, LineKind | Element | None]
"""An element, with the kind of a line or, for a station, what it lies on."""


class Item(Struct, frozen=True):
    """One thing to be answered at each place of a branch."""

    what: str
    """`check`: a rule; `host`: whether a rule on stations is asked here; `together`: conflicts."""
    questions: tuple[int, ...]


class Group(Struct, frozen=True):
    """Items of one branch that rest on the same quantities."""

    number: int
    branch: tuple[Element, str]
    items: tuple[Item, ...]
    needs: Needs
    demand: bool = False
    """Does its rule demand so many stations; then it stands alone."""


class Grouping(Struct, frozen=True):
    """Everything that is asked of a record of one variant."""

    groups: tuple[Group, ...]
    never: Mapping[tuple[Element, str], tuple[int, ...]]
    """The rules that no line of a kind is asked, for they do not apply to it."""
    ordinary: tuple[int, ...]
    """The rules that only the ordinary evaluator answers."""


class _Sorter:
    """Sorts the questions of one variant."""

    def __init__(self, checks: Sequence[Check], facts: Mapping[tuple[Element, str], Fact]) -> None:
        self.checks = checks
        self.facts = facts
        self.groups: list[Group] = []
        self.never: dict[tuple[Element, str], list[int]] = {}
        self.ordinary = {q for q, check in enumerate(checks) if not self.is_followed(check)}

    def is_followed(self, check: Check) -> bool:
        if check.decision is not DecisionRule.SIMPLE or not _is_counted(check):
            return False
        try:
            self.needs(check)
        except Unfollowed:
            return False
        return True

    def needs(self, check: Check) -> Needs:
        needs = needs_of(check.at, (check.of, check.when, check.limit))
        if check.evidence.photo:
            needs.own.add(PHOTO)
        return needs

    def grouping(self) -> Grouping:
        self.branch(Element.ROOF, "", self.asked_at(Element.ROOF))
        for element in SECTIONS:
            if element is Element.LINE:
                for kind in LineKind:
                    self.line_branch(kind)
            elif element is Element.PLANE:
                self.host_branch(Element.PLANE, "", self.asked_at(element))
            else:
                self.branch(element, "", self.asked_at(element))
        never = {branch: tuple(found) for branch, found in self.never.items()}
        return Grouping(tuple(self.groups), never, tuple(sorted(self.ordinary)))

    def asked_at(self, element: Element) -> list[int]:
        return [
            q for q, check in enumerate(self.checks)
            if check.at is element and q not in self.ordinary
        ]  # fmt: skip

    def line_branch(self, kind: LineKind) -> None:
        asked = self.asked_at(Element.LINE)
        out = [q for q in asked if is_never(self.checks[q].when, kind)]
        self.never.setdefault((Element.LINE, kind), []).extend(out)
        self.host_branch(Element.LINE, kind, [q for q in asked if q not in out])

    def host_branch(self, element: Element, kind: str, asked: list[int]) -> None:
        """Sort what is asked of a line or plane, and of its stations."""
        other = Host.PLANE if element is Element.LINE else Host.LINE
        stations = [q for q in self.asked_at(Element.STATION) if self.checks[q].host is not other]
        if kind:
            out = [q for q in stations if is_never(self.checks[q].host_when, LineKind(kind))]
            self.never.setdefault((element, kind), []).extend(out)
            stations = [q for q in stations if q not in out]
        hosts = [Item("host", (q,)) for q in stations]
        self.branch(element, kind, asked, hosts)
        place = f"{element.value} {kind}".strip()
        demanding = [q for q in stations if self.checks[q].stations is not None]
        self.branch(Element.STATION, place, [q for q in stations if q not in demanding])
        for q in demanding:
            self.add((Element.STATION, place), [Item("check", (q,))], demand=True)
        self.together(Element.STATION, place, stations)

    def branch(
        self, element: Element, kind: str, asked: list[int], hosts: Iterable[Item] = ()
    ) -> None:
        items = [Item("check", (q,)) for q in asked]
        items += hosts
        self.sort_in((element, kind), items)
        if element is not Element.STATION:
            self.together(element, kind, asked)

    def together(self, element: Element, kind: str, asked: list[int]) -> None:
        """Sort in the limits on one fact that may be at odds at one place."""
        by_fact: dict[FactRef, list[int]] = {}
        for q in asked:
            by_fact.setdefault(self.checks[q].of, []).append(q)
        at_odds = [tuple(found) for found in by_fact.values() if self.may_be_at_odds(found)]
        self.sort_in((element, kind), [Item("together", found) for found in at_odds])

    def may_be_at_odds(self, asked: list[int]) -> bool:
        limits = [self.checks[q].limit for q in asked]
        return any(not _meet(one, other) for one, other in combinations(limits, 2))

    def sort_in(self, branch: tuple[Element, str], items: Iterable[Item]) -> None:
        sorted_items: dict[frozenset[tuple[str, ...]], list[Item]] = {}
        for item in items:
            wide = frozenset(way for way in self.item_needs(branch, item).signature()
                             if self.is_wide(branch[0], way))  # fmt: skip
            sorted_items.setdefault(wide, []).append(item)
        for found in sorted_items.values():
            self.add(branch, found)

    def add(self, branch: tuple[Element, str], items: list[Item], *, demand: bool = False) -> None:
        needs = Needs()
        for item in items:
            needs.add(self.item_needs(branch, item))
        self.groups.append(Group(len(self.groups), branch, tuple(items), needs, demand))

    def item_needs(self, branch: tuple[Element, str], item: Item) -> Needs:
        needs = Needs()
        if item.what == "host":
            check = self.checks[item.questions[0]]
            needs.add(needs_of(branch[0], (check.host_when,)))
            needs.hops.setdefault(Element.STATION, Needs()).add(Needs(own={"only"}))
            return needs
        for q in item.questions:
            needs.add(self.needs(self.checks[q]))
        return needs

    def is_wide(self, element: Element, way: tuple[str, ...]) -> bool:
        *steps, name = way
        fact = self.facts.get((Element(steps[-1]) if steps else element, name))
        if fact is None:
            return False
        return isinstance(fact.dimension, Dimension) and fact.dimension is not Dimension.COUNT


def sorted_questions(
    checks: Sequence[Check], facts: Mapping[tuple[Element, str], Fact]
) -> Grouping:
    """Return the questions of one variant sorted by where they are asked and what they rest on."""
    return _Sorter(checks, facts).grouping()


def _is_counted(check: Check) -> bool:
    """Tell whether the stations a rule demands hang on its hosts' own length or area."""
    one_per = check.stations.one_per if check.stations else None
    if one_per is None:
        return True
    host = {Dimension.LENGTH: Host.LINE, Dimension.AREA: Host.PLANE}.get(one_per.dimension)
    return check.host is host


def _meet(one: object, other: object) -> bool:
    """Tell whether two limits are plain figures that some value meets together, for certain."""
    if one == other:
        return not any(isinstance(node, FactRef) for node in nodes(one))
    ends = [list(_ends(limit)) for limit in (one, other)]
    if not all(ends):
        return False
    (low, high), (least, most) = ends[0][0], ends[1][0]
    return (low is None or most is None or low <= most) and (
        least is None or high is None or least <= high
    )


def _ends(limit: object) -> Iterator[tuple[int | None, int | None]]:
    """Yield the ends of a range of whole base units, nothing for any other limit."""
    ends: tuple[object, object]
    match limit:
        case AtLeast(figure):
            ends = (figure, None)
        case AtMost(figure):
            ends = (None, figure)
        case Between(low, high):
            ends = (low, high)
        case EqualTo(figure, None):
            ends = (figure, figure)
        case _:
            return
    amounts = [getattr(end, "amount", None) for end in ends]
    if all(isinstance(a, int) or (end is None) for a, end in zip(amounts, ends, strict=True)):
        yield amounts[0], amounts[1]
