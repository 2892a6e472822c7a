"""Open points grouped by what would settle them, so that one trip up settles as many as it can."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridgerule.reports.settling import Need
    from ridgerule.reports.view import FindingView
    from ridgerule.rulebook import Severity


class OpenPoint(Struct, frozen=True):
    """A place where a group's act settles findings, or helps to settle them."""

    numbers: tuple[int, ...]
    """The findings: several where rulebooks differ on the same rule."""
    places: tuple[str, ...]
    """Where to act; the finding's own place where the act says it already."""
    reason: str
    others: int
    """How many other acts the findings need as well."""


class OpenRule(Struct, frozen=True):
    """The open points of one rule within a group."""

    rule: str
    title: str
    severity: Severity | None
    points: tuple[OpenPoint, ...]


class OpenGroup(Struct, frozen=True):
    """Open points that the same act would settle."""

    what_to_do: str
    rules: tuple[OpenRule, ...]


class _Gathered(Struct):
    """What is found for one rule in one group, before findings at one place are put together."""

    view: FindingView
    lacks: dict[int, list[Need]] = {}
    others: dict[int, int] = {}
    views: dict[int, FindingView] = {}


def open_groups(
    open_findings: Iterable[tuple[FindingView, tuple[Need, ...]]],
) -> tuple[OpenGroup, ...]:
    """Return the open points under what would settle them, in the order they are numbered."""
    groups: dict[str, dict[str, _Gathered]] = {}
    for view, needed in open_findings:
        acts = dict.fromkeys(need.what for need in needed)
        for need in needed:
            gathered = groups.setdefault(need.what, {}).setdefault(view.rule, _Gathered(view))
            gathered.lacks.setdefault(view.number, []).append(need)
            gathered.others[view.number] = len(acts) - 1
            gathered.views[view.number] = view
    return tuple(
        OpenGroup(what, tuple(_open_rule(gathered) for gathered in rules.values()))
        for what, rules in groups.items()
    )


def _open_rule(gathered: _Gathered) -> OpenRule:
    """Return a rule's points, one for each set of places that the same acts are needed at."""
    merged: dict[tuple[tuple[str, ...], str, int], list[int]] = {}
    for number, lacks in gathered.lacks.items():
        own = gathered.views[number].place
        places = tuple(dict.fromkeys(need.place or own for need in lacks))
        reason = "; ".join(dict.fromkeys(need.reason for need in lacks if need.reason))
        merged.setdefault((places, reason, gathered.others[number]), []).append(number)
    points = (OpenPoint(tuple(numbers), *key) for key, numbers in merged.items())
    view = gathered.view
    return OpenRule(view.rule, view.title, view.severity, tuple(points))
