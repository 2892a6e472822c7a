"""The report for a terminal or a page of plain text: verdict first, then what to do about it.

Outcomes are told by a word and a shape before any colour, so the report reads the same piped,
printed and to someone who sees red and green alike.
"""

from __future__ import annotations

from collections import Counter
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.audit.together import Relation
from ridgerule.reports.page import BLANK, LABEL, STYLES, TITLE, Line, Page
from ridgerule.reports.tracing import traced, worked
from ridgerule.reports.view import COMPUTED
from ridgerule.rulebook import Severity

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.reports.drawing_strip import Strip
    from ridgerule.reports.governing import LimitView
    from ridgerule.reports.grouping import OpenGroup, OpenPoint
    from ridgerule.reports.sourcing import BookView
    from ridgerule.reports.view import FindingView, View

COUNTED = MappingProxyType(
    {
        Outcome.FAIL: "failed",
        Outcome.NOT_VERIFIED: "not verified",
        Outcome.PASS: "passed",
        Outcome.NOT_APPLICABLE: "not applicable",
    }
)
"""What a number of findings of each outcome is called."""
_DIGEST_SHOWN = 12
_REASONS_SHOWN = 8
_INDENT = 5
_PLACES_SHOWN = 4
_RELATIONS: Mapping[Relation, tuple[str, ...]] = MappingProxyType(
    {
        Relation.GOVERNS: ("governs", "under it"),
        Relation.SIDE_BY_SIDE: ("both hold",),
        Relation.CONFLICT: ("conflict", "with", "besides"),
    }
)
"""What is said before each limit, the last for all that follow."""


def text_report(  # noqa: PLR0913 - how a page is to look
    view: View,
    *,
    width: int,
    colour: bool,
    show_all: bool,
    unicode: bool = True,
    strips: Sequence[Strip] = (),
) -> str:
    """Return the report as lines of at most `width` cells, ending with a line end.

    Without `colour` there is no escape code at all; without `unicode` there is only ASCII.
    """
    page = Page(width=width, colour=colour, unicode=unicode)
    parts = (
        _header(view, page),
        _counts(view, page),
        _by_book(view, page),
        _failures(view, page),
        _open(view, page),
        _strips(strips, page),
        _governing(view, page),
        _doubts(view, page),
        _remarks(view, page),
        _passes(view, page, show_all=show_all),
        _not_applicable(view, page, show_all=show_all),
        _sampled(view, page),
        _sources(view, page),
        _books(view, page),
        _closing(view, page),
    )
    return page.printed(parts)


def _header(view: View, page: Page) -> Iterator[Line]:
    roof = view.roof
    name = f"{roof.name} ({roof.id})" if roof.name else roof.id
    title = f"{name}, {roof.place}" if roof.place else name
    yield from page.flow(page.text(page.badge(view.outcome), "   ", (title, TITLE)))
    yield page.rule()
    visit = dict(view.inspection)
    date, inspector = visit.pop("date"), visit.pop("inspector")
    seen = f"inspected {date}" if date else "inspection date not recorded"
    by = f" by {inspector}" if inspector else ", inspector not recorded"
    rows = (
        ("record", view.file),
        ("visit", f"{seen}{by}"),
        ("covering", roof.covering or "not recorded"),
        *visit.items(),
    )
    yield from page.labelled(rows)
    yield BLANK
    yield from page.flow(page.text(*_tally(view.counts, page)))


def _tally(counts: Mapping[Outcome, int], page: Page) -> Iterator[str | tuple[str, str]]:
    """Yield the counts in one line; what is open stands beside what failed, in equal weight."""
    for i, outcome in enumerate(Outcome):
        yield "   " if i else ""
        words = f"{page.shape(outcome)} {counts[outcome]} {COUNTED[outcome]}"
        yield words, STYLES[outcome] if counts[outcome] else ""


def _counts(view: View, page: Page) -> Iterator[Line]:
    """Yield the table of outcomes by class; open points of the record itself have no class."""
    classes: list[Severity | None] = [*Severity]
    if any(finding.severity is None for finding in view.findings):
        classes.append(None)
    tallied = Counter((finding.outcome, finding.severity) for finding in view.findings)
    names = [severity.value if severity else "record" for severity in classes]
    rows = [[("", ""), *((name, LABEL) for name in (*names, "total"))]]
    for outcome in Outcome:
        figures = [tallied[outcome, severity] for severity in classes]
        style = STYLES[outcome] if sum(figures) else ""
        cells = [(str(figure), style) for figure in (*figures, sum(figures))]
        rows.append([(page.badge(outcome)[0], style), *cells])
    yield BLANK
    yield from page.columns(rows)


def _by_book(view: View, page: Page) -> Iterator[Line]:
    yield from page.heading("BY RULEBOOK")
    for book in view.by_book:
        said = ", ".join(
            f"{book.counts[outcome]} {COUNTED[outcome]}"
            for outcome in Outcome
            if book.counts[outcome]
        )
        note = f"; {book.note}" if book.note else ""
        words = f": {said or 'no finding'}{note}"
        mark = page.text(page.badge(book.outcome))
        yield from page.marked(mark, page.text((book.book, TITLE), words), first=16)


def _failures(view: View, page: Page) -> Iterator[Line]:
    failed = view.of(Outcome.FAIL)
    if not failed:
        return
    yield from page.heading(f"FAILURES ({len(failed)})", STYLES[Outcome.FAIL])
    for finding in failed:
        yield BLANK
        yield from _block(finding, view, page)


def _block(finding: FindingView, view: View, page: Page) -> Iterator[Line]:
    severity = f" {finding.severity.value}" if finding.severity else ""
    badge, style = page.badge(finding.outcome)
    title = page.text((f"{badge}{severity}", style), "  ", (finding.place, TITLE))
    yield from page.flow(title, indent=_INDENT, mark=page.text(f"{finding.number}."))
    yield from page.flow(page.text(finding.title), indent=_INDENT)
    margin = f": {finding.margin.text}" if finding.margin else ""
    shared = len(view.by_book) > 1
    rows = (
        ("found", finding.measured),
        ("must be", f"{finding.limit}{margin}"),
        ("note", finding.reason),
        ("how sure", finding.decision.text if finding.decision else ""),
        *(("working", worked(step)) for step in finding.trace if step.how == COMPUTED),
        ("why", finding.why),
        ("remedy", finding.remedy),
        ("rule", finding.rule),
        ("source", finding.source.text if finding.source else ""),
        *(("amended by", change.text) for change in finding.amended_by),
        ("counts in", ", ".join(finding.books) if shared else ""),
        ("traced to", traced(finding)),
    )
    yield from page.labelled(rows, at=_INDENT)


def _open(view: View, page: Page) -> Iterator[Line]:
    points = view.of(Outcome.NOT_VERIFIED)
    if not points:
        return
    style = STYLES[Outcome.NOT_VERIFIED]
    yield from page.heading(f"NOT VERIFIED ({len(points)}), by what would settle it", style)
    for group in view.open_groups:
        yield BLANK
        yield from _open_group(group, page)


def _open_group(group: OpenGroup, page: Page) -> Iterator[Line]:
    shape = page.text((page.shape(Outcome.NOT_VERIFIED), STYLES[Outcome.NOT_VERIFIED]))
    yield from page.flow(page.text((group.what_to_do, TITLE)), indent=_INDENT, mark=shape)
    for rule in group.rules:
        severity = f"{rule.severity.value}: " if rule.severity else ""
        said = page.text(f"{severity}{rule.title}  ({rule.rule})")
        yield from page.flow(said, indent=_INDENT)
        first = max(len(_numbers(point)) for point in rule.points)
        for point in rule.points:
            words = page.text(_point(point, group))
            yield from page.marked(page.text(_numbers(point)), words, first=first, at=_INDENT)


def _numbers(point: OpenPoint) -> str:
    return f"{', '.join(map(str, point.numbers))}."


def _point(point: OpenPoint, group: OpenGroup) -> str:
    """Return where a point is open and why, unless its group says so already."""
    reason = point.reason if point.reason not in group.what_to_do else ""
    others = f"needs {_counted(point.others, 'other thing')} as well" if point.others else ""
    said = "; ".join(filter(None, (reason, others)))
    places = ", ".join(point.places)
    if places in reason:
        return said
    return f"{places}: {said}" if said else places


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _strips(strips: Sequence[Strip], page: Page) -> Iterator[Line]:
    """Yield the readings of each fact that failed or is open, along its line or plane."""
    if not strips:
        return
    from ridgerule.reports.strip_text import strip_lines  # noqa: PLC0415 - only if asked for

    yield from page.heading(f"READINGS PLACE BY PLACE ({len(strips)})")
    for strip in strips:
        yield BLANK
        yield from strip_lines(strip, page)


def _governing(view: View, page: Page) -> Iterator[Line]:
    """Yield which limit governs where several rulebooks limit one fact, the others under it."""
    if not view.together:
        return
    yield from page.heading(f"SEVERAL LIMITS ON ONE FACT ({len(view.together)})")
    for together in view.together:
        where = ", ".join(together.places) if len(together.places) < _PLACES_SHOWN else ""
        places = where or _counted(len(together.places), "place")
        yield from page.flow(page.text((together.fact, TITLE), f" at {places}"))
        first = max(map(len, _RELATIONS[together.relation]))
        for n, limit in enumerate(together.limits):
            mark = page.text((leads(together.relation, n), LABEL))
            words = page.text(f"{limit.limit}  ({_written_by(limit)})")
            yield from page.marked(mark, words, first=first, at=_INDENT)


def leads(relation: Relation, index: int) -> str:
    """Return what is said before the limit at an index among several."""
    words = _RELATIONS[relation]
    return words[min(index, len(words) - 1)]


def _written_by(limit: LimitView) -> str:
    """Return a rule's name, with the rulebook that gave it this limit where it is another."""
    is_own = limit.book.partition("@")[0] == limit.rule.partition("#")[0]
    return limit.rule if is_own else f"{limit.rule}, amended by {limit.book}"


def _doubts(view: View, page: Page) -> Iterator[Line]:
    """Yield the readings to look at again: they decide nothing."""
    if not view.doubts:
        return
    yield from page.heading(f"READINGS TO LOOK AT AGAIN ({len(view.doubts)})")
    for doubt in view.doubts:
        words = page.text(f"{doubt.said}: {doubt.advice} ({doubt.line})")
        yield from page.flow(words, indent=_INDENT, mark=page.text("!"))


def _sampled(view: View, page: Page) -> Iterator[Line]:
    """Yield what the stations and counted samples show of all there are."""
    if not view.sampled:
        return
    yield from page.heading("WHAT WAS LOOKED AT, OF ALL THERE IS")
    for sampled in view.sampled:
        rule = f"  ({sampled.rule})" if sampled.rule else ""
        yield from page.flow(page.text(f"{sampled.of}: {sampled.statement}{rule}"), indent=_INDENT)


def _remarks(view: View, page: Page) -> Iterator[Line]:
    """Yield the passes that miss what was aimed for, rule by rule: they decide nothing."""
    remarked: dict[tuple[str, str], dict[str, None]] = {}
    for finding in view.findings:
        if finding.remark:
            key = f"{finding.title}  ({finding.rule})", finding.remark
            remarked.setdefault(key, {})[f"{finding.place}: {finding.measured}"] = None
    if not remarked:
        return
    count = sum(map(len, remarked.values()))
    yield from page.heading(f"REMARKS ({count}): inside the limit, aim missed")
    for (rule, remark), places in remarked.items():
        yield from page.flow(page.text(f"{rule}: {remark}"))
        yield from page.flow(page.text("; ".join(places)), indent=_INDENT)


def _passes(view: View, page: Page, *, show_all: bool) -> Iterator[Line]:
    passed = view.of(Outcome.PASS)
    if not passed:
        return
    yield from page.heading(f"PASSES ({len(passed)})")
    mark = page.text((page.shape(Outcome.PASS), STYLES[Outcome.PASS]))
    by_rule: dict[str, list[FindingView]] = {}
    for finding in passed:
        by_rule.setdefault(_as_amended(finding), []).append(finding)
    for rule, found in by_rule.items():
        places = _counted(len({finding.place for finding in found}), "place")
        words = page.text(f"{found[0].title}: {places}  ({rule})")
        yield from page.flow(words, indent=_INDENT, mark=mark)
        for finding in found if show_all else ():
            yield from page.flow(_passed(finding, page), indent=_INDENT)


def _as_amended(finding: FindingView) -> str:
    """Return the rule's name, with the rulebook that last changed it."""
    amended = f", amended by {finding.amended_by[-1].book}" if finding.amended_by else ""
    return f"{finding.rule}{amended}"


def _passed(finding: FindingView, page: Page) -> Line:
    margin = f": {finding.margin.text}" if finding.margin else ""
    limit = f"; must be {finding.limit}{margin}" if finding.limit else ""
    return page.text(f"{finding.number}. {finding.place}: {finding.measured}{limit}")


def _not_applicable(view: View, page: Page, *, show_all: bool) -> Iterator[Line]:
    """Yield how often each reason was met; the findings one by one where all are to be shown."""
    apart = view.of(Outcome.NOT_APPLICABLE)
    if not apart:
        return
    yield from page.heading(f"NOT APPLICABLE ({len(apart)})")
    mark = page.text(page.shape(Outcome.NOT_APPLICABLE))
    reasons = Counter(finding.reason for finding in apart).most_common()
    told = reasons if show_all else reasons[:_REASONS_SHOWN]
    for reason, times in told:
        words = page.text(f"{_counted(times, 'finding')}: {reason}")
        yield from page.flow(words, indent=_INDENT, mark=mark)
        for finding in apart if show_all else ():
            if finding.reason == reason:
                said = f"{finding.number}. {finding.place}: {finding.title}  ({finding.rule})"
                yield from page.flow(page.text(said), indent=_INDENT)
    if rest := reasons[len(told) :]:
        times = sum(times for _, times in rest)
        words = page.text(f"{_counted(times, 'finding')}: {_counted(len(rest), 'other reason')}")
        yield from page.flow(words, indent=_INDENT, mark=mark)


def _sources(view: View, page: Page) -> Iterator[Line]:
    """Yield what the rules that were judged or are open rest on, each source once."""
    rules: dict[str, dict[str, None]] = {}
    for finding in view.findings:
        if finding.source and finding.outcome is not Outcome.NOT_APPLICABLE:
            cited = [finding.source, *(change.source for change in finding.amended_by)]
            for source in cited:
                rules.setdefault(source.text, {})[finding.rule] = None
    if not rules:
        return
    yield from page.heading("SOURCES")
    for text, named in rules.items():
        yield from page.flow(page.text(f"{text}: {_counted(len(named), 'rule')}"))


def _books(view: View, page: Page) -> Iterator[Line]:
    yield from page.heading("RULEBOOKS")
    for book in view.books:
        yield from page.flow(page.text((book.name, TITLE), f"  {book.title}"))
        yield from page.labelled(_book(book), at=_INDENT)
    yield from page.flow(page.text(f"Record {view.file}, SHA-256 {view.digest[:_DIGEST_SHOWN]}…"))


def _book(book: BookView) -> tuple[tuple[str, str], ...]:
    return (
        ("authority", book.authority),
        ("based on", ", ".join(book.based_on)),
        ("SHA-256", f"{book.digest[:_DIGEST_SHOWN]}…"),
        ("edition", book.note),
        *(("withdraws", f"{gone.rule}: {gone.reason}") for gone in book.withdrawn),
    )


def _closing(view: View, page: Page) -> Iterator[Line]:
    yield from page.heading("BEFORE ANYONE GOES BACK UP")
    bullet = page.text("·" if page.unicode else "*")
    for caution in view.cautions:
        yield from page.marked(bullet, page.text(caution), first=1)
    yield from page.heading("WHAT THIS REPORT IS")
    yield from page.flow(page.text(view.disclaimer))
    rules = " and ".join(view.decision_rules)
    yield from page.flow(page.text(f"Read by {rules}; ridgerule {view.version}."))
