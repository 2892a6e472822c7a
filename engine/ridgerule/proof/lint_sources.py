"""Sources that can't be looked up, say two things at once, are from memory, or stand idle."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.plain_data import items_in, mapping_in, words_in
from ridgerule.proof.lint_remarks import warning
from ridgerule.rulebook import Basis

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.documents import Data
    from ridgerule.problems import Location
    from ridgerule.proof.lint_remarks import Remark
    from ridgerule.rulebook import Rulebook

_LISTS = ("rules", "amendments", "withdrawals")


def source_remarks(book: Rulebook) -> Iterator[Remark]:
    """Yield what is to be looked at in the `sources:` of a rulebook's file."""
    sources = {
        name: mapping_in(raw)
        for name, raw in mapping_in(mapping_in(book.document.data).get("sources")).items()
    }
    uses = _uses(book)
    for name, source in sources.items():
        where = book.document.key_location(("sources", name))
        basis = source.get("basis")
        if basis == Basis.PUBLISHED and not source.get("section"):
            found = f"`{name}` without it"
            advice = "add it, so that anyone can look the rule up"
            yield warning(where, "a `published` source with its `section`", found, advice)
        if basis == Basis.COMMON_PRACTICE and "document" in source:
            told = "no `document` beside `common practice`, which is written nowhere"
            found = f"`{words_in(source['document'])}`"
            advice = "choose another `basis`, or tell of the document in `note`"
            place = book.document.location(("sources", name, "document"))
            yield warning(place, told, found, advice)
        if name not in uses:
            found = f"`{name}`, which nothing names"
            yield warning(where, "a source that a rule or a change names", found, "take it out")
    yield from _recalled(book, sources, uses)


def _uses(book: Rulebook) -> Mapping[str, int]:
    """Return how many rules and changes name each source."""
    counted: dict[str, int] = {}
    for section in _LISTS:
        for raw in items_in(mapping_in(book.document.data).get(section)):
            name = words_in(mapping_in(raw).get("source"))
            counted[name] = counted.get(name, 0) + 1
    return counted


def _recalled(
    book: Rulebook, sources: Mapping[str, Mapping[str, Data]], uses: Mapping[str, int]
) -> Iterator[Remark]:
    """Yield each document that was cited from memory, once, however many sections of it were."""
    cited: dict[tuple[str, str], list[tuple[str, Location]]] = {}
    for name, source in sources.items():
        if source.get("recalled") is True and name in uses:
            document = words_in(source.get("document")), words_in(source.get("edition"))
            place = book.document.location(("sources", name, "recalled"))
            cited.setdefault(document, []).append((name, place))
    for document, found in cited.items():
        named = ", edition ".join(filter(None, document)) or "the document"
        names = [name for name, _ in found]
        rules = sum(uses[name] for name in names)
        told = f"values confirmed against {named}"
        listed = ", ".join(f"`{name}`" for name in names)
        count = "one rule" if rules == 1 else f"{rules} rules"
        advice = "look each up in the document, then take `recalled` out"
        yield warning(found[0][1], told, f"{count} from memory, by {listed}", advice)
