"""What a change of rulebooks does to recorded roofs, as blocks of a page."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from ridgerule.audit.findings import CONFLICT, Outcome
from ridgerule.audit.strictness import Strictness
from ridgerule.proof.differences_facts import Kind
from ridgerule.proof.differences_roofs import Turn
from ridgerule.reports.differences_words import rule_told, short_names
from ridgerule.reports.figures import margin_words, measured_words
from ridgerule.reports.page import WORDS
from ridgerule.reports.sheet import Heading, Items, Pairs, Table, Words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridgerule.audit.findings import Finding
    from ridgerule.proof.differences import Differences, RuleDifference
    from ridgerule.proof.differences_roofs import FindingChange, RoofChange, Roofs
    from ridgerule.record import Record
    from ridgerule.reports.sheet import Block, Cell

NOT_ASKED = "not asked"
"""What a rule comes to that a rulebook does not have."""


def applied_words(found: Differences) -> str:
    """Return which editions the roofs were held against, whatever their dates say."""
    old, new = found.old.book.name, found.new.book.name
    return (
        f"Every roof was held against {old} and against {new} as named, whatever the dates in its "
        "record say; whether either is in force for it was not asked."
    )


def roofs_blocks(found: Differences, held: Roofs) -> Iterator[Block]:
    """Yield what comes out otherwise: counted, by rule, and roof by roof."""
    roofs = held.changes
    yield Heading("What it does to recorded roofs")
    yield Words(applied_words(found))
    if held.unused:
        yield Words(
            "Records that could not be held against both, so that nothing is known of them:"
        )
        yield Items(held.unused)
    if not roofs:
        yield Words("No record was held against both.")
        return
    yield Table(("roofs", "came out", "come out now"), tuple(_counts(roofs)))
    turned = [change for roof in roofs for change in roof.findings]
    if all(change.turn is Turn.NEITHER for change in turned):
        yield Words("No finding of any of them comes out better or worse.")
    else:
        yield from _by_rule(roofs, short_names(found))
    for roof in roofs:
        if roof.findings:
            yield from _roof(roof, short_names(found))


def _counts(roofs: Sequence[RoofChange]) -> Iterator[tuple[Cell, ...]]:
    counted = outcome_counts(roofs)
    for (was, now), count in counted.items():
        yield str(count), was, now


def outcome_counts(roofs: Sequence[RoofChange]) -> dict[tuple[Outcome, Outcome], int]:
    """Return how many roofs came to each outcome by the old rulebook and the new one."""
    counted = Counter((roof.before.outcome, roof.after.outcome) for roof in roofs)
    ordered = [(was, now) for was in Outcome for now in Outcome]
    return {pair: counted[pair] for pair in ordered if counted[pair]}


def _by_rule(roofs: Sequence[RoofChange], names: Mapping[str, str]) -> Iterator[Block]:
    """Yield which rules come out worse and which better, at how many places of how many roofs."""
    for turn in (Turn.WORSE, Turn.BETTER):
        places: Counter[tuple[str, str]] = Counter()
        where: dict[tuple[str, str], set[int]] = {}
        for number, roof in enumerate(roofs):
            for change in roof.findings:
                if change.turn is turn:
                    rule, before, after = _turned(change, names)
                    key = (rule, f"{before} → {after}")
                    places[key] += 1
                    where.setdefault(key, set()).add(number)
        if places:
            yield Heading(f"Rules that come out {turn}", 3)
            rows = sorted((*key, str(count), str(len(where[key]))) for key, count in places.items())
            yield Table(("rule", "came out → comes out now", "places", "roofs"), tuple(rows))


def _turned(change: FindingChange, names: Mapping[str, str]) -> tuple[str, str, str]:
    return rule_named(change, names), outcome_words(change.was), outcome_words(change.now)


def outcome_words(outcome: Outcome | None) -> str:
    """Return an outcome in words."""
    return NOT_ASKED if outcome is None else WORDS[outcome]


def rule_named(change: FindingChange, names: Mapping[str, str]) -> str:
    """Return what comes out otherwise: a rule, or an open point of the record."""
    if change.difference is not None:
        full_id = change.difference.check.rule.full_id
        return names.get(full_id, full_id)
    finding = change.after or change.before
    if finding is None:
        return ""
    return f"{'the rulebook' if finding.about == CONFLICT else 'the record'}: {finding.about}"


def _roof(roof: RoofChange, names: Mapping[str, str]) -> Iterator[Block]:
    record = roof.after.record
    name = ", ".join(filter(None, (record.roof.id, record.name)))
    yield Heading(f"{name} ({record.document.name})", 3)
    was, now = WORDS[roof.before.outcome], WORDS[roof.after.outcome]
    changes = Counter(change.turn for change in roof.findings)
    counted = [f"{changes[turn]} {_TURNS[turn]}" for turn in Turn if changes[turn]]
    yield Pairs(
        (
            ("the roof", f"{was} → {now}" if roof.is_changed else f"{now}, as before"),
            ("findings", ", ".join(counted)),
        )
    )
    decided = [change for change in roof.findings if change.turn is not Turn.NEITHER]
    for group in _groups(decided, names):
        rule, before, after = _turned(group[0], names)
        yield Pairs(
            (
                ("rule", f"{rule}: {before} → {after}"),
                ("because", why_words(group[0])),
                *(("at", words) for words in _places(group, roof)),
            )
        )
    neither = [change for change in roof.findings if change.turn is Turn.NEITHER]
    if neither:
        yield Words("No better and no worse:")
        yield Items(tuple(_neither(group, names) for group in _groups(neither, names)))


_TURNS = {Turn.WORSE: "worse", Turn.BETTER: "better", Turn.NEITHER: "otherwise, but no worse"}


def _groups(
    changes: Iterable[FindingChange], names: Mapping[str, str]
) -> list[list[FindingChange]]:
    """Return changes of one rule from one outcome to another together."""
    grouped: dict[tuple[str, ...], list[FindingChange]] = {}
    for change in changes:
        grouped.setdefault(_turned(change, names), []).append(change)
    return list(grouped.values())


def _neither(group: Sequence[FindingChange], names: Mapping[str, str]) -> str:
    rule, before, after = _turned(group[0], names)
    count = len(group)
    places = group[0].place.label if count == 1 else f"{count} places"
    return f"{rule}: {before} → {after} ({places})"


def _places(group: Sequence[FindingChange], roof: RoofChange) -> Iterator[str]:
    """Yield where a rule comes out otherwise: what was read, against which limits."""
    said: dict[str, list[str]] = {}
    for change in group:
        said.setdefault(_against(change, roof), []).append(change.place.label)
    for words, places in said.items():
        yield f"{', '.join(places)}: {words}" if words else ", ".join(places)


def _against(change: FindingChange, roof: RoofChange) -> str:
    """Return the readings at a place, and what each rulebook says of them."""
    was = side_words(change.before, roof.before.record)
    now = side_words(change.after, roof.after.record)
    if change.difference is not None and change.difference.withdrawal is not None:
        # What withdrew it, here or before, is told above for all places.
        was, now = (was, "") if change.difference.after is None else ("", now)
    readings = [
        measured_words(finding, None)
        for finding in (change.before, change.after)
        if finding is not None and finding.measured
    ]
    measured = " → ".join(dict.fromkeys(readings))
    sides = " → ".join(filter(None, (was, now)))
    return "; ".join(filter(None, (measured, sides)))


def side_words(finding: Finding | None, record: Record) -> str:
    """Return what one rulebook says at a place: the limit and the margin, or why it is open."""
    if finding is None:
        return ""
    if finding.outcome in (Outcome.PASS, Outcome.FAIL):
        limit, margin = f"must be {finding.limit}", margin_words(finding, record, None)
        return f"{limit}, {margin}" if margin else limit
    # The place is told beside it, so that places which lack the same are told together.
    return finding.reason.replace(f" at {finding.place.label}: ", ": ")


def why_words(change: FindingChange) -> str:
    """Return what of the rule makes a finding come out otherwise."""
    found = change.difference
    if found is None:
        return _open_point(change)
    if found.kind is Kind.ADDED:
        return "the rule is new" if found.withdrawal is None else "the rule is back"
    if found.kind is Kind.GONE:
        gone = found.withdrawal
        return "the rule is gone" if gone is None else f"withdrawn by {gone.book}: {gone.reason}"
    return _changes(found) or "the rule itself did not change"


def _open_point(change: FindingChange) -> str:
    """Return why something is open now, or open no more, that is no rule's."""
    finding = change.after or change.before
    if finding is not None and finding.about == CONFLICT:
        return "no value meets two of its limits" if change.after else "one value meets all limits"
    return "rules are asked there" if change.after else "no rule is asked there any more"


def _changes(found: RuleDifference) -> str:
    """Return what changed of a rule that decides, briefly."""
    deciding = [each for each in rule_told(found) if each.strictness is not Strictness.WORDING]
    return "; ".join(
        f"{each.label}: {'another row of its table' if each.rows else each.phrase}"
        for each in deciding
    )
