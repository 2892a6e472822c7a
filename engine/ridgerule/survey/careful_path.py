"""A record decided with the ordinary evaluator at hand: what no memo knows is asked of it."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING, Any

from msgspec import Struct, structs

from ridgerule.audit.asking import (
    Asking,
    at_place,
    at_stations,
    stations_needed,
    where_none,
)
from ridgerule.audit.completeness import open_points
from ridgerule.audit.findings import Finding, Outcome
from ridgerule.audit.judge import Setting, holds
from ridgerule.audit.scopes import Scopes
from ridgerule.audit.together import conflicts, limits_together
from ridgerule.facts import SECTIONS, Element, Host
from ridgerule.quantities import Quantity
from ridgerule.record import COMPLETE_KEYS
from ridgerule.survey.arithmetic import TO_RECKON
from ridgerule.survey.light_record import light_record, seldom_read_record
from ridgerule.survey.results import DECISIVE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.record import Place, Record
    from ridgerule.survey.arithmetic import Arithmetic
    from ridgerule.survey.fast_paths import FastPath, Variant
    from ridgerule.survey.groups import Group, Item

_MOST = 200_000
_PLENTY = 1 << 40
"""More stations than there can be: where it is not known how many a host needs."""
Where = tuple[Any, ...]


class _Open(Struct, frozen=True):
    item: Item
    where: Where


class CarefulPath:
    """Decides one record; holds what came out that is neither a pass nor not applicable."""

    def __init__(self, fast: FastPath, variant: Variant, line: bytes, decoded: Any) -> None:  # noqa: ANN401
        """Take the record both as it was decoded and as its line."""
        self.fast = fast
        self.variant = variant
        self.line = line
        self.decoded = decoded
        self.opened: list[_Open] = []
        self.unlisted: tuple[int, ...] = ()
        self.points_open = False
        self._record: Record | None = None
        self._is_decided = False

    @property
    def record(self) -> Record:
        """The ordinary record, made where it is needed first.

        Where something new is asked all of it is read, so that nothing is learned of a record
        that can't be used; where everything is known, as little as findings are made of.
        """
        if self._record is None:
            made = seldom_read_record if self._is_decided else light_record
            record = made(self.line, self.fast.vocabulary)
            self._record = structs.replace(record, computed={})
        return self._record

    # What the written function calls

    def ask(self, number: int, key: Any, where: Where) -> int:  # noqa: ANN401
        """Return what a group comes to at a place; what is new is asked and remembered."""
        memo = self.variant.names[f"M{number}"]
        found = memo.get(key)
        if found is None:
            found = self._reckoned(number, key)
        if found is None:
            if len(memo) >= _MOST:
                memo.clear()
            found = self._learn(self.variant.grouping.groups[number], key, where)
            memo[key] = found
        if self.variant.lanes.is_open(found):
            for item in self.variant.open_items[number, key]:
                self.opened.append(_Open(item, where))
        return int(found)

    def _reckoned(self, number: int, key: Any) -> int | None:  # noqa: ANN401
        """Return what can be reckoned without the ordinary evaluator, else None."""
        arithmetic = self.variant.arithmetic.get(number)
        if arithmetic is None:
            return None
        try:
            return arithmetic.answer(key)
        except KeyError:
            return None

    def listed(self, key: Any) -> int:  # noqa: ANN401
        """Return what comes of what the record says it lists in full."""
        memo = self.variant.names["LISTED"]
        if key not in memo:
            if len(memo) >= _MOST:
                memo.clear()
            memo[key] = self._listed(key)
        found = memo[key]
        if self.variant.lanes.is_open(found):
            self.unlisted, points = self.variant.open_items[-1, key]
            self.points_open |= bool(points)
        return int(found)

    def _listed(self, key: Any) -> int:  # noqa: ANN401
        total, opened = 0, []
        for q, asking in enumerate(self._askings()):
            if asking.check.at is Element.ROOF:
                continue
            for finding in where_none(asking, hosts=self._hosts(asking)):
                if finding.outcome is Outcome.NOT_APPLICABLE:
                    total += self.variant.lanes.not_applicable(asking.books)
                else:
                    total += self.variant.lanes.open
                    opened.append(q)
        points = [p for p in self._points() if p.about in COMPLETE_KEYS]
        total += len(points) * self.variant.lanes.open
        self.variant.open_items[-1, key] = (tuple(opened), tuple(p.about for p in points))
        return total

    def meeting(self, key: Any) -> int:  # noqa: ANN401
        """Return what comes of planes that should meet."""
        memo = self.variant.names["MEETING"]
        if key not in memo:
            if len(memo) >= _MOST:
                memo.clear()
            points = [p for p in self._points() if p.about not in COMPLETE_KEYS]
            memo[key] = len(points) * self.variant.lanes.open
        self.points_open |= bool(memo[key])
        return int(memo[key])

    def short(self, number: int, spots: set[str], size: Any, where: Where) -> int:  # noqa: ANN401
        """Return one open answer where fewer stations were read than a rule demands."""
        group = self.variant.grouping.groups[number]
        needed = self.variant.names[f"N{number}"]
        if size not in needed:
            if len(needed) >= _MOST:
                needed.clear()
            needed[size] = self._needed(group, where)
        if len(spots - {""}) >= needed[size]:
            return 0
        self.opened.append(_Open(structs.replace(group.items[0], what="short"), where))
        return self.variant.lanes.open

    # What the ordinary evaluator says

    def _askings(self) -> Iterator[Asking]:
        for asking in self.variant.askings:
            yield structs.replace(asking, record=self.record)

    def _asking(self, q: int) -> Asking:
        return structs.replace(self.variant.askings[q], record=self.record)

    def _hosts(self, asking: Asking) -> tuple[Place, ...]:
        places = self.record.places
        if asking.check.at is not Element.STATION:
            return places[asking.check.at]
        lines = places[Element.LINE] if asking.check.host is not Host.PLANE else ()
        planes = places[Element.PLANE] if asking.check.host is not Host.LINE else ()
        return (*lines, *planes)

    def _points(self) -> list[Finding]:
        return list(open_points(self.variant.in_use, Scopes(self.record)))

    def _place(self, where: Where) -> Place:
        if where == ("roof",):
            return self.record.roof
        section, id_, *station = where
        element = next(e for e, name in SECTIONS.items() if name == section)
        place = self.record.by_id[element, id_]
        return place.stations[station[0]] if station else place

    def _host(self, where: Where) -> Place:
        return self._place(where[:2])

    def _needed(self, group: Group, where: Where) -> int:
        """Return how many stations a host of this size needs."""
        check = self.variant.askings[group.items[0].questions[0]].check
        needed, lack = stations_needed(check, self._place(where))
        return _PLENTY if lack is not None else needed

    def _learn(self, group: Group, key: Any, where: Where) -> int:  # noqa: ANN401
        total, opened = 0, []
        for item in group.items:
            came = self._came(item, where)
            for finding in came:
                books = self.variant.askings[item.questions[0]].books
                if finding.outcome is Outcome.PASS:
                    total += self.variant.lanes.passed(books)
                elif finding.outcome is Outcome.NOT_APPLICABLE:
                    total += self.variant.lanes.not_applicable(books)
                else:
                    total += self.variant.lanes.open
                    opened.append(item)
            if group.demand:
                asked = [f for f in came if f.outcome is not Outcome.NOT_APPLICABLE]
                known = 2 if asked and asked[0].measured else len(asked)
                self.variant.names[f"R{group.number}"][key] = known
        if opened:
            self.variant.open_items[group.number, key] = tuple(opened)
        if (arithmetic := self.variant.arithmetic.get(group.number)) is not None:
            self._learn_reckoning(arithmetic, group.items[0], key, where)
        return total

    def _learn_reckoning(
        self,
        arithmetic: Arithmetic,
        item: Item,
        key: tuple[Any, ...],
        where: Where,
    ) -> None:
        """Remember whether a rule applies here, and what lines come to that it counts together."""
        asking = self._asking(item.questions[0])
        found, place = self._at(item.questions[0], where), self._place(where)
        memos: list[dict[Any, Any]] = [arithmetic.conditions, *arithmetic.through.values()]
        for memo in memos:
            if len(memo) >= _MOST:
                memo.clear()
        if not found:
            arithmetic.conditions[arithmetic.condition_key(key)] = 0
            return
        when = asking.check.when
        truth = True if when is None else holds(Setting(self.record, place), when).truth
        if truth is not None:
            none = self.variant.lanes.not_applicable(asking.books)
            arithmetic.conditions[arithmetic.condition_key(key)] = TO_RECKON if truth else none
        if arithmetic.place_of_lines is None or key[arithmetic.place_of_lines] is None:
            return
        lines = [self.record.by_id[Element.LINE, id_] for id_ in place.lines or ()]
        for fact, memo in arithmetic.through.items():
            for line, part in zip(lines, key[arithmetic.place_of_lines], strict=True):
                value = fact.derivation(self.record, line).value if fact.derivation else None
                if isinstance(value, Quantity) and isinstance(value.amount, int):
                    memo[part] = (float(value.amount), float(value.amount))

    def _came(self, item: Item, where: Where) -> list[Finding]:
        """Return the findings of one item at one place."""
        match item.what:
            case "host":
                return self._of_host(self._asking(item.questions[0]), self._place(where))
            case "together":
                found = [f for q in item.questions for f in self._at(q, where)]
                return list(conflicts(limits_together(found, self.record)))
            case "short":
                asking, host = self._asking(item.questions[0]), self._place(where)
                return [f for f in at_stations(asking, host) if f.place is host]
            case _:
                return self._at(item.questions[0], where)

    def _of_host(self, asking: Asking, host: Place) -> list[Finding]:
        """Return the finding at a line or plane itself, none where its stations are asked."""
        found = next(iter(at_stations(asking, host)), None)
        return [found] if found is not None and found.place is host else []

    def _at(self, q: int, where: Where) -> list[Finding]:
        """Return a rule's finding at a place, none at a station that it does not ask."""
        asking = self._asking(q)
        check, place = asking.check, self._place(where)
        if check.at is Element.STATION:
            host = self._host(where)
            hosts = check.host_when
            if hosts is not None and holds(Setting(self.record, host), hosts).truth is False:
                return []
            if place.only is not None and not check.of.fact.needs <= place.only:
                return []
        return [at_place(asking, place)]

    # What is kept

    def has_conflict(self) -> bool:
        """Tell whether limits of several rulebooks can't be met together somewhere."""
        return any(opened.item.what == "together" for opened in self.opened)

    def kept(self) -> list[Finding]:
        """Return the findings that are neither a pass nor not applicable, in the audit's order."""
        self._is_decided = True
        tie = count()
        found: list[tuple[Any, ...]] = []
        for opened in self.opened:
            q, order = opened.item.questions[0], self._order(opened)
            found += [
                (q, order, next(tie), finding)
                for finding in self._came(opened.item, opened.where)
                if finding.outcome in DECISIVE
            ]
        for q in self.unlisted:
            asking = self._asking(q)
            for finding in where_none(asking, hosts=self._hosts(asking)):
                if finding.outcome is Outcome.NOT_VERIFIED:
                    found.append((q, (9,), next(tie), finding))
        kept = [entry[-1] for entry in sorted(found, key=lambda entry: entry[:3])]
        return [*kept, *(self._points() if self.points_open else ())]

    def _order(self, opened: _Open) -> tuple[float, ...]:
        """Return where a finding stands among those of one rule."""
        if opened.where == ("roof",):
            return (0,)
        section, id_, *station = opened.where
        host = list(getattr(self.decoded, f"{section}_")).index(id_)
        return (section == "planes", host, station[0] if station else float("inf"))
