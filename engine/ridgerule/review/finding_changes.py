"""What differs between two reports, part by part and finding by finding, in words.

The parts are plain data in the form of `schemas/report.schema.json`.
"""

from __future__ import annotations

from collections import Counter
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from ridgerule.canonical import canonical_json

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

_Data = dict[str, Any]
NOTHING = "nothing"


class Change(Struct, frozen=True):
    """One thing that is otherwise now."""

    field: str
    then: str
    now: str


class ChangeKind(StrEnum):
    """What became of a finding."""

    CHANGED = "changed"
    MISSING = "missing now"
    ADDED = "added now"


class FindingChange(Struct, frozen=True):
    """A finding that is not as it was."""

    rule: str
    title: str
    place: str
    rulebooks: tuple[str, ...]
    """Those it counts in, each as `id@edition`."""
    kind: ChangeKind
    changes: tuple[Change, ...]


def finding_changes(
    then: Sequence[_Data], now: Sequence[_Data], *, ignored: frozenset[str]
) -> tuple[FindingChange, ...]:
    """Return the findings that are not as they were, those with another outcome first.

    `ignored` names keys of a finding that are not held against each other.
    """
    before, after = _by_identity(then), _by_identity(now)
    found: list[FindingChange] = []
    for identity, finding in before.items():
        if identity not in after:
            found.append(_only(finding, ChangeKind.MISSING))
        elif changes := tuple(_field_changes(finding, after[identity], ignored)):
            found.append(_change(finding, ChangeKind.CHANGED, changes))
    found.extend(
        _only(finding, ChangeKind.ADDED)
        for identity, finding in after.items()
        if identity not in before
    )
    return tuple(sorted(found, key=lambda change: change.changes[0].field != _FIRST[0]))


_Identity = tuple[str, str, tuple[str, ...], int]
"""Rule, place and rulebooks of a finding, and which of several with these it is."""


def _by_identity(findings: Sequence[_Data]) -> dict[_Identity, _Data]:
    seen: Counter[tuple[str, str, tuple[str, ...]]] = Counter()
    told: dict[_Identity, _Data] = {}
    for finding in findings:
        key = (finding["rule"], finding["place"], tuple(finding["rulebooks"]))
        told[*key, seen[key]] = finding
        seen[key] += 1
    return told


def _change(finding: _Data, kind: ChangeKind, changes: tuple[Change, ...]) -> FindingChange:
    return FindingChange(
        rule=finding["rule"],
        title=finding["title"],
        place=finding["place"],
        rulebooks=tuple(finding["rulebooks"]),
        kind=kind,
        changes=changes,
    )


def _only(finding: _Data, kind: ChangeKind) -> FindingChange:
    """Return a finding that only one of the two reports has, with its outcome."""
    outcome = str(finding["outcome"])
    was_there = kind is ChangeKind.MISSING
    told = (outcome, NOTHING) if was_there else (NOTHING, outcome)
    return _change(finding, kind, (Change("outcome", *told),))


_FIRST = ("outcome", "class", "measured", "value", "limit", "margin")
"""What a reader asks first, of all that can differ."""


def _field_changes(then: _Data, now: _Data, ignored: frozenset[str]) -> Iterator[Change]:
    for field in dict.fromkeys((*_FIRST, *then, *now)):
        if field not in ignored:
            yield from changed(field.replace("_", " "), then.get(field), now.get(field))


def changed(field: str, then: Any, now: Any) -> Iterator[Change]:  # noqa: ANN401 - any part
    """Yield how a part of a report differs: of a list the items that do, else the whole."""
    if then == now:
        return
    if isinstance(then, list) and isinstance(now, list):
        before, after = _apart(then, now), _apart(now, then)
        if not before and not after:
            yield Change(field, "in this order", "in another order")
            return
        told = [_listed(before, field), _listed(after, field)]
        exact = [_listed(before), _listed(after)]
    else:
        told = [_words(then, field), _words(now, field)]
        exact = [_words(then), _words(now)]
    yield Change(field, *(told if told[0] != told[1] else exact))


def _apart(items: list[Any], others: list[Any]) -> list[Any]:
    """Return the items that are not among the others, as often as they are not."""
    left = Counter(map(canonical_json, others))
    apart = []
    for item in items:
        key = canonical_json(item)
        if left[key]:
            left[key] -= 1
        else:
            apart.append(item)
    return apart


def _listed(items: list[Any], field: str = "") -> str:
    return "; ".join(_words(item, field) for item in items) or NOTHING


def _words(value: Any, field: str = "") -> str:  # noqa: ANN401 - any part of a report
    """Return a part of a report in words: those that its field has, or else its JSON."""
    if value is None or value == "":
        return NOTHING
    if isinstance(value, str):
        return value
    if isinstance(value, dict) and field in _WORDS:
        return _WORDS[field](value)
    return canonical_json(value).decode()


def _reading(reading: _Data) -> str:
    how = f" ({reading['how']})" if reading["how"] else ""
    return f"{reading['fact']} on {reading['place']}: {reading['text']}{how}"


def _amendment(change: _Data) -> str:
    return f"{change['rulebook']}: {change['reason']} ({change['source']['text']})"


_WORDS: Mapping[str, Callable[[_Data], str]] = MappingProxyType(
    {
        "measured": _reading,
        "trace": _reading,
        "margin": lambda margin: str(margin["text"]),
        "source": lambda source: str(source["text"]),
        "amended by": _amendment,
        "provenance": lambda origin: f"{origin['field']} by {origin['rulebook']}",
    }
)
"""How parts of a finding are said, by their field."""
