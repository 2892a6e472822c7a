"""A warranty review as a sheet: a table of conditions a coverage, and what would settle them."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.reports.sheet import Badge, Heading, Items, Pairs, Sheet, Table, Words
from ridgerule.reports.warranty_view import told
from ridgerule.review.warranty import Status

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.reports.sheet import Block, Cell
    from ridgerule.reports.warranty_view import ConditionView, CoverageView, WarrantyView

SHAPES: Mapping[Status, Outcome] = MappingProxyType(
    {
        Status.NOT_MET: Outcome.FAIL,
        Status.NOT_EVIDENCED: Outcome.NOT_VERIFIED,
        Status.MET: Outcome.PASS,
        Status.NOT_APPLICABLE: Outcome.NOT_APPLICABLE,
    }
)
"""The outcome whose shape stands for a status."""
LEFT_TO_THE_WARRANTOR = (
    "What a record shows of a coverage's conditions. Whether anything is covered is for the "
    "warrantor to decide, by the terms of the warranty itself."
)


def warranty_sheet(view: WarrantyView) -> Sheet:
    """Return a roof's coverages, its visit and rulebooks, cautions and the disclaimer."""
    roof = view.visit.roof
    name = f"{roof.name} ({roof.id})" if roof.name else roof.id
    blocks: list[Block] = [Words(LEFT_TO_THE_WARRANTOR), Pairs(tuple(_visit(view)))]
    blocks.append(_summary(view))
    for coverage in view.coverages:
        blocks.extend(_coverage(coverage))
    blocks.extend(_closing(view))
    return Sheet(f"Warranty conditions: {name}", tuple(blocks))


def _visit(view: WarrantyView) -> Iterator[tuple[str, str]]:
    visit = view.visit
    yield "place", visit.roof.place
    yield "covering", visit.roof.covering or "not recorded"
    for key, words in visit.inspection:
        yield key, words or ("not recorded" if key in ("date", "inspector") else "")
    yield "record", f"{visit.file}, SHA-256 {visit.digest}"


def _summary(view: WarrantyView) -> Table:
    return Table(
        header=("coverage", "rulebook", "conditions"),
        rows=tuple((c.title, c.book, c.summary) for c in view.coverages),
        caption="Coverages",
    )


def _coverage(coverage: CoverageView) -> Iterator[Block]:
    yield Heading(coverage.title)
    allowed = coverage.isolated_allowed
    yield Pairs(
        (
            ("coverage", f"{coverage.book}, {coverage.id}"),
            ("warrantor", coverage.authority),
            ("edition", coverage.edition_note),
            ("asks to see", coverage.evidence),
            ("isolated faults", f"{allowed} allowed" if allowed else ""),
            ("shown", coverage.summary),
        )
    )
    yield Table(
        header=("no.", "condition", "status", "what decides it"),
        rows=tuple(_row(condition) for condition in coverage.listed()),
    )
    acts = dict.fromkeys(
        f"{condition.number}: {act}"
        for condition in coverage.listed()
        for act in condition.to_settle
    )
    if acts:
        yield Heading("What would settle it", level=3)
        yield Items(tuple(acts))


def _row(condition: ConditionView) -> tuple[Cell, ...]:
    id_ = condition.rule.partition("#")[2]
    rule = f"{condition.title} ({id_})" if id_ else condition.title
    badge = Badge(SHAPES[condition.status], condition.status.value)
    decided = told(condition.decided_by)
    if condition.isolated:
        faults = f"isolated, allowed: {told(condition.isolated)}"
        decided = "; ".join(filter(None, (faults, decided)))
    return condition.number, rule, badge, decided


def _closing(view: WarrantyView) -> Iterator[Block]:
    yield Heading("Rulebooks")
    yield Table(
        header=("rulebook", "title", "SHA-256"),
        rows=tuple((book.name, book.title, book.digest) for book in view.books),
    )
    yield Heading("Before anyone goes back up")
    yield Items(view.cautions)
    yield Heading("What this report is")
    yield Words(view.disclaimer)
    yield Words(f"ridgerule {view.visit.version}")
