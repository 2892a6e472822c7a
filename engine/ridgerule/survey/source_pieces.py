"""Pieces of written source that every kind of place has: its readings, and the look-up of them."""

from __future__ import annotations

import ast
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.quantities import Dimension
from ridgerule.survey.dependencies import PHOTO
from ridgerule.survey.shapes import attribute

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from ridgerule.facts import Element, Fact
    from ridgerule.survey.groups import Group, Grouping


class Spot(Struct, frozen=True):
    """A place in hand, and what the source calls it."""

    prefix: str
    element: Element
    host: Element | None = None


class Source:
    """Source in the making: lines, the functions they call, and what these look up."""

    def __init__(
        self,
        grouping: Grouping,
        facts: Mapping[tuple[Element, Element | None], tuple[Fact, ...]],
        rule_ids: Sequence[str],
        *,
        careful: bool,
        reckoned: frozenset[int],
    ) -> None:
        self.reckoned = reckoned
        self.grouping = grouping
        self.facts = facts
        self.rule_ids = rule_ids
        self.careful = careful
        self.form = "careful" if careful else "quick"
        self.lines: list[str] = []
        self.functions: list[str] = []
        """One for each kind of place, called for each of them."""
        self.readable: list[tuple[Fact, ...]] = []
        self.shared: dict[tuple[Element, str], str] = {}
        """By element and needs, the name of the mapping from id to what others read there."""
        self.lists: dict[str, int] = {}
        """By needs, the number of the list of what a host reads of its stations."""

    def put(self, depth: int, *lines: str) -> None:
        """Write lines, so deep inside others."""
        self.lines += [f"{'    ' * depth}{line}" for line in lines]

    def ask(self, depth: int, group: Group, key: str, where: str) -> None:
        """Write the look-up of a group by its key, the ids of its rules beside it."""
        ids = ", ".join(
            f"{item.what} {self.rule_ids[q]}" if item.what != "check" else self.rule_ids[q]
            for item in group.items for q in item.questions
        )  # fmt: skip
        self.put(depth, f"# {ids}")
        number = group.number
        if self.careful:
            self.put(depth, f"total += c.ask({number}, {key}, {where})")
        elif number in self.reckoned:
            self.put(depth, f"k = {key}", f"total += M{number}.get(k) or A{number}(k)")
        else:
            self.put(depth, f"total += M{number}[{key}]")

    def unless(self, depth: int, test: str, otherwise: str) -> None:
        """Write a test of what has been seen before, and the call that looks at what has not."""
        self.put(depth, f"if {test}:", f"    {otherwise}")

    def function(self, depth: int, name: str, write: Callable[[], None]) -> None:
        """Write a function of its own for a kind of place, and the call of it here.

        It is given whatever of the record as a whole it reads. Small functions stay quick: Python
        reads the first 256 names of one faster than any after them.
        """
        outer, self.lines = self.lines, []
        self.put(1, "total = 0")
        write()
        self.put(1, "return total", "")
        body, self.lines = self.lines, outer
        tree = ast.parse("\n".join(["def f():", *body]))
        names = [node for node in ast.walk(tree) if isinstance(node, ast.Name)]
        stored = {node.id for node in names if isinstance(node.ctx, ast.Store)}
        read = {node.id for node in names} - stored
        given = ", ".join(["id_", "x", *sorted(n for n in read if _is_of_record(n))])
        self.functions += [f"def {name}({given}):", *body]
        self.put(depth, f"total += {name}({given})")

    def shorten(self, depth: int, local: str, fact: Fact) -> None:
        """Write what makes a long form the part of a key it counts as."""
        parts = f"value_, {local}.how_, {local}.photo_ is U, {local}.by_ is U, {local}.repeats_"
        self.put(
            depth, f"if {local}.__class__ is {_long(fact)}:", f"    {local} = ({local}.{parts})"
        )

    def test(self, depth: int, local: str, fact: Fact) -> None:
        """Write the test that one reading can be read."""
        number = len(self.readable)
        self.readable.append((fact,))
        self.put(depth, f"if {local} is not U:")
        self.unless(depth + 1, f"({local},) not in V{number}", f"readable({number}, ({local},))")

    def locals(self, depth: int, place: Spot, used: Iterable[str]) -> None:
        """Write what makes each reading the part of a key it counts as."""
        known = {fact.name: fact for fact in self.facts[place.element, place.host]}
        for name in sorted(used):
            local, held = f"{place.prefix}_{name}", f"{place.prefix}.{attribute(name)}"
            fact = known.get(name)
            if name == PHOTO:
                self.put(depth, f"{local} = {held} is U")
            elif name == "only":
                self.put(depth, f"{local} = {held}")
            elif fact is None:  # stands on the other sort of host alone
                self.put(depth, f"{local} = U")
            else:
                self.put(depth, f"{local} = {held}")
                if fact.per_side:
                    self.put(
                        depth, f"if {local}.__class__ is dict:", f"    {local} = sides({local}, b)"
                    )
                else:
                    self.shorten(depth, local, fact)

    def rest(self, depth: int, place: Spot, used: set[str], keyed: set[str]) -> None:
        """Write the test that what is part of no key here can be read all the same.

        Quantities are tested one by one: together they would take too many values.
        """
        rest = [f for f in self.facts[place.element, place.host] if f.name not in keyed]
        single = [f for f in rest if f.per_side or isinstance(f.dimension, Dimension)]
        plain = tuple(fact for fact in rest if fact not in single)
        for fact in single:
            if fact.name not in used:
                self.locals(depth, place, [fact.name])
            self.test(depth, f"{place.prefix}_{fact.name}", fact)
        if plain:
            number = len(self.readable)
            self.readable.append(plain)
            held = ", ".join(f"{place.prefix}.{attribute(fact.name)}" for fact in plain)
            self.put(depth, f"k = ({held},)")
            self.put(depth, f"if k != ({'U, ' * len(plain)}) and k not in V{number}:")
            self.put(depth + 1, "k = normal(k)")
            self.unless(depth + 1, f"k not in V{number}", f"readable({number}, k)")


def _is_of_record(name: str) -> bool:
    """Tell whether a name stands for something of the record as a whole."""
    return (
        name.startswith("r_")
        or "_keys_" in name
        or name in ("c", "planes", "lines", "facing", "met")
    )


def _long(fact: Fact) -> str:
    return "LY" if fact.dimension.value == "yes or no" else "LW"
