"""Which place a row is about: a section and an id there, from whatever a table gives of them."""

from __future__ import annotations

import re
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import SECTIONS, Element, Host, LineKind
from ridgerule.misreadings import Mistake
from ridgerule.problems import shown, suggestion, with_article
from ridgerule.tables.keys import ALL_SECTIONS, ROOF_SECTIONS
from ridgerule.tables.mappings import one_spelling

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from ridgerule.facts import Fact, Vocabulary

_LINES, _PLANES = SECTIONS[Element.LINE], SECTIONS[Element.PLANE]
_NOUNS: Mapping[str, str] = (
    {str(element): section for element, section in SECTIONS.items()}
    | {section: section for section in SECTIONS.values()}
    | {str(kind): _LINES for kind in LineKind}
)
"""What may stand before an id, and the section that it says: `line H1`, `hip H1`, `lines/H1`."""
_NAMED = re.compile(r"^([A-Za-z]+)([ /])\s*(\S.*)$", re.DOTALL)


_HOSTS = frozenset({_LINES, _PLANES})
_ON = {Host.LINE: frozenset({_LINES}), Host.PLANE: frozenset({_PLANES}), Host.EITHER: _HOSTS}


def _sections_with(fact: Fact) -> frozenset[str]:
    """Return the sections whose places, or whose stations, can have a fact."""
    if fact.element is Element.STATION:
        return _ON[fact.host]
    return frozenset({SECTIONS[fact.element]} if fact.element in SECTIONS else ())


class Named(Struct, frozen=True):
    """A place by its section and id; the id is empty for the roof and what is kept beside it."""

    section: str
    id: str = ""


class Known(Struct, frozen=True):
    """The places that a record or a table has, and the facts that there can be."""

    sections: Mapping[str, frozenset[str]]
    """By id, the sections that have a place of it."""
    vocabulary: Vocabulary
    listed: Mapping[str, frozenset[str]] = MappingProxyType({})
    """The same of those that the record has or a table of places lists."""
    kinds: Mapping[str, str] = MappingProxyType({})
    """Of the record's lines, by id."""

    def section(self, text: str) -> str | Mistake:
        """Return the section that a cell names; an empty one for a blank."""
        name = one_spelling(text)
        name = _NOUNS.get(name, name)
        if not name or name in ALL_SECTIONS:
            return name
        listed = ", ".join(f"`{section}`" for section in ALL_SECTIONS)
        advice = suggestion(name, ALL_SECTIONS)
        return Mistake(f"a section of a record: {listed}", f"`{shown(text)}`", advice)

    def place(
        self,
        text: str,
        *,
        section: str = "",
        facts: Iterable[Collection[Fact]] = (),
        is_station: bool = False,
    ) -> Named | Mistake:
        """Return the place that a cell names, in the section given if there is one.

        Without one it is the section that has such an id, or that the row's facts belong to: of
        each group of `facts` one is meant.
        """
        id_ = " ".join(text.split())
        has = self.sections.get(id_, frozenset())
        if id_ not in self.listed and (named := self._labelled(id_, section)) is not None:
            return named
        if section:
            return Named(section, id_)
        if len(has) == 1:
            return Named(next(iter(has)), id_)
        wanted = self._sections_of(facts, is_station=is_station)
        both = has & wanted if has else wanted
        if len(both) == 1:
            return Named(next(iter(both)), id_)
        advice = "say which in a column `section`, or write `line H1` or `plane S`"
        ids = suggestion(id_, self.sections)
        expected = "an id that only one place has" if has else "a place of the record"
        return Mistake(expected, f"`{shown(id_)}`", f"{ids} Or {advice}" if ids else advice)

    def _labelled(self, text: str, section: str) -> Named | Mistake | None:
        """Return the place that is named as reports name it, `hip H1`, or by its path, `lines/H1`.

        Where no such place is known the words are an id of their own, such as `Ridge 2`.
        """
        parted = _NAMED.match(text)
        noun = parted[1].lower() if parted is not None else ""
        meant = _NOUNS.get(noun, "")
        if parted is None or not meant or section not in ("", meant):
            return None
        id_ = parted[3]
        if parted[2] != "/" and meant not in self.listed.get(id_, frozenset()):
            return Named(meant, text)
        kind = self.kinds.get(id_, noun)
        if noun in frozenset(LineKind) and kind != noun:
            found = f"`{shown(text)}`, and {id_} is {with_article(kind)}"
            return Mistake(f"{with_article(noun)} of the record", found, "mend the place")
        return Named(meant, id_)

    def _sections_of(
        self, facts: Iterable[Collection[Fact]], *, is_station: bool
    ) -> frozenset[str]:
        """Return the sections whose places, or stations, can have one fact of every group."""
        found = _HOSTS if is_station else frozenset(SECTIONS.values())
        for group in facts:
            if group:
                found &= frozenset().union(*map(_sections_with, group))
        return found

    def facts_named(self, key: str, *, element: Element | None, is_station: bool) -> list[Fact]:
        """Return the facts that a key can mean, of an element where that is said."""
        elements = [element] if element else [*SECTIONS, Element.ROOF]
        if is_station:
            elements = [Element.STATION]
        elif element is None:
            elements.append(Element.STATION)
        found = (self.vocabulary.by_element[each].get(key) for each in elements)
        return [fact for fact in found if fact is not None and fact.derivation is None]

    def roof_key(self, key: str) -> tuple[str, str]:
        """Return where a record keeps a fact of the roof that is named as rulebooks name it."""
        fact = self.vocabulary.by_element[Element.ROOF].get(key)
        if fact is not None and fact.section:
            return fact.section, fact.key
        return ROOF_SECTIONS[0], key
