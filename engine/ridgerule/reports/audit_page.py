"""An audit as a page to hand over, in the order that an inspection report is read in.

Identification, date, item, method and rulebooks, instruments, conditions, results, the statement of
conformity with its decision rule, what was left out and why, and who is responsible: what ISO/IEC
17020 asks of an inspection report (recalled).
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from markupsafe import Markup
from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.audit.subjects import value_text
from ridgerule.facts import Element, LineKind
from ridgerule.reports.drawing_plan import roof_plan
from ridgerule.reports.drawing_section import sections_of
from ridgerule.reports.drawing_section_svg import section
from ridgerule.reports.drawing_strip import strips_of
from ridgerule.reports.drawing_strip_svg import strip
from ridgerule.reports.drawing_svg import DRAWING_STYLE, PAPER_STYLE
from ridgerule.reports.html_page import template
from ridgerule.reports.page import WORDS
from ridgerule.reports.text import COUNTED, leads
from ridgerule.reports.tracing import traced, worked
from ridgerule.reports.view import COMPUTED, view_of
from ridgerule.rulebook import Severity

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.audit.findings import Audit
    from ridgerule.record import Record
    from ridgerule.reports.photo_images import Image
    from ridgerule.reports.view import FindingView, Settings, View

_HERE = Path(__file__).resolve().parent
_SAID_APART = frozenset({"date", "inspector"})


class FindingPart(Struct, frozen=True):
    """A failure or an open point with what stands beside it."""

    view: FindingView
    said: tuple[tuple[str, str], ...]
    """What was found, what it must be, why it matters and what puts it right."""
    working: tuple[str, ...]
    behind: tuple[tuple[str, str], ...]
    """The rule, its sources and changes, and the lines it is traced to."""
    images: tuple[Image, ...]
    drawing: str = ""


class OpenPart(Struct, frozen=True):
    """What would settle several open points, and which."""

    what_to_do: str
    rows: tuple[tuple[FindingView, str, bool], ...]
    """Each open point, what else is to be said of it, and whether it stands here first."""


class PassRow(Struct, frozen=True):
    """A rule that was met, at so many places."""

    rule: str
    title: str
    places: tuple[str, ...]
    nearest: str
    """The reading with least to spare, where margins can be told."""


class RoofPage(Struct, frozen=True):
    """Everything the page says of one roof."""

    id: str
    """What its own links begin with."""
    anchor: str
    """What a finding's own anchor begins with, before its number."""
    view: View
    name: str
    counts: tuple[tuple[Outcome, tuple[int, ...]], ...]
    classes: tuple[str, ...]
    item: tuple[tuple[str, str], ...]
    visit: tuple[tuple[str, str], ...]
    instruments: tuple[tuple[str, str, str, str], ...]
    failures: tuple[FindingPart, ...]
    opened: tuple[OpenPart, ...]
    passes: tuple[PassRow, ...]
    apart: tuple[tuple[str, int], ...]
    sources: tuple[tuple[str, int], ...]
    remarks: tuple[FindingView, ...]
    conditional: tuple[FindingView, ...]
    """Passes and failures that lie within their uncertainty of the limit."""
    images: tuple[Image, ...]
    """Photos that stand beside no failure."""
    lost: tuple[Image, ...]
    """Photos that can't be shown, each with its reason."""
    plan: str = ""
    """The drawing of the roof."""
    strips: tuple[str, ...] = ()


def html_report(roofs: Sequence[RoofPage]) -> str:
    """Return one page with the reports of all roofs, one after the other."""
    return template("audit.html").render(
        roofs=roofs,
        title="; ".join(f"{roof.name}: {roof.view.outcome}" for roof in roofs),
        audit_style=Markup((_HERE / "audit.css").read_text("utf-8")),  # noqa: S704 - ours
        drawing_style=Markup(DRAWING_STYLE),  # noqa: S704 - ours
        words=WORDS,
        counted=COUNTED,
        tallied=_tallied,
        quoted=_quoted,
        drawn=_drawn,
        leads=leads,
    )


def _tallied(counts: Mapping[Outcome, int]) -> str:
    """Return the outcomes that there are, each with how many."""
    return ", ".join(f"{n} {COUNTED[outcome]}" for outcome, n in counts.items() if n) or "none"


def _quoted(text: str) -> Markup:
    """Return text as a string of CSS: every sign but plain letters, digits and spaces escaped."""
    signs = (c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):x} " for c in text)
    return Markup(f'"{"".join(signs)}"')  # noqa: S704 - nothing in it can end the string


def _drawn(drawing: str) -> Markup:
    """Return a drawing with the colours it has on paper, after its title and description."""
    style = f'</desc><style media="print">\n{PAPER_STYLE}</style>'
    return Markup(drawing.replace("</desc>", style, 1))  # noqa: S704 - escaped in `drawing_svg`


def roof_page(
    audit: Audit, *, settings: Settings, images: Mapping[str, Image], number: int = 1
) -> RoofPage:
    """Return one roof's report, with its photos by the names that the record has for them."""
    view = view_of(audit, settings=settings)
    return _Layout(audit, view, images, number).page()


class _Layout:
    """Lays one roof's report out."""

    def __init__(self, audit: Audit, view: View, images: Mapping[str, Image], number: int) -> None:
        self.audit = audit
        self.record = audit.record
        self.view = view
        self.sections = {cut.number: section(cut) for cut in sections_of(audit, view)}
        self.images = images
        self.number = number
        self.anchor = "finding-" if number == 1 else f"roof-{number}-finding-"
        self.photos = _photos_by_line(audit.record)
        self.shown: dict[str, None] = {}
        """The photos that stand beside a failure already."""

    def page(self) -> RoofPage:
        view = self.view
        roof = view.roof
        failures = tuple(self.failure(finding) for finding in view.of(Outcome.FAIL))
        rest = [image for name, image in self.images.items() if name not in self.shown]
        classes, counts = _tally(view)
        return RoofPage(
            id=f"roof-{self.number}",
            anchor=self.anchor,
            view=view,
            name=f"{roof.name} ({roof.id})" if roof.name else roof.id,
            counts=counts,
            classes=classes,
            item=tuple(_item(self.record, view)),
            visit=tuple(_visit(view)),
            instruments=tuple(_instruments(self.record)),
            failures=failures,
            opened=tuple(self.opened()),
            passes=tuple(_passes(view)),
            apart=tuple(Counter(f.reason for f in view.of(Outcome.NOT_APPLICABLE)).most_common()),
            sources=tuple(_sources(view)),
            remarks=tuple(finding for finding in view.findings if finding.remark),
            conditional=tuple(_conditional(view)),
            images=tuple(image for image in rest if image.address),
            lost=tuple(image for image in self.images.values() if not image.address),
            plan=roof_plan(self.audit, view, link=self.anchor),
            strips=tuple(strip(shown) for shown in strips_of(self.audit, view)),
        )

    def failure(self, finding: FindingView) -> FindingPart:
        names = self.photos_of(finding)
        fresh = [name for name in names if name not in self.shown]
        images = tuple(self.images[name] for name in fresh if self.images[name].address)
        self.shown.update(dict.fromkeys(image.name for image in images))
        return FindingPart(
            view=finding,
            said=tuple(_said(finding)),
            working=tuple(worked(step) for step in finding.trace if step.how == COMPUTED),
            behind=tuple(_behind(finding, self.view)),
            images=images,
            drawing=self.sections.get(finding.number, ""),
        )

    def photos_of(self, finding: FindingView) -> list[str]:
        """Return the photos of the readings judged, and of their place, that are at hand."""
        lines = [reading.line for reading in (*finding.readings, *finding.trace) if reading.line]
        found = dict.fromkeys(name for line in lines for name in self.photos.get(line, ()))
        return [name for name in found if name in self.images]

    def opened(self) -> Iterator[OpenPart]:
        by_number = {finding.number: finding for finding in self.view.findings}
        told: set[int] = set()
        for group in self.view.open_groups:
            rows: list[tuple[FindingView, str, bool]] = []
            for rule in group.rules:
                for point in rule.points:
                    reason = point.reason if point.reason not in group.what_to_do else ""
                    more = f"needs {point.others} more" if point.others else ""
                    said = "; ".join(filter(None, (reason, more)))
                    for number in point.numbers:
                        rows.append((by_number[number], said, number not in told))
                        told.add(number)
            yield OpenPart(group.what_to_do, tuple(rows))


def _photos_by_line(record: Record) -> dict[str, tuple[str, ...]]:
    """Return the photos of each reading and of its place, by the line the reading stands in."""
    found: dict[str, tuple[str, ...]] = {}
    for place in record.every_place():
        for readings in place.readings.values():
            for reading in readings:
                where = record.location(reading.path)
                line = f"{where.file}:{where.line}"
                found[line] = (*found.get(line, ()), *reading.photos, *place.photos)
    return found


def _tally(
    view: View,
) -> tuple[tuple[str, ...], tuple[tuple[Outcome, tuple[int, ...]], ...]]:
    """Return the classes, and how many findings came to each outcome, by class and in all."""
    classes: list[Severity | None] = [*Severity]
    if any(finding.severity is None for finding in view.findings):
        classes.append(None)
    tallied = Counter((finding.outcome, finding.severity) for finding in view.findings)
    rows = []
    for outcome in Outcome:
        figures = [tallied[outcome, severity] for severity in classes]
        rows.append((outcome, (*figures, sum(figures))))
    names = [severity.value if severity else "of the record" for severity in classes]
    return (*names, "in all"), tuple(rows)


def _said(finding: FindingView) -> Iterator[tuple[str, str]]:
    """Yield what a failure says, label by label."""
    yield "found", finding.measured
    yield "must be", finding.limit
    yield "margin", finding.margin.text if finding.margin else ""
    yield "note", finding.reason
    yield "how sure", finding.decision.text if finding.decision else ""
    yield "why", finding.why
    yield "remedy", finding.remedy


def _behind(finding: FindingView, view: View) -> Iterator[tuple[str, str]]:
    """Yield what stands behind a failure: the rule, where it is from, where it is traced to."""
    yield "rule", finding.rule
    yield "source", finding.source.text if finding.source else ""
    for change in finding.amended_by:
        yield "amended by", change.text
    if len(view.by_book) > 1:
        yield "counts in", ", ".join(finding.books)
    yield "traced to", traced(finding)


def _passes(view: View) -> Iterator[PassRow]:
    by_rule: dict[str, list[FindingView]] = {}
    for finding in view.of(Outcome.PASS):
        amended = f", amended by {finding.amended_by[-1].book}" if finding.amended_by else ""
        by_rule.setdefault(f"{finding.rule}{amended}", []).append(finding)
    for rule, found in by_rule.items():
        places = tuple(dict.fromkeys(finding.place for finding in found))
        yield PassRow(rule, found[0].title, places, _nearest(found))


def _conditional(view: View) -> Iterator[FindingView]:
    for finding in view.findings:
        if finding.decision is not None and finding.decision.is_conditional:
            yield finding


def _nearest(found: Sequence[FindingView]) -> str:
    """Return one pass with its margin, the one at the limit where there is such."""
    told = [finding for finding in found if finding.margin]
    if not told:
        return ""
    on_it = [
        finding for finding in told if finding.margin and "on the limit" in finding.margin.text
    ]
    finding = (on_it or told)[0]
    margin = finding.margin.text if finding.margin else ""
    return f"{finding.place}: {finding.measured}, {margin}"


def _item(record: Record, view: View) -> Iterator[tuple[str, str]]:
    """Yield what was inspected: the roof, and how many places of each kind the record lists."""
    roof = view.roof
    yield "roof", f"{roof.name} ({roof.id})" if roof.name else roof.id
    yield "place", roof.place or "not recorded"
    yield "covering", roof.covering or "not recorded"
    for key in ("permit", "installation", "registration"):
        readings = record.roof.readings.get(f"{key}_date", ())
        value = readings[0].value if readings else None
        yield f"{key} date", value_text(value) if value is not None else "not recorded"
    kinds = Counter(line.kind for line in record.places[Element.LINE])
    lines = [_counted(kinds[kind], kind.value) for kind in LineKind if kinds[kind]]
    if kinds[None]:
        lines.append(_counted(kinds[None], "line") + " of unknown kind")
    planes = len(record.places[Element.PLANE])
    stations = sum(len(place.stations) for place in record.every_place())
    yield "listed", ", ".join([_counted(planes, "plane"), *lines, _counted(stations, "station")])


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _visit(view: View) -> Iterator[tuple[str, str]]:
    said = dict(view.inspection)
    yield "date", said["date"] or "not recorded"
    yield "inspector", said["inspector"] or "not recorded"
    for key, words in said.items():
        if key not in _SAID_APART:
            yield key, words
    for key in ("body", "client", "weather"):
        if key not in said:
            yield key, "not recorded"


def _instruments(record: Record) -> Iterator[tuple[str, str, str, str]]:
    for instrument in record.instruments.values():
        graduation, uncertainty = instrument.graduation, instrument.expanded_uncertainty
        yield (
            instrument.name,
            graduation.text if graduation else "not recorded",
            uncertainty.text if uncertainty else "not recorded",
            instrument.note,
        )


def _sources(view: View) -> Iterator[tuple[str, int]]:
    rules: dict[str, set[str]] = {}
    for finding in view.findings:
        if finding.source and finding.outcome is not Outcome.NOT_APPLICABLE:
            for source in (finding.source, *(change.source for change in finding.amended_by)):
                rules.setdefault(source.text, set()).add(finding.rule)
    for text, named in rules.items():
        yield text, len(named)
