"""A re-inspection as a sheet: what fails and what is open first, then what was put right."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.reports.reinspection_view import Section
from ridgerule.reports.sheet import Badge, Heading, Items, Pairs, Sheet, Table, Words
from ridgerule.review.reinspection_changes import Turn

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridgerule.reports.reinspection_view import ChangeView, ReinspectionView
    from ridgerule.reports.sheet import Block, Cell
    from ridgerule.reports.view import FindingView
    from ridgerule.review.reinspection_rules import BookPair

SHAPES: Mapping[Section, Outcome] = MappingProxyType(
    {
        Section.STILL_FAILING: Outcome.FAIL,
        Section.NOT_SHOWN: Outcome.NOT_VERIFIED,
        Section.STILL_OPEN: Outcome.NOT_VERIFIED,
        Section.NEW_FAILURE: Outcome.FAIL,
        Section.NEWLY_OPEN: Outcome.NOT_VERIFIED,
        Section.PUT_RIGHT: Outcome.PASS,
        Section.SETTLED: Outcome.PASS,
        Section.NO_LONGER_MEASURED: Outcome.NOT_VERIFIED,
        Section.OTHERWISE: Outcome.PASS,
        Section.NO_LONGER_APPLIES: Outcome.NOT_APPLICABLE,
        Section.CHANGED_READING: Outcome.PASS,
        Section.NEW_PASS: Outcome.PASS,
        Section.UNCHANGED: Outcome.PASS,
        Section.NO_QUESTION: Outcome.NOT_APPLICABLE,
    }
)
"""The outcome whose shape stands for a section."""
COUNTED = (Section.NEW_PASS, Section.UNCHANGED, Section.NO_QUESTION)
"""Sections that pages give as counts, and data one by one."""
_DIGEST_SHOWN = 12
_MANY_PLACES = 2
_RULE_OR_ROOF = (
    "A change of outcome may come from the rule and not from the roof. Where a rule asks otherwise "
    "than at the first visit, that is said beside it."
)
_EXPLAINED: Mapping[Section, str] = MappingProxyType(
    {
        Section.NOT_SHOWN: (
            "These failed at the first visit, and the second does not show that they were put "
            "right: they stay open."
        ),
        Section.NO_LONGER_MEASURED: (
            "These passed at the first visit. Where the second visit leaves them open, they have "
            "not passed."
        ),
        Section.OTHERWISE: (
            "These pass now, and nothing shows that the roof was changed: the rule or what it is "
            "held against did."
        ),
    }
)


def reinspection_sheet(view: ReinspectionView) -> Sheet:
    """Return a re-inspection as a page, its verdict first, cautions and the disclaimer last."""
    roof = view.second.roof
    name = f"{roof.name} ({roof.id})" if roof.name else roof.id
    blocks = (
        *_verdict(view),
        *(block for section in Section for block in _section(view, section)),
        *_matching(view),
        *_closing(view),
    )
    return Sheet(f"Re-inspection of {name}: {view.outcome}", blocks)


def _verdict(view: ReinspectionView) -> Iterator[Block]:
    yield Words(verdict_words(view))
    yield from _editions(view)
    rows: list[tuple[Cell, ...]] = [
        (Badge(SHAPES[section], section.value), _counted_in(view, section))
        for section in Section
        if view.of(section)
    ]
    yield Heading("What became of the findings")
    yield Table(("finding", "how many"), tuple(rows))
    yield Heading("The two visits")
    yield Table(("visit", "first", "second"), tuple(_visits(view)))
    yield Table(
        ("rulebook", "first visit", "came to", "second visit", "came to"), tuple(_books(view))
    )


def _counted_in(view: ReinspectionView, section: Section) -> str:
    """Return how many changes a section has, and how many of them are open where not all are."""
    changes = view.of(section)
    open_ones = sum(change.is_open for change in changes)
    is_part = 0 < open_ones < len(changes)
    return f"{len(changes)}, {open_ones} of them open" if is_part else str(len(changes))


def verdict_words(view: ReinspectionView) -> str:
    """Return in one sentence whether the roof is in order after the second visit."""
    fails = f"{_counted(view.failing, 'failure')}" if view.failing else ""
    points = f"{_counted(view.open, 'open point')}" if view.open else ""
    left = " and ".join(filter(None, (fails, points)))
    put_right = len(view.of(Section.PUT_RIGHT))
    done = f"{put_right} put right" if put_right else "nothing put right"
    if left:
        return f"{_OUTCOMES[view.outcome]}: {left}; {done} since the first visit."
    if view.outcome is Outcome.PASS:
        return f"Pass: nothing fails and nothing is open; {done} since the first visit."
    return "Not verified: the second visit judged nothing as a pass."


_OUTCOMES: Mapping[Outcome, str] = MappingProxyType(
    {
        Outcome.FAIL: "Fail",
        Outcome.NOT_VERIFIED: "Not verified",
        Outcome.PASS: "Pass",
        Outcome.NOT_APPLICABLE: "Not verified",
    }
)


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _visits(view: ReinspectionView) -> Iterator[tuple[Cell, ...]]:
    first, second = view.first, view.second
    then, now = dict(first.inspection), dict(second.inspection)
    yield "outcome", first.outcome, second.outcome
    for key in dict.fromkeys((*then, *now)):
        missing = "not recorded" if key in ("date", "inspector") else ""
        yield key, then.get(key) or missing, now.get(key) or missing
    yield "covering", *(visit.roof.covering or "not recorded" for visit in (first, second))
    yield "record", first.file, second.file
    yield "SHA-256", *(f"{visit.digest[:_DIGEST_SHOWN]}…" for visit in (first, second))


def _books(view: ReinspectionView) -> Iterator[tuple[Cell, ...]]:
    """Yield each rulebook's editions; the outcome of those that were asked themselves."""
    for pair in view.books:
        cells: list[Cell] = [pair.id]
        for edition, visit in ((pair.then, view.first), (pair.now, view.second)):
            name = f"{pair.id}@{edition}"
            came_to = next((book.outcome for book in visit.by_book if book.book == name), "base")
            cells += [edition, came_to] if edition else ["not held against", ""]
        yield tuple(cells)


def _editions(view: ReinspectionView) -> Iterator[Block]:
    differing = [pair for pair in view.books if pair.differs]
    if not differing:
        return
    yield Heading("The rulebooks changed between the visits")
    yield Words(_RULE_OR_ROOF)
    yield Items(tuple(edition_words(pair) for pair in differing))


def edition_words(pair: BookPair) -> str:
    """Return in words which edition of a rulebook each visit was held against."""
    if pair.same_file:
        return f"{pair.id}: edition {pair.then} at both visits"
    if not pair.then:
        return f"{pair.id}: not held against at the first visit, edition {pair.now} at the second"
    if not pair.now:
        return f"{pair.id}: edition {pair.then} at the first visit, not held against at the second"
    if pair.then == pair.now:
        return f"{pair.id}: edition {pair.then} at both visits, and its file is not the same"
    return f"{pair.id}: edition {pair.then} at the first visit, {pair.now} at the second"


def _section(view: ReinspectionView, section: Section) -> Iterator[Block]:
    changes = view.of(section)
    if not changes or section in COUNTED:
        return
    yield Heading(f"{section} ({len(changes)})")
    if section in _EXPLAINED:
        yield Words(_EXPLAINED[section])
    if section is Section.CHANGED_READING:
        yield Table(
            ("place", "rule", "then", "now", "change"), tuple(_changed_row(c) for c in changes)
        )
        return
    for alike in _alike(changes):
        yield Heading(_heading(alike), 3)
        yield Pairs(tuple(_said(alike, view)))


def _alike(changes: Iterable[ChangeView]) -> Iterator[Sequence[ChangeView]]:
    """Yield the changes of which all the same is to be said, but for the place."""
    grouped: dict[tuple[object, ...], list[ChangeView]] = {}
    for change in changes:
        found = change.finding
        said = (then_words(change), now_words(change), change.change, _limit(change))
        key = (found.rule, found.title, *said, change.turn, change.what_to_do)
        grouped.setdefault(key, []).append(change)
    yield from grouped.values()


def _heading(alike: Sequence[ChangeView]) -> str:
    found = alike[0].finding
    severity = f"{found.severity.value}: " if found.severity else ""
    where = found.place if len(alike) == 1 else _counted(len(alike), "place")
    return f"{severity}{where}: {found.title}"


def _said(alike: Sequence[ChangeView], view: ReinspectionView) -> Iterator[tuple[str, str]]:
    change = alike[0]
    found = change.finding
    places = [place_words(each) for each in alike]
    moved = any(each.then and each.now and each.then.place != each.now.place for each in alike)
    yield "place", ", ".join(places) if moved or len(alike) >= _MANY_PLACES else ""
    then, now = then_words(change), now_words(change)
    yield from (("then and now", now),) if then == now else (("then", then), ("now", now))
    yield "change", change.change
    yield "must be", _limit(change)
    yield "note", "; ".join(dict.fromkeys(each.reason for each in alike if each.reason))
    yield "rule", _rule(change)
    yield "why", found.why if change.is_failing or change.is_open else ""
    yield "remedy" if change.is_failing else "to do", change.what_to_do
    yield "source", found.source.text if found.source else ""
    for by in found.amended_by:
        yield "amended by", by.text
    shared = len(view.second.by_book) > 1
    yield "counts in", ", ".join(found.books) if shared else ""


def _rule(change: ChangeView) -> str:
    differs = "; it asks otherwise than at the first visit" if change.rule_differs else ""
    return f"{change.finding.rule}{differs}"


def place_words(change: ChangeView) -> str:
    """Return where a change is: both places where a station moved."""
    then, now = change.then, change.now
    if then and now and then.place != now.place:
        return f"{then.place} then, {now.place} now"
    return change.finding.place


def then_words(change: ChangeView) -> str:
    """Return what the first visit came to: outcome, reading, margin, or why there is none."""
    if change.then is not None:
        return _came_to(change.then, change.unknown_then)
    if change.instead is not None:
        return _spoken_for(change.instead, change.unknown_then)
    return "no finding"


def now_words(change: ChangeView) -> str:
    """Return what the second visit came to, or that it has nothing there."""
    if change.now is not None:
        return _came_to(change.now, change.unknown_now)
    if change.instead is not None:
        return _spoken_for(change.instead, change.unknown_now)
    return "no open point" if change.turn is Turn.SETTLED else "no finding"


def _came_to(found: FindingView, unknown: str) -> str:
    margin = found.margin.text if found.margin else ""
    if found.outcome in (Outcome.PASS, Outcome.FAIL):
        said = ", ".join(filter(None, (found.measured, margin)))
    else:
        said = unknown or found.reason
    return f"{found.outcome}: {said}" if said else found.outcome.value


def _spoken_for(found: FindingView, unknown: str) -> str:
    return f"{_came_to(found, unknown)} (at {found.place})"


def _limit(change: ChangeView) -> str:
    """Return the limit, both where they are not the same."""
    then = change.then.limit if change.then else ""
    now = change.now.limit if change.now else ""
    return f"{now} now, {then} then" if then and now and then != now else now or then


def _changed_row(change: ChangeView) -> tuple[Cell, ...]:
    found = change.finding
    return (
        place_words(change),
        f"{found.title} ({found.rule})",
        then_words(change).removeprefix(f"{Outcome.PASS}: "),
        now_words(change).removeprefix(f"{Outcome.PASS}: "),
        change.change,
    )


def _matching(view: ReinspectionView) -> Iterator[Block]:
    yield Heading("How the visits were held against each other")
    tolerance = (
        f"Places are the same by their id, stations on a plane by their words, stations on a line "
        f"by their distance from its end, where they lie no more than {view.within} apart."
    )
    yield Items((tolerance, *view.warnings, *view.notes))


def _closing(view: ReinspectionView) -> Iterator[Block]:
    yield Heading("Records and rulebooks")
    yield Items((*_records(view), *_rulebooks(view)))
    yield Heading("Before anyone goes back up")
    yield Items(view.cautions)
    yield Heading("What this report is")
    yield Words(view.disclaimer)
    yield Words(f"Read by simple acceptance; ridgerule {view.second.version}.")


def _records(view: ReinspectionView) -> Iterator[str]:
    for name, visit in (("first", view.first), ("second", view.second)):
        yield f"The {name} visit's record, {visit.file}: SHA-256 {visit.digest}"


def _rulebooks(view: ReinspectionView) -> Iterator[str]:
    """Yield each rulebook file that stands behind a finding, and at which visits."""
    used: dict[tuple[str, str, str], list[str]] = {}
    for visit, when in ((view.first, "first"), (view.second, "second")):
        for book in visit.books:
            said = (f"{book.name}, {book.title}", book.note, book.digest)
            used.setdefault(said, []).append(when)
    for (name, note, digest), visits in used.items():
        when = "both visits" if len(visits) > 1 else f"the {visits[0]} visit"
        picked = f", {note}" if note else ""
        yield f"{name}, at {when}{picked}: SHA-256 {digest}"
