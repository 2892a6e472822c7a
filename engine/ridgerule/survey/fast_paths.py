"""Records decided by look-up: a memo of what the ordinary evaluator said of the same readings.

Nothing is decided here. Whatever a look-up does not know is asked of `audit`, once; and whatever
is neither a plain pass nor plainly "not applicable" is asked of it each time: its finding is made.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from msgspec import UNSET, Struct, structs

from ridgerule.audit.asking import Asking, asking_of
from ridgerule.audit.editions import editions_in_use
from ridgerule.audit.evaluate import questions
from ridgerule.audit.scopes import Scopes
from ridgerule.facts import Element, read_date
from ridgerule.quantities import Mistake
from ridgerule.rulebook import DateKind
from ridgerule.survey.arithmetic import Arithmetic, arithmetic_of
from ridgerule.survey.dependencies import Unfollowed, needs_of
from ridgerule.survey.fast_names import MOST_REMEMBERED, names_for, readers_for
from ridgerule.survey.fast_source import written
from ridgerule.survey.groups import Grouping, sorted_questions
from ridgerule.survey.lanes import Lanes
from ridgerule.survey.light_record import light_roof
from ridgerule.survey.shapes import Shapes, attribute, shapes_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.audit.editions import InUse
    from ridgerule.audit.plan import Check, Plan
    from ridgerule.facts import Fact, Vocabulary
    from ridgerule.record import Record


class Variant(Struct):
    """The questions that a record of some dates and some covering is asked, ready to look up."""

    in_use: tuple[InUse, ...]
    askings: tuple[Asking, ...]
    """The questions in their order, each with an empty place for the record."""
    grouping: Grouping
    lanes: Lanes
    always: int
    """What comes out whatever the roof is like: rules out of scope, rules withdrawn."""
    names: dict[str, Any]
    """What the written functions look up, by the names they know it by."""
    quick: Callable[[Any], int]
    careful: Callable[[Any, Any], int]
    arithmetic: dict[int, Arithmetic]
    """By group, how its one rule is reckoned."""
    open_items: dict[tuple[int, Any], tuple[Any, ...]]
    """By group and key, the items that were neither passed nor not applicable."""
    source: str


class FastPath:
    """Decides the records of one plan and one vocabulary; remembers what it was told."""

    def __init__(self, plan: Plan, vocabulary: Vocabulary) -> None:
        """Take a plan and the facts that its records are read with."""
        self.plan = plan
        self.vocabulary = vocabulary
        self.shapes: Shapes = shapes_of(vocabulary)
        self.roof_facts = _deciding_facts(plan)
        """The facts of the roof that pick editions and scopes; None where more decides them."""
        self.shared: dict[str, Any] = names_for(self.shapes, vocabulary)
        self._variants: dict[tuple[object, ...], Variant | None] = {}
        self._periods: dict[DateKind, dict[str, object]] = {}
        self._by_questions: dict[tuple[object, ...], Variant | None] = {}

    def known_variant(self, decoded: Any) -> Variant | None:  # noqa: ANN401 - a decoded record
        """Return the variant of a record; raises KeyError where its dates or words are new."""
        return self._variants[self.roof_key(decoded)]

    def variant(self, decoded: Any, line: bytes) -> Variant | None:  # noqa: ANN401
        """Return the variant of a record, None where it is to be evaluated in the ordinary way.

        Raises `InputRejected` where its roof can't be read.
        """
        if self.roof_facts is None:
            return None
        key = self.roof_key(decoded)
        if key not in self._variants:
            if len(self._variants) > MOST_REMEMBERED:
                self._variants.clear()
            self._variants[key] = self._made(light_roof(line, self.vocabulary))
        return self._variants[key]

    def roof_key(self, decoded: Any) -> tuple[object, ...]:  # noqa: ANN401
        """Return the readings that pick a record's editions and scopes."""
        found = []
        for section, key, kind in self.roof_facts or ():
            part = getattr(decoded, section)
            value = UNSET if part is UNSET else getattr(part, key)
            found.append(value if kind is None else self._period(kind, value))
        normal: tuple[object, ...] = self.shared["normal"](tuple(found))
        return normal

    def _period(self, kind: DateKind, raw: Any) -> object:  # noqa: ANN401 - as it was decoded
        """Return which editions are in force on a date, or the reading that is no plain date."""
        if not isinstance(raw, str):
            return raw
        memo = self._periods.setdefault(kind, {})
        found = memo.get(raw)
        if found is None:
            if len(memo) >= MOST_REMEMBERED:
                memo.clear()
            day = read_date(raw)
            editions = (e for b in self.plan.books for e in b.editions)
            found = memo[raw] = (
                raw
                if isinstance(day, Mistake)
                else tuple(e.book.in_force_by is kind and e.book.in_force.covers(day)
                           for e in editions)
            )  # fmt: skip
        return found

    def _made(self, record: Record) -> Variant | None:
        in_use = editions_in_use(self.plan, record)
        scopes = Scopes(record)
        asked = list(questions(in_use, scopes))
        if any(gate or scopes.of(check).truth is None for check, gate, _ in asked):
            return None
        if any(used.doubt for used in in_use):
            return None
        signature = tuple((id(check), books, scopes.of(check).truth) for check, _, books in asked)
        if signature not in self._by_questions:
            self._by_questions[signature] = self._built(in_use, asked, scopes, record)
        return self._by_questions[signature]

    def _built(
        self,
        in_use: tuple[InUse, ...],
        asked: list[tuple[Check, str, tuple[str, ...]]],
        scopes: Scopes,
        record: Record,
    ) -> Variant | None:
        lanes = Lanes(tuple(dict.fromkeys(used.edition.book.name for used in in_use)))
        always = 0
        askings = []
        for check, _, books in asked:
            if scopes.of(check).truth is False:
                always += lanes.not_applicable(books)
            askings.append(asking_of(check, record, books=books))
        for used in in_use:
            name = used.edition.book.name
            always += len(used.edition.adapted.withdrawn) * lanes.not_applicable((name,))
        inside = tuple(a for a in askings if scopes.of(a.check).truth is True)
        return self._compiled(in_use, inside, lanes, always)

    def _compiled(
        self, in_use: tuple[InUse, ...], askings: tuple[Asking, ...], lanes: Lanes, always: int
    ) -> Variant | None:
        checks = [asking.check for asking in askings]
        facts = {(f.element, f.name): f for f in self.vocabulary.facts}
        grouping = sorted_questions(checks, facts)
        if grouping.ordinary:
            return None
        ids = [asking.check.rule.full_id for asking in askings]
        names = dict(self.shared)
        for (_, kind), never in grouping.never.items():
            names[f"NEVER_{kind}"] = sum(lanes.not_applicable(askings[q].books) for q in never)
        for group in grouping.groups:
            names[f"M{group.number}"] = {}
            if group.demand:
                names[f"R{group.number}"], names[f"N{group.number}"] = {}, {}
        arithmetic = _arithmetic(grouping, askings, lanes)
        names |= {f"A{number}": found.answer for number, found in arithmetic.items()}
        functions = {}
        for careful in (False, True):
            made = written(
                grouping, self.shapes.facts, ids, careful=careful, reckoned=frozenset(arithmetic)
            )
            for number, found in enumerate(made.readable):
                names[f"V{number}"] = self._readable_memo(found)
            exec(compile(made.source, "<decided by look-up>", "exec"), names)  # noqa: S102 - ours
            functions[careful] = names["decide"], made
        names |= {"LISTED": {}, "MEETING": {}, "OPEN": lanes.open}
        readable = functions[True][1].readable
        names |= readers_for(names, readable, self.shapes, self.vocabulary)
        bare = tuple(structs.replace(a, record=None) for a in askings)
        return Variant(
            in_use, bare, grouping, lanes, always, names,
            functions[False][0], functions[True][0], arithmetic, {},
            functions[False][1].source,
        )  # fmt: skip

    def _readable_memo(self, facts: tuple[Fact, ...]) -> set[Any]:
        """Return the readings known to be readable as these facts, shared by all variants."""
        memos: dict[tuple[str, ...], set[Any]] = self.shared["READ"]
        return memos.setdefault(tuple(fact.full_name for fact in facts), set())


def _arithmetic(
    grouping: Grouping, askings: tuple[Asking, ...], lanes: Lanes
) -> dict[int, Arithmetic]:
    """Return how the groups of a single rule are reckoned, where they can be."""
    found = {}
    for group in grouping.groups:
        if len(group.items) == 1 and group.items[0].what == "check" and not group.demand:
            asking = askings[group.items[0].questions[0]]
            condition = needs_of(asking.check.at, (asking.check.when,))
            if asking.check.at is Element.STATION:
                condition.own.add("only")
            passed = lanes.passed(asking.books)
            made = arithmetic_of(asking.check, group.needs, condition, passed)
            if made is not None:
                found[group.number] = made
    return found


def _deciding_facts(plan: Plan) -> tuple[tuple[str, str, DateKind | None], ...] | None:
    """Return the sections and keys of the roof's facts that editions and scopes depend on."""
    editions = [edition for planned in plan.books for edition in planned.editions]
    scopes = [check.scope for edition in editions for check in edition.checks]
    try:
        needs = needs_of(Element.ROOF, {id(s): s for s in scopes}.values())
    except Unfollowed:
        return None
    if needs.hops:
        return None
    by_name = plan.vocabulary.by_element[Element.ROOF]
    dates = {f"{kind}_date": kind for kind in DateKind
             if any(edition.book.in_force_by is kind for edition in editions)}  # fmt: skip
    kinds = {**dict.fromkeys(sorted(needs.own)), **dates}
    # A date that a scope asks for as well counts as it is written.
    return tuple(
        (
            attribute(by_name[name].section or "roof"),
            attribute(by_name[name].key if by_name[name].section else name),
            None if name in needs.own else kind,
        )
        for name, kind in kinds.items()
        if name in by_name
    )
