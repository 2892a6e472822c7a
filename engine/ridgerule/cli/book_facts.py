"""The facts of a vocabulary as a list: grouped by element, recorded ones before computed ones."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from ridgerule import __version__
from ridgerule.facts import SECTIONS, Element, Host
from ridgerule.quantities import Dimension
from ridgerule.reports.page import BLANK, TITLE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.facts import Fact, Vocabulary
    from ridgerule.quantities import Quantity
    from ridgerule.reports.page import Line, Page

ENGINE = "engine"
"""The origin of facts that no rulebook declares."""


def as_text(vocabulary: Vocabulary, page: Page, *, element: Element | None) -> str:
    """Return the facts as lines on a page; of one element where it is given."""
    listed = _listed(vocabulary, element)
    groups = [[f for f in listed if f.element is kind] for kind in Element]
    parts = [_group(facts, page) for facts in groups if facts]
    return page.printed((*parts, _closing(page))).removeprefix("\n")


def as_json(
    vocabulary: Vocabulary, *, element: Element | None, rulebooks: Sequence[str] = ()
) -> str:
    """Return the facts as JSON, those of one element where it is given."""
    data = {
        "vocabulary": 1,
        "tool": {"name": "ridgerule", "version": __version__},
        "rulebooks": list(rulebooks),
        "facts": [_data(fact) for fact in _listed(vocabulary, element)],
    }
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _listed(vocabulary: Vocabulary, element: Element | None) -> list[Fact]:
    """Return the facts by element, recorded before computed, each in the vocabulary's order."""
    kinds = list(Element)
    chosen = [fact for fact in vocabulary.facts if element is None or fact.element is element]
    return sorted(chosen, key=lambda f: (kinds.index(f.element), f.derivation is not None))


def _group(facts: list[Fact], page: Page) -> Iterator[Line]:
    computed = sum(fact.derivation is not None for fact in facts)
    counts = f"{len(facts) - computed} recorded, {computed} computed"
    yield from page.heading(f"{facts[0].element.upper()}: {counts}")
    for fact in facts:
        yield BLANK
        yield from page.flow(page.text((fact.full_name, TITLE), f"  {_kind(fact)}"))
        yield from page.labelled(_rows(fact), at=2)


def _kind(fact: Fact) -> str:
    """Return what sort of value a fact has, in words."""
    words: list[str] = [fact.dimension]
    if fact.derivation is not None:
        words.append("computed")
    if fact.per_side:
        words.append("each side by itself")
    if fact.element is Element.STATION and fact.host is not Host.EITHER:
        words.append(f"on a {fact.host}")
    return ", ".join(words)


def _rows(fact: Fact) -> Iterator[tuple[str, str]]:
    is_read = isinstance(fact.dimension, Dimension) and fact.derivation is None
    yield "measured" if is_read else "is", fact.measure
    yield "ask", fact.ask
    yield "with", fact.tool
    yield "one of", ", ".join(fact.choices)
    yield "range", _range(fact)
    yield "written as", recorded_as(fact) if fact.section else ""
    yield "from", ", ".join(fact.inputs)
    yield "formula", fact.formula
    yield "source", fact.source
    yield "declared by", "" if fact.origin == ENGINE else fact.origin


def _range(fact: Fact) -> str:
    if fact.derivation is not None:
        return ""
    least, greatest = _text(fact.least), _text(fact.greatest)
    if least and greatest:
        return f"{least} to {greatest}"
    return f"at least {least}" if least else f"at most {greatest}" if greatest else ""


def _text(quantity: Quantity | None) -> str:
    return "" if quantity is None else quantity.text


def recorded_as(fact: Fact) -> str:
    """Return the key a record holds a fact under, such as `dates.permit` or `planes.*.slope`."""
    match fact.element:
        case _ if fact.derivation is not None:
            return ""
        case Element.ROOF:
            return f"{fact.section or 'roof'}.{fact.key or fact.name}"
        case Element.STATION:
            hosts = ("lines", "planes") if fact.host is Host.EITHER else (f"{fact.host}s",)
            return " or ".join(f"{host}.*.stations.*.{fact.name}" for host in hosts)
        case element:
            return f"{SECTIONS[element]}.*.{fact.name}"


def _data(fact: Fact) -> dict[str, object]:
    """Return all that is known of a fact, what it has none of left out."""
    told: dict[str, object] = {
        "name": fact.full_name,
        "element": fact.element,
        "dimension": fact.dimension,
        "computed": fact.derivation is not None,
        "origin": fact.origin,
        "measure": fact.measure,
        "ask": fact.ask,
        "tool": fact.tool,
        "choices": list(fact.choices),
        "range": _range(fact),
        "per_side": fact.per_side,
        "stations_on": fact.host if fact.element is Element.STATION else "",
        "recorded_as": recorded_as(fact),
        "inputs": list(fact.inputs),
        "formula": fact.formula,
        "source": fact.source,
    }
    always = ("computed", "per_side")
    return {name: value for name, value in told.items() if value or name in always}


def _closing(page: Page) -> Iterator[Line]:
    yield BLANK
    yield from page.flow(
        page.text(
            "A record holds those that are measured; those computed follow from them, and are "
            "unknown where one of theirs is. A rulebook declares more under `facts:` and `derive:`."
        )
    )
