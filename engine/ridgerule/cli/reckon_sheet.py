"""A reckoning on a page: the result first, a drawing, the working, sources, and what it is not."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridgerule import __version__
from ridgerule.audit.findings import Outcome
from ridgerule.enclosures import DEPTH_BITS, Span
from ridgerule.quantities import Quantity, Units, exact_si
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.page import BLANK, HEADING, LABEL, TITLE, Page
from ridgerule.trade.reckonings import RECKONINGS
from ridgerule.trade.working import Step, written
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.cli.reckon_input import Typed
    from ridgerule.reports.page import Line

NO_INSPECTION = (
    "A computation from the figures given, and only as good as they are; no roof was judged. What "
    "every report says of itself goes for it too:"
)
_ROUNDED = (
    f"≈ stands before a number rounded for print. Behind it every root, sine and arctangent is "
    f"enclosed to 2^-{DEPTH_BITS}, about 1e-29 of its unit; nothing was rounded on the way."
)
_OPEN = "cannot be told"


@dataclass(frozen=True, slots=True)
class Answer:
    """A question answered yes or no; None where the figures leave it open."""

    label: str
    is_so: bool | None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to say in words among the results; it leaves nothing open."""

    label: str
    words: str


Result = Step | Answer | Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What one reckoning has to show."""

    name: str
    title: str
    results: tuple[Result, ...]
    steps: tuple[Step, ...]
    sources: tuple[str, ...]
    given: tuple[tuple[str, str], ...]
    units: Units
    """What it is printed in."""
    drawing: tuple[str, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()
    """Rows of words, the first of them their headings."""
    notes: tuple[str, ...] = ()

    @property
    def is_told(self) -> bool:
        """Whether no answer was left open."""
        return all(not isinstance(r, Answer) or r.is_so is not None for r in self.results)


def sheet(  # noqa: PLR0913 - one argument a field
    typed: Typed,
    *,
    name: str,
    title: str,
    results: Sequence[Result],
    steps: Sequence[Step],
    reckonings: Sequence[str],
    table: Sequence[tuple[str, ...]] = (),
    notes: tuple[str, ...] = (),
) -> Sheet:
    """Return the sheet of what was typed, with the sources of the `reckonings` it rests on."""
    sources = dict.fromkeys(RECKONINGS[reckoned].source for reckoned in reckonings)
    return Sheet(
        name=name,
        title=title,
        results=tuple(results),
        steps=tuple(steps),
        sources=tuple(sources),
        given=tuple(typed.given),
        units=typed.units,
        table=tuple(table),
        notes=notes,
    )


def as_text(sheet: Sheet, *, width: int, colour: bool, unicode: bool) -> str:
    """Return the sheet as lines of at most `width` cells."""
    page = Page(width=width, colour=colour, unicode=unicode)
    parts = (_results(sheet, page), _shown(sheet, page), _working(sheet, page), _closing(page))
    sources = _listed("SOURCES", sheet.sources, page)
    return page.printed((*parts[:3], sources, parts[3]))


def _results(sheet: Sheet, page: Page) -> Iterator[Line]:
    yield from page.flow(page.text((sheet.title.upper(), HEADING)))
    yield page.rule()
    widest = max(len(result.label) for result in sheet.results)
    for result in sheet.results:
        label = page.text((result.label, LABEL))
        yield from page.marked(label, _result(result, sheet, page), first=widest)
    if sheet.notes:
        yield BLANK
    for note in sheet.notes:
        yield from page.flow(page.text(note))


def _result(result: Result, sheet: Sheet, page: Page) -> Line:
    if isinstance(result, Remark):
        return page.text(result.words)
    if isinstance(result, Step):
        return page.text((_value(result, sheet.units), TITLE))
    shape, style = page.badge(_OUTCOMES[result.is_so])
    words = {True: "yes", False: "no", None: _OPEN}[result.is_so]
    more = f": {result.words}" if result.words else ""
    return page.text((f"{shape[0]} {words}", style if result.is_so is None else TITLE), more)


_OUTCOMES = {True: Outcome.PASS, False: Outcome.FAIL, None: Outcome.NOT_VERIFIED}


def _shown(sheet: Sheet, page: Page) -> Iterator[Line]:
    if sheet.drawing:
        yield BLANK
        for line in sheet.drawing:
            yield page.text(line)
    if sheet.table:
        yield BLANK
        head, *rows = sheet.table
        cells = [[(word, LABEL) for word in head], *([(word, "") for word in row] for row in rows)]
        yield from page.columns(cells)


def _working(sheet: Sheet, page: Page) -> Iterator[Line]:
    lines = [written(step, units=sheet.units) for step in sheet.steps]
    yield from page.heading("WORKING")
    first = len(f"{len(lines)}.")
    for n, line in enumerate(lines, 1):
        yield from page.marked(page.text(f"{n}.".rjust(first)), page.text(line), first=first)
    if any("≈" in line for line in lines):
        yield BLANK
        yield from page.flow(page.text(_ROUNDED))


def _listed(heading: str, lines: tuple[str, ...], page: Page) -> Iterator[Line]:
    yield from page.heading(heading)
    for line in lines:
        yield from page.flow(page.text(line))


def _closing(page: Page) -> Iterator[Line]:
    yield from page.heading("BEFORE ANYONE GOES BACK UP")
    for caution in CAUTIONS:
        yield from page.marked(page.text("·" if page.unicode else "*"), page.text(caution), first=1)
    yield from page.heading("WHAT THIS IS")
    yield from page.flow(page.text(NO_INSPECTION))
    yield from page.flow(page.text(DISCLAIMER))
    yield from page.flow(page.text(f"ridgerule {__version__}."))


def _value(step: Step, units: Units) -> str:
    return written(Step("", "", step.amount, step.dimension), units=units).removeprefix(": ")


# data


def as_json(sheet: Sheet) -> str:
    """Return the sheet as JSON, quantities as the trade writes them and in SI."""
    given: dict[str, list[str]] = {}
    for flag, text in sheet.given:
        given.setdefault(flag.removeprefix("--"), []).append(text)
    data = {
        "reckoning": 1,
        "tool": {"name": "ridgerule", "version": __version__},
        "of": sheet.name,
        "title": sheet.title,
        "given": given,
        "is_told": sheet.is_told,
        "results": [_result_data(result, sheet.units) for result in sheet.results],
        "working": [_step_data(step, sheet.units) for step in sheet.steps],
        "notes": list(sheet.notes),
        "sources": list(sheet.sources),
        "cautions": list(CAUTIONS),
        "disclaimer": f"{NO_INSPECTION} {DISCLAIMER}",
    }
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _result_data(result: Result, units: Units) -> Mapping[str, object]:
    if isinstance(result, Remark):
        return {"label": result.label, "words": result.words}
    if isinstance(result, Answer):
        return {"label": result.label, "answer": result.is_so, "words": result.words}
    return _step_data(result, units)


def _step_data(step: Step, units: Units) -> dict[str, object]:
    # A plain number has the unit of a share, one.
    dimension = step.dimension or Dimension.SHARE
    told: dict[str, object] = {"label": step.label}
    if step.formula:
        told["formula"] = step.formula
    told["text"] = _value(step, units)
    if isinstance(step.amount, Span) and step.amount.low is None and step.amount.high is None:
        return told
    return told | exact_si(Quantity(dimension, step.amount, ""))
