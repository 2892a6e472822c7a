"""What `ridgerule measure` shows: the opening, each question, what a reading comes to, the end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.facts import How, Plain
from ridgerule.quantities import Dimension
from ridgerule.reports.cautions import CAUTIONS
from ridgerule.reports.figures import margin_words
from ridgerule.reports.page import BLANK, HEADING, LABEL, STYLES, TITLE, Line
from ridgerule.reports.text import COUNTED
from ridgerule.reports.visit_plan_words import asked_if, demanded_words, how_words, must_be
from ridgerule.visit.entry import Prompt, Wanted
from ridgerule.visit.entry_replies import numbered
from ridgerule.visit.entry_steps import asks_for_all

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.problems import Problem
    from ridgerule.reports.page import Page
    from ridgerule.visit.entry_steps import Step
    from ridgerule.visit.entry_verdict import Verdict
    from ridgerule.visit.planning import VisitPlan

_INDENT = 2
WORDS = (
    "Enter skips. < back, ? how to measure, u unknown, r can't reach, n TEXT note, p NAME photo, "
    "w instrument, q leave."
)
_MARK = "> "
_TIE = "\ue000"
"""What a page prints as a space that no line breaks at."""
_MOST_FINDINGS = 6
_FORMS: Mapping[Dimension | Plain, str] = {
    Plain.YES_NO: " [y/n]",
    Plain.DATE: " [year-month-day, or today]",
    Dimension.SHARE: " [such as 40 %]",
}


def opening(visit: VisitPlan, name: str, waiting: int, unknown: int, page: Page) -> Iterator[Line]:
    """Yield what is shown before the first question: cautions first."""
    yield from page.heading("BEFORE ANYONE GOES UP")
    for words in (*CAUTIONS, *visit.mind):
        mark = page.text("-")
        yield from page.flow(page.text(words), indent=_INDENT, mark=mark)
    roof = visit.record.name or visit.record.roof.id
    yield from page.heading(f"{roof}: {_questions(waiting)}")
    told = f"Each answer is saved in {name} before the next question."
    if unknown:
        told += f" {unknown} recorded as unknown or can't reach: `--again` asks them again."
    yield from page.flow(page.text(told))
    yield from page.flow(page.text((WORDS, LABEL)))


def _questions(count: int) -> str:
    return "1 question" if count == 1 else f"{count} questions" if count else "no question is open"


def where(step: Step, last: Step | None, page: Page) -> Iterator[Line]:
    """Yield where a question is asked, as far as that is not where the last one was."""
    if last is None or last.part is not step.part:
        yield from page.heading(step.part.upper())
    is_new = last is None or last.stop.place.path != step.stop.place.path
    if is_new or (last is not None and last.part is not step.part):
        yield BLANK
        detail = f"  {step.stop.detail}" if step.stop.detail else ""
        yield from page.flow(page.text((step.stop.label, TITLE), detail))
    if step.station is not None and (
        last is None or last.station is None or last.place.path != step.place.path
    ):
        at = step.station.at or "a station; choose where"
        yield from page.flow(
            page.text((f"at {at}" if step.station.at else at, TITLE)), indent=_INDENT
        )


def question(prompt: Prompt, left: int, page: Page, *, recorded: str = "") -> Iterator[Line]:
    """Yield a question, as it is asked; `recorded` is what the file says of it already."""
    asked = prompt.step.question
    match prompt.wanted:
        case Wanted.VALUE:
            count = f"  ({left} left)" if left else ""
            yield from page.flow(page.text(asked.ask, (count, LABEL)), indent=_INDENT)
            yield from _choices(_choices_of(prompt), page)
            known = asked.known or recorded
            so_far = f"so far: {known} (= keeps it)" if known else ""
            for words in (asked_if(asked), must_be(asked), so_far):
                if words:
                    yield from page.flow(page.text((words, LABEL)), indent=_INDENT)
        case Wanted.SURE:
            words = prompt.doubt.words if prompt.doubt else ""
            told_how = "y keeps it, or type it again"
            yield from page.flow(page.text((words, STYLES[Outcome.NOT_VERIFIED])), indent=_INDENT)
            yield from page.flow(page.text((told_how, LABEL)), indent=_INDENT)
        case Wanted.HOW:
            yield from page.flow(page.text("How is it known?"), indent=_INDENT)
            yield from _ways(prompt, page)
        case Wanted.PHOTO:
            words = "The photo's file name, beside the record? (Enter for none)"
            yield from page.flow(page.text(words), indent=_INDENT)
        case Wanted.TOOL:
            words = f"Read with what? (Enter for {prompt.choices[0]})"
            yield from page.flow(page.text(words), indent=_INDENT)
            yield from _choices(prompt.choices, page)


def _choices_of(prompt: Prompt) -> tuple[str, ...]:
    fact = prompt.step.question.fact
    return fact.choices if fact is not None else ()


def _choices(choices: Sequence[str], page: Page) -> Iterator[Line]:
    if not choices:
        return
    with_number = numbered(choices)
    words = [f"{i} {c}" if with_number else c for i, c in enumerate(choices, start=1)]
    tied = [page.words(word).replace(" ", _TIE) for word in words]
    yield from page.flow(Line((("   ".join(tied), ""),)), indent=2 * _INDENT)


def _ways(prompt: Prompt, page: Page) -> Iterator[Line]:
    accepted = prompt.step.question.accepted
    for i, way in enumerate(prompt.choices, start=1):
        by = " by NAME" if way == How.STATED else ""
        weak = "" if way in accepted else "  (a rule asks for more)"
        words = page.text(f"{i} {way}{by}", (weak, LABEL))
        yield from page.flow(words, indent=2 * _INDENT)


def prompt_words(prompt: Prompt, page: Page) -> str:
    """Return what stands before the typed answer: what is asked, its side, and its unit."""
    key = prompt.step.question.key.replace("_", " ")
    match prompt.wanted:
        case Wanted.VALUE:
            sides = [side for side in prompt.sides if side]
            side = f" {', '.join(sides)}" if sides else ""
            told = f"{key}{side}{_shown_as(prompt)}"
        case Wanted.SURE:
            told = f"{key}, sure?"
        case _:
            told = f"{key}, {prompt.wanted}"
    return page.words(f"  {told} {_MARK}").replace(_TIE, " ")


def _shown_as(prompt: Prompt) -> str:
    """Return how the answer is written: in which unit a bare number is taken, else in what form."""
    question, fact = prompt.step.question, prompt.step.question.fact
    if prompt.unit:
        return f" [{prompt.unit}]"
    if asks_for_all(question):
        return " [all/none]"
    if fact is None:
        return f" [{question.write_as}]"
    return _FORMS.get(fact.dimension, "")


def explained(prompt: Prompt, page: Page) -> Iterator[Line]:
    """Yield how a fact is measured, what is asked of it, and what can be typed."""
    asked = prompt.step.question
    fact = asked.fact
    if fact is not None:
        tool = f"; {fact.tool}" if fact.tool else ""
        yield from page.flow(page.text(f"{fact.measure}{tool}"), indent=_INDENT)
    yield from page.flow(page.text(f"Write: {asked.write_as}"), indent=_INDENT)
    for words in (how_words(asked), demanded_words(asked)):
        if words:
            yield from page.flow(page.text(words), indent=_INDENT)
    yield from page.flow(page.text((WORDS, LABEL)), indent=_INDENT)


def complaint(words: str, page: Page) -> Iterator[Line]:
    """Yield why what was typed was not taken."""
    yield from page.flow(page.text((words, STYLES[Outcome.NOT_VERIFIED])), indent=_INDENT)


def problem_words(problem: Problem) -> str:
    """Return a problem without its place in the file, which nobody at a prompt has seen."""
    told = f"expected {problem.expected}; found {problem.found}"
    return f"{told}; {problem.advice}" if problem.advice else told


def remark(words: str, page: Page) -> Iterator[Line]:
    """Yield a word on what was done."""
    yield from page.flow(page.text((words, LABEL)), indent=_INDENT)


def verdict(found: Verdict, step: Step, audit: Audit, page: Page) -> Iterator[Line]:
    """Yield what the rules say of a reading: failures first."""
    shown = found.findings
    if len(shown) > _MOST_FINDINGS:
        shown = tuple(f for f in shown if f.outcome is Outcome.FAIL) or shown[:_MOST_FINDINGS]
    for finding in shown:
        yield from _finding(finding, step, audit, page)
    rest = len(found.findings) - len(shown)
    told = [f"{rest} more say nothing else"] if rest else []
    if found.waiting:
        rules = "1 rule waits" if found.waiting == 1 else f"{found.waiting} rules wait"
        told.append(f"{rules} for other readings as well")
    if told:
        yield from remark("; ".join(told), page)


def _finding(finding: Finding, step: Step, audit: Audit, page: Page) -> Iterator[Line]:
    rule = finding.rule
    place = "" if finding.place.path == step.place.path else f"{finding.place.label}: "
    name = rule.full_id if rule is not None else finding.about
    title = rule.text("title") if rule is not None else finding.about
    yield from page.flow(
        page.text(page.badge(finding.outcome), f"  {place}{title}"), indent=_INDENT
    )
    if finding.outcome is Outcome.NOT_VERIFIED:
        told = finding.reason
    else:
        margin = margin_words(finding, audit.record, None)
        limit = f"must be {finding.limit}" if finding.limit else finding.reason
        told = ", ".join(filter(None, (limit, margin, finding.remark)))
    yield from page.flow(page.text(f"{told}  ", (f"({name})", LABEL)), indent=2 * _INDENT)


class Left(Struct, frozen=True):
    """How a sitting is left."""

    answers: int
    """Answers written in it."""
    beside: int
    """Notes and photos written in it."""
    open: int
    """Questions that the next one begins with."""
    again: str
    """The command that goes on."""


def closing(audit: Audit, name: str, left: Left, page: Page) -> Iterator[Line]:
    """Yield what was saved, what is left, and how to go on."""
    yield BLANK
    counted = (
        (left.answers, "answer", "answers"),
        (left.beside, "note or photo", "notes or photos"),
    )
    told = [f"{count} {one if count == 1 else many}" for count, one, many in counted if count]
    kept = f"{' and '.join(told)} saved in {name}." if told else f"Nothing was added to {name}."
    rest = f"{_questions(left.open)} left." if left.open else "No question is left."
    yield from page.flow(page.text((f"{kept} {rest}", HEADING)))
    if left.open:
        yield from page.flow(page.text(f"Go on with: {left.again}"))
    counts = ", ".join(f"{audit.counts[o]} {COUNTED[o]}" for o in Outcome if audit.counts[o])
    yield from page.flow(page.text(page.badge(audit.outcome), f"  so far: {counts}"))
