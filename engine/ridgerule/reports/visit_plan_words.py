"""What every form of a visit's plan says of a question, in the same words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import Element, How
from ridgerule.problems import with_article
from ridgerule.quantities import Dimension
from ridgerule.visit.wording import either

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.facts import Fact
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.questions import Demanded, Question

WHAT_IT_IS = (
    "A plan of what the rulebooks named in it ask to know; nothing on this roof was judged. What "
    "every report says of itself goes for this plan too:"
)
CONFLICT = "no answer meets both: ask the authorities which of them governs"


def asked_if(question: Question) -> str:
    """Return when a question is asked: `only if vented is no`; nothing where it always is."""
    return f"only if {question.only_if}" if question.only_if else ""


def how_words(question: Question) -> str:
    """Return how the answer has to be known; nothing where any way will do."""
    ways = either(how.value for how in How if how in question.accepted)
    if not ways:
        return "with a photo" if question.photo else ""
    return f"known by: {ways}{', with a photo' if question.photo else ''}"


def must_be(question: Question) -> str:
    """Return what must be by the limits that govern, with their aims; nothing without a limit."""
    return "; ".join(dict.fromkeys(_governing(question)))


def limit_words(question: Question) -> str:
    """Return the same as it follows "must be"."""
    told = (words.removeprefix("must be ") for words in _governing(question))
    return "; ".join(dict.fromkeys(told))


def _governing(question: Question) -> Iterator[str]:
    for demanded in question.demanded:
        if demanded.limit and not demanded.is_governed and not demanded.is_computed:
            yield _limit(demanded)
    if question.is_in_conflict:
        yield CONFLICT


def _limit(demanded: Demanded) -> str:
    aim = f", aim {demanded.aim}" if demanded.aim else ""
    return f"{demanded.subject} must be {demanded.limit}{aim}".strip()


def demanded_words(question: Question) -> str:
    """Return every limit with the rule that has it, and what else the answer is for."""
    return "; ".join(_demands([question]))


def _demands(questions: Iterable[Question]) -> Iterator[str]:
    """Yield every limit with the rules that have it, then what else the answers are for."""
    limits: dict[str, dict[str, None]] = {}
    uses: dict[str, dict[str, None]] = {}
    for question in questions:
        for demanded in question.demanded:
            if demanded.limit:
                limits.setdefault(_limit(demanded), {})[rule_words(demanded)] = None
            else:
                about = demanded.rule or demanded.title
                uses.setdefault(demanded.purpose, {})[about] = None
        if question.is_in_conflict:
            limits.setdefault(CONFLICT, {})
    for words, rules in limits.items():
        yield f"{words} ({rules_words(rules)})" if rules else words
    for purpose, rules in uses.items():
        yield f"{purpose} {rules_words(rules)}".strip()


def rule_words(demanded: Demanded) -> str:
    """Return a rule with the rulebook that changed its limit."""
    changed = f", as {demanded.limit_from} has it" if demanded.limit_from else ""
    return f"{demanded.rule}{changed}"


def rules_words(rules: Iterable[str]) -> str:
    """Return rules by their names, the rulebook of several said once."""
    by_book: dict[str, list[str]] = {}
    for rule in rules:
        book, mark, id_ = rule.partition("#")
        by_book.setdefault(book, []).append(f"{mark}{id_}")
    return ", ".join(f"{book}{', '.join(ids)}" for book, ids in by_book.items())


def written_words(question: Question) -> str:
    """Return how the answer is written: its words to choose from, or an example of it."""
    is_quantity = question.fact is not None and isinstance(question.fact.dimension, Dimension)
    return f"such as {question.write_as}" if is_quantity else question.write_as


def station_count(plan: VisitPlan) -> int:
    """Return how many stations a plan comes to, in all its parts."""
    stations = {
        station.place.path
        for part in plan.parts
        for stop in part.stops
        for station in stop.stations
    }
    return len(stations)


def laid_out_words(plan: VisitPlan) -> str:
    """Return how stations were laid out, so that anyone can lay them out again."""
    if plan.seed:
        return (
            f"drawn with seed {plan.seed}; the same seed draws the same ones while lengths and "
            "stations recorded stay as they are"
        )
    return "spread evenly, off the very ends"


class Definition(Struct, frozen=True):
    """A fact that is asked: how it is measured, and every rule that asks for it."""

    element: Element
    name: str
    measured: str
    demanded: tuple[str, ...]

    @property
    def words(self) -> str:
        """All of it in sentences."""
        return " ".join(map(sentence, (self.measured, *self.demanded)))


def definitions(plan: VisitPlan) -> tuple[Definition, ...]:
    """Return the facts that are asked, each once, in the order of the walk."""
    asked: dict[Fact, list[Question]] = {}
    for question in plan.questions:
        if question.fact is not None:
            asked.setdefault(question.fact, []).append(question)
    return tuple(
        Definition(
            fact.element,
            fact.name.replace("_", " "),
            f"{fact.measure}, with {with_article(fact.tool)}" if fact.tool else fact.measure,
            tuple(_demands(questions)),
        )
        for fact, questions in asked.items()
    )


def sentence(words: str) -> str:
    """Return words as a sentence."""
    return f"{words[:1].upper()}{words[1:]}."


def so_far(question: Question) -> str:
    """Return what the record says already and why that is not enough; nothing where it doesn't."""
    return f"so far: {question.known}" if question.known else ""


def listed(words: Sequence[str]) -> str:
    """Return words as a sentence lists them; words with commas of their own by semicolons."""
    if len(words) < 2:
        return "".join(words)
    if any("," in each for each in words):
        return "; ".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
