"""The source of one function that decides a whole record, written from the questions of a plan.

It looks up each group of rules at each place by the readings they rest on, and adds up what the
memo says came out. `M…` are memos by group, `A…` reckons what no memo holds, `V…` holds what has
been seen to be readable. Readings that no memo holds raise `KeyError` in the quick form; in the
careful one the ordinary evaluator is asked.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import SECTIONS, Element, LineKind
from ridgerule.survey.dependencies import PHOTO, Needs
from ridgerule.survey.shapes import attribute
from ridgerule.survey.source_pieces import Source, Spot

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridgerule.facts import Fact
    from ridgerule.survey.groups import Group, Grouping

_NAMED = {
    Element.JOINT: (("lines", Element.LINE),),
    Element.OPENING: (("plane", Element.PLANE),),
    Element.WALL: (("plane", Element.PLANE),),
    Element.ATTIC: (("planes", Element.PLANE), ("lines", Element.LINE)),
    Element.DELIVERY: (("lines", Element.LINE),),
    Element.SAMPLE: (("plane", Element.PLANE), ("line", Element.LINE)),
}
"""The keys by which a place names planes and lines."""
_MEETING = (LineKind.HIP, LineKind.RIDGE, LineKind.VALLEY)


class Written(Struct, frozen=True):
    """A function's source, and the facts whose readings each `V…` holds."""

    source: str
    readable: tuple[tuple[Fact, ...], ...]


class _Writer(Source):
    def __init__(
        self,
        grouping: Grouping,
        facts: Mapping[tuple[Element, Element | None], tuple[Fact, ...]],
        rule_ids: Sequence[str],
        *,
        careful: bool,
        reckoned: frozenset[int],
    ) -> None:
        super().__init__(grouping, facts, rule_ids, careful=careful, reckoned=reckoned)
        self.wanted = self.wanted_by_others()

    # What is read

    def wanted_by_others(self) -> dict[Element, dict[str, Needs]]:
        found: dict[Element, dict[str, Needs]] = {Element.PLANE: {}, Element.LINE: {}}
        for group in self.grouping.groups:
            self.find_wanted(group.branch[0], group.needs, found)
        return found

    def find_wanted(
        self, element: Element, needs: Needs, found: dict[Element, dict[str, Needs]]
    ) -> None:
        for there, inner in needs.hops.items():
            if there in found and not (element is Element.STATION and there is Element.LINE):
                if there is Element.LINE and Element.PLANE in inner.hops:
                    inner.own.add("kind")
                found[there][_name(inner)] = inner
            self.find_wanted(there, inner, found)

    def mapping(self, element: Element, needs: Needs) -> str:
        name = _name(needs)
        key = (element, name)
        if key not in self.shared:
            self.shared[key] = f"{element.value}_keys_{len(self.shared)}"
        return self.shared[key]

    def write(self) -> Written:
        self.put(0, f"def decide(r{', c' if self.careful else ''}):")
        self.put(1, "total = 0")
        self.roof()
        for element in (Element.PLANE, Element.LINE):
            for needs in self.wanted[element].values():
                self.put(1, f"{self.mapping(element, needs)} = {{}}")
        self.put(1, *(f"n_{kind} = False" for kind in LineKind))
        self.put(1, "facing = []", "met = []", "planes = {}", "lines = {}")
        self.section(Element.PLANE)
        self.section(Element.LINE)
        for element in _NAMED:
            self.section(element)
        self.whole()
        self.put(1, "return total")
        source = "\n".join([*self.functions, *self.lines]) + "\n"
        return Written(source, tuple(self.readable))

    def roof(self) -> None:
        used = self.own_facts(Element.ROOF) - {PHOTO}
        by_section: dict[str, list[Fact]] = {"roof": []}
        for fact in self.facts[Element.ROOF, None]:
            by_section.setdefault(fact.section or "roof", []).append(fact)
        self.put(1, f"r_{PHOTO} = r.roof_.photo_ is U")
        for section, facts in by_section.items():
            self.put(1, f"x = r.{attribute(section)}")
            for fact in facts:
                held = f"r_{fact.name}"
                key = attribute(fact.key if fact.section else fact.name)
                self.put(1, f"{held} = U if x is U else x.{key}")
                self.shorten(1, held, fact)
                self.test(1, held, fact)
        known = {fact.name for fact in self.facts[Element.ROOF, None]}
        self.put(1, *(f"r_{name} = U" for name in sorted(used - known)))
        for group in self.groups((Element.ROOF, "")):
            self.ask(1, group, self.key(group.needs, "r", Element.ROOF), '("roof",)')

    def own_facts(self, element: Element) -> set[str]:
        """Return the facts of the roof that are read from anywhere."""
        found: set[str] = set()

        def gather(at: Element, needs: Needs) -> None:
            if at is element:
                found.update(needs.own)
            for there, inner in needs.hops.items():
                gather(there, inner)

        for group in self.grouping.groups:
            gather(group.branch[0], group.needs)
        return found

    def groups(self, branch: tuple[Element, str]) -> list[Group]:
        return [group for group in self.grouping.groups if group.branch == branch]

    def key(self, needs: Needs, prefix: str, element: Element) -> str:
        """Return the expression of what a group's answers rest on, at the place in hand."""
        parts = [f"{prefix}_{name}" for name in sorted(needs.own)]
        for there in sorted(needs.hops):
            inner = needs.hops[there]
            if there is Element.ROOF:
                parts += [f"r_{name}" for name in sorted(inner.own)]
            elif there is Element.STATION:
                parts.append(
                    f"{'many' if inner.order_matters else 'any_of'}({self.gathered(inner)})"
                )
            elif element is Element.STATION and there is Element.LINE:
                parts.append(self.key(inner, "x", Element.LINE))
            elif element in (Element.LINE, Element.STATION) and there is Element.PLANE:
                parts.append(f"beside_{self.mapping(there, inner)}")
            else:
                parts.append(f"named_{self.mapping(there, inner)}")
        return f"({', '.join(parts)},)"

    def gathered(self, needs: Needs) -> str:
        return f"at_stations_{self.lists.setdefault(_name(needs), len(self.lists))}"

    # The places

    def section(self, element: Element) -> None:
        section = SECTIONS[element]
        self.put(1, "", f"# {section}", f"if r.{attribute(section)} is not U:")
        self.put(2, f"{section} = r.{attribute(section)}")
        self.unless(2, f"not IDS.issuperset({section})", f"known_ids({section})")
        self.put(2, f"for id_, x in {section}.items():")
        if element is Element.LINE:
            self.line()
        elif element is Element.PLANE:
            self.function(3, f"{self.form}_plane", self.plane)
        else:
            self.function(3, f"{self.form}_{element.value}", lambda: self.place(element))

    def place(self, element: Element) -> None:
        for key, there in _NAMED[element]:
            many = key.endswith("s")
            held = f"x.{attribute(key)}"
            known = SECTIONS[there]
            self.put(1, f"b = {held}")
            if many:
                self.put(
                    1, f"if b is not U and (len({{*b}}) != len(b) or not {known}.keys() >= {{*b}}):"
                )
            else:
                self.put(1, f"if b is not U and b not in {known}:")
            self.put(2, "raise Unusual")
            for needs in self.wanted.get(there, {}).values():
                name = self.mapping(there, needs)
                found = f"tuple(map({name}.__getitem__, b))" if many else f"({name}[b],)"
                if self.is_named(element, there, needs):
                    self.put(1, f"named_{name} = None if b is U else {found}")
        branch = (element, "")
        used = {name for group in self.groups(branch) for name in group.needs.own}
        here = Spot("x", element)
        self.locals(1, here, used)
        self.rest(1, here, used, used)
        for group in self.groups(branch):
            where = f'("{SECTIONS[element]}", id_)'
            self.ask(1, group, self.key(group.needs, "x", element), where)

    def is_named(self, element: Element, there: Element, needs: Needs) -> bool:
        return any(
            there in group.needs.hops and _name(group.needs.hops[there]) == _name(needs)
            for group in self.groups((element, ""))
        )

    def plane(self) -> None:
        self.put(1, "b = (id_,)")
        self.host(1, Element.PLANE, "", "planes")

    def line(self) -> None:
        self.put(3, "b = x.between_", "kind = x.kind_")
        self.put(3, "if b is U or len(b) > 2 or b[0] not in planes or b[-1] not in planes:")
        self.put(4, "raise Unusual")
        self.put(3, "if len(b) == 2 and b[0] == b[1]:", "    raise Unusual")
        self.put(3, "if x.plan_ is not U:", "    points(x.plan_)")
        for i, kind in enumerate(LineKind):
            self.put(3, f'{"elif" if i else "if"} kind == "{kind}":')
            self.put(4, f"n_{kind} = True")
            if kind in (LineKind.EAVE, LineKind.RAKE):
                self.put(4, "if len(b) > 1:", "    raise Unusual")
            if kind in _MEETING:
                self.put(4, "met.append(b)")
            self.function(4, f"{self.form}_{kind}", partial(self.line_of_kind, kind))
        self.put(3, "else:", "    raise Unusual")

    def line_of_kind(self, kind: LineKind) -> None:
        self.put(1, "b = x.between_")
        mark = len(self.lines)
        self.host(1, Element.LINE, kind, "lines")
        body = "\n".join(self.lines[mark:])
        beside = [
            f"    beside_{name} = tuple(map({name}.__getitem__, b))"
            for name in (
                self.mapping(Element.PLANE, n) for n in self.wanted[Element.PLANE].values()
            )
            if f"beside_{name}" in body
        ]
        self.lines[mark:mark] = beside

    def host(self, depth: int, element: Element, kind: str, section: str) -> None:
        """Write what is asked of a plane or a line of one kind, stations first."""
        branch = (element, kind)
        wanted = self.wanted[element].values()
        stations = f"{element.value} {kind}".strip()
        used = self.used_of_host(element, kind, stations)
        here = Spot("x", element)
        self.locals(depth, here, used)
        if element is Element.PLANE:
            self.put(depth, "facing.append((direction(x_faces), id_))")
            for needs in wanted:  # before the stations, which see their plane
                if Element.STATION not in needs.hops:
                    self.export(depth, element, needs)
                    name = self.mapping(element, needs)
                    self.put(depth, f"beside_{name} = ({name}[id_],)")
        keyed = {name for group in self.groups(branch) for name in group.needs.own}
        self.rest(depth, here, used, keyed)
        if out := self.grouping.never.get(branch):
            self.put(depth, f"# never of {kind}: {', '.join(self.rule_ids[q] for q in out)}")
            self.put(depth, f"total += NEVER_{kind}")
        self.stations(depth, element, stations, section)
        for group in self.groups(branch):
            key = self.key(group.needs, "x", element)
            self.ask(depth, group, key, f'("{section}", id_)')
        for needs in wanted:
            if element is Element.LINE or Element.STATION in needs.hops:
                self.export(depth, element, needs)

    def used_of_host(self, element: Element, kind: str, stations: str) -> set[str]:
        """Return the facts of a plane or line that something asked here reads."""
        used: set[str] = set()

        def gather(at: Element, needs: Needs) -> None:
            if at is element:
                used.update(needs.own)
            for there, inner in needs.hops.items():
                gather(there, inner)

        on_stations = self.groups((Element.STATION, stations))
        for group in (*self.groups((element, kind)), *on_stations):
            gather(group.branch[0], group.needs)
        for needs in self.wanted[element].values():
            gather(element, needs)
        if any(group.demand for group in on_stations):
            used.add("length" if element is Element.LINE else "area")
        return used | ({"faces"} if element is Element.PLANE else set())

    def export(self, depth: int, element: Element, needs: Needs) -> None:
        key = self.key(needs, "x", element)
        self.put(depth, f"{self.mapping(element, needs)}[id_] = {key}")

    def station_needs(self, element: Element, kind: str) -> dict[str, Needs]:
        """Return what the host itself, or others through it, read of its stations."""
        found = {}
        hosts = [group.needs for group in self.groups((element, kind))]
        for needs in (*hosts, *self.wanted[element].values()):
            if Element.STATION in needs.hops:
                found[_name(needs.hops[Element.STATION])] = needs.hops[Element.STATION]
        return found

    def keyed_of_stations(self, element: Element, kind: str, stations: str) -> set[str]:
        """Return the facts of stations that are part of a key wherever there is a station."""
        keyed = {name for g in self.groups((Element.STATION, stations)) for name in g.needs.own}
        for group in self.groups((element, kind)):
            if Element.STATION in group.needs.hops:
                keyed |= group.needs.hops[Element.STATION].own
        return keyed

    def stations(self, depth: int, element: Element, stations: str, section: str) -> None:
        """Write what is asked of the stations of a plane or line, and what it reads of them."""
        kind = stations.partition(" ")[2]
        lists = self.station_needs(element, kind)
        groups = self.groups((Element.STATION, stations))
        demanding = [group for group in groups if group.demand]
        for needs in lists.values():
            self.put(depth, f"{self.gathered(needs)} = []")
        for group in demanding:
            self.put(depth, f"spots_{group.number} = set()", f"asked_{group.number} = False")
        self.put(depth, "if x.stations_ is not U:")
        inner = depth + 2
        each = "i, s in enumerate(x.stations_)" if self.careful else "s in x.stations_"
        self.put(depth + 1, f"for {each}:")
        used = {name for group in groups for name in group.needs.own}
        for needs in lists.values():
            used |= needs.own
        used |= {"only"}
        there = Spot("s", Element.STATION, element)
        self.locals(inner, there, used)
        self.rest(inner, there, used, self.keyed_of_stations(element, kind, stations))
        if element is Element.LINE:
            self.unless(inner, "s.at_ not in AT", "position(s.at_)")
        known = f"ONLY_{element.value}"
        self.put(inner, "if s_only is not U:")
        look = f"only({known}, s_only, '{element.value}')"
        self.unless(inner + 1, f"s_only not in {known}", look)
        self.put(inner + 1, f"if not {known}[s_only](s):", "    raise Unusual")
        for needs in lists.values():
            self.put(
                inner, f"{self.gathered(needs)}.append({self.key(needs, 's', Element.STATION)})"
            )
        self.station_groups(inner, element, groups, section)
        for group in demanding:
            n = group.number
            size = "x_length" if element is Element.LINE else "x_area"
            where = f', ("{section}", id_)' if self.careful else ""
            short = f"c.short({n}, spots_{n}, {size}{where})"
            if not self.careful:
                short = f"(len(spots_{n} - NOWHERE) < N{n}[{size}]) and OPEN"
            self.put(depth, f"if asked_{n}:", f"    total += {short}")

    def station_groups(
        self, inner: int, element: Element, groups: Sequence[Group], section: str
    ) -> None:
        """Write what is asked of each station, and which of them count as read."""
        for group in groups:
            key = self.key(group.needs, "s", Element.STATION)
            if group.demand:
                self.put(inner, f"k = {key}")
                key = "k"
            where = f'("{section}", id_, i)'
            self.ask(inner, group, key, where)
            if group.demand:
                n = group.number
                spot = "AT[s.at_]" if element is Element.LINE else "spot(s.at_)"
                self.put(inner, f"m = R{n}[k]", "if m:", f"    asked_{n} = True",
                         "    if m == 2:", f"        spots_{n}.add({spot})")  # fmt: skip

    def whole(self) -> None:
        """Write what is asked of the record as a whole: is everything listed, do planes meet."""
        kinds = ", ".join(f"n_{kind}" for kind in LineKind)
        others = ", ".join(f"bool(r.{attribute(SECTIONS[e])})" for e in (Element.PLANE, *_NAMED))
        self.put(1, "", "# what the record lists in full")
        self.put(1, f"k = (complete(r), {kinds}, {others})")
        self.put(1, "total += c.listed(k)" if self.careful else "total += LISTED[k]")
        self.put(1, "k = (ring(facing), frozenset(met), apart(r))")
        self.put(1, "total += c.meeting(k)" if self.careful else "total += MEETING[k]")
        self.put(1, "if r.instruments_ is not U:", "    instruments(r.instruments_)")


def written(
    grouping: Grouping,
    facts: Mapping[tuple[Element, Element | None], tuple[Fact, ...]],
    rule_ids: Sequence[str],
    *,
    careful: bool,
    reckoned: frozenset[int],
) -> Written:
    """Return the function for one variant, in its quick or its careful form.

    `reckoned` are the groups whose answer can be reckoned where no memo holds it.
    """
    return _Writer(grouping, facts, rule_ids, careful=careful, reckoned=reckoned).write()


def _name(needs: Needs) -> str:
    hops = "; ".join(f"{e.value}: {_name(n)}" for e, n in sorted(needs.hops.items()))
    return f"{' '.join(sorted(needs.own))} [{hops}] {needs.order_matters}"
